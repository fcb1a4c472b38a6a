use thiserror::Error;

/// Why something could not be checked.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum CheckError {
    /// A number that is not finite or out of its limits.
    #[error("{what} is {found}; expected {expected}")]
    Number {
        /// Which one.
        what: &'static str,
        /// As found.
        found: f64,
        /// What would do.
        expected: &'static str,
    },
    /// Nothing to judge.
    #[error("no {what} were given; at least {least} are needed")]
    TooFew {
        /// What is missing.
        what: &'static str,
        /// How many would do.
        least: usize,
    },
    /// More than is judged at once.
    #[error("{found} {what} were given; at most {most} are judged at once: split them")]
    TooMany {
        /// Of what.
        what: &'static str,
        /// Given.
        found: usize,
        /// Allowed.
        most: usize,
    },
    /// A size too small or too large for the general tolerances.
    #[error("ISO 2768-1 gives no class {class} tolerance for {nominal} ({feature}); write the tolerance beside the size")]
    NoGeneralTolerance {
        /// f, m, c or v.
        class: char,
        /// Size, mm or degrees' leg.
        nominal: f64,
        /// What kind of size.
        feature: &'static str,
    },
    /// Pins that contradict each other.
    #[error("the {larger_mm} mm pin enters but the {smaller_mm} mm pin does not; clean the bore and the pins and try both again")]
    PinsContradict {
        /// The larger.
        larger_mm: f64,
        /// The smaller.
        smaller_mm: f64,
    },
    /// No such plan in the table.
    #[error("no plan for a lot of {lot} at AQL {aql}; lots of 2 to 500 and AQL 0.65, 1.0, 1.5, 2.5, 4.0, 6.5, 10 or 15 are in the table")]
    NoPlan {
        /// Lot.
        lot: u32,
        /// Acceptable quality limit, percent.
        aql: f64,
    },
    /// Counts that cannot be.
    #[error("{part} of {whole} {what} cannot be; correct the count")]
    Count {
        /// Of what.
        what: &'static str,
        /// The part.
        part: u64,
        /// The whole.
        whole: u64,
    },
}

/// `value` when finite and within `low..=high`.
pub(crate) fn within(what: &'static str, value: f64, low: f64, high: f64, expected: &'static str) -> Result<f64, CheckError> {
    if value.is_finite() && (low..=high).contains(&value) { Ok(value) } else { Err(CheckError::Number { what, found: value, expected }) }
}

/// A length a bench can measure, mm.
pub(crate) fn length(what: &'static str, mm: f64) -> Result<f64, CheckError> {
    within(what, mm, 0.0, 1e5, "0 to 100000 mm")
}

/// A doubt that is really one.
pub(crate) fn doubt(what: &'static str, mm: f64) -> Result<f64, CheckError> {
    within(what, mm, 1e-9, 1e4, "a standard uncertainty above 0; 0.02 mm is fair for a caliper")
}
