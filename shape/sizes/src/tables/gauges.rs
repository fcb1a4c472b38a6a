use super::Listed;
use super::csv::{number, rows};
use std::sync::OnceLock;

const TEXT: &str = include_str!("../../data/wire_gauges.csv");

/// A wire gauge. The same number means different sizes in each.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Gauge {
    /// Imperial Standard Wire Gauge.
    Swg,
    /// American Wire Gauge (Brown and Sharpe).
    Awg,
    /// Birmingham Wire Gauge: tube walls; a part of it.
    Bwg,
}

/// A size of a gauge.
#[derive(Clone, Debug, PartialEq)]
pub struct Wire {
    /// Which gauge.
    pub gauge: Gauge,
    /// "18", "4/0".
    pub number: &'static str,
    /// Diameter, mm.
    pub mm: f64,
}

/// All gauge sizes gathered.
pub fn wires() -> &'static [Wire] {
    static TABLE: OnceLock<Vec<Wire>> = OnceLock::new();
    TABLE.get_or_init(|| {
        let wire = |row: Vec<&'static str>| {
            let gauge = match *row.first()? {
                "SWG" => Gauge::Swg,
                "AWG" => Gauge::Awg,
                _ => Gauge::Bwg,
            };
            Some(Wire { gauge, number: row.get(1)?, mm: number(&row, 2)? * 25.4 })
        };
        rows(TEXT).filter_map(wire).collect()
    })
}

/// Diameter of a gauge number, mm.
pub fn wire_mm(gauge: Gauge, number: &str) -> Option<f64> {
    wires().iter().find(|wire| wire.gauge == gauge && wire.number == number).map(|wire| wire.mm)
}

pub(super) fn listed() -> impl Iterator<Item = Listed> {
    wires().iter().map(|wire| {
        let name = match wire.gauge {
            Gauge::Swg => "SWG",
            Gauge::Awg => "AWG",
            Gauge::Bwg => "BWG",
        };
        Listed { table: "gauges", label: format!("{} {name}", wire.number), mm: wire.mm }
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// AWG is defined by its formula: 0.005 in times 92^((36 - n)/39).
    #[test]
    fn awg_follows_its_formula() {
        let mut count = 0;
        for wire in wires().iter().filter(|wire| wire.gauge == Gauge::Awg) {
            let Ok(n) = wire.number.parse::<f64>() else { continue };
            let exact = 0.005 * 92f64.powf((36.0 - n) / 39.0) * 25.4;
            assert!((wire.mm - exact).abs() < 3e-5, "AWG {}: {} against {exact}", wire.number, wire.mm);
            count += 1;
        }
        assert!(count > 30, "{count}");
    }

    /// Misprints of public tables (trade notes): 0 SWG 8.236, 24 SWG 0.599.
    #[test]
    fn known_misprints_are_not_ours() {
        assert!((wire_mm(Gauge::Swg, "0").expect("listed") - 8.2296).abs() < 1e-4);
        assert!((wire_mm(Gauge::Swg, "24").expect("listed") - 0.5588).abs() < 1e-4);
        let swg: Vec<f64> = wires().iter().filter(|w| w.gauge == Gauge::Swg).map(|w| w.mm).collect();
        assert!(swg.len() == 57 && swg.windows(2).all(|w| w[0] > w[1]), "{}", swg.len());
    }
}
