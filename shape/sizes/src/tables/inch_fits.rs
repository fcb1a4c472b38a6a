use super::csv::{number, rows};

const TEXT: &str = include_str!("../../data/ansi_b4_1_fits.csv");

/// A fit of ANSI B4.1-1967, thousandths of an inch.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct InchFit {
    /// Hole: lower and upper deviation.
    pub hole_thou: (f64, f64),
    /// Shaft: lower and upper deviation.
    pub shaft_thou: (f64, f64),
    /// Least and greatest clearance, or interference for the force fits (FN).
    pub play_thou: (f64, f64),
    /// True for force fits: `play_thou` is interference.
    pub interference: bool,
}

/// Fit of ANSI B4.1 for an inch size: RC1 .. RC4 running and sliding, FN1 and FN2 force. `None` for classes and sizes not gathered
/// (locational fits, over 1.97 in).
pub fn inch_fit(class: &str, nominal_in: f64) -> Option<InchFit> {
    rows(TEXT)
        .find(|row| {
            let (over, upto) = (number(row, 1).unwrap_or(f64::MAX), number(row, 2).unwrap_or(0.0));
            row.first() == Some(&class) && nominal_in > over && nominal_in <= upto
        })
        .and_then(|row| {
            Some(InchFit {
                hole_thou: (number(&row, 4)?, number(&row, 3)?),
                shaft_thou: (number(&row, 6)?, number(&row, 5)?),
                play_thou: (number(&row, 7)?, number(&row, 8)?),
                interference: row.get(9) == Some(&"interference"),
            })
        })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Hole and shaft limits give the listed play in every row.
    #[test]
    fn every_row_passes_its_arithmetic() {
        let mut count = 0;
        for row in rows(TEXT) {
            let (class, upto) = (row[0], number(&row, 2).expect("a size"));
            let fit = inch_fit(class, upto).expect("listed");
            let clearance = (fit.hole_thou.0 - fit.shaft_thou.1, fit.hole_thou.1 - fit.shaft_thou.0);
            let play = if fit.interference { (-clearance.1, -clearance.0) } else { clearance };
            assert!((play.0 - fit.play_thou.0).abs() < 1e-9 && (play.1 - fit.play_thou.1).abs() < 1e-9, "{class} up to {upto}: {play:?}");
            count += 1;
        }
        assert_eq!(count, 36);
    }
}
