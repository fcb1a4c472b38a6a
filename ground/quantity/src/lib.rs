//! Lengths and other sizes with their doubt and source; reading and printing "1/4 in", "6 mm".

mod general;
mod length;
mod read;

pub use general::{Class, Feature, GENERAL_TOLERANCES_CSV, general_tolerance};
pub use length::{Length, Note, Noted, Source, inch_label, mm_label};
pub use read::{QuantityError, parse_length_mm};
