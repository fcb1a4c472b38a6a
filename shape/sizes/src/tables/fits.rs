use super::TableError;
use super::csv::{header, number, rows};
use std::sync::OnceLock;

const GRADES: &str = include_str!("../../data/it_grades.csv");
const SHAFTS: &str = include_str!("../../data/shaft_fundamental_deviations.csv");

/// Permitted deviations of a hole or shaft from its nominal size, micrometres.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limits {
    /// Lower deviation.
    pub lower_um: f64,
    /// Upper deviation.
    pub upper_um: f64,
}

/// Whether a fit is loose, tight, or may be either.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Character {
    /// Never tight.
    Clearance,
    /// One or the other, as the parts fall out.
    Transition,
    /// Never loose.
    Interference,
}

/// A hole and a shaft of one nominal size.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fit {
    /// The hole.
    pub hole: Limits,
    /// The shaft.
    pub shaft: Limits,
    /// Least clearance on the diameter; negative: interference.
    pub clearance_min_um: f64,
    /// Greatest clearance on the diameter.
    pub clearance_max_um: f64,
    /// What sort of fit it is.
    pub character: Character,
}

/// Fit of ISO 286, e.g. `fit("H7/g6", 25.0)`, for nominal sizes over 0 up to 50 mm.
///
/// - Holes C..H and JS, shafts c..h, js, k, m, n, p, r, s, u.
/// - **Source** ISO 286-1 tables as reproduced in public texts, see the heads of the data files; test `fits_of_the_check_values`.
///
/// # Errors
/// [`TableError`] for a text that is no fit, a letter or grade that is not in the tables, a size outside them.
pub fn fit(text: &str, nominal_mm: f64) -> Result<Fit, TableError> {
    let (hole, shaft) = text.split_once('/').ok_or_else(|| unreadable(text))?;
    let (hole, shaft) = (hole_limits(hole.trim(), nominal_mm)?, shaft_limits(shaft.trim(), nominal_mm)?);
    let (least, most) = (hole.lower_um - shaft.upper_um, hole.upper_um - shaft.lower_um);
    let character = match (least >= 0.0, most <= 0.0) {
        (true, _) => Character::Clearance,
        (_, true) => Character::Interference,
        _ => Character::Transition,
    };
    Ok(Fit { hole, shaft, clearance_min_um: least, clearance_max_um: most, character })
}

/// Deviations of a shaft class such as "g6".
///
/// # Errors
/// As [`fit`].
pub fn shaft_limits(class: &str, nominal_mm: f64) -> Result<Limits, TableError> {
    let (letter, grade) = split_class(class)?;
    let tolerance = it_um(grade, nominal_mm).ok_or_else(|| no_grade(class, nominal_mm))?;
    if letter == "js" {
        return Ok(Limits { lower_um: -0.5 * tolerance, upper_um: 0.5 * tolerance });
    }
    let deviation = fundamental_um(letter, grade, nominal_mm).ok_or_else(|| no_grade(class, nominal_mm))?;
    let above = matches!(letter, "k" | "m" | "n" | "p" | "r" | "s" | "u");
    let lower = if above { deviation } else { deviation - tolerance };
    Ok(Limits { lower_um: lower, upper_um: lower + tolerance })
}

/// Deviations of a hole class such as "H7".
///
/// # Errors
/// As [`fit`].
pub fn hole_limits(class: &str, nominal_mm: f64) -> Result<Limits, TableError> {
    let (letter, grade) = split_class(class)?;
    let tolerance = it_um(grade, nominal_mm).ok_or_else(|| no_grade(class, nominal_mm))?;
    // Holes C..H mirror the shafts (ISO 286-1, general rule); K..U need a correction that is not tabulated here.
    let lower = match letter {
        "JS" => -0.5 * tolerance,
        "C" | "D" | "E" | "F" | "G" | "H" => {
            -fundamental_um(&letter.to_lowercase(), grade, nominal_mm).ok_or_else(|| no_grade(class, nominal_mm))?
        }
        _ => return Err(no_grade(class, nominal_mm)),
    };
    // -0.0 prints as -0.
    Ok(Limits { lower_um: lower + 0.0, upper_um: lower + tolerance })
}

/// Standard tolerance of ISO 286-1 in micrometres: grade "01", "0", "1" .. "18", nominal over 0 up to 50 mm.
pub fn it_um(grade: &str, nominal_mm: f64) -> Option<f64> {
    let table = grades();
    let column = table.names.iter().position(|name| name.strip_prefix("IT") == Some(grade))?;
    table.row(nominal_mm)?.get(column).copied()
}

