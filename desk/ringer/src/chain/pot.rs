//! Station pot: chips -> the colourants' optics -> recipe, the next chip, the run's pot, and what the book, the scale-up and the strips say.

mod book;
mod bottles;
mod cure;
mod lights;
mod shelf;
mod stocks;

use super::colour::Wanted;
use super::evidence::Evidence;
use super::memory::Memory;
use super::{Says, survived};
use crate::progress::Progress;
use cie::{Observer, ciede2000};
use job::document::Colourant;
use quantity::Note;
use result::{ChipResult, Doubted, JobResult, Ladder, LearningPoint, NextSample, PotResult, Recipe, ScaledPart, ScaledPot, ShelfTold};
use shelf::Origin;
use std::collections::BTreeMap;
use tint::{Amounts, Bench, Chip, Goal, Merit, Model, Reading};

/// What the pot came to, for the sheet and for memory.
pub struct PotWork {
    outcome: Result<Worked, String>,
}

/// A pot worked out.
pub(super) struct Worked {
    pot: PotResult,
    notes: Vec<Note>,
    /// The learnt model.
    pub model: Model,
    /// What recipes were wanted for.
    pub goal: Goal,
    /// Recipes as the tint crate tells them, best first.
    pub recipes: Vec<tint::Recipe>,
}

/// Volume that a recipe is wanted for where the document does not say, mL: a small cup that a balance or dropper can still serve.
const SAMPLE_ML: f64 = 20.0;
const MAX_DROPS: u32 = 60;

pub(super) fn work_out(evidence: &Evidence, wanted: Option<&Wanted>, sheet: &mut JobResult, memory: &mut Memory, progress: &Progress) {
    let document = &evidence.document;
    if document.colourant.is_empty() {
        return sheet.missing("pot", "no colourant is named");
    }
    let Some(wanted) = wanted else { return sheet.missing("pot", "no colour is wanted yet: the colour station has no answer") };
    progress.step("learning the pot from its chips");
    let (bench, origins) = match bottles::bench(evidence, sheet) {
        Ok(found) => found,
        Err(why) => return sheet.missing("pot", &why),
    };
    let goal = goal(evidence, wanted, sheet);
    let Memory { pots, models, .. } = memory;
    let own = document.sample.len();
    // A recipe that is asked for anew, or for more resin, needs nothing learnt anew.
    let key = format!("{bench:?}");
    let work = pots.get(format!("{key} {goal:?}"), || {
        let model = models.get(key, || survived("pot", || tint::learn(&bench).map_err(|e| e.to_string())));
        PotWork { outcome: survived("pot", || solve(&model, &goal, own)) }
    });
    match &work.outcome {
        Err(why) => sheet.missing("pot", why),
        Ok(worked) => {
            sheet.warn_all("pot", None, &worked.notes);
            let mut pot = worked.pot.clone();
            pot.shelf = origins.iter().map(|origin| shelf_told(origin, &worked.model)).collect();
            pot.shelf_lines = bottles::shelf_lines(evidence, &bench).unwrap_or_default();
            pot.lights = lights::pairs(wanted, worked, sheet);
            pot.scaled = scaled(evidence, sheet, &pot);
            book::work_out(evidence, worked, &mut pot, sheet);
            stocks::work_out(evidence, &mut pot, sheet);
            pot.cure = cure::work_out(evidence, worked, sheet);
            super::vat::work_out(evidence, sheet, &pot, &worked.model);
            sheet.pot = Some(pot);
        }
    }
}

fn shelf_told(origin: &Origin, model: &Model) -> ShelfTold {
    let used = model.bench().chips.iter().any(|chip| chip.doses.contains_key(&origin.colourant));
    let strength = if used { model.twin_strength(&origin.colourant) } else { None };
    ShelfTold {
        colourant: origin.colourant.clone(),
        from: origin.from.clone(),
        how: origin.how.clone(),
        ln_strength: strength.map(|strength| Doubted { value: strength.value, sigma: strength.sigma }),
    }
}

