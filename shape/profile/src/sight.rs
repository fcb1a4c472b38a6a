//! A ray seen from the axis: a hyperbola in the half plane (height along the axis, distance from it), and how near a meridian comes to it.

use nalgebra::Vector3;

/// Where the axis lies in the camera frame.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Axis {
    /// The place with height 0.
    pub(crate) origin: Vector3<f64>,
    /// Unit, toward the free end.
    pub(crate) along: Vector3<f64>,
}

/// The camera seen from the axis.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Stand {
    pub(crate) axis: Axis,
    /// Height of the camera along the axis.
    pub(crate) z_c: f64,
    /// Distance of the camera from the axis.
    pub(crate) rho: f64,
    /// Unit, from the axis to the camera.
    pub(crate) u: Vector3<f64>,
    /// Unit, along x u.
    pub(crate) v: Vector3<f64>,
}

impl Stand {
    pub(crate) fn new(axis: Axis) -> Stand {
        let z_c = -axis.origin.dot(&axis.along);
        let foot = axis.origin + axis.along * z_c;
        let rho = foot.norm().max(1e-9);
        let u = -foot / rho;
        Stand { axis, z_c, rho, u, v: axis.along.cross(&u) }
    }

    pub(crate) fn sight(&self, d: &Vector3<f64>) -> Sight {
        let unit = d / d.norm();
        let (along, toward, aside) = (unit.dot(&self.axis.along), unit.dot(&self.u), unit.dot(&self.v));
        let g = (toward * toward + aside * aside).max(1e-12);
        let s_v = -self.rho * toward / g;
        Sight {
            unit,
            along,
            g,
            sqrt_g: g.sqrt(),
            least: (self.rho * aside.abs() / g.sqrt()).max(1e-7 * self.rho),
            s_v,
            z_v: self.z_c + s_v * along,
        }
    }

    /// Unit vector from the axis to a place of a ray.
    pub(crate) fn radial(&self, place: &Vector3<f64>) -> Vector3<f64> {
        let away = place - self.axis.origin;
        let across = away - self.axis.along * away.dot(&self.axis.along);
        across / across.norm().max(1e-12)
    }
}

/// One ray: z = z_v + w along, d^2 = least^2 + g w^2, where w runs along the ray from the place nearest the axis.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Sight {
    pub(crate) unit: Vector3<f64>,
    pub(crate) along: f64,
    pub(crate) g: f64,
    sqrt_g: f64,
    pub(crate) least: f64,
    pub(crate) s_v: f64,
    pub(crate) z_v: f64,
}

/// A touch between a ray and a chain: signed distance (positive: the ray passes outside), place on the ray, outward normal in the half plane.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Touch {
    pub(crate) gap: f64,
    pub(crate) w: f64,
    pub(crate) normal: [f64; 2],
    /// Share of the segment at which the chain is touched.
    pub(crate) share: f64,
}

impl Sight {
    /// Distance from the axis at a height; infinite where the ray never gets there.
    pub(crate) fn distance_at(&self, z: f64) -> f64 {
        let w = (z - self.z_v) / self.along;
        let d2 = self.least * self.least + self.g * w * w;
        if d2.is_finite() { d2.sqrt() } else { f64::INFINITY }
    }

    fn distance(&self, w: f64) -> f64 {
        (self.least * self.least + self.g * w * w).sqrt()
    }

    /// Nearest approach to a segment from `a` to `b` (z, r), a.z <= b.z, inside of it; `None` if the ray turns nowhere parallel to it within.
    pub(crate) fn touch_inside(&self, a: [f64; 2], b: [f64; 2]) -> Option<Touch> {
        let (dz, dr) = (b[0] - a[0], b[1] - a[1]);
        // g w / d = m along, with m = dr / dz.
        let cross = self.g * dz * dz - dr * dr * self.along * self.along;
        if cross <= 0.0 || dz <= 0.0 {
            return None;
        }
        let w = dr * self.along * self.least / (self.sqrt_g * cross.sqrt());
        let (z, d) = (self.z_v + w * self.along, self.distance(w));
        let length = dz.hypot(dr);
        let share = ((z - a[0]) * dz + (d - a[1]) * dr) / (length * length);
        if !(0.0..=1.0).contains(&share) {
            return None;
        }
        let normal = [-dr / length, dz / length];
        Some(Touch { gap: (z - a[0]) * normal[0] + (d - a[1]) * normal[1], w, normal, share })
    }

    /// Nearest approach to a single place; the normal points from the place to the ray's outside.
    pub(crate) fn touch_place(&self, p: [f64; 2]) -> Touch {
        let delta = p[0] - self.z_v;
        let inside = p[1] > self.least && (self.along.abs() < 1e-15 || p[1] > self.distance_at(p[0])) && self.along.abs() > 1e-15;
        // In w: the derivative of half the squared distance is (w along - delta) along + (1 - r / d) g w; the nearest place lies between the
        // ray's crossings of the place's height and of its radius.
        let w_height = if self.along.abs() > 1e-12 { delta / self.along } else { 1e12_f64.copysign(delta * self.along.signum()) };
        let reach = ((p[1] * p[1] - self.least * self.least).max(0.0)).sqrt() / self.sqrt_g;
        let w_radius = reach.copysign(w_height);
        let slope = |w: f64| (w * self.along - delta) * self.along + (1.0 - p[1] / self.distance(w)) * self.g * w;
        let (mut low, mut high) = (w_height.min(w_radius), w_height.max(w_radius));
        let mut w = w_radius;
        for _ in 0..40 {
            let s = slope(w);
            if s > 0.0 {
                high = w
            } else {
                low = w
            }
            let d = self.distance(w);
            let bend = self.along * self.along + self.g * (1.0 - p[1] / d) + p[1] * self.g * self.g * w * w / (d * d * d);
            let mut next = w - s / bend;
            if !(next > low && next < high) {
                next = 0.5 * (low + high);
            }
            let moved = (next - w).abs();
            w = next;
            if moved <= 1e-11 * (1.0 + w.abs()) {
                break;
            }
        }
        let (dz, dd) = (self.z_v + w * self.along - p[0], self.distance(w) - p[1]);
        let length = dz.hypot(dd);
        let sign = if inside { -1.0 } else { 1.0 };
        let normal = if length > 1e-9 { [sign * dz / length, sign * dd / length] } else { self.normal_at(w) };
        Touch { gap: sign * length, w, normal, share: 0.0 }
    }

    /// Unit normal of the hyperbola toward smaller heights' outside (up, away from the axis).
    fn normal_at(&self, w: f64) -> [f64; 2] {
        let (tz, td) = (self.along, self.g * w / self.distance(w));
        let length = tz.hypot(td).max(1e-12);
        let up = if tz >= 0.0 { 1.0 } else { -1.0 };
        [-up * td / length, up * tz / length]
    }
}
