//! Made-up parts and measurements of them, with known truth.
#![allow(dead_code)]

use nalgebra::{DMatrix, DVector};
use quantity::{Length, Source};
use sizes::{Evidence, Kind, Measured, Role, Shaft};
use solve::Sampler;

/// A size and what its maker meant; none for places that were never designed.
#[derive(Clone, Debug)]
pub struct Meant {
    pub name: String,
    pub kind: Kind,
    pub role: Role,
    pub true_mm: f64,
    pub nominal: bool,
}

/// What a maker worked in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unit {
    Mm,
    Inch,
    Mixed,
    NotRound,
}

#[derive(Clone, Debug)]
pub struct Part {
    pub name: String,
    pub unit: Unit,
    pub shaft_mm: f64,
    pub sizes: Vec<Meant>,
}

/// The 14 parts of `tests/data/design_sizes.csv`.
pub fn design_parts() -> Vec<Part> {
    let mut parts: Vec<Part> = Vec::new();
    for line in include_str!("../data/design_sizes.csv").lines().skip(2) {
        let cells: Vec<&str> = line.split(',').collect();
        let kind = match cells[4] {
            "diameter" => Kind::Diameter,
            "length" => Kind::Length,
            _ => Kind::Position,
        };
        let role = if cells[3].contains("overall") || cells[3].contains("greatest") { Role::Overall } else { Role::Feature };
        let meant = Meant { name: cells[3].into(), kind, role, true_mm: cells[5].parse().expect("a size"), nominal: true };
        if parts.last().is_none_or(|part| part.name != cells[0]) {
            let shaft_mm = cells[2].parse().expect("a shaft");
            parts.push(Part {
                name: cells[0].into(),
                unit: if cells[1] == "in" { Unit::Inch } else { Unit::Mm },
                shaft_mm,
                sizes: Vec::new(),
            });
        }
        parts.last_mut().expect("one part").sizes.push(meant);
    }
    parts
}

/// How a made-up photograph errs.
#[derive(Clone, Copy, Debug)]
pub struct Errors {
    pub scale: f64,
    pub offset_mm: f64,
    pub own_mm: (f64, f64),
    pub strays: usize,
    /// Stated sigmas over true ones.
    pub stated: f64,
}

pub const USUAL: Errors = Errors { scale: 0.003, offset_mm: 0.05, own_mm: (0.05, 0.10), strays: 2, stated: 1.0 };

/// What a measuring step would report of a part: its covariance knows of the own errors and of most of the common scale, not of the
/// offset.
pub fn measured(part: &Part, errors: Errors, dice: &mut Sampler) -> (Evidence, Vec<Meant>) {
    let mut all = part.sizes.clone();
    for k in 0..errors.strays {
        let kind = if dice.uniform() < 0.5 { Kind::Position } else { Kind::Diameter };
        let true_mm = dice.between(2.0, 30.0);
        all.push(Meant { name: format!("stray {k}"), kind, role: Role::Feature, true_mm, nominal: false });
    }
    let (scale, offset) = (1.0 + errors.scale * dice.normal(), errors.offset_mm * dice.normal());
    let own: Vec<f64> = all.iter().map(|_| dice.between(errors.own_mm.0, errors.own_mm.1)).collect();
    let sizes: Vec<Measured> = all
        .iter()
        .zip(&own)
        .map(|(meant, own)| {
            let shift = if meant.kind == Kind::Diameter { offset } else { 0.0 };
            let value_mm = (meant.true_mm * scale + shift + own * dice.normal()).max(0.05);
            Measured { name: meant.name.clone(), kind: meant.kind, role: meant.role, z_mm: [0.0, 0.0], value_mm }
        })
        .collect();
    let values = DVector::from_iterator(sizes.len(), sizes.iter().map(|size| size.value_mm * 0.002 * errors.stated));
    let own = DVector::from_iterator(own.len(), own.iter().map(|s| (s * errors.stated).powi(2)));
    let covariance = &values * values.transpose() + DMatrix::from_diagonal(&own);
    let stated = Length { mm: part.shaft_mm, sigma_mm: 0.02, source: Source("given".into()) };
    (Evidence::new(sizes, covariance, Some(Shaft { stated })), all)
}

