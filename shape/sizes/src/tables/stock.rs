use super::Listed;
use super::csv::{number, rows};
use crate::zone::Zone;
use std::sync::OnceLock;

const SIZES: &str = include_str!("../../data/stock_sizes.csv");
const TOLERANCES: &str = include_str!("../../data/stock_tolerances.csv");

/// A size of bar, tube or pin that is sold.
#[derive(Clone, Debug, PartialEq)]
pub struct Stock {
    /// "round bar", "telescoping brass tube OD (wall 0.014 in)" ...
    pub kind: &'static str,
    /// Outer diameter, mm.
    pub mm: f64,
    /// Sold by the inch; else by the millimetre.
    pub inch: bool,
}

/// All stock sizes gathered, in the order of the table. Bars are from memory and stockholders' practice, tubes from public listings.
pub fn stock() -> &'static [Stock] {
    static TABLE: OnceLock<Vec<Stock>> = OnceLock::new();
    TABLE.get_or_init(|| {
        let item = |row: Vec<&'static str>| {
            let series = *row.get(1)?;
            let inch = series.contains("in");
            // "5/32 in" is exact, the mm column rounded.
            let mm = if inch { quantity::parse_length_mm(series).ok()? } else { number(&row, 2)? };
            Some(Stock { kind: row.first()?, mm, inch })
        };
        rows(SIZES).filter_map(item).collect()
    })
}

/// What zone a bought bar or tube lies in, mm: the first column of `data/stock_tolerances.csv` names the goods ("bright drawn h9",
/// "brass C360 round, metric" ...). `None` for goods or sizes not gathered. Bar is at or under nominal as a rule.
pub fn stock_zone(goods: &str, nominal_mm: f64) -> Option<Zone> {
    rows(TOLERANCES).filter(|row| row.first() == Some(&goods)).find_map(|row| {
        let unit_mm = if row.get(3) == Some(&"in") { 25.4 } else { 1.0 };
        let (over, upto) = (number(&row, 1)? * unit_mm, number(&row, 2)? * unit_mm);
        // Tables print 0.125 for 1/8 in: a hair of rounding must not move a size over the step.
        let inside = nominal_mm > over + 1e-9 && nominal_mm <= upto + 1e-9;
        let zone = Zone::new(nominal_mm + number(&row, 5)? * unit_mm, nominal_mm + number(&row, 4)? * unit_mm);
        inside.then_some(zone)
    })
}

pub(super) fn listed() -> impl Iterator<Item = Listed> {
    stock().iter().map(|item| {
        let size = if item.inch { quantity::inch_label(item.mm) } else { quantity::mm_label(item.mm) };
        Listed { table: "stock", label: format!("{size} {}", item.kind), mm: item.mm }
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tables::it_um;

    #[test]
    fn every_row_is_read() {
        assert_eq!(stock().len(), rows(SIZES).count());
        assert!(stock().iter().any(|item| item.inch && (item.mm - 6.35).abs() < 1e-12));
    }

    /// Bright drawn h9 is the class h9 of ISO 286: never over nominal, IT9 deep.
    #[test]
    fn h9_bar_is_class_h9() {
        for mm in [4.0, 6.35, 10.0, 12.7, 16.0] {
            let zone = stock_zone("bright drawn h9", mm).expect("listed");
            assert!((zone.high_mm() - mm).abs() < 1e-12);
            assert!((mm - zone.low_mm() - it_um("9", mm).expect("listed") / 1000.0).abs() < 1e-9, "{mm}");
        }
        assert_eq!(stock_zone("bright drawn h9", 40.0), None);
        let brass = stock_zone("brass C360 round, inch", 6.35).expect("listed");
        assert!((brass.high_mm() - 6.35 - 0.0381).abs() < 1e-9);
    }
}
