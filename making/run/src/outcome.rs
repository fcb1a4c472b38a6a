//! How many of the started parts come out good: what is known of the yield and of lost loads, and the chances that follow.

use crate::RunError;
use crate::error::within;
use statrs::function::beta::beta_reg;

/// Parts made so far, and how many of them were good; parts of loads that were lost whole are not counted in either.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Experience {
    /// Made.
    pub made: u32,
    /// Good among them.
    pub good: u32,
}

/// What is known of the share of good parts.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Yield {
    /// Known for sure, 0..=1; only for comparison with tables.
    Known(f64),
    /// Learnt: a flat prior on the share, so that it is Beta(good + 1, bad + 1).
    Learnt(Experience),
}

/// What is known of the chance that a whole load is lost, the same for all and each load for itself.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum LoadLoss {
    /// Known or assumed, 0..1.
    Known(f64),
    /// Learnt from loads run and loads lost, flat prior.
    Learnt {
        /// Loads run.
        run: u32,
        /// Lost among them.
        lost: u32,
    },
}

/// The yield in numbers for the sheet.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Belief {
    /// Mean share of good parts.
    pub mean: f64,
    /// The middle 90 %: from, to.
    pub middle_90: [f64; 2],
}

impl Yield {
    /// Mean and middle 90 % of the share.
    pub fn belief(&self) -> Belief {
        match *self {
            Yield::Known(p) => Belief { mean: p, middle_90: [p, p] },
            Yield::Learnt(Experience { made, good }) => {
                // Beyond 10,000, which no plan accepts, the picture is the same.
                let (made, good) = (made.min(10_000), good.min(made).min(10_000));
                let (a, b) = (f64::from(good) + 1.0, f64::from(made.saturating_sub(good)) + 1.0);
                Belief { mean: a / (a + b), middle_90: [beta_quantile(a, b, 0.05), beta_quantile(a, b, 0.95)] }
            }
        }
    }

    pub(crate) fn check(&self) -> Result<(), RunError> {
        match *self {
            Yield::Known(p) => within("the yield", p, 0.0, 1.0, "a share between 0 and 1").map(|_| ()),
            Yield::Learnt(Experience { made, good }) if good > made => Err(RunError::Experience { made, good }),
            Yield::Learnt(e) => {
                within("the number made", f64::from(e.made), 0.0, 1e4, "at most 10000: count the latest ones only").map(|_| ())
            }
        }
    }

    /// Chance that the next part is good when `good` of `tried` further ones have been.
    fn next_good(&self, good: u32, tried: u32) -> f64 {
        match *self {
            Yield::Known(p) => p,
            Yield::Learnt(e) => (f64::from(e.good) + 1.0 + f64::from(good)) / (f64::from(e.made) + 2.0 + f64::from(tried)),
        }
    }
}

impl LoadLoss {
    pub(crate) fn check(&self) -> Result<(), RunError> {
        match *self {
            LoadLoss::Known(q) => within("the share of lost loads", q, 0.0, 0.9, "a share between 0 and 0.9").map(|_| ()),
            LoadLoss::Learnt { run, lost } if lost > run => Err(RunError::Experience { made: run, good: run.wrapping_sub(lost) }),
            LoadLoss::Learnt { run, .. } => {
                within("the number of loads", f64::from(run), 0.0, 1e4, "at most 10000: count the latest ones only").map(|_| ())
            }
        }
    }

    /// Numbers of lost loads with their chances: binomial, or beta-binomial where learnt.
    fn lost_loads(&self, loads: u32) -> Vec<(u32, f64)> {
        let n = f64::from(loads);
        let ratio = |k: f64| match *self {
            LoadLoss::Known(q) => (n - k) / (k + 1.0) * q / (1.0 - q),
            LoadLoss::Learnt { run, lost } => {
                let (a, b) = (f64::from(lost) + 1.0, f64::from(run.saturating_sub(lost)) + 1.0);
                (n - k) / (k + 1.0) * (a + k) / (b + n - k - 1.0)
            }
        };
        from_ratios(0, loads, |k| ratio(f64::from(k)))
    }
}

/// Chances of the whole numbers `low..=high` from the ratio of each one's chance to that of the one before, given as `ratio(k)` =
/// P(k + 1) / P(k). **Needs** a single peak (`ratio` crosses 1 once). Numbers below 1e-16 of the peak are left out.
fn from_ratios(low: u32, high: u32, ratio: impl Fn(u32) -> f64) -> Vec<(u32, f64)> {
    let (mut below, mut peak) = (low, high);
    while below < peak {
        let middle = below + (peak - below) / 2;
        if ratio(middle) >= 1.0 { below = middle + 1 } else { peak = middle }
    }
    let mut terms = vec![(peak, 1.0)];
    let mut weight = 1.0;
    for k in (low..peak).rev() {
        weight /= ratio(k);
        if weight < 1e-16 {
            break;
        }
        terms.push((k, weight));
    }
    terms.reverse();
    weight = 1.0;
    for k in peak..high {
        weight *= ratio(k);
        if weight < 1e-16 {
            break;
        }
        terms.push((k + 1, weight));
    }
    let sum: f64 = terms.iter().map(|term| term.1).sum();
    terms.into_iter().map(|(k, weight)| (k, weight / sum)).collect()
}

