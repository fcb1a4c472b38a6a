//! Pixels to rays: focal length and radial distortion.

use nalgebra::Vector3;

/// Principal point, focal length and distortion of one view.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Lens {
    pub(crate) centre_px: [f64; 2],
    pub(crate) focal_px: f64,
    pub(crate) k1: f64,
}

/// A ray (x, y, 1) with its derivatives by ln f and k1.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Ray {
    pub(crate) d: Vector3<f64>,
    pub(crate) by_ln_focal: Vector3<f64>,
    pub(crate) by_k1: Vector3<f64>,
}

impl Lens {
    /// The ray of a pixel; x_d = x_u (1 + k1 r_u^2) undone by Newton's method on the radius.
    pub(crate) fn ray(&self, q: [f64; 2]) -> Ray {
        let (xd, yd) = ((q[0] - self.centre_px[0]) / self.focal_px, (q[1] - self.centre_px[1]) / self.focal_px);
        let rd = xd.hypot(yd);
        let mut ru = rd;
        for _ in 0..6 {
            let slope = (1.0 + 3.0 * self.k1 * ru * ru).max(0.1);
            ru -= (ru * (1.0 + self.k1 * ru * ru) - rd) / slope;
        }
        let scale = if rd > 1e-12 { ru / rd } else { 1.0 };
        let slope = (1.0 + 3.0 * self.k1 * ru * ru).max(0.1);
        let (x, y) = (xd * scale, yd * scale);
        let flat = Vector3::new(x, y, 0.0);
        Ray { d: Vector3::new(x, y, 1.0), by_ln_focal: -flat / (scale * slope), by_k1: -flat * (ru * ru / slope) }
    }

    /// Where a place in camera coordinates is seen, px; `None` behind the camera.
    pub(crate) fn project(&self, p: &Vector3<f64>) -> Option<[f64; 2]> {
        if p.z <= 1e-9 {
            return None;
        }
        let (x, y) = (p.x / p.z, p.y / p.z);
        let s = 1.0 + self.k1 * (x * x + y * y);
        Some([self.focal_px * x * s + self.centre_px[0], self.focal_px * y * s + self.centre_px[1]])
    }
}
