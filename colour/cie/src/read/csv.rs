//! Comma-separated spectra: a column of wavelengths, then one column of reflectances a sample.

use super::{
    MOST_CELLS, MOST_SAMPLES, Problems, Readings, Sample, check_shares, is_wavelength, number, shown, to_shares, too_long, upward,
};
use crate::CieError;
use std::borrow::Cow;

/// Reads lines of `nm, reflectance` (or several reflectances, one a sample), commas, semicolons or tabs between, with a decimal comma where
/// semicolons part the cells; lines with `#` in front and empty lines are passed over; a first line without numbers names the columns.
///
/// # Errors
/// [`CieError::Unreadable`] with every problem and its line.
pub fn read_csv(text: &str) -> Result<Readings, CieError> {
    if let Some(error) = too_long(text) {
        return Err(error);
    }
    let mut problems = Problems::default();
    let mut names: Vec<String> = Vec::new();
    let mut rows: Vec<(usize, Vec<f64>)> = Vec::new();
    for (line, cells) in lines(text) {
        if cells.len() > MOST_CELLS {
            problems.add(line, format!("{} cells were found; at most {MOST_CELLS} are read", cells.len()));
        } else if rows.is_empty() && names.is_empty() && cells[0].parse::<f64>().is_err() {
            names = cells.iter().map(|cell| cell.to_string()).collect();
        } else if let Some(row) = row(line, &cells, &mut problems) {
            rows.push((line, row));
        }
    }
    let samples = samples(&names, &rows, &mut problems);
    finish(samples, &names, problems)
}

/// Lines that say something, with their number and cells.
fn lines<'a>(text: &'a str) -> impl Iterator<Item = (usize, Vec<Cow<'a, str>>)> {
    let has_semicolons = text.contains(';');
    let said = text
        .trim_start_matches('\u{feff}')
        .lines()
        .enumerate()
        .filter(|(_, line)| !line.trim().is_empty() && !line.trim().starts_with('#'));
    // Where semicolons part the cells, a comma is a decimal sign.
    let cells = move |line: &'a str| -> Vec<Cow<'a, str>> {
        let parts: Vec<&str> = if has_semicolons { line.split([';', '\t']).collect() } else { line.split([',', '\t']).collect() };
        let plain = parts.into_iter().map(|cell| cell.trim().trim_matches('"'));
        plain.map(|cell| if has_semicolons { Cow::Owned(cell.replace(',', ".")) } else { Cow::Borrowed(cell) }).collect()
    };
    said.map(move |(i, line)| (i + 1, cells(line)))
}

fn row(line: usize, cells: &[Cow<str>], problems: &mut Problems) -> Option<Vec<f64>> {
    if cells.len() < 2 {
        problems.add(line, format!("`{}` stands alone; `nm, reflectance` is expected", shown(&cells[0])));
        return None;
    }
    let row: Option<Vec<f64>> = cells.iter().map(|cell| number(cell, line, "`nm, reflectance`", problems)).collect();
    let row = row?;
    if !is_wavelength(row[0]) {
        problems.add(line, format!("{} is no wavelength; nanometres are expected first in the line", row[0]));
        return None;
    }
    Some(row)
}

fn samples(names: &[String], rows: &[(usize, Vec<f64>)], problems: &mut Problems) -> Vec<Sample> {
    let Some((_, first)) = rows.first() else {
        problems.add(0, "no spectrum was found; lines of `nm, reflectance` are expected");
        return Vec::new();
    };
    let width = first.len();
    for (line, row) in rows.iter().filter(|(_, row)| row.len() != width) {
        problems.add(*line, format!("{} numbers were found where the lines above have {width}", row.len()));
    }
    if width > MOST_SAMPLES {
        problems.add(0, format!("{width} samples were found; at most {MOST_SAMPLES} are read: split the file"));
        return Vec::new();
    }
    let sample = |column: usize, problems: &mut Problems| {
        let pairs = rows.iter().filter_map(|(_, row)| Some((row[0], *row.get(column)?))).collect();
        let named = names.get(column).filter(|name| !name.is_empty() && names.len() == width).cloned();
        let name = named.unwrap_or_else(|| column.to_string());
        Sample { name, spectrum: Some(upward(pairs, 0, problems)), lab: None, light: None, observer: None }
    };
    let first = sample(1, problems);
    // The wavelengths are the same for all: a doubled one is told once.
    let mut unheard = Problems::default();
    std::iter::once(first).chain((2..width).map(|column| sample(column, &mut unheard))).collect()
}

fn finish(mut samples: Vec<Sample>, names: &[String], mut problems: Problems) -> Result<Readings, CieError> {
    let mut notes = Vec::new();
    let declared = names.iter().any(|name| name.contains('%') || name.to_ascii_lowercase().contains("percent")).then_some(true);
    to_shares(&mut samples, declared, &mut notes);
    check_shares(&samples, &mut problems);
    problems.or(Readings { samples, notes })
}
