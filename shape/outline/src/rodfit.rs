//! The rod's two edges to a fraction of a pixel: the outermost sharp step that runs along the whole rod, then many short fits along it.

use crate::EdgePoint;
use crate::coarse::least_deviations;
use crate::contour::Contour;
use crate::edge::{EdgeFit, EdgeTables, Expectation, fit, gain_at};
use crate::frame::AxisFrame;
use crate::mirror::Mirror;
use crate::rays::Rays;
use crate::refine::ROUGHNESS_RANGE;
use crate::rodlines::{Known, Line};
use photo::Picture;
use rayon::prelude::*;

/// Length of rod averaged into one point, px: long enough to calm noise and cloth, short enough to follow a lens's bend.
const GROUP_PX: usize = 6;
/// How far from the rough line the edge is looked for, px inside and outside: the rough line may lie on a bright band near the edge.
const INWARD_PX: f64 = 6.0;
const OUTWARD_PX: f64 = 14.0;
/// Part of the rod that is searched first, in part lengths as seen.
const NEAR: f64 = 0.62;
/// Chunks of that part, each averaged along the line.
const CHUNKS: usize = 10;
const STEP_PX: f64 = 0.5;
/// Turns tried either way, in steps at the ends: the rough line's slope is good to a pixel or two over the stretch.
const TURNS: i32 = 5;

/// One edge of the rod.
pub(crate) struct RodEdge {
    pub line: Line,
    /// For each stretch of `GROUP_PX` away from the part: its `t`, px, and how much likelier an edge is there than none, nats.
    pub presence: Vec<(f64, f64)>,
    pub points: Vec<EdgePoint>,
    /// How far the edge moves between what rods may be, px, one sigma.
    pub limb_px: f64,
}

/// Fits the left and the right edge from `range_t[0]` away from the part to `range_t[1]` (both negative). With a `mirror` the two are chosen
/// together, and one that is not seen has no points.
pub(crate) fn rod_edges(
    picture: &Picture,
    frame: AxisFrame,
    rough: [Line; 2],
    range_t: [f64; 2],
    tables: &EdgeTables,
    mirror: Option<&Mirror>,
) -> [RodEdge; 2] {
    let half_px = 0.5 * (rough[0].at_joint_px - rough[1].at_joint_px).abs();
    let benches = [1.0, -1.0].map(|side| Bench { picture, frame, side, half_px, tables });
    let near = [range_t[0], range_t[1].max(-NEAR * frame.length_px)];
    let outward_px = OUTWARD_PX.max(0.25 * half_px);
    let mut found = [0, 1].map(|k| benches[k].candidates(rough[k], near, outward_px));
    let chosen = match mirror {
        None => [0, 1].map(|k| Some(found[k].iter().find(|c| c.plain).map_or(rough[k], |c| c.line))),
        Some(mirror) => {
            for k in [0, 1] {
                let twins: Vec<Line> = found[1 - k].iter().filter(|c| c.plain).map(|c| mirrored(mirror, frame, c.line, near)).collect();
                for twin in twins {
                    let more = benches[k].candidates(twin, near, BESIDE_PX);
                    let known: Vec<f64> = found[k].iter().map(|c| c.line.at(0.5 * (near[0] + near[1]))).collect();
                    let new = |c: &Candidate| known.iter().all(|w| (c.line.at(0.5 * (near[0] + near[1])) - w).abs() > 1.0);
                    // Looked for at a place that was foretold; elsewhere it would not be plain.
                    found[k].extend(more.into_iter().filter(new).map(|c| Candidate { plain: false, ..c }));
                }
            }
            likeliest(mirror, frame, near, rough, &found)
        }
    };
    [0, 1].map(|k| match chosen[k] {
        Some(outer) => {
            let bench = &benches[k];
            // Twice: the first time the edge may lie near the end of the range that is searched.
            let line = bench.settled(bench.settled(outer, near), near);
            let (presence, points) = bench.points(line, range_t);
            let limb_px = bench.limb_px(line, near);
            RodEdge { line, presence, points, limb_px }
        }
        None => {
            let twin = chosen[1 - k].unwrap_or(rough[1 - k]);
            let line = mirror.map_or(rough[k], |mirror| mirrored(mirror, frame, twin, near));
            RodEdge { line: Line { evidence: 0.0, ..line }, presence: Vec::new(), points: Vec::new(), limb_px: 0.0 }
        }
    })
}

