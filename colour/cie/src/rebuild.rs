//! A likely spectrum for a Lab: the smoothest reflectance between 0 and 1 that has it.

use crate::{CieError, Lab, WORKING_NM, Weights, Xyz, lab_to_xyz, working};
use nalgebra::{DMatrix, DVector};

const COUNT: usize = WORKING_NM.len();

/// The reflectance at [`WORKING_NM`] with the least sum of squared slopes that has this Lab (D65, 2 degrees) and stays within 0..1.
///
/// One of the many that have it: good for guessing how a colour looks under another light (mean 1.3, at most 4.4 CIEDE2000 under A over
/// the 24 patches of ISO 17321-1, test `guessed_under_a_lamp`), no substitute for a reading.
///
/// - **Source** S. A. Burns, "Generating reflectance curves from sRGB triplets" (2017): iterative least slope squared. There `T`, `D`, `rho`
///   are our weights, slopes and reflectance.
/// - **Good to** 1e-6 in Lab, test `spectra_have_their_lab`.
///
/// # Errors
/// A Lab that is not finite, or that no surface can have.
pub fn spectrum_of(lab: Lab) -> Result<[f64; COUNT], CieError> {
    let weights = working();
    if !lab.is_finite() {
        return Err(CieError::NotFinite { what: "a Lab coordinate" });
    }
    let wanted = lab_to_xyz(lab, weights.white());
    let mut held: [Option<f64>; COUNT] = [None; COUNT];
    // Each round holds at least one more wavelength at a bound, so that there are at most as many rounds as wavelengths.
    for _ in 0..=COUNT {
        let reflectance = smoothest(weights, wanted, &held).ok_or(CieError::NoSurface { lab: lab.array() })?;
        let beyond: Vec<usize> = (0..COUNT).filter(|&i| held[i].is_none() && !(-SLACK..=1.0 + SLACK).contains(&reflectance[i])).collect();
        if beyond.is_empty() {
            return checked(lab, weights, reflectance);
        }
        for i in beyond {
            held[i] = Some(if reflectance[i] > 0.5 { 1.0 } else { 0.0 });
        }
    }
    Err(CieError::NoSurface { lab: lab.array() })
}

/// Beyond a bound by this much is rounding.
const SLACK: f64 = 1e-9;

fn checked(lab: Lab, weights: &Weights, reflectance: DVector<f64>) -> Result<[f64; COUNT], CieError> {
    let mut bounded = [0.0; COUNT];
    for (own, value) in bounded.iter_mut().zip(reflectance.iter()) {
        *own = value.clamp(0.0, 1.0);
    }
    let found = weights.lab(&bounded)?;
    if crate::cie76(found, lab) < 1e-5 { Ok(bounded) } else { Err(CieError::NoSurface { lab: lab.array() }) }
}

/// Least sum of squared slopes with XYZ met and some wavelengths held: one linear system in reflectances and multipliers.
/// `None` where the held wavelengths leave it without a solution.
fn smoothest(weights: &Weights, wanted: Xyz, held: &[Option<f64>; COUNT]) -> Option<DVector<f64>> {
    let fixed: Vec<(usize, f64)> = held.iter().enumerate().filter_map(|(i, value)| value.map(|v| (i, v))).collect();
    let size = COUNT + 3 + fixed.len();
    let mut system = DMatrix::zeros(size, size);
    let mut right = DVector::zeros(size);
    for i in 0..COUNT {
        system[(i, i)] = if i == 0 || i + 1 == COUNT { 2.0 } else { 4.0 };
        if i + 1 < COUNT {
            system[(i, i + 1)] = -2.0;
            system[(i + 1, i)] = -2.0;
        }
        for (axis, weight) in weights.rows().get(i)?.iter().enumerate() {
            system[(i, COUNT + axis)] = *weight;
            system[(COUNT + axis, i)] = *weight;
        }
    }
    for (axis, value) in wanted.array().into_iter().enumerate() {
        right[COUNT + axis] = value;
    }
    for (row, (i, value)) in fixed.into_iter().enumerate() {
        system[(i, COUNT + 3 + row)] = 1.0;
        system[(COUNT + 3 + row, i)] = 1.0;
        right[COUNT + 3 + row] = value;
    }
    let solution = system.lu().solve(&right)?;
    let reflectance = solution.rows(0, COUNT).into_owned();
    reflectance.iter().all(|v| v.is_finite()).then_some(reflectance)
}
