//! What the outline does not show: the last bit of the ends up to the axis, and stretches hidden between seen ones.

use crate::carve::Run;

/// A whole polyline from the axis at the rod end to the axis at the free end.
#[derive(Clone, Debug)]
pub(crate) struct Closed {
    /// Height of the rod-end face and of the free end's apex, in the fit's own heights.
    pub(crate) ends_mm: [f64; 2],
    /// One-sigma doubt of the completion at each end.
    pub(crate) ends_sigma_mm: [f64; 2],
    /// Whether an end was closed as a dome (else as a flat face).
    pub(crate) dome: [bool; 2],
}

/// How far each end reaches beyond its last seen node: along an arc with the local curvature until the normal lies along the axis, or, where
/// that would pass the axis, along an arc that meets the axis squarely.
pub(crate) fn close(runs: &[Run], spacing_mm: f64) -> Option<Closed> {
    let first: Vec<[f64; 2]> = runs.first()?.iter().take(12).map(|p| [-p[0], p[1]]).collect();
    let last: Vec<[f64; 2]> = runs.last()?.iter().rev().take(12).copied().collect();
    let (low, low_sigma, low_dome) = reach(&first, spacing_mm);
    let (high, high_sigma, high_dome) = reach(&last, spacing_mm);
    let ends_mm = [runs.first()?.first()?[0] - low, runs.last()?.last()?[0] + high];
    Some(Closed { ends_mm, ends_sigma_mm: [low_sigma, high_sigma], dome: [low_dome, high_dome] })
}

/// Reach beyond the first place of `inward` (places from the end inward, the axis growing outward), its sigma, and whether it is a dome.
fn reach(inward: &[[f64; 2]], spacing_mm: f64) -> (f64, f64, bool) {
    let Some(end) = inward.first() else { return (0.0, spacing_mm, false) };
    if inward.len() < 7 {
        return (0.0, spacing_mm, false);
    }
    // Directions from the inside toward the end, over two halves of the last six segments; angle of the normal from the axis.
    let lean = |a: [f64; 2], b: [f64; 2]| (b[0] - a[0]).atan2(a[1] - b[1]);
    let (near, far) = (lean(inward[3], inward[0]), lean(inward[6], inward[3]));
    let turn = (far - near) / (3.0 * spacing_mm);
    let at_end = near - 1.5 * spacing_mm * turn;
    if turn <= 1e-9 || !(0.0..1.3).contains(&at_end) {
        return (0.0, 0.25 * spacing_mm, false);
    }
    let (local, square) = (1.0 / turn, end[1] / at_end.sin().max(1e-6));
    let radius = local.min(square);
    let height = (radius * (1.0 - at_end.cos())).min(end[1]);
    (height, 0.15 * height + 0.1 * spacing_mm, local > 0.5 * square)
}
