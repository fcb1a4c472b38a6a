//! The commands that are done when they return.

use crate::chain::{self, Failure, Made};
use crate::demo;
use crate::progress::Progress;
use crate::summary::summary;
use job::{JobFolder, Problem, new_document, photo_name};
use std::collections::BTreeSet;
use std::io::Write;
use std::path::{Path, PathBuf};

/// Starts a job folder with the given photographs.
///
/// # Errors
/// A photo that can't be read or decoded, two of one file name, or a folder that has a job.
pub fn new(dir: &Path, photos: &[PathBuf]) -> Result<(), Failure> {
    let mut laid_in: Vec<(String, Vec<u8>)> = Vec::new();
    let mut named: Vec<(String, String)> = Vec::new();
    let mut problems = Vec::new();
    for path in photos {
        match read_photo(path, &laid_in) {
            Err(problem) => problems.push(problem),
            Ok((file, bytes)) => {
                let taken: BTreeSet<String> = named.iter().map(|(name, _)| name.clone()).collect();
                named.push((photo_name(&file, &taken), file.clone()));
                laid_in.push((file, bytes));
            }
        }
    }
    if !problems.is_empty() {
        return Err(Failure::Problems(problems));
    }
    let title = dir.file_name().map_or_else(|| "New job".to_string(), |name| name.to_string_lossy().into_owned());
    JobFolder::at(dir).start(&new_document(&title, &named), &laid_in)?;
    eprintln!(
        "A job was started in {}.\nNext: open {} and set the rod's size, then\n  ringer make {}",
        dir.display(),
        dir.join("job.toml").display(),
        dir.display()
    );
    Ok(())
}

fn read_photo(path: &Path, before: &[(String, Vec<u8>)]) -> Result<(String, Vec<u8>), Problem> {
    let shown = path.display().to_string();
    let problem =
        |text: String, way_out: &str| Problem { file: shown.clone(), place: None, key: String::new(), text, way_out: way_out.into() };
    let Some(file) = path.file_name().and_then(|name| name.to_str()) else {
        return Err(problem("the file's name is no readable text".into(), "rename it with plain letters"));
    };
    if before.iter().any(|(name, _)| name == file) {
        return Err(problem(
            format!("two photos have the file name `{file}`"),
            "rename one of them: photos are kept side by side in one folder",
        ));
    }
    let limits = photo::Limits::default();
    let length = std::fs::metadata(path).map_err(|e| problem(format!("the photo can't be opened: {e}"), "check the path"))?.len();
    if length > limits.max_bytes as u64 {
        return Err(problem(
            format!("the file has {length} bytes; at most {} are read", limits.max_bytes),
            "save a smaller copy, e.g. as JPEG",
        ));
    }
    let bytes =
        std::fs::read(path).map_err(|e| problem(format!("the photo can't be read: {e}"), "check the disk and your rights to it"))?;
    photo::decode(&bytes, &limits).map_err(|e| problem(e.to_string(), "give a JPEG or PNG picture as the camera wrote it"))?;
    Ok((file.to_string(), bytes))
}

/// Makes everything of a job and writes `out/`.
///
/// # Errors
/// Everything that is wrong with the document or a photo; a disk that fails.
pub fn make(dir: &Path, json: bool) -> Result<(), Failure> {
    let folder = JobFolder::at(dir);
    let progress = Progress::new(!json);
    let made = chain::make(&folder, &progress)?;
    progress.step("writing files");
    chain::write_out(&folder, &made)?;
    progress.end();
    if json { print(&to_json(&made)?) } else { print(&summary(&made.result, &made.names(), dir)) }
}

/// Lays out the demo job in `dir`, unless it is there already, and makes it.
///
/// # Errors
/// `dir` holds another job; a disk that fails.
pub fn demo(dir: &Path) -> Result<(), Failure> {
    let folder = JobFolder::at(dir);
    let is_here = demo::is_in(&folder);
    if !is_here {
        demo::lay_out(&folder)?;
    }
    eprintln!("The demo job: the focus knob of a bench enlarger, from four photographs and one known size, in {}", dir.display());
    make(dir, false)
}

fn to_json(made: &Made) -> Result<String, Failure> {
    serde_json::to_string_pretty(&made.result).map_err(|e| Failure::Ours(format!("the result could not be written as JSON: {e}")))
}

/// Prints to standard output; a reader that went away is no error of ours.
///
/// # Errors
/// Standard output fails in another way.
pub fn print(text: &str) -> Result<(), Failure> {
    let mut out = std::io::stdout().lock();
    match writeln!(out, "{}", text.trim_end()).and_then(|()| out.flush()) {
        Err(e) if e.kind() != std::io::ErrorKind::BrokenPipe => Err(Failure::Ours(format!("error: standard output failed: {e}"))),
        _ => Ok(()),
    }
}
