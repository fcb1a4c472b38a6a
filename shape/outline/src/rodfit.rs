//! The rod's two edges to a fraction of a pixel: the outermost sharp step that runs along the whole rod, then many short fits along it.

use crate::contour::Contour;
use crate::edge::{EdgeFit, EdgeTables, Expectation, fit};
use crate::frame::AxisFrame;
use crate::light::lab;
use crate::rays::Rays;
use crate::rodlines::Line;
use crate::EdgePoint;
use photo::Picture;

/// Length of rod averaged into one point, px: long enough to calm noise and cloth, short enough to follow a lens's bend.
const GROUP_PX: f64 = 6.0;
/// How far from the rough line the edge is looked for, px inside and outside.
const INWARD_PX: f64 = 6.0;
const OUTWARD_PX: f64 = 14.0;

/// One edge of the rod. `side` is +1 for the left.
pub(crate) struct RodEdge {
    pub line: Line,
    /// For each stretch of `GROUP_PX` away from the part: its `t`, px, and how much more it looks like an edge than background does.
    pub presence: Vec<(f64, f64)>,
    pub points: Vec<EdgePoint>,
}

/// Fits one edge from `from_t` away from the part (both negative, `to_t` further).
pub(crate) fn rod_edge(picture: &Picture, frame: AxisFrame, rough: Line, side: f64, half_px: f64, range_t: [f64; 2], table: &EdgeTables) -> RodEdge {
    let mut line = rough;
    for (inward, outward) in [(INWARD_PX, OUTWARD_PX.max(0.25 * half_px)), (2.0, 2.0)] {
        let near = [range_t[0], range_t[1].max(-0.62 * frame.length_px)];
        line = outermost(picture, frame, line, side, near, [inward, outward]).unwrap_or(line);
    }
    RodEdge { line, presence: presence(picture, frame, line, side, range_t), points: points(picture, frame, line, side, half_px, range_t, table) }
}

/// A straight contour along a line, its normals pointing away from the axis.
fn straight(frame: AxisFrame, line: Line, side: f64, range_t: [f64; 2]) -> Contour {
    let count = ((range_t[0] - range_t[1]).max(0.0)).floor() as usize;
    let normal = {
        let length = (1.0 + line.slope * line.slope).sqrt();
        let (t, w) = (-side * line.slope / length, side / length);
        [t * frame.along[0] + w * frame.left[0], t * frame.along[1] + w * frame.left[1]]
    };
    let points: Vec<[f64; 2]> = (0..count).map(|k| frame.to_px(range_t[0] - k as f64, line.at(range_t[0] - k as f64))).collect();
    Contour { normals: vec![normal; points.len()], points, spacing_px: 1.0 }
}

/// Rays averaged in groups along the line; groups outside the picture are dropped.
fn grouped(picture: &Picture, contour: &Contour, reach_px: f64, step_px: f64) -> (Rays, Vec<usize>) {
    let rays = Rays::cast(picture, contour, reach_px, step_px);
    let group = GROUP_PX as usize;
    let inside = |p: [f64; 2]| {
        p[0] > 2.0 && p[1] > 2.0 && p[0] < picture.width_px() as f64 - 2.0 && p[1] < picture.height_px() as f64 - 2.0
    };
    let (mut light, mut middles) = (Vec::new(), Vec::new());
    for start in (0..contour.points.len().saturating_sub(group - 1)).step_by(group) {
        if !inside(contour.points[start]) || !inside(contour.points[start + group - 1]) {
            continue;
        }
        middles.push(start + group / 2);
        for k in 0..rays.cells {
            let mut sum = [0.0f32; 3];
            for i in start..start + group {
                let v = rays.light[i * rays.cells + k];
                (0..3).for_each(|c| sum[c] += v[c] / group as f32);
            }
            light.push(sum);
        }
    }
    (Rays { count: middles.len(), light, ..rays }, middles)
}

