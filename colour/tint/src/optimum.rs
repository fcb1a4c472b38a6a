//! The best mix in units that need not be whole, for a given set of colourants.

use crate::goal::Aim;
use crate::learn::Model;
use crate::task::Task;
use nalgebra::{DMatrix, DVector};
use rayon::prelude::*;

/// A mix in broken units and how near it comes.
#[derive(Clone, Debug)]
pub(crate) struct Optimum {
    pub used: Vec<usize>,
    pub units: Vec<f64>,
    pub miss: f64,
    /// What near chips teach beyond the law, there.
    pub correction: DVector<f64>,
}

/// The best mix in broken units of each set of at most `most` colourants, in the order of [`subsets`].
pub(crate) fn optima(model: &Model, aim: &Aim, task: &Task, most: usize) -> Vec<Optimum> {
    // A bottle with nothing left only explains chips.
    let open = |used: &Vec<usize>| used.iter().all(|&i| task.limits.most[i] > 0);
    let sets: Vec<Vec<usize>> = subsets(task.limits.most.len(), most).into_iter().filter(open).collect();
    sets.into_par_iter().map(|used| optimum(model, aim, task, used)).collect()
}

/// The one worth a chip: what comes nearest once it is cured and read. A chip takes most of the doubt about its own mix, say three quarters; so a
/// badly known mix that may be right is tried before a well known one that is not.
pub(crate) fn promising<'a>(model: &Model, aim: &Aim, task: &Task, optima: &'a [Optimum]) -> Option<&'a Optimum> {
    let expected = |o: &Optimum| o.miss.hypot(0.25 * model.doubt(&task.mix(&o.units), aim));
    let scored = optima.iter().map(|o| (expected(o), o));
    scored
        .fold(None, |best: Option<(f64, &Optimum)>, new| if best.is_none_or(|b| new.0 < b.0 - 1e-3) { Some(new) } else { best })
        .map(|b| b.1)
}

/// The nearest of them; a further colourant must bring a thousandth.
pub(crate) fn nearest(optima: &[Optimum]) -> Option<&Optimum> {
    optima.iter().fold(None, |best: Option<&Optimum>, o| if best.is_none_or(|b| o.miss < b.miss - 1e-3) { Some(o) } else { best })
}

/// Levenberg-Marquardt on units, kept within 0 and the limits; the metric is that of CIEDE2000 at the target.
fn optimum(model: &Model, aim: &Aim, task: &Task, used: Vec<usize>) -> Optimum {
    let metric = &aim.metric;
    let want = DVector::from_iterator(3 * aim.labs.len(), aim.labs.iter().flat_map(|l| l.array()));
    let most: Vec<f64> = used.iter().map(|&i| f64::from(task.limits.most[i])).collect();
    let look = |units: &[f64]| {
        let glance = model.glance(&task.mix(units), &aim.eyes(), &used);
        let correction = model.correction(&glance);
        let misses = metric * (&glance.seen + &correction - &want);
        (glance, correction, misses)
    };
    let mut units = start(model, task, &used);
    task.keep_limits(&mut units);
    let (mut glance, mut correction, mut misses) = look(&units);
    let mut damping = 1e-3;
    for _ in 0..MOST_STEPS {
        let by_units = DMatrix::from_fn(glance.seen.len(), used.len(), |r, j| glance.by_ml[(r, used[j])] * task.pot.unit_ml[used[j]]);
        let now: Vec<f64> = used.iter().map(|&i| units[i]).collect();
        let Some(step) = kept_step(&(metric * by_units), &misses, damping, &now, &most) else { break };
        let mut trial = units.clone();
        for (j, &i) in used.iter().enumerate() {
            trial[i] = (units[i] - step[j]).clamp(0.0, most[j]);
        }
        task.keep_limits(&mut trial);
        let moved = trial.iter().zip(&units).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
        let seen = look(&trial);
        if seen.2.norm_squared() < misses.norm_squared() {
            units = trial;
            (glance, correction, misses) = seen;
            damping = (damping * 0.3).max(1e-9);
            if moved < 1e-3 {
                break;
            }
        } else {
            damping = (damping * 10.0).max(1e-6);
            if damping > 1e8 || moved < 1e-6 {
                break;
            }
        }
    }
    let miss = aim.miss((&glance.seen + &correction).as_slice());
    Optimum { used, units, miss, correction }
}

const MOST_STEPS: usize = 40;

/// A damped step; those at a bound that would leave it stand still.
fn kept_step(slopes: &DMatrix<f64>, misses: &DVector<f64>, damping: f64, now: &[f64], most: &[f64]) -> Option<DVector<f64>> {
    let mut normal = slopes.transpose() * slopes;
    let gradient = slopes.transpose() * misses;
    for j in 0..now.len() {
        normal[(j, j)] = normal[(j, j)] * (1.0 + damping) + 1e-12;
        if (now[j] <= 0.0 && gradient[j] > 0.0) || (now[j] >= most[j] && gradient[j] < 0.0) {
            normal.row_mut(j).fill(0.0);
            normal.column_mut(j).fill(0.0);
            normal[(j, j)] = 1e30;
        }
    }
    normal.cholesky().map(|c| c.solve(&gradient))
}

/// Each colourant at a visible load.
fn start(model: &Model, task: &Task, used: &[usize]) -> Vec<f64> {
    let mut units = vec![0.0; task.limits.most.len()];
    for &i in used {
        let ml = task.pot.resin_ml * model.fraction_for_load(i, 0.3) - task.pot.base_ml[i];
        units[i] = (ml / task.pot.unit_ml[i]).clamp(0.0, f64::from(task.limits.most[i]));
    }
    units
}

/// All sets of 1 to `most` of `count` colourants, small ones first.
pub(crate) fn subsets(count: usize, most: usize) -> Vec<Vec<usize>> {
    let mut all: Vec<Vec<usize>> = vec![];
    let mut last: Vec<Vec<usize>> = vec![vec![]];
    for _ in 0..most.min(count) {
        let longer = |set: &Vec<usize>| {
            let set = set.clone();
            (set.last().map_or(0, |l| l + 1)..count).map(move |next| [set.clone(), vec![next]].concat())
        };
        last = last.iter().flat_map(longer).collect();
        all.extend(last.iter().cloned());
    }
    all
}
