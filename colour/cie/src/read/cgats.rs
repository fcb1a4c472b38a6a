//! The tagged text of CGATS.17 and ISO 28178: a heading of keywords, the names of the fields, then one line a sample.

use super::{
    LineProblem, MOST_CELLS, MOST_SAMPLES, Problems, Readings, Sample, check_shares, is_wavelength, number, shown, to_shares, too_long,
    upward,
};
use crate::{CieError, Lab, Light, Observer};

/// Reads names (`SAMPLE_NAME`, else `SAMPLE_ID`), Lab (`LAB_L`, `LAB_A`, `LAB_B`) and spectra (fields that end in a wavelength, such as
/// `SPECTRAL_NM400`, `SPECTRAL_DEC400`, `SPECTRAL_PCT400`, `NM400`); other fields are passed over. Light and observer are taken from
/// `WEIGHTING_FUNCTION` or `ILLUMINANT`/`OBSERVER` lines where they stand.
///
/// # Errors
/// [`CieError::Unreadable`] with every problem and its line.
pub fn read_cgats(text: &str) -> Result<Readings, CieError> {
    if let Some(error) = too_long(text) {
        return Err(error);
    }
    let mut problems = Problems::default();
    let mut parts = Parts::default();
    for (i, line) in text.trim_start_matches('\u{feff}').lines().enumerate() {
        parts.take(i + 1, line.trim(), &mut problems);
    }
    parts.close(&mut problems);
    let fields = Fields::named(&parts.fields, &mut problems);
    let mut samples = Vec::new();
    for (line, cells) in &parts.rows {
        if cells.len() != parts.fields.len() {
            problems.add(*line, format!("{} values were found for {} fields", cells.len(), parts.fields.len()));
        } else if samples.len() < MOST_SAMPLES {
            samples.push(sample(&parts, &fields, *line, cells, samples.len() + 1, &mut problems));
        } else {
            problems.add(*line, format!("more than {MOST_SAMPLES} samples; split the file"));
            break;
        }
    }
    let mut notes = Vec::new();
    to_shares(&mut samples, fields.percent, &mut notes);
    check_shares(&samples, &mut problems);
    problems.or(Readings { samples, notes })
}

#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
enum Where {
    #[default]
    Heading,
    Format,
    Data,
}

/// The file taken apart, nothing judged yet.
#[derive(Default)]
struct Parts {
    place: Where,
    fields: Vec<String>,
    rows: Vec<(usize, Vec<String>)>,
    light: Option<Light>,
    observer: Option<Observer>,
    sets: Option<(usize, f64)>,
    saw_data: bool,
}

impl Parts {
    fn take(&mut self, line: usize, text: &str, problems: &mut Problems) {
        match (self.place, text) {
            (_, "") => {}
            (_, text) if text.starts_with('#') => {}
            (Where::Heading, "BEGIN_DATA_FORMAT") => {
                if !self.fields.is_empty() {
                    problems.add(line, "a second table begins here; one table a file is read: split the file");
                }
                self.place = Where::Format;
            }
            (Where::Format, "END_DATA_FORMAT") | (Where::Data, "END_DATA") => self.place = Where::Heading,
            (Where::Heading, "BEGIN_DATA") => {
                self.saw_data = true;
                self.place = Where::Data;
            }
            (Where::Heading, text) => self.heading(line, text, problems),
            (Where::Format, text) => self.fields.extend(cells(text)),
            (Where::Data, text) => self.rows.push((line, cells(text))),
        }
        if self.fields.len() > MOST_CELLS {
            problems.add(line, format!("more than {MOST_CELLS} fields are named"));
            self.fields.truncate(MOST_CELLS);
        }
    }

    fn heading(&mut self, line: usize, text: &str, problems: &mut Problems) {
        let words = cells(text);
        let Some(keyword) = words.first() else { return };
        match keyword.as_str() {
            "NUMBER_OF_SETS" => {
                let count = number(words.get(1).map_or("", String::as_str), line, "the number of samples", problems);
                self.sets = count.map(|count| (line, count));
            }
            "WEIGHTING_FUNCTION" | "ILLUMINANT" | "OBSERVER" => self.viewing(&text[keyword.len()..]),
            _ => {}
        }
    }

    /// "ILLUMINANT, D65", "OBSERVER, 10 degree", "D50_2".
    fn viewing(&mut self, text: &str) {
        let words = text.split(|c: char| !(c.is_ascii_alphanumeric() || c == '.' || c == '-')).filter(|word| !word.is_empty());
        for word in words {
            match word.trim_end_matches("deg").trim_end_matches("DEG") {
                "2" | "1931" => self.observer = Some(Observer::TwoDegree),
                "10" | "1964" => self.observer = Some(Observer::TenDegree),
                other => self.light = Light::by_name(other).ok().or(self.light),
            }
        }
    }

