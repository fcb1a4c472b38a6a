//! Lengths and other sizes with their doubt and source; reading and printing "1/4 in", "6 mm".

mod length;
mod read;

pub use length::{Length, Note, Noted, Source, inch_label, mm_label};
pub use read::{QuantityError, parse_length_mm};