/// A line tried: moved outward by `offset_px` at the middle of the stretch, and by `turn_px` more at its far end (less at its near end).
struct Trial {
    offset_px: f64,
    turn_px: f64,
    /// Signed square of the departure's size in its usual direction, in spreads, that seven parts in ten of the stretch exceed.
    evidence: f64,
    direction: [f32; 3],
}

/// The outermost line near `line` along which the colour departs from the background's, the same way nearly everywhere.
///
/// Lines that merely cross a bright band or a card depart one way here and another there, or only in places.
fn outermost(picture: &Picture, frame: AxisFrame, line: Line, side: f64, range_t: [f64; 2], window: [f64; 2]) -> Option<Line> {
    let contour = straight(frame, line, side, range_t);
    let beyond = 8.0;
    let (rays, middles) = grouped(picture, &contour, window[0].max(window[1]) + beyond + 8.0, 0.5);
    if rays.count < 8 {
        return None;
    }
    let ts: Vec<f64> = middles.iter().map(|&m| range_t[0] - m as f64).collect();
    let departures = departures(&rays);
    let spread = spread(&rays, &departures);
    let count = ((window[0] + window[1] + beyond) / STEP_PX).ceil() as usize;
    let trials: Vec<Vec<Trial>> = (0..count)
        .map(|k| -window[0] + STEP_PX * k as f64)
        .map(|o| (-TURNS..=TURNS).map(|d| trial(&rays, &ts, &departures, spread, o, STEP_PX * f64::from(d))).collect())
        .collect();
    let usual_outside = trials.iter().flatten().filter(|t| t.offset_px > window[1]).map(|t| t.evidence).fold(0.0, f64::max);
    // Twice what the surroundings reach by chance; 15 is four spreads, nowhere missed by chance in three parts of ten.
    let solid = (2.0 * usual_outside).max(15.0);
    let peaks = peaks(&trials, window[1], solid);
    // The camera's blur and its coarser colour leave a faint tail a few pixels outside a strong edge: same direction, much weaker.
    let outer = peaks.last();
    let same = |a: &Trial, b: &Trial| (0..3).map(|c| a.direction[c] * b.direction[c]).sum::<f32>() > 0.7;
    if std::env::var("DBG").is_ok() {
        let m = 0.5 * (ts[0] + ts[ts.len() - 1]);
        let px = frame.to_px(m, line.at(m));
        eprintln!("R2 {side} at {:.2} {:.2} window {window:?} outside {usual_outside:.1} peaks {:?}", px[0], px[1], peaks.iter().map(|p| (p.offset_px, p.turn_px, p.evidence.round())).collect::<Vec<_>>());
    }
    let outer = *outer?;
    let chosen = peaks
        .iter()
        .filter(|p| outer.offset_px - p.offset_px <= 4.0 && same(p, outer) && p.evidence > 3.0 * outer.evidence)
        .max_by(|a, b| a.evidence.total_cmp(&b.evidence))
        .unwrap_or(&outer);
    let (t0, t1) = (ts[0], ts[ts.len() - 1]);
    let slope = line.slope + side * 2.0 * chosen.turn_px / (t1 - t0);
    let middle = 0.5 * (t0 + t1);
    let at_middle = line.at(middle) + side * chosen.offset_px;
    Some(Line { at_joint_px: at_middle - slope * middle, slope, evidence: chosen.evidence })
}

const STEP_PX: f64 = 0.5;
/// Turns tried either way, in steps: the rough line's slope is good to a pixel or two over the stretch.
const TURNS: i32 = 5;
const CHUNKS: usize = 10;

