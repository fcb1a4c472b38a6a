//! The rough outline on a reduced picture: colours of part, rod and surroundings against each other, borders where the colour steps.

use crate::border::Strip;
use crate::frame::AxisFrame;
use crate::light::{Light, distance2, lab};
use crate::palette::{Palette, evidence};

/// Cells between rod entry and free end. Enough to see a flange of a twentieth of the part's length.
const CELLS_ALONG: f64 = 160.0;
/// Part's greatest half-width that is looked at, in lengths as seen: a cap seen at a strong tilt is wider than long.
const REACH: f64 = 1.3;
/// Length of rod looked at, in part lengths as seen.
const ROD_REACH: f64 = 2.0;

/// The rough outline in the axis frame: half-widths on a grid along the axis.
pub(crate) struct Coarse {
    pub frame: AxisFrame,
    pub step_px: f64,
    /// `t` of the middle of the first column, px.
    pub first_px: f64,
    /// Half-widths on the left, px, one a column; 0 = no body there.
    pub left_px: Vec<f64>,
    /// The same on the right.
    pub right_px: Vec<f64>,
}

/// One side of the axis on the reduced grid.
struct Side {
    rows: usize,
    lab: Vec<[f32; 3]>,
    in_picture: Vec<bool>,
}

pub(crate) fn coarse(light: &Light, size_px: [f64; 2], start: AxisFrame) -> Coarse {
    let mut frame = start;
    let mut found = Finder::new(light, size_px, frame).run(None);
    for _ in 0..2 {
        frame = refined_axis(&found);
        let finder = Finder::new(light, size_px, frame);
        found = finder.run(Some(&found));
    }
    found
}

/// The middle line between the two borders, by least absolute deviations over part and rod.
fn refined_axis(found: &Coarse) -> AxisFrame {
    let frame = found.frame;
    let middles: Vec<[f64; 2]> = (0..found.left_px.len())
        .map(|i| (found.first_px + i as f64 * found.step_px, found.left_px[i], found.right_px[i]))
        .filter(|&(t, l, r)| l > 0.0 && r > 0.0 && t > -0.6 * frame.length_px && t < 0.92 * frame.length_px)
        .map(|(t, l, r)| [t, 0.5 * (l - r)])
        .collect();
    let Some((at_zero, slope)) = least_deviations(&middles) else { return frame };
    // The clicks are good to 1 % of the width; a middle line far from them is a wrong border, not a wrong click.
    let limit = 0.06 * frame.length_px;
    let (start, end) = (at_zero.clamp(-limit, limit), (at_zero + slope * frame.length_px).clamp(-limit, limit));
    AxisFrame::new(crate::Clicks { rod_entry: frame.to_px(0.0, start), free_end: frame.to_px(frame.length_px, end) })
}

/// Line w = a + b t by least absolute deviations (reweighted least squares, 15 rounds).
pub(crate) fn least_deviations(points: &[[f64; 2]]) -> Option<(f64, f64)> {
    if points.len() < 8 {
        return None;
    }
    let (mut a, mut b) = (0.0, 0.0);
    for round in 0..15 {
        let mut s = [0.0; 5];
        for &[t, w] in points {
            let weight = if round == 0 { 1.0 } else { 1.0 / (w - a - b * t).abs().max(0.3) };
            s[0] += weight;
            s[1] += weight * t;
            s[2] += weight * t * t;
            s[3] += weight * w;
            s[4] += weight * t * w;
        }
        let determinant = s[0] * s[2] - s[1] * s[1];
        if determinant.abs() < 1e-9 {
            return None;
        }
        (a, b) = ((s[3] * s[2] - s[1] * s[4]) / determinant, (s[0] * s[4] - s[1] * s[3]) / determinant);
    }
    Some((a, b))
}

struct Finder {
    frame: AxisFrame,
    step: f64,
    first: f64,
    columns: usize,
    sides: [Side; 2],
}

impl Finder {
    fn new(light: &Light, size_px: [f64; 2], frame: AxisFrame) -> Self {
        let step = (frame.length_px / CELLS_ALONG).max(1.0);
        let back = frame.room_behind_px(size_px[0], size_px[1]).min(ROD_REACH * frame.length_px);
        let first = -(back / step).floor() * step + 0.5 * step;
        let columns = (((1.15 * frame.length_px - first) / step).ceil() as usize).max(4);
        let rows = ((REACH * frame.length_px / step).ceil() as usize).max(4);
        let sides = [1.0, -1.0].map(|sign| {
            let mut side = Side { rows, lab: Vec::with_capacity(columns * rows), in_picture: Vec::with_capacity(columns * rows) };
            for i in 0..columns {
                for j in 0..rows {
                    let at = frame.to_px(first + i as f64 * step, sign * (j as f64 + 0.5) * step);
                    side.in_picture.push(at[0] >= 0.0 && at[1] >= 0.0 && at[0] < size_px[0] && at[1] < size_px[1]);
                    side.lab.push(lab(light.at(at)));
                }
            }
            side
        });
        Finder { frame, step, first, columns, sides }
    }

    fn t(&self, column: usize) -> f64 {
        self.first + column as f64 * self.step
    }

