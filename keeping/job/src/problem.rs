use std::fmt;
use std::path::PathBuf;
use thiserror::Error;

/// One thing wrong with a job, where it stands, what was expected, and the way out.
#[derive(Clone, Debug, PartialEq)]
pub struct Problem {
    /// File it stands in, as the person knows it: "job.toml", "photos/front.jpg".
    pub file: String,
    /// Line and column, from 1, where known.
    pub place: Option<(usize, usize)>,
    /// Key of the document, e.g. `photo[0].axis`, where known.
    pub key: String,
    /// What is wrong, with what was found and what was expected.
    pub text: String,
    /// What to do.
    pub way_out: String,
}

impl fmt::Display for Problem {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(out, "error: {}", self.file)?;
        if let Some((line, column)) = self.place {
            write!(out, ":{line}:{column}")?;
        }
        if !self.key.is_empty() {
            write!(out, " ({})", self.key)?;
        }
        write!(out, ": {}", self.text.trim_end())?;
        if !self.way_out.is_empty() {
            write!(out, "\n  hint: {}", self.way_out)?;
        }
        Ok(())
    }
}

/// Why a job could not be read or kept.
#[derive(Debug, Error)]
pub enum JobError {
    /// The document has errors, all of them listed.
    #[error("{}", .0.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n"))]
    Document(Vec<Problem>),
    /// A file could not be read or written.
    #[error("error: {}: {doing}: {source}\n  hint: {way_out}", path.display())]
    Disk {
        /// The file or folder.
        path: PathBuf,
        /// What was being done.
        doing: &'static str,
        /// What to do about it.
        way_out: &'static str,
        /// What the system said.
        source: std::io::Error,
    },
}
