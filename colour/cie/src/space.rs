//! XYZ, Lab and LCh, and the ways between them (CIE 15, ISO/CIE 11664-4).

/// Tristimulus values; Y = 100 for the perfect white.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Xyz {
    /// X.
    pub x: f64,
    /// Y, luminance factor in percent.
    pub y: f64,
    /// Z.
    pub z: f64,
}

/// CIELAB; the light and observer are those of the white it was made with.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Lab {
    /// Lightness, 0 black to 100 white.
    pub l: f64,
    /// Green (-) to red (+).
    pub a: f64,
    /// Blue (-) to yellow (+).
    pub b: f64,
}

/// CIELAB in polar form.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Lch {
    /// Lightness.
    pub l: f64,
    /// Chroma.
    pub c: f64,
    /// Hue angle, degrees in 0..360; 0 for a grey.
    pub h_deg: f64,
}

/// Lab of `xyz` seen under the light whose white is `white`. A white with a zero or negative coordinate gives NaN.
pub fn xyz_to_lab(xyz: Xyz, white: Xyz) -> Lab {
    let (fx, fy, fz) = (f(xyz.x / white.x), f(xyz.y / white.y), f(xyz.z / white.z));
    Lab { l: 116.0 * fy - 16.0, a: 500.0 * (fx - fy), b: 200.0 * (fy - fz) }
}

/// The exact inverse of [`xyz_to_lab`].
pub fn lab_to_xyz(lab: Lab, white: Xyz) -> Xyz {
    let fy = (lab.l + 16.0) / 116.0;
    Xyz { x: white.x * f_inverse(fy + lab.a / 500.0), y: white.y * f_inverse(fy), z: white.z * f_inverse(fy - lab.b / 200.0) }
}

/// Where the cube root hands over to the straight line: 6/29, the CIE's exact fraction rather than its rounded 0.008856.
const HAND_OVER: f64 = 6.0 / 29.0;

fn f(t: f64) -> f64 {
    if t > HAND_OVER * HAND_OVER * HAND_OVER { t.cbrt() } else { t / (3.0 * HAND_OVER * HAND_OVER) + 4.0 / 29.0 }
}

fn f_inverse(f: f64) -> f64 {
    if f > HAND_OVER { f * f * f } else { 3.0 * HAND_OVER * HAND_OVER * (f - 4.0 / 29.0) }
}

impl Lab {
    /// From its three coordinates.
    pub const fn new(l: f64, a: f64, b: f64) -> Self {
        Lab { l, a, b }
    }

    /// Chroma.
    pub fn chroma(self) -> f64 {
        self.a.hypot(self.b)
    }

    /// Hue angle, degrees in 0..360; 0 for a grey.
    pub fn hue_deg(self) -> f64 {
        if self.a == 0.0 && self.b == 0.0 {
            return 0.0;
        }
        let degrees = self.b.atan2(self.a).to_degrees();
        if degrees < 0.0 { degrees + 360.0 } else { degrees }
    }

    /// Polar form.
    pub fn lch(self) -> Lch {
        Lch { l: self.l, c: self.chroma(), h_deg: self.hue_deg() }
    }

    /// As an array, for the document and the result.
    pub const fn array(self) -> [f64; 3] {
        [self.l, self.a, self.b]
    }

    /// Whether all three are finite.
    pub fn is_finite(self) -> bool {
        self.l.is_finite() && self.a.is_finite() && self.b.is_finite()
    }
}

impl Lch {
    /// Rectangular form.
    pub fn lab(self) -> Lab {
        let (sin, cos) = self.h_deg.to_radians().sin_cos();
        Lab { l: self.l, a: self.c * cos, b: self.c * sin }
    }
}

impl Xyz {
    /// From its three coordinates.
    pub const fn new(x: f64, y: f64, z: f64) -> Self {
        Xyz { x, y, z }
    }

    /// As an array.
    pub const fn array(self) -> [f64; 3] {
        [self.x, self.y, self.z]
    }
}

impl From<[f64; 3]> for Lab {
    fn from([l, a, b]: [f64; 3]) -> Self {
        Lab { l, a, b }
    }
}

impl From<Lab> for [f64; 3] {
    fn from(lab: Lab) -> Self {
        lab.array()
    }
}

impl From<[f64; 3]> for Xyz {
    fn from([x, y, z]: [f64; 3]) -> Self {
        Xyz { x, y, z }
    }
}

impl From<Xyz> for [f64; 3] {
    fn from(xyz: Xyz) -> Self {
        xyz.array()
    }
}
