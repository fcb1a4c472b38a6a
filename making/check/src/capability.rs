//! How well a process keeps its limits.

use crate::error::within;
use crate::{CheckError, Limits};
use statrs::function::erf::{erfc, erfc_inv};

/// Cpk with its doubt.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Capability {
    /// Distance from the mean to the nearer limit over three standard deviations.
    pub cpk: f64,
    /// Approximate standard error: sqrt(1/(9 n) + Cpk^2 / (2 n - 2)) (Bissell 1990).
    pub standard_error: f64,
    /// Lower bound at 95 %: what may be claimed.
    pub lower_95: f64,
    /// Share within the limits if sizes are spread normally with this mean and deviation.
    pub within: f64,
    /// Parts it rests on.
    pub n: usize,
}

/// From the sizes of the parts themselves.
///
/// # Errors
/// Fewer than three sizes, more than 100,000, or sizes without any scatter.
pub fn capability_of(sizes_mm: &[f64], limits: Limits) -> Result<Capability, CheckError> {
    let n = sizes_mm.len();
    if n < 3 {
        return Err(CheckError::TooFew { what: "sizes", least: 3 });
    }
    if n > 100_000 {
        return Err(CheckError::TooMany { what: "sizes", found: n, most: 100_000 });
    }
    sizes_mm.iter().try_for_each(|&mm| crate::error::length("a size", mm).map(|_| ()))?;
    let mean = sizes_mm.iter().sum::<f64>() / n as f64;
    let deviation = (sizes_mm.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (n as f64 - 1.0)).sqrt();
    capability(mean, deviation, n, limits)
}

/// From mean and standard deviation of `n` parts.
///
/// # Errors
/// Fewer than three parts, a deviation of zero, numbers that are not finite.
pub fn capability(mean_mm: f64, deviation_mm: f64, n: usize, limits: Limits) -> Result<Capability, CheckError> {
    if n < 3 {
        return Err(CheckError::TooFew { what: "sizes", least: 3 });
    }
    within("the mean", mean_mm, -1e5, 1e5, "mm")?;
    within("the limits", limits.high_mm - limits.low_mm, 0.0, 1e5, "a lower limit below the upper")?;
    let s = within("the standard deviation", deviation_mm, 1e-9, 1e4, "some scatter; sizes that are all alike were read too coarsely")?;
    let cpk = (limits.high_mm - mean_mm).min(mean_mm - limits.low_mm) / (3.0 * s);
    let standard_error = (1.0 / (9.0 * n as f64) + cpk * cpk / (2.0 * (n as f64 - 1.0))).sqrt();
    // The 95 % point of the normal distribution, 1.6449.
    let one_sided_95 = std::f64::consts::SQRT_2 * erfc_inv(0.10);
    let above = |limit: f64| 0.5 * erfc((limit - mean_mm) / s / std::f64::consts::SQRT_2);
    Ok(Capability {
        cpk,
        standard_error,
        lower_95: cpk - one_sided_95 * standard_error,
        within: above(limits.low_mm) - above(limits.high_mm),
        n,
    })
}
