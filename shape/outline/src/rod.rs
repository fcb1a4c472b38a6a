//! Which points of the contour are the part's: those beyond the rod's two edges.

use crate::Outline;
use crate::contour::Contour;
use crate::edge::EdgeFit;
use crate::frame::AxisFrame;
use crate::refine::edge_points;
use crate::rodfit::RodEdge;

/// Divides the contour into rod and part: the part begins where the contour leaves the rod's straight edge for good. Also returns those two places,
/// left and right, px.
pub(crate) fn split(
    frame: AxisFrame,
    contour: &Contour,
    fits: &[Option<EdgeFit>],
    edges: [RodEdge; 2],
    biases_px: [f64; 2],
) -> (Outline, [[f64; 2]; 2]) {
    let n = contour.points.len();
    let place: Vec<[f64; 2]> = (0..n)
        .map(|i| {
            let o = fits[i].map_or(0.0, |f| f.offset_px);
            frame.place([contour.points[i][0] + o * contour.normals[i][0], contour.points[i][1] + o * contour.normals[i][1]])
        })
        .collect();
    let length = frame.length_px;
    let apex = (0..n).fold(0, |a, b| if place[b][0] > place[a][0] { b } else { a });
    // The first stretch that stays off the rod's edge is the part; its neck may come as near the axis as the rod again.
    let lasting = ((0.012 * length).max(5.0) / contour.spacing_px).ceil() as usize;
    let leaves = |edge: &RodEdge, order: &[usize], side: f64| {
        let off = |i: usize| side * (place[i][1] - edge.line.at(place[i][0])) > 2.0;
        let first = order.windows(lasting).position(|run| place[run[0]][0] > -0.45 * length && run.iter().all(|&i| off(i)))?;
        first.checked_sub(1).map(|k| order[k])
    };
    let (up, down): (Vec<usize>, Vec<usize>) = ((0..apex).collect(), (apex..n).rev().collect());
    let left_end = leaves(&edges[0], &up, 1.0).unwrap_or(0);
    let right_end = leaves(&edges[1], &down, -1.0).unwrap_or(n.saturating_sub(1));
    let part = edge_points(contour, fits, left_end + 3..right_end.saturating_sub(3).max(left_end + 3));
    let joint = [place[left_end.min(n - 1)][0], place[right_end.min(n - 1)][0]];
    let end = far_end(&edges, length) + 0.02 * length;
    let behind = |points: Vec<crate::EdgePoint>, joint: f64| -> Vec<crate::EdgePoint> {
        points.into_iter().filter(|p| (end..joint - 3.0).contains(&frame.place(p.at_px)[0])).collect()
    };
    let joint_px = [(joint[0], edges[0].line), (joint[1], edges[1].line)].map(|(t, line)| frame.to_px(t, line.at(t)));
    let [left, right] = edges;
    let outline = Outline {
        part,
        rod_left: behind(left.points, joint[0]),
        rod_right: behind(right.points, joint[1]),
        rod_joint: Vec::new(),
        part_bias_sigma_px: biases_px[0],
        rod_bias_sigma_px: biases_px[1],
        axis: frame.clicks(),
    };
    (outline, joint_px)
}

/// `t` where the rod ends, px: the place that best parts stretches with an edge from stretches without, both edges taken together.
///
/// The mark between the two lies halfway up to what is usual near the part.
fn far_end(edges: &[RodEdge; 2], length_px: f64) -> f64 {
    let mut stretches: Vec<(f64, f64)> = Vec::new();
    for edge in edges {
        let near: Vec<f64> = edge.presence.iter().filter(|p| p.0 > -0.45 * length_px).map(|p| p.1).collect();
        let mark = (0.5 * near.iter().sum::<f64>() / near.len().max(1) as f64).max(0.2);
        stretches.extend(edge.presence.iter().map(|p| (p.0, p.1 - mark)));
    }
    stretches.sort_by(|a, b| b.0.total_cmp(&a.0));
    let (mut sum, mut best, mut end) = (0.0, 0.0, 0.0);
    for (t, presence) in stretches {
        sum += presence;
        if sum >= best {
            (best, end) = (sum, t);
        }
    }
    end
}
