use crate::evidence::{Kind, Role};
use crate::tables::{DrillSet, Form, Gauge, Series, drills, preferred, stock, threads, wires};
use quantity::{inch_label, mm_label};
use std::sync::OnceLock;

/// Millimetres in an inch, exact since 1959.
const MM_PER_INCH: f64 = 25.4;
/// Two sizes closer than this are one size, mm: finer than any turned part is held to.
pub const SAME_MM: f64 = 2e-3;
/// Grids with more sizes than this in reach say nothing about a size.
const MOST_ON_A_GRID: f64 = 100.0;

/// In which unit a size is round.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unit {
    /// Millimetres.
    Mm,
    /// Inches.
    Inch,
}

impl Unit {
    /// One of it, mm.
    fn in_mm(self) -> f64 {
        match self {
            Unit::Mm => 1.0,
            Unit::Inch => MM_PER_INCH,
        }
    }
}

/// A size that a maker may have meant, with its weight under each unit.
///
/// A weight is a probability divided by the density (per mm) of sizes at large near this one: a rival that spreads over all sizes
/// ("not round") has density 1, and a grid of spacing g mm used by a share p of makers gives each of its sizes p g. So a fine grid
/// pays for catching everything: its sizes carry little weight each.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RoundSize {
    /// The size, mm.
    pub mm: f64,
    /// Weight if the maker worked in millimetres, mm.
    pub weight_mm: f64,
    /// Weight if the maker worked in inches, mm.
    pub weight_inch: f64,
}

impl RoundSize {
    /// As trade writes it, in the unit in which it is the rounder.
    pub fn label(&self) -> String {
        if self.weight_inch > self.weight_mm { inch_label(self.mm) } else { mm_label(self.mm) }
    }
}

/// The round sizes near a measured one.
#[derive(Clone, Debug, Default)]
pub struct Near {
    /// Those that can be told apart, ascending.
    pub sizes: Vec<RoundSize>,
    /// Share of makers in mm that choose from grids too fine to be told apart; it counts like "not round".
    pub haze_mm: f64,
    /// The same for makers in inches.
    pub haze_inch: f64,
}

/// All round sizes between two bounds for a size of this kind. Grids finer than `finest_mm` are not listed but counted as haze.
pub fn round_sizes(low_mm: f64, high_mm: f64, kind: Kind, role: Role, finest_mm: f64) -> Near {
    let lists = lists(kind, role);
    let mut found: Vec<RoundSize> = Vec::new();
    let mut haze = [0.0, 0.0];
    let middle_mm = 0.5 * (low_mm + high_mm);
    for (unit, haze) in [Unit::Mm, Unit::Inch].into_iter().zip(&mut haze) {
        for (spacing, share_at) in grids(unit) {
            let share = |mm: f64| share_at(mm / unit.in_mm()) * (1.0 - listed_share(lists, unit, mm));
            let spacing_mm = spacing * unit.in_mm();
            if spacing_mm < finest_mm || (high_mm - low_mm) / spacing_mm > MOST_ON_A_GRID {
                *haze += share(middle_mm);
            } else {
                add_grid(&mut found, unit, (low_mm, high_mm), *spacing, share);
            }
        }
    }
    for list in lists {
        add_list(&mut found, (low_mm, high_mm), list);
    }
    Near { sizes: merged(found), haze_mm: haze[0], haze_inch: haze[1] }
}

/// Weight of one given size under each unit: mm, inch.
pub fn weights_at(mm: f64, kind: Kind, role: Role) -> (f64, f64) {
    let near = round_sizes(mm - SAME_MM, mm + SAME_MM, kind, role, 0.0).sizes;
    near.iter().fold((0.0, 0.0), |sum, size| (sum.0 + size.weight_mm, sum.1 + size.weight_inch))
}

type Share = fn(f64) -> f64;

