//! One view fitted by itself: rough from every rival focal length, then fine from the best.

use crate::ProfileError;
use crate::carve::{Run, carve, refined};
use crate::joint::{BIASES, Border, Fitted, Given, LensIs, Mark, State, Task, ViewState, improve};
use crate::judge::{growth, yardstick};
use crate::lens::Lens;
use crate::pose;
use crate::rivals::{Rival, doubtful, first_readings, likeliest, rod_counts, switched};
use crate::sight::{Axis, Sight, Stand};
use crate::trust::{Midline, Trust};
use crate::types::{Camera, View};
use nalgebra::Vector3;
use outline::EdgePoint;
use rayon::prelude::*;
use solve::{Loss, median};

/// Least points of a rod edge.
pub(crate) const LEAST_ROD: usize = 6;

/// Distance of meridian nodes, px of the photo.
const SPACING_PX: f64 = 3.0;
/// Most nodes along the outline; larger pictures get wider spacing.
const MOST_NODES: f64 = 320.0;
/// Focal length when nothing is known: the middle of lenses in use (26 to 105 mm equivalent; log-normal). Common practice, no source.
const USUAL_35MM: f64 = 45.0;
const USUAL_LN_SIGMA: f64 = 0.45;
/// Guesses vaguer than this (of ln f) are tried from several starts.
const VAGUE_LN_SIGMA: f64 = 0.2;

/// A fit with what was asked.
pub(crate) struct Solved {
    pub(crate) task: Task,
    pub(crate) fitted: Fitted,
    /// Other fits of the same view that are nearly as likely.
    pub(crate) rivals: Vec<Rival>,
}

/// Node spacing (in the fine spacing), loss and steps of each round.
type Rounds = [(f64, Loss, usize)];
const ROUGH: [(f64, Loss, usize); 1] = [(2.0, Loss::Cauchy(2.385), 20)];
/// The last rounds of a single view or of several together.
pub(crate) const FINE: [(f64, Loss, usize); 2] = [(1.0, Loss::Cauchy(2.385), 10), (1.0, Loss::Tukey(6.0), 60)];

/// Fits one view.
pub(crate) fn single(view: &View) -> Result<Solved, ProfileError> {
    let midline = Midline::of(&view.outline);
    let (mut fine, mut why): (Vec<Solved>, _) = (Vec::new(), None);
    for trust in first_readings(&view.outline, midline.as_ref()) {
        let (rough, error) = roughly(view, *trust, midline.as_ref());
        why = why.or(error);
        let least = rough.first().map_or(0.0, |r| r.0);
        let worth: Vec<Solved> = rough.into_iter().take(MOST_FINE).filter(|r| r.0 < least + RIVAL_COST).map(|r| r.1).collect();
        let finer = |s: Solved| rounds(Start { task: s.task, state: s.fitted.state, believed: s.fitted.weights }, &FINE);
        fine.extend(worth.into_par_iter().filter_map(finer).collect::<Vec<_>>());
    }
    let cost = |s: &Solved| yardstick(&s.task, &s.fitted);
    let base = fine.iter().min_by(|a, b| cost(a).total_cmp(&cost(b)));
    if let Some(base) = base.filter(|base| doubtful(base) && rod_counts(&view.outline).iter().all(|count| *count >= LEAST_ROD)) {
        let readings = [Trust::Both, Trust::Left, Trust::Right].into_par_iter().filter(|t| *t != base.task.views[0].trust);
        let switched: Vec<Solved> = readings.filter_map(|trust| rounds(switched(base, trust), &FINE[1..])).collect();
        fine.extend(switched);
    }
    likeliest(fine).ok_or_else(|| why.unwrap_or(ProfileError::NoBody { view: view.name.clone() }))
}

/// Rough fits that are made fine, at most, and how much dearer than the cheapest they may be: several focal lengths can be as likely.
const MOST_FINE: usize = 5;
const RIVAL_COST: f64 = 60.0;

