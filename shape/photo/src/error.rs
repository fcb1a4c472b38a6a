use thiserror::Error;

/// Why a file gave no picture. Each message says what was found, what was expected and the way out; the caller adds the file's name.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum PhotoError {
    /// No bytes at all.
    #[error("the file is empty; copy the photo again")]
    Empty,
    /// More bytes than allowed.
    #[error("the file has {bytes} bytes, more than the limit of {limit}; save the photo as a JPEG of ordinary quality")]
    TooManyBytes {
        /// Found.
        bytes: usize,
        /// Allowed.
        limit: usize,
    },
    /// Not a format that is read here.
    #[error("this is not a picture that can be read here ({looks_like}); JPEG and PNG are read: save or export the photo as one of them")]
    NotAPicture {
        /// What the first bytes look like.
        looks_like: String,
    },
    /// A JPEG or PNG of a kind that is not read.
    #[error("this {format} is of a kind that is not read here: {kind}; save it again as an ordinary 8-bit RGB JPEG, or as PNG")]
    Unsupported {
        /// "JPEG" or "PNG".
        format: &'static str,
        /// Which kind.
        kind: String,
    },
    /// Larger than the limits, known from the header alone.
    #[error(
        "the picture is {width_px} x {height_px} px, more than the limit of {max_side_px} px a side and {max_pixels} px in all; scale it down"
    )]
    TooLarge {
        /// From the header.
        width_px: usize,
        /// From the header.
        height_px: usize,
        /// Allowed.
        max_side_px: usize,
        /// Allowed.
        max_pixels: usize,
    },
    /// Too small to measure in.
    #[error(
        "the picture is {width_px} x {height_px} px; at least {min_side_px} px a side are needed (is it a thumbnail? use the full photo)"
    )]
    TooSmall {
        /// From the header.
        width_px: usize,
        /// From the header.
        height_px: usize,
        /// Needed.
        min_side_px: usize,
    },
    /// The data ends before the picture does.
    #[error("the {format} is cut short: {detail}; copy the photo again from the camera or the person who took it")]
    Truncated {
        /// "JPEG" or "PNG".
        format: &'static str,
        /// Where it ends.
        detail: String,
    },
    /// The data is all there but makes no sense.
    #[error("the {format} is damaged: {detail}; copy the photo again from the camera or the person who took it")]
    Damaged {
        /// "JPEG" or "PNG".
        format: &'static str,
        /// What the decoder met.
        detail: String,
    },
    /// A thumbnail could not be written.
    #[error("the small picture could not be written: {detail}; this is a fault of the program, not of the photo")]
    Thumbnail {
        /// The encoder's words.
        detail: String,
    },
}