/// Grids of a unit: spacing in that unit, and the share of makers that choose from it for a size of so many units.
///
/// Common practice, no source: whole millimetres mostly, then halves, tenths and quarters; sixteenths of an inch mostly, eighths and
/// quarters on larger things, then 32nds and 64ths; finer on small features; decimal inches seldom on hand work. The shares of a unit
/// add up to 1 at every size (test `shares_add_up`).
fn grids(unit: Unit) -> &'static [(f64, Share)] {
    match unit {
        Unit::Mm => &[
            (10.0, |mm| by_size(mm, [0.00, 0.00, 0.00, 0.05])),
            (5.0, |mm| by_size(mm, [0.00, 0.02, 0.07, 0.10])),
            (1.0, |mm| by_size(mm, [0.24, 0.48, 0.58, 0.60])),
            (0.5, |mm| by_size(mm, [0.36, 0.30, 0.22, 0.16])),
            (0.25, |mm| by_size(mm, [0.10, 0.06, 0.04, 0.02])),
            (0.1, |mm| by_size(mm, [0.26, 0.13, 0.09, 0.07])),
            (0.05, |mm| by_size(mm, [0.04, 0.01, 0.00, 0.00])),
        ],
        Unit::Inch => &[
            (1.0, |inch| by_size(inch * MM_PER_INCH, [0.00, 0.00, 0.00, 0.02])),
            (1.0 / 2.0, |inch| by_size(inch * MM_PER_INCH, [0.00, 0.00, 0.02, 0.06])),
            (1.0 / 4.0, |inch| by_size(inch * MM_PER_INCH, [0.00, 0.02, 0.08, 0.14])),
            (1.0 / 8.0, |inch| by_size(inch * MM_PER_INCH, [0.00, 0.12, 0.25, 0.27])),
            (1.0 / 16.0, |inch| by_size(inch * MM_PER_INCH, [0.25, 0.40, 0.37, 0.30])),
            (1.0 / 32.0, |inch| by_size(inch * MM_PER_INCH, [0.38, 0.25, 0.15, 0.11])),
            (1.0 / 64.0, |inch| by_size(inch * MM_PER_INCH, [0.24, 0.12, 0.06, 0.04])),
            (0.05, |inch| by_size(inch * MM_PER_INCH, [0.03, 0.04, 0.04, 0.04])),
            (0.01, |inch| by_size(inch * MM_PER_INCH, [0.06, 0.04, 0.03, 0.02])),
            (0.005, |inch| by_size(inch * MM_PER_INCH, [0.04, 0.01, 0.00, 0.00])),
        ],
    }
}

/// Value for a size: anchors at 2, 6, 15 and 40 mm (about 1/16, 1/4, 5/8 and 1 1/2 in), straight between them in log size, level
/// outside. Practice changes with size, but not by jumps.
fn by_size(mm: f64, anchors: [f64; 4]) -> f64 {
    const AT_MM: [f64; 4] = [2.0, 6.0, 15.0, 40.0];
    let clamped = mm.clamp(AT_MM[0], AT_MM[3]);
    for i in 0..3 {
        if clamped <= AT_MM[i + 1] {
            let t = (clamped / AT_MM[i]).ln() / (AT_MM[i + 1] / AT_MM[i]).ln();
            return anchors[i] + t * (anchors[i + 1] - anchors[i]);
        }
    }
    anchors[3]
}

/// Sizes that a trade keeps in a list rather than on a grid.
struct List {
    unit: Unit,
    /// Share of makers that choose from it, where it has sizes.
    share: f64,
    /// Ascending.
    sizes_mm: Vec<f64>,
}

impl List {
    fn new(unit: Unit, share: f64, sizes_mm: impl Iterator<Item = f64>) -> List {
        let mut sizes_mm: Vec<f64> = sizes_mm.collect();
        sizes_mm.sort_by(f64::total_cmp);
        sizes_mm.dedup_by(|a, b| (*a - *b).abs() < SAME_MM);
        List { unit, share, sizes_mm }
    }

