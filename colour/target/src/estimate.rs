use crate::TargetError;
use nalgebra::{Matrix3, Vector3};
use quantity::Note;

/// A colour with its doubt.
#[derive(Clone, Debug, PartialEq)]
pub struct ColourEstimate {
    /// CIELAB, D65, 2 degrees.
    pub lab: [f64; 3],
    /// Covariance of L*, a*, b*.
    pub covariance: [[f64; 3]; 3],
}

impl ColourEstimate {
    /// From an entered reading with one sigma for each axis, independent. Errors when a number is not finite or a sigma negative.
    pub fn entered(lab: [f64; 3], sigma: [f64; 3]) -> Result<ColourEstimate, TargetError> {
        let bad = lab.iter().chain(&sigma).find(|v| !v.is_finite() || v.abs() > 1000.0).or(sigma.iter().find(|s| **s < 0.0));
        if let Some(&value) = bad {
            return Err(TargetError::BadNumber {
                what: "an entered colour".into(),
                value,
                expected: "Lab and sigmas must be ordinary numbers".into(),
            });
        }
        Ok(ColourEstimate { lab, covariance: Matrix3::from_diagonal(&Vector3::from(sigma.map(|s| s * s))).into() })
    }

    /// One sigma of each axis.
    pub fn sigma(&self) -> [f64; 3] {
        std::array::from_fn(|i| self.covariance[i][i].max(0.0).sqrt())
    }
}

/// A colour read in a photo.
#[derive(Clone, Debug, PartialEq)]
pub struct ColourReading {
    /// CIELAB, D65, 2 degrees.
    pub lab: [f64; 3],
    /// Covariance of Lab, everything counted in.
    pub covariance: [[f64; 3]; 3],
    /// One sigma of each axis.
    pub sigma: [f64; 3],
    /// Reflectance as linear sRGB, 0..1.
    pub linear_rgb: [f64; 3],
    /// Part of the covariance that is this spot's own (shading, gloss, noise).
    pub own_covariance: [[f64; 3]; 3],
    /// Doubt of the light, covariance of ln R, ln G, ln B: common to all readings in one photo.
    pub light_covariance: [[f64; 3]; 3],
    /// Doubt that the camera's colours bring, one sigma of a* and b* each: common to all readings in one photo.
    pub camera_sigma: f64,
    /// One sigma of ln luminance that all flat chips of a photo share, for they lie and shine alike; counted in `own_covariance`. 0 where it is no flat chip.
    pub flat_level_sigma: f64,
    /// Which photo and light: readings with the same text share both.
    pub source: String,
    /// Pixels that were used.
    pub pixels: usize,
    /// Share of the region that was burnt out and left aside.
    pub clipped_share: f64,
    /// Share of the light from the region that was gloss rather than body; 0 where it was not looked for.
    pub gloss_share: f64,
    /// Lightest over darkest fifth of the body's shading: 1 when evenly lit.
    pub shading_ratio: f64,
    /// How far the surface itself varies in colour from place to place, one standard deviation of L*, a*, b* (mottle, wear, grain; noise
    /// of the photo included).
    pub mottle: [f64; 3],
}

impl ColourReading {
    /// The colour and its doubt alone.
    pub fn estimate(&self) -> ColourEstimate {
        ColourEstimate { lab: self.lab, covariance: self.covariance }
    }
}

/// What a reading's parts amount to: own doubt in Lab, the light's in ln RGB, the camera's in a* and b*.
pub(crate) fn total_covariance(linear_rgb: [f64; 3], own: Matrix3<f64>, light: Matrix3<f64>, camera_sigma: f64) -> Matrix3<f64> {
    let jacobian = lab_by_ln_rgb(linear_rgb);
    own + jacobian * light * jacobian.transpose() + Matrix3::from_diagonal(&Vector3::new(0.0, camera_sigma.powi(2), camera_sigma.powi(2)))
}

