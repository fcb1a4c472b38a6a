//! What to mix next: the chip that teaches most about the colour wanted, or nothing when it is enough.

use crate::TintError;
use crate::bench::{Bench, Mix, Reading};
use crate::forward::Eye;
use crate::goal::{Aim, Goal};
use crate::learn::Model;
use crate::optimum::mix_of;
use crate::recipes::{allowed, anchor, recipes};
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

/// The chip to cure next; `None` when the best recipe is good enough, or when no further chip would teach what is missing.
///
/// # Errors
/// A goal that cannot be.
pub fn next_chip(model: &Model, goal: &Goal) -> Result<Option<NextChip>, TintError> {
    let aim = Aim::new(goal)?;
    let bench = model.bench();
    let bare = |chip: &crate::Chip| bench.mix(chip).is_ok_and(|m| m.ml.iter().all(|ml| *ml == 0.0));
    if !bench.chips.iter().any(bare) {
        return Ok(Some(NextChip {
            volume_ml: VOLUMES_ML[0],
            drops: BTreeMap::new(),
            why: "the bare resin: everything else is seen through it".into(),
        }));
    }
    let unseen =
        |i: usize| !bench.chips.iter().any(|chip| bench.mix(chip).is_ok_and(|m| m.ml[i] > 0.0)) && bench.colourants[i].shelf.is_none();
    if let Some(i) = (0..bench.colourants.len()).find(|&i| unseen(i)) {
        return Ok(Some(first_of(model, goal, &aim, i)));
    }
    let best = recipes(model, goal)?.value;
    if best.first().is_none_or(|r| r.odds.chance >= ENOUGH) {
        return Ok(None);
    }
    Ok(most_telling(model, goal, &aim))
}

/// One colourant alone, at about the load that the recipe seems to want.
fn first_of(model: &Model, goal: &Goal, aim: &Aim, i: usize) -> NextChip {
    let colourant = &model.bench().colourants[i];
    let wanted = anchor(model, goal, aim).map_or(0.0, |(a, _)| a.drops[i] * colourant.drop_ul * 1e-3 / goal.volume_ml);
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

/// Among the recipe and its neighbours, in every volume: the one after which the recipe's colour is known best.
fn most_telling(model: &Model, goal: &Goal, aim: &Aim) -> Option<NextChip> {
    let bench = model.bench();
    let (centre, _) = anchor(model, goal, aim)?;
    let metric = aim.metric();
    let eyes = aim.eyes();
    let there = model.probe(&mix_of(bench, goal, &centre.drops), &eyes);
    let now = model.covariance_after(&there, &there);
    let loss = |covariance: &DMatrix<f64>| (&metric * covariance * metric.transpose()).trace();
    let sigma = typical_sigma(bench);
    let mut best: Option<(f64, f64, Vec<u32>)> = None;
    for volume in VOLUMES_ML {
        let drops: Vec<u32> = centre.drops.iter().map(|n| (n * volume / goal.volume_ml).round() as u32).collect();
        let pot = Goal { volume_ml: volume, ..goal.clone() };
        if drops.iter().all(|n| *n == 0) || !allowed(model, &pot, &drops) {
            continue;
        }
        let mix = Mix::of_drops(&bench.colourants, volume, &drops);
        let chip = model.probe(&mix, &[Eye::Lab(cie::working())]);
        let noise = DMatrix::from_diagonal(&DVector::from_element(3, sigma * sigma)) + chip.dosing(&mix);
        let own = model.covariance_after(&chip, &chip) + noise;
        let shared = model.covariance_after(&there, &chip);
        let Some(factor) = own.cholesky() else { continue };
        let after = loss(&(&now - &shared * factor.solve(&shared.transpose())));
        // Ten times the resin must teach clearly more: a tenth of the remaining doubt for each doubling.
        let price = after * (1.0 + 0.1 * (volume / VOLUMES_ML[0]).log2());
        if best.as_ref().is_none_or(|b| price < b.0) {
            best = Some((price, volume, drops));
        }
    }
    let (_, volume_ml, drops) = best?;
    let names = bench.colourants.iter().zip(&drops).filter(|(_, n)| **n > 0).map(|(c, n)| (c.name.clone(), *n)).collect();
    Some(NextChip { volume_ml, drops: names, why: "the recipe itself: what it misses by corrects the next one".into() })
}

/// The usual reading doubt of this bench in Lab; 0.3 (a good colorimeter) before any reading.
fn typical_sigma(bench: &Bench) -> f64 {
    let mut sigmas: Vec<f64> = bench
        .chips
        .iter()
        .filter_map(|c| if let Reading::Lab { sigma, .. } = &c.reading { Some(sigma[0].max(sigma[1]).max(sigma[2])) } else { None })
        .collect();
    sigmas.sort_by(f64::total_cmp);
    sigmas.get(sigmas.len() / 2).copied().unwrap_or(0.3).max(0.05)
}