    fn share_at(&self, mm: f64) -> f64 {
        match (self.sizes_mm.first(), self.sizes_mm.last()) {
            (Some(first), Some(last)) if (*first..=*last).contains(&mm) => self.share,
            _ => 0.0,
        }
    }
}

/// What the lists of a unit take of a maker's choices at a size; the grids get the rest.
fn listed_share(lists: &[List], unit: Unit, mm: f64) -> f64 {
    lists.iter().filter(|list| list.unit == unit).map(|list| list.share_at(mm)).sum()
}

/// Lists that a maker looks into for this kind of size. The shares are common practice, no source: most sizes are simply drawn, outer
/// diameters often are the stock's, holes often the drill's.
fn lists(kind: Kind, role: Role) -> &'static [List] {
    static LENGTHS: OnceLock<Vec<List>> = OnceLock::new();
    static OUTER: OnceLock<Vec<List>> = OnceLock::new();
    static HOLES: OnceLock<Vec<List>> = OnceLock::new();
    match (kind, role) {
        (_, Role::Bore) => HOLES.get_or_init(hole_lists),
        (Kind::Diameter, _) => OUTER.get_or_init(outer_lists),
        _ => LENGTHS.get_or_init(|| vec![preferred_list()]),
    }
}

/// ISO 3: R20 from 1 to 112 mm.
fn preferred_list() -> List {
    let numbers = preferred(Series::R20);
    let tens = numbers.iter().map(|n| n * 10.0).collect::<Vec<f64>>();
    List::new(Unit::Mm, 0.02, numbers.iter().copied().chain(tens).chain([100.0, 112.0]))
}

fn outer_lists() -> Vec<List> {
    let bars = |inch: bool| stock().iter().filter(move |item| item.inch == inch).map(|item| item.mm);
    let screws =
        |inch: bool| threads().iter().filter(move |t| matches!(t.form, Form::Unified | Form::Whitworth) == inch).map(|t| t.major_mm);
    let wire = wires().iter().filter(|wire| wire.gauge == Gauge::Swg && wire.mm > 1.0).map(|wire| wire.mm);
    vec![
        preferred_list(),
        List::new(Unit::Mm, 0.08, bars(false)),
        List::new(Unit::Mm, 0.02, screws(false)),
        List::new(Unit::Inch, 0.08, bars(true)),
        List::new(Unit::Inch, 0.02, screws(true)),
        List::new(Unit::Inch, 0.02, wire),
    ]
}

fn hole_lists() -> Vec<List> {
    let of_set = |sets: &'static [DrillSet]| drills().iter().filter(move |drill| sets.contains(&drill.set)).map(|drill| drill.mm);
    let taps =
        |inch: bool| threads().iter().filter(move |t| matches!(t.form, Form::Unified | Form::Whitworth) == inch).map(|t| t.tap_drill_mm);
    vec![
        preferred_list(),
        List::new(Unit::Mm, 0.12, of_set(&[DrillSet::Metric])),
        List::new(Unit::Mm, 0.03, taps(false)),
        List::new(Unit::Inch, 0.10, of_set(&[DrillSet::Fraction])),
        List::new(Unit::Inch, 0.04, of_set(&[DrillSet::Number, DrillSet::Letter])),
        List::new(Unit::Inch, 0.03, taps(true)),
    ]
}

fn add_grid(found: &mut Vec<RoundSize>, unit: Unit, (low_mm, high_mm): (f64, f64), spacing: f64, share_at: impl Fn(f64) -> f64) {
    let spacing_mm = spacing * unit.in_mm();
    // Counted in whole steps, so that every grid meets the same size at the same number.
    let first = (low_mm / spacing_mm).ceil().max(1.0);
    let count = ((high_mm / spacing_mm).floor() - first + 1.0).clamp(0.0, MOST_ON_A_GRID + 1.0) as usize;
    for k in 0..count {
        let mm = (first + k as f64) * spacing * unit.in_mm();
        push(found, unit, mm, share_at(mm) * spacing_mm);
    }
}

