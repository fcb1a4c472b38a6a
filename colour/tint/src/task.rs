//! A pot to be filled: what is in it, in which units things are added, and how much may be.

use crate::TintError;
use crate::bench::{Bench, Mix, within};
use crate::goal::{Amounts, Goal};
use crate::lattice::Pot;
use crate::search::Limits;

/// Units of colourants into a pot.
#[derive(Clone, Debug)]
pub(crate) struct Task {
    pub pot: Pot,
    pub limits: Limits,
    scatter: Vec<Scatter>,
    /// Relative standard uncertainty of what is in the pot already.
    base_scatter: Vec<f64>,
}

#[derive(Clone, Copy, Debug)]
enum Scatter {
    /// Of one drop, relative.
    Drop(f64),
    /// Of the whole dose, mL.
    Whole(f64),
}

impl Task {
    /// An empty pot of the goal's volume.
    pub fn new(bench: &Bench, goal: &Goal) -> Result<Task, TintError> {
        let n = bench.colourants.len();
        Task::onto(bench, goal, &Mix { resin_ml: goal.volume_ml, ml: vec![0.0; n], scatter: vec![0.0; n] })
    }

    /// A pot that holds `base` already.
    pub fn onto(bench: &Bench, goal: &Goal, base: &Mix) -> Result<Task, TintError> {
        let mut task = Task {
            pot: Pot { resin_ml: base.resin_ml, base_ml: base.ml.clone(), unit_ml: vec![] },
            limits: Limits { least: vec![], most: vec![], all: u32::MAX, share: vec![] },
            scatter: vec![],
            base_scatter: base.scatter.clone(),
        };
        if matches!(goal.amounts, Amounts::Drops) {
            task.limits.all = goal.max_drops;
        }
        for (c, base_ml) in bench.colourants.iter().zip(&base.ml) {
            let (unit_ml, scatter) = match goal.amounts {
                Amounts::Drops => (c.drop_ul * 1e-3, Scatter::Drop(c.drop_cv)),
                Amounts::Grams { step_g, sigma_g } => {
                    within("target, balance step_g", step_g, 1e-6..=1e3, "0.000001 to 1000 g")?;
                    within("target, balance sigma_g", sigma_g, 0.0..=1e3, "0 to 1000 g")?;
                    let missing = || TintError::NoDensity { place: "target in grams".into(), name: c.name.clone() };
                    let density = c.density_g_ml.ok_or_else(missing)?;
                    (step_g / density, Scatter::Whole(sigma_g / density))
                }
            };
            let share = c.max_percent.map_or(1.0, |p| p / 100.0);
            // With every other colourant at nothing its share is greatest; with the others beside it more of it fits, which the share itself
            // checks. Others take at most as much again as the resin and what is in.
            let room = if share >= 1.0 { f64::INFINITY } else { share / (1.0 - share) * 2.0 * base.total_ml() - base_ml };
            let stock = c.stock_ml.unwrap_or(f64::INFINITY);
            let most = (room.min(stock) / unit_ml + 1e-9).floor().clamp(0.0, f64::from(MOST_UNITS)) as u32;
            task.pot.unit_ml.push(unit_ml);
            task.limits.most.push(most.min(task.limits.all));
            task.limits.least.push(if matches!(goal.amounts, Amounts::Drops) { c.least_drops.max(1) } else { 1 });
            task.limits.share.push(share);
            task.scatter.push(scatter);
        }
        Ok(task)
    }

    /// With one more bottle, of drops like the first's and limits as wide as the widest.
    pub fn with_another(&self) -> Task {
        let mut task = self.clone();
        task.limits.least.push(1);
        task.limits.most.extend(self.limits.most.iter().max());
        task.limits.share.push(self.limits.share.iter().copied().fold(0.0, f64::max));
        task.pot.base_ml.push(0.0);
        task.pot.unit_ml.extend(self.pot.unit_ml.first());
        task.scatter.extend(self.scatter.first());
        task.base_scatter.push(0.0);
        task
    }

    /// The pot after adding `units`, whole or broken.
    pub fn mix(&self, units: &[f64]) -> Mix {
        let mut mix = Mix { resin_ml: self.pot.resin_ml, ml: self.pot.base_ml.clone(), scatter: vec![0.0; units.len()] };
        for (i, &n) in units.iter().enumerate() {
            let added = n * self.pot.unit_ml[i];
            let sigma = match self.scatter[i] {
                Scatter::Drop(cv) => added * cv / n.max(1.0).sqrt(),
                Scatter::Whole(sigma) => {
                    if n > 0.0 {
                        sigma
                    } else {
                        0.0
                    }
                }
            };
            let before = self.base_scatter[i] * self.pot.base_ml[i];
            mix.ml[i] += added;
            mix.scatter[i] = if mix.ml[i] > 0.0 { sigma.hypot(before) / mix.ml[i] } else { 0.0 };
        }
        mix
    }

    pub fn whole(&self, units: &[u32]) -> Mix {
        let units: Vec<f64> = units.iter().map(|n| f64::from(*n)).collect();
        self.mix(&units)
    }

    /// Brings broken units within every limit: shares of the total, each one's most, and all together.
    pub fn keep_limits(&self, units: &mut [f64]) {
        for _ in 0..4 {
            let total = self.mix(units).total_ml();
            for (i, n) in units.iter_mut().enumerate() {
                let room = (self.limits.share[i] * total - self.pot.base_ml[i]) / self.pot.unit_ml[i];
                *n = n.min(room).min(f64::from(self.limits.most[i])).max(0.0);
            }
        }
        let sum: f64 = units.iter().sum();
        if sum > f64::from(self.limits.all) {
            units.iter_mut().for_each(|n| *n *= f64::from(self.limits.all) / sum);
        }
    }

    /// Whether a mix in whole units keeps every limit.
    pub fn allows(&self, units: &[u32]) -> bool {
        let mix = self.whole(units);
        let total = mix.total_ml();
        let sum: u64 = units.iter().map(|n| u64::from(*n)).sum();
        let each = units.iter().enumerate().all(|(i, &n)| {
            let enough = n == 0 || (n >= self.limits.least[i] && n <= self.limits.most[i]);
            enough && (n == 0 || mix.ml[i] / total <= self.limits.share[i] + 1e-12)
        });
        each && sum <= u64::from(self.limits.all)
    }
}

/// More units of one colourant than this are no recipe.
const MOST_UNITS: u32 = 100_000;
