//! Where the axis runs, told by the part: its two sides are each other's mirror image, in perspective too.
//!
//! The outline of a body of revolution is carried onto itself by the harmonic homology whose axis is the picture of the body's axis and whose centre
//! is where lines square to the axis and to the line of sight vanish (Zisserman, Mundy, Forsyth and Liu 1995; Wong, Mendonça and Cipolla 2003). With
//! square pixels and the principal point at the picture's middle it has three unknowns: the line, and the focal length, which hardly matters.

use crate::contour::Contour;
use crate::edge::EdgeFit;
use crate::frame::{AxisFrame, minus, norm};
use nalgebra::{Matrix3, Vector3};

/// Points of the left side that are compared, at most, and how far they lie apart at least, px: nearer ones share their errors.
const MOST: usize = 200;
const APART_PX: f64 = 8.0;
/// Fewest points that agree, and their least share of all.
const LEAST: usize = 15;
const LEAST_SHARE: f64 = 0.7;
/// They agree if the sides miss each other by less than this, px.
const AGREE_PX: f64 = 1.0;
/// Farther from the other side than this a mirrored point has no partner, px.
const PARTNER_PX: f64 = 15.0;
/// Widths of the Cauchy loss, px, round by round: wide while the clicks' axis is still to be left.
const ROUNDS_PX: [f64; 12] = [6.0, 6.0, 4.0, 3.0, 2.0, 1.5, 1.0, 0.7, 0.5, 0.5, 0.5, 0.5];
/// Focal length expected, in longer sides of the picture, and the doubt of its logarithm: telephones to short telephotos.
const FOCAL_SIDES: f64 = 1.2;
const LN_FOCAL_SIGMA: f64 = 0.4;
/// Doubt of the middle that stays however many points agree, px: one side lies in the shade, and its edge is read a little differently.
const FLOOR_PX: f64 = 0.25;

/// The mirror line `w = at_joint + slope t` of a part's outline, in the frame it was found in.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Mirror {
    size_px: [f64; 2],
    frame: AxisFrame,
    /// `at_joint_px`, `slope`, natural logarithm of the focal length in px.
    x: Vector3<f64>,
    covariance: Matrix3<f64>,
    /// By how much the sides miss each other, in the middle of all points, px: what they share in error is of this size.
    miss_px: f64,
}

/// What the two edges of a rod are expected to be even about, at one place along it.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Middle {
    /// Where the middle lies for a rod of no width, px, and its doubt.
    pub w_px: f64,
    pub sigma_px: f64,
    /// What the middle moves by with the square of the half-width, 1/px: perspective.
    pub lean: f64,
    pub slope: f64,
    pub slope_sigma: f64,
}

impl Middle {
    /// How far the middle between two edges, each so far off the axis, lies off this one, px.
    pub fn off_px(self, left_px: f64, right_px: f64) -> f64 {
        let half_px = 0.5 * (left_px - right_px);
        0.5 * (left_px + right_px) - self.w_px - self.lean * half_px * half_px
    }
}

impl Mirror {
    /// `None` where the two sides don't agree: too little of one is seen, or it is not the part's.
    pub fn of(size_px: [f64; 2], frame: AxisFrame, contour: &Contour, fits: &[Option<EdgeFit>]) -> Option<Mirror> {
        let placed: Vec<([f64; 2], [f64; 2])> = (0..contour.points.len())
            .filter_map(|i| {
                let (p, n, o) = (contour.points[i], contour.normals[i], fits[i]?.offset_px);
                Some(([p[0] + o * n[0], p[1] + o * n[1]], n))
            })
            // Beside the rod the contour may still be the rod's, whose edges are what is to be judged.
            .filter(|(p, _)| frame.place(*p)[0] > 0.05 * frame.length_px)
            .collect();
        let apex = (0..placed.len()).max_by(|&a, &b| frame.place(placed[a].0)[0].total_cmp(&frame.place(placed[b].0)[0]))?;
        let (left, right) = placed.split_at(apex);
        let every = ((APART_PX / contour.spacing_px).ceil() as usize).max(left.len() / MOST).max(1);
        let left: Vec<[f64; 2]> = left.iter().step_by(every).map(|p| p.0).collect();
        if left.len() < LEAST || right.len() < LEAST {
            return None;
        }
        let expected = (FOCAL_SIDES * size_px[0].max(size_px[1])).ln();
        let mut mirror = Mirror { size_px, frame, x: Vector3::new(0.0, 0.0, expected), covariance: Matrix3::identity(), miss_px: 0.0 };
        for width_px in ROUNDS_PX {
            let rows = mirror.rows(&left, right);
            let near: Vec<f64> = rows.iter().map(|r| r.0.abs()).filter(|r| *r < 3.0 * width_px).collect();
            let scale = (1.4826 * solve::median(&near)?).max(0.15);
            let mut normal = Matrix3::zeros();
            normal[(2, 2)] = (1.0 / LN_FOCAL_SIGMA).powi(2);
            let mut gradient = Vector3::new(0.0, 0.0, (mirror.x[2] - expected) * normal[(2, 2)]);
            for (residual, row) in &rows {
                let weight = 1.0 / (1.0 + (residual / width_px).powi(2)) / (scale * scale);
                normal += row * row.transpose() * weight;
                gradient += row * (*residual * weight);
            }
            let inverse = normal.try_inverse()?;
            mirror.x -= inverse * gradient;
            mirror.covariance = inverse;
            mirror.x.iter().all(|v| v.is_finite()).then_some(())?;
        }
        let misses: Vec<f64> = mirror.rows(&left, right).iter().map(|r| r.0.abs()).collect();
        mirror.miss_px = solve::median(&misses)?;
        let agree = misses.iter().filter(|m| **m < AGREE_PX).count();
        (agree >= LEAST && agree as f64 >= LEAST_SHARE * left.len() as f64).then_some(mirror)
    }

