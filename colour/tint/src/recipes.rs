//! Recipes: the best in whole units, proven, and runners-up that are cheaper or steadier.

use crate::goal::{Aim, Goal, Odds};
use crate::lattice::{Lattice, MOST_USED};
use crate::learn::Model;
use crate::optimum::{Optimum, nearest, optima};
use crate::search::{Doubts, Held, Shared, search};
use crate::task::Task;
use crate::{Amounts, Noted, TintError, advice};
use rayon::prelude::*;
use std::collections::BTreeMap;

/// A mix in whole drops (or steps of a balance), and how near it comes.
#[derive(Clone, Debug, PartialEq)]
pub struct Recipe {
    /// Bare resin, mL.
    pub volume_ml: f64,
    /// Whole drops of each colourant; those of none are left out. Empty when measured in grams.
    pub drops: BTreeMap<String, u32>,
    /// Grams of each colourant, when the goal is in grams.
    pub grams: BTreeMap<String, f64>,
    /// Predicted colour under the goal's first light.
    pub lab: [f64; 3],
    /// Predicted CIEDE2000 from the target (root mean square over the lights).
    pub de00: f64,
    /// Chance of the tolerance, and what is kept in 95 of 100 cases: all doubt of the pot, the doses and the target counted.
    pub odds: Odds,
    /// Whether it is proven that no mix within the limits is expected to come nearer by this model.
    pub proven: bool,
    /// Why it is listed.
    pub merit: Merit,
}

/// What a recipe is listed for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Merit {
    /// Expected to come nearest to the target.
    Best,
    /// Fewer colourants or drops, nearly as near.
    Cheaper,
    /// Smaller bound at 95 %, nearly as near.
    Steadier,
}

/// The best whole-unit recipe, then runners-up; notes say when the target is out of reach and what would help, and when the pot is too small
/// for whole drops.
///
/// - **Best** is what is expected to come nearest: the predicted difference and its doubt, root mean square. Of two mixes that the model thinks
///   equal the better known one wins; else the search would run off to mixes that no chip vouches for.
/// - **Proven** by exact search over all sets of at most `most_colourants` (the bound and its proof stand at `Lattice::bound`), with two
///   things held in steps, for both vary slowly (by about a factor e in load): the chips' correction beyond the law, at its value for the
///   best broken-drop mix of each set; the doubt, by groups of doses within a factor 1.3. In grams the best is proven to 0.01 CIEDE2000, for
///   steps may be thousands.
///
/// # Errors
/// A goal that cannot be.
pub fn recipes(model: &Model, goal: &Goal) -> Result<Noted<Vec<Recipe>>, TintError> {
    let aim = Aim::new(goal)?;
    let task = Task::new(model.bench(), goal)?;
    let question = Question { model, goal, aim: &aim, task: &task, doubts_count: true };
    let optima = optima(model, &aim, &task, goal.most_colourants);
    let Some(best) = nearest(&optima) else { return Ok(Noted { value: vec![], notes: vec![] }) };
    let found = question.found(&optima);
    let value = question.chosen(&found);
    let notes = advice::notes(&question, &optima, best, value.first());
    Ok(Noted { value, notes })
}

/// The whole-unit mix whose predicted colour is nearest, however well it is known: the exact search alone, without runners-up and advice. `None` for a bench without
/// colourants.
///
/// # Errors
/// A goal that cannot be.
pub fn nearest_mix(model: &Model, goal: &Goal) -> Result<Option<Recipe>, TintError> {
    let aim = Aim::new(goal)?;
    let task = Task::new(model.bench(), goal)?;
    let question = Question { model, goal, aim: &aim, task: &task, doubts_count: false };
    let found = question.found(&optima(model, &aim, &task, goal.most_colourants));
    let best = found.by_count.iter().flatten().min_by(|a, b| a.order(b));
    Ok(best.map(|held| question.told(&held.units, found.proven)))
}

/// What is asked, together.
pub(crate) struct Question<'a> {
    pub model: &'a Model,
    pub goal: &'a Goal,
    pub aim: &'a Aim,
    pub task: &'a Task,
    /// Whether how badly a mix is known counts beside how far it lies.
    pub doubts_count: bool,
}

/// What the search held, by number of colourants.
pub(crate) struct Found {
    /// For each number of colourants from one up, the best mixes of it.
    by_count: Vec<Vec<Held>>,
    proven: bool,
}

/// How many mixes are kept for each number of colourants, to choose runners-up from: the best, and neighbours found on the way.
const KEEP: usize = 8;
/// So many sets of colourants, the most promising first, are rounded to whole units before the search.
const ROUNDED: usize = 40;
/// Sets searched side by side.
const BUNCH: usize = 8;
/// A runner-up may be farther than the best by this share of the tolerance.
const NEARLY: f64 = 0.3;

