//! Recipes in whole drops.

use crate::bench::Mix;
use crate::goal::{Aim, Goal, Odds};
use crate::learn::Model;
use crate::optimum::{Optimum, most_drops, optimum, subsets};
use crate::{Noted, TintError};
use nalgebra::{DMatrix, DVector};
use std::collections::BTreeMap;

/// A mix in whole drops, and how near it comes.
#[derive(Clone, Debug, PartialEq)]
pub struct Recipe {
    /// Bare resin, mL.
    pub volume_ml: f64,
    /// Whole drops of each colourant; those of none are left out.
    pub drops: BTreeMap<String, u32>,
    /// Predicted colour under the goal's first light.
    pub lab: [f64; 3],
    /// Predicted CIEDE2000 from the target (root mean square over the lights).
    pub de00: f64,
    /// Chance of the tolerance, and what is kept in 95 of 100 cases: all doubt of the pot, the doses and the target counted.
    pub odds: Odds,
    /// Whether it is proven that no mix within the limits comes nearer by this model.
    pub proven: bool,
    /// Why it is listed.
    pub merit: Merit,
}

/// What a recipe is listed for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Merit {
    /// Nearest to the target.
    Best,
    /// Fewer colourants or drops, nearly as near.
    Cheaper,
    /// Smaller bound at 95 %, nearly as near.
    Steadier,
}

/// The best whole-drop recipe, then runners-up.
///
/// # Errors
/// A goal that cannot be.
pub fn recipes(model: &Model, goal: &Goal) -> Result<Noted<Vec<Recipe>>, TintError> {
    let aim = Aim::new(goal)?;
    let Some((anchor, _)) = anchor(model, goal, &aim) else { return Ok(Noted { value: vec![], notes: vec![] }) };
    let mut found = near_whole(model, goal, &aim, &anchor);
    found.truncate(1);
    let value = found.into_iter().map(|drops| told(model, goal, &aim, &drops)).collect();
    Ok(Noted { value, notes: vec![] })
}

/// The best mix in broken drops, over all sets of colourants.
pub(crate) fn anchor(model: &Model, goal: &Goal, aim: &Aim) -> Option<(Optimum, Vec<usize>)> {
    let metric = aim.metric();
    let most = most_drops(model.bench(), goal);
    let n = most.len();
    let mut best: Option<(Optimum, Vec<usize>)> = None;
    for used in subsets(n, goal.most_colourants) {
        let start = start(model, goal, aim, &metric, &used, &most);
        let found = optimum(model, goal, aim, &metric, &used, &most, &start);
        if best.as_ref().is_none_or(|(b, _)| found.miss < b.miss - 1e-3) {
            best = Some((found, used));
        }
    }
    best
}

/// A coarse look: each colourant at the dose that darkens by about 10.
fn start(model: &Model, goal: &Goal, _aim: &Aim, _metric: &DMatrix<f64>, used: &[usize], most: &[u32]) -> Vec<f64> {
    let mut drops = vec![0.0; most.len()];
    for &i in used {
        let ml = goal.volume_ml * model.fraction_for_load(i, 0.3);
        drops[i] = (ml / (model.bench().colourants[i].drop_ul * 1e-3)).clamp(0.0, f64::from(most[i]));
    }
    drops
}

fn near_whole(model: &Model, goal: &Goal, aim: &Aim, anchor: &Optimum) -> Vec<Vec<u32>> {
    let mut lists: Vec<Vec<u32>> = vec![vec![]];
    for &x in &anchor.drops {
        let options: Vec<u32> = if x < 1e-6 { vec![0] } else { (-1..=2).map(|d| (x.floor() as i64 + d).max(0) as u32).collect() };
        lists = lists.into_iter().flat_map(|l| options.iter().map(move |&o| [l.clone(), vec![o]].concat()).collect::<Vec<_>>()).collect();
    }
    let miss = |drops: &Vec<u32>| aim.miss((plain(model, goal, aim, drops) + &anchor.correction).as_slice());
    let mut scored: Vec<(f64, Vec<u32>)> =
        lists.into_iter().filter(|d| d.iter().sum::<u32>() <= goal.max_drops && allowed(model, goal, d)).map(|d| (miss(&d), d)).collect();
    scored.sort_by(|a, b| a.0.total_cmp(&b.0).then_with(|| a.1.cmp(&b.1)));
    scored.dedup_by(|a, b| a.1 == b.1);
    scored.into_iter().map(|s| s.1).collect()
}

fn plain(model: &Model, goal: &Goal, aim: &Aim, drops: &[u32]) -> DVector<f64> {
    let r = model.optics.reflectance(&Mix::of_drops(&model.bench().colourants, goal.volume_ml, drops));
    DVector::from_iterator(3 * aim.weights.len(), aim.weights.iter().flat_map(|w| crate::forward::lab_and_slopes(w, &r).0))
}

pub(crate) fn allowed(model: &Model, goal: &Goal, drops: &[u32]) -> bool {
    let mix = Mix::of_drops(&model.bench().colourants, goal.volume_ml, drops);
    let total = mix.total_ml();
    model.bench().colourants.iter().zip(&mix.ml).all(|(c, ml)| c.max_percent.is_none_or(|p| ml / total * 100.0 <= p + 1e-9))
}

fn told(model: &Model, goal: &Goal, aim: &Aim, drops: &[u32]) -> Recipe {
    let prediction = model.foretell(&Mix::of_drops(&model.bench().colourants, goal.volume_ml, drops), &aim.eyes());
    let names = model.bench().colourants.iter().zip(drops).filter(|(_, n)| **n > 0).map(|(c, n)| (c.name.clone(), *n)).collect();
    let lab = [prediction.lab[0], prediction.lab[1], prediction.lab[2]];
    Recipe {
        volume_ml: goal.volume_ml,
        drops: names,
        lab,
        de00: aim.miss(prediction.lab.as_slice()),
        odds: aim.odds(&prediction, goal.tolerance_de00),
        proven: false,
        merit: Merit::Best,
    }
}
