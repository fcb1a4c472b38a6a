//! Vector pictures in millimetres, written as SVG and as PDF pages.
//!
//! A [`Figure`] is a list of marks on a sheet of `width_mm` x `height_mm`, origin at the top left, y down. One list serves the screen
//! (SVG), the paper (PDF) and the tests, so that what is seen and what is printed can't differ.

mod base64;
mod face;
mod letter_lines;
mod mark;
pub mod palette;
pub mod pdf;
mod pen;
mod svg;

pub use base64::base64;
pub use face::{fits_mm, font_bytes, text_width_mm, wrap_mm};
pub use letter_lines::{LetterLines, letter_lines};
pub use mark::{Anchor, Face, Figure, Mark, Paint, Step, Stroke};
pub use pen::{circle_steps, polygon_steps, polyline_steps, rect_steps};
pub use svg::{FACES, Fonts, Photos, Reading, SvgOptions, font_face_css, photos_in, photos_on_page};

/// What can keep pages from being written.
#[derive(Debug, thiserror::Error, PartialEq, Eq)]
pub enum InkError {
    /// A page has no extent, or an endless one.
    #[error("page {page} is {width} x {height} mm; expected 10 to 5000 mm each way; give the page a paper size")]
    PageSize {
        /// Which page, from 1.
        page: usize,
        /// Width, mm, as given.
        width: String,
        /// Height, mm, as given.
        height: String,
    },
    /// A photo on a page can't be read.
    #[error("a picture on page {page} can't be read as JPEG ({why}); give a baseline JPEG file")]
    Photo {
        /// Which page, from 1.
        page: usize,
        /// What the reader said.
        why: String,
    },
    /// More pages than anyone would print.
    #[error("{found} pages; at most {most} are written; split the job")]
    TooManyPages {
        /// Pages asked for.
        found: usize,
        /// Most that are written.
        most: usize,
    },
    /// The writer refused.
    #[error("the PDF could not be put together ({0}); report it with the job folder")]
    Writer(String),
}
