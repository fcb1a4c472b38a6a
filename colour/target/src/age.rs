use crate::{ColourEstimate, TargetError};
use nalgebra::Matrix3;

/// A shift of the made part's colour that was measured and entered: by the cure, by months on a shelf. Never invented here.
#[derive(Clone, Debug, PartialEq)]
pub struct Drift {
    /// How far L*, a*, b* move.
    pub lab: [f64; 3],
    /// One sigma of each.
    pub sigma: [f64; 3],
    /// What causes it and who measured it.
    pub source: String,
}

/// A place on the way from the colour as new to the colour as it is now: `share` 0 is new, 1 is now. The way is straight in Lab, and the doubt
/// is that of the two ends, independent of each other.
pub fn aged(new: &ColourEstimate, now: &ColourEstimate, share: f64) -> Result<ColourEstimate, TargetError> {
    if !(0.0..=1.0).contains(&share) {
        let expected = "it must lie between 0 (as new) and 1 (as it is now)".into();
        return Err(TargetError::BadNumber { what: "the place between new and now".into(), value: share, expected });
    }
    let lab = std::array::from_fn(|i| (1.0 - share) * new.lab[i] + share * now.lab[i]);
    let covariance = Matrix3::from(new.covariance) * (1.0 - share).powi(2) + Matrix3::from(now.covariance) * share.powi(2);
    Ok(ColourEstimate { lab, covariance: covariance.into() })
}

/// The colour to aim at on the day the part is judged against its recipe, so that after the entered drifts it is the wanted one: wanted less the drifts, their
/// doubts added.
pub fn aim_for(wanted: &ColourEstimate, drifts: &[Drift]) -> Result<ColourEstimate, TargetError> {
    let mut aim = wanted.clone();
    for drift in drifts {
        let checked = ColourEstimate::entered(drift.lab, drift.sigma)?;
        for i in 0..3 {
            aim.lab[i] -= checked.lab[i];
            aim.covariance[i][i] += checked.covariance[i][i];
        }
    }
    Ok(aim)
}