/// A difference of two colours in one photo.
#[derive(Clone, Debug, PartialEq)]
pub struct Difference {
    /// Second less first: L*, a*, b*.
    pub lab: [f64; 3],
    /// Covariance; the common light's doubt is taken out.
    pub covariance: [[f64; 3]; 3],
    /// One sigma of each axis.
    pub sigma: [f64; 3],
    /// CIEDE2000 between the two.
    pub de00: f64,
    /// What is doubtful about it.
    pub notes: Vec<Note>,
}

/// Share of the difference in a* and b* that a camera with uncorrected colours gets wrong (one sigma), where its error in the colours
/// themselves is 6 % of their chroma: see `light::CAMERA_SHARE`. Nearby colours share most of the error.
const CAMERA_DIFFERENCE_SHARE: f64 = 0.1;

/// The difference of two readings in the same photo and light, from `first` to `second`. Surer than the readings: the doubt of the light and
/// most of the camera's cancel. Errors when the readings are from different lights.
pub fn difference(first: &ColourReading, second: &ColourReading) -> Result<Difference, TargetError> {
    if first.source != second.source {
        return Err(TargetError::DifferentLights { first: first.source.clone(), second: second.source.clone() });
    }
    let lab: [f64; 3] = std::array::from_fn(|i| second.lab[i] - first.lab[i]);
    let jacobian = lab_by_ln_rgb(second.linear_rgb) - lab_by_ln_rgb(first.linear_rgb);
    let light = Matrix3::from(first.light_covariance);
    let camera = Vector3::new(0.0, (CAMERA_DIFFERENCE_SHARE * lab[1]).powi(2), (CAMERA_DIFFERENCE_SHARE * lab[2]).powi(2));
    // nalgebra reads arrays by columns; all of these are symmetric.
    let own = Matrix3::from(first.own_covariance) + Matrix3::from(second.own_covariance) - shared_level(first, second);
    let covariance = own + jacobian * light * jacobian.transpose() + Matrix3::from_diagonal(&camera);
    let de00 = cie::ciede2000(first.lab, second.lab);
    let sigma: [f64; 3] = std::array::from_fn(|i| covariance[(i, i)].max(0.0).sqrt());
    let mut notes = Vec::new();
    if sigma[0] > 1.5 {
        let text = format!("The difference in lightness is known to {:.1} only: the two are shaded differently.", sigma[0]);
        notes.push(Note::new(text, "Lay both flat beside each other, facing the same way, and take the photo again."));
    }
    Ok(Difference { lab, covariance: covariance.into(), sigma, de00, notes })
}

/// What two flat chips' own doubts have in common, and what cancels but for how differently it moves the two.
fn shared_level(first: &ColourReading, second: &ColourReading) -> Matrix3<f64> {
    let by_level =
        |reading: &ColourReading| lab_by_ln_rgb(reading.linear_rgb) * Vector3::repeat(first.flat_level_sigma.min(second.flat_level_sigma));
    let (a, b) = (by_level(first), by_level(second));
    a * b.transpose() + b * a.transpose()
}

/// Lab of linear sRGB.
pub(crate) fn lab_of_linear(rgb: [f64; 3]) -> [f64; 3] {
    cie::xyz_to_lab(cie::srgb_linear_to_xyz(rgb), cie::srgb_white()).array()
}

/// Linear sRGB of Lab.
pub(crate) fn linear_of_lab(lab: [f64; 3]) -> [f64; 3] {
    cie::xyz_to_srgb_linear(cie::lab_to_xyz(lab.into(), cie::srgb_white()))
}

/// Derivatives of Lab by ln R, ln G, ln B, by central differences of 1e-4.
pub(crate) fn lab_by_ln_rgb(rgb: [f64; 3]) -> Matrix3<f64> {
    const STEP: f64 = 1e-4;
    let columns = [0, 1, 2].map(|i| {
        let moved = |factor: f64| {
            let mut at = rgb;
            at[i] *= factor;
            Vector3::from(lab_of_linear(at))
        };
        (moved(1.0 + STEP) - moved(1.0 - STEP)) / (2.0 * STEP)
    });
    Matrix3::from_columns(&columns)
}
