//! Bytes to an upright linear picture with the camera's facts; limits on untrusted files.

mod picture;

pub use picture::Picture;
