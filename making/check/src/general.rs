use crate::CheckError;
use quantity::{Class, Feature};

/// The +/- tolerance of ISO 2768-1: mm, or degrees for angles (the table stands in `quantity`).
///
/// # Errors
/// Sizes outside the table and cells that the standard leaves empty.
pub fn general_tolerance(class: Class, feature: Feature, nominal_mm: f64) -> Result<f64, CheckError> {
    let words = match feature {
        Feature::Linear => "length",
        Feature::RadiusOrChamfer => "radius or chamfer",
        Feature::AngleByShortLeg => "angle by its short leg",
    };
    let letter = match class {
        Class::Fine => 'f',
        Class::Medium => 'm',
        Class::Coarse => 'c',
        Class::VeryCoarse => 'v',
    };
    let found = quantity::general_tolerance(feature, class, nominal_mm);
    found.ok_or(CheckError::NoGeneralTolerance { class: letter, nominal: nominal_mm, feature: words })
}
