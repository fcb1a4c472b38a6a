//! The job document `job.toml`: its types, reading with good errors, its schema, and the folder it is kept in.
//!
//! This is the only crate that writes a person's work. A document is read with [`read`], which collects everything that is wrong
//! with it, each with line, column, what was expected and the way out.

pub mod document;
mod edit;
mod history;
mod problem;
mod read;
mod shelf;
mod size;
mod store;
mod template;
mod verify;

pub use document::{Document, FORMAT};
pub use edit::{Edit, EditError, Where, apply, as_json, merge};
pub use history::{History, Standing};
pub use problem::{JobError, Problem};
pub use read::{MAX_DOCUMENT_BYTES, locate, read};
pub use shelf::{Shelf, ShelfBench, ShelfChip, ShelfColourant};
pub use size::{Size, Sizes};
pub use store::{Disk, JobFolder, RealDisk, save_atomically};
pub use template::{new_document, photo_name};

/// JSON Schema (draft 2020-12) of the job document, pretty-printed.
pub fn schema() -> String {
    serde_json::to_string_pretty(&schemars::schema_for!(Document)).unwrap_or_default()
}
