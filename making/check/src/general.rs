//! General tolerances of ISO 2768-1:1989, for sizes without a tolerance of their own.

use crate::CheckError;

/// Fine, medium, coarse, very coarse.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Class {
    /// f.
    Fine,
    /// m.
    Medium,
    /// c.
    Coarse,
    /// v.
    VeryCoarse,
}

/// What the tolerance is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Feature {
    /// Lengths and diameters, mm.
    Linear,
    /// Outer radii and chamfer heights, mm.
    RadiusOrChamfer,
    /// Angles, degrees, looked up by the shorter leg, mm. From memory of the standard; the others were seen in two texts.
    AngleByShortLeg,
}

/// Over (mm), up to and including (mm), f, m, c, v; NaN: the standard gives none.
type Row = (f64, f64, [f64; 4]);

// Sources: two public texts of DIN ISO 2768-1. One copy shows class c below 6 mm as 0.15 and 0.2; a data file and memory agree on 0.2 and 0.3.
const LINEAR: [Row; 8] = [
    (0.5, 3.0, [0.05, 0.1, 0.2, f64::NAN]),
    (3.0, 6.0, [0.05, 0.1, 0.3, 0.5]),
    (6.0, 30.0, [0.1, 0.2, 0.5, 1.0]),
    (30.0, 120.0, [0.15, 0.3, 0.8, 1.5]),
    (120.0, 400.0, [0.2, 0.5, 1.2, 2.5]),
    (400.0, 1000.0, [0.3, 0.8, 2.0, 4.0]),
    (1000.0, 2000.0, [0.5, 1.2, 3.0, 6.0]),
    (2000.0, 4000.0, [f64::NAN, 2.0, 4.0, 8.0]),
];
const RADIUS: [Row; 3] = [(0.5, 3.0, [0.2, 0.2, 0.4, 0.4]), (3.0, 6.0, [0.5, 0.5, 1.0, 1.0]), (6.0, f64::INFINITY, [1.0, 1.0, 2.0, 2.0])];
const ANGLE: [Row; 4] = [
    (0.0, 10.0, [1.0, 1.0, 1.5, 3.0]),
    (10.0, 50.0, [0.5, 0.5, 1.0, 2.0]),
    (50.0, 120.0, [1.0 / 3.0, 1.0 / 3.0, 0.5, 1.0]),
    (120.0, 400.0, [1.0 / 6.0, 1.0 / 6.0, 0.25, 0.5]),
];

/// The +/- tolerance: mm, or degrees for angles. Steps are "over a, up to and including b"; 0.5 mm itself counts to the first.
///
/// # Errors
/// Sizes outside the table and cells the standard leaves empty.
pub fn general_tolerance(class: Class, feature: Feature, nominal_mm: f64) -> Result<f64, CheckError> {
    let (rows, words): (&[Row], _) = match feature {
        Feature::Linear => (&LINEAR, "length"),
        Feature::RadiusOrChamfer => (&RADIUS, "radius or chamfer"),
        Feature::AngleByShortLeg => (&ANGLE, "angle by its short leg"),
    };
    let (column, letter) = match class {
        Class::Fine => (0, 'f'),
        Class::Medium => (1, 'm'),
        Class::Coarse => (2, 'c'),
        Class::VeryCoarse => (3, 'v'),
    };
    let is_first = |row: &Row| row.0 == 0.5 && nominal_mm == 0.5;
    let row = rows.iter().find(|row| (nominal_mm > row.0 && nominal_mm <= row.1) || is_first(row));
    let found = row.and_then(|row| row.2.get(column)).copied().filter(|t| t.is_finite());
    found.ok_or(CheckError::NoGeneralTolerance { class: letter, nominal: nominal_mm, feature: words })
}
