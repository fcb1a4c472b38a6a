//! The fitted model's outline over the photo.

use crate::chain::Chain;
use crate::joint::ViewState;
use crate::sight::Stand;
use outline::Clicks;

/// The apparent contour of the chain in a view, rod end to free end, left and right of the axis direction, px.
///
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
    (left, right)
}
