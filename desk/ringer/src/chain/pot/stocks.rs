//! Doses that are too small for the tools: stock solutions that make them measurable.

use super::volumes_ml;
use crate::chain::Says;
use crate::chain::evidence::Evidence;
use job::document::Tools;
use result::{JobResult, PotResult, StockTold};
use tint::{Balance, OfTotal, Pipette, Tool, stock_plan};

/// Relative standard uncertainty that a dose may have where the document says none: 2 % of a strong colourant is about half of what is seen.
const DOSE_ERROR: f64 = 0.02;

pub(super) fn work_out(evidence: &Evidence, pot: &mut PotResult, sheet: &mut JobResult) {
    let Some(tools) = &evidence.document.tools else { return };
    let Some((tool, unit)) = tool(tools) else { return };
    let Some(doses) = doses(evidence, pot, unit, sheet) else { return };
    let total: f64 = doses.iter().map(|(_, amount)| amount).sum();
    let error = tools.dose_error.unwrap_or(DOSE_ERROR);
    for (name, amount) in doses.iter().skip(1) {
        match stock_plan(OfTotal(amount / total), total, OfTotal(1.0), tool, error) {
            Ok(plan) if plan.steps.is_empty() => {}
            Ok(plan) => pot.stocks.push(StockTold {
                colourant: name.clone(),
                unit: unit.into(),
                steps: plan.steps.iter().map(|step| [step.take, step.into, 100.0 * step.strength.0, step.error]).collect(),
                dose: plan.dose,
                error: plan.error,
                least_total: plan.least_total,
            }),
            Err(error) => {
                sheet.warn("pot", None, format!("{name}: {error}"), "A finer tool in [tools], or a larger `dose_error`, would settle it.")
            }
        }
    }
}

fn tool(tools: &Tools) -> Option<(Tool, &'static str)> {
    if let Some(p) = &tools.pipette {
        let pipette = Pipette { nominal_ul: p.nominal_ul, least_ul: p.least_ul, bias_ul: p.bias_ul, random_ul: p.random_ul };
        return Some((Tool::Pipette(pipette), "mL"));
    }
    let step_g = tools.balance_g?;
    let usual = Balance::of_step(step_g);
    Some((Tool::Balance(Balance { step_g, sigma_g: tools.balance_sigma_g.unwrap_or(usual.sigma_g) }), "g"))
}

/// The resin, then each colourant, of the run's pot if there is one, else of the best recipe; mL or g.
fn doses(evidence: &Evidence, pot: &PotResult, unit: &str, sheet: &mut JobResult) -> Option<Vec<(String, f64)>> {
    let document = &evidence.document;
    let (resin_ml, ml): (f64, Vec<(String, f64)>) = match (&pot.scaled, pot.recipes.first()) {
        (Some(scaled), _) => (scaled.resin_ml, scaled.parts.iter().map(|part| (part.colourant.clone(), part.ml)).collect()),
        (None, Some(best)) => {
            let volumes = volumes_ml(evidence, best);
            (best.volume_ml, document.colourant.iter().map(|c| c.name.clone()).zip(volumes).filter(|(_, ml)| *ml > 0.0).collect())
        }
        (None, None) => return None,
    };
    let resin = ("resin".to_string(), resin_ml);
    if unit == "mL" {
        return Some(std::iter::once(resin).chain(ml).collect());
    }
    let density = |name: &str| document.colourant.iter().find(|c| c.name == name).and_then(|c| c.density_g_ml);
    let weighed: Option<Vec<(String, f64)>> = ml.iter().map(|(name, ml)| Some((name.clone(), density(name)? * ml))).collect();
    match weighed.zip(document.resin.as_ref().and_then(|resin| resin.density_g_ml)) {
        Some((weighed, resin_density)) => Some(std::iter::once((resin.0, resin_ml * resin_density)).chain(weighed).collect()),
        None => {
            sheet.warn(
                "pot",
                None,
                "Whether doses are too small for the balance was not worked out: a density is missing.",
                "Add `density_g_ml` to [resin] and to each [[colourant]].",
            );
            None
        }
    }
}
