//! Station run: how many to start, in how many loads, how much of each.

use super::Says;
use super::evidence::Evidence;
use crate::progress::Progress;
use result::{JobResult, RunResult};

pub(super) fn work_out(evidence: &Evidence, sheet: &mut JobResult, progress: &Progress) {
    let Some(wanted) = &evidence.document.run else {
        sheet.missing("run", "no [run] says how many are wanted");
        return;
    };
    progress.step("planning the run");
    // Read as "share lost" in the document; supports and what sticks to the tools are one figure there.
    let extras = wanted.waste.map(|waste| run::Extras { supports_share: waste, loss_share: 0.0, vat_least_ml: wanted.vat_ml.unwrap_or(0.0) });
    let extras = extras.or_else(|| wanted.vat_ml.map(|vat_least_ml| run::Extras { vat_least_ml, ..run::Extras::default() }));
    let footprint_mm = sheet.body.as_ref().map(|body| body.bounds_mm[1][0] - body.bounds_mm[0][0]);
    let input = run::PlanInput {
        wanted: wanted.wanted,
        certainty: wanted.certainty,
        experience: wanted.made.zip(wanted.good).map(|(made, good)| run::Experience { made, good }),
        load_loss: None,
        plate: wanted.plate.as_ref().map(|p| run::Plate { width_mm: p.width_mm, depth_mm: p.depth_mm, gap_mm: p.gap_mm }),
        footprint_mm,
        part_ml: sheet.body.as_ref().map(|body| body.volume_mm3 / 1000.0),
        extras,
        time: None,
        prices: None,
    };
    match run::plan(&input) {
        Err(error) => {
            sheet.missing("run", &error.to_string());
        }
        Ok(noted) => {
            sheet.warn_all("run", None, &noted.notes);
            for assumption in &noted.value.assumptions {
                sheet.assume("run", assumption.text.clone(), assumption.switch);
            }
            sheet.run = Some(told(noted.value, &input));
        }
    }
}

fn told(plan: run::Plan, input: &run::PlanInput) -> RunResult {
    RunResult {
        wanted: plan.wanted,
        start: plan.start,
        loads: plan.per_load.len() as u32,
        per_load: plan.per_load,
        resin_ml: plan.resin.map(|resin| resin.total_ml),
        chance: plan.chance,
        curve: plan.curve,
        places_mm: plan.places_mm,
        footprint_mm: input.footprint_mm,
        plate_mm: input.plate.map(|plate| [plate.width_mm, plate.depth_mm]),
        basis: plan.basis,
    }
}
