use solid::SolidError;
use thiserror::Error;

/// Why a file can't be written.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum ExportError {
    /// The body can't be meshed or is no body.
    #[error(transparent)]
    Solid(#[from] SolidError),
    /// More than the format can count.
    #[error("{format} holds at most {limit} {what}; this has {found}: ask for a coarser mesh or fewer parts")]
    TooMuch {
        /// The format.
        format: &'static str,
        /// What is too many.
        what: &'static str,
        /// How many there are.
        found: usize,
        /// How many it holds.
        limit: usize,
    },
    /// Nothing to write.
    #[error("there is nothing to write into the {format} file: no part was given")]
    Empty {
        /// The format.
        format: &'static str,
    },
    /// The archive could not be put together.
    #[error("the {format} archive could not be put together: {reason}")]
    Archive {
        /// The format.
        format: &'static str,
        /// The library's words.
        reason: String,
    },
}
