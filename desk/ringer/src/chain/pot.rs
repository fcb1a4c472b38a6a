//! Station pot: chips -> the colourants' optics -> recipe in whole drops, the next chip, the run's pot.

use super::colour::Wanted;
use super::evidence::Evidence;
use super::memory::Memory;
use super::{Says, survived};
use crate::progress::Progress;
use cie::ciede2000;
use job::document::{Backing, BackingName, Colourant, Resin, Sample};
use quantity::Note;
use result::{ChipResult, JobResult, Ladder, NextSample, PotResult, Recipe, ScaledPart, ScaledPot};
use std::collections::BTreeMap;
use tint::{Bench, Chip, Dose, Goal, Model, Reading};

/// What the pot came to, for the sheet and for memory.
pub struct PotWork {
    outcome: Result<(PotResult, Vec<Note>, Model), String>,
}

/// Volume that a recipe is wanted for where the document does not say, mL: a small cup that a balance or dropper can still serve.
const SAMPLE_ML: f64 = 20.0;
const MAX_DROPS: u32 = 60;
/// Standard uncertainty of a Lab reading where the document gives none: between repeat readings of a good instrument on a moulded chip
/// (common practice, no source).
const READING_SIGMA: f64 = 0.3;

pub(super) fn work_out(evidence: &Evidence, wanted: Option<&Wanted>, sheet: &mut JobResult, memory: &mut Memory, progress: &Progress) {
    let document = &evidence.document;
    if document.colourant.is_empty() {
        return sheet.missing("pot", "no [[colourant]] is named");
    }
    let Some(wanted) = wanted else { return sheet.missing("pot", "no colour is wanted yet: the colour station has no answer") };
    progress.step("learning the pot from its chips");
    let bench = match bench(evidence, sheet) {
        Ok(bench) => bench,
        Err(why) => return sheet.missing("pot", &why),
    };
    let goal = goal(evidence, wanted, sheet);
    let work = memory.pots.get(format!("{bench:?} {goal:?}"), || PotWork { outcome: survived("pot", || solve(&bench, &goal)) });
    match &work.outcome {
        Err(why) => sheet.missing("pot", why),
        Ok((pot, notes, model)) => {
            sheet.warn_all("pot", None, notes);
            let mut pot = pot.clone();
            pot.scaled = scaled(evidence, sheet, &pot);
            super::vat::work_out(evidence, sheet, &pot, model);
            sheet.pot = Some(pot);
        }
    }
}

fn bench(evidence: &Evidence, sheet: &mut JobResult) -> Result<Bench, String> {
    let document = &evidence.document;
    let resin = document.resin.clone().unwrap_or_else(|| {
        sheet.assume("pot", "The chips are so thick that what is behind them does not show.", "[resin] thickness_mm, backing");
        Resin { name: "resin".into(), thickness_mm: None, backing: None, density_g_ml: None }
    });
    if resin.thickness_mm.is_some() && resin.backing.is_none() {
        sheet.assume("pot", "The chips were read over white card.", "[resin] backing");
    }
    let chips = document.sample.iter().enumerate().map(|(i, sample)| chip(evidence, i, sample)).collect::<Result<_, _>>()?;
    Ok(Bench {
        resin: tint::Resin {
            thickness_mm: resin.thickness_mm,
            backing: match resin.backing {
                Some(Backing::Reflectance(reflectance)) => tint::Backing::Reflectance(reflectance),
                Some(Backing::Named(BackingName::Black)) => tint::Backing::Black,
                Some(Backing::Named(BackingName::White)) | None => tint::Backing::White,
            },
            density_g_ml: resin.density_g_ml,
            surface: tint::Surface::PLASTIC,
        },
        colourants: document.colourant.iter().map(bottle).collect(),
        chips,
    })
}

fn bottle(colourant: &Colourant) -> tint::Colourant {
    let mut bottle = tint::Colourant::new(colourant.name.clone(), colourant.drop_ul);
    bottle.drop_cv = colourant.drop_cv.unwrap_or(bottle.drop_cv);
    bottle.max_percent = colourant.max_percent;
    bottle.density_g_ml = colourant.density_g_ml;
    bottle
}

fn chip(evidence: &Evidence, index: usize, sample: &Sample) -> Result<Chip, String> {
    let doses = sample.drops.iter().filter(|(_, n)| **n > 0).map(|(name, n)| (name.clone(), Dose::Drops(*n))).collect();
    let sigma = sample.sigma.unwrap_or(READING_SIGMA);
    let reading = match (&sample.lab, &sample.spectrum) {
        (Some(lab), _) => Reading::Lab { lab: *lab, sigma: [sigma; 3] },
        (None, Some(file)) => super::colour::spectrum(evidence, file)?,
        (None, None) => super::colour::chip_in_photo(evidence, index, sample)?,
    };
    Ok(Chip { name: sample.name.clone(), volume_ml: sample.volume_ml, doses, reading })
}