/// A line that may be the rod's edge.
#[derive(Clone, Copy, Debug)]
struct Candidate {
    line: Line,
    /// It stands out by itself.
    plain: bool,
}

/// How far from the mirror image of the other edge one is looked for, px.
const BESIDE_PX: f64 = 4.0;
/// What it costs, in nats, that an edge is faint, that it is not seen at all, and that a plain line which runs along outside of it is none: by
/// judgement, after photographs of polished rods with known truth (one edge in ten was lost, one in thirty had a shadow's line outside).
const FAINT: f64 = 2.0;
const UNSEEN: f64 = 4.0;
const OUTSIDE: f64 = 4.5;
/// A plain line less than this outside of another is the same one, px.
const SAME_PX: f64 = 1.5;

/// The pair of edges, one of them perhaps unseen, that agrees best with the part's two sides.
fn likeliest(mirror: &Mirror, frame: AxisFrame, near: [f64; 2], rough: [Line; 2], found: &[Vec<Candidate>; 2]) -> [Option<Line>; 2] {
    let middle_t = 0.5 * (near[0] + near[1]);
    let expected = mirror.middle(middle_t);
    let sides = [1.0, -1.0];
    let outside = |k: usize, line: Line| {
        let off = |c: &&Candidate| c.plain && sides[k] * (c.line.at(middle_t) - line.at(middle_t)) > SAME_PX;
        OUTSIDE * found[k].iter().filter(off).count() as f64
    };
    let alone = |k: usize, c: &Candidate| outside(k, c.line) + if c.plain { 0.0 } else { FAINT };
    let mut best = (f64::INFINITY, rough.map(Some));
    let mut take = |cost: f64, pair: [Option<Line>; 2]| {
        if cost < best.0 {
            best = (cost, pair);
        }
    };
    for l in &found[0] {
        for r in &found[1] {
            let (left, right) = (l.line.at(middle_t), r.line.at(middle_t));
            if left - right > 6.0 {
                let uneven = expected.off_px(left, right) / expected.sigma_px;
                take(alone(0, l) + alone(1, r) + Known::Sides(mirror).cost(uneven), [Some(l.line), Some(r.line)]);
            }
        }
    }
    for k in [0, 1] {
        for c in &found[k] {
            let twin = mirrored(mirror, frame, c.line, near);
            let mut pair = [None, None];
            pair[k] = Some(c.line);
            take(alone(k, c) + UNSEEN + outside(1 - k, twin), pair);
        }
    }
    best.1
}

/// The mirror image of a line, in the frame.
fn mirrored(mirror: &Mirror, frame: AxisFrame, line: Line, near: [f64; 2]) -> Line {
    let [[ta, wa], [tb, wb]] = near.map(|t| frame.place(mirror.mirrored(frame.to_px(t, line.at(t)))));
    let slope = if (ta - tb).abs() > 1e-9 { (wa - wb) / (ta - tb) } else { line.slope };
    Line { at_joint_px: wa - slope * ta, slope, evidence: line.evidence }
}

/// What all steps of one edge share.
#[derive(Clone, Copy)]
struct Bench<'a> {
    picture: &'a Picture,
    frame: AxisFrame,
    side: f64,
    half_px: f64,
    tables: &'a EdgeTables,
}

