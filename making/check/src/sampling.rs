//! What a few inspected parts say of the rest.

use crate::CheckError;
use crate::error::within;
use statrs::function::beta::beta_reg;
use statrs::function::factorial::ln_binomial;

/// Bounds of the share of bad parts after `bad` of `n`, each side held with `certainty` (Clopper and Pearson 1934).
///
/// # Errors
/// More bad than inspected, none or more than 10,000 inspected, a certainty outside 0.5..1.
pub fn bad_share_bounds(bad: u64, n: u64, certainty: f64) -> Result<[f64; 2], CheckError> {
    check_counts(bad, n)?;
    within("the number inspected", n as f64, 1.0, 1e4, "at most 10000: count the latest ones only")?;
    let sure = check_certainty(certainty)?;
    let (k, n) = (bad as f64, n as f64);
    let low = if bad == 0 { 0.0 } else { beta_quantile(k, n - k + 1.0, 1.0 - sure) };
    let high = if k == n { 1.0 } else { beta_quantile(k + 1.0, n - k, sure) };
    Ok([low, high])
}

/// Upper bound of the share of bad parts after none bad of `n`: 1 - (1 - certainty)^(1/n).
///
/// # Errors
/// None inspected, a certainty outside 0.5..1.
pub fn zero_failure_bound(n: u64, certainty: f64) -> Result<f64, CheckError> {
    check_counts(0, n)?;
    Ok(-((1.0 - check_certainty(certainty)?).ln() / n as f64).exp_m1())
}

/// Chance that at most `accept` of `n` are bad when a share `bad_share` of all that is ever made is bad.
///
/// # Errors
/// A share outside 0..1, more than a million inspected.
pub fn accept_chance_binomial(n: u64, accept: u64, bad_share: f64) -> Result<f64, CheckError> {
    check_counts(0, n)?;
    let p = within("the share of bad parts", bad_share, 0.0, 1.0, "a share between 0 and 1")?;
    let term = |k: u64| ln_binomial(n, k) + times_ln(k, p) + times_ln(n - k, 1.0 - p);
    Ok((0..=accept.min(n)).map(|k| term(k).exp()).sum::<f64>().min(1.0))
}

/// Chance that at most `accept` of `n` taken from a lot of `lot` with `bad` bad ones are bad (hypergeometric).
///
/// # Errors
/// More taken or bad than there are; lots above a million.
pub fn accept_chance_of_lot(lot: u64, bad: u64, n: u64, accept: u64) -> Result<f64, CheckError> {
    check_counts(bad, lot)?;
    check_counts(n, lot)?;
    let least = (n + bad).saturating_sub(lot);
    let most = accept.min(n).min(bad);
    let term = |k: u64| ln_binomial(bad, k) + ln_binomial(lot - bad, n - k) - ln_binomial(lot, n);
    Ok((least..=most).map(|k| term(k).exp()).sum::<f64>().min(1.0))
}

/// The most bad ones that a lot may still hold, at `certainty`, after `found` bad of `n` inspected (the found ones included).
///
/// # Errors
/// Counts that cannot be, lots above 10,000.
pub fn bad_in_lot_bound(lot: u64, n: u64, found: u64, certainty: f64) -> Result<u64, CheckError> {
    check_counts(found, n)?;
    check_counts(n, lot)?;
    within("the lot", lot as f64, 1.0, 1e4, "at most 10000 parts")?;
    let risk = 1.0 - check_certainty(certainty)?;
    // The more bad ones, the less likely so few are found: halving ends at the last number that is still likely enough.
    let (mut likely, mut unlikely) = (found, lot - (n - found) + 1);
    while likely + 1 < unlikely {
        let middle = likely + (unlikely - likely) / 2;
        if accept_chance_of_lot(lot, middle, n, found)? > risk { likely = middle } else { unlikely = middle }
    }
    Ok(likely)
}

/// How many of a lot to inspect, none of them bad, so that a lot with `bad` bad ones passes with a chance of at most `risk`.
///
/// # Errors
/// Counts that cannot be, no bad ones, a risk outside 0.001..0.5.
pub fn inspect_for(lot: u64, bad: u64, risk: f64) -> Result<u64, CheckError> {
    check_counts(bad, lot)?;
    within("the lot", lot as f64, 1.0, 1e4, "at most 10000 parts")?;
    within("the number of bad parts to be found", bad as f64, 1.0, 1e4, "at least 1")?;
    let risk = within("the risk", risk, 0.001, 0.5, "a chance between 0.001 and 0.5")?;
    for n in 1..lot {
        if accept_chance_of_lot(lot, bad, n, 0)? <= risk {
            return Ok(n);
        }
    }
    Ok(lot)
}