impl Question<'_> {
    /// The best mixes for each number of colourants, as far as they come within `NEARLY` of the best.
    pub fn found(&self, optima: &[Optimum]) -> Found {
        // First without proof: broken drops rounded. That gives the search a small radius to start from.
        let mut order: Vec<(f64, &Optimum)> = optima
            .par_iter()
            .map(|o| {
                let doubt = if self.doubts_count { self.model.doubt(&self.task.mix(&o.units), self.aim) } else { 0.0 };
                (o.miss.hypot(doubt), o)
            })
            .collect();
        order.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut rough: Vec<Held> = order.iter().take(ROUNDED).flat_map(|o| self.rounded(o.1)).collect();
        rough.sort_by(Held::order);
        let nearest = rough.first().map_or(f64::INFINITY, |h| h.score);
        let best_count = rough.first().map_or(0, |h| h.units.iter().filter(|n| **n > 0).count());
        let nearly = nearest + NEARLY * self.goal.tolerance_de00;
        let slack = if matches!(self.goal.amounts, Amounts::Drops) { 0.0 } else { GRAM_GAP };
        // Where even the best is expected to miss by several tolerances, chips or other colourants are wanted, not a proof.
        let hopeless = nearest > TOO_VAGUE * self.goal.tolerance_de00.max(1.0);
        let mut proven = !hopeless;
        let mut by_count: Vec<Vec<Held>> = vec![];
        let mut best = nearest;
        let mut shared = Shared::new(INFINITE);
        for count in 1..=self.goal.most_colourants.min(self.task.limits.most.len()) {
            let of_count = |h: &&Held| h.units.iter().filter(|n| **n > 0).count() == count;
            let mut known: Vec<Held> = rough.iter().filter(of_count).take(KEEP).cloned().collect();
            let own = known.first().map_or(f64::INFINITY, |h| h.score);
            // With fewer colourants a mix is worth telling if nearly as near; with more, only if nearer than all before.
            let reach = own.min(if count < best_count { nearly } else { best });
            shared = shared.with_radius((reach.min(INFINITE) - slack).max(0.0));
            if !hopeless {
                let sets: Vec<&Optimum> = order.iter().map(|o| o.1).filter(|o| o.used.len() == count).collect();
                known.extend(self.side_by_side(&sets, &shared));
            }
            proven &= !shared.exhausted();
            known.sort_by(Held::order);
            known.dedup_by(|a, b| a.units == b.units);
            known.truncate(KEEP);
            best = known.first().map_or(best, |h| h.score.min(best));
            by_count.push(known);
        }
        Found { by_count, proven }
    }

    /// Searches sets a few at a time. Those of one bunch do not hear of each other until all are done, so that the work, and with it the
    /// answer of a search cut short, is the same on every run.
    fn side_by_side(&self, sets: &[&Optimum], shared: &Shared) -> Vec<Held> {
        let mut all = vec![];
        for bunch in sets.chunks(BUNCH) {
            let found: Vec<(Vec<Held>, Shared)> = bunch
                .par_iter()
                .map_with(shared.clone(), |start, set| {
                    let own = start.clone();
                    (self.searched(set, &own), own)
                })
                .collect();
            let (held, parts): (Vec<Vec<Held>>, Vec<Shared>) = found.into_iter().unzip();
            shared.join(&parts);
            all.extend(held.into_iter().flatten());
        }
        all
    }

    fn searched(&self, set: &Optimum, shared: &Shared) -> Vec<Held> {
        let lattice = self.lattice(set);
        let doubt = |units: &[f64; MOST_USED]| self.doubt(&set.used, units);
        let most = set.used.iter().map(|&i| self.task.limits.most[i]).max().unwrap_or(0);
        search(&lattice, &self.task.limits, &mut Doubts::new(&doubt, set.used.len(), most), 1, shared)
    }

    fn lattice<'b>(&'b self, set: &'b Optimum) -> Lattice<'b> {
        Lattice::new(&self.model.optics, self.aim, &self.task.pot, set.used.clone(), &set.correction)
    }

    /// How badly the colour of a mix is known, the scatter of its doses included: root mean square in CIEDE2000.
    fn doubt(&self, used: &[usize], units: &[f64; MOST_USED]) -> f64 {
        if !self.doubts_count {
            return 0.0;
        }
        let mut all = vec![0.0; self.task.limits.most.len()];
        for (j, &i) in used.iter().enumerate() {
            all[i] = units[j];
        }
        self.model.doubt(&self.task.mix(&all), self.aim)
    }

    /// The whole-unit neighbours of a broken-unit mix.
    fn rounded(&self, optimum: &Optimum) -> Vec<Held> {
        let lattice = self.lattice(optimum);
        let doubt = |units: &[f64; MOST_USED]| self.doubt(&optimum.used, units);
        let mut doubts = Doubts::new(&doubt, optimum.used.len(), self.task.limits.most.iter().copied().max().unwrap_or(0));
        let mut lists: Vec<Vec<u32>> = vec![vec![]];
        for &i in &optimum.used {
            let floor = optimum.units[i].floor() as u32;
            let options: Vec<u32> = (floor.saturating_sub(1)..=floor + 2).filter(|n| *n > 0).collect();
            lists = lists.iter().flat_map(|list| options.iter().map(move |&n| [list.clone(), vec![n]].concat())).collect();
        }
        let spread = |list: Vec<u32>| {
            let (mut units, mut four) = (vec![0; self.task.limits.most.len()], [0; MOST_USED]);
            for (j, &i) in optimum.used.iter().enumerate() {
                (units[i], four[j]) = (list[j], list[j]);
            }
            self.task.allows(&units).then(|| (lattice.score(&four), units, four))
        };
        let mut near: Vec<(f64, Vec<u32>, [u32; MOST_USED])> = lists.into_iter().filter_map(spread).collect();
        near.sort_by(|a, b| a.0.total_cmp(&b.0).then_with(|| a.1.cmp(&b.1)));
        near.truncate(KEEP);
        near.into_iter().map(|(miss, units, four)| Held { score: miss.hypot(doubts.at(&four)), units }).collect()
    }

    /// The best, and one runner-up for each merit.
    pub fn chosen(&self, found: &Found) -> Vec<Recipe> {
        let mut all: Vec<&Held> = found.by_count.iter().flatten().collect();
        all.sort_by(|a, b| a.order(b));
        let Some(best) = all.first() else { return vec![] };
        let near: Vec<&Held> = all.iter().copied().filter(|h| h.score <= best.score + NEARLY * self.goal.tolerance_de00).collect();
        let told: Vec<(Recipe, &Held)> = near.iter().map(|h| (self.told(&h.units, found.proven), *h)).collect();
        let mut list = vec![told[0].0.clone()];
        let cost = |h: &Held| (h.units.iter().filter(|n| **n > 0).count(), h.units.iter().map(|n| u64::from(*n)).sum::<u64>());
        let (colourants, units) = cost(best);
        // A fifth fewer drops, or a bottle fewer, is worth a line.
        let cheaper = |h: &Held| cost(h).0 < colourants || 5 * cost(h).1 <= 4 * units;
        if let Some((recipe, _)) =
            told.iter().skip(1).filter(|(_, h)| cheaper(h)).min_by(|a, b| cost(a.1).cmp(&cost(b.1)).then_with(|| a.1.order(b.1)))
        {
            list.push(Recipe { merit: Merit::Cheaper, ..recipe.clone() });
        }
        let steadiest = told.iter().skip(1).min_by(|a, b| a.0.odds.de00_95.total_cmp(&b.0.odds.de00_95).then_with(|| a.1.order(b.1)));
        if let Some((recipe, _)) = steadiest.filter(|s| s.0.odds.de00_95 < 0.95 * list[0].odds.de00_95) {
            list.push(Recipe { merit: Merit::Steadier, ..recipe.clone() });
        }
        list.dedup_by(|a, b| a.drops == b.drops && a.grams == b.grams);
        list
    }

    /// The pot after a recipe told by this question.
    pub fn mix_of(&self, recipe: &Recipe) -> crate::bench::Mix {
        let units = |c: &crate::Colourant| match self.goal.amounts {
            Amounts::Drops => recipe.drops.get(&c.name).map_or(0.0, |n| f64::from(*n)),
            Amounts::Grams { step_g, .. } => recipe.grams.get(&c.name).map_or(0.0, |g| g / step_g),
        };
        self.task.mix(&self.model.bench().colourants.iter().map(units).collect::<Vec<_>>())
    }

    pub fn told(&self, units: &[u32], proven: bool) -> Recipe {
        let mix = self.task.whole(units);
        let prediction = self.model.foretell(&mix, &self.aim.eyes());
        let bottles = &self.model.bench().colourants;
        let used = || bottles.iter().zip(units).filter(|(_, n)| **n > 0);
        let (drops, grams) = match self.goal.amounts {
            Amounts::Drops => (used().map(|(c, n)| (c.name.clone(), *n)).collect(), BTreeMap::new()),
            Amounts::Grams { step_g, .. } => (BTreeMap::new(), used().map(|(c, n)| (c.name.clone(), f64::from(*n) * step_g)).collect()),
        };
        Recipe {
            volume_ml: self.task.pot.resin_ml,
            drops,
            grams,
            lab: [prediction.lab[0], prediction.lab[1], prediction.lab[2]],
            de00: self.aim.miss(prediction.lab.as_slice()),
            odds: self.aim.odds(&prediction, self.goal.tolerance_de00),
            proven,
            merit: Merit::Best,
        }
    }
}

/// In grams the best is proven to this much CIEDE2000: a tenth of what the best instruments repeat to.
const GRAM_GAP: f64 = 0.01;
/// In tolerances, at least in CIEDE2000.
const TOO_VAGUE: f64 = 2.5;
/// No CIEDE2000 is larger.
const INFINITE: f64 = 1e3;