fn fundamental_um(letter: &str, grade: &str, nominal_mm: f64) -> Option<f64> {
    let table = shafts();
    // k lies above zero in grades 4 to 7 only.
    if letter == "k" && !matches!(grade, "4" | "5" | "6" | "7") {
        return table.row(nominal_mm).map(|_| 0.0);
    }
    let column = table.names.iter().position(|name| *name == letter)?;
    table.row(nominal_mm)?.get(column).copied()
}

fn split_class(class: &str) -> Result<(&str, &str), TableError> {
    let at = class.find(|c: char| c.is_ascii_digit()).ok_or_else(|| unreadable(class))?;
    let (letter, grade) = class.split_at(at);
    if letter.is_empty() || !grade.bytes().all(|b| b.is_ascii_digit()) { Err(unreadable(class)) } else { Ok((letter, grade)) }
}

fn unreadable(text: &str) -> TableError {
    TableError::Unreadable { text: text.into(), expected: "a fit such as H7/g6" }
}

fn no_grade(class: &str, nominal_mm: f64) -> TableError {
    TableError::NotListed {
        what: format!("ISO 286 class {class} at {nominal_mm} mm"),
        has: "holes C..H, JS; shafts c..h, js, k..u without t; over 0 up to 50 mm",
    }
}

/// A table by size steps; "over a up to and including b".
struct Stepped {
    names: Vec<&'static str>,
    steps: Vec<(f64, f64, Vec<f64>)>,
}

impl Stepped {
    fn read(text: &'static str) -> Stepped {
        let names = header(text).into_iter().skip(2).collect();
        let steps = rows(text)
            .filter_map(|row| Some((number(&row, 0)?, number(&row, 1)?, (2..row.len()).filter_map(|c| number(&row, c)).collect())))
            .collect();
        Stepped { names, steps }
    }

    fn row(&self, nominal_mm: f64) -> Option<&[f64]> {
        self.steps.iter().find(|(over, upto, _)| nominal_mm > *over && nominal_mm <= *upto).map(|(_, _, values)| values.as_slice())
    }
}

fn grades() -> &'static Stepped {
    static TABLE: OnceLock<Stepped> = OnceLock::new();
    TABLE.get_or_init(|| Stepped::read(GRADES))
}

fn shafts() -> &'static Stepped {
    static TABLE: OnceLock<Stepped> = OnceLock::new();
    TABLE.get_or_init(|| Stepped::read(SHAFTS))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The formula of ISO 286-1 (IT7 = 16 i ...) misses its own rounded table by no more than 13 %, most below 3 mm.
    #[test]
    fn grades_follow_their_formula() {
        for (over, upto) in [(0.0f64, 3.0f64), (3.0, 6.0), (6.0, 10.0), (10.0, 18.0), (18.0, 30.0), (30.0, 50.0)] {
            let d = if over == 0.0 { 3f64.sqrt() } else { (over * upto).sqrt() };
            let i = 0.45 * d.cbrt() + 0.001 * d;
            for (grade, factor) in [("6", 10.0), ("7", 16.0), ("8", 25.0), ("9", 40.0), ("10", 64.0), ("11", 100.0), ("14", 400.0)] {
                let table = it_um(grade, upto).expect("listed");
                assert!((factor * i / table - 1.0).abs() < 0.16, "IT{grade} up to {upto}: {} against {table}", factor * i);
            }
        }
    }

    /// Errors met in public tables must not be in ours (trade notes).
    #[test]
    fn known_bad_copies_are_not_ours() {
        assert_eq!(it_um("9", 5.0), Some(30.0));
        assert_eq!(shaft_limits("g6", 8.0).expect("listed").upper_um, -5.0);
        assert_eq!(hole_limits("G7", 5.0).expect("listed").lower_um, 4.0);
    }

    #[test]
    fn steps_include_their_upper_end() {
        assert_eq!((it_um("7", 6.0), it_um("7", 6.35)), (Some(12.0), Some(15.0)));
        assert_eq!((it_um("7", 0.0), it_um("7", 50.1), it_um("7", f64::NAN), it_um("19", 10.0)), (None, None, None, None));
    }

    #[test]
    fn what_is_no_fit_is_refused() {
        assert!(matches!(fit("H7g6", 10.0), Err(TableError::Unreadable { .. })));
        assert!(matches!(fit("H7/t6", 10.0), Err(TableError::NotListed { .. })));
        assert!(matches!(fit("P7/h6", 10.0), Err(TableError::NotListed { .. })));
        assert!(fit("", f64::NAN).is_err() && fit("/", 10.0).is_err() && fit("H7/é6", 10.0).is_err());
    }
}
