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

/// Why STEP holds a body without something that is cut into it; it is in the meshes alone then.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
pub enum NotExact {
    /// Its form is made as a mesh only: flutes, knurls, marks.
    #[error("its form is made as a mesh only")]
    MeshOnly,
    /// A hole is tangent to an edge of the outline or of the bore.
    #[error("the hole touches the edge at {z_mm:.2} mm without crossing it; moved or made wider by 0.01 mm it is exact")]
    TouchesEdge {
        /// Where the edge is, from the rod end.
        z_mm: f64,
    },
    /// A surface turns back along the axis where it is cut.
    #[error("the surface that it cuts turns back along the axis there")]
    TurnsBack,
    /// A thread over more than one cylinder, or less than a turn of it.
    #[error("the thread runs over a step or a chamfer of the bore or is no full turn, so that the bore stands at its major diameter there")]
    RunsOut,
    /// Two cuts run into one another.
    #[error("it runs into a flat, a slot, a thread or another hole")]
    MeetsCut,
    /// A hole as wide as what it passes.
    #[error("the hole is as wide as the surface that it passes")]
    TooWide,
}
