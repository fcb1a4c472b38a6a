//! The chain cut into lines and arcs by evidence: dynamic programming over break places, each piece paying half log n a parameter.

use crate::chain::Node;

/// A piece between two nodes of the chain (both included).
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Segment {
    pub(crate) first: usize,
    pub(crate) last: usize,
    pub(crate) shape: Shape,
}

/// What a stretch of the chain is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Shape {
    /// Through `at`, along the unit vector `along` (toward the free end along the chain).
    Line { at: [f64; 2], along: [f64; 2] },
    /// Convex arcs turn clockwise.
    Arc { centre: [f64; 2], radius_mm: f64, convex: bool },
}

/// Nodes are no surer than this share of the spacing (a spacing is about 3 px: 0.1 px): the edge finder's own waviness.
pub(crate) const LEAST_SIGMA: f64 = 0.035;

/// Cuts the chain; every node belongs to at least one segment, and neighbours share their end node.
pub(crate) fn segments(nodes: &[Node], spacing_mm: f64) -> Vec<Segment> {
    let n = nodes.len();
    if n < 2 {
        return Vec::new();
    }
    let sums = Sums::new(nodes, spacing_mm);
    let pay = (n as f64).ln();
    // best[j]: least cost of cutting nodes 0..=j; from[j]: where the last segment starts.
    let mut best = vec![f64::INFINITY; n];
    let mut from = vec![(0usize, Shape::Line { at: [0.0; 2], along: [1.0, 0.0] }); n];
    best[0] = 0.0;
    for j in 1..n {
        for i in 0..j {
            if best[i] >= best[j] {
                continue;
            }
            let (line, shape) = sums.line(nodes, i, j);
            let cost = best[i] + line + 3.0 * pay;
            if cost < best[j] {
                (best[j], from[j]) = (cost, (i, shape));
            }
            if j - i >= 4
                && best[i] + 4.0 * pay < best[j]
                && let Some((arc, shape)) = sums.arc(nodes, i, j)
            {
                let cost = best[i] + arc + 4.0 * pay;
                if cost < best[j] {
                    (best[j], from[j]) = (cost, (i, shape));
                }
            }
        }
    }
    let mut cut = Vec::new();
    let mut j = n - 1;
    while j > 0 {
        let (i, shape) = from[j];
        cut.push(Segment { first: i, last: j, shape });
        j = i;
    }
    cut.reverse();
    cut
}

/// Weighted moments up to the fourth degree, summed up to each node, about a common middle.
struct Sums {
    middle: [f64; 2],
    sums: Vec<[f64; 10]>,
}

impl Sums {
    fn new(nodes: &[Node], spacing_mm: f64) -> Sums {
        let count = nodes.len() as f64;
        let middle = nodes.iter().fold([0.0, 0.0], |m, p| [m[0] + p.at[0] / count, m[1] + p.at[1] / count]);
        let mut sums = vec![[0.0; 10]];
        for node in nodes {
            let (x, y) = (node.at[0] - middle[0], node.at[1] - middle[1]);
            let sigma = node.sigma_mm.max(LEAST_SIGMA * spacing_mm);
            let (w, q) = (1.0 / (sigma * sigma), x * x + y * y);
            let last = sums[sums.len() - 1];
            let own = [w, w * x, w * y, w * x * x, w * x * y, w * y * y, w * q * x, w * q * y, w * q, w * q * q];
            sums.push(std::array::from_fn(|k| last[k] + own[k]));
        }
        Sums { middle, sums }
    }

    fn of(&self, i: usize, j: usize) -> [f64; 10] {
        std::array::from_fn(|k| self.sums[j + 1][k] - self.sums[i][k])
    }

    /// Total least squares line and its cost.
    fn line(&self, nodes: &[Node], i: usize, j: usize) -> (f64, Shape) {
        let s = self.of(i, j);
        let (mx, my) = (s[1] / s[0], s[2] / s[0]);
        let (xx, xy, yy) = (s[3] - s[0] * mx * mx, s[4] - s[0] * mx * my, s[5] - s[0] * my * my);
        let half = 0.5 * (xx - yy);
        let root = (half * half + xy * xy).sqrt();
        let least = (0.5 * (xx + yy) - root).max(0.0);
        let angle = 0.5 * (2.0 * xy).atan2(xx - yy);
        let mut along = [angle.cos(), angle.sin()];
        let chord = [nodes[j].at[0] - nodes[i].at[0], nodes[j].at[1] - nodes[i].at[1]];
        if along[0] * chord[0] + along[1] * chord[1] < 0.0 {
            along = [-along[0], -along[1]];
        }
        (least, Shape::Line { at: [mx + self.middle[0], my + self.middle[1]], along })
    }

    /// Algebraic circle fit (Kasa) and its cost; `None` for straight or nearly full circles.
    fn arc(&self, nodes: &[Node], i: usize, j: usize) -> Option<(f64, Shape)> {
        let s = self.of(i, j);
        let (w, mx, my, mq) = (s[0], s[1] / s[0], s[2] / s[0], s[8] / s[0]);
        let (xx, xy, yy) = (s[3] - w * mx * mx, s[4] - w * mx * my, s[5] - w * my * my);
        let (xq, yq) = (s[6] - w * mx * mq, s[7] - w * my * mq);
        let determinant = xx * yy - xy * xy;
        if determinant <= 1e-9 * xx * yy || determinant <= 0.0 {
            return None;
        }
        let (a, b) = ((xq * yy - yq * xy) / determinant, (yq * xx - xq * xy) / determinant);
        let (cx, cy) = (0.5 * a, 0.5 * b);
        let radius2 = mq - a * mx - b * my + cx * cx + cy * cy;
        if !(radius2 > 0.0 && radius2.is_finite()) {
            return None;
        }
        let qq = s[9] - w * mq * mq;
        // Algebraic residual is about 2 R times the distance.
        let cost = ((qq - a * xq - b * yq) / (4.0 * radius2)).max(0.0);
        let centre = [cx + self.middle[0], cy + self.middle[1]];
        let middle = nodes[(i + j) / 2].at;
        let (from, to) = (nodes[i].at, nodes[j].at);
        let convex = (to[0] - from[0]) * (middle[1] - from[1]) - (to[1] - from[1]) * (middle[0] - from[0]) > 0.0;
        Some((cost, Shape::Arc { centre, radius_mm: radius2.sqrt(), convex }))
    }
}
