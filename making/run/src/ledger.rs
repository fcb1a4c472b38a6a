//! The pot's ledger: what is in it, exactly, and what top-ups do to the tint.

use crate::RunError;
use crate::error::within;

/// A pot of tinted resin, in whole nanolitres so that a long list of entries adds up exactly.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Pot {
    held_nl: u64,
    tint_nl: u64,
}

/// A part of the total, 0..1: 2 g in 100 g of mixture. Not the same as added on the resin, see [`added_to_share`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Share(pub f64);

/// Share of the total when `added` parts go onto `resin` parts; 0 of nothing.
pub fn added_to_share(added: f64, resin: f64) -> Share {
    if added + resin > 0.0 { Share(added / (added + resin)) } else { Share(0.0) }
}

/// What to add to `resin` parts of a stock of `stock` strength so that the total has `wanted`.
///
/// # Errors
/// A stock that is no stronger than what is wanted.
pub fn share_to_added(wanted: Share, stock: Share, resin: f64) -> Result<f64, RunError> {
    if !(wanted.0 >= 0.0 && stock.0 > wanted.0 && stock.0 <= 1.0) {
        return Err(RunError::Number {
            what: "the strength of the stock",
            found: stock.0,
            expected: "a share of the total above the one wanted, at most 1",
        });
    }
    Ok(wanted.0 * resin / (stock.0 - wanted.0))
}

impl Pot {
    /// A pot of `resin_ml` with `tint_ml` of colourants in it.
    ///
    /// # Errors
    /// A volume that is negative, not finite or above 1000 L.
    pub fn mixed(resin_ml: f64, tint_ml: f64) -> Result<Pot, RunError> {
        let (resin, tint) = (nanolitres("the resin", resin_ml)?, nanolitres("the tint", tint_ml)?);
        Ok(Pot { held_nl: resin + tint, tint_nl: tint })
    }

    /// What is in it.
    pub fn held_ml(&self) -> f64 {
        self.held_nl as f64 / 1e6
    }

    /// Colourants in it, as a share of the total.
    pub fn tint(&self) -> Share {
        if self.held_nl == 0 { Share(0.0) } else { Share(self.tint_nl as f64 / self.held_nl as f64) }
    }

    /// After `used_ml` of the mixture have gone; what goes takes its part of the tint, to the nearest nanolitre.
    ///
    /// # Errors
    /// More than there is.
    pub fn used(self, used_ml: f64) -> Result<Pot, RunError> {
        let used = nanolitres("what is used", used_ml)?;
        if used > self.held_nl {
            return Err(RunError::PotDry { wanted_ml: used_ml, held_ml: self.held_ml() });
        }
        let held_nl = self.held_nl - used;
        let exact = u128::from(self.tint_nl) * u128::from(held_nl);
        let whole = u128::from(self.held_nl.max(1));
        Ok(Pot { held_nl, tint_nl: ((exact + whole / 2) / whole) as u64 })
    }

    /// After a top-up with `resin_ml` that holds `tint_ml` of colourants (0: untinted, which pales the colour).
    ///
    /// # Errors
    /// As [`Pot::mixed`].
    pub fn topped_up(self, resin_ml: f64, tint_ml: f64) -> Result<Pot, RunError> {
        let more = Pot::mixed(resin_ml, tint_ml)?;
        Ok(Pot { held_nl: self.held_nl.saturating_add(more.held_nl), tint_nl: self.tint_nl.saturating_add(more.tint_nl) })
    }
}

fn nanolitres(what: &'static str, ml: f64) -> Result<u64, RunError> {
    Ok((within(what, ml, 0.0, 1e6, "0 to 1000000 mL")? * 1e6).round() as u64)
}