/// Rough fits with some of the rod's edges believed, from every rival focal length, with their costs, cheapest first; and why others failed.
fn roughly(view: &View, trust: Trust, midline: Option<&Midline>) -> (Vec<(f64, Solved)>, Option<ProfileError>) {
    let (mut rough, mut why) = (Vec::new(), None);
    for (ln_focal, sigma, odds) in focal_rivals(&view.camera) {
        let focals: &[f64] = if sigma > VAGUE_LN_SIGMA { &[-0.75, -0.5, -0.25, 0.0, 0.25, 0.5, 0.75] } else { &[0.0] };
        // One edge and a mirrored one tell nothing of the tilt.
        let tilts: &[f64] = if trust == Trust::Both { &[1.0] } else { &[1.0, -1.0, 0.0] };
        let starts: Vec<(f64, f64)> = focals.iter().flat_map(|f| tilts.iter().map(move |t| (*f, *t))).collect();
        let fits = starts.par_iter().map(|(start, tilt)| {
            start_from(view, (ln_focal, sigma), ln_focal + start, trust, midline, *tilt)
                .and_then(|s| rounds(s, &ROUGH).ok_or(ProfileError::NoBody { view: view.name.clone() }))
        });
        for found in fits.collect::<Vec<_>>() {
            match found {
                Ok(solved) => rough.push((yardstick(&solved.task, &solved.fitted) - 2.0 * odds.ln(), solved)),
                Err(error) => why = Some(error),
            }
        }
    }
    rough.sort_by(|a, b| a.0.total_cmp(&b.0));
    (rough, why)
}

/// Mean and sigma of ln f (px), and odds, of each rival.
fn focal_rivals(camera: &Camera) -> Vec<(f64, f64, f64)> {
    let usable = camera.focal.iter().filter(|g| g.focal_px > 1.0 && g.focal_px < 1e7 && g.sigma_px >= 0.0);
    let rivals: Vec<(f64, f64, f64)> =
        usable.map(|g| (g.focal_px.ln(), (g.sigma_px / g.focal_px).clamp(1e-4, 1.0), g.odds.clamp(1e-6, 1.0))).take(6).collect();
    if !rivals.is_empty() {
        return rivals;
    }
    let diagonal = (camera.width_px.max(1) as f64).hypot(camera.height_px.max(1) as f64);
    vec![((USUAL_35MM / 43.267 * diagonal).ln(), USUAL_LN_SIGMA, 1.0)]
}

/// The axis' direction with its slope along the line of sight multiplied. A rod's edges tell tilt toward from tilt away by their convergence
/// alone, which a pixel can turn round.
fn tilted(axis: &Axis, times: f64) -> Vector3<f64> {
    let sight = axis.origin.normalize();
    (axis.along + sight * ((times - 1.0) * axis.along.dot(&sight))).normalize()
}

/// Where a fit starts.
pub(crate) struct Start {
    pub(crate) task: Task,
    pub(crate) state: State,
    /// Weight of each view's marks in the fit before; doubtful ones do not carve.
    pub(crate) believed: Vec<Vec<f64>>,
}

