//! A line through the picture with evenly spaced points and their outward normals.

use crate::coarse::Coarse;
use crate::frame::{AxisFrame, minus, norm};

/// Points in order round the body, the normal of each pointing out of it.
#[derive(Clone, Debug, Default)]
pub(crate) struct Contour {
    pub points: Vec<[f64; 2]>,
    pub normals: Vec<[f64; 2]>,
    /// Distance between neighbours, px.
    pub spacing_px: f64,
}

impl Contour {
    /// Evenly spaced points along `line` after smoothing it by a Gaussian of `smooth_px` along its length. Ends stay where they are.
    pub fn along(line: &[[f64; 2]], spacing_px: f64, smooth_px: f64) -> Self {
        let even = resampled(line, spacing_px);
        let points = smoothed(&even, smooth_px / spacing_px);
        let normals = normals(&points);
        Contour { points, normals, spacing_px }
    }

    /// The points moved by `offsets_px` along their normals.
    pub fn moved(&self, offsets_px: &[f64]) -> Vec<[f64; 2]> {
        (0..self.points.len())
            .map(|i| {
                let o = offsets_px.get(i).copied().unwrap_or(0.0);
                [self.points[i][0] + o * self.normals[i][0], self.points[i][1] + o * self.normals[i][1]]
            })
            .collect()
    }
}

/// The rough outline as a line in the picture: from a little before it leaves the rod's left edge, round the part, to a little past where it
/// joins the rod's right edge.
pub(crate) fn line_of(coarse: &Coarse) -> Vec<[f64; 2]> {
    let n = coarse.left_px.len();
    let covered = |i: usize| coarse.left_px[i] > 0.0 || coarse.right_px[i] > 0.0;
    // The body is one run of covered columns; take the one that holds the middle of the part.
    let middle = (((0.5 * coarse.frame.length_px - coarse.first_px) / coarse.step_px).round().max(0.0) as usize).min(n.saturating_sub(1));
    let mut end = middle;
    while end + 1 < n && covered(end + 1) {
        end += 1;
    }
    let edge = |column: usize| coarse.first_px + (column as f64 - 0.5) * coarse.step_px;
    let mut line: Vec<[f64; 2]> = Vec::new();
    // Some columns of rod, so that the place where the outline leaves it can be found closely.
    let start = coarse.leaves.map(|i| i.saturating_sub(5).min(middle));
    for i in start[0]..=end {
        line.push([edge(i), coarse.left_px[i]]);
        line.push([edge(i + 1), coarse.left_px[i]]);
    }
    for i in (start[1]..=end).rev() {
        line.push([edge(i + 1), -coarse.right_px[i]]);
        line.push([edge(i), -coarse.right_px[i]]);
    }
    let frame: AxisFrame = coarse.frame;
    line.into_iter().map(|[t, w]| frame.to_px(t, w)).collect()
}

fn resampled(line: &[[f64; 2]], spacing: f64) -> Vec<[f64; 2]> {
    let Some(&first) = line.first() else { return Vec::new() };
    let mut out = vec![first];
    let mut left_over = spacing;
    for pair in line.windows(2) {
        let d = minus(pair[1], pair[0]);
        let length = norm(d);
        let mut gone = 0.0;
        while length - gone >= left_over {
            gone += left_over;
            left_over = spacing;
            out.push([pair[0][0] + d[0] * gone / length, pair[0][1] + d[1] * gone / length]);
        }
        left_over -= length - gone;
    }
    out
}

/// Gaussian smoothing along the list; near the ends the kernel shrinks so that they are not pulled in.
pub(crate) fn smoothed(points: &[[f64; 2]], sigma: f64) -> Vec<[f64; 2]> {
    if sigma <= 0.05 {
        return points.to_vec();
    }
    let reach = (3.0 * sigma).ceil() as usize;
    let kernel: Vec<f64> = (0..=reach).map(|k| (-0.5 * (k as f64 / sigma).powi(2)).exp()).collect();
    (0..points.len())
        .map(|i| {
            let reach = reach.min(i).min(points.len() - 1 - i);
            let (mut sum, mut weight) = ([kernel[0] * points[i][0], kernel[0] * points[i][1]], kernel[0]);
            for (k, g) in kernel.iter().enumerate().take(reach + 1).skip(1) {
                for p in [points[i - k], points[i + k]] {
                    sum[0] += g * p[0];
                    sum[1] += g * p[1];
                    weight += g;
                }
            }
            [sum[0] / weight, sum[1] / weight]
        })
        .collect()
}

/// Outward normals of a line that goes round the body from its left side over the free end: to the left of the way on.
fn normals(points: &[[f64; 2]]) -> Vec<[f64; 2]> {
    let n = points.len();
    (0..n)
        .map(|i| {
            let d = minus(points[(i + 2).min(n - 1)], points[i.saturating_sub(2)]);
            let length = norm(d).max(1e-12);
            [d[1] / length, -d[0] / length]
        })
        .collect()
}
