use thiserror::Error;

/// Why a photo can't be squared up, or an outline not be told.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum FlatError {
    /// Clicks or sizes that make no square.
    #[error("the photo can't be squared up: {why}")]
    Square {
        /// What is wrong and what was expected.
        why: String,
    },
    /// Nothing like an outline.
    #[error("no outline was found: {why}")]
    Outline {
        /// What is wrong and the way out.
        why: String,
    },
}

impl FlatError {
    pub(crate) fn square(why: impl Into<String>) -> FlatError {
        FlatError::Square { why: why.into() }
    }

    pub(crate) fn outline(why: impl Into<String>) -> FlatError {
        FlatError::Outline { why: why.into() }
    }
}
