//! Which points are the rod's, and where its two edges run.

use crate::coarse::least_deviations;
use crate::contour::Contour;
use crate::edge::EdgeFit;
use crate::find::edge_points;
use crate::frame::AxisFrame;
use crate::Outline;
use photo::Picture;

/// Divides the contour into rod and part: the part begins where the contour leaves the rod's straight edge.
pub(crate) fn split(_picture: &Picture, frame: AxisFrame, contour: &Contour, fits: &[Option<EdgeFit>]) -> Outline {
    let n = contour.points.len();
    let place: Vec<[f64; 2]> = (0..n)
        .map(|i| {
            let o = fits[i].map_or(0.0, |f| f.offset_px);
            frame.from_px([contour.points[i][0] + o * contour.normals[i][0], contour.points[i][1] + o * contour.normals[i][1]])
        })
        .collect();
    let length = frame.length_px;
    let apex = (0..n).fold(0, |a, b| if place[b][0] > place[a][0] { b } else { a });
    let line = |range: std::ops::Range<usize>| {
        let points: Vec<[f64; 2]> = range.map(|i| place[i]).filter(|p| p[0] < -0.05 * length && p[0] > -1.5 * length).collect();
        least_deviations(&points)
    };
    let leaves = |edge: Option<(f64, f64)>, order: &mut dyn Iterator<Item = usize>, side: f64| {
        let (a, b) = edge?;
        let mut last = None;
        for i in order {
            let off = side * (place[i][1] - a - b * place[i][0]);
            if off.abs() < 1.5 && place[i][0] < 0.3 * length {
                last = Some(i);
            }
        }
        last
    };
    let left_end = leaves(line(0..apex), &mut (0..apex), 1.0).unwrap_or(0);
    let right_end = leaves(line(apex..n), &mut (apex..n).rev(), -1.0).unwrap_or(n - 1);
    let part = edge_points(contour, fits, left_end + 3..right_end.saturating_sub(3));
    let mut rod_left = edge_points(contour, fits, 0..left_end.saturating_sub(3));
    rod_left.reverse();
    let rod_right = edge_points(contour, fits, (right_end + 4).min(n)..n);
    Outline { part, rod_left, rod_right, rod_joint: Vec::new(), part_bias_sigma_px: 0.2, rod_bias_sigma_px: 0.2, axis: frame.clicks() }
}
