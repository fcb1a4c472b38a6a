//! Results to the job sheet: one page of HTML, pages of PDF, and the pictures on them.
//!
//! Screen and paper are one thing: every station of the job is first a [`Station`] (question, answer, pictures, numbers, doubts), built by one
//! function each in `stations/`; `page` sets stations as HTML and `paper` sets them as PDF. Words and pictures are the same on both.

mod cautions;
mod fragments;
mod page;
mod paper;
pub mod pictures;
mod record;
mod station;
mod stations;
mod steps;
mod words;

pub use cautions::Material;
pub use fragments::{Fragments, Part, Place, fragments};
pub use page::{contents, html, masthead, section, section_html, style, title_block};
pub use paper::{CHECK_MM, LABEL_MM, gauge, gauge_pdf, has_label, label, label_pdf, pdf, record_pdf, steps_pdf};
pub use station::{Block, Cell, Doubt, Emphasis, State, Station, Table, Want};
pub use stations::{all, body, check, colour, evidence, outline, pot, profile, run, sizes};
pub use steps::{Step, steps};

pub use ink::pdf::Paper;

use ink::Figure;
use job::Document;
use result::JobResult;

/// Everything that goes onto a job sheet.
#[derive(Clone, Copy, Debug)]
pub struct JobSheet<'a> {
    /// What the person wrote: title, maker, date, what is known, what was decided.
    pub document: &'a Document,
    /// What it came to.
    pub result: &'a JobResult,
    /// Small pictures of the photos, by their names in the document.
    pub photos: &'a [SheetPhoto],
    /// The section drawing, if a body was made.
    pub section: Option<&'a Figure>,
    /// What is handled on the way, for the cautions.
    pub materials: &'a [Material],
    /// Whether the numbers are invented, to show what a sheet looks like: it is then said on every page.
    pub sample: bool,
}

/// A photo as the sheet shows it.
#[derive(Clone, Debug, PartialEq)]
pub struct SheetPhoto {
    /// Its name in the document.
    pub name: String,
    /// A baseline RGB JPEG of the cut-out.
    pub jpeg: Vec<u8>,
    /// The cut-out in the upright picture, px: left, top, width, height.
    pub crop_px: [f64; 4],
}

/// What can keep a sheet from being printed.
#[derive(Debug, thiserror::Error, PartialEq, Eq)]
pub enum SheetError {
    /// The pages could not be written.
    #[error("the sheet could not be printed: {0}")]
    Ink(#[from] ink::InkError),
}
