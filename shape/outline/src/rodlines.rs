//! Where the rod's two edges run, roughly: two nearly straight lines, found by the agreement of weak steps over a long way.
//!
//! A polished rod mirrors the ground at its edges: the step there is slight but sharp and runs straight, while the bright bands inside look
//! much more like edges. So the outermost pair of lines with solid evidence is taken, not the strongest.

use crate::frame::AxisFrame;
use crate::light::{lab, sample};
use crate::mirror::{Middle, Mirror};
use photo::Picture;
use rayon::prelude::*;

/// A straight edge in the axis frame: `w = at_joint + slope t` (w to the left), for t <= 0.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Line {
    pub at_joint_px: f64,
    pub slope: f64,
    /// Evidence, mean over stretches of the whitened squared step, 0..20.
    pub evidence: f64,
}

impl Line {
    pub fn at(self, t: f64) -> f64 {
        self.at_joint_px + self.slope * t
    }
}

/// Stretch of rod looked at, in part lengths as seen, away from the joint: beyond the part's end face at any tilt met in practice, and
/// short enough for a rod not much longer than its part.
const FROM: f64 = 0.10;
const TO: f64 = 0.62;
/// Blocks averaged along the rod, and blocks to a stretch that must agree.
const BLOCKS: usize = 30;
const STRETCH: usize = 5;
/// Whitened squared step at which evidence turns from linear to logarithmic.
const CAP: f32 = 20.0;
/// Evidence that chance reaches rarely: background and wood grain stay below it (a stretch of pure noise has mean 0).
const SOLID: f64 = 10.0;
/// How well a slope is read: a row or two over the stretch looked at.
const SLOPE_SIGMA: f64 = 0.008;
/// The picture's scale changes by a tenth over the part's length when it is tilted by 20 degrees at three lengths' distance.
const NARROWING: f64 = 0.1;
/// Nats from which being off the sides' middle costs by its logarithm only.
const SIDES_TAIL: f64 = 2.0;
/// Rod's greatest half-width, in part lengths as seen; lines further out are something else.
const WIDEST: f64 = 0.35;

/// What is known of the rod's middle before its edges are looked for.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Known<'a> {
    /// Two clicks on the axis, each good to so many px.
    Clicks(f64),
    /// The part's two sides, in the same frame.
    Sides(&'a Mirror),
}

impl Known<'_> {
    fn middle(self, frame: AxisFrame, t: f64) -> Middle {
        match self {
            // The line of the clicks extrapolates from them to the middle of the stretch.
            Known::Clicks(sigma_px) => {
                let reach = -t / frame.length_px;
                Middle {
                    w_px: 0.0,
                    sigma_px: sigma_px * ((1.0 + reach).powi(2) + reach.powi(2)).sqrt(),
                    lean: 0.0,
                    slope: 0.0,
                    slope_sigma: 1.5 * sigma_px / frame.length_px + 0.005,
                }
            }
            Known::Sides(mirror) => mirror.middle(t),
        }
    }

    /// What it costs to be so many sigmas off, nats. The sides may be misread, a person's clicks are meant.
    pub fn cost(self, sigmas: f64) -> f64 {
        match self {
            Known::Clicks(_) => 0.5 * sigmas * sigmas,
            Known::Sides(_) => SIDES_TAIL * (1.0 + 0.5 * sigmas * sigmas / SIDES_TAIL).ln(),
        }
    }
}

pub(crate) fn rod_lines(picture: &Picture, frame: AxisFrame, known: Known) -> Option<[Line; 2]> {
    let field = Field::new(picture, frame);
    let scores = field.scores();
    best_pair(&field, &scores, frame, known)
}

/// Colour steps across the rod, block by block along it.
struct Field {
    step_px: f64,
    reach_px: f64,
    rows: usize,
    blocks: Vec<f64>,
    middle_t: f64,
    /// Steps whitened by their spread over the field; NaN outside the picture.
    steps: Vec<[f32; 3]>,
}

