//! How far the law of mixing may be off on this bench: learnt from its own chips.

use crate::TintError;
use crate::bench::Bench;
use crate::learn::{Model, fit};
use crate::prior::prior;

/// Relative error of a mixture's absorption beyond what dose and law tell, as believed beforehand: two-constant Kubelka-Munk with well known
/// paints missed mixtures by about 1.2 CIEDE2000 on average, which is some 8 % of K; thin tints in one white resin, where scattering hardly
/// changes, do better.
pub(crate) const USUAL: f64 = 0.04;
/// Benches differ in it by a factor of 2^1.5 either way, one sigma: from resins that follow the law to 1 % to paints that miss it by 10 %.
const DOUBLINGS: f64 = 1.5;
/// Farthest tried, in doublings from the usual: 1 % and 32 %.
const TRIED: std::ops::RangeInclusive<i32> = -2..=3;

/// The bench learnt with the usual error, and with the most probable one of those tried: the odds of the readings (their Gaussian density at the
/// most probable curves, Laplace) times what was believed beforehand.
///
/// Chips that agree with the law make the bounds closer, chips that do not make them wider. Checked by playing benches of other laws:
/// smooth errors of about 10 % and 20 % in K left the 95 % bound holding in 95 and 92 of 100, a fixed 4 % in 90 and 80.
pub(crate) fn usual_and_likeliest(bench: &Bench) -> Result<(Model, Model), TintError> {
    let usual = fit(bench, prior(bench), USUAL, None)?;
    let mut best = (usual.evidence(), usual.clone());
    if bench.chips.is_empty() {
        return Ok((usual, best.1));
    }
    // Uphill in doublings, one way, and the other if that way led nowhere; the curves hardly change, so each fit starts from the last.
    for way in [-1, 1] {
        let mut doublings = way;
        while TRIED.contains(&doublings) {
            let model = fit(bench, prior(bench), USUAL * 2f64.powi(doublings), Some(&best.1.u))?;
            let odds = model.evidence() - 0.5 * (f64::from(doublings) / DOUBLINGS).powi(2);
            if odds <= best.0 {
                break;
            }
            best = (odds, model);
            doublings += way;
        }
        if doublings != way {
            break;
        }
    }
    Ok((usual, best.1))
}

/// The bench learnt with an error of the law that is known already.
pub(crate) fn with_error(bench: &Bench, law_error: f64) -> Result<Model, TintError> {
    fit(bench, prior(bench), law_error, None)
}