/// A single sampling plan of ISO 2859-1, and what to do instead.
#[derive(Clone, Debug, PartialEq)]
pub struct LotPlan {
    /// Code letter of the lot's size.
    pub code: char,
    /// Parts to inspect, arrows of the table followed.
    pub inspect: u32,
    /// Bad ones among them with which the lot is still accepted.
    pub accept: u32,
    /// Advice for one small lot, with the numbers that it rests on.
    pub advice: String,
}

#[derive(Clone, Copy, PartialEq)]
enum Cell {
    Down,
    Up,
    Accept(u32),
}

use Cell::{Accept, Down, Up};

const AQLS: [f64; 8] = [0.65, 1.0, 1.5, 2.5, 4.0, 6.5, 10.0, 15.0];

/// Largest lot, code letter, sample, then one cell an AQL: normal inspection, general level II (ISO 2859-1:1999; two public texts agree).
const PLANS: [(u32, char, u32, [Cell; 8]); 8] = [
    (8, 'A', 2, [Down, Down, Down, Down, Down, Accept(0), Up, Down]),
    (15, 'B', 3, [Down, Down, Down, Down, Accept(0), Up, Down, Accept(1)]),
    (25, 'C', 5, [Down, Down, Down, Accept(0), Up, Down, Accept(1), Accept(2)]),
    (50, 'D', 8, [Down, Down, Accept(0), Up, Down, Accept(1), Accept(2), Accept(3)]),
    (90, 'E', 13, [Down, Accept(0), Up, Down, Accept(1), Accept(2), Accept(3), Accept(5)]),
    (150, 'F', 20, [Accept(0), Up, Down, Accept(1), Accept(2), Accept(3), Accept(5), Accept(7)]),
    (280, 'G', 32, [Up, Down, Accept(1), Accept(2), Accept(3), Accept(5), Accept(7), Accept(10)]),
    (500, 'H', 50, [Down, Accept(1), Accept(2), Accept(3), Accept(5), Accept(7), Accept(10), Accept(14)]),
];

/// The plan of ISO 2859-1 (normal inspection, level II) for a lot, with the advice that belongs to it.
///
/// # Errors
/// Lots outside 2..=500 or an AQL the table lacks.
pub fn small_lot(lot: u32, aql: f64) -> Result<LotPlan, CheckError> {
    let none = CheckError::NoPlan { lot, aql };
    let column = AQLS.iter().position(|a| (a - aql).abs() < 1e-9).ok_or(none.clone())?;
    let start = PLANS.iter().position(|plan| lot <= plan.0).filter(|_| lot >= 2).ok_or(none.clone())?;
    let mut row = start;
    // An arrow leads to the next plan on its side; they never lead in a circle, but the table's last row may point out of it.
    for _ in 0..PLANS.len() {
        let (.., inspect, cells) = PLANS.get(row).ok_or(none.clone())?;
        match cells[column] {
            Accept(accept) => {
                let inspect = (*inspect).min(lot);
                return Ok(LotPlan { code: PLANS[start].1, inspect, accept, advice: advice(lot, inspect, accept)? });
            }
            Down => row += 1,
            Up => row = row.checked_sub(1).ok_or(none.clone())?,
        }
    }
    Err(none)
}

fn advice(lot: u32, inspect: u32, accept: u32) -> Result<String, CheckError> {
    let bad = (lot / 10).max(1);
    let passes = accept_chance_of_lot(u64::from(lot), u64::from(bad), u64::from(inspect), u64::from(accept))?;
    let why = format!(
        "the plan ({inspect} of {lot}, at most {accept} bad) is made for a series of lots; one lot with {bad} bad would pass it with a chance of {:.0} %",
        100.0 * passes
    );
    let n = inspect_for(u64::from(lot), u64::from(bad), 0.10)?;
    // Up to code C an inspection of all takes less time than an argument about a sample.
    if lot <= 25 || n * 10 >= u64::from(lot) * 8 {
        Ok(format!("Inspect all {lot}: {why}."))
    } else {
        Ok(format!("Inspect all {lot}, or at least {n} with none bad: {why}."))
    }
}

fn check_counts(part: u64, whole: u64) -> Result<(), CheckError> {
    if whole == 0 || part > whole {
        return Err(CheckError::Count { what: "parts", part, whole });
    }
    if whole > 1_000_000 {
        return Err(CheckError::Number { what: "the number of parts", found: whole as f64, expected: "at most 1000000" });
    }
    Ok(())
}

fn check_certainty(certainty: f64) -> Result<f64, CheckError> {
    within("the certainty", certainty, 0.5, 0.9999, "a chance between 0.5 and 0.9999")
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

/// k ln p, with 0 ln 0 = 0.
fn times_ln(k: u64, p: f64) -> f64 {
    if k == 0 { 0.0 } else { k as f64 * p.ln() }
}