fn start_from(
    view: &View,
    ln_focal: (f64, f64),
    start: f64,
    trust: Trust,
    midline: Option<&Midline>,
    tilt_times: f64,
) -> Result<Start, ProfileError> {
    let centre_px = [0.5 * view.camera.width_px as f64, 0.5 * view.camera.height_px as f64];
    let lens =
        Lens { centre_px, focal_px: start.exp(), k1: if view.camera.k1.0.is_finite() { view.camera.k1.0.clamp(-0.3, 0.3) } else { 0.0 } };
    let radius = 0.5 * view.rod_diameter.mm;
    let clicks = [view.outline.axis.rod_entry, view.outline.axis.free_end];
    let no_rod =
        || ProfileError::NoRod { view: view.name.clone(), reason: "one of them was not found, and the part's two sides tell no middle" };
    let mirrored = |edge: &[EdgePoint]| midline.map(|m| m.mirrored(edge)).ok_or_else(no_rod);
    let (left, right) = match trust {
        Trust::Both => (view.outline.rod_left.clone(), view.outline.rod_right.clone()),
        Trust::Left => (view.outline.rod_left.clone(), mirrored(&view.outline.rod_left)?),
        Trust::Right => (mirrored(&view.outline.rod_right)?, view.outline.rod_right.clone()),
    };
    let mut axis = pose::from_rod(&left, &right, &lens, radius, clicks)
        .ok_or(ProfileError::NoRod { view: view.name.clone(), reason: "their planes through the camera do not meet ahead of it" })?;
    axis.origin += axis.along * pose::height_of(&axis, &lens, clicks[0]);
    axis.along = tilted(&axis, tilt_times);
    let px_mm = axis.origin.norm() / lens.focal_px;
    let spacing_mm = px_mm * SPACING_PX.max(extent_px(&view.outline.part) / MOST_NODES);
    let sane = |sigma: f64| if sigma.is_finite() { sigma.clamp(0.02, 5.0) } else { 5.0 };
    let given = Given {
        marks: marks(view),
        rod: 0,
        ln_focal,
        k1: (lens.k1, if view.camera.k1.1.is_finite() { view.camera.k1.1.clamp(1e-6, 0.3) } else { 0.02 }),
        part_bias_sigma_px: sane(view.outline.part_bias_sigma_px),
        rod_bias_sigma_px: sane(view.outline.rod_bias_sigma_px),
        trust,
        rod_marks: rod_counts(&view.outline),
    };
    let biases_px = first_biases(&given, &axis, &lens, radius);
    let believed = vec![vec![1.0; given.marks.len()]];
    let task = Task { views: vec![given], rods: vec![(radius, 0.5 * view.rod_diameter.sigma_mm)], spacing_mm };
    let state = State { views: vec![ViewState { axis, lens, biases_px }], rods: vec![radius], runs: Vec::new() };
    Ok(Start { task, state, believed })
}

/// A disbelieved edge starts with the bias that it has; else its marks would all be strays.
fn first_biases(given: &Given, axis: &Axis, lens: &Lens, radius_mm: f64) -> [f64; BIASES] {
    let mut biases_px = [0.0; BIASES];
    let stand = Stand::new(*axis);
    for first in [2, 4] {
        let believed = if first == 2 { given.trust.left() } else { given.trust.right() };
        let gaps: Vec<f64> = given
            .marks
            .iter()
            .filter(|m| !believed && m.border == Border::Rod && m.biased[0].0 == first)
            .map(|m| {
                let sight = stand.sight(&lens.ray(m.at_px).d);
                (sight.least - radius_mm) / sight.s_v.max(1e-9) * lens.focal_px
            })
            .collect();
        biases_px[first] = median(&gaps).unwrap_or(0.0);
    }
    biases_px
}

/// Half the length of the way round an outline, px.
fn extent_px(part: &[EdgePoint]) -> f64 {
    0.5 * part.windows(2).map(|p| (p[1].at_px[0] - p[0].at_px[0]).hypot(p[1].at_px[1] - p[0].at_px[1])).filter(|d| *d < 1e5).sum::<f64>()
}

/// Carves and fits, round after round; `None` when nothing is left to fit.
pub(crate) fn rounds(start: Start, rounds: &Rounds) -> Option<Solved> {
    let Start { mut task, mut state, mut believed } = start;
    let fine_mm = task.spacing_mm;
    let mut fitted = None;
    for (wide, loss, steps) in rounds {
        task.spacing_mm = fine_mm * wide;
        state.runs = carved(&task, &state, &believed);
        if state.runs.is_empty() {
            return None;
        }
        let mut found = improve(&task, state, *loss, *steps, LensIs::Held)?;
        if *wide <= 1.0 {
            state = found.state;
            state.runs = state.runs.iter().map(|run| refined(run, task.spacing_mm)).collect();
            found = improve(&task, state, *loss, *steps, LensIs::Free)?;
        }
        task.spacing_mm = fine_mm;
        regrow(&mut task, &found);
        believed.clone_from(&found.weights);
        state = found.state.clone();
        fitted = Some(found);
    }
    fitted.map(|fitted| Solved { task, fitted, rivals: Vec::new() })
}

/// Sigmas grow to what the residuals show.
fn regrow(task: &mut Task, found: &Fitted) {
    for (given, residuals) in task.views.iter_mut().zip(&found.residuals_px) {
        for border in [Border::Part, Border::Rod, Border::Joint] {
            let growth = growth(given, residuals, border);
            given.marks.iter_mut().filter(|m| m.border == border).for_each(|m| m.sigma_px = m.own_px * growth);
        }
    }
}