impl Field {
    fn new(picture: &Picture, frame: AxisFrame) -> Self {
        let length = frame.length_px;
        let step_px = (length / 600.0).max(1.0);
        let reach_px = 0.6 * length;
        let rows = (2.0 * reach_px / step_px).round() as usize;
        let to = (TO * length).min(frame.room_behind_px(picture.width_px() as f64, picture.height_px() as f64));
        let span = (to - FROM * length).max(0.1 * length);
        let block_px = span / BLOCKS as f64;
        let samples = (block_px / step_px).round().clamp(2.0, 16.0) as usize;
        let blocks: Vec<f64> = (0..BLOCKS).map(|k| -FROM * length - (k as f64 + 0.5) * block_px).collect();
        let colours: Vec<[f32; 3]> = blocks
            .par_iter()
            .flat_map_iter(|&t| {
                (0..rows).map(move |j| {
                    let w = (j as f64 + 0.5) * step_px - reach_px;
                    let mut sum = [0.0f32; 3];
                    for s in 0..samples {
                        let at = frame.to_px(t + ((s as f64 + 0.5) / samples as f64 - 0.5) * block_px, w);
                        if at[0] < 0.0 || at[1] < 0.0 || at[0] > picture.width_px() as f64 || at[1] > picture.height_px() as f64 {
                            return [f32::NAN; 3];
                        }
                        let v = sample(picture, at);
                        (0..3).for_each(|c| sum[c] += v[c] / samples as f32);
                    }
                    lab(sum)
                })
            })
            .collect();
        let jump = Jump::new(1, 5);
        let steps = (0..colours.len())
            .map(|at| {
                let (k, j) = (at / rows, at % rows);
                jump.at(&colours[k * rows..(k + 1) * rows], j)
            })
            .collect();
        Field { step_px, reach_px, rows, blocks, middle_t: -0.5 * (FROM + TO) * length, steps }
    }

    fn w(&self, row: usize) -> f64 {
        row as f64 * self.step_px - self.reach_px
    }

    /// For each row at the middle of the stretch looked at: the best evidence over slopes, and that slope.
    fn scores(&self) -> Vec<(f64, f64)> {
        let spread = self.spread();
        let span = (self.blocks[0] - self.blocks[BLOCKS - 1]).abs().max(1.0);
        let slopes: Vec<f64> = {
            let step = self.step_px / span;
            let count = (0.09 / step).ceil() as i32;
            (-count..=count).map(|k| f64::from(k) * step).collect()
        };
        (0..self.rows)
            .into_par_iter()
            .map(|row| {
                slopes.iter().fold((f64::NEG_INFINITY, 0.0), |best, &slope| {
                    let evidence = self.evidence(row, slope, spread);
                    if evidence > best.0 { (evidence, slope) } else { best }
                })
            })
            .collect()
    }

    fn evidence(&self, row: usize, slope: f64, spread: [f32; 3]) -> f64 {
        let mut found: Vec<f64> = Vec::with_capacity(BLOCKS / STRETCH);
        for stretch in self.blocks.chunks(STRETCH).enumerate() {
            let (index, blocks) = stretch;
            let mut mean = [0.0f32; 3];
            for (k, &t) in blocks.iter().enumerate() {
                let j = row as isize + (slope * (t - self.middle_t) / self.step_px).round() as isize;
                if j < 0 || j >= self.rows as isize {
                    mean = [f32::NAN; 3];
                    break;
                }
                let step = self.steps[(index * STRETCH + k) * self.rows + j as usize];
                (0..3).for_each(|c| mean[c] += step[c] / blocks.len() as f32);
            }
            if mean[0].is_nan() {
                continue;
            }
            let q: f32 = (0..3).map(|c| (mean[c] / spread[c]).powi(2)).sum();
            // Grows like q for what is barely there, like its logarithm for what is plain: no single glare decides.
            found.push(f64::from(CAP * (1.0 + (q - 3.0).max(-3.0) / CAP).ln()));
        }
        // Fewer than three stretches in the picture tell nothing. The stronger third is left out: a line that crosses a bright band or a card
        // has strong stretches, but not all along.
        if found.len() < 3 {
            return f64::NEG_INFINITY;
        }
        found.sort_by(f64::total_cmp);
        let kept = found.len() - found.len() / 3;
        found[..kept].iter().sum::<f64>() / kept as f64
    }

    /// Spread of a stretch's mean step over the field, channel by channel: most of the field is background, so this holds its texture.
    fn spread(&self) -> [f32; 3] {
        std::array::from_fn(|c| {
            let mut sizes: Vec<f32> = Vec::new();
            for index in 0..self.blocks.len() / STRETCH {
                for j in 0..self.rows {
                    let mean = (0..STRETCH).map(|k| self.steps[(index * STRETCH + k) * self.rows + j][c]).sum::<f32>() / STRETCH as f32;
                    if mean.is_finite() {
                        sizes.push(mean.abs());
                    }
                }
            }
            sizes.sort_by(f32::total_cmp);
            // 0.1: an 8-bit step averaged over a stretch.
            sizes.get(sizes.len() / 2).map_or(1.0, |m| (1.4826 * m).max(0.1))
        })
    }
}

