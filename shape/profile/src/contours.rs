//! The fitted model's outline over the photo.

use crate::chain::Chain;
use crate::joint::ViewState;
use crate::sight::Stand;
use outline::Clicks;

/// The apparent contour of the chain in a view, rod end to free end, left and right of the axis direction, px.
///
/// Only what can be seen: where the body stands before its own contour, as behind a collar seen from the rod's side, that part is left out.
/// With the normal (n_z, n_r) at (z, r) the contour stands at cos(phi) = (n_r r + n_z (z - z_c)) / (n_r rho), phi = 0 facing the camera.
pub(crate) fn contours(chain: &Chain, view: &ViewState, clicks: &Clicks) -> (Vec<[f64; 2]>, Vec<[f64; 2]>) {
    let stand = Stand::new(view.axis);
    let (mut left, mut right) = (Vec::new(), Vec::new());
    let ([ax, ay], [bx, by]) = (clicks.rod_entry, clicks.free_end);
    for node in chain.nodes.iter().filter(|n| n.seen && n.normal[1] > 1e-3) {
        let (z, r) = (node.at[0] + chain.zero_mm, node.at[1]);
        let cos = (node.normal[1] * r + node.normal[0] * (z - stand.z_c)) / (node.normal[1] * stand.rho);
        if cos.abs() > 1.0 {
            continue;
        }
        let sin = (1.0 - cos * cos).sqrt();
        for side in [sin, -sin] {
            let place = view.axis.origin + view.axis.along * z + (stand.u * cos + stand.v * side) * r;
            let Some(q) = view.lens.project(&place) else { continue };
            // Left: the side of (dy, -dx) of the axis direction (dx, dy).
            if (q[0] - ax) * (by - ay) - (q[1] - ay) * (bx - ax) > 0.0 { left.push(q) } else { right.push(q) }
        }
    }
    let axis = [bx - ax, by - ay];
    (outermost(left, axis), outermost(right, axis))
}

/// A place this far inside what stands on both sides of it is hidden, px.
const HIDDEN_PX: f64 = 1.5;
/// How far to either side along the axis is looked, px: a step of the outline is seen from one of them.
const BESIDE_PX: f64 = 2.0;

/// The places of a half contour that the rest of it does not hide.
fn outermost(places: Vec<[f64; 2]>, axis: [f64; 2]) -> Vec<[f64; 2]> {
    let length = axis[0].hypot(axis[1]).max(f64::MIN_POSITIVE);
    let turned: Vec<[f64; 2]> =
        places.iter().map(|at| [(at[0] * axis[0] + at[1] * axis[1]) / length, (at[0] * axis[1] - at[1] * axis[0]) / length]).collect();
    // The axis' own offset is the same for all: which side is outward is told by where most of them lie.
    let foot = turned.first().map_or(0.0, |first| first[1]);
    let outward = if turned.iter().map(|at| at[1] - foot).sum::<f64>() < 0.0 { -1.0 } else { 1.0 };
    let farthest = |along: f64| {
        let spans = turned.iter().zip(turned.iter().skip(1)).filter(|(a, b)| (a[0] - along) * (b[0] - along) <= 0.0 && a[0] != b[0]);
        let offsets = spans.map(|(a, b)| outward * (a[1] + (along - a[0]) / (b[0] - a[0]) * (b[1] - a[1])));
        offsets.fold(f64::NEG_INFINITY, f64::max)
    };
    let seen = |at: &[f64; 2]| farthest(at[0] - BESIDE_PX).min(farthest(at[0] + BESIDE_PX)) <= outward * at[1] + HIDDEN_PX;
    places.iter().zip(&turned).filter(|(_, at)| seen(at)).map(|(place, _)| *place).collect()
}
