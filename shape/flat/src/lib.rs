//! Flat parts: a photo is squared up by a known rectangle, circle or ruler in the part's plane; the outline is found by contrast or traced by a person, and told as lines, arcs and smooth curves.

mod contrast;
mod curves;
mod error;
mod pieces;
mod row;
mod segment;
mod square;

pub use contrast::{Grey, found_outlines};
pub use error::FlatError;
pub use pieces::pieces;
pub use square::{Plane, Square, squared};
