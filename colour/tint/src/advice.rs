//! What to say when the target is out of reach, and when the pot is too small for whole drops.

use crate::optimum::{Optimum, nearest, optima};
use crate::recipes::Question;
use crate::task::Task;
use crate::{Amounts, Note, Recipe};

/// Doubts about the recipes of a question.
pub(crate) fn notes(question: &Question, optima: &[Optimum], anchor: &Optimum, best: Option<&Recipe>) -> Vec<Note> {
    let mut notes = vec![];
    let tolerance = question.goal.tolerance_de00;
    if anchor.miss > tolerance {
        notes.push(out_of_reach(question, anchor));
    } else if let Some(best) = best
        && matches!(question.goal.amounts, Amounts::Drops)
    {
        notes.extend(too_coarse(question, optima, best));
    }
    notes
}

/// Which limit is in the way, or which colour is missing.
fn out_of_reach(question: &Question, anchor: &Optimum) -> Note {
    let text = format!("the target is out of reach: the nearest mix stays {:.1} CIEDE2000 away", anchor.miss);
    let free = question.without_limits();
    let without = optima(question.model, question.aim, &free, question.goal.most_colourants);
    let settle = match nearest(&without) {
        Some(other) if other.miss < MUCH_NEARER * anchor.miss => {
            let over = question.over_limits(other);
            format!("without limits {:.1} could be reached; what stands in the way: {over}", other.miss)
        }
        _ => missing_colour(question, anchor),
    };
    Note { text, settle }
}

/// Tries, one at a time, a made-up colourant of each plain colour: within the limits, then without them.
fn missing_colour(question: &Question, anchor: &Optimum) -> String {
    let best = |task: &Task| {
        let helped = crate::words::PLAIN.iter().filter_map(|word| question.with_another(word, task).map(|miss| (miss, word)));
        helped.min_by(|a, b| a.0.total_cmp(&b.0)).filter(|(miss, _)| *miss < MUCH_NEARER * anchor.miss)
    };
    if let Some((miss, word)) = best(question.task) {
        return format!("a {word} would help: with a usual one the nearest mix comes to about {miss:.1}");
    }
    match best(&question.without_limits()) {
        Some((miss, word)) => format!(
            "a {word} would help, if more of it were allowed or it were stronger: without limits the nearest mix comes to about {miss:.1}"
        ),
        None => "no single further colourant of a plain colour would bring it much nearer; check the target and the resin".into(),
    }
}

/// What leaves no more than this share of the miss is worth telling.
const MUCH_NEARER: f64 = 0.7;

/// Whole drops in this volume against broken ones.
fn too_coarse(question: &Question, optima: &[Optimum], best: &Recipe) -> Option<Note> {
    let tolerance = question.goal.tolerance_de00;
    let bottles = &question.model.bench().colourants;
    let used: Vec<usize> = (0..bottles.len()).filter(|&i| best.drops.contains_key(&bottles[i].name)).collect();
    let broken = optima.iter().find(|o| o.used == used)?;
    let step = question.drop_step(best)?;
    let lost = best.de00 - broken.miss;
    if step <= 0.5 * tolerance && lost <= 0.25 * tolerance {
        return None;
    }
    let volume = question.goal.volume_ml;
    let enough = volume * (step / (0.5 * tolerance)).max(lost / (0.25 * tolerance));
    Some(Note {
        text: format!("in {volume:.0} mL one drop moves the colour by up to {step:.1} CIEDE2000, and whole drops miss by {:.1}", best.de00),
        settle: format!("mix at least {:.0} mL, or thin the strong colourants first", 5.0 * (enough / 5.0).ceil()),
    })
}

impl Question<'_> {
    fn without_limits(&self) -> Task {
        let mut task = self.task.clone();
        let bottles = &self.model.bench().colourants;
        // An empty bottle is no limit to lift.
        for i in (0..task.limits.most.len()).filter(|&i| bottles.get(i).and_then(|c| c.stock_ml) != Some(0.0)) {
            // Up to as much colourant as resin.
            task.limits.most[i] = (task.pot.resin_ml / task.pot.unit_ml[i]).clamp(1.0, 1e6) as u32;
            task.limits.share[i] = 1.0;
            task.limits.least[i] = 1;
        }
        task.limits.all = u32::MAX;
        task
    }

    fn over_limits(&self, optimum: &Optimum) -> String {
        let mix = self.task.mix(&optimum.units);
        let mut over: Vec<String> = vec![];
        for (i, c) in self.model.bench().colourants.iter().enumerate() {
            let percent = 100.0 * mix.ml[i] / mix.total_ml();
            if percent > 100.0 * self.task.limits.share[i] {
                over.push(format!("{} at {percent:.1} % (limit {:.1} %)", c.name, 100.0 * self.task.limits.share[i]));
            } else if optimum.units[i] > f64::from(self.task.limits.most[i]) {
                over.push(format!("{} drops of {} (at most {})", optimum.units[i].ceil(), c.name, self.task.limits.most[i]));
            }
        }
        if over.is_empty() {
            return format!("{} drops in all (at most {})", optimum.units.iter().sum::<f64>().ceil(), self.task.limits.all);
        }
        over.join(", ")
    }

    /// The nearest that could be reached with one more colourant of a plain colour word; `None` if the bench cannot take one.
    fn with_another(&self, word: &str, task: &Task) -> Option<f64> {
        let (model, task) = (self.model.with_usual(word)?, task.with_another());
        let optima = optima(&model, self.aim, &task, self.goal.most_colourants);
        nearest(&optima).map(|o| o.miss)
    }

    /// The most that one drop more of a used colourant moves the colour, CIEDE2000.
    fn drop_step(&self, best: &Recipe) -> Option<f64> {
        let bottles = &self.model.bench().colourants;
        let units: Vec<f64> = bottles.iter().map(|c| f64::from(best.drops.get(&c.name).copied().unwrap_or(0))).collect();
        let glance = {
            let used: Vec<usize> = (0..units.len()).filter(|&i| units[i] > 0.0).collect();
            self.model.glance(&self.task.mix(&units), &self.aim.eyes(), &used)
        };
        let slopes = &self.aim.metric * &glance.by_ml;
        let steps = (0..units.len()).filter(|&i| units[i] > 0.0).map(|i| slopes.column(i).norm() * self.task.pot.unit_ml[i]);
        steps.fold(None, |most: Option<f64>, step| Some(most.map_or(step, |m| m.max(step))))
    }
}