impl Bench<'_> {
    /// Lines near `line` along which an edge is likelier than a smooth change, nearly everywhere; the outermost first.
    ///
    /// Bright bands begin softly, shadows end softly, and texture does not run straight: all three are *less* likely under the edge's profile than
    /// under a parabola, so that what is left above zero is the rod's edge, however faint.
    fn candidates(&self, line: Line, range_t: [f64; 2], outward: f64) -> Vec<Candidate> {
        let contour = self.straight(line, range_t);
        let (rays, middles) = self.grouped(&contour, outward + 8.0);
        if rays.count < 8 {
            return Vec::new();
        }
        let ts: Vec<f64> = middles.iter().map(|&m| range_t[0] - m as f64).collect();
        let (chunks, places) = chunks(&rays, &ts);
        let steps = ((INWARD_PX + outward) / STEP_PX).ceil() as usize;
        let furthest = outward + STEP_PX * f64::from(TURNS) + 1.0;
        let gains = GainTable::new(&chunks, furthest, |i, o| {
            gain_at(&chunks, i, o, self.half_px, self.tables, Expectation::ROD).unwrap_or(f64::NEG_INFINITY)
        });
        // For each offset the best turn: (gain, offset, turn).
        let curve: Vec<(f64, f64, f64)> = (0..=steps)
            .map(|k| {
                let offset = STEP_PX * k as f64 - INWARD_PX;
                let turns = (-TURNS..=TURNS).map(|t| STEP_PX * f64::from(t));
                turns
                    .map(|turn| {
                        (weaker_two_thirds(places.iter().enumerate().map(|(i, p)| gains.at(i, offset + turn * p)).collect()), offset, turn)
                    })
                    .fold((f64::NEG_INFINITY, offset, 0.0), |a, b| if b.0 > a.0 { b } else { a })
            })
            .collect();
        let strongest = curve.iter().fold(0.0f64, |m, c| m.max(c.0));
        // A nat a chunk, ten in all, is no chance; what is far less than a near plain edge may be the tail of that one.
        let peak = |k: usize| curve[k].0 >= 1.0 && (k.saturating_sub(2)..=(k + 2).min(curve.len() - 1)).all(|j| curve[j].0 <= curve[k].0);
        let solid = |k: usize| peak(k) && curve[k].0 >= 0.1 * strongest;
        // A peak of its own: between it and a stronger one further in, the gain falls off; a mere shoulder is that one's flank.
        let apart = |k: usize| match (0..k).rev().find(|&j| solid(j) && curve[j].0 > curve[k].0) {
            Some(inner) => curve[inner..k].iter().any(|c| c.0 < 0.5 * curve[k].0),
            None => true,
        };
        let (t0, t1) = (ts[0], ts[ts.len() - 1]);
        let candidate = |k: usize| {
            let (gain, offset, turn) = curve[k];
            let slope = line.slope + self.side * 2.0 * turn / (t1 - t0);
            let middle = 0.5 * (t0 + t1);
            let at_middle = line.at(middle) + self.side * offset;
            Candidate { line: Line { at_joint_px: at_middle - slope * middle, slope, evidence: gain }, plain: solid(k) && apart(k) }
        };
        (0..curve.len()).rev().filter(|&k| peak(k)).map(candidate).collect()
    }

    /// The line through the chunks' own fits.
    fn settled(&self, line: Line, range_t: [f64; 2]) -> Line {
        let contour = self.straight(line, range_t);
        let (rays, middles) = self.grouped(&contour, 9.0);
        if rays.count < 8 {
            return line;
        }
        let ts: Vec<f64> = middles.iter().map(|&m| range_t[0] - m as f64).collect();
        let (chunks, places) = chunks(&rays, &ts);
        let (t0, t1) = (ts[0], ts[ts.len() - 1]);
        let found: Vec<[f64; 2]> =
            (0..chunks.count).filter_map(|i| Some([0.5 * (t0 + t1) + 0.5 * places[i] * (t1 - t0), self.peak(&chunks, i)?])).collect();
        match least_deviations(&found) {
            Some((a, b)) if found.len() >= 5 => {
                Line { at_joint_px: line.at_joint_px + self.side * a, slope: line.slope + self.side * b, evidence: line.evidence }
            }
            _ => line,
        }
    }

    /// Offset near 0 at which an edge gains most over a smooth change, if it gains. The samples judged move with the edge tried, so that a bright
    /// band a few pixels inside does not draw it in.
    fn peak(&self, rays: &Rays, ray: usize) -> Option<f64> {
        let step = 0.25;
        let gains: Vec<f64> = (-6..=6)
            .map(|k| gain_at(rays, ray, step * f64::from(k), self.half_px, self.tables, Expectation::ROD).unwrap_or(f64::NEG_INFINITY))
            .collect();
        let best = (1..gains.len() - 1).fold(1, |a, b| if gains[b] > gains[a] { b } else { a });
        let bend = 2.0 * gains[best] - gains[best - 1] - gains[best + 1];
        if gains[best] < 1.0 || !bend.is_finite() || bend <= 0.0 {
            return None;
        }
        let shift = (0.5 * (gains[best + 1] - gains[best - 1]) / bend).clamp(-1.0, 1.0);
        Some(step * (best as f64 - 6.0 + shift))
    }

    /// Points along the edge, each a fit of its own to a short stretch; what does not agree with the line is left out.
    fn points(&self, line: Line, range_t: [f64; 2]) -> (Vec<(f64, f64)>, Vec<EdgePoint>) {
        let contour = self.straight(line, range_t);
        let (rays, middles) = self.grouped(&contour, 9.0);
        let fits: Vec<Option<EdgeFit>> =
            (0..rays.count).into_par_iter().map(|i| fit(&rays, i, 0.0, self.half_px, self.tables, Expectation::ROD_CLOSE)).collect();
        let presence = middles.iter().zip(&fits).map(|(&m, fit)| {
            let gain = fit.map_or(0.0, |f| if f.offset_px.abs() < 1.0 { f.gain } else { 0.0 });
            (range_t[0] - m as f64, gain.clamp(-2.0, 10.0))
        });
        let points = middles.iter().zip(&fits).filter_map(|(&m, fit)| {
            let fit = (*fit)?;
            let expected = 0.3 + 3.0 * fit.sigma_px.min(0.3);
            if fit.offset_px.abs() > expected || fit.sigma_px > 0.6 || fit.gain < 0.0 {
                return None;
            }
            let (p, n) = (contour.points[m], contour.normals[m]);
            Some(EdgePoint {
                at_px: [p[0] + fit.offset_px * n[0], p[1] + fit.offset_px * n[1]],
                normal: n,
                sigma_px: fit.sigma_px.max(0.05),
            })
        });
        (presence.collect(), points.collect())
    }

    /// How far the edge moves between what rods may be: polished or dull, and lit evenly or in bands. Half the range of each, the middle of all chunks.
    fn limb_px(&self, line: Line, range_t: [f64; 2]) -> f64 {
        let (rays, middles) = self.grouped(&self.straight(line, range_t), 9.0);
        if rays.count < 8 {
            return 0.0;
        }
        let ts: Vec<f64> = middles.iter().map(|&m| range_t[0] - m as f64).collect();
        let (chunks, _) = chunks(&rays, &ts);
        let at = |i: usize, tables: &EdgeTables, level_inside: f64| {
            let expected = Expectation { level_inside, ..Expectation::ROD };
            fit(&chunks, i, 0.0, self.half_px, tables, expected).map(|f| f.offset_px)
        };
        let middle = |range: &dyn Fn(usize) -> Option<f64>| {
            let mut moves: Vec<f64> = (0..chunks.count).filter_map(range).map(f64::abs).collect();
            moves.sort_by(f64::total_cmp);
            0.5 * moves.get(moves.len() / 2).copied().unwrap_or(0.0)
        };
        let [smooth, dull] = ROUGHNESS_RANGE.map(|alpha| EdgeTables::new(self.tables.blur_px, alpha));
        let usual = Expectation::ROD.level_inside;
        let surface = middle(&|i| Some(at(i, &smooth, usual)? - at(i, &dull, usual)?));
        let bands = middle(&|i| Some(at(i, self.tables, 10.0 * usual)? - at(i, self.tables, 0.1 * usual)?));
        surface.hypot(bands)
    }

    /// A straight contour along a line, its normals pointing away from the axis, a point a pixel.
    fn straight(&self, line: Line, range_t: [f64; 2]) -> Contour {
        let count = (range_t[0] - range_t[1]).max(0.0).floor() as usize;
        let (frame, side) = (self.frame, self.side);
        let length = (1.0 + line.slope * line.slope).sqrt();
        let (t, w) = (-side * line.slope / length, side / length);
        let normal = [t * frame.along[0] + w * frame.left[0], t * frame.along[1] + w * frame.left[1]];
        let points: Vec<[f64; 2]> = (0..count).map(|k| range_t[0] - k as f64).map(|t| frame.to_px(t, line.at(t))).collect();
        Contour { normals: vec![normal; points.len()], points, spacing_px: 1.0 }
    }

    /// Rays averaged in groups along the line, with the index of the middle point of each; groups outside the picture are dropped.
    fn grouped(&self, contour: &Contour, reach_px: f64) -> (Rays, Vec<usize>) {
        let rays = Rays::cast(self.picture, contour, reach_px, STEP_PX);
        let (width, height) = (self.picture.width_px() as f64, self.picture.height_px() as f64);
        let inside = |p: [f64; 2]| p[0] > 2.0 && p[1] > 2.0 && p[0] < width - 2.0 && p[1] < height - 2.0;
        let (mut light, mut middles) = (Vec::new(), Vec::new());
        for start in (0..contour.points.len().saturating_sub(GROUP_PX - 1)).step_by(GROUP_PX) {
            if inside(contour.points[start]) && inside(contour.points[start + GROUP_PX - 1]) {
                middles.push(start + GROUP_PX / 2);
                averaged(&rays, start..start + GROUP_PX, &mut light);
            }
        }
        (Rays { count: middles.len(), light, ..rays }, middles)
    }
}