    /// How far each mirrored point of the left lies off the right side, px, with the derivatives by the unknowns.
    fn rows(&self, left: &[[f64; 2]], right: &[([f64; 2], [f64; 2])]) -> Vec<(f64, Vector3<f64>)> {
        left.iter()
            .filter_map(|&p| {
                let q = self.mirrored(p);
                let (partner, normal) = right.iter().min_by(|a, b| norm(minus(a.0, q)).total_cmp(&norm(minus(b.0, q))))?;
                let gap = |q: [f64; 2]| (q[0] - partner[0]) * normal[0] + (q[1] - partner[1]) * normal[1];
                let row = Vector3::from_fn(|k, _| {
                    let step = [1e-2, 1e-5, 1e-3][k];
                    let moved = |by: f64| {
                        let mut other = *self;
                        other.x[k] += by;
                        gap(other.mirrored(p))
                    };
                    (moved(step) - moved(-step)) / (2.0 * step)
                });
                (norm(minus(*partner, q)) < PARTNER_PX).then_some((gap(q), row))
            })
            .collect()
    }

    /// The mirror image of a place in the picture, px.
    pub fn mirrored(&self, p: [f64; 2]) -> [f64; 2] {
        let (normal, distance) = self.line();
        let focal_2 = (2.0 * self.x[2]).exp();
        let [cx, cy] = [0.5 * self.size_px[0], 0.5 * self.size_px[1]];
        let off = (p[0] - cx) * normal[0] + (p[1] - cy) * normal[1] - distance;
        let whole = focal_2 + distance * distance;
        let shrink = 1.0 + 2.0 * distance * off / whole;
        [(p[0] - cx, normal[0], cx), (p[1] - cy, normal[1], cy)].map(|(v, n, c)| (v - 2.0 * focal_2 * off / whole * n) / shrink + c)
    }

    /// Unit normal of the mirror line and its distance from the picture's middle along it, px.
    fn line(&self) -> ([f64; 2], f64) {
        let (frame, slope) = (self.frame, self.x[1]);
        let scale = 1.0 / (1.0 + slope * slope).sqrt();
        let normal = [0, 1].map(|i| scale * (frame.left[i] - slope * frame.along[i]));
        let on = frame.to_px(0.0, self.x[0]);
        (normal, (on[0] - 0.5 * self.size_px[0]) * normal[0] + (on[1] - 0.5 * self.size_px[1]) * normal[1])
    }

