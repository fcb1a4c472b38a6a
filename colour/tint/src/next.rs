//! What to mix next: the chip that teaches most about the colour wanted, or nothing when it is enough.

use crate::bench::{Bench, Mix, Reading};
use crate::forward::Eye;
use crate::goal::{Aim, Amounts, Goal};
use crate::learn::{Model, Prediction};
use crate::optimum::{Optimum, optima, promising};
use crate::recipes::Recipe;
use crate::task::Task;
use crate::{Note, Noted, TintError};
use nalgebra::{DMatrix, DVector};
use std::collections::BTreeMap;

/// A chip to cure.
#[derive(Clone, Debug, PartialEq)]
pub struct NextChip {
    /// Bare resin, mL.
    pub volume_ml: f64,
    /// Whole drops; none: the bare resin.
    pub drops: BTreeMap<String, u32>,
    /// What it is good for.
    pub why: String,
}

/// Volumes that a chip may be mixed in, mL: small ones cost less, large ones make whole drops finer and their scatter smaller.
const VOLUMES_ML: [f64; 6] = [5.0, 10.0, 20.0, 30.0, 40.0, 60.0];
/// The chance of the tolerance that is enough.
const ENOUGH: f64 = 0.95;
/// A chip that lowers the 95 % bound by less than this share is not worth its day.
const WORTH: f64 = 0.05;

/// The chip to cure next, given the recipes of [`crate::recipes`] for the same goal; `None` when the best recipe is good enough, or when no further chip would teach what is missing, which a note
/// then says.
///
/// # Errors
/// A goal that cannot be.
pub fn next_chip(model: &Model, goal: &Goal, found: &[Recipe]) -> Result<Noted<Option<NextChip>>, TintError> {
    let aim = Aim::new(goal)?;
    let bench = model.bench();
    let plain = |value| Ok(Noted { value, notes: vec![] });
    let bare = |chip: &crate::Chip| bench.mix(chip).is_ok_and(|m| m.ml.iter().all(|ml| *ml == 0.0));
    if !bench.chips.iter().any(bare) {
        return plain(Some(NextChip {
            volume_ml: VOLUMES_ML[0],
            drops: BTreeMap::new(),
            why: "the bare resin: everything else is seen through it".into(),
        }));
    }
    let task = in_drops(bench, goal, goal.volume_ml)?;
    let optima = optima(model, &aim, &task, goal.most_colourants);
    let Some(centre) = promising(model, &aim, &task, &optima).cloned() else { return plain(None) };
    let unseen = |i: usize| {
        !bench.chips.iter().any(|chip| bench.mix(chip).is_ok_and(|m| m.ml[i] > 0.0))
            && bench.colourants[i].shelf.is_none()
            && bench.colourants[i].twin.is_none()
    };
    // Only bottles that a promising mix needs are opened; the others may stay closed.
    let opens = |o: &Optimum| o.used.iter().copied().find(|&i| o.units[i] > 0.0 && unseen(i));
    if let Some(i) = opens(&centre) {
        return plain(Some(first_of(model, goal, &centre, i)));
    }
    let Some(best) = found.first() else { return plain(None) };
    if best.odds.chance >= ENOUGH {
        return plain(None);
    }
    // What may still come of the bottles that no chip has seen yet.
    let others: Vec<Optimum> = optima.iter().filter(|o| opens(o).is_some()).cloned().collect();
    let other = promising(model, &aim, &task, &others).and_then(|o| opens(o).map(|i| first_of(model, goal, o, i)));
    if centre.miss > 0.5 * goal.tolerance_de00 && other.is_some() {
        return plain(other);
    }
    let Some(found) = most_telling(model, goal, &aim, &centre)? else { return plain(other) };
    let after = aim.odds(&found.after, goal.tolerance_de00).de00_95;
    let now = best.odds.de00_95;
    if after > (1.0 - WORTH) * now {
        return Ok(match other {
            Some(_) => Noted { value: other, notes: vec![] },
            None => Noted { value: None, notes: vec![floor(model, goal, &aim, best.de00, now)] },
        });
    }
    plain(Some(found.chip))
}

/// The goal's task in whole drops, whatever the recipe is measured in: chips are dripped.
fn in_drops(bench: &Bench, goal: &Goal, volume_ml: f64) -> Result<Task, TintError> {
    Task::new(bench, &Goal { amounts: Amounts::Drops, volume_ml, ..goal.clone() })
}

/// Why no further chip helps: the readings, the target or the drops are the floor.
fn floor(model: &Model, goal: &Goal, aim: &Aim, de00: f64, bound: f64) -> Note {
    let target = (&aim.metric * &aim.covariance * aim.metric.transpose()).trace().sqrt();
    let sigma = typical_sigma(model.bench());
    let settle = if de00 > 0.7 * bound {
        "the colourants and drops at hand come no nearer: see the notes on the recipe"
    } else if target > sigma {
        "a better reading of the target itself would settle it"
    } else {
        "the reading is the floor: read the chips with a better instrument, or several times over"
    };
    let text = format!("further chips would hardly lower the bound of {bound:.1} CIEDE2000 (wanted: {:.1})", goal.tolerance_de00);
    Note { text, settle: settle.into() }
}

