//! Colour differences: CIEDE2000 with its parts, and the plain distance of 1976.

use crate::Lab;

/// A CIEDE2000 difference and what it is made of, "second minus first".
///
/// `total^2 = lightness^2 + chroma^2 + hue^2 + turn`, where `turn` is the formula's rotation term for blues.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct De00 {
    /// The difference.
    pub total: f64,
    /// Share of lightness, > 0: the second is lighter.
    pub lightness: f64,
    /// Share of chroma, > 0: the second is more colourful.
    pub chroma: f64,
    /// Share of hue, > 0: the second's hue angle is larger (counter-clockwise: red to yellow to green to blue).
    pub hue: f64,
    /// The rotation term R_T C H, in squared units.
    pub turn: f64,
}

/// The parametric factors k_L, k_C, k_H: 1, 1, 1 for smooth solid parts; a larger one forgives more.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct De00Factors {
    /// k_L, lightness; 2 is common for textured goods.
    pub lightness: f64,
    /// k_C, chroma.
    pub chroma: f64,
    /// k_H, hue.
    pub hue: f64,
}

impl Default for De00Factors {
    fn default() -> Self {
        De00Factors { lightness: 1.0, chroma: 1.0, hue: 1.0 }
    }
}

/// CIEDE2000 between two colours read under the same light and observer. Symmetric.
pub fn ciede2000(first: impl Into<Lab>, second: impl Into<Lab>) -> f64 {
    ciede2000_parts(first, second, De00Factors::default()).total
}

/// CIEDE2000 with its parts.
///
/// - **Source** Sharma, Wu and Dalal, "The CIEDE2000 color-difference formula: implementation notes ..." (2005), equations 2 to 22; there
///   dL'/(k_L S_L) is our `lightness`, and so on.
/// - **Good to** the paper's 34 pairs within 1e-4, test `sharma_pairs`. Hues exactly opposite (their difference 180 degrees but for
///   rounding) take the mean of the two angles, as pair 14 wants, so that the result does not hang on the last bit.
pub fn ciede2000_parts(first: impl Into<Lab>, second: impl Into<Lab>, factors: De00Factors) -> De00 {
    let (first, second) = (first.into(), second.into());
    let mean_chroma = 0.5 * (first.chroma() + second.chroma());
    let stretch = 1.5 - 0.5 * seventh_root_share(mean_chroma);
    let (one, two) = (stretched(first, stretch), stretched(second, stretch));
    let (c1, c2) = (one.chroma(), two.chroma());
    let (turn_deg, mean_hue_deg) = hues(one, two);

    let d_lightness = second.l - first.l;
    let d_chroma = c2 - c1;
    let d_hue = 2.0 * (c1 * c2).sqrt() * (0.5 * turn_deg.to_radians()).sin();

    let mean_c = 0.5 * (c1 + c2);
    let off_middle = (0.5 * (first.l + second.l) - 50.0).powi(2);
    let t = 1.0 - 0.17 * cos_deg(mean_hue_deg - 30.0) + 0.24 * cos_deg(2.0 * mean_hue_deg) + 0.32 * cos_deg(3.0 * mean_hue_deg + 6.0)
        - 0.20 * cos_deg(4.0 * mean_hue_deg - 63.0);
    let lightness = d_lightness / (factors.lightness * (1.0 + 0.015 * off_middle / (20.0 + off_middle).sqrt()));
    let chroma = d_chroma / (factors.chroma * (1.0 + 0.045 * mean_c));
    let hue = d_hue / (factors.hue * (1.0 + 0.015 * mean_c * t));
    let blue = 30.0 * (-((mean_hue_deg - 275.0) / 25.0).powi(2)).exp();
    let turn = -(2.0 * blue).to_radians().sin() * 2.0 * seventh_root_share(mean_c) * chroma * hue;
    let total = (lightness * lightness + chroma * chroma + hue * hue + turn).max(0.0).sqrt();
    De00 { total, lightness, chroma, hue, turn }
}

/// The distance in Lab, CIE 1976.
pub fn cie76(first: impl Into<Lab>, second: impl Into<Lab>) -> f64 {
    let (p, q) = (first.into(), second.into());
    ((p.l - q.l).powi(2) + (p.a - q.a).powi(2) + (p.b - q.b).powi(2)).sqrt()
}

/// sqrt(c^7 / (c^7 + 25^7)), in a form that does not overflow.
fn seventh_root_share(chroma: f64) -> f64 {
    if chroma <= 0.0 {
        return 0.0;
    }
    (1.0 / (1.0 + (25.0 / chroma).powi(7))).sqrt()
}

fn stretched(lab: Lab, stretch: f64) -> Lab {
    Lab { a: lab.a * stretch, ..lab }
}

/// Hue difference (second minus first, -180..=180) and mean hue, degrees.
fn hues(one: Lab, two: Lab) -> (f64, f64) {
    /// Rounding of two atan2 in degrees stays below this; real hue differences of readings are a million times larger.
    const TIE_DEG: f64 = 1e-9;
    let (h1, h2) = (one.hue_deg(), two.hue_deg());
    if one.chroma() * two.chroma() == 0.0 {
        return (0.0, h1 + h2);
    }
    let apart = h2 - h1;
    let (sum, wraps) = (h1 + h2, apart.abs() > 180.0 + TIE_DEG);
    match (wraps, sum < 360.0) {
        (false, _) => (apart, 0.5 * sum),
        (true, true) => (apart - 360.0 * apart.signum(), 0.5 * (sum + 360.0)),
        (true, false) => (apart - 360.0 * apart.signum(), 0.5 * (sum - 360.0)),
    }
}

fn cos_deg(degrees: f64) -> f64 {
    degrees.to_radians().cos()
}
