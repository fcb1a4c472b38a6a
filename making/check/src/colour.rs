//! One colour against the one wanted, with the reading's doubt.

use crate::error::within;
use crate::size::verdict;
use crate::{CheckError, Side, Verdict};
use cie::{Lab, ciede2000};
use statrs::function::erf::erfc_inv;

/// A colour's verdict and how it came about.
#[derive(Clone, Debug, PartialEq)]
pub struct ColourJudged {
    /// Accept, undecided or reject: colour can't be reworked.
    pub verdict: Verdict,
    /// CIEDE2000 from the colour wanted.
    pub de00: f64,
    /// Chance that the true difference is within the limit.
    pub within: f64,
    /// The rule, in words.
    pub rule: String,
}

/// Points of equal chance on each axis; 13 cubed tell chances to about 0.01 (proof/batch_second_opinion.py).
const NODES: u32 = 13;

/// Judges a colour reading of doubt `sigma` an axis against a greatest CIEDE2000 from `reference`.
///
/// The rule is that of sizes (ISO 14253-1): accepted or refused only when that is right with at least 95 %. The chance is taken over the
/// reading's doubt, spread normally and alike on L*, a* and b*; the doubt of the reference is common to all parts and not in it.
///
/// # Errors
/// Colours that are not finite, a doubt or limit that is no positive number.
pub fn judge_colour(lab: Lab, sigma: f64, reference: Lab, limit_de00: f64) -> Result<ColourJudged, CheckError> {
    for value in lab.array().into_iter().chain(reference.array()) {
        within("a colour reading", value, -1000.0, 1000.0, "Lab, each below 1000")?;
    }
    within("the doubt of a colour reading", sigma, 1e-6, 50.0, "above 0, at most 50")?;
    within("the limit of a colour", limit_de00, 0.01, 50.0, "a CIEDE2000 of 0.01 to 50")?;
    let nodes = nodes();
    let inside = |offset: [f64; 3]| {
        ciede2000(Lab { l: lab.l + sigma * offset[0], a: lab.a + sigma * offset[1], b: lab.b + sigma * offset[2] }, reference) <= limit_de00
    };
    let count =
        nodes.iter().flat_map(|x| nodes.iter().flat_map(|y| nodes.iter().map(|z| [*x, *y, *z]))).filter(|offset| inside(*offset)).count();
    let within = count as f64 / f64::from(NODES.pow(3));
    let de00 = ciede2000(lab, reference);
    Ok(ColourJudged {
        verdict: verdict([0.0, within, 1.0 - within], Side::Fixed),
        de00,
        within,
        rule: format!(
            "CIEDE2000 of at most {limit_de00:.1}, accepted or refused only when that is right with at least 95 %; found {de00:.2}, doubt {sigma:.2} an axis"
        ),
    })
}

/// Normal quantiles in the middle of equal chances, spread to a variance of 1, which they fall short of.
fn nodes() -> Vec<f64> {
    let raw: Vec<f64> = (0..NODES).map(|i| -std::f64::consts::SQRT_2 * erfc_inv((2.0 * f64::from(i) + 1.0) / f64::from(NODES))).collect();
    let deviation = (raw.iter().map(|v| v * v).sum::<f64>() / f64::from(NODES)).sqrt();
    raw.into_iter().map(|v| v / deviation).collect()
}
