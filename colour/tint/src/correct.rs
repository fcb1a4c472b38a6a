//! Correcting a pot that is mixed already: one can only add.

use crate::bench::Mix;
use crate::goal::{Aim, Goal};
use crate::learn::Model;
use crate::ledger::Contents;
use crate::optimum::optima;
use crate::recipes::{Question, Recipe};
use crate::task::Task;
use crate::{Noted, TintError};

/// What to add to a pot.
#[derive(Clone, Debug, PartialEq)]
pub struct Addition {
    /// Bare resin to add, mL.
    pub resin_ml: f64,
    /// Drops (or grams) to add, and what the pot is then expected to be; `volume_ml` is all the bare resin then in it.
    pub recipe: Recipe,
}

/// More resin than this share of what is in makes a new pot, not a correction.
const RESIN_SHARES: [f64; 6] = [0.0, 0.1, 0.25, 0.5, 1.0, 2.0];

/// The best additions to a pot of these contents, for each amount of bare resin that brings the pot nearer than less resin does; the least
/// addition first. Nothing comes nearer by being taken out, so an overdose asks for resin. Empty: leave it as it is.
///
/// # Errors
/// A goal or contents that cannot be.
pub fn corrections(model: &Model, goal: &Goal, pot: &Contents) -> Result<Noted<Vec<Addition>>, TintError> {
    let aim = Aim::new(goal)?;
    let base = pot.mix(model.bench())?;
    let expected = |mix: &Mix| {
        let told = model.foretell(mix, &aim.eyes());
        aim.miss(told.lab.as_slice()).hypot(model.doubt(mix, &aim))
    };
    let mut best = expected(&base);
    let mut list = vec![];
    for share in RESIN_SHARES {
        let resin_ml = share * base.total_ml();
        let more = Mix { resin_ml: base.resin_ml + resin_ml, ..base.clone() };
        let task = Task::onto(model.bench(), goal, &more)?;
        let question = Question { model, goal, aim: &aim, task: &task, doubts_count: true };
        let found = question.found(&optima(model, &aim, &task, goal.most_colourants));
        let none = (share > 0.0).then(|| vec![0; base.ml.len()]);
        let recipes = question.chosen(&found).into_iter().take(1).chain(none.map(|units| question.told(&units, true)));
        for recipe in recipes {
            let mix = question.mix_of(&recipe);
            let score = expected(&mix);
            // A tenth of the tolerance nearer is worth more resin.
            if score < best - 0.1 * goal.tolerance_de00 {
                best = score;
                list.push(Addition { resin_ml, recipe });
            }
        }
    }
    Ok(Noted { value: list, notes: vec![] })
}