fn trial(rays: &Rays, ts: &[f64], departures: &[[f32; 3]], spread: [f32; 3], offset_px: f64, turn_px: f64) -> Trial {
    let (t0, t1) = (ts[0], ts[ts.len() - 1]);
    let chunks: Vec<[f32; 3]> = (0..CHUNKS.min(rays.count / 2).max(1))
        .map(|k| {
            let parts = CHUNKS.min(rays.count / 2).max(1);
            let (from, to) = (k * rays.count / parts, (k + 1) * rays.count / parts);
            let mut mean = [0.0f32; 3];
            for i in from..to {
                let o = offset_px + turn_px * (2.0 * (ts[i] - t0) / (t1 - t0) - 1.0);
                let cell = ((o + rays.reach_px) / rays.step_px).round().clamp(0.0, rays.cells as f64 - 1.0) as usize;
                (0..3).for_each(|c| mean[c] += departures[i * rays.cells + cell][c] / spread[c]);
            }
            let scale = 1.0 / ((to - from).max(1) as f32).sqrt();
            mean.map(|v| v * scale)
        })
        .collect();
    let usual: [f32; 3] = std::array::from_fn(|c| {
        let mut values: Vec<f32> = chunks.iter().map(|v| v[c]).collect();
        values.sort_by(f32::total_cmp);
        values[values.len() / 2]
    });
    let size = usual.iter().map(|v| v * v).sum::<f32>().sqrt().max(1e-6);
    let direction = usual.map(|v| v / size);
    let mut along: Vec<f32> = chunks.iter().map(|v| (0..3).map(|c| v[c] * direction[c]).sum()).collect();
    along.sort_by(f32::total_cmp);
    let held = f64::from(along[3 * along.len() / 10]);
    Trial { offset_px, turn_px, evidence: held * held.abs(), direction }
}

/// Trials that beat all others within a pixel of offset and of turn, from the inside outward.
fn peaks(trials: &[Vec<Trial>], furthest_px: f64, solid: f64) -> Vec<&Trial> {
    let mut found = Vec::new();
    for (i, row) in trials.iter().enumerate() {
        for (j, trial) in row.iter().enumerate() {
            let rows = &trials[i.saturating_sub(2)..(i + 3).min(trials.len())];
            let near = rows.iter().flat_map(|r| &r[j.saturating_sub(2)..(j + 3).min(r.len())]);
            if trial.offset_px <= furthest_px && trial.evidence > solid && near.into_iter().all(|t| t.evidence <= trial.evidence) {
                found.push(trial);
            }
        }
    }
    found
}

/// At each cell's near edge: how far the pixel and a half just inside misses the straight line fitted to what lies one to six pixels outside.
/// Smooth shading and soft shadows are followed by the line; the rod's edge is where it first fails. 0 near the ends of a ray.
fn departures(rays: &Rays) -> Vec<[f32; 3]> {
    let colours: Vec<[f32; 3]> = rays.light.iter().map(|&rgb| lab(rgb)).collect();
    let cells = |px: f64| (px / rays.step_px).round() as usize;
    let (skip, fitted, near, width) = (cells(1.0), cells(5.0), cells(0.0), cells(1.5));
    let place = |k: usize| (skip + k) as f32 + 0.5;
    let mean = (0..fitted).map(place).sum::<f32>() / fitted as f32;
    let square: f32 = (0..fitted).map(|k| (place(k) - mean).powi(2)).sum();
    let target = -((near as f32) + 0.5 * width as f32);
    let weights: Vec<f32> = (0..fitted).map(|k| 1.0 / fitted as f32 + (target - mean) * (place(k) - mean) / square).collect();
    (0..colours.len())
        .map(|at| {
            let k = at % rays.cells;
            if k < near + width || k + skip + fitted > rays.cells {
                return [0.0; 3];
            }
            let mut miss = [0.0f32; 3];
            for (m, w) in weights.iter().enumerate() {
                (0..3).for_each(|c| miss[c] += w * colours[at + skip + m][c]);
            }
            for m in 0..width {
                (0..3).for_each(|c| miss[c] -= colours[at - 1 - near - m][c] / width as f32);
            }
            miss
        })
        .collect()
}

