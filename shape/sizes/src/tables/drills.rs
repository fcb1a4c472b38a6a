use super::Listed;
use super::csv::{number, rows};
use std::sync::OnceLock;

const TEXT: &str = include_str!("../../data/drills_number_letter.csv");

/// Which set a twist drill belongs to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DrillSet {
    /// #80 .. #1.
    Number,
    /// A .. Z.
    Letter,
    /// 1/64 .. 1 in by 64ths.
    Fraction,
    /// 0.3 .. 13 mm by tenths, then by halves to 25 mm (common practice; the series of drill sets).
    Metric,
}

/// A twist drill.
#[derive(Clone, Debug, PartialEq)]
pub struct Drill {
    /// Its set.
    pub set: DrillSet,
    /// "#43", "F", "27/64 in", "4.2 mm".
    pub name: String,
    /// Diameter, mm.
    pub mm: f64,
}

/// All twist drills, thinnest first.
pub fn drills() -> &'static [Drill] {
    static TABLE: OnceLock<Vec<Drill>> = OnceLock::new();
    TABLE.get_or_init(|| {
        let mut all: Vec<Drill> = rows(TEXT).filter_map(|row| named(&row)).collect();
        all.extend((1..=64u32).map(|n| {
            let mm = f64::from(n) * 25.4 / 64.0;
            Drill { set: DrillSet::Fraction, name: quantity::inch_label(mm), mm }
        }));
        let metric = (3..=130u32).map(|n| f64::from(n) / 10.0).chain((27..=50u32).map(|n| f64::from(n) / 2.0));
        all.extend(metric.map(|mm| Drill { set: DrillSet::Metric, name: quantity::mm_label(mm), mm }));
        all.sort_by(|a, b| a.mm.total_cmp(&b.mm).then_with(|| a.name.cmp(&b.name)));
        all
    })
}

fn named(row: &[&str]) -> Option<Drill> {
    let name = (*row.first()?).to_string();
    let set = if name.starts_with('#') { DrillSet::Number } else { DrillSet::Letter };
    // The inch column is exact; the mm column is rounded.
    Some(Drill { set, name, mm: number(row, 1)? * 25.4 })
}

/// A drill by its name: "#43", "F", "27/64 in", "4.2 mm".
pub fn drill(name: &str) -> Option<&'static Drill> {
    drills().iter().find(|drill| drill.name == name.trim())
}

pub(super) fn listed() -> impl Iterator<Item = Listed> {
    drills().iter().map(|drill| Listed { table: "drills", label: drill.name.clone(), mm: drill.mm })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Trade notes, section 2; and no drill is out of its order.
    #[test]
    fn drills_by_name() {
        for (name, inch) in [
            ("#80", 0.0135),
            ("#60", 0.04),
            ("#43", 0.089),
            ("#29", 0.136),
            ("#7", 0.201),
            ("#1", 0.228),
            ("A", 0.234),
            ("E", 0.25),
            ("F", 0.257),
            ("Z", 0.413),
        ] {
            assert!((drill(name).expect(name).mm - inch * 25.4).abs() < 1e-9, "{name}");
        }
        assert_eq!(rows(TEXT).count(), 106);
        let numbers: Vec<f64> = rows(TEXT).filter_map(|row| number(&row, 1)).collect();
        assert!(numbers.len() == 106 && numbers.windows(2).all(|w| w[0] < w[1]));
        assert_eq!(drill("27/64 in").expect("listed").set, DrillSet::Fraction);
        assert_eq!(drill("#81"), None);
    }
}
