use thiserror::Error;

/// Why nothing could be said about a pot.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum TintError {
    /// A value that cannot be.
    #[error("{place}: {found} is not possible; expected {expected}")]
    Value {
        /// Where: "colourant `black`, drop_ul".
        place: String,
        /// What stands there.
        found: f64,
        /// What would do.
        expected: &'static str,
    },
    /// A dose of something that is not among the colourants.
    #[error("{place} names the colourant `{name}`, which is not on the shelf; known are {known}")]
    UnknownColourant {
        /// Where.
        place: String,
        /// As written.
        name: String,
        /// All names.
        known: String,
    },
    /// Two colourants of one name.
    #[error("two colourants are called `{name}`; give each its own name")]
    TwoAlike {
        /// The name.
        name: String,
    },
    /// More than this crate will look at.
    #[error("{found} {what} were given; at most {most} are looked at")]
    TooMany {
        /// Of what.
        what: &'static str,
        /// How many.
        found: usize,
        /// The most.
        most: usize,
    },
    /// Grams without a density.
    #[error("{place}: grams need the density of `{name}` in g/mL; give it, or give drops")]
    NoDensity {
        /// Where.
        place: String,
        /// Of what.
        name: String,
    },
    /// A spectrum of the wrong length.
    #[error("{place}: {found} reflectances were given; 31 are expected, 400 to 700 nm by 10 nm")]
    SpectrumLength {
        /// Where.
        place: String,
        /// How many.
        found: usize,
    },
    /// The chips contradict each other or the numbers broke down.
    #[error("the chips could not be fitted: {why}; look for a chip with wrong drops or a wrong reading")]
    Fit {
        /// In words.
        why: String,
    },
}
