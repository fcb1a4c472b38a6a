//! Flat parts: a photo is squared up by a known rectangle, circle or ruler in the part's plane; the outline is found by contrast or traced by a person, and told as lines and arcs.

mod contrast;
mod error;
mod pieces;
mod square;

pub use contrast::{Grey, found_outlines};
pub use error::FlatError;
pub use pieces::pieces;
pub use square::{Plane, Square, squared};
