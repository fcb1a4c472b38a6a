//! Bores by gauge pins: which enter, which do not.

use crate::error::{doubt, length};
use crate::size::{chances, verdict};
use crate::{CheckError, Limits, Reading, Side, Verdict};

/// One try.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PinTry {
    /// Diameter of the pin, mm.
    pub mm: f64,
    /// Whether it went in by its own weight.
    pub enters: bool,
}

/// What the pins say.
#[derive(Clone, Debug, PartialEq)]
pub struct PinVerdict {
    /// Largest pin that enters, mm.
    pub go_mm: Option<f64>,
    /// Smallest pin that does not, mm.
    pub no_go_mm: Option<f64>,
    /// The bore, where both are known: their middle, its doubt that of an even spread between them and of the pins.
    pub bore: Option<Reading>,
    /// Chances that the bore is too small, within, too large, where both are known: spread evenly between the two pins.
    pub chances: Option<[f64; 3]>,
    /// The verdict, by the rule of [`crate::judge`].
    pub verdict: Verdict,
    /// What the pins alone prove, or which pin to try next, in words.
    pub words: String,
}

/// Judges a bore by pins of doubt `pin_sigma_mm` each.
///
/// # Errors
/// No pins, more than 200, sizes that are none, or a larger pin that enters where a smaller does not.
pub fn judge_by_pins(tries: &[PinTry], pin_sigma_mm: f64, limits: Limits) -> Result<PinVerdict, CheckError> {
    check(tries, pin_sigma_mm)?;
    let go_mm = tries.iter().filter(|t| t.enters).map(|t| t.mm).reduce(f64::max);
    let no_go_mm = tries.iter().filter(|t| !t.enters).map(|t| t.mm).reduce(f64::min);
    if let (Some(larger_mm), Some(smaller_mm)) = (go_mm, no_go_mm)
        && larger_mm >= smaller_mm
    {
        return Err(CheckError::PinsContradict { larger_mm, smaller_mm });
    }
    let bore = go_mm.zip(no_go_mm).map(|(go, no_go)| {
        // Even between two bounds: their distance over sqrt 12.
        let spread = (no_go - go) / 12f64.sqrt();
        Reading { mm: 0.5 * (go + no_go), sigma_mm: spread.hypot(pin_sigma_mm) }
    });
    let chances = go_mm.zip(no_go_mm).map(|(go, no_go)| even_chances(go, no_go, pin_sigma_mm, limits));
    let verdict = match chances {
        Some(chances) => verdict(chances, limits.side),
        None => one_sided(go_mm, no_go_mm, limits),
    };
    Ok(PinVerdict { go_mm, no_go_mm, bore, chances, verdict, words: words(go_mm, no_go_mm, limits) })
}

/// Mean of the chances over 200 bores spread evenly between the pins, each blurred by the pins' doubt.
fn even_chances(go: f64, no_go: f64, sigma: f64, limits: Limits) -> [f64; 3] {
    const STEPS: u32 = 200;
    (0..STEPS).fold([0.0; 3], |sum, i| {
        let bore = go + (no_go - go) * (f64::from(i) + 0.5) / f64::from(STEPS);
        let here = chances(bore, sigma, limits);
        std::array::from_fn(|k| sum[k] + here[k] / f64::from(STEPS))
    })
}

/// What a pin on one side alone proves.
fn one_sided(go: Option<f64>, no_go: Option<f64>, limits: Limits) -> Verdict {
    if no_go.is_some_and(|pin| pin <= limits.low_mm) {
        return if limits.side == Side::Bore { Verdict::Rework } else { Verdict::Reject };
    }
    if go.is_some_and(|pin| pin >= limits.high_mm) { Verdict::Reject } else { Verdict::Undecided }
}

fn check(tries: &[PinTry], pin_sigma_mm: f64) -> Result<(), CheckError> {
    if tries.is_empty() {
        return Err(CheckError::TooFew { what: "pins", least: 1 });
    }
    if tries.len() > 200 {
        return Err(CheckError::TooMany { what: "pins", found: tries.len(), most: 200 });
    }
    doubt("a pin's doubt", pin_sigma_mm)?;
    tries.iter().try_for_each(|t| length("a pin", t.mm).map(|_| ()))
}

fn words(go: Option<f64>, no_go: Option<f64>, limits: Limits) -> String {
    let (low, high) = (limits.low_mm, limits.high_mm);
    match (go, no_go) {
        (Some(go), Some(no_go)) if go >= low && no_go <= high => {
            format!("within limits: the {go} mm pin enters, the {no_go} mm pin does not")
        }
        (_, Some(no_go)) if no_go <= low => format!("too small: the {no_go} mm pin does not enter; ream to {low:.3} mm or more"),
        (Some(go), _) if go >= high => format!("too large: the {go} mm pin enters"),
        (None, _) => format!("no pin enters yet: try the {low:.3} mm pin"),
        (Some(go), _) if go < low => format!("not decided: try the {low:.3} mm pin, it must enter"),
        _ => format!("not decided: try the {high:.3} mm pin, it must not enter"),
    }
}
