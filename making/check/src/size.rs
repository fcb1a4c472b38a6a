//! A size read off a made part against its limits.

use crate::error::{doubt, length, within};
use crate::{CheckError, Class, Feature, general_tolerance};
use statrs::function::erf::erfc;

/// Standard uncertainty of one careful reading with a digital caliper, mm: its permissible error of 0.03 mm up to 100 mm (ISO 13385-1,
/// from memory) spread evenly, and as much again for feel.
pub const CALIPER_SIGMA_MM: f64 = 0.02;

/// The chance that a verdict is right must be at least this: the default of ISO 14253-1:2017.
const SURE: f64 = 0.95;

/// A reading with its doubt.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reading {
    /// Value, mm.
    pub mm: f64,
    /// Standard uncertainty, mm.
    pub sigma_mm: f64,
}

/// Where material can still be taken off: decides between rework and reject.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// An outer size: too large can be worked down, too small is lost.
    Outer,
    /// A bore: too small can be reamed, too large is lost.
    Bore,
    /// Nothing can be done to it.
    Fixed,
}

/// The least and greatest size that will do.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limits {
    /// Least, mm.
    pub low_mm: f64,
    /// Greatest, mm.
    pub high_mm: f64,
    /// Where material can still be taken off.
    pub side: Side,
}

/// What becomes of the part.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// Within the limits for sure.
    Accept,
    /// Neither proven within nor proven outside: a finer reading decides.
    Undecided,
    /// Outside for sure, and material can still be taken off.
    Rework,
    /// Outside for sure, and too little is left.
    Reject,
}

/// A verdict and how it came about.
#[derive(Clone, Debug, PartialEq)]
pub struct Judged {
    /// What becomes of the part.
    pub verdict: Verdict,
    /// Chances that the true size is too small, within, too large.
    pub chances: [f64; 3],
    /// Readings between these are accepted, mm; absent where the doubt is too large for the limits to accept anything.
    pub accept_mm: Option<[f64; 2]>,
    /// Largest standard uncertainty that would decide this reading, mm; absent when decided, or when the reading is on a limit.
    pub deciding_sigma_mm: Option<f64>,
    /// The rule, in words.
    pub rule: String,
}

impl Limits {
    /// From a nominal size and what it may be off either way, mm.
    ///
    /// # Errors
    /// Sizes that are not finite, or limits the wrong way round.
    pub fn about(nominal_mm: f64, under_mm: f64, over_mm: f64, side: Side) -> Result<Limits, CheckError> {
        length("the nominal size", nominal_mm)?;
        within("the upper deviation", over_mm, -1e4, 1e4, "mm, not below the lower deviation")?;
        within("the lower deviation", under_mm, -1e4, over_mm, "mm, not above the upper deviation")?;
        Ok(Limits { low_mm: nominal_mm + under_mm, high_mm: nominal_mm + over_mm, side })
    }

    /// By the general tolerances of ISO 2768-1.
    ///
    /// # Errors
    /// As [`general_tolerance`].
    pub fn general(nominal_mm: f64, class: Class, side: Side) -> Result<Limits, CheckError> {
        let tolerance = general_tolerance(class, Feature::Linear, nominal_mm)?;
        Limits::about(nominal_mm, -tolerance, tolerance, side)
    }
}

/// Mean of repeated readings of one size; the instrument's own doubt is common to all and does not average out.
///
/// # Errors
/// No readings, more than 10,000, or one that is no length.
pub fn mean_reading(values_mm: &[f64], instrument_sigma_mm: f64) -> Result<Reading, CheckError> {
    let n = values_mm.len();
    if n == 0 || n > 10_000 {
        return Err(if n == 0 {
            CheckError::TooFew { what: "readings", least: 1 }
        } else {
            CheckError::TooMany { what: "readings", found: n, most: 10_000 }
        });
    }
    doubt("the instrument's doubt", instrument_sigma_mm)?;
    values_mm.iter().try_for_each(|&mm| length("a reading", mm).map(|_| ()))?;
    let mean = values_mm.iter().sum::<f64>() / n as f64;
    let scatter = if n < 2 { 0.0 } else { values_mm.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (n as f64 - 1.0) / n as f64 };
    Ok(Reading { mm: mean, sigma_mm: instrument_sigma_mm.hypot(scatter.sqrt()) })
}

