//! Screen colours: sRGB (IEC 61966-2-1), and the nearest one that a screen can show.

use crate::{Adaptation, CieError, Lab, Lch, Light, Observer, Xyz, adapt, lab_to_xyz, white, xyz_to_lab};
use nalgebra::{Matrix3, Vector3};
use std::sync::LazyLock;

/// A colour as a screen shows it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Screen {
    /// Encoded red, green, blue, 0..=255.
    pub rgb: [u8; 3],
    /// Whether the true colour is more colourful than the screen can show; then `rgb` has less chroma, same lightness and hue.
    pub out_of_gamut: bool,
}

impl Screen {
    /// "#98a492".
    pub fn hex(self) -> String {
        let [r, g, b] = self.rgb;
        format!("#{r:02x}{g:02x}{b:02x}")
    }
}

/// The screen colour of a Lab (D65, 2 degrees), chroma reduced until the screen can show it. Non-finite input gives black, flagged.
pub fn screen(lab: impl Into<Lab>) -> Screen {
    let lab: Lab = lab.into();
    if !lab.is_finite() {
        return Screen { rgb: [0; 3], out_of_gamut: true };
    }
    let linear = linear_of(lab);
    if fits(linear) {
        return Screen { rgb: encode8(linear), out_of_gamut: false };
    }
    let Lch { c, h_deg, .. } = lab.lch();
    let l = lab.l.clamp(0.0, 100.0);
    let at = |share: f64| linear_of(Lch { l, c: c * share, h_deg }.lab());
    // Halving 40 times fixes the share of chroma to 1e-12, far below one step of 8 bits.
    let (mut inside, mut outside) = (0.0, 1.0);
    for _ in 0..40 {
        let middle = 0.5 * (inside + outside);
        if fits(at(middle)) { inside = middle } else { outside = middle }
    }
    Screen { rgb: encode8(at(inside)), out_of_gamut: true }
}

/// A Lab seen under another light, as the screen shows it to an eye that is used to the screen's white: XYZ adapted by CAT16, then [`screen`].
/// `observer` is that of `lab`.
pub fn proof(lab: impl Into<Lab>, light: Light, observer: Observer) -> Screen {
    let lab: Lab = lab.into();
    let from = white(light, observer);
    match adapt(lab_to_xyz(lab, from), from, srgb_white(), Adaptation::Cat16) {
        Ok(xyz) if lab.is_finite() => screen(xyz_to_lab(xyz, srgb_white())),
        _ => Screen { rgb: [0; 3], out_of_gamut: true },
    }
}

/// Lab (D65, 2 degrees) of a screen colour.
pub fn srgb8_to_lab(rgb: [u8; 3]) -> Lab {
    xyz_to_lab(srgb_linear_to_xyz(rgb.map(|v| srgb_decode(f64::from(v) / 255.0))), srgb_white())
}

/// Reads "#98a492" or "98a492".
///
/// # Errors
/// Anything but six hexadecimal digits.
pub fn parse_hex(text: &str) -> Result<[u8; 3], CieError> {
    let digits = text.trim().strip_prefix('#').unwrap_or(text.trim());
    let bad = || CieError::Hex { text: text.chars().take(20).collect() };
    if digits.len() != 6 || !digits.bytes().all(|b| b.is_ascii_hexdigit()) {
        return Err(bad());
    }
    let value = u32::from_str_radix(digits, 16).map_err(|_| bad())?;
    let [_, r, g, b] = value.to_be_bytes();
    Ok([r, g, b])
}

/// Linear sRGB (1 = full) to XYZ, D65, Y = 100 for white. Any finite values, also outside 0..1.
pub fn srgb_linear_to_xyz(rgb: [f64; 3]) -> Xyz {
    let xyz = TO_XYZ.to * Vector3::from(rgb);
    Xyz { x: xyz[0], y: xyz[1], z: xyz[2] }
}

/// XYZ (D65, Y = 100 for white) to linear sRGB; values outside 0..1 are out of gamut, not clipped.
pub fn xyz_to_srgb_linear(xyz: Xyz) -> [f64; 3] {
    (TO_XYZ.from * Vector3::new(xyz.x, xyz.y, xyz.z)).into()
}

/// Encoded 0..1 to linear 0..1; odd, so that values outside survive the round trip.
pub fn srgb_decode(encoded: f64) -> f64 {
    let size = encoded.abs();
    let linear = if size <= 0.04045 { size / 12.92 } else { ((size + 0.055) / 1.055).powf(2.4) };
    linear.copysign(encoded)
}

/// Linear 0..1 to encoded 0..1; the inverse of [`srgb_decode`] to 1e-7 at the hand-over (the standard's own rounding).
pub fn srgb_encode(linear: f64) -> f64 {
    let size = linear.abs();
    let encoded = if size <= 0.0031308 { size * 12.92 } else { 1.055 * size.powf(1.0 / 2.4) - 0.055 };
    encoded.copysign(linear)
}

/// The white of the screen: D65, 2 degrees, as summed from the tables.
pub fn srgb_white() -> Xyz {
    static WHITE: LazyLock<Xyz> = LazyLock::new(|| white(Light::D65, Observer::TwoDegree));
    *WHITE
}

struct Matrices {
    to: Matrix3<f64>,
    from: Matrix3<f64>,
}

/// From the primaries of IEC 61966-2-1 and our own D65 white, so that grey in one is grey in the other. The standard's matrix,
/// rounded to four places, differs by at most 0.0003 of white.
static TO_XYZ: LazyLock<Matrices> = LazyLock::new(|| {
    let white = Vector3::from(srgb_white().array());
    let primary = |x: f64, y: f64| Vector3::new(x / y, 1.0, (1.0 - x - y) / y);
    let primaries = Matrix3::from_columns(&[primary(0.64, 0.33), primary(0.30, 0.60), primary(0.15, 0.06)]);
    let shares = primaries.try_inverse().unwrap_or_else(Matrix3::identity) * white;
    let to = primaries * Matrix3::from_diagonal(&shares);
    Matrices { to, from: to.try_inverse().unwrap_or_else(Matrix3::identity) }
});

fn linear_of(lab: Lab) -> [f64; 3] {
    xyz_to_srgb_linear(lab_to_xyz(lab, srgb_white()))
}

/// Inside the cube but for a fifth of an 8-bit step, so that rounding of a pure screen colour is not called out of gamut.
fn fits(linear: [f64; 3]) -> bool {
    linear.iter().all(|&v| (-0.0008..=1.0008).contains(&srgb_encode(v)))
}

fn encode8(linear: [f64; 3]) -> [u8; 3] {
    linear.map(|v| (255.0 * srgb_encode(v)).round().clamp(0.0, 255.0) as u8)
}
