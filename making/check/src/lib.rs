//! Readings of made parts to verdicts, tone lots, and what the bench has learnt.
//!
//! Sizes first ([`judge`], [`judge_by_pins`]), then how far a few parts speak for all ([`Capability`], [`bad_share_bounds`], [`small_lot`]),
//! then colours ([`judge_colour`], [`tone_lots`], [`matched_pairs`], [`against`]), and last what is kept for the next time ([`Bench`]).

mod bench;
mod capability;
mod colour;
mod error;
mod general;
mod learn;
mod over;
mod pins;
mod sampling;
mod size;
mod tone;

pub use bench::{Bench, CureRecord, Kind, RunRecord, SizeRecord, StrengthRecord, StripRecord};
pub use capability::{Capability, capability, capability_of};
pub use colour::{ColourJudged, judge_colour};
pub use error::CheckError;
pub use general::general_tolerance;
pub use learn::{Estimate, Learnt, LearntYield, combine, learn};
pub use over::{Off, laid_over};
pub use pins::{PinTry, PinVerdict, judge_by_pins};
pub use quantity::{Class, Feature};
pub use sampling::{
    LotPlan, accept_chance_binomial, accept_chance_of_lot, bad_in_lot_bound, bad_share_bounds, inspect_for, small_lot, zero_failure_bound,
};
pub use size::{CALIPER_SIGMA_MM, Judged, Limits, Reading, Side, Verdict, judge, mean_reading};
pub use tone::{Against, Pair, ToneLot, against, matched_pairs, tone_lots};