    /// What a rod's edges are even about at `t`, in the mirror's frame.
    pub fn middle(&self, t: f64) -> Middle {
        let (_, distance) = self.line();
        let by = Vector3::new(1.0, t, 0.0);
        let variance = (by.transpose() * self.covariance * by)[0];
        Middle {
            w_px: self.x[0] + self.x[1] * t,
            sigma_px: variance.sqrt().hypot(FLOOR_PX).hypot(self.miss_px),
            lean: distance / ((2.0 * self.x[2]).exp() + distance * distance),
            slope: self.x[1],
            slope_sigma: self.covariance[(1, 1)].sqrt().hypot(0.005),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Clicks;
    use nalgebra::Vector3;

    /// The silhouette of balls on one axis before a pinhole camera, in closed form: each is the cone of rays that touch it.
    fn silhouette(focal_px: f64, centre_px: [f64; 2], axis: (Vector3<f64>, Vector3<f64>), balls: &[(f64, f64)]) -> Vec<Vec<[f64; 2]>> {
        let seen = |&(z, radius): &(f64, f64)| {
            let ball = axis.0 + axis.1 * z;
            let distance = ball.norm();
            let (toward, sine) = (ball / distance, radius / distance);
            let e1 = toward.cross(&axis.1).normalize();
            let e2 = toward.cross(&e1);
            let ray = |k: usize| {
                let turn = std::f64::consts::TAU * k as f64 / 720.0;
                toward * (1.0 - sine * sine).sqrt() + (e1 * turn.cos() + e2 * turn.sin()) * sine
            };
            (0..720).map(ray).map(|d| [0, 1].map(|i| focal_px * d[i] / d[2] + centre_px[i])).collect()
        };
        balls.iter().map(seen).collect()
    }

    /// Source of what is expected: the silhouette of a ball is its own mirror image under the homology of any axis through its centre, so
    /// those of two balls fix the line, and a third ball on the same axis, which the fit never saw, must be carried onto itself.
    #[test]
    fn what_two_balls_tell_carries_a_third_onto_itself() {
        let (focal_px, size_px) = (1500.0, [1600.0, 1200.0]);
        // Tilted by 20 degrees, off the picture's middle, two and a half lengths away.
        let tilt = 20f64.to_radians();
        let axis = (Vector3::new(-8.0, 12.0, 120.0), Vector3::new(0.9 * tilt.cos(), -0.435_889_894 * tilt.cos(), -tilt.sin()));
        let mut rings = silhouette(focal_px, [800.0, 600.0], axis, &[(10.0, 10.0), (30.0, 14.0), (-15.0, 3.0)]);
        let unseen = rings.pop().expect("three balls");
        let at = |z: f64| {
            let p = axis.0 + axis.1 * z;
            [focal_px * p[0] / p[2] + 800.0, focal_px * p[1] / p[2] + 600.0]
        };
        // Clicks off by 5 px.
        let ([ex, ey], [fx, fy]) = (at(0.0), at(42.0));
        let frame = AxisFrame::new(Clicks { rod_entry: [ex + 3.0, ey + 4.0], free_end: [fx - 4.0, fy - 3.0] });
        // Round both balls, from the rod on the left over the free end; where one lies within the other it is not seen.
        let inside = |p: [f64; 2], ring: &[[f64; 2]]| {
            let mut crossings = 0;
            for k in 0..ring.len() {
                let (a, b) = (ring[k], ring[(k + 1) % ring.len()]);
                if (a[1] > p[1]) != (b[1] > p[1]) && p[0] < a[0] + (b[0] - a[0]) * (p[1] - a[1]) / (b[1] - a[1]) {
                    crossings += 1;
                }
            }
            crossings % 2 == 1
        };
        let mut around: Vec<[f64; 2]> =
            (0..2).flat_map(|k| rings[k].iter().filter(|&&p| !inside(p, &rings[1 - k])).copied().collect::<Vec<_>>()).collect();
        let middle = frame.to_px(0.5 * frame.length_px, 0.0);
        let turn = |p: &[f64; 2]| {
            let ([t, w], [tm, wm]) = (frame.place(*p), frame.place(middle));
            (w - wm).atan2(tm - t)
        };
        around.sort_by(|a, b| {
            let key = |p: &[f64; 2]| {
                let t = turn(p);
                if t > 0.0 { t } else { t + std::f64::consts::TAU }
            };
            key(a).total_cmp(&key(b))
        });
        let contour = Contour::along(&around, 1.0, 0.5);
        let fits = vec![Some(EdgeFit { offset_px: 0.0, sigma_px: 0.1, gain: 10.0 }); contour.points.len()];
        let mirror = Mirror::of(size_px, frame, &contour, &fits).expect("the sides agree");
        let miss = |p: &[f64; 2]| unseen.iter().map(|q| norm(minus(mirror.mirrored(*p), *q))).fold(f64::INFINITY, f64::min);
        let worst = unseen.iter().map(miss).fold(0.0, f64::max);
        // The ring's own points lie 0.4 px apart.
        assert!(worst < 0.5, "the unseen ball's image misses itself by {worst:.2} px");
        let expected = mirror.middle(frame.place(at(-15.0))[0]);
        assert!(expected.sigma_px < 0.4, "claimed {}", expected.sigma_px);
    }

    #[test]
    fn sides_that_do_not_mirror_each_other_tell_no_axis() {
        let frame = AxisFrame::new(Clicks { rod_entry: [200.0, 400.0], free_end: [600.0, 400.0] });
        // A straight left side and a saw for a right one.
        let left = (0..=100).map(|k| [200.0 + 4.0 * f64::from(k), 300.0]);
        let right = (0..=100).rev().map(|k| [200.0 + 4.0 * f64::from(k), 500.0 + 40.0 * f64::from(k % 10) / 10.0]);
        let line: Vec<[f64; 2]> = left.chain(right).collect();
        let contour = Contour::along(&line, 1.0, 0.5);
        let fits = vec![Some(EdgeFit { offset_px: 0.0, sigma_px: 0.1, gain: 10.0 }); contour.points.len()];
        assert!(Mirror::of([800.0, 800.0], frame, &contour, &fits).is_none());
    }
}
