//! How much tinted resin a run takes.

use crate::RunError;
use crate::error::within;

/// What goes in beside the parts themselves.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Extras {
    /// Supports and feet, as a share of the parts' volume.
    pub supports_share: f64,
    /// What sticks to parts, vat and cups, as a share of parts with supports.
    pub loss_share: f64,
    /// What must still stand in the vat when the last layer is made, mL.
    pub vat_least_ml: f64,
}

impl Default for Extras {
    /// Supports 30 %, loss 10 %: common practice, no source. No least filling of the vat is known.
    fn default() -> Self {
        Extras { supports_share: 0.30, loss_share: 0.10, vat_least_ml: 0.0 }
    }
}

/// Resin by what it is for, mL.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ResinNeed {
    /// In the parts.
    pub parts_ml: f64,
    /// In supports and feet.
    pub supports_ml: f64,
    /// Lost on surfaces.
    pub loss_ml: f64,
    /// Left in the vat.
    pub vat_ml: f64,
    /// All of it: mix this much at once, since an untinted top-up changes the colour.
    pub total_ml: f64,
}

/// Resin for `start` parts of `part_ml` each.
///
/// # Errors
/// A volume or share that is negative, not finite, or beyond a bench (part above 100 L, shares above 10, vat above 1000 L).
pub fn resin_need(start: u32, part_ml: f64, extras: Extras) -> Result<ResinNeed, RunError> {
    within("the part's volume", part_ml, 0.0, 1e5, "0 to 100000 mL")?;
    within("the share of supports", extras.supports_share, 0.0, 10.0, "a share of the part's volume, 0 to 10")?;
    within("the share of resin lost", extras.loss_share, 0.0, 10.0, "a share of what is printed, 0 to 10")?;
    within("the vat's least filling", extras.vat_least_ml, 0.0, 1e6, "0 to 1000000 mL")?;
    let parts_ml = f64::from(start) * part_ml;
    let supports_ml = parts_ml * extras.supports_share;
    let loss_ml = (parts_ml + supports_ml) * extras.loss_share;
    let vat_ml = extras.vat_least_ml;
    Ok(ResinNeed { parts_ml, supports_ml, loss_ml, vat_ml, total_ml: parts_ml + supports_ml + loss_ml + vat_ml })
}
