use thiserror::Error;

/// Why no outline could be found.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum OutlineError {
    /// The picture has too few pixels to hold a part and its rod.
    #[error(
        "the picture is {width_px} x {height_px} px; at least {least_px} px each way are needed: use the photograph as the camera wrote it"
    )]
    TooSmall {
        /// Width, px.
        width_px: usize,
        /// Height, px.
        height_px: usize,
        /// Least size each way, px.
        least_px: usize,
    },
    /// A click is no point of the picture.
    #[error(
        "the click at ({x:.1}, {y:.1}) lies outside the picture of {width_px} x {height_px} px; click again, in pixels of the upright picture"
    )]
    ClickOutside {
        /// Click, px.
        x: f64,
        /// Click, px.
        y: f64,
        /// Width, px.
        width_px: usize,
        /// Height, px.
        height_px: usize,
    },
    /// The two clicks do not tell a direction.
    #[error(
        "the two clicks are {distance_px:.1} px apart, at least {least_px:.0} are needed; click where the rod enters the part, then the part's free end"
    )]
    ClicksTooNear {
        /// Distance between them, px.
        distance_px: f64,
        /// Least distance, px.
        least_px: f64,
    },
    /// A trace with too few points, or points that are no numbers.
    #[error("the trace holds {usable} usable points around the part; at least 8 are needed: trace the part's edge all round")]
    BadTrace {
        /// Points left after dropping those that are not finite or far outside the picture.
        usable: usize,
    },
    /// Looked, and saw no part on a rod.
    #[error("no part on a rod was found in the picture: {reason}; click where the rod enters the part, then the part's free end")]
    NothingFound {
        /// What was missing.
        reason: &'static str,
    },
}
