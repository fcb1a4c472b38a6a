//! The vat over the run: load by load, with one mix and with bare top-ups, and what to mix ahead.

use super::Says;
use super::evidence::Evidence;
use cie::{SET_DE00, ciede2000};
use result::{JobResult, PotResult, VatLine, VatResult};
use run::{TopUp, VatAct, VatStep};
use tint::Model;

pub(super) fn work_out(evidence: &Evidence, sheet: &mut JobResult, pot: &PotResult, model: &Model) {
    let (Some(run), Some(best)) = (&sheet.run, pot.recipes.first()) else { return };
    let Some(total_ml) = run.resin_ml else { return };
    let started: u32 = run.per_load.iter().sum();
    if started == 0 {
        return;
    }
    let given_ml = evidence.document.run.as_ref().and_then(|run| run.vat_least_ml);
    let a_part_ml = (total_ml - given_ml.unwrap_or(0.0)) / f64::from(started);
    let loads_ml: Vec<f64> = run.per_load.iter().map(|n| f64::from(*n) * a_part_ml).collect();
    let largest_ml = loads_ml.iter().copied().fold(0.0, f64::max);
    let keep_ml = given_ml.unwrap_or(largest_ml);
    let volumes = super::pot::volumes_ml(evidence, best);
    let tint_ml: f64 = volumes.iter().sum();
    let share = tint_ml / (best.volume_ml + tint_ml);
    let (Ok(same), Ok(bare)) = (run::vat(&loads_ml, keep_ml, share, TopUp::SameMix), run::vat(&loads_ml, keep_ml, share, TopUp::Bare))
    else {
        return;
    };
    // The same colourants in more resin: what a paler vat holds.
    let colour = |share: f64| {
        let volume_ml = if share > 0.0 { tint_ml * (1.0 / share - 1.0) } else { return None };
        let lab = model.predict_ml(volume_ml, &volumes, &[cie::working()]).lab;
        Some([lab[0], lab[1], lab[2]])
    };
    let first = colour(share);
    let line = |step: &VatStep| VatLine {
        what: match step.act {
            VatAct::Filled(ml) => format!("fill {ml:.0} mL"),
            VatAct::ToppedUp(ml) => format!("top up {ml:.0} mL"),
            VatAct::Made(ml) => format!("load {} takes {ml:.0} mL", step.load),
        },
        load: step.load,
        held_ml: step.held_ml,
        tint_share: step.tint_share,
        // Nanolitres of rounding are no drift.
        de00: if (step.tint_share - share).abs() < 1e-6 * share {
            Some(0.0)
        } else {
            first.zip(colour(step.tint_share)).map(|(a, b)| ciede2000(a, b))
        },
    };
    let lines: Vec<VatLine> = same.iter().map(line).collect();
    let untinted: Vec<VatLine> = bare.iter().map(line).collect();
    let limit = evidence.document.tolerance.as_ref().and_then(|tolerance| tolerance.lot_de00).unwrap_or(SET_DE00);
    let seen_from_load = untinted.iter().find(|line| line.de00.is_some_and(|de00| de00 > limit)).map(|line| line.load);
    let mix_ml = loads_ml.iter().sum::<f64>() + keep_ml;
    let advice = advice(loads_ml.len(), mix_ml, seen_from_load, limit);
    if given_ml.is_none() && loads_ml.len() > 1 {
        sheet.assume(
            "run",
            format!("The vat still holds {keep_ml:.0} mL after each load, as much as a full load takes."),
            "[run] vat_least_ml",
        );
    }
    sheet.vat = Some(VatResult { lines, untinted, seen_from_load, advice });
}

fn advice(loads: usize, mix_ml: f64, seen_from_load: Option<u32>, limit: f64) -> String {
    if loads < 2 {
        return format!("One load: mix {mix_ml:.0} mL in one go and fill the vat from it.");
    }
    let drift = match seen_from_load {
        Some(load) => {
            format!("Topped up with bare resin, parts of load {load} would be seen beside those of the first (CIEDE2000 above {limit:.1}).")
        }
        None => format!(
            "Even topped up with bare resin no load would differ from the first by a CIEDE2000 of more than {limit:.1}; still, top up with the same mix."
        ),
    };
    format!(
        "Mix {mix_ml:.0} mL ahead in one go, keep it dark and stir it before each top-up: then all {loads} loads have one colour. {drift}"
    )
}