/// Each size of a list gets the share of the list times the reach of the size: half the distance between its neighbours.
fn add_list(found: &mut Vec<RoundSize>, (low_mm, high_mm): (f64, f64), list: &List) {
    for (i, &size) in list.sizes_mm.iter().enumerate().filter(|(_, size)| (low_mm..=high_mm).contains(*size)) {
        let below = i.checked_sub(1).and_then(|k| list.sizes_mm.get(k)).copied();
        let above = list.sizes_mm.get(i + 1).copied();
        let reach = match (below, above) {
            (Some(b), Some(a)) => 0.5 * (a - b),
            (Some(b), None) => size - b,
            (None, Some(a)) => a - size,
            (None, None) => 0.0,
        };
        push(found, list.unit, size, list.share * reach);
    }
}

fn push(found: &mut Vec<RoundSize>, unit: Unit, mm: f64, weight: f64) {
    if weight > 0.0 {
        let (weight_mm, weight_inch) = match unit {
            Unit::Mm => (weight, 0.0),
            Unit::Inch => (0.0, weight),
        };
        // To the nearest 1e-9 mm, so that 7/8 in is 22.225 and not 22.224999999999998.
        found.push(RoundSize { mm: (mm * 1e9).round() / 1e9, weight_mm, weight_inch });
    }
}

fn merged(mut found: Vec<RoundSize>) -> Vec<RoundSize> {
    found.sort_by(|a, b| a.mm.total_cmp(&b.mm));
    let mut out: Vec<RoundSize> = Vec::with_capacity(found.len());
    for size in found {
        match out.last_mut() {
            Some(last) if size.mm - last.mm < SAME_MM => {
                // The rounder of the two names the size.
                if size.weight_mm.max(size.weight_inch) > last.weight_mm.max(last.weight_inch) {
                    last.mm = size.mm;
                }
                last.weight_mm += size.weight_mm;
                last.weight_inch += size.weight_inch;
            }
            _ => out.push(size),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shares_add_up() {
        for unit in [Unit::Mm, Unit::Inch] {
            for i in 1..400 {
                let mm = f64::from(i) * 0.25;
                let size = if unit == Unit::Mm { mm } else { mm / MM_PER_INCH };
                let sum: f64 = grids(unit).iter().map(|(_, share)| share(size)).sum();
                assert!((sum - 1.0).abs() < 1e-9, "{unit:?} at {mm} mm: {sum}");
            }
        }
    }

    /// Over a long stretch the weights of a unit add up to the stretch: the same total as "not round" has there.
    #[test]
    fn weights_of_a_unit_fill_the_stretch_they_cover() {
        for (kind, role) in [(Kind::Length, Role::Feature), (Kind::Diameter, Role::Feature), (Kind::Diameter, Role::Bore)] {
            let near = round_sizes(16.0, 26.0, kind, role, 0.0);
            let mm = near.sizes.iter().map(|s| s.weight_mm).sum::<f64>() + 10.0 * near.haze_mm;
            let inch = near.sizes.iter().map(|s| s.weight_inch).sum::<f64>() + 10.0 * near.haze_inch;
            // Edges of the stretch cut grid cells: half the widest spacing on each side.
            assert!((mm - 10.0).abs() < 1.5 && (inch - 10.0).abs() < 1.5, "{kind:?}: mm {mm}, inch {inch}");
        }
    }

    #[test]
    fn coarser_is_rounder() {
        let weight = |mm: f64| weights_at(mm, Kind::Length, Role::Feature);
        assert!(weight(22.0).0 > weight(22.5).0 && weight(22.5).0 > weight(22.25).0 && weight(22.25).0 > weight(22.3).0 * 0.5);
        assert!(weight(19.05).1 > weight(22.225).1 && weight(22.225).1 > weight(20.6375).1 && weight(20.6375).1 > weight(21.43125).1);
        assert_eq!(weight(22.03), (0.0, 0.0));
    }
}
