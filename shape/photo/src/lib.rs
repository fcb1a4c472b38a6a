//! Bytes to an upright linear picture with the camera's facts; limits on untrusted files.
//!
//! [`decode`] reads a JPEG or PNG, refuses what is too large by its header before memory is taken, refuses what is cut short (a
//! picture with missing data is no evidence), converts an embedded colour profile to sRGB, turns the picture upright and keeps what
//! the camera wrote down. [`CameraFacts::focal_guesses`] says what those facts mean for the focal length in px.

mod decode;
mod error;
mod exif_facts;
mod focal;
mod jpeg_file;
mod picture;
mod png_file;
mod profile_to_srgb;
mod thumbnail;
mod upright;

pub use decode::{Limits, Photo, decode};
pub use error::PhotoError;
pub use exif_facts::CameraFacts;
pub use focal::{FocalGuess, focal_from_35mm};
pub use picture::Picture;
pub use thumbnail::{Crop, jpeg_thumbnail};
