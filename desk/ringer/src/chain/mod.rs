//! The chain of stations: document -> evidence -> results, one way. A station without its evidence is named in `missing`.
//!
//! [`make`] reads the job folder; everything behind `Evidence` is a pure function of it: same folder, same bytes.

mod bench;
mod body;
mod body_memo;
mod check_made;
#[cfg(test)]
mod check_tests;
mod colour;
mod drawing;
mod ends;
mod evidence;
mod extra_files;
mod files;
mod flat;
mod memory;
mod pot;
#[cfg(test)]
mod pot_tests;
mod route;
mod run;
mod shape;
mod thumbnails;
mod vat;

use crate::progress::Progress;
use evidence::Evidence;
use job::{JobError, JobFolder, Problem};
pub use memory::Memory;
use result::{Assumption, JobResult, Warning};
use sheet::Fragments;
use std::sync::Arc;
use thiserror::Error;

/// Why a command did not do its work.
#[derive(Debug, Error)]
pub enum Failure {
    /// The document or the disk.
    #[error(transparent)]
    Job(#[from] JobError),
    /// Things wrong with photos, readings or stations, all of them.
    #[error("{}", .0.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n"))]
    Problems(Vec<Problem>),
    /// Not the person's doing.
    #[error("{0}")]
    Ours(String),
}

/// All that a job came to: the result, the sheet in pieces, and the files of `out/`, each made when it is asked for.
pub struct Made {
    /// The result object, with the seconds that stations took.
    pub result: JobResult,
    /// The sheet in pieces, for the live page.
    pub fragments: Arc<Fragments>,
    sources: files::Sources,
}

impl Made {
    /// Bytes of a file under `out/`, made now; `None` if the job has none of that name.
    ///
    /// # Errors
    /// Its writer failed; an error of ours.
    pub fn file(&self, name: &str) -> Result<Option<Vec<u8>>, Failure> {
        self.sources.file(name, &self.result)
    }

    /// The files that a person may want; the rest of `out/` is for programs.
    pub fn offered(&self) -> Vec<&'static str> {
        let wanted = files::KINDS.iter().filter(|kind| kind.for_people);
        wanted.map(|kind| kind.name).filter(|name| self.sources.has(name, &self.result)).collect()
    }

    /// Every file, in the order they are told.
    pub fn names(&self) -> Vec<&'static str> {
        files::KINDS.iter().map(|kind| kind.name).filter(|name| self.sources.has(name, &self.result)).collect()
    }
}

/// Works out everything that the folder's evidence allows.
///
/// # Errors
/// Everything that is wrong with the document, its photos and readings, at once.
pub fn make(folder: &JobFolder, progress: &Progress) -> Result<Made, Failure> {
    make_text(folder, &folder.document_text()?, &mut Memory::default(), progress)
}

/// The same for a text that need not be the one on disk, with what was worked out before at hand.
///
/// # Errors
/// As [`make`].
pub fn make_text(folder: &JobFolder, text: &str, memory: &mut Memory, progress: &Progress) -> Result<Made, Failure> {
    let evidence = Evidence::gather(folder, text, memory, progress)?;
    let mut sheet = JobResult { ringer: env!("CARGO_PKG_VERSION").into(), title: evidence.document.title.clone(), ..JobResult::default() };
    bench::work_out(&evidence, &mut sheet);
    let wanted_flat = evidence.document.flat.clone();
    let plate = wanted_flat.as_ref().and_then(|wanted| flat::work_out(&evidence, wanted, &mut sheet, progress));
    let shape = if wanted_flat.is_some() { None } else { shape::work_out(&evidence, &mut sheet, memory, progress) };
    let wanted = colour::work_out(&evidence, shape.as_ref(), &mut sheet, progress);
    run::work_out(&evidence, &mut sheet, memory, progress);
    pot::work_out(&evidence, wanted.as_ref(), &mut sheet, memory, progress);
    check_made::work_out(&evidence, shape.as_ref(), wanted.as_ref(), &mut sheet, memory, progress);
    progress.step("drawing the sheet");
    let (sources, fragments) = files::gather(evidence, shape, plate, &mut sheet, memory);
    Ok(Made { result: sheet, fragments, sources })
}

/// Writes all derived files, each atomically, and removes those of an earlier make that this one did not make.
///
/// # Errors
/// A disk that fails; what was written before stays.
pub fn write_out(folder: &JobFolder, made: &Made) -> Result<(), Failure> {
    for kind in &files::KINDS {
        match made.file(kind.name)? {
            Some(bytes) => folder.write_out(kind.name, &bytes)?,
            None => folder.clear_out(kind.name)?,
        }
    }
    Ok(())
}

/// Short ways to speak to the sheet.
trait Says {
    fn missing(&mut self, station: &str, why: &str);
    fn warn(&mut self, station: &str, photo: Option<&str>, text: impl Into<String>, settle: impl Into<String>);
    fn warn_all(&mut self, station: &str, photo: Option<&str>, notes: &[quantity::Note]);
    fn assume(&mut self, station: &str, text: impl Into<String>, switch: &str);
}

impl Says for JobResult {
    fn missing(&mut self, station: &str, why: &str) {
        self.missing.push(format!("{station}: {why}"));
    }

    fn warn(&mut self, station: &str, photo: Option<&str>, text: impl Into<String>, settle: impl Into<String>) {
        self.warnings.push(Warning { station: station.into(), photo: photo.map(Into::into), text: text.into(), settle: settle.into() });
    }

    fn warn_all(&mut self, station: &str, photo: Option<&str>, notes: &[quantity::Note]) {
        for note in notes {
            self.warn(station, photo, note.text.clone(), note.settle.clone());
        }
    }

    fn assume(&mut self, station: &str, text: impl Into<String>, switch: &str) {
        self.assumptions.push(Assumption { station: station.into(), text: text.into(), switch: switch.into() });
    }
}

/// A station that fails by an error of ours is one without an answer; the rest of the job stands.
fn survived<T>(station: &str, work: impl FnOnce() -> Result<T, String>) -> Result<T, String> {
    // Nothing is shared with the closure that it could leave half changed: stations are pure.
    std::panic::catch_unwind(std::panic::AssertUnwindSafe(work)).unwrap_or_else(|_| {
        Err(format!("the program failed at the {station}; this is an error of ours, please report it with the job folder"))
    })
}
