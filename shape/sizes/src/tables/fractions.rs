use super::Listed;
use quantity::inch_label;

/// Fractions of an inch from 1/64 to `up_to_in`, by 64ths, with their labels.
pub fn fractions(up_to_in: f64) -> Vec<Listed> {
    // 100 in is farther than any small part reaches.
    let count = (up_to_in.clamp(0.0, 100.0) * 64.0) as u32;
    (1..=count).map(|n| listed_at(n, 64)).collect()
}

/// The fraction with this denominator (or a smaller one) nearest to a size; `None` for what is not positive and finite or a
/// denominator of 0.
pub fn nearest_fraction(mm: f64, denominator: u32) -> Option<Listed> {
    if !(mm.is_finite() && mm > 0.0 && mm < 1e6) || denominator == 0 {
        return None;
    }
    let n = (mm / 25.4 * f64::from(denominator)).round().max(1.0);
    Some(listed_at(n as u32, denominator))
}

fn listed_at(n: u32, denominator: u32) -> Listed {
    let mm = f64::from(n) * 25.4 / f64::from(denominator);
    Listed { table: "fractions", label: inch_label(mm), mm }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tables::csv::{number, rows};

    /// The printed table of 64ths up to 2 in.
    #[test]
    fn fractions_are_those_of_the_table() {
        let mut count = 0;
        for (row, ours) in rows(include_str!("../../data/inch_fractions.csv")).zip(fractions(2.0)) {
            assert!((number(&row, 3).expect("mm") - ours.mm).abs() < 1e-9, "{row:?}");
            assert_eq!(ours.label.replace(' ', "-"), format!("{}-in", row[0]), "{row:?}");
            count += 1;
        }
        assert_eq!(count, 128);
    }

    #[test]
    fn nearest_of_a_coarseness() {
        assert_eq!(nearest_fraction(22.18, 8).map(|f| f.label), Some("7/8 in".into()));
        assert_eq!(nearest_fraction(22.18, 1).map(|f| f.label), Some("1 in".into()));
        assert_eq!(nearest_fraction(f64::INFINITY, 64), None);
    }
}
