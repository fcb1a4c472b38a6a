//! The best mix in drops that need not be whole, for a given set of colourants.

use crate::bench::{Bench, Mix};
use crate::goal::{Aim, Goal};
use crate::learn::Model;
use nalgebra::{DMatrix, DVector};

/// A mix in broken drops and how near it comes.
#[derive(Clone, Debug)]
pub(crate) struct Optimum {
    pub drops: Vec<f64>,
    pub miss: f64,
    /// What near chips teach beyond the law, there.
    pub correction: DVector<f64>,
}

/// Most drops of each colourant by its own limits, at the goal's volume: load (percent of the total), stock.
pub(crate) fn most_drops(bench: &Bench, goal: &Goal) -> Vec<u32> {
    let of = |c: &crate::Colourant| {
        let drop_ml = c.drop_ul * 1e-3;
        // Alone in the pot: v / (V + v) <= p. With others beside it the share only falls; the search checks the exact share of each mix.
        let load = c
            .max_percent
            .map_or(f64::INFINITY, |p| if p >= 100.0 { f64::INFINITY } else { goal.volume_ml * p / (100.0 - p) / drop_ml * 4.0 });
        let stock = c.stock_ml.map_or(f64::INFINITY, |ml| ml / drop_ml);
        let most = load.min(stock).min(f64::from(goal.max_drops)) + 1e-9;
        most.floor().max(0.0) as u32
    };
    bench.colourants.iter().map(of).collect()
}

pub(crate) fn mix_of(bench: &Bench, goal: &Goal, drops: &[f64]) -> Mix {
    let ml = bench.colourants.iter().zip(drops).map(|(c, n)| n * c.drop_ul * 1e-3).collect();
    let scatter = bench.colourants.iter().zip(drops).map(|(c, &n)| if n > 0.0 { c.drop_cv / n.max(1.0).sqrt() } else { 0.0 }).collect();
    Mix { resin_ml: goal.volume_ml, ml, scatter }
}

/// Levenberg-Marquardt on drops, kept within 0 and the limits; the metric is that of CIEDE2000 at the target.
pub(crate) fn optimum(
    model: &Model,
    goal: &Goal,
    aim: &Aim,
    metric: &DMatrix<f64>,
    used: &[usize],
    most: &[u32],
    start: &[f64],
) -> Optimum {
    let bench = model.bench();
    let want = DVector::from_iterator(3 * aim.labs.len(), aim.labs.iter().flat_map(|l| l.array()));
    let look = |drops: &[f64]| {
        let mix = mix_of(bench, goal, drops);
        let probe = model.probe(&mix, &aim.eyes());
        let correction = model.correction(&probe);
        let misses = metric * (&probe.seen + &correction - &want);
        (probe, correction, misses)
    };
    let mut drops = start.to_vec();
    let (mut probe, mut correction, mut misses) = look(&drops);
    let mut damping = 1e-3;
    for _ in 0..40 {
        let by_drops =
            DMatrix::from_fn(probe.seen.len(), used.len(), |r, j| probe.by_ml[(r, used[j])] * bench.colourants[used[j]].drop_ul * 1e-3);
        let slopes = metric * by_drops;
        let mut normal = slopes.transpose() * &slopes;
        for j in 0..used.len() {
            normal[(j, j)] = normal[(j, j)] * (1.0 + damping) + 1e-12;
        }
        // Those at a bound that would leave it stand still.
        let gradient = slopes.transpose() * &misses;
        for j in 0..used.len() {
            let at = drops[used[j]];
            if (at <= 0.0 && gradient[j] > 0.0) || (at >= f64::from(most[used[j]]) && gradient[j] < 0.0) {
                normal.row_mut(j).fill(0.0);
                normal.column_mut(j).fill(0.0);
                normal[(j, j)] = 1e30;
            }
        }
        let Some(step) = normal.cholesky().map(|c| c.solve(&gradient)) else { break };
        let mut trial = drops.clone();
        for (j, &i) in used.iter().enumerate() {
            trial[i] = (drops[i] - step[j]).clamp(0.0, f64::from(most[i]));
        }
        let moved = trial.iter().zip(&drops).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
        let seen = look(&trial);
        if seen.2.norm_squared() < misses.norm_squared() {
            drops = trial;
            (probe, correction, misses) = seen;
            damping = (damping * 0.3).max(1e-9);
            if moved < 1e-4 {
                break;
            }
        } else {
            damping = (damping * 10.0).max(1e-6);
            if damping > 1e8 || moved < 1e-6 {
                break;
            }
        }
    }
    let miss = aim.miss((&probe.seen + &correction).as_slice());
    Optimum { drops, miss, correction }
}

/// All sets of 1 to `most` of `count` colourants, small ones first.
pub(crate) fn subsets(count: usize, most: usize) -> Vec<Vec<usize>> {
    let mut all: Vec<Vec<usize>> = vec![vec![]];
    let mut first = 0;
    for _ in 0..most.min(count) {
        let last = all.len();
        for i in first..last {
            let from = all[i].last().map_or(0, |l| l + 1);
            for next in from..count {
                let mut longer = all[i].clone();
                longer.push(next);
                all.push(longer);
            }
        }
        first = last;
    }
    all.remove(0);
    all
}