/// Gains of all rays over a range of offsets, so that many lines can be tried at little cost.
pub(crate) struct GainTable {
    reach_px: f64,
    rows: Vec<Vec<f64>>,
}

/// Offsets tabulated, px: fine against the blur of any picture.
const TABLE_STEP_PX: f64 = 0.25;

impl GainTable {
    pub fn new(rays: &Rays, reach_px: f64, gain: impl Fn(usize, f64) -> f64 + Sync) -> Self {
        let count = (2.0 * reach_px / TABLE_STEP_PX).ceil() as usize + 1;
        let row = |i: usize| (0..count).map(|k| gain(i, TABLE_STEP_PX * k as f64 - reach_px)).collect();
        GainTable { reach_px, rows: (0..rays.count).into_par_iter().map(row).collect() }
    }

    pub fn at(&self, ray: usize, offset_px: f64) -> f64 {
        let k = ((offset_px + self.reach_px) / TABLE_STEP_PX).round().max(0.0) as usize;
        self.rows.get(ray).and_then(|row| row.get(k)).copied().unwrap_or(f64::NEG_INFINITY)
    }
}

/// Mean of the two weaker thirds: what holds nearly everywhere.
pub(crate) fn weaker_two_thirds(mut gains: Vec<f64>) -> f64 {
    gains.retain(|g| g.is_finite());
    gains.sort_by(f64::total_cmp);
    let kept = (gains.len() - gains.len() / 3).max(1);
    if gains.is_empty() { f64::NEG_INFINITY } else { gains.iter().take(kept).sum::<f64>() / kept as f64 }
}

