use thiserror::Error;

/// Why a run cannot be planned.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum RunError {
    /// Nothing, or more than a bench makes, is wanted.
    #[error("{found} parts are wanted; between 1 and {most} can be planned: set [run] wanted")]
    Wanted {
        /// As asked.
        found: u32,
        /// The most that is planned.
        most: u32,
    },
    /// A certainty outside what can be promised.
    #[error("a certainty of {found} was asked for; it must lie between 0.5 and 0.9999, for example 0.95: set [run] certainty")]
    Certainty {
        /// As asked.
        found: f64,
    },
    /// More good parts than were made.
    #[error("{good} good of {made} made cannot be; count the good ones among those made: correct [run] made, good")]
    Experience {
        /// Made.
        made: u32,
        /// Good.
        good: u32,
    },
    /// A number that must be finite and within limits.
    #[error("{what} is {found}; expected {expected}")]
    Number {
        /// Which one.
        what: &'static str,
        /// As found.
        found: f64,
        /// What would do.
        expected: &'static str,
    },
    /// The part is larger than the plate.
    #[error(
        "a part of {diameter_mm} mm does not fit on a plate of {width_mm} x {depth_mm} mm; give a larger plate or stand the part otherwise: [run] plate"
    )]
    DoesNotFit {
        /// Footprint.
        diameter_mm: f64,
        /// Plate.
        width_mm: f64,
        /// Plate.
        depth_mm: f64,
    },
    /// So few come out good that no sensible number of starts is enough.
    #[error(
        "even {most} starts do not give {wanted} good parts at the certainty asked for; find out why parts fail before a run of this size"
    )]
    OutOfReach {
        /// Parts wanted.
        wanted: u32,
        /// Starts tried.
        most: u32,
    },
    /// More is taken from a pot than is in it.
    #[error("{wanted_ml} mL are taken from a pot that holds {held_ml} mL; mix more, or take less")]
    PotDry {
        /// Taken.
        wanted_ml: f64,
        /// Held.
        held_ml: f64,
    },
}

/// `value` when finite and within `low..=high`.
pub(crate) fn within(what: &'static str, value: f64, low: f64, high: f64, expected: &'static str) -> Result<f64, RunError> {
    if value.is_finite() && (low..=high).contains(&value) { Ok(value) } else { Err(RunError::Number { what, found: value, expected }) }
}
