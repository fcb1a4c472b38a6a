//! Rival fits of one view: which edges of the rod are believed, and from which focal length a fit began. The likeliest is told; how far the others
//! lie from it is doubt that no fit by itself knows of.

use crate::chain::chain_of;
use crate::fit::UNMODELLED;
use crate::joint::Border;
use crate::judge::misfit;
use crate::single::{LEAST_ROD, Solved, Start, usable};
use crate::trust::{Midline, Trust};
use outline::Outline;
use solve::median;

/// Another fit of the same view: its odds, and how far it lies off the one that is told.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Rival {
    pub(crate) odds: f64,
    pub(crate) ln_length: f64,
    pub(crate) ln_diameter: f64,
    pub(crate) ln_focal: f64,
    pub(crate) ln_distance: f64,
    pub(crate) tilt_rad: f64,
}

/// Usable points on the rod's left and right edge.
pub(crate) fn rod_counts(outline: &Outline) -> [usize; 2] {
    [&outline.rod_left, &outline.rod_right].map(|edge| edge.iter().filter(|p| usable(p)).count())
}

/// Readings of the rod's edges to begin with.
pub(crate) fn first_readings(outline: &Outline, midline: Option<&Midline>) -> &'static [Trust] {
    let [left, right] = rod_counts(outline);
    match (left >= LEAST_ROD, right >= LEAST_ROD) {
        (true, false) => &[Trust::Left],
        (false, true) => &[Trust::Right],
        // So far from where the part has its middle that a fit may not find back from them.
        _ if 3 * left.min(right) < left.max(right) || midline.is_some_and(|m| m.off_px(outline) > FAR_APART_PX) => {
            &[Trust::Both, Trust::Left, Trust::Right]
        }
        _ => &[Trust::Both],
    }
}

/// Distance of the rod's middle from the part's that perspective alone seldom brings, px.
const FAR_APART_PX: f64 = 8.0;

/// Whether a fit leaves room for one that believes other edges of the rod.
pub(crate) fn doubtful(solved: &Solved) -> bool {
    let (given, view) = (&solved.task.views[0], &solved.fitted.state.views[0]);
    let biased: f64 = view.biases_px[2..].iter().zip(&given.bias_sigmas_px()[2..]).map(|(b, s)| (b / s).powi(2)).sum();
    // The part's two sides pull apart where the rod's edges hold the axis off their middle.
    let residuals = &solved.fitted.residuals_px[0];
    let side = |side: usize| {
        let own = given.marks.iter().zip(residuals).filter(|(m, _)| m.border == Border::Part && m.biased[0].0 == side);
        median(&own.map(|(_, r)| *r).collect::<Vec<f64>>()).unwrap_or(0.0)
    };
    given.trust != Trust::Both || biased > DOUBTFUL_BIASES || (side(0) - side(1)).abs() > DOUBTFUL_SIDES_PX
}

/// Difference of the part's two sides, px, beyond what edges err by.
const DOUBTFUL_SIDES_PX: f64 = 0.3;

/// Squared biases of the rod's edges, in sigmas, from which on another reading of them can be the likelier one.
const DOUBTFUL_BIASES: f64 = 3.0;

/// The same fit with other edges of the rod believed: all but the scale starts as it is.
pub(crate) fn switched(base: &Solved, trust: Trust) -> Start {
    let (mut task, mut state) = (base.task.clone(), base.fitted.state.clone());
    let (given, view) = (&mut task.views[0], &mut state.views[0]);
    let [left, right] = [view.biases_px[2], view.biases_px[4]];
    let wider_px = match trust {
        Trust::Both => 0.5 * (left + right),
        Trust::Left => left,
        Trust::Right => right,
    };
    let half_px = (view.lens.focal_px * state.rods[0] / view.axis.origin.norm()).max(1.0);
    let scale = half_px / (half_px + wider_px).max(0.3 * half_px);
    given.trust = trust;
    view.axis.origin *= scale;
    (view.biases_px[2], view.biases_px[4]) = (left - wider_px, right - wider_px);
    state.runs.iter_mut().flatten().for_each(|node| *node = [node[0] * scale, node[1] * scale]);
    Start { task, state, believed: base.fitted.weights.clone() }
}

