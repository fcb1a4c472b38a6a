use crate::length::MM_PER_INCH;
use thiserror::Error;

/// Why a length could not be read.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum QuantityError {
    /// No number where one was expected.
    #[error("`{text}` has no number in it; write a length as \"6 mm\", \"1/4 in\", \"1 1/4 in\" or \"0.25 in\"")]
    NoNumber {
        /// What was read.
        text: String,
    },
    /// A unit nobody knows.
    #[error("`{unit}` in `{text}` is no unit of length known here; use mm, cm, m, um, in, or \" for inches")]
    UnknownUnit {
        /// The unit as written.
        unit: String,
        /// What was read.
        text: String,
    },
    /// A fraction over zero, an overflow, NaN.
    #[error("`{text}` is no finite length")]
    NotFinite {
        /// What was read.
        text: String,
    },
}

/// Reads a length as people write it and returns millimetres: "6 mm", "6", "1/4 in", "1 1/4 in", "1-1/4\"", "0.25in", "2.5 cm", "40 um".
/// A bare number is millimetres. The sign is kept: whether a negative size makes sense is the caller's business.
pub fn parse_length_mm(text: &str) -> Result<f64, QuantityError> {
    let trimmed = text.trim();
    let unit_start = trimmed.find(|c: char| !(c.is_ascii_digit() || " .,/+-\u{2212}\u{2044}".contains(c))).unwrap_or(trimmed.len());
    let (number, unit) = trimmed.split_at(unit_start);
    let factor = unit_factor_mm(unit.trim()).ok_or_else(|| QuantityError::UnknownUnit { unit: unit.trim().into(), text: text.into() })?;
    let value = mixed_number(number).ok_or_else(|| QuantityError::NoNumber { text: text.into() })? * factor;
    if value.is_finite() { Ok(value) } else { Err(QuantityError::NotFinite { text: text.into() }) }
}

fn unit_factor_mm(unit: &str) -> Option<f64> {
    Some(match unit.to_lowercase().as_str() {
        "" | "mm" | "millimetre" | "millimetres" | "millimeter" | "millimeters" => 1.0,
        "cm" => 10.0,
        "m" => 1000.0,
        "um" | "\u{b5}m" | "\u{3bc}m" => 0.001,
        "in" | "inch" | "inches" | "\"" | "\u{2033}" | "''" => MM_PER_INCH,
        "thou" | "mil" => MM_PER_INCH / 1000.0,
        _ => return None,
    })
}

/// "1 1/4", "1-1/4", "7/8", "-0.5", "6,35" (a decimal comma).
fn mixed_number(text: &str) -> Option<f64> {
    let text = text.trim().replace('\u{2212}', "-").replace('\u{2044}', "/").replace(',', ".");
    let (sign, rest) = match text.strip_prefix('-') {
        Some(rest) => (-1.0, rest.trim_start()),
        None => (1.0, text.strip_prefix('+').unwrap_or(&text).trim_start()),
    };
    let parts: Vec<&str> = rest.split([' ', '-']).filter(|part| !part.is_empty()).collect();
    let value = match parts.as_slice() {
        [one] => fraction(one)?,
        [whole, part] if part.contains('/') && !whole.contains('/') => plain(whole)? + fraction(part)?,
        _ => return None,
    };
    Some(sign * value)
}

fn fraction(text: &str) -> Option<f64> {
    match text.split_once('/') {
        Some((top, bottom)) => Some(plain(top)? / plain(bottom)?),
        None => plain(text),
    }
}

fn plain(text: &str) -> Option<f64> {
    let text = text.trim();
    if text.is_empty() || !text.starts_with(|c: char| c.is_ascii_digit() || c == '.') { None } else { text.parse().ok() }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{inch_label, mm_label};

    #[test]
    fn lengths_as_people_write_them() {
        for (text, mm) in [
            ("6 mm", 6.0),
            ("6", 6.0),
            ("1/4 in", 6.35),
            ("1 1/4 in", 31.75),
            ("1-1/4\"", 31.75),
            ("0.25in", 6.35),
            ("7/8\u{2033}", 22.225),
            ("2.5 cm", 25.0),
            ("40 um", 0.04),
            ("-0.5 mm", -0.5),
            ("6,35 mm", 6.35),
            (".5 in", 12.7),
            ("250 thou", 6.35),
            (" 22.2 ", 22.2),
        ] {
            let read = parse_length_mm(text).unwrap_or_else(|e| panic!("{text}: {e}"));
            assert!((read - mm).abs() < 1e-12, "{text} read as {read}, meant {mm}");
        }
    }

    #[test]
    fn what_is_no_length_is_refused_with_the_reason() {
        assert!(matches!(parse_length_mm("6 furlongs"), Err(QuantityError::UnknownUnit { unit, .. }) if unit == "furlongs"));
        assert!(matches!(parse_length_mm("mm"), Err(QuantityError::NoNumber { .. })));
        assert!(matches!(parse_length_mm(""), Err(QuantityError::NoNumber { .. })));
        assert!(matches!(parse_length_mm("1/0 in"), Err(QuantityError::NotFinite { .. })));
        assert!(parse_length_mm("NaN").is_err() && parse_length_mm("inf mm").is_err() && parse_length_mm("1/2/3 in").is_err());
    }

    #[test]
    fn every_64th_reads_back_from_its_label() {
        for n in 1..=256u32 {
            let mm = f64::from(n) * 25.4 / 64.0;
            let label = inch_label(mm);
            assert!((parse_length_mm(&label).unwrap_or(f64::NAN) - mm).abs() < 1e-12, "{label}");
        }
        assert_eq!(inch_label(22.225), "7/8 in");
        assert_eq!(mm_label(22.0), "22 mm");
    }
}
