//! CIECAM16: how a colour looks in its surroundings, and distances in its uniform space.

use crate::adapt::CAT16;
use crate::{CieError, Xyz};
use nalgebra::Vector3;

/// How bright the surroundings are against what is looked at.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Surround {
    /// A part on a bench.
    #[default]
    Average,
    /// A screen in the evening.
    Dim,
    /// A projection.
    Dark,
}

/// Where and how a colour is looked at.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Viewing {
    /// White of the light, Y = 100.
    pub white: Xyz,
    /// Luminance of the adapting field, cd/m2: a fifth of that of a white card; 64 lx on grey gives about 4, an office 20 to 60.
    pub adapting_cd_m2: f64,
    /// Luminance factor of the background, percent; 20 for mid grey.
    pub background: f64,
    /// Surroundings.
    pub surround: Surround,
}

/// What CIECAM16 says of a colour.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Appearance {
    /// Lightness J.
    pub lightness: f64,
    /// Chroma C.
    pub chroma: f64,
    /// Hue angle h, degrees in 0..360.
    pub hue_deg: f64,
    /// Saturation s.
    pub saturation: f64,
    /// Brightness Q.
    pub brightness: f64,
    /// Colourfulness M.
    pub colourfulness: f64,
}

/// Works out how `xyz` looks.
///
/// - **Source** Li et al., "Comprehensive color solutions: CAM16, CAT16, and CAM16-UCS" (2017), forward model.
/// - **Good to** 1e-8 against colour-science 0.4.7, test `cam16_worked`.
///
/// # Errors
/// A white, luminance or background that is not positive and finite, or a colour that is not finite.
pub fn cam16(xyz: Xyz, viewing: &Viewing) -> Result<Appearance, CieError> {
    check(xyz, viewing)?;
    let (f, c, induction) = match viewing.surround {
        Surround::Average => (1.0, 0.69, 1.0),
        Surround::Dim => (0.9, 0.59, 0.9),
        Surround::Dark => (0.8, 0.525, 0.8),
    };
    let luminance = viewing.adapting_cd_m2;
    let k4 = (1.0 / (5.0 * luminance + 1.0)).powi(4);
    let level = 0.2 * k4 * 5.0 * luminance + 0.1 * (1.0 - k4).powi(2) * (5.0 * luminance).cbrt();
    let n = viewing.background / viewing.white.y;
    let background = 0.725 * n.powf(-0.2);
    let exponent = c * (1.48 + n.sqrt());

    let degree = (f * (1.0 - (1.0 / 3.6) * ((-luminance - 42.0) / 92.0).exp())).clamp(0.0, 1.0);
    let white_rgb = CAT16 * Vector3::from(viewing.white.array());
    let gain = white_rgb.map(|v| degree * viewing.white.y / v + 1.0 - degree);
    let response = |rgb: Vector3<f64>| rgb.component_mul(&gain).map(|v| compress(v, level));
    let white = response(white_rgb);
    let seen = response(CAT16 * Vector3::from(xyz.array()));

    let achromatic = |r: &Vector3<f64>| (2.0 * r[0] + r[1] + r[2] / 20.0 - 0.305) * background;
    let a = seen[0] - 12.0 * seen[1] / 11.0 + seen[2] / 11.0;
    let b = (seen[0] + seen[1] - 2.0 * seen[2]) / 9.0;
    let hue_deg = b.atan2(a).to_degrees().rem_euclid(360.0);
    let eccentricity = 0.25 * ((hue_deg.to_radians() + 2.0).cos() + 3.8);

    let share = (achromatic(&seen) / achromatic(&white)).max(0.0);
    let lightness = 100.0 * share.powf(exponent);
    let brightness = 4.0 / c * (lightness / 100.0).sqrt() * (achromatic(&white) + 4.0) * level.powf(0.25);
    let t = 50000.0 / 13.0 * induction * background * eccentricity * a.hypot(b) / (seen[0] + seen[1] + 1.05 * seen[2]);
    let chroma = t.max(0.0).powf(0.9) * (lightness / 100.0).sqrt() * (1.64 - 0.29f64.powf(n)).powf(0.73);
    let colourfulness = chroma * level.powf(0.25);
    let saturation = if brightness > 0.0 { 100.0 * (colourfulness / brightness).sqrt() } else { 0.0 };
    Ok(Appearance { lightness, chroma, hue_deg, saturation, brightness, colourfulness })
}

impl Appearance {
    /// Coordinates J', a', b' of the uniform space (c1 = 0.007, c2 = 0.0228, for all sizes of difference).
    pub fn uniform(&self) -> [f64; 3] {
        let lightness = 1.7 * self.lightness / (1.0 + 0.007 * self.lightness);
        let colourfulness = (1.0 + 0.0228 * self.colourfulness).ln() / 0.0228;
        let (sin, cos) = self.hue_deg.to_radians().sin_cos();
        [lightness, colourfulness * cos, colourfulness * sin]
    }

    /// Distance in the uniform space.
    pub fn distance(&self, other: &Appearance) -> f64 {
        let (p, q) = (self.uniform(), other.uniform());
        p.iter().zip(q).map(|(p, q)| (p - q).powi(2)).sum::<f64>().sqrt()
    }
}

fn check(xyz: Xyz, viewing: &Viewing) -> Result<(), CieError> {
    let positive = [viewing.white.x, viewing.white.y, viewing.white.z, viewing.adapting_cd_m2, viewing.background];
    if positive.iter().any(|v| !(*v > 0.0 && v.is_finite())) {
        return Err(CieError::NotPositive { what: "the white, the adapting luminance or the background" });
    }
    if xyz.array().iter().any(|v| !v.is_finite()) {
        return Err(CieError::NotFinite { what: "a tristimulus value" });
    }
    Ok(())
}

/// The eye's compression after adaptation, odd in its argument.
fn compress(value: f64, level: f64) -> f64 {
    let x = (level * value.abs() / 100.0).powf(0.42);
    (400.0 * x / (x + 27.13)).copysign(value) + 0.1
}