/// The likeliest fit, with the others as its rivals. Both edges of the rod together stand until another reading is far likelier.
pub(crate) fn likeliest(fits: Vec<Solved>) -> Option<Solved> {
    let mut judged: Vec<(f64, Solved)> = fits.into_iter().map(|s| (tempered(&s), s)).collect();
    judged.sort_by(|a, b| a.0.total_cmp(&b.0));
    let least = judged.first()?.0;
    if let Some(both) = judged.iter().position(|(cost, s)| s.task.views[0].trust == Trust::Both && *cost < least + FAR_LIKELIER) {
        judged[..=both].rotate_right(1);
    }
    let trust = judged.first()?.1.task.views[0].trust;
    let odds: Vec<f64> = judged.iter().map(|(cost, _)| (-0.5 * (cost - least)).exp()).collect();
    let total: f64 = odds.iter().sum();
    let gists: Vec<Option<Gist>> = judged.iter().map(|(_, s)| Gist::of(s)).collect();
    // Costs of fits that ended in different hollows say little of which is nearer the truth: the one in the midst of all is told.
    let amidst = |i: usize| {
        let own = gists[i].as_ref()?;
        let others = gists.iter().zip(&odds).filter_map(|(g, odds)| Some((g.as_ref()?, odds)));
        Some(others.map(|(other, odds)| odds * own.off(other)).sum::<f64>())
    };
    let likely = (0..judged.len()).filter(|&i| judged[i].1.task.views[0].trust == trust && odds[i] > LEAST_TOLD * odds[0]);
    let told = likely.filter_map(|i| Some((i, amidst(i)?))).min_by(|a, b| a.1.total_cmp(&b.1))?.0;
    let own = gists[told].as_ref()?;
    let rival = |(odds, other): (&f64, &Option<Gist>)| {
        let other = other.as_ref()?;
        Some(Rival {
            odds: odds / total,
            ln_length: (other.length_mm / own.length_mm).ln(),
            ln_diameter: (other.diameter_mm / own.diameter_mm).ln(),
            ln_focal: (other.focal_px / own.focal_px).ln(),
            ln_distance: (other.distance_mm / own.distance_mm).ln(),
            tilt_rad: other.tilt_rad - own.tilt_rad,
        })
    };
    let rivals = odds.iter().zip(&gists).filter_map(rival).filter(|r| r.odds > LEAST_ODDS);
    let rivals =
        rivals.filter(|r| [r.ln_length, r.ln_diameter, r.ln_focal, r.ln_distance, r.tilt_rad].iter().all(|x| x.is_finite())).collect();
    let (_, mut best) = judged.into_iter().nth(told)?;
    best.rivals = rivals;
    Some(best)
}

/// A fit this much less likely than the likeliest is not told, however much amidst the others it lies.
const LEAST_TOLD: f64 = 0.1;
/// Odds of 20 to 1, as -2 ln.
const FAR_LIKELIER: f64 = 6.0;
/// Rivals less likely than this change nothing that is told.
const LEAST_ODDS: f64 = 1e-3;

/// The yardstick with what the outline says counting for less, by what the model leaves out.
fn tempered(solved: &Solved) -> f64 {
    let [marks, priors] = misfit(&solved.task, &solved.fitted);
    marks / (UNMODELLED * UNMODELLED) + priors
}

/// The numbers by which rivals are compared.
struct Gist {
    length_mm: f64,
    diameter_mm: f64,
    focal_px: f64,
    distance_mm: f64,
    tilt_rad: f64,
}

impl Gist {
    /// Squared difference of the two overall sizes, as shares of them.
    fn off(&self, other: &Gist) -> f64 {
        (self.length_mm / other.length_mm).ln().powi(2) + (self.diameter_mm / other.diameter_mm).ln().powi(2)
    }

    fn of(solved: &Solved) -> Option<Gist> {
        let chain = chain_of(&solved.fitted, solved.task.spacing_mm)?;
        let view = &solved.fitted.state.views[0];
        Some(Gist {
            length_mm: chain.length_mm,
            diameter_mm: 2.0 * chain.nodes.iter().map(|n| n.at[1]).fold(0.0, f64::max),
            focal_px: view.lens.focal_px,
            distance_mm: (view.axis.origin + view.axis.along * (chain.zero_mm + 0.5 * chain.length_mm)).norm(),
            tilt_rad: view.axis.along.z.clamp(-1.0, 1.0).asin(),
        })
    }
}