/// The point below which Beta(a, b) has `share`, by halving: fifty steps fix it to 1e-15. (Newton's method as statrs has it can run
/// without end for large, lopsided a and b.) **Needs** positive a, b up to some 10,000, where statrs' continued fraction has converged.
fn beta_quantile(a: f64, b: f64, share: f64) -> f64 {
    let (mut low, mut high) = (0.0, 1.0);
    for _ in 0..50 {
        let middle = 0.5 * (low + high);
        if beta_reg(a, b, middle) < share { low = middle } else { high = middle }
    }
    0.5 * (low + high)
}

/// Chance of at least `wanted` good parts of `start` spread evenly over `loads` loads.
///
/// A lost load takes all its parts: the surviving number is a mixture over which loads are lost, and given it the good ones are
/// binomial or beta-binomial. **Good to** 1e-9, tests of rows `bin_*`, `betabin*`, `plate`, and `chance_by_playing_it_out`.
///
/// # Errors
/// A yield or loss that cannot be; more than 100,000 starts.
pub fn chance(wanted: u32, start: u32, loads: u32, share: Yield, loss: LoadLoss) -> Result<f64, RunError> {
    share.check()?;
    loss.check()?;
    within("the number of starts", f64::from(start), 0.0, 1e5, "at most 100000")?;
    Ok(if wanted > start { 0.0 } else { Tails::new(wanted, share).chance(start, loads, loss) })
}

/// Mean and standard deviation of the starts until `wanted` are good, at a known yield (negative binomial); infinite at a yield of 0.
pub fn mean_starts(wanted: u32, yield_share: f64) -> (f64, f64) {
    let n = f64::from(wanted);
    (n / yield_share, (n * (1.0 - yield_share)).sqrt() / yield_share)
}

/// Chance of at least `wanted` good of 0, 1, 2 ... surviving parts, grown as asked for.
///
/// By recursion on the parts tried: enough after one more = enough before + exactly one short before, and the next is good. Kept in
/// logarithms where it could underflow.
pub(crate) struct Tails {
    wanted: u32,
    share: Yield,
    tails: Vec<f64>,
    /// ln of the chance to be exactly one short after the last number tried.
    ln_one_short: f64,
}

impl Tails {
    pub(crate) fn new(wanted: u32, share: Yield) -> Tails {
        let short = wanted.saturating_sub(1);
        let ln_one_short = (0..short).map(|i| share.next_good(i, i).ln()).sum();
        let tails = if wanted == 0 { vec![1.0] } else { vec![0.0; wanted as usize] };
        Tails { wanted, share, tails, ln_one_short }
    }

    /// Chance of enough good ones of `survivors`.
    pub(crate) fn at(&mut self, survivors: u32) -> f64 {
        while self.wanted > 0 && self.tails.len() <= survivors as usize {
            self.grow();
        }
        self.tails.get(survivors as usize).copied().unwrap_or(1.0)
    }

    fn grow(&mut self) {
        let tried = self.tails.len() as u32 - 1;
        let short = self.wanted - 1;
        let good = self.share.next_good(short, tried);
        let tail = self.tails.last().copied().unwrap_or(0.0) + self.ln_one_short.exp() * good;
        self.tails.push(tail.min(1.0));
        // Exactly `short` of tried + 1: one more bad one, and one more place for it among them.
        let places = f64::from(tried + 1) / f64::from(tried + 1 - short);
        self.ln_one_short += places.ln() + (1.0 - good).ln();
    }

    pub(crate) fn chance(&mut self, start: u32, loads: u32, loss: LoadLoss) -> f64 {
        let loads = loads.clamp(1, start.max(1));
        if loss == LoadLoss::Known(0.0) {
            return self.at(start);
        }
        let (small, larger) = (start / loads, start % loads);
        let mut total = 0.0;
        for (lost, weight) in loss.lost_loads(loads) {
            for (lost_larger, part) in larger_among_lost(loads, larger, lost) {
                total += weight * part * self.at(start - lost * small - lost_larger);
            }
        }
        total.min(1.0)
    }
}

/// How many of the `lost` loads are among the `larger` ones that hold one part more: hypergeometric, as (number, chance).
fn larger_among_lost(loads: u32, larger: u32, lost: u32) -> Vec<(u32, f64)> {
    let (all, larger_f, lost_f) = (f64::from(loads), f64::from(larger), f64::from(lost));
    let ratio = |h: u32| {
        let h = f64::from(h);
        (larger_f - h) * (lost_f - h) / ((h + 1.0) * (all - larger_f - lost_f + h + 1.0))
    };
    from_ratios(lost.saturating_sub(loads - larger), lost.min(larger), ratio)
}
