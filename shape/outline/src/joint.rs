//! Where the rod leaves the part: the arc across the rod between its two edges.

use crate::EdgePoint;
use crate::contour::Contour;
use crate::edge::{EdgeFit, EdgeTables, Expectation, fit, gain_at};
use crate::frame::{AxisFrame, minus, norm};
use crate::rays::Rays;
use crate::rodfit::{GainTable, weaker_two_thirds};
use photo::Picture;

/// Share of the rod's width, in the middle, in which the arc is looked for: towards its edges two outlines meet.
const MIDDLE: f64 = 0.8;
/// What shows may be the start of the part's broken edge rather than its end: a quarter millimetre on a rod 6 to 12 mm thick, as a share of the rod's
/// radius.
const BROKEN_EDGE: f64 = 0.05;
/// The arc bulges by at most the rod's half-width times the sine of the tilt (30 degrees).
const BULGE: f64 = 0.5;

/// Points of the border between part and rod, normals pointing out of the part along the rod; empty where it does not show.
///
/// `ends` are the places where the part's outline leaves the rod's two edges, px. The arc is one of a family, half an ellipse through them: the
/// width of the ellipse is the one unknown, so that bands along the rod and shading on the part do not pass for it.
pub(crate) fn rod_joint(picture: &Picture, frame: AxisFrame, ends: [[f64; 2]; 2], tables: &EdgeTables) -> Vec<EdgePoint> {
    let chord = minus(ends[1], ends[0]);
    let length = norm(chord);
    if !(12.0..=4.0 * frame.length_px).contains(&length) {
        return Vec::new();
    }
    let count = (MIDDLE * length).floor() as usize;
    let shares: Vec<f64> = (0..count).map(|k| 0.5 - 0.5 * MIDDLE + (k as f64 + 0.5) / length).collect();
    let normal = frame.along.map(|v| -v);
    let points: Vec<[f64; 2]> = shares.iter().map(|s| [ends[0][0] + s * chord[0], ends[0][1] + s * chord[1]]).collect();
    let contour = Contour { normals: vec![normal; count], points, spacing_px: 1.0 };
    let reach = BULGE * 0.5 * length + 4.0;
    let rays = Rays::cast(picture, &contour, reach + 9.0, 0.5).averaged_over(2);
    let shape: Vec<f64> = shares.iter().map(|s| (1.0 - (2.0 * s - 1.0).powi(2)).max(0.0).sqrt()).collect();
    let radius = 0.5 * length;
    let picked: Vec<usize> = (0..count).step_by(4).collect();
    let gains = GainTable::new(&Rays { count: picked.len(), light: Vec::new(), ..rays }, reach + 4.0, |k, o| {
        gain_at(&rays, picked[k], o, radius, tables, Expectation::PART).map_or(f64::NEG_INFINITY, |g| g.min(10.0))
    });
    let support = |bulge: f64, shift: f64| {
        weaker_two_thirds(picked.iter().enumerate().map(|(k, &i)| gains.at(k, shift + bulge * shape[i])).collect())
    };
    let steps = (2.0 * reach).ceil() as i32;
    let arcs: Vec<(f64, f64, f64)> = (-steps..=steps)
        .flat_map(|b| (-3..=3).map(move |s| (0.5 * f64::from(b), f64::from(s))))
        .map(|(bulge, shift)| (support(bulge, shift), bulge, shift))
        .collect();
    let best = arcs.iter().fold(f64::NEG_INFINITY, |m, a| m.max(a.0));
    // Two nats a ray over the width of a rod is far from chance even for the best of a few hundred arcs. Of several, the outermost is the
    // border: broken edges and shades on the part lie further in.
    let plain = (0.4 * best).max(2.0);
    let out = |a: &(f64, f64, f64)| a.1 + a.2;
    let outermost = arcs.iter().filter(|a| a.0 >= plain).max_by(|a, b| out(a).total_cmp(&out(b)));
    let Some(outermost) = outermost else { return Vec::new() };
    let near = arcs.iter().filter(|a| (out(a) - out(outermost)).abs() <= 1.5).max_by(|a, b| a.0.total_cmp(&b.0));
    let &(_, bulge, shift) = near.unwrap_or(outermost);
    (0..count)
        .step_by(2)
        .filter_map(|i| {
            let start = shift + bulge * shape[i];
            let EdgeFit { offset_px, sigma_px, gain, .. } = fit(&rays, i, start, radius, tables, Expectation::PART)?;
            let p = contour.points[i];
            let at_px = [p[0] + offset_px * normal[0], p[1] + offset_px * normal[1]];
            (gain > 1.0 && sigma_px < 1.0 && (offset_px - start).abs() < 1.5).then_some(EdgePoint {
                at_px,
                normal,
                sigma_px: sigma_px.hypot(BROKEN_EDGE * radius),
            })
        })
        .collect()
}