fn goal(evidence: &Evidence, wanted: &Wanted, sheet: &mut JobResult) -> Goal {
    let target = evidence.document.target.as_ref();
    let volume_ml = target.and_then(|t| t.sample_ml).unwrap_or_else(|| {
        sheet.assume("pot", format!("A recipe is wanted for {SAMPLE_ML} mL of resin."), "[target] sample_ml");
        SAMPLE_ML
    });
    let max_drops = target.and_then(|t| t.max_drops).unwrap_or(MAX_DROPS);
    let mut goal = Goal::d65(wanted.lab, 0.0, volume_ml, max_drops);
    goal.wanted = wanted
        .aims
        .iter()
        .map(|(light, lab)| tint::Wanted {
            light: *light,
            observer: Observer::TwoDegree,
            lab: *lab,
            covariance: wanted.covariance,
            weight: 1.0,
        })
        .collect();
    if let Some(most) = target.and_then(|t| t.max_colourants) {
        goal.most_colourants = most as usize;
    }
    if let Some(amounts) = by_weight(evidence) {
        goal.amounts = amounts;
    }
    if let Some(tolerance) = target.and_then(|t| t.tolerance) {
        goal.tolerance_de00 = tolerance;
    }
    goal
}

/// Whole steps of the balance, where recipes are wanted by weight.
fn by_weight(evidence: &Evidence) -> Option<Amounts> {
    let document = &evidence.document;
    let tools = document.tools.as_ref().filter(|_| document.target.as_ref().is_some_and(|target| target.by_weight))?;
    let step_g = tools.balance_g?;
    // A net weight is the difference of two readings.
    Some(Amounts::Grams { step_g, sigma_g: std::f64::consts::SQRT_2 * tools.balance_sigma_g.unwrap_or(0.41 * step_g) })
}

/// What was learnt from a bench, or why nothing was.
pub type Learnt = Result<tint::Noted<Model>, String>;

/// `own`: chips of this job, which stand last; those before them are the shelf's.
fn solve(model: &Learnt, goal: &Goal, own: usize) -> Result<Worked, String> {
    let model = model.as_ref().map_err(String::clone)?;
    let bench = model.value.bench();
    let shelved = bench.chips.len().saturating_sub(own);
    let found = tint::recipes(&model.value, goal).map_err(|e| e.to_string())?;
    let next = tint::next_chip(&model.value, goal, &found.value).map_err(|e| e.to_string())?;
    let mut notes = model.notes.clone();
    notes.extend(found.notes);
    notes.extend(next.notes);
    let learning = found.value.first().map_or(Ok(Vec::new()), |best| model.value.learning(goal, best)).map_err(|e| e.to_string())?;
    let point = |known: tint::Known| LearningPoint {
        chips: known.chips.saturating_sub(shelved),
        name: bench.chips.get(known.chips.saturating_sub(1)).map_or_else(String::new, |chip| chip.name.clone()),
        de00: known.de00,
        de00_95: known.odds.de00_95,
    };
    let pot = PotResult {
        next: next.value.map(|next| NextSample { volume_ml: next.volume_ml, drops: next.drops, why: next.why }),
        chips: chips(bench, &model.value).split_off(shelved),
        ladders: found.value.first().map_or(Vec::new(), |best| ladders(bench, &model.value, best)),
        recipes: found.value.iter().map(told).collect(),
        learning: learning.into_iter().filter(|known| known.chips > shelved).map(point).collect(),
        ..PotResult::default()
    };
    let notes = notes.into_iter().map(|note| Note::new(note.text, note.settle)).collect();
    Ok(Worked { pot, notes, model: model.value.clone(), goal: goal.clone(), recipes: found.value })
}

fn told(recipe: &tint::Recipe) -> Recipe {
    Recipe {
        volume_ml: recipe.volume_ml,
        drops: recipe.drops.clone(),
        grams: recipe.grams.clone(),
        lab: recipe.lab,
        de00: recipe.de00,
        de00_95: recipe.odds.de00_95,
        proven: recipe.proven,
        chance: recipe.odds.chance,
        merit: match recipe.merit {
            Merit::Best => "best",
            Merit::Cheaper => "cheaper",
            Merit::Steadier => "steadier",
        }
        .into(),
    }
}