fn goal(evidence: &Evidence, wanted: &Wanted, sheet: &mut JobResult) -> Goal {
    let target = evidence.document.target.as_ref();
    let volume_ml = target.and_then(|t| t.sample_ml).unwrap_or_else(|| {
        sheet.assume("pot", format!("A recipe is wanted for {SAMPLE_ML} mL of resin."), "[target] sample_ml");
        SAMPLE_ML
    });
    let max_drops = target.and_then(|t| t.max_drops).unwrap_or(MAX_DROPS);
    let mut goal = Goal::d65(wanted.lab, 0.0, volume_ml, max_drops);
    for one in &mut goal.wanted {
        one.covariance = wanted.covariance;
    }
    if let Some(tolerance) = target.and_then(|t| t.tolerance) {
        goal.tolerance_de00 = tolerance;
    }
    goal
}

fn solve(bench: &Bench, goal: &Goal) -> Result<(PotResult, Vec<Note>, Model), String> {
    let model = tint::learn(bench).map_err(|e| e.to_string())?;
    let found = tint::recipes(&model.value, goal).map_err(|e| e.to_string())?;
    let next = tint::next_chip(&model.value, goal, &found.value).map_err(|e| e.to_string())?;
    let mut notes = model.notes;
    notes.extend(found.notes);
    notes.extend(next.notes);
    let recipes: Vec<Recipe> = found.value.iter().map(told).collect();
    let pot = PotResult {
        next: next.value.map(|next| NextSample { volume_ml: next.volume_ml, drops: next.drops, why: next.why }),
        chips: chips(bench, &model.value),
        ladders: recipes.first().map_or(Vec::new(), |best| ladders(bench, &model.value, best)),
        scaled: None,
        recipes,
    };
    Ok((pot, notes.into_iter().map(|note| Note::new(note.text, note.settle)).collect(), model.value))
}

fn told(recipe: &tint::Recipe) -> Recipe {
    Recipe {
        volume_ml: recipe.volume_ml,
        drops: recipe.drops.clone(),
        lab: recipe.lab,
        de00: recipe.de00,
        de00_95: recipe.odds.de00_95,
        proven: recipe.proven,
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

/// The best recipe with more and less of each colourant, the others as they are: from none to twice its drops, at most nine rungs.
fn ladders(bench: &Bench, model: &Model, best: &Recipe) -> Vec<Ladder> {
    let present: Vec<u32> = bench.colourants.iter().map(|c| best.drops.get(&c.name).copied().unwrap_or(0)).collect();
    let rung = |i: usize, n: u32| {
        let mut drops = present.clone();
        drops[i] = n;
        let lab = model.predict(best.volume_ml, &drops, &[cie::working()]).lab;
        [lab[0], lab[1], lab[2]]
    };
    let ladder = |i: usize| {
        let most = (2 * present[i]).max(4);
        let drops: Vec<u32> = rungs(most, present[i]);
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

/// The best recipe for all of the run's resin: drops, millilitres and, where densities are known, grams.
fn scaled(evidence: &Evidence, sheet: &JobResult, pot: &PotResult) -> Option<ScaledPot> {
    let (best, total_ml) = (pot.recipes.first()?, sheet.run.as_ref()?.resin_ml?);
    let drop_ml = |c: &Colourant| c.drop_ul * 1e-3;
    let colourants = &evidence.document.colourant;
    let used: Vec<(&Colourant, u32)> = colourants.iter().filter_map(|c| Some((c, *best.drops.get(&c.name)?))).collect();
    let sample_ml = best.volume_ml + used.iter().map(|(c, n)| f64::from(*n) * drop_ml(c)).sum::<f64>();
    let factor = total_ml / sample_ml;
    let part = |(c, n): &(&Colourant, u32)| {
        let ml = f64::from(*n) * drop_ml(c) * factor;
        ScaledPart { colourant: c.name.clone(), drops: (ml / drop_ml(c)).round() as u32, ml, g: c.density_g_ml.map(|density| density * ml) }
    };
    let resin_ml = best.volume_ml * factor;
    let resin_g = evidence.document.resin.as_ref().and_then(|resin| resin.density_g_ml).map(|density| density * resin_ml);
    Some(ScaledPot { resin_ml, resin_g, parts: used.iter().map(part).collect() })
}