/// Spread of the departures well outside the line, but no less than what JPEG leaves (a* and b* are stored more coarsely than L*).
fn spread(rays: &Rays, departures: &[[f32; 3]]) -> [f32; 3] {
    let cells = |px: f64| (px / rays.step_px) as usize;
    let zone = rays.cells.saturating_sub(cells(18.0))..rays.cells.saturating_sub(cells(6.5));
    std::array::from_fn(|c| {
        let mut sizes: Vec<f32> = (0..rays.count)
            .flat_map(|i| zone.clone().map(move |k| i * rays.cells + k))
            .map(|at| departures[at][c].abs())
            .collect();
        sizes.sort_by(f32::total_cmp);
        sizes.get(sizes.len() / 2).map_or(1.0, |m| (1.4826 * m).max(if c == 0 { 0.15 } else { 0.3 }))
    })
}

/// How much each stretch along the line looks like the rod's edge rather than like background beside it: above zero for edge. The mark lies
/// midway between what is usual near the part and what is usual beside the rod.
fn presence(picture: &Picture, frame: AxisFrame, line: Line, side: f64, range_t: [f64; 2]) -> Vec<(f64, f64)> {
    let contour = straight(frame, line, side, range_t);
    let (rays, middles) = grouped(picture, &contour, 20.0, 0.5);
    let steps = departures(&rays);
    let spread = spread(&rays, &steps);
    let strength = |i: usize, k: usize| -> f64 {
        let q: f32 = (0..3).map(|c| (steps[i * rays.cells + k][c] / spread[c]).powi(2)).sum();
        f64::from(q.min(30.0))
    };
    let at_line = (rays.reach_px / rays.step_px) as usize;
    let beside = (at_line + (4.0 / rays.step_px) as usize..at_line + (13.0 / rays.step_px) as usize).step_by(3);
    let here: Vec<f64> = (0..rays.count).map(|i| (at_line.saturating_sub(1)..=at_line + 1).map(|k| strength(i, k)).fold(0.0, f64::max)).collect();
    let usual = |values: Vec<f64>| values.iter().sum::<f64>() / values.len().max(1) as f64;
    let nothing = usual((0..rays.count).flat_map(|i| beside.clone().map(move |k| (i, k))).map(|(i, k)| strength(i, k)).collect());
    let near = usual((0..rays.count).filter(|&i| range_t[0] - (middles[i] as f64) > -0.45 * frame.length_px).map(|i| here[i]).collect());
    middles.iter().zip(&here).map(|(&m, q)| (range_t[0] - m as f64, q - 0.5 * (near + nothing).max(2.0 * nothing))).collect()
}

/// Points along the edge, each a fit of its own to a short stretch; what does not agree with the line is left out.
fn points(picture: &Picture, frame: AxisFrame, line: Line, side: f64, half_px: f64, range_t: [f64; 2], table: &EdgeTables) -> Vec<EdgePoint> {
    let contour = straight(frame, line, side, range_t);
    let (rays, middles) = grouped(picture, &contour, 9.0, 0.5);
    let fits: Vec<Option<EdgeFit>> = (0..rays.count).map(|i| fit(&rays, i, 0.0, half_px, table, Expectation::ROD)).collect();
    let usual = {
        let mut offsets: Vec<f64> = fits.iter().flatten().filter(|f| f.offset_px.abs() < 1.5).map(|f| f.offset_px).collect();
        offsets.sort_by(f64::total_cmp);
        offsets.get(offsets.len() / 2).copied().unwrap_or(0.0)
    };
    middles
        .iter()
        .zip(&fits)
        .filter_map(|(&m, fit)| {
            let fit = (*fit)?;
            if (fit.offset_px - usual).abs() > 0.5 + 3.0 * fit.sigma_px.min(0.5) || fit.sigma_px > 1.0 {
                return None;
            }
            let (p, n) = (contour.points[m], contour.normals[m]);
            Some(EdgePoint { at_px: [p[0] + fit.offset_px * n[0], p[1] + fit.offset_px * n[1]], normal: n, sigma_px: fit.sigma_px.max(0.05) })
        })
        .collect()
}
