//! Station run: how many to start, in how many loads, how much of each.

use super::Says;
use super::evidence::Evidence;
use super::memory::Memory;
use crate::progress::Progress;
use result::{JobResult, RunResult};

/// Height of the feet and supports under a part (common practice, no source).
const FEET_MM: f64 = 5.0;

pub(super) fn work_out(evidence: &Evidence, sheet: &mut JobResult, memory: &mut Memory, progress: &Progress) {
    let Some(wanted) = &evidence.document.run else {
        sheet.missing("run", "how many are wanted is not said");
        return;
    };
    progress.step("planning the run");
    let usual = run::Extras::default();
    let any_extra = wanted.supports.or(wanted.loss).or(wanted.vat_least_ml).is_some();
    let extras = any_extra.then(|| run::Extras {
        supports_share: wanted.supports.unwrap_or(usual.supports_share),
        loss_share: wanted.loss.unwrap_or(usual.loss_share),
        vat_least_ml: wanted.vat_least_ml.unwrap_or(usual.vat_least_ml),
    });
    // As the route has it stand, on feet; upright parts and masters keep within their greatest diameter.
    let stance = sheet.body.as_ref().and_then(|body| body.route.as_ref()).and_then(|route| route.stance.clone());
    let upright =
        sheet.body.as_ref().map(|body| (body.bounds_mm[1][2] - body.bounds_mm[0][2], body.bounds_mm[1][0] - body.bounds_mm[0][0]));
    let leaning = stance.filter(|stance| stance.lean_deg > 0.0 || sheet.body.as_ref().is_some_and(|body| body.flat.is_some()));
    let stood = leaning.map(|stance| (stance.height_mm, stance.footprint_mm)).or(upright);
    let (height_mm, footprint_mm) = (stood.map(|(height, _)| height + FEET_MM), stood.map(|(_, footprint)| footprint));
    let learnt = super::bench::experience(evidence);
    let input = run::PlanInput {
        wanted: wanted.wanted,
        certainty: wanted.certainty,
        experience: wanted
            .made
            .zip(wanted.good)
            .map(|(made, good)| run::Experience { made, good })
            .or(learnt.map(|(experience, _)| experience)),
        load_loss: wanted.load_loss.map(run::LoadLoss::Known).or(learnt.and_then(|(_, loss)| loss)),
        plate: wanted.plate.as_ref().map(|p| run::Plate { width_mm: p.width_mm, depth_mm: p.depth_mm, gap_mm: p.gap_mm }),
        footprint_mm,
        part_ml: sheet.body.as_ref().map(|body| body.volume_mm3 / 1000.0),
        extras,
        time: wanted.load_time.as_ref().zip(height_mm).map(|(time, height_mm)| run::LoadTime {
            height_mm,
            layer_mm: time.layer_mm,
            layer_s: time.layer_s,
            handling_min: time.handling_min,
        }),
        prices: wanted.prices.as_ref().map(|p| run::Prices {
            resin_per_ml: p.resin_per_ml,
            bench_per_hour: p.bench_per_hour,
            per_load: p.per_load,
            per_start: p.per_start,
        }),
    };
    let Memory { plans, packings, .. } = memory;
    let packed = |plate: run::Plate, footprint_mm: f64| {
        packings.get(format!("{plate:?} {footprint_mm:?}"), || run::pack(plate, footprint_mm)).as_ref().clone()
    };
    let planned = plans.get(format!("{input:?}"), || run::plan_packed_by(&input, packed).map_err(|e| e.to_string()));
    match planned.as_ref() {
        Err(why) => sheet.missing("run", why),
        Ok(noted) => {
            sheet.warn_all("run", None, &noted.notes);
            for assumption in &noted.value.assumptions {
                sheet.assume("run", assumption.text.clone(), assumption.switch);
            }
            sheet.run = Some(told(noted.value.clone(), &input));
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
        minutes: plan.minutes,
        cost_total: plan.cost.map(|cost| cost.total),
        cost_per_good: plan.cost.map(|cost| cost.per_good),
    }
}