/// The pair of lines that leaves least unexplained: solid evidence at both, little outside, even about the axis as far as the clicks tell.
fn best_pair(field: &Field, scores: &[(f64, f64)], frame: AxisFrame, known: Known) -> Option<[Line; 2]> {
    // One line a peak: a step shows in the rows about it, and under other slopes.
    let gap = 6;
    let peak = |row: usize| {
        let better = |k: usize| scores[k].0 > scores[row].0 || (scores[k].0 == scores[row].0 && k < row);
        (row.saturating_sub(gap)..=(row + gap).min(scores.len() - 1)).all(|k| k == row || !better(k))
    };
    let candidates: Vec<usize> = (0..scores.len()).filter(|&r| scores[r].0 > 0.3 * SOLID && peak(r)).collect();
    // All solid lines are equally good edges: a bright band's is no better than the rod's own.
    let worth = |row: usize| scores[row].0.min(1.5 * SOLID);
    let expected = known.middle(frame, field.middle_t);
    // A row or two: peaks are read to a row.
    let middle_sigma = expected.sigma_px.hypot(field.step_px);
    let slope_sigma = expected.slope_sigma;
    let mut pairs: Vec<(usize, usize)> = candidates.iter().flat_map(|&r| candidates.iter().map(move |&l| (l, r))).collect();
    if let Known::Sides(_) = known {
        // A faint edge beside a bright band is no peak, but a rod has one where its other edge's mirror image lies.
        let mirrored = |row: usize| {
            let half = field.w(row) - expected.w_px;
            let w = expected.w_px + 2.0 * expected.lean * half * half - half;
            let at = ((w + field.reach_px) / field.step_px).round();
            let rows = (at as isize - 2).max(0) as usize..((at as isize + 3).max(0) as usize).min(scores.len());
            rows.max_by(|&a, &b| scores[a].0.total_cmp(&scores[b].0)).filter(|&r| scores[r].0 > 0.3 * SOLID)
        };
        let twins = candidates.iter().filter_map(|&c| Some((c, mirrored(c)?)));
        pairs.extend(twins.map(|(a, b)| (a.max(b), a.min(b))));
    }
    let mut best: Option<(f64, [Line; 2])> = None;
    for (l, r) in pairs {
        if field.w(l) - field.w(r) > 6.0 {
            let (left, right) = (field.w(l), field.w(r));
            let (middle, turn) = (0.5 * (left + right), 0.5 * (scores[l].1 + scores[r].1));
            // Lines on a rod share a vanishing point: their slopes change evenly across it.
            let doubt = |w: f64| NARROWING * (w - middle).abs() / frame.length_px + SLOPE_SIGMA;
            let outside: f64 = candidates
                .iter()
                .map(|&k| (field.w(k), scores[k].1, worth(k)))
                .filter(|&(w, _, _)| (w > left + 4.0 || w < right - 4.0) && w.abs() < WIDEST * frame.length_px)
                .map(|(w, slope, worth)| (worth - SOLID).max(0.0) * (-0.5 * ((slope - turn) / doubt(w)).powi(2)).exp())
                .sum();
            let uneven = expected.off_px(left, right) / middle_sigma;
            let turned = (turn - expected.slope) / slope_sigma;
            let narrowing = (scores[l].1 - scores[r].1) / (2.0 * doubt(left));
            let total = worth(l) + worth(r) - outside - known.cost(uneven) - 0.5 * (turned * turned + narrowing * narrowing);
            if best.is_none_or(|(t, _)| total > t) {
                let line = |row: usize| Line {
                    at_joint_px: field.w(row) - scores[row].1 * field.middle_t,
                    slope: scores[row].1,
                    evidence: scores[row].0,
                };
                best = Some((total, [line(l), line(r)]));
            }
        }
    }
    best.map(|(_, pair)| pair)
}

/// A sharp step told from a soft one: how far two straight lines, fitted to the colours on either side of a border and continued to it, miss each
/// other there. The soft borders of bright bands and shadows give nothing, as both lines follow them.
pub(crate) struct Jump {
    skip: usize,
    /// Weights of the cells outward from the border; they continue a fitted line to it.
    weights: Vec<f32>,
}

impl Jump {
    /// `skip` cells next to the border are left out (the camera's blur), `count` cells are fitted.
    pub fn new(skip: usize, count: usize) -> Self {
        let places: Vec<f32> = (0..count).map(|k| (skip + k) as f32 + 0.5).collect();
        let mean = places.iter().sum::<f32>() / count.max(1) as f32;
        let square: f32 = places.iter().map(|x| (x - mean) * (x - mean)).sum::<f32>().max(1e-6);
        Jump { skip, weights: places.iter().map(|x| 1.0 / count as f32 - mean * (x - mean) / square).collect() }
    }

    /// Jump between cells `border - 1` and `border` of a row of colours, positive when it grows; NaN near the ends.
    pub fn at(&self, row: &[[f32; 3]], border: usize) -> [f32; 3] {
        let reach = self.skip + self.weights.len();
        if border < reach || border + reach > row.len() {
            return [f32::NAN; 3];
        }
        let mut jump = [0.0f32; 3];
        for (k, w) in self.weights.iter().enumerate() {
            let (up, down) = (row[border + self.skip + k], row[border - 1 - self.skip - k]);
            (0..3).for_each(|c| jump[c] += w * (up[c] - down[c]));
        }
        jump
    }
}
