//! The text of ISO 10303-21: numbered entities, real numbers, strings.

use std::fmt::Write;

/// Entities in the order they were made, each known by its number.
#[derive(Clone, Default)]
pub(crate) struct Entities {
    text: String,
    last: usize,
}

impl Entities {
    /// Adds `#n=body;` and returns n.
    pub fn add(&mut self, body: &str) -> usize {
        self.last += 1;
        // Writing to a String can't fail.
        let _ = writeln!(self.text, "#{}={};", self.last, body);
        self.last
    }

    /// All lines so far.
    pub fn into_text(self) -> String {
        self.text
    }

    pub fn cartesian(&mut self, [x, y, z]: [f64; 3]) -> usize {
        self.add(&format!("CARTESIAN_POINT('',({},{},{}))", real(x), real(y), real(z)))
    }

    pub fn direction(&mut self, [x, y, z]: [f64; 3]) -> usize {
        self.add(&format!("DIRECTION('',({},{},{}))", real(x), real(y), real(z)))
    }

    /// A place with its axis and the direction where angles start.
    pub fn placement(&mut self, origin: [f64; 3], axis: [f64; 3], reference: [f64; 3]) -> usize {
        let (origin, axis, reference) = (self.cartesian(origin), self.direction(axis), self.direction(reference));
        self.add(&format!("AXIS2_PLACEMENT_3D('',#{origin},#{axis},#{reference})"))
    }
}

/// A real as the standard writes it: a point always, `E` for the exponent; shortest digits that read back to the same number; no minus zero.
pub(crate) fn real(value: f64) -> String {
    let text = format!("{:?}", if value == 0.0 { 0.0 } else { value });
    match text.split_once('e') {
        Some((digits, power)) if digits.contains('.') => format!("{digits}E{power}"),
        Some((digits, power)) => format!("{digits}.E{power}"),
        None => text,
    }
}

/// A string in quotes: quotes and backslashes doubled, everything beyond plain ASCII as \X2\ (four hex digits a UTF-16 unit).
pub(crate) fn string(text: &str) -> String {
    let mut written = String::from("'");
    for c in text.chars() {
        match c {
            '\'' => written.push_str("''"),
            '\\' => written.push_str("\\\\"),
            ' '..='~' => written.push(c),
            _ => {
                let units: String = c.encode_utf16(&mut [0; 2]).iter().map(|unit| format!("{unit:04X}")).collect();
                let _ = write!(written, "\\X2\\{units}\\X0\\");
            }
        }
    }
    written.push('\'');
    written
}

/// A list of references: `(#1,#2)`.
pub(crate) fn list(numbers: &[usize]) -> String {
    let all: Vec<String> = numbers.iter().map(|n| format!("#{n}")).collect();
    format!("({})", all.join(","))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reals_as_the_standard_wants_them() {
        for (value, text) in [(1.0, "1.0"), (-0.0, "0.0"), (1e-7, "1.E-7"), (1.5e-9, "1.5E-9"), (0.1, "0.1"), (1e22, "1.E22")] {
            assert_eq!(real(value), text);
        }
    }

    #[test]
    fn strings_survive_quotes_and_umlauts() {
        assert_eq!(string("maker's \\ k\u{e4}se"), "'maker''s \\\\ k\\X2\\00E4\\X0\\se'");
    }
}
