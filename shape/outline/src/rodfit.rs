//! The rod's two edges to a fraction of a pixel: the outermost sharp step that runs along the whole rod, then many short fits along it.

use crate::contour::Contour;
use crate::edge::{EdgeFit, fit};
use crate::frame::AxisFrame;
use crate::light::lab;
use crate::limb::LimbTable;
use crate::rays::Rays;
use crate::rodlines::Line;
use crate::EdgePoint;
use photo::Picture;

/// Length of rod averaged into one point, px: long enough to calm noise and cloth, short enough to follow a lens's bend.
const GROUP_PX: f64 = 6.0;
/// How far from the rough line the edge is looked for, px inside and outside.
const INWARD_PX: f64 = 4.0;
const OUTWARD_PX: f64 = 14.0;

/// One edge of the rod. `side` is +1 for the left.
pub(crate) struct RodEdge {
    pub line: Line,
    /// For each stretch of `GROUP_PX` away from the part: its `t`, px, and how much more it looks like an edge than background does.
    pub presence: Vec<(f64, f64)>,
    pub points: Vec<EdgePoint>,
}

/// Fits one edge from `from_t` away from the part (both negative, `to_t` further).
pub(crate) fn rod_edge(picture: &Picture, frame: AxisFrame, rough: Line, side: f64, half_px: f64, range_t: [f64; 2], table: &LimbTable) -> RodEdge {
    let mut line = rough;
    for (inward, outward) in [(INWARD_PX, OUTWARD_PX.max(0.25 * half_px)), (2.5, 2.5)] {
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

/// The outermost line near `line` along which the colour steps sharply, all the way.
fn outermost(picture: &Picture, frame: AxisFrame, line: Line, side: f64, range_t: [f64; 2], window: [f64; 2]) -> Option<Line> {
    let contour = straight(frame, line, side, range_t);
    let margin = 18.0;
    let reach = window[1].max(window[0]) + margin;
    let (rays, middles) = grouped(picture, &contour, reach, 0.5);
    if rays.count < 6 {
        return None;
    }
    let steps = departures(&rays);
    let ts: Vec<f64> = middles.iter().map(|&m| range_t[0] - m as f64).collect();
    let (t0, t1) = (ts[0], ts[ts.len() - 1]);
    let spread = spread(&rays, &steps);
    // Two ends of the line, each moved by itself.
    let cell = |o: f64| ((o + rays.reach_px) / rays.step_px).round();
    let evidence = |a: f64, b: f64| -> f64 {
        let chunk = (rays.count / 8).max(3);
        let mut found: Vec<f64> = Vec::with_capacity(10);
        for start in (0..rays.count).step_by(chunk) {
            let end = (start + chunk).min(rays.count);
            if end - start < chunk.div_ceil(2) {
                continue;
            }
            let mut mean = [0.0f32; 3];
            for i in start..end {
                let share = (ts[i] - t0) / (t1 - t0);
                let k = cell(a + (b - a) * share).clamp(0.0, rays.cells as f64 - 1.0) as usize;
                (0..3).for_each(|c| mean[c] += steps[i * rays.cells + k][c]);
            }
            let scale = (end - start) as f32;
            let q: f32 = (0..3).map(|c| (mean[c] / scale / spread[c]).powi(2)).sum::<f32>() * scale;
            found.push(f64::from(10.0 * (1.0 + (q - 3.0).max(-3.0) / 10.0).ln()));
        }
        found.sort_by(f64::total_cmp);
        let kept = (found.len() - found.len() / 3).max(1);
        found[..kept.min(found.len())].iter().sum::<f64>() / kept as f64
    };
    // For each place of the near end, the best turn.
    let turn = 2.0;
    let places: Vec<f64> = (0..).map(|k| -window[0] + 0.5 * f64::from(k)).take_while(|o| *o <= window[1]).collect();
    let best: Vec<(f64, f64)> = places
        .iter()
        .map(|&o| {
            (-4..=4).map(|k| 0.5 * turn * f64::from(k) / 2.0).fold((f64::NEG_INFINITY, 0.0), |best, d| {
                let e = evidence(o - d, o + d);
                if e > best.0 { (e, d) } else { best }
            })
        })
        .collect();
    // Texture can step for a while; the rod's own edge does so all along. Half of the strongest keeps weak edges beside bright bands.
    let strongest = best.iter().fold(0.0f64, |m, b| m.max(b.0));
    let solid = (0.45 * strongest).max(15.0);
    let peak = |k: usize| best[k].0 >= solid && (k.saturating_sub(2)..=(k + 2).min(best.len() - 1)).all(|j| best[j].0 <= best[k].0);
    let k = (0..best.len()).rev().find(|&k| peak(k))?;
    let (a, b) = (places[k] - best[k].1, places[k] + best[k].1);
    let slope = (b - a) / (t1 - t0) * side;
    let at_t0 = line.at(t0) + side * a;
    Some(Line { at_joint_px: at_t0 - (line.slope + slope) * t0, slope: line.slope + slope, evidence: best[k].0 })
}

/// At each cell's near edge: how far the two pixels just inside miss the straight line fitted to what lies one to six pixels outside.
/// Smooth shading and soft shadows are followed by the line; the rod's edge is where it first fails. 0 near the ends of a ray.
fn departures(rays: &Rays) -> Vec<[f32; 3]> {
    let colours: Vec<[f32; 3]> = rays.light.iter().map(|&rgb| lab(rgb)).collect();
    let cells = |px: f64| (px / rays.step_px).round() as usize;
    let (skip, fitted, near, width) = (cells(1.0), cells(5.0), cells(0.5), cells(2.0));
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

/// Spread of the steps well outside the line.
fn spread(rays: &Rays, steps: &[[f32; 3]]) -> [f32; 3] {
    std::array::from_fn(|c| {
        let mut sizes: Vec<f32> = (0..rays.count)
            .flat_map(|i| (rays.cells - (18.0 / rays.step_px) as usize..rays.cells - (6.5 / rays.step_px) as usize).map(move |k| i * rays.cells + k))
            .map(|at| steps[at][c].abs())
            .collect();
        sizes.sort_by(f32::total_cmp);
        sizes.get(sizes.len() / 2).map_or(1.0, |m| (1.4826 * m).max(0.1))
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
fn points(picture: &Picture, frame: AxisFrame, line: Line, side: f64, half_px: f64, range_t: [f64; 2], table: &LimbTable) -> Vec<EdgePoint> {
    let contour = straight(frame, line, side, range_t);
    let (rays, middles) = grouped(picture, &contour, 9.0, 0.5);
    let fits: Vec<Option<EdgeFit>> = (0..rays.count).map(|i| fit(&rays, i, 0.0, half_px, table, 0.5)).collect();
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
