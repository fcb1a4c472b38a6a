//! Chromatic adaptation: the colour that looks the same under another white.

use crate::{CieError, Xyz};
use nalgebra::{Matrix3, Vector3};

/// Which sharpened sensors adapt.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Adaptation {
    /// CAT16 (Li et al. 2017).
    #[default]
    Cat16,
    /// Bradford, linear: what embedded colour profiles use (ISO 15076-1).
    Bradford,
}

pub(crate) const CAT16: Matrix3<f64> =
    Matrix3::new(0.401288, 0.650173, -0.051461, -0.250268, 1.204414, 0.045854, -0.002079, 0.048952, 0.953127);
const BRADFORD: Matrix3<f64> = Matrix3::new(0.8951, 0.2664, -0.1614, -0.7502, 1.7135, 0.0367, 0.0389, -0.0685, 1.0296);

/// `xyz` seen under white `from` as it must be under white `to` to look the same, adaptation complete.
///
/// # Errors
/// A white that is not positive and finite, or one of colours so strong that a sensor sees nothing of it.
pub fn adapt(xyz: Xyz, from: Xyz, to: Xyz, adaptation: Adaptation) -> Result<Xyz, CieError> {
    let matrix = match adaptation {
        Adaptation::Cat16 => CAT16,
        Adaptation::Bradford => BRADFORD,
    };
    let (from, to) = (matrix * Vector3::from(from.array()), matrix * Vector3::from(to.array()));
    if from.iter().chain(to.iter()).any(|v| !(*v > 0.0 && v.is_finite())) {
        return Err(CieError::NotPositive { what: "a white" });
    }
    let sensed = (matrix * Vector3::from(xyz.array())).component_mul(&to).component_div(&from);
    let back = matrix.try_inverse().unwrap_or_else(Matrix3::identity) * sensed;
    Ok(Xyz::new(back[0], back[1], back[2]))
}