/// Judges a reading against limits.
///
/// The decision rule is that of ISO 14253-1: a part is accepted, or refused, only when the chance of that being right is at least 95 %
/// given the reading's doubt: a guard band of 1.645 standard uncertainties outside each limit for refusing, and, where the doubt is
/// small against the limits' distance, as much inside each limit for accepting.
///
/// # Errors
/// A reading, doubt or limit that is not finite or the wrong way round.
pub fn judge(reading: Reading, limits: Limits) -> Result<Judged, CheckError> {
    length("a reading", reading.mm)?;
    let sigma = doubt("a reading's doubt", reading.sigma_mm)?;
    within("the upper limit", limits.high_mm, -1e5, 1e5, "mm")?;
    within("the lower limit", limits.low_mm, -1e5, limits.high_mm, "mm, not above the upper limit")?;
    let chances = chances(reading.mm, sigma, limits);
    let verdict = verdict(chances, limits.side);
    Ok(Judged {
        verdict,
        chances,
        accept_mm: accepted(sigma, limits),
        deciding_sigma_mm: (verdict == Verdict::Undecided).then(|| deciding_sigma(reading, limits)).flatten(),
        rule: format!(
            "ISO 14253-1: accepted or refused only when that is right with at least {:.0} %; doubt of the reading {sigma:.3} mm",
            100.0 * SURE
        ),
    })
}

/// From the chances of too small, within, too large. A wide doubt that spreads over both limits proves nothing.
pub(crate) fn verdict([too_small, inside, too_large]: [f64; 3], side: Side) -> Verdict {
    match side {
        _ if inside >= SURE => Verdict::Accept,
        Side::Outer if too_large >= SURE => Verdict::Rework,
        Side::Bore if too_small >= SURE => Verdict::Rework,
        _ if too_small.max(too_large) >= SURE => Verdict::Reject,
        _ => Verdict::Undecided,
    }
}

/// Too small, within, too large, for a true size spread normally about the reading.
pub(crate) fn chances(mm: f64, sigma: f64, limits: Limits) -> [f64; 3] {
    let below = |limit: f64| 0.5 * erfc((mm - limit) / sigma / std::f64::consts::SQRT_2);
    let (too_small, too_large) = (below(limits.low_mm), 1.0 - below(limits.high_mm));
    [too_small, (1.0 - too_small - too_large).max(0.0), too_large]
}

/// Readings that are accepted: by halving from the middle outward, since the chance within falls that way.
fn accepted(sigma: f64, limits: Limits) -> Option<[f64; 2]> {
    let middle = 0.5 * (limits.low_mm + limits.high_mm);
    let sure = |mm: f64| chances(mm, sigma, limits)[1] >= SURE;
    if !sure(middle) {
        return None;
    }
    let (mut inside, mut outside) = (middle, limits.high_mm);
    for _ in 0..60 {
        let mid = 0.5 * (inside + outside);
        if sure(mid) { inside = mid } else { outside = mid }
    }
    Some([2.0 * middle - inside, inside])
}

/// The largest doubt with which this same reading would be decided, by halving.
fn deciding_sigma(reading: Reading, limits: Limits) -> Option<f64> {
    let decided = |sigma: f64| verdict(chances(reading.mm, sigma, limits), limits.side) != Verdict::Undecided;
    let (mut fine, mut coarse) = (reading.sigma_mm * 1e-3, reading.sigma_mm);
    if !decided(fine) {
        return None;
    }
    for _ in 0..50 {
        let mid = 0.5 * (fine + coarse);
        if decided(mid) { fine = mid } else { coarse = mid }
    }
    Some(fine)
}
