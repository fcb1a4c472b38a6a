//! Sample chips to colourants' optics; recipes; what to mix next; cure depth.
//!
//! [`learn`] turns a [`Bench`] (resin, bottles, cured chips) into a [`Model`]; [`recipes`] finds the whole-drop mixes that come nearest to a
//! [`Goal`]; [`next_chip`] says what to cure next, or that it is enough. Volumes are mL, drops uL, spectra 400 to 700 nm by 10 nm.

mod advice;
#[cfg(test)]
mod answer_tests;
mod ball;
mod bench;
mod correct;
mod cure;
mod dosing;
mod error;
mod forward;
mod goal;
mod lattice;
mod law_error;
mod learn;
#[cfg(test)]
mod learn_tests;
mod ledger;
mod next;
mod optics;
mod optimum;
mod prior;
mod recipes;
mod scale;
mod search;
#[cfg(test)]
mod search_tests;
mod task;
mod told;
mod words;

pub use bench::{Backing, Bench, Chip, Colourant, Dose, Reading, Resin};
pub use correct::{Addition, corrections};
pub use cure::{Doubted, Strip, WorkingCurve, exposure_factor};
pub use dosing::{
    Balance, DilutionStep, OfTotal, OnResin, Pipette, StockPlan, StockStep, Tool, drop_by_tension, drop_of_tip_ul, in_a_row,
    short_by_rounding, stock_in_total, stock_onto_resin, stock_plan,
};
pub use error::TintError;
pub use goal::{Amounts, Goal, Odds, Wanted};
pub use learn::{Model, Prediction, Spectra, learn};
pub use ledger::{Act, Contents, Drift, Entry, Ledger, Nanolitres, Part, TopUp};
pub use next::{NextChip, next_chip};
pub use optics::{BANDS, Film, Spectrum, Surface, film};
pub use prior::{Shelf, Twin};
pub use recipes::{Merit, Recipe, nearest_mix, recipes};
pub use scale::{Batch, ScaleLine, Slip, check_scale};
pub use told::Known;

/// An answer with what is doubtful about it.
#[derive(Clone, Debug, PartialEq)]
pub struct Noted<T> {
    /// The answer.
    pub value: T,
    /// Doubts, each with its way out.
    pub notes: Vec<Note>,
}

/// A doubt.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Note {
    /// What is doubtful.
    pub text: String,
    /// What would settle it.
    pub settle: String,
}
