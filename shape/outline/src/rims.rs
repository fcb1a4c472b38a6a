//! End faces and shoulders seen at a tilt: their far rim, beyond the plain edge between face and wall.
//!
//! A flat face turned toward the camera shows as a narrow crescent, often about as dark as the shade beside it, while its near rim is the
//! plainest edge around. Where the outline runs across the axis, an edge further out that runs along is therefore looked for.

use crate::contour::Contour;
use crate::edge::{EdgeTables, Expectation, gain_at};
use crate::frame::{AxisFrame, dot};
use crate::rays::Rays;
use photo::Picture;
use rayon::prelude::*;

/// Contour points to a node; a node's rays are averaged.
const NODE: usize = 4;
/// An outer rim lies at least this far out to be told from the inner one, px.
const LEAST_PX: f64 = 2.0;
const STEP_PX: f64 = 0.5;
/// Shortest run across the axis that is taken for a face, in part lengths as seen.
const LEAST_RUN: f64 = 0.08;

/// Offsets, px, that carry the contour out to the far rims; 0 where there is none.
pub(crate) fn outer_rims(picture: &Picture, frame: AxisFrame, contour: &Contour, radii: &[f64], tables: &EdgeTables) -> Vec<f64> {
    let mut offsets = vec![0.0; contour.points.len()];
    let across: Vec<bool> = contour.normals.iter().map(|&n| dot(n, frame.along).abs() > 0.5).collect();
    let mut start = 0;
    while start < across.len() {
        let end = (start..across.len()).find(|&i| !across[i]).unwrap_or(across.len());
        let long = (end - start) as f64 * contour.spacing_px > LEAST_RUN * frame.length_px;
        if let Some(found) = long.then(|| outer_rim(picture, frame, contour, radii, tables, start..end)).flatten() {
            offsets[start..end].copy_from_slice(&found);
        }
        start = end.max(start) + 1;
    }
    offsets
}