/// Rays averaged over a tenth of the stretch each, with the place of each along the stretch (-1..1).
fn chunks(rays: &Rays, ts: &[f64]) -> (Rays, Vec<f64>) {
    let parts = CHUNKS.min(rays.count / 2).max(1);
    let (t0, t1) = (ts[0], ts[ts.len() - 1]);
    let (mut light, mut places) = (Vec::new(), Vec::new());
    for k in 0..parts {
        let (from, to) = (k * rays.count / parts, (k + 1) * rays.count / parts);
        places.push((from..to).map(|i| 2.0 * (ts[i] - t0) / (t1 - t0) - 1.0).sum::<f64>() / (to - from).max(1) as f64);
        averaged(rays, from..to, &mut light);
    }
    (Rays { count: parts, cells: rays.cells, step_px: rays.step_px, reach_px: rays.reach_px, light }, places)
}

/// Appends one ray: the mean of `range`.
fn averaged(rays: &Rays, range: std::ops::Range<usize>, light: &mut Vec<[f32; 3]>) {
    let scale = 1.0 / range.len().max(1) as f32;
    for cell in 0..rays.cells {
        let mut sum = [0.0f32; 3];
        for i in range.clone() {
            let v = rays.light[i * rays.cells + cell];
            (0..3).for_each(|c| sum[c] += v[c] * scale);
        }
        light.push(sum);
    }
}
