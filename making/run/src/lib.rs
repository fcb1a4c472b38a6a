//! Starts, loads, plate packing, the pot's ledger, costs.
//!
//! Read [`plan`] first: it answers how many parts to start so that enough come out good, and what that takes.

mod cost;
mod error;
mod ledger;
mod outcome;
mod packing;
mod plan;
mod resin;
mod shuffle;
mod vat;

pub use cost::{Cost, LoadTime, Prices};
pub use error::RunError;
pub use ledger::{Pot, Share, added_to_share, share_to_added};
pub use outcome::{Belief, Experience, LoadLoss, Yield, chance, mean_starts};
pub use packing::{Packing, Plate, pack};
pub use plan::{Assumption, Plan, PlanInput, plan, plan_packed_by};
pub use resin::{Extras, ResinNeed, resin_need};
pub use vat::{TopUp, VatAct, VatStep, vat};
