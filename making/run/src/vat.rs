//! The vat over a run: what it holds after each load and each top-up, and how far its tint drifts when top-ups are bare resin.

use crate::error::within;
use crate::{Pot, RunError};

/// One line of the vat's book.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct VatStep {
    /// Which load, from 1.
    pub load: u32,
    /// What was done.
    pub act: VatAct,
    /// What the vat holds after it, mL.
    pub held_ml: f64,
    /// Colourants in it, share of the total by volume.
    pub tint_share: f64,
}

/// What is done to a vat.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum VatAct {
    /// Filled for the first load with so many mL.
    Filled(f64),
    /// Topped up before a load with so many mL.
    ToppedUp(f64),
    /// A load was made, which took so many mL.
    Made(f64),
}

/// What tops the vat up.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TopUp {
    /// The same mix, made ahead in one go.
    SameMix,
    /// Bare resin, which pales what is left.
    Bare,
}

/// The book of a vat that is filled so that `keep_ml` still stands in it after each load, and topped up before the next.
///
/// # Errors
/// No load or more than 1000, a volume that is negative or no number, a tint that is no share.
pub fn vat(loads_ml: &[f64], keep_ml: f64, tint_share: f64, top_up: TopUp) -> Result<Vec<VatStep>, RunError> {
    within("the number of loads", loads_ml.len() as f64, 1.0, 1000.0, "1 to 1000")?;
    within("what stays in the vat", keep_ml, 0.0, 1e5, "0 to 100000 mL")?;
    within("the share of colourants", tint_share, 0.0, 1.0, "a share of the total, 0 to 1")?;
    loads_ml.iter().try_for_each(|ml| within("what a load takes", *ml, 0.0, 1e5, "0 to 100000 mL").map(|_| ()))?;
    let mixed = |ml: f64, share: f64| (ml * (1.0 - share), ml * share);
    let mut pot = Pot::mixed(0.0, 0.0)?;
    let mut book = Vec::new();
    for (n, &takes_ml) in loads_ml.iter().enumerate() {
        let (load, needed_ml) = (n as u32 + 1, (keep_ml + takes_ml - pot.held_ml()).max(0.0));
        let share = if n > 0 && top_up == TopUp::Bare { 0.0 } else { tint_share };
        let (resin_ml, tint_ml) = mixed(needed_ml, share);
        pot = pot.topped_up(resin_ml, tint_ml)?;
        let step = |act, pot: &Pot| VatStep { load, act, held_ml: pot.held_ml(), tint_share: pot.tint().0 };
        book.push(step(if n == 0 { VatAct::Filled(needed_ml) } else { VatAct::ToppedUp(needed_ml) }, &pot));
        // Rounded to whole nanolitres the vat may hold one less than is taken.
        pot = pot.used(takes_ml.min(pot.held_ml()))?;
        book.push(step(VatAct::Made(takes_ml), &pot));
    }
    Ok(book)
}