/// Runs carved with the marks of all views that were believed.
fn carved(task: &Task, state: &State, believed: &[Vec<f64>]) -> Vec<Run> {
    let mut sights: Vec<Sight> = Vec::new();
    for ((given, view), believed) in task.views.iter().zip(&state.views).zip(believed) {
        let stand = Stand::new(view.axis);
        let marks = given.marks.iter().zip(believed).filter(|(m, b)| m.border == Border::Part && **b > 0.3);
        sights.extend(marks.map(|(m, _)| stand.sight(&view.lens.ray(m.at_px).d)));
    }
    carve(&sights, task.spacing_mm)
}

/// Most marks of the part, of each rod edge, and of the joint; more are averaged in groups of neighbours.
const MOST_MARKS: [usize; 3] = [1400, 150, 100];

fn marks(view: &View) -> Vec<Mark> {
    let outline = &view.outline;
    let [[ax, ay], [bx, by]] = [outline.axis.rod_entry, outline.axis.free_end];
    let on_left = |q: [f64; 2]| (q[0] - ax) * (by - ay) - (q[1] - ay) * (bx - ax) > 0.0;
    let mut part = merged(&outline.part, Border::Part, MOST_MARKS[0]);
    part.iter_mut().for_each(|m| m.biased[0] = (usize::from(!on_left(m.at_px)), 1.0));
    let edge = |points: &[EdgePoint], first: usize| {
        let mut marks = merged(points, Border::Rod, MOST_MARKS[1]);
        // From -1 at one end of the edge to 1 at the other.
        let last = (marks.len().max(2) - 1) as f64;
        marks.iter_mut().enumerate().for_each(|(i, m)| m.biased = [(first, 1.0), (first + 1, 2.0 * i as f64 / last - 1.0)]);
        marks
    };
    let (left, right) = (edge(&outline.rod_left, 2), edge(&outline.rod_right, 4));
    [part, left, right, merged(&outline.rod_joint, Border::Joint, MOST_MARKS[2])].concat()
}

/// Whether a point can be used at all.
pub(crate) fn usable(p: &EdgePoint) -> bool {
    p.at_px.iter().all(|x| x.abs() < 1e6) && p.sigma_px < 1e3 && p.sigma_px >= 0.0
}

/// No edge point is surer than this, px.
const LEAST_SIGMA_PX: f64 = 0.05;

fn mark(at_px: [f64; 2], own_px: f64, border: Border) -> Mark {
    Mark { at_px, own_px, sigma_px: own_px, border, biased: [(0, 0.0); 2] }
}

/// Usable points, neighbours averaged until about `most` are left; the mean of n independent points is as sure as their weights say.
fn merged(edge: &[EdgePoint], border: Border, most: usize) -> Vec<Mark> {
    let usable: Vec<&EdgePoint> = edge.iter().filter(|p| usable(p)).collect();
    let group = usable.len().div_ceil(most).max(1);
    // Neighbours farther apart than this straddle a gap and are not averaged, px.
    let apart = 3.0 * group as f64;
    let mut marks = Vec::new();
    for chunk in usable.chunks(group) {
        let (Some(first), Some(last)) = (chunk.first(), chunk.last()) else { continue };
        if (first.at_px[0] - last.at_px[0]).hypot(first.at_px[1] - last.at_px[1]) > apart {
            marks.extend(chunk.iter().map(|p| mark(p.at_px, p.sigma_px.max(LEAST_SIGMA_PX), border)));
            continue;
        }
        let mut sum = [0.0; 3];
        for p in chunk {
            let weight = 1.0 / p.sigma_px.max(LEAST_SIGMA_PX).powi(2);
            sum = [sum[0] + weight * p.at_px[0], sum[1] + weight * p.at_px[1], sum[2] + weight];
        }
        marks.push(mark([sum[0] / sum[2], sum[1] / sum[2]], (1.0 / sum[2]).sqrt(), border));
    }
    marks
}