/// A run's far rim: offsets for its points, if an edge runs along most of it.
fn outer_rim(
    picture: &Picture,
    frame: AxisFrame,
    contour: &Contour,
    radii: &[f64],
    tables: &EdgeTables,
    run: std::ops::Range<usize>,
) -> Option<Vec<f64>> {
    // A crescent's greatest width is the run's length times the sine of the tilt; more than half (30 degrees) hides the part's side.
    let reach = (0.5 * run.len() as f64 * contour.spacing_px).clamp(6.0, 60.0);
    let nodes = run.len() / NODE;
    let picked = Contour {
        points: contour.points[run.clone()].to_vec(),
        normals: contour.normals[run.clone()].to_vec(),
        spacing_px: contour.spacing_px,
    };
    let rays = Rays::cast(picture, &picked, reach + 8.0, STEP_PX);
    let mut light = Vec::with_capacity(nodes * rays.cells);
    for node in 0..nodes {
        for k in 0..rays.cells {
            let mut sum = [0.0f32; 3];
            (0..NODE).for_each(|i| (0..3).for_each(|c| sum[c] += rays.light[(node * NODE + i) * rays.cells + k][c] / NODE as f32));
            light.push(sum);
        }
    }
    let rays = Rays { count: nodes, light, ..rays };
    let states = ((reach + 2.0) / STEP_PX) as usize;
    let offset = |state: usize| state as f64 * STEP_PX - 1.0;
    let gains: Vec<Vec<f64>> = (0..nodes)
        .into_par_iter()
        .map(|node| {
            let radius = radii[run.start + node * NODE + NODE / 2];
            (0..states)
                .map(|s| gain_at(&rays, node, offset(s), radius, tables, Expectation::PART).unwrap_or(-3.0).clamp(-3.0, 10.0))
                .collect()
        })
        .collect();
    // Near and far rim are the two halves of one ellipse about the axis: apart by a half ellipse again, whose width alone is unknown.
    let w: Vec<f64> = (0..nodes).map(|n| frame.place(contour.points[run.start + n * NODE + NODE / 2])[1]).collect();
    let corner = w.iter().fold(0.0f64, |m, w| m.max(w.abs())) + 2.0;
    let shape: Vec<f64> = w.iter().map(|w| (1.0 - (w / corner).powi(2)).max(0.0).sqrt()).collect();
    // A pixel either way, for perspective and for what the inner rim lacks.
    let near = |n: usize, o: f64| {
        let s = ((o + 1.0) / STEP_PX).round().max(0.0) as usize;
        gains[n][s.saturating_sub(2).min(states - 1)..(s + 3).min(states)].iter().fold(-3.0f64, |m, g| m.max(*g))
    };
    let support = |width: f64, least: f64| {
        let mut values: Vec<f64> = (0..nodes).filter(|&n| width * shape[n] >= least).map(|n| near(n, width * shape[n])).collect();
        if values.len() < nodes.div_ceil(2) {
            return f64::NEG_INFINITY;
        }
        values.sort_by(f64::total_cmp);
        let kept = (values.len() - values.len() / 3).max(1);
        values.iter().take(kept).sum::<f64>() / kept as f64
    };
    let ridge: Vec<(f64, f64)> =
        (1..).map(|k| STEP_PX * f64::from(k)).take_while(|w| *w <= reach).map(|w| (w, support(w, LEAST_PX.min(w)))).collect();
    // A ridge of its own: between it and the near rim the profile fits badly, else it is only that rim's own flank.
    let apart = |k: usize| ridge[..k].iter().any(|r| r.1 < 0.3 * ridge[k].1);
    let (outer_support, width) = (0..ridge.len())
        .filter(|&k| ridge[k].0 > 2.0 * LEAST_PX && apart(k))
        .map(|k| (ridge[k].1, ridge[k].0))
        .fold((f64::NEG_INFINITY, 0.0), |a, b| if b.0 > a.0 { b } else { a });
    if outer_support < (0.1 * support(0.0, -1.0)).max(1.5) {
        return None;
    }
    let outer = best_path(&gains, |node, s| (offset(s) - width * shape[node]).abs() <= 1.5);
    // Between nodes a straight line.
    Some(
        (0..run.len())
            .map(|i| {
                let place = ((i as f64 + 0.5) / NODE as f64 - 0.5).clamp(0.0, nodes as f64 - 1.0);
                let (k, f) = (place.floor() as usize, place.fract());
                offset(outer[k]) * (1.0 - f) + offset(outer[(k + 1).min(nodes - 1)]) * f
            })
            .collect(),
    )
}

/// The path of greatest gain among allowed states; neighbours differ by no more than a node's length, and each step aside costs a little.
fn best_path(gains: &[Vec<f64>], allowed: impl Fn(usize, usize) -> bool) -> Vec<usize> {
    let states = gains.first().map_or(0, Vec::len);
    let widest = (NODE as f64 / STEP_PX) as usize;
    let own = |node: usize, s: usize| if allowed(node, s) { gains[node][s] } else { -100.0 };
    let mut best: Vec<f64> = (0..states).map(|s| own(0, s)).collect();
    let mut from: Vec<Vec<usize>> = vec![Vec::new()];
    for node in 1..gains.len() {
        let mut next = vec![f64::NEG_INFINITY; states];
        let mut trail = vec![0; states];
        for s in 0..states {
            let reach = s.saturating_sub(widest)..(s + widest + 1).min(states);
            for (k, before) in best.iter().enumerate().take(reach.end).skip(reach.start) {
                let value = before - 0.15 * k.abs_diff(s) as f64;
                if value > next[s] {
                    (next[s], trail[s]) = (value, k);
                }
            }
            next[s] += own(node, s);
        }
        best = next;
        from.push(trail);
    }
    let mut state = (0..states).fold(0, |a, b| if best[b] > best[a] { b } else { a });
    let mut path = vec![0; gains.len()];
    for node in (0..gains.len()).rev() {
        path[node] = state;
        if node > 0 {
            state = from[node][state];
        }
    }
    path
}
