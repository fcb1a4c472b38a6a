//! From a spectrum to XYZ and Lab: weights that hold light, observer and the way between the wavelengths.

use crate::light::{COUNT, FIRST_NM, LAST_NM, through};
use crate::{CieError, Lab, Light, Observer, Xyz, white, xyz_to_lab};
use std::sync::LazyLock;

/// The wavelengths used inside: 400 to 700 nm by 10 nm.
pub const WORKING_NM: [f64; 31] = {
    let mut nms = [0.0; 31];
    let mut i = 0;
    while i < 31 {
        nms[i] = 400.0 + 10.0 * i as f64;
        i += 1;
    }
    nms
};

/// The most wavelengths read in one spectrum: finer than 1 nm over the whole eye's range tells nothing more.
const MOST_WAVELENGTHS: usize = 2000;

/// What each wavelength of a spectrum adds to XYZ under one light for one observer.
///
/// The spectrum is read at 1 nm by the cubic through four neighbouring wavelengths (three in the end intervals of 360..780 nm), held
/// at its end values outside its own range, and summed with light and observer at 1 nm from 360 to 780 nm. For evenly spaced
/// wavelengths this is ASTM E308's table of weights (after E2022), so spiky lights are safe with 10 nm readings.
#[derive(Clone, Debug, PartialEq)]
pub struct Weights {
    nms: Vec<f64>,
    rows: Vec<[f64; 3]>,
    white: Xyz,
}

impl Weights {
    /// Weights for spectra read at `nms`.
    ///
    /// # Errors
    /// Wavelengths that are too few or too many, do not rise, leave out part of 420..680 nm, or gape by more than 20 nm.
    pub fn new(light: Light, observer: Observer, nms: &[f64]) -> Result<Weights, CieError> {
        check_wavelengths(nms)?;
        let knots = Knots::extended(nms);
        let mut rows = vec![[0.0; 3]; nms.len()];
        let mut power_sum = 0.0;
        for step in 0..COUNT {
            let (power, matching) = (light.power()[step], observer.matching()[step]);
            power_sum += power * matching[1];
            for (knot, share) in through(&knots.nms, (FIRST_NM + step) as f64, 4) {
                for (total, value) in rows[knots.owner(knot)].iter_mut().zip(matching) {
                    *total += share * power * value;
                }
            }
        }
        rows.iter_mut().flatten().for_each(|weight| *weight *= 100.0 / power_sum);
        Ok(Weights { nms: nms.to_vec(), rows, white: white(light, observer) })
    }

    /// The wavelengths, nm.
    pub fn nms(&self) -> &[f64] {
        &self.nms
    }

    /// X, Y, Z of each wavelength; they sum to the white.
    pub fn rows(&self) -> &[[f64; 3]] {
        &self.rows
    }

    /// White of the light for the observer.
    pub fn white(&self) -> Xyz {
        self.white
    }

    /// XYZ of a reflectance (0..1, one a wavelength).
    ///
    /// # Errors
    /// Another number of reflectances than wavelengths, or one that is not finite.
    pub fn xyz(&self, reflectance: &[f64]) -> Result<Xyz, CieError> {
        if reflectance.len() != self.rows.len() {
            return Err(CieError::ReflectanceCount { found: reflectance.len(), expected: self.rows.len() });
        }
        if reflectance.iter().any(|r| !r.is_finite()) {
            return Err(CieError::NotFinite { what: "a reflectance" });
        }
        let mut sum = [0.0; 3];
        for (r, row) in reflectance.iter().zip(&self.rows) {
            for (total, weight) in sum.iter_mut().zip(row) {
                *total += r * weight;
            }
        }
        Ok(sum.into())
    }

    /// Lab of a reflectance, against the light's own white; errors as [`Weights::xyz`].
    pub fn lab(&self, reflectance: &[f64]) -> Result<Lab, CieError> {
        Ok(xyz_to_lab(self.xyz(reflectance)?, self.white))
    }
}

/// Weights of [`WORKING_NM`] under D65 for 2 degrees, made once.
pub fn working() -> &'static Weights {
    static WORKING: LazyLock<Weights> = LazyLock::new(|| {
        // The working wavelengths pass every check of `new`; an empty table would only follow from a bug that all tests would see.
        Weights::new(Light::D65, Observer::TwoDegree, &WORKING_NM).unwrap_or(Weights { nms: vec![], rows: vec![], white: Xyz::default() })
    });
    &WORKING
}

fn check_wavelengths(nms: &[f64]) -> Result<(), CieError> {
    if !(4..=MOST_WAVELENGTHS).contains(&nms.len()) {
        return Err(CieError::WavelengthCount { found: nms.len(), most: MOST_WAVELENGTHS });
    }
    if nms.iter().any(|nm| !nm.is_finite()) {
        return Err(CieError::NotFinite { what: "a wavelength" });
    }
    if let Some(index) = (1..nms.len()).find(|&i| nms[i] <= nms[i - 1]) {
        return Err(CieError::WavelengthOrder { index, nm: nms[index] });
    }
    let (from, to) = (nms[0], nms[nms.len() - 1]);
    if from > 420.0 || to < 680.0 {
        return Err(CieError::WavelengthRange { from, to });
    }
    let gap = nms.windows(2).find(|pair| pair[1] - pair[0] > 20.0 && pair[1] > 400.0 && pair[0] < 700.0);
    gap.map_or(Ok(()), |pair| Err(CieError::WavelengthGap { from: pair[0], to: pair[1] }))
}

/// The spectrum's wavelengths, continued at their end spacing until 360..780 nm is covered; the added ones take the end values.
struct Knots {
    nms: Vec<f64>,
    before: usize,
    own: usize,
}

impl Knots {
    fn extended(nms: &[f64]) -> Knots {
        let (first, last) = (nms[0], nms[nms.len() - 1]);
        // At least 1 nm, so that a very fine end spacing cannot make an endless list.
        let low_step = (nms[1] - first).max(1.0);
        let high_step = (last - nms[nms.len() - 2]).max(1.0);
        let before = ((first - FIRST_NM as f64) / low_step).ceil().max(0.0) as usize;
        let after = ((LAST_NM as f64 - last) / high_step).ceil().max(0.0) as usize;
        let low = (1..=before).rev().map(|i| first - i as f64 * low_step);
        let high = (1..=after).map(|i| last + i as f64 * high_step);
        Knots { nms: low.chain(nms.iter().copied()).chain(high).collect(), before, own: nms.len() }
    }

    /// Which wavelength of the spectrum stands behind a knot.
    fn owner(&self, knot: usize) -> usize {
        knot.saturating_sub(self.before).min(self.own - 1)
    }
}