    fn close(&self, problems: &mut Problems) {
        let whole = |text: &str| LineProblem { line: 0, text: text.to_string() };
        if self.fields.is_empty() {
            problems.0.push(whole("no fields are named; BEGIN_DATA_FORMAT, the names, END_DATA_FORMAT are expected"));
        }
        if !self.saw_data || self.rows.is_empty() {
            problems.0.push(whole("no samples were found; BEGIN_DATA, one line a sample, END_DATA are expected"));
        }
        if self.place != Where::Heading {
            problems.0.push(whole("the file ends inside its data; END_DATA is missing, so a part of it may be lost"));
        }
        if let Some((line, count)) = self.sets.filter(|(_, count)| *count != self.rows.len() as f64) {
            problems
                .add(line, format!("NUMBER_OF_SETS says {count}, {} samples were found: a part of the file may be lost", self.rows.len()));
        }
    }
}

/// Which column holds what.
struct Fields {
    name: Option<usize>,
    lab: Option<[usize; 3]>,
    spectrum: Vec<(usize, f64)>,
    percent: Option<bool>,
}

impl Fields {
    fn named(names: &[String], problems: &mut Problems) -> Fields {
        let at = |wanted: &str| names.iter().position(|name| name.eq_ignore_ascii_case(wanted));
        let spectrum: Vec<(usize, f64)> = names.iter().enumerate().filter_map(|(i, name)| Some((i, wavelength(name)?))).collect();
        let starts = |wanted: &str| spectrum.iter().any(|(i, _)| names[*i].to_ascii_uppercase().starts_with(wanted));
        let percent = if starts("SPECTRAL_PCT") { Some(true) } else { starts("SPECTRAL_DEC").then_some(false) };
        let lab = at("LAB_L").zip(at("LAB_A")).zip(at("LAB_B")).map(|((l, a), b)| [l, a, b]);
        if lab.is_none() && spectrum.is_empty() && !names.is_empty() {
            problems.add(0, "neither LAB_L, LAB_A, LAB_B nor fields with a wavelength (SPECTRAL_NM400 ...) are named");
        }
        Fields { name: at("SAMPLE_NAME").or_else(|| at("SAMPLE_ID")), lab, spectrum, percent }
    }
}

/// The wavelength in a field's name: three or four digits at its end after letters that speak of a spectrum.
fn wavelength(name: &str) -> Option<f64> {
    let upper = name.to_ascii_uppercase();
    let stem = upper.trim_end_matches(|c: char| c.is_ascii_digit() || c == '.');
    let kinds = ["SPECTRAL_NM", "SPECTRAL_NM_", "SPECTRAL_DEC", "SPECTRAL_PCT", "SPECTRAL_", "NM", "NM_", "R_", "SPEC_", "SPECTRAL_R"];
    let nm: f64 = upper.get(stem.len()..)?.parse().ok()?;
    (kinds.contains(&stem) && is_wavelength(nm)).then_some(nm)
}

fn sample(parts: &Parts, fields: &Fields, line: usize, cells: &[String], order: usize, problems: &mut Problems) -> Sample {
    let cell = |i: usize| cells.get(i).map_or("", String::as_str);
    let name = fields.name.map_or_else(|| order.to_string(), |i| shown(cell(i)));
    let lab = fields.lab.and_then(|columns| {
        let mut values = [0.0; 3];
        for (value, column) in values.iter_mut().zip(columns) {
            *value = number(cell(column), line, "a Lab coordinate", problems)?;
        }
        Some(Lab::from(values))
    });
    let pairs: Vec<(f64, f64)> =
        fields.spectrum.iter().filter_map(|&(i, nm)| Some((nm, number(cell(i), line, "a reflectance", problems)?))).collect();
    let spectrum = (!pairs.is_empty()).then(|| upward(pairs, line, problems));
    Sample { name, spectrum, lab, light: parts.light, observer: parts.observer }
}

/// Words between blanks; quotes hold a word with blanks together.
fn cells(text: &str) -> Vec<String> {
    let (mut cells, mut cell, mut quoted, mut open) = (Vec::new(), String::new(), false, false);
    for c in text.chars() {
        match c {
            '"' => {
                quoted = !quoted;
                open = true;
            }
            c if c.is_whitespace() && !quoted => {
                if open {
                    cells.push(std::mem::take(&mut cell));
                }
                open = false;
            }
            c => {
                cell.push(c);
                open = true;
            }
        }
    }
    if open {
        cells.push(cell);
    }
    cells
}