fn chips(bench: &Bench, model: &Model) -> Vec<ChipResult> {
    let predicted: BTreeMap<String, [f64; 3]> = model.chips().into_iter().collect();
    let read = |chip: &Chip| match &chip.reading {
        Reading::Lab { lab, .. } => Some(*lab),
        Reading::Spectrum { reflectance, .. } => cie::working().lab(reflectance).ok().map(Into::into),
    };
    let one = |chip: &Chip| {
        let (lab, predicted) = (read(chip)?, *predicted.get(&chip.name)?);
        Some(ChipResult { name: chip.name.clone(), lab, predicted, de00: ciede2000(lab, predicted) })
    };
    bench.chips.iter().filter_map(one).collect()
}

/// The best recipe with more and less of each colourant, the others as they are: from none to twice its drops, at most nine rungs. A recipe by
/// weight is laddered in the drops that its grams come to.
fn ladders(bench: &Bench, model: &Model, best: &tint::Recipe) -> Vec<Ladder> {
    let volumes: BTreeMap<String, f64> = best.colourants_ml(bench).into_iter().collect();
    let ml: Vec<f64> = bench.colourants.iter().map(|c| volumes.get(&c.name).copied().unwrap_or(0.0)).collect();
    let rung = |i: usize, n: u32| {
        let mut other = ml.clone();
        other[i] = f64::from(n) * bench.colourants[i].drop_ul * 1e-3;
        let lab = model.predict_ml(best.volume_ml, &other, &[cie::working()]).lab;
        [lab[0], lab[1], lab[2]]
    };
    let ladder = |i: usize| {
        let present = (ml[i] / (bench.colourants[i].drop_ul * 1e-3)).round().clamp(0.0, 1e6) as u32;
        let drops: Vec<u32> = rungs((2 * present).max(4), present);
        Ladder { colourant: bench.colourants[i].name.clone(), lab: drops.iter().map(|n| rung(i, *n)).collect(), drops }
    };
    (0..bench.colourants.len()).map(ladder).collect()
}

/// At most nine whole numbers from 0 to `most`, evenly spread, the present one among them.
fn rungs(most: u32, present: u32) -> Vec<u32> {
    let count = most.min(8);
    let mut rungs: Vec<u32> = (0..=count).map(|i| (f64::from(i) * f64::from(most) / f64::from(count.max(1))).round() as u32).collect();
    if let Some(nearest) = rungs.iter_mut().min_by_key(|n| n.abs_diff(present)) {
        *nearest = present;
    }
    rungs.dedup();
    rungs
}

/// Volume of each colourant in a recipe, mL, in the order of the document.
pub(super) fn volumes_ml(evidence: &Evidence, recipe: &Recipe) -> Vec<f64> {
    let one = |c: &Colourant| {
        let dripped = recipe.drops.get(&c.name).map_or(0.0, |n| f64::from(*n) * c.drop_ul * 1e-3);
        let weighed = recipe.grams.get(&c.name).zip(c.density_g_ml).map_or(0.0, |(g, density)| g / density);
        dripped + weighed
    };
    evidence.document.colourant.iter().map(one).collect()
}

/// The best recipe for all of the run's resin: drops, millilitres and, where densities are known, grams.
fn scaled(evidence: &Evidence, sheet: &JobResult, pot: &PotResult) -> Option<ScaledPot> {
    let (best, total_ml) = (pot.recipes.first()?, sheet.run.as_ref()?.resin_ml?);
    let volumes = volumes_ml(evidence, best);
    let factor = total_ml / (best.volume_ml + volumes.iter().sum::<f64>());
    let part = |(c, ml): (&Colourant, &f64)| ScaledPart {
        colourant: c.name.clone(),
        drops: (ml * factor / (c.drop_ul * 1e-3)).round() as u32,
        ml: ml * factor,
        g: c.density_g_ml.map(|density| density * ml * factor),
    };
    let resin_ml = best.volume_ml * factor;
    let resin_g = evidence.document.resin.as_ref().and_then(|resin| resin.density_g_ml).map(|density| density * resin_ml);
    let used = evidence.document.colourant.iter().zip(&volumes).filter(|(_, ml)| **ml > 0.0);
    Some(ScaledPot { resin_ml, resin_g, parts: used.map(part).collect() })
}
