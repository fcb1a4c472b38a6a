//! Axis pose from the two edges of a rod, in closed form, and the other tilt that explains nearly the same edges.

use crate::lens::Lens;
use crate::sight::Axis;
use nalgebra::{Matrix3, Vector3};
use outline::EdgePoint;
use solve::mad_sigma;

/// The axis of a cylinder of radius `r_mm` whose edges are these, origin at the axis' nearest place to the camera; `None` when the planes
/// through the edges bound no cylinder in front of the camera. `toward_px`: two places on the axis, rod first.
pub(crate) fn from_rod(left: &[EdgePoint], right: &[EdgePoint], lens: &Lens, r_mm: f64, toward_px: [[f64; 2]; 2]) -> Option<Axis> {
    let (n1, n2) = (plane(left, lens)?, plane(right, lens)?);
    let between = lens.ray(toward_px[0]).d;
    let (n1, n2) = (n1 * n1.dot(&between).signum(), n2 * n2.dot(&between).signum());
    let mut along = n1.cross(&n2);
    if along.norm() < 1e-9 {
        return None;
    }
    along.normalize_mut();
    let e = (n1 + n2).normalize();
    let sine = n1.dot(&e);
    if !(sine > 1e-6 && sine < 0.9) || e.z <= 0.0 {
        return None;
    }
    let origin = e * (r_mm / sine);
    let axis = Axis { origin, along };
    let (a, b) = (lens.project(&origin)?, lens.project(&(origin + along * (0.1 * origin.norm())))?);
    let ahead = (b[0] - a[0]) * (toward_px[1][0] - toward_px[0][0]) + (b[1] - a[1]) * (toward_px[1][1] - toward_px[0][1]);
    Some(if ahead < 0.0 { Axis { along: -along, ..axis } } else { axis })
}

/// Height along the axis of the place nearest to a pixel's ray.
pub(crate) fn height_of(axis: &Axis, lens: &Lens, q: [f64; 2]) -> f64 {
    crate::sight::Stand::new(*axis).sight(&lens.ray(q).d).z_v
}

/// Least-squares plane through the camera (weights by 1/sigma^2, twice reweighted against wild points).
fn plane(edge: &[EdgePoint], lens: &Lens) -> Option<Vector3<f64>> {
    if edge.len() < 2 {
        return None;
    }
    let rays: Vec<Vector3<f64>> = edge.iter().map(|p| lens.ray(p.at_px).d).collect();
    let mut weights: Vec<f64> = edge.iter().map(|p| 1.0 / (p.sigma_px * p.sigma_px + 0.01)).collect();
    let mut normal = Vector3::zeros();
    for _ in 0..4 {
        let mut moments = Matrix3::zeros();
        for (d, w) in rays.iter().zip(&weights) {
            moments += d * d.transpose() * *w;
        }
        let eigen = moments.symmetric_eigen();
        let least = (0..3).min_by(|&i, &j| eigen.eigenvalues[i].total_cmp(&eigen.eigenvalues[j]))?;
        normal = eigen.eigenvectors.column(least).into_owned();
        let off: Vec<f64> = rays.iter().map(|d| normal.dot(d) * lens.focal_px).collect();
        let sigma = mad_sigma(&off).max(0.1);
        for ((weight, off), point) in weights.iter_mut().zip(&off).zip(edge) {
            *weight = 1.0 / (point.sigma_px * point.sigma_px + 0.01) / (1.0 + (off / (2.385 * sigma)).powi(2));
        }
    }
    normal.iter().all(|x| x.is_finite()).then_some(normal)
}
