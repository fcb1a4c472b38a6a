//! What a sharp edge of a rounded plastic body looks like across it, after the camera's blur.
//!
//! Within a few pixels of its outline a body is seen at a grazing angle: d px inside an edge whose surface curves with radius R px along the
//! line of sight, the cosine of the viewing angle is sqrt(2 d / R). There the surface lets less light out of the body (Fresnel) and
//! reflects the surroundings instead. Half-level edge finders land inside the body for that reason.

/// Refractive index of common plastics, 1.46 (acrylic 1.49, ABS 1.54, polyester 1.56): handbook values, middle taken.
const INDEX: f64 = 1.5;

/// Shares of the three lights in the profile across an edge, tabulated over the distance from the edge (outside positive).
pub(crate) struct LimbTable {
    radii_px: Vec<f64>,
    /// One table a radius: (outside, body, reflected).
    tables: Vec<Vec<[f32; 3]>>,
}

const HALF_RANGE_PX: f64 = 16.0;
const STEP_PX: f64 = 0.1;

impl LimbTable {
    /// `roughness`: root mean square slope of the surface along one direction, times the square root of two (Beckmann's alpha).
    pub fn new(blur_px: f64, roughness: f64) -> Self {
        let radii_px: Vec<f64> = (0..12).map(|k| 2.0 * 2.0f64.powf(k as f64 * 0.9)).collect();
        let by_cosine: Vec<f64> = (0..=200).map(|k| rough_fresnel(f64::from(k) / 200.0, roughness)).collect();
        let tables = radii_px.iter().map(|&r| table(r, blur_px, &by_cosine)).collect();
        LimbTable { radii_px, tables }
    }

    /// Shares `[outside, body, reflected]` at `x` px outside the edge, for a curvature radius.
    pub fn shares(&self, radius_px: f64, x: f64) -> [f32; 3] {
        let k = ((radius_px.max(2.0) / 2.0).log2() / 0.9).clamp(0.0, (self.radii_px.len() - 1) as f64 - 1e-6);
        let (k, f) = (k as usize, (k - (k as usize) as f64) as f32);
        let x = ((x + HALF_RANGE_PX) / STEP_PX).clamp(0.0, (2.0 * HALF_RANGE_PX / STEP_PX) - 1e-6);
        let (i, g) = (x as usize, (x - (x as usize) as f64) as f32);
        let at = |k: usize, c: usize| self.tables[k][i][c] * (1.0 - g) + self.tables[k][i + 1][c] * g;
        std::array::from_fn(|c| at(k, c) * (1.0 - f) + at(k + 1, c) * f)
    }
}

fn table(radius_px: f64, blur_px: f64, by_cosine: &[f64]) -> Vec<[f32; 3]> {
    let count = (2.0 * HALF_RANGE_PX / STEP_PX).round() as usize + 2;
    let reach = (4.0 * blur_px / STEP_PX).ceil() as isize;
    let kernel: Vec<f64> = (-reach..=reach).map(|k| (-0.5 * (k as f64 * STEP_PX / blur_px).powi(2)).exp()).collect();
    let total: f64 = kernel.iter().sum();
    let sharp = |x: f64| {
        if x > 0.0 {
            [1.0, 0.0, 0.0]
        } else {
            let reflected = by_cosine[((2.0 * -x / radius_px).min(1.0).sqrt() * 200.0).round() as usize];
            [0.0, 1.0 - reflected, reflected]
        }
    };
    (0..count)
        .map(|i| {
            let x = i as f64 * STEP_PX - HALF_RANGE_PX;
            let mut sum = [0.0; 3];
            for (k, weight) in kernel.iter().enumerate() {
                let s = sharp(x + (k as isize - reach) as f64 * STEP_PX);
                (0..3).for_each(|c| sum[c] += weight * s[c]);
            }
            sum.map(|v| (v / total) as f32)
        })
        .collect()
}

/// Fresnel reflectance of a rough surface: the mean over its facets that face the viewer, each weighted by how large it looks.
/// Facet slopes along the line of sight are normal with variance alpha^2 / 2 (Beckmann and Spizzichino 1963); small angles.
fn rough_fresnel(cosine: f64, alpha: f64) -> f64 {
    if alpha < 1e-3 {
        return fresnel(cosine);
    }
    let (mut sum, mut weight) = (0.0, 0.0);
    for k in -30..=30 {
        let slope = f64::from(k) * 0.1 * alpha / std::f64::consts::SQRT_2;
        let facing = (cosine + slope * (1.0 - cosine * cosine).sqrt()) / (1.0 + slope * slope).sqrt();
        if facing > 0.0 {
            let w = facing * (-0.5 * (f64::from(k) * 0.1).powi(2)).exp();
            sum += w * fresnel(facing.min(1.0));
            weight += w;
        }
    }
    sum / weight.max(1e-12)
}

/// Unpolarised Fresnel reflectance of a dielectric, from outside, at the cosine of the angle of incidence.
fn fresnel(cosine: f64) -> f64 {
    let inner = (1.0 - (1.0 - cosine * cosine) / (INDEX * INDEX)).max(0.0).sqrt();
    let s = (cosine - INDEX * inner) / (cosine + INDEX * inner);
    let p = (INDEX * cosine - inner) / (INDEX * cosine + inner);
    0.5 * (s * s + p * p)
}