    fn run(&self, before: Option<&Coarse>) -> Coarse {
        let mut inside = [vec![0usize; self.columns], vec![0usize; self.columns]];
        let mut known = false;
        if let Some(before) = before {
            for (s, side) in inside.iter_mut().enumerate() {
                let widths = if s == 0 { &before.left_px } else { &before.right_px };
                for (i, b) in side.iter_mut().enumerate() {
                    let k = ((self.t(i) - before.first_px) / before.step_px).round();
                    let w = if k >= 0.0 { widths.get(k as usize).copied().unwrap_or(0.0) } else { 0.0 };
                    *b = ((w / self.step).round() as usize).min(self.sides[s].rows);
                }
            }
            known = true;
        }
        let edges: Vec<(Vec<f32>, Vec<f32>)> = self.edge_costs();
        for _ in 0..3 {
            let palettes = self.palettes(known.then_some(&inside));
            let strips: Vec<Strip> = self
                .sides
                .iter()
                .zip(&edges)
                .map(|(side, (across, along))| Strip {
                    columns: self.columns,
                    rows: side.rows,
                    inside: self.evidence(side, &palettes),
                    across: across.clone(),
                    along: along.clone(),
                })
                .collect();
            for round in 0..3 {
                for s in 0..2 {
                    let other = (known || round > 0 || s > 0).then(|| inside[1 - s].clone());
                    inside[s] = strips[s].cheapest(|column, b| self.prior(column, b, other.as_deref()));
                }
            }
            known = true;
        }
        let px = |side: &[usize]| side.iter().map(|&b| b as f64 * self.step).collect();
        Coarse { frame: self.frame, step_px: self.step, first_px: self.first, left_px: px(&inside[0]), right_px: px(&inside[1]) }
    }

    /// Part, rod, surroundings.
    fn palettes(&self, inside: Option<&[Vec<usize>; 2]>) -> [Palette; 3] {
        let length = self.frame.length_px;
        let cells = |wanted: &dyn Fn(usize, f64, usize, f64) -> bool| {
            let mut colours = Vec::new();
            for (s, side) in self.sides.iter().enumerate() {
                for i in 0..self.columns {
                    let t = self.t(i) / length;
                    for j in 0..side.rows {
                        let cell = i * side.rows + j;
                        if side.in_picture[cell] && wanted(s, t, i, j as f64 + 0.5) {
                            colours.push(side.lab[cell]);
                        }
                    }
                }
            }
            Palette::of(colours.into_iter())
        };
        let row = length / self.step;
        match inside {
            None => [
                cells(&|_, t, _, j| (0.08..0.92).contains(&t) && j < 0.1 * row),
                cells(&|_, t, _, j| (-0.6..-0.06).contains(&t) && j < 0.03 * row),
                cells(&|_, t, _, j| j > if t < 0.0 { 0.5 } else { 0.9 } * row || (t > 1.08)),
            ],
            Some(inside) => {
                let core = |s: usize, i: usize, j: f64| j < inside[s][i] as f64 - 1.0;
                [
                    cells(&|s, t, i, j| t > 0.04 && core(s, i, j)),
                    cells(&|s, t, i, j| t < -0.04 && core(s, i, j)),
                    cells(&|s, t, i, j| j > inside[s][i] as f64 + 2.0 && j < inside[s][i] as f64 + 0.5 * row && t > -1.5),
                ]
            }
        }
    }

    fn evidence(&self, side: &Side, [part, rod, outside]: &[Palette; 3]) -> Vec<f32> {
        let near = 0.05 * self.frame.length_px;
        let mut all = Vec::with_capacity(side.lab.len());
        for i in 0..self.columns {
            let t = self.t(i);
            for j in 0..side.rows {
                let cell = i * side.rows + j;
                if !side.in_picture[cell] {
                    all.push(-3.0);
                    continue;
                }
                let colour = side.lab[cell];
                let mut sum = f32::NEG_INFINITY;
                if t > -near {
                    sum = sum.max(evidence(part, outside, colour));
                }
                if t < near {
                    sum = sum.max(evidence(rod, outside, colour));
                }
                // Neighbouring cells share shading and texture: they are not independent witnesses.
                all.push(0.4 * sum);
            }
        }
        all
    }

    /// Cost of a border between neighbouring cells: high where the colour stays, low where it steps.
    fn edge_costs(&self) -> Vec<(Vec<f32>, Vec<f32>)> {
        self.sides
            .iter()
            .map(|side| {
                let step = |a: usize, b: usize| distance2(side.lab[a], side.lab[b]).sqrt();
                let mut across = vec![0.0; side.lab.len()];
                let mut along = vec![0.0; side.lab.len()];
                for i in 0..self.columns {
                    for j in 0..side.rows {
                        let cell = i * side.rows + j;
                        if j > 0 {
                            across[cell] = step(cell - 1, cell);
                        }
                        if i + 1 < self.columns {
                            along[cell] = step(cell, cell + side.rows);
                        }
                    }
                }
                let mut sorted = across.clone();
                sorted.sort_by(f32::total_cmp);
                let typical = (2.5 * sorted[sorted.len() / 2]).clamp(1.5, 8.0);
                let cost = |d: &f32| 3.0 * (-(d / typical) * (d / typical)).exp() + 0.05;
                (across.iter().map(cost).collect(), along.iter().map(cost).collect())
            })
            .collect()
    }

    /// What is known before looking: the body covers the axis between the clicks, ends about the free end, and its two sides are alike.
    fn prior(&self, column: usize, inside: usize, other: Option<&[usize]>) -> f32 {
        let t = self.t(column) / self.frame.length_px;
        if (inside == 0 && t > -0.3 && t < 0.93) || (inside > 0 && t > 1.08) {
            return f32::INFINITY;
        }
        match other {
            Some(other) => 0.15 * (inside as f32 - other[column] as f32).abs().min(12.0),
            None => 0.0,
        }
    }
}
