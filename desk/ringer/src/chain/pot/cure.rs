//! What the tint does to cure depth: by test strips, else by its absorption at the lamp.

use super::Worked;
use crate::chain::Says;
use crate::chain::evidence::Evidence;
use result::{CureTold, Doubted, JobResult};
use tint::{Strip, WorkingCurve};

/// Doubt of a strip's depth where none is given, um: a micrometer on a soft film (common practice, no source).
const STRIP_SIGMA_UM: f64 = 10.0;
const LAYER_MM: f64 = 0.05;
const LAMP_NM: f64 = 405.0;
/// Doubt of the absorption that the model reckons for the tint at the lamp, relative: the chips are read from 400 nm up, in diffuse light.
const ABSORPTION_SIGMA: f64 = 0.5;

/// `None` where neither strips nor a lamp are told of.
pub(super) fn work_out(evidence: &Evidence, worked: &Worked, sheet: &mut JobResult) -> Option<CureTold> {
    let document = &evidence.document;
    let strips = strips(evidence);
    if strips.is_empty() && document.lamp.is_none() {
        return None;
    }
    let lamp = document.lamp.clone().unwrap_or_default();
    let by_run = document.run.as_ref().and_then(|run| run.load_time.as_ref()).map(|time| time.layer_mm);
    let layer_mm = lamp.layer_mm.or(by_run).unwrap_or_else(|| {
        sheet.assume("pot", format!("Layers are {LAYER_MM} mm thick."), "[lamp] layer_mm");
        LAYER_MM
    });
    let fit = |tinted: bool, sheet: &mut JobResult| {
        let own: Vec<Strip> = strips.iter().filter(|(_, is)| *is == tinted).map(|(strip, _)| *strip).collect();
        match own.len() {
            0 => None,
            _ => WorkingCurve::fit(&own)
                .map_err(|error| {
                    sheet.warn(
                        "pot",
                        None,
                        format!("Strips of the {}: {error}", if tinted { "tinted mix" } else { "bare resin" }),
                        "Cure two strips with clearly different exposures.",
                    )
                })
                .ok(),
        }
    };
    let (bare, tinted) = (fit(false, sheet), fit(true, sheet));
    let mut told = CureTold {
        layer_mm,
        strips: strips.iter().map(|(s, tinted)| [s.exposure_mj_cm2, s.depth_um, s.sigma_um, f64::from(u8::from(*tinted))]).collect(),
        ..CureTold::default()
    };
    let layer_um = 1000.0 * layer_mm;
    match (tinted, bare) {
        (Some(curve), bare) => {
            told.measured = true;
            told.basis = "Measured: the working curve through the strips of the tinted mix; 1.5 layers deep, with the curve's doubt on top.".into();
            told.factor = bare.map(|bare| curve.suggest(layer_um).value / bare.suggest(layer_um).value);
            curve_told(&mut told, &curve, layer_um);
        }
        (None, Some(bare)) => match estimate(worked, &bare, lamp.nm.unwrap_or(LAMP_NM)) {
            None => told.basis = "There is no recipe yet whose tint could be reckoned with.".into(),
            Some(curve) => {
                told.basis = format!(
                    "An estimate: the strips of bare resin, and what the colourants absorb at {:.0} nm by the chips' model. Cure two strips of the mix before the first load.",
                    lamp.nm.unwrap_or(LAMP_NM)
                );
                told.factor = Some(curve.exposure(1.5 * layer_um).value / bare.exposure(1.5 * layer_um).value);
                curve_told(&mut told, &curve, layer_um);
            }
        },
        (None, None) => told.basis = "No exposure can be told without strips: cure two of the tinted mix with different exposures, measure how thick they are, and enter them as [[strip]].".into(),
    }
    Some(told)
}

fn curve_told(told: &mut CureTold, curve: &WorkingCurve, layer_um: f64) {
    let doubted = |value: f64, variance: f64| Doubted { value, sigma: value * variance.max(0.0).sqrt() };
    told.depth_um = Some(doubted(curve.depth_um, curve.covariance[0][0]));
    told.critical = Some(doubted(curve.critical_mj_cm2, curve.covariance[1][1]));
    let suggested = curve.suggest(layer_um);
    told.exposure = Some(Doubted { value: suggested.value, sigma: suggested.sigma });
}

/// The job's own strips, and those of bare resin that bench.toml keeps of this process.
fn strips(evidence: &Evidence) -> Vec<(Strip, bool)> {
    let own = evidence.document.strip.iter().map(|strip| {
        let sigma_um = strip.sigma_um.unwrap_or(STRIP_SIGMA_UM);
        (Strip { exposure_mj_cm2: strip.exposure, depth_um: strip.depth_um, sigma_um }, strip.tinted)
    });
    let process = crate::chain::bench::process(evidence);
    let kept = evidence.bench.iter().flat_map(|bench| &bench.strip).filter(|record| record.process == process && !record.tinted);
    let kept = kept.map(|record| (Strip { exposure_mj_cm2: record.exposure, depth_um: record.depth_um, sigma_um: record.sigma_um }, false));
    own.chain(kept).collect()
}

/// The bare resin's curve with the best recipe's tint in it. Diffuse light takes about twice the way through a layer (K = 2 k, Kubelka and Munk), a
/// lamp's straight beam once.
fn estimate(worked: &Worked, bare: &WorkingCurve, lamp_nm: f64) -> Option<WorkingCurve> {
    let best = worked.recipes.first()?;
    let per_um = 0.5 * worked.model.tint_absorption_mm(best, lamp_nm) / 1000.0;
    let mut curve = bare.with_colour(per_um, 1.0);
    // d ln Dp = -Dp d(1/Dp).
    curve.covariance[0][0] += (curve.depth_um * per_um * ABSORPTION_SIGMA).powi(2);
    Some(curve)
}
