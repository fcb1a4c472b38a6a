//! Reading what instruments write: spectra and Lab as comma-separated text, and as the tagged text of CGATS.17 and ISO 28178.
//!
//! Text in, samples out. Every problem is found, each with its line; limits keep a wrong file from filling the memory.

mod cgats;
mod csv;

use crate::{CieError, Lab, Light, Observer};
use std::fmt;

pub use cgats::read_cgats;
pub use csv::read_csv;

/// One thing that was read.
#[derive(Clone, Debug, PartialEq)]
pub struct Sample {
    /// Its name; "1", "2" ... where the file has none.
    pub name: String,
    /// Wavelengths, nm, and reflectances, 0..1.
    pub spectrum: Option<(Vec<f64>, Vec<f64>)>,
    /// Lab as written in the file.
    pub lab: Option<Lab>,
    /// The light the file's Lab is for, where it says so.
    pub light: Option<Light>,
    /// The observer the file's Lab is for, where it says so.
    pub observer: Option<Observer>,
}

/// What a file held.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Readings {
    /// In the order of the file.
    pub samples: Vec<Sample>,
    /// What was taken for true, in full sentences.
    pub notes: Vec<String>,
}

/// Something wrong in a line.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LineProblem {
    /// Line, from 1; 0: the file as a whole.
    pub line: usize,
    /// What was found, what was expected.
    pub text: String,
}

impl fmt::Display for LineProblem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.line == 0 { write!(f, "{}", self.text) } else { write!(f, "line {}: {}", self.line, self.text) }
    }
}

/// Longest text that is read, bytes: a thousand spectra by 1 nm.
pub const MOST_BYTES: usize = 4 << 20;
/// Most samples in one text.
const MOST_SAMPLES: usize = 5_000;
/// Most cells in one line.
const MOST_CELLS: usize = 2_100;
/// Problems are collected up to this many.
const MOST_PROBLEMS: usize = 20;

/// Reads either kind: tagged text where it says `BEGIN_DATA`, comma-separated otherwise.
///
/// # Errors
/// [`CieError::Unreadable`] with every problem found.
pub fn read_readings(text: &str) -> Result<Readings, CieError> {
    if text.lines().any(|line| line.trim() == "BEGIN_DATA") { read_cgats(text) } else { read_csv(text) }
}

/// Problems as they come up.
#[derive(Default)]
struct Problems(Vec<LineProblem>);

impl Problems {
    fn add(&mut self, line: usize, text: impl Into<String>) {
        if self.0.len() < MOST_PROBLEMS {
            self.0.push(LineProblem { line, text: text.into() });
        }
    }

    fn or<T>(self, value: T) -> Result<T, CieError> {
        if self.0.is_empty() { Ok(value) } else { Err(CieError::Unreadable { problems: self.0 }) }
    }
}

fn too_long(text: &str) -> Option<CieError> {
    let problem =
        || LineProblem { line: 0, text: format!("{} bytes were found; at most {MOST_BYTES} are read: split the file", text.len()) };
    (text.len() > MOST_BYTES).then(|| CieError::Unreadable { problems: vec![problem()] })
}

/// At most 24 characters of a cell, for an error.
fn shown(cell: &str) -> String {
    cell.chars().take(24).collect()
}

/// A finite number, or a problem.
fn number(cell: &str, line: usize, what: &str, problems: &mut Problems) -> Option<f64> {
    match cell.trim().parse::<f64>() {
        Ok(value) if value.is_finite() => Some(value),
        _ => {
            problems.add(line, format!("`{}` is no number; {what} is expected", shown(cell)));
            None
        }
    }
}

/// Reflectances in percent are told from shares by their size: no part reflects twice what falls on it, and none so dark is read in
/// percent that all of it stays below 2 %. The note says what was taken.
fn to_shares(samples: &mut [Sample], declared_percent: Option<bool>, notes: &mut Vec<String>) {
    let largest = samples.iter().filter_map(|s| s.spectrum.as_ref()).flat_map(|s| s.1.iter().copied()).fold(0.0, f64::max);
    let percent = declared_percent.unwrap_or(largest > 2.0);
    if !percent {
        return;
    }
    if declared_percent.is_none() {
        notes.push(format!("The largest reflectance is {largest}; the file was read as percent."));
    }
    samples.iter_mut().filter_map(|s| s.spectrum.as_mut()).flat_map(|s| s.1.iter_mut()).for_each(|r| *r /= 100.0);
}

/// Wavelengths upward, their values with them; a wavelength that comes twice is a problem.
fn upward(mut pairs: Vec<(f64, f64)>, line: usize, problems: &mut Problems) -> (Vec<f64>, Vec<f64>) {
    pairs.sort_by(|p, q| p.0.total_cmp(&q.0));
    if let Some(twice) = pairs.windows(2).find(|pair| pair[0].0 == pair[1].0) {
        problems.add(line, format!("{} nm stands there twice; list each wavelength once", twice[0].0));
    }
    pairs.into_iter().unzip()
}

/// Wavelengths an instrument may name, nm.
fn is_wavelength(nm: f64) -> bool {
    (200.0..=2600.0).contains(&nm)
}

/// What a reflectance may be, 0..1, with room for noise below 0 and for brighteners and gloss above 1.
fn check_shares(samples: &[Sample], problems: &mut Problems) {
    for sample in samples {
        let wild = sample.spectrum.as_ref().and_then(|s| s.1.iter().zip(&s.0).find(|(r, _)| !(-0.05..=2.0).contains(*r)));
        if let Some((r, nm)) = wild {
            problems
                .add(0, format!("sample `{}` reflects {r} at {nm} nm; 0 to 1 is expected (or percent throughout)", shown(&sample.name)));
        }
    }
}