/// A made-up maker: chooses a unit and, for each size, how fine to go, by common practice, with a taste of their own.
pub fn made_up_part(dice: &mut Sampler) -> Part {
    let at = dice.uniform();
    let unit = if at < 0.47 {
        Unit::Mm
    } else if at < 0.94 {
        Unit::Inch
    } else if at < 0.97 {
        Unit::Mixed
    } else {
        Unit::NotRound
    };
    // Some makers are coarse, some fine: the share of sizes off the main grid.
    let fineness = dice.between(0.5, 1.5);
    let count = 3 + dice.below(6);
    let mut sizes = Vec::new();
    for k in 0..count {
        let rough = (dice.between(3f64.ln(), 45f64.ln())).exp();
        let inch = unit == Unit::Inch || (unit == Unit::Mixed && dice.uniform() < 0.5);
        let nominal = unit != Unit::NotRound;
        let true_mm = if nominal { chosen_size(rough, inch, fineness, dice) } else { rough };
        let kind = [Kind::Diameter, Kind::Length, Kind::Position][dice.below(3)];
        let role = if k < 2 { Role::Overall } else { Role::Feature };
        sizes.push(Meant { name: format!("size {k}"), kind, role, true_mm, nominal });
    }
    let shafts_mm = [4.0, 5.0, 6.0, 8.0, 10.0, 12.0];
    let shafts_inch = [3.175, 4.7625, 6.35, 7.9375, 9.525, 12.7];
    let inch = match unit {
        Unit::Mm => dice.uniform() < 0.1,
        Unit::Inch => dice.uniform() < 0.9,
        Unit::Mixed | Unit::NotRound => dice.uniform() < 0.5,
    };
    let shaft_mm = if inch { shafts_inch[dice.below(6)] } else { shafts_mm[dice.below(6)] };
    Part { name: "made up".into(), unit, shaft_mm, sizes }
}

fn chosen_size(rough_mm: f64, inch: bool, fineness: f64, dice: &mut Sampler) -> f64 {
    let small = rough_mm < 6.0;
    let shares: [(f64, f64); 5] = match (inch, small) {
        (false, true) => [(1.0, 0.40), (0.5, 0.35), (0.25, 0.08), (0.1, 0.17), (0.1, 0.0)],
        (false, false) => [(1.0, 0.70), (0.5, 0.20), (0.25, 0.03), (0.1, 0.07), (5.0, 0.0)],
        (true, true) => [(25.4 / 8.0, 0.08), (25.4 / 16.0, 0.37), (25.4 / 32.0, 0.33), (25.4 / 64.0, 0.18), (0.254, 0.04)],
        (true, false) => [(25.4 / 4.0, 0.10), (25.4 / 8.0, 0.28), (25.4 / 16.0, 0.37), (25.4 / 32.0, 0.18), (25.4 / 64.0, 0.07)],
    };
    let mut at = dice.uniform().powf(1.0 / fineness);
    for (spacing, share) in shares {
        at -= share;
        if at < 0.0 {
            return (rough_mm / spacing).round().max(1.0) * spacing;
        }
    }
    let finest = if inch { 25.4 / 64.0 } else { 0.5 };
    (rough_mm / finest).round().max(1.0) * finest
}

/// How a run of simulated parts went.
#[derive(Clone, Copy, Debug, Default)]
pub struct Tally {
    pub parts: usize,
    pub system_right: usize,
    pub system_sure: usize,
    pub sizes: usize,
    pub first: usize,
    pub third: usize,
    pub strays: usize,
    pub strays_taken: usize,
    /// Chosen with odds in 0.85..0.95, and how many of them rightly; sum of their odds.
    pub at_ninety: usize,
    pub at_ninety_right: usize,
    pub at_ninety_odds: f64,
    /// The same for all choices above 0.5.
    pub chosen: usize,
    pub chosen_right: usize,
    pub chosen_odds: f64,
    /// The system: odds given to the right one in bins of ten percent would be 1; here how often it was right at 0.85..0.95.
    pub system_ninety: usize,
    pub system_ninety_right: usize,
    pub system_ninety_odds: f64,
}

impl Tally {
    pub fn add(&mut self, part: &Part, all: &[Meant], answer: &sizes::Inference) {
        self.parts += 1;
        let right = match part.unit {
            Unit::Mm => answer.system.mm,
            Unit::Inch => answer.system.inch,
            Unit::Mixed => answer.system.mixed,
            Unit::NotRound => answer.system.not_round,
        };
        let top = answer.system.mm.max(answer.system.inch).max(answer.system.mixed).max(answer.system.not_round);
        self.system_right += usize::from(right == top);
        self.system_sure += usize::from(right >= 0.9);
        if (0.85..0.95).contains(&top) {
            self.system_ninety += 1;
            self.system_ninety_odds += top;
            self.system_ninety_right += usize::from(right == top);
        }
        for (meant, size) in all.iter().zip(&answer.sizes) {
            let rank = size.candidates.iter().position(|c| (c.mm - meant.true_mm).abs() < 0.012);
            let top = size.candidates.first().map_or(0.0, |c| c.odds);
            if meant.nominal {
                self.sizes += 1;
                self.first += usize::from(rank == Some(0));
                self.third += usize::from(rank.is_some_and(|r| r < 3));
            } else {
                self.strays += 1;
                self.strays_taken += usize::from(size.chosen.is_some());
            }
            let right = meant.nominal && rank == Some(0);
            if (0.85..0.95).contains(&top) {
                self.at_ninety += 1;
                self.at_ninety_right += usize::from(right);
                self.at_ninety_odds += top;
            }
            if top > 0.5 {
                self.chosen += 1;
                self.chosen_right += usize::from(right);
                self.chosen_odds += top;
            }
        }
    }

    pub fn share(of: usize, all: usize) -> f64 {
        of as f64 / all.max(1) as f64
    }
}
