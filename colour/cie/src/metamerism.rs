//! Two parts under several lights: do they match only in one?

use crate::{CieError, Lab, Light, Observer, Weights, Xyz, ciede2000, lab_to_xyz, xyz_to_lab};

/// A pair under one light.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct UnderLight {
    /// The light.
    pub light: Light,
    /// The first part.
    pub first: Lab,
    /// The second part.
    pub second: Lab,
    /// CIEDE2000 between the two as they are.
    pub de00: f64,
    /// What of it comes from the change of light: CIEDE2000 after the second was made to match under D65 by a factor on each of X, Y, Z
    /// (the multiplicative correction of CIE 15, special metamerism index).
    pub metamerism: f64,
}

/// Two reflectances (at the same `nms`) under each of `lights`.
///
/// # Errors
/// Wavelengths or reflectances that [`Weights`] refuses.
pub fn under_lights(nms: &[f64], first: &[f64], second: &[f64], lights: &[Light], observer: Observer) -> Result<Vec<UnderLight>, CieError> {
    let reference = Weights::new(Light::D65, observer, nms)?;
    let (one, two) = (reference.xyz(first)?, reference.xyz(second)?);
    let factor = |one: f64, two: f64| if two > 0.0 { one / two } else { 1.0 };
    let factors = [factor(one.x, two.x), factor(one.y, two.y), factor(one.z, two.z)];
    let under = |&light: &Light| {
        let weights = Weights::new(light, observer, nms)?;
        let (first, xyz) = (weights.lab(first)?, weights.xyz(second)?);
        let second = xyz_to_lab(xyz, weights.white());
        let matched = Xyz::new(xyz.x * factors[0], xyz.y * factors[1], xyz.z * factors[2]);
        let metamerism = ciede2000(first, xyz_to_lab(matched, weights.white()));
        Ok(UnderLight { light, first, second, de00: ciede2000(first, second), metamerism })
    };
    lights.iter().map(under).collect()
}

/// Lab under `light` for a Lab known under D65, 2 degrees, by way of a likely spectrum ([`crate::spectrum_of`]): a guess.
///
/// # Errors
/// A colour that no surface has.
pub fn guess_under(lab: Lab, light: Light) -> Result<Lab, CieError> {
    let spectrum = crate::spectrum_of(lab)?;
    Weights::new(light, Observer::TwoDegree, &crate::WORKING_NM)?.lab(&spectrum)
}

/// What a Lab says about itself.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LabReading {
    /// The reading.
    pub lab: Lab,
    /// Light it was worked out for.
    pub light: Light,
    /// Observer it was worked out for.
    pub observer: Observer,
}

/// The Lab for D65, 2 degrees, of a reading: exactly, where its spectrum is known or it already is one; otherwise refused, because the way
/// from one observer or light to another hangs on the spectrum.
///
/// # Errors
/// [`CieError::NeedsSpectrum`], and what [`Weights`] refuses.
pub fn to_reference(reading: Option<LabReading>, spectrum: Option<(&[f64], &[f64])>) -> Result<Lab, CieError> {
    match (spectrum, reading) {
        (Some((nms, reflectance)), _) => Weights::new(Light::D65, Observer::TwoDegree, nms)?.lab(reflectance),
        (None, Some(LabReading { lab, light: Light::D65, observer: Observer::TwoDegree })) => Ok(lab),
        (None, Some(LabReading { light, observer, .. })) => {
            Err(CieError::NeedsSpectrum { light: light.name(), observer: observer.words() })
        }
        (None, None) => Err(CieError::NotFinite { what: "a reading without Lab and spectrum" }),
    }
}

/// A likely Lab for D65, 2 degrees, of a Lab worked out for another light or observer, and one sigma of each coordinate: by way of the smoothest
/// spectrum that has the given Lab there. A guess; the reading's own doubt comes on top.
///
/// - **Good to** the sigma, test `another_observers_lab_is_guessed_within_its_doubt` (24 patches of ISO 17321-1).
///
/// # Errors
/// A colour that no surface has.
pub fn guess_reference(reading: LabReading) -> Result<(Lab, [f64; 3]), CieError> {
    let LabReading { lab, light, observer } = reading;
    if (light, observer) == (Light::D65, Observer::TwoDegree) {
        return Ok((lab, [0.0; 3]));
    }
    let there = Weights::new(light, observer, &crate::WORKING_NM)?;
    let mut guess = lab;
    // A step undoes what is left to within the difference between the two, a tenth or so: 30 steps reach rounding.
    for _ in 0..30 {
        let seen = there.lab(&crate::spectrum_of(guess)?)?;
        guess = Lab::new(guess.l + lab.l - seen.l, guess.a + lab.a - seen.a, guess.b + lab.b - seen.b);
    }
    let share = if light == Light::D65 { OTHER_OBSERVER } else { OTHER_LIGHT };
    let chroma = lab.chroma();
    Ok((guess, share.map(|[floor, of_chroma]| floor + of_chroma * chroma)))
}

/// One sigma of a guess for L*, a*, b*: a floor, and a share of the chroma: root mean squares over the 24 patches of ISO 17321-1 with the
/// 10 degree observer, and the widest of D50, A, FL11 and LED-B3.
const OTHER_OBSERVER: [[f64; 2]; 3] = [[0.1, 0.008], [0.15, 0.055], [0.15, 0.03]];
const OTHER_LIGHT: [[f64; 2]; 3] = [[0.1, 0.016], [0.3, 0.085], [0.3, 0.045]];

/// XYZ of a Lab known under D65, 2 degrees.
pub fn reference_xyz(lab: Lab) -> Xyz {
    lab_to_xyz(lab, crate::srgb_white())
}
