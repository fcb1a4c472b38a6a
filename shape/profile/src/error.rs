use thiserror::Error;

/// Why no profile could be fitted. Weak evidence is no error: it widens the doubt.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum ProfileError {
    /// No view was given.
    #[error("there is no view to fit; give at least one photo with its outline and a rod of known diameter")]
    NoViews,
    /// Too many views at once.
    #[error("{found} views at once are too many; at most {most} are fitted together")]
    TooManyViews {
        /// Views given.
        found: usize,
        /// The limit.
        most: usize,
    },
    /// Too few points to say anything.
    #[error("view `{view}` has {found} usable points on {what}; at least {least} are needed: trace it by hand or mark the axis anew")]
    TooFewPoints {
        /// The view.
        view: String,
        /// "the part" or "the rod's edges".
        what: &'static str,
        /// Usable points.
        found: usize,
        /// The least.
        least: usize,
    },
    /// More points than any picture has edges.
    #[error("view `{view}` has {found} points on one edge; at most {most} are taken, and pictures up to a million px a side")]
    TooLarge {
        /// The view.
        view: String,
        /// Points given.
        found: usize,
        /// The limit.
        most: usize,
    },
    /// The rod's edges do not bound a cylinder in front of the camera.
    #[error(
        "the rod's edges in view `{view}` cannot be a cylinder's: {reason}; check the two clicks on the axis or trace the outline by hand"
    )]
    NoRod {
        /// The view.
        view: String,
        /// What is wrong.
        reason: &'static str,
    },
    /// A size that is none.
    #[error("`{name}` is {found} mm; expected a positive finite size")]
    NotASize {
        /// What it is.
        name: String,
        /// What was given.
        found: f64,
    },
    /// The fit went nowhere.
    #[error(
        "view `{view}`: the outline and the rod do not fit any turned body; check the two clicks on the axis or trace the outline by hand"
    )]
    NoBody {
        /// The view.
        view: String,
    },
}