/// One colourant alone, at about the load that the recipe seems to want.
fn first_of(model: &Model, goal: &Goal, centre: &Optimum, i: usize) -> NextChip {
    let colourant = &model.bench().colourants[i];
    let wanted = centre.units[i] * colourant.drop_ul * 1e-3 / goal.volume_ml;
    let ratio = wanted.clamp(model.fraction_for_load(i, 0.15), model.fraction_for_load(i, 1.0));
    let (volume_ml, drops) = whole(model.bench(), i, ratio);
    let why = format!("{} alone: its strength and hue are not known yet", colourant.name);
    NextChip { volume_ml, drops: BTreeMap::from([(colourant.name.clone(), drops)]), why }
}

/// The smallest volume in which the ratio takes at least 8 drops, so that their scatter (5 % each) is below 2 %.
fn whole(bench: &Bench, i: usize, ratio: f64) -> (f64, u32) {
    let drops = |volume: f64| ratio * volume / (bench.colourants[i].drop_ul * 1e-3);
    let volume = VOLUMES_ML.into_iter().find(|&v| drops(v) >= 8.0).unwrap_or(VOLUMES_ML[VOLUMES_ML.len() - 1]);
    let most = bench.colourants[i].max_percent.map_or(f64::INFINITY, |p| drops(volume) * (p / 100.0) / ratio);
    (volume, drops(volume).min(most).round().max(1.0) as u32)
}

/// A chip, and what is then known of the recipe's colour.
struct Telling {
    chip: NextChip,
    after: Prediction,
}

/// Among the recipe in every volume: the one after which the recipe's colour is known best for its price.
fn most_telling(model: &Model, goal: &Goal, aim: &Aim, centre: &Optimum) -> Result<Option<Telling>, TintError> {
    let bench = model.bench();
    let (metric, eyes) = (&aim.metric, aim.eyes());
    let pot = in_drops(bench, goal, goal.volume_ml)?.mix(&centre.units);
    let there = model.probe(&pot, &eyes);
    let now = model.foretell(&pot, &eyes);
    let loss = |covariance: &DMatrix<f64>| (metric * covariance * metric.transpose()).trace();
    let sigma = typical_sigma(bench);
    let mut best: Option<(f64, f64, Vec<u32>, DMatrix<f64>)> = None;
    let scaled = |volume: f64| centre.units.iter().map(|n| (n * volume / goal.volume_ml).round() as u32).collect::<Vec<u32>>();
    // In a small cup a strong colourant may round to nothing: that is another mix than the recipe. It is taken only where no cup is large enough.
    let whole = |drops: &[u32]| drops.iter().zip(&centre.units).all(|(n, wanted)| *n > 0 || *wanted < 0.5);
    let any_whole = VOLUMES_ML.iter().any(|volume| whole(&scaled(*volume)));
    for volume in VOLUMES_ML {
        let task = in_drops(bench, goal, volume)?;
        let drops = scaled(volume);
        if drops.iter().all(|n| *n == 0) || (any_whole && !whole(&drops)) || !task.allows(&drops) {
            continue;
        }
        let mix = Mix::of_drops(&bench.colourants, volume, &drops);
        let chip = model.probe(&mix, &[Eye::Lab(cie::working())]);
        let noise = DMatrix::from_diagonal(&DVector::from_element(3, sigma * sigma)) + chip.dosing(&mix);
        let own = model.covariance_after(&chip, &chip) + noise;
        let shared = model.covariance_after(&there, &chip);
        let Some(factor) = own.cholesky() else { continue };
        let after = &now.covariance - &shared * factor.solve(&shared.transpose());
        // A doubling of the resin must teach clearly more: a tenth of the remaining doubt.
        let price = loss(&after) * (1.0 + 0.1 * (volume / VOLUMES_ML[0]).log2());
        if best.as_ref().is_none_or(|b| price < b.0) {
            best = Some((price, volume, drops, after));
        }
    }
    let Some((_, volume_ml, drops, covariance)) = best else { return Ok(None) };
    let names = bench.colourants.iter().zip(&drops).filter(|(_, n)| **n > 0).map(|(c, n)| (c.name.clone(), *n)).collect();
    let why = if any_whole {
        "the recipe itself: what it misses by corrects the next one"
    } else {
        "as near to the recipe as whole drops in a small cup come: what it misses by corrects the next one"
    };
    let chip = NextChip { volume_ml, drops: names, why: why.into() };
    let after = Prediction { covariance, ..now };
    Ok(Some(Telling { chip, after }))
}

/// The usual reading doubt of this bench in Lab; 0.3 (a good colorimeter) before any reading.
fn typical_sigma(bench: &Bench) -> f64 {
    let of = |chip: &crate::Chip| match &chip.reading {
        Reading::Lab { sigma, .. } => Some(sigma[0].max(sigma[1]).max(sigma[2])),
        Reading::Spectrum { .. } => None,
    };
    let mut sigmas: Vec<f64> = bench.chips.iter().filter_map(of).collect();
    sigmas.sort_by(f64::total_cmp);
    sigmas.get(sigmas.len() / 2).copied().unwrap_or(0.3).max(0.05)
}
