//! The joint fit: poses, lenses, edge biases, rod radii and the meridian's nodes at once, by damped Gauss-Newton with robust weights.

use crate::carve::Run;
use crate::lens::Lens;
use crate::normal::{Assembled, System, assemble};
use crate::sight::Axis;
use crate::trust::Trust;
use nalgebra::{Cholesky, DMatrix, DVector, Vector3};
use solve::Loss;

/// Parameters of one view: two turns and three shifts of the axis, ln f, k1, and the biases of the edges.
pub(crate) const PER_VIEW: usize = BIAS_FROM + BIASES;
/// Biases of one view, px: the part's left and right; each rod edge at its middle, and its growth from there to its ends. A finder errs on one
/// side when light, shadow or a streak is one-sided, and rarely by the same all along.
pub(crate) const BIASES: usize = 6;
pub(crate) const BIAS_FROM: usize = 7;

/// What an edge point borders.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Border {
    Part,
    Rod,
    Joint,
}

/// One edge point as the fit uses it.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Mark {
    pub(crate) at_px: [f64; 2],
    /// The finder's own sigma.
    pub(crate) own_px: f64,
    /// The sigma that counts: grown to what the residuals show, and by the length over which neighbours err alike.
    pub(crate) sigma_px: f64,
    pub(crate) border: Border,
    /// Which biases shift it, and by how much.
    pub(crate) biased: [(usize, f64); 2],
}

/// What is given of one view.
#[derive(Clone, Debug)]
pub(crate) struct Given {
    pub(crate) marks: Vec<Mark>,
    /// Which rod it shows.
    pub(crate) rod: usize,
    pub(crate) ln_focal: (f64, f64),
    pub(crate) k1: (f64, f64),
    pub(crate) part_bias_sigma_px: f64,
    pub(crate) rod_bias_sigma_px: f64,
    /// Which of the rod's edges are believed.
    pub(crate) trust: Trust,
    /// Points found on the left and on the right edge.
    pub(crate) rod_marks: [usize; 2],
}

impl Given {
    pub(crate) fn bias_sigmas_px(&self) -> [f64; BIASES] {
        let part = self.part_bias_sigma_px.max(1e-3);
        let edge = |believed: bool| if believed { self.rod_bias_sigma_px.max(1e-3) } else { DISBELIEVED_PX };
        let [left, right] = [edge(self.trust.left()), edge(self.trust.right())];
        [part, part, left, 0.4 * left, right, 0.4 * right]
    }
}

/// A disbelieved edge may lie anywhere on the rod or beside it, px.
const DISBELIEVED_PX: f64 = 30.0;

/// Whether focal length and distortion take part in a fit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum LensIs {
    Held,
    Free,
}

/// Everything given.
#[derive(Clone, Debug)]
pub(crate) struct Task {
    pub(crate) views: Vec<Given>,
    /// Radius and sigma of each rod, mm.
    pub(crate) rods: Vec<(f64, f64)>,
    pub(crate) spacing_mm: f64,
}

/// Everything sought.
#[derive(Clone, Debug)]
pub(crate) struct State {
    pub(crate) views: Vec<ViewState>,
    pub(crate) rods: Vec<f64>,
    pub(crate) runs: Vec<Run>,
}

#[derive(Clone, Copy, Debug)]
pub(crate) struct ViewState {
    pub(crate) axis: Axis,
    pub(crate) lens: Lens,
    pub(crate) biases_px: [f64; BIASES],
}

/// Where the parameters stand in the vector.
#[derive(Clone, Debug)]
pub(crate) struct Layout {
    pub(crate) rods_from: usize,
    pub(crate) nodes_from: Vec<usize>,
    pub(crate) ends_from: usize,
    /// Stretches of the whole chain, see `mode`.
    pub(crate) modes_from: usize,
    pub(crate) count: usize,
}

/// Stretches of the whole chain. They add nothing that the nodes could not do, but a turn or shift of the axis asks for just these, and nodes
/// that move along their normals one by one would take hundreds of steps to get there. They are held when the covariance is taken.
pub(crate) const MODES: usize = STRETCHES + 1;
const STRETCHES: usize = 4;
/// The last mode: everything grows about the cameras. No part point feels it, only the rods do.
pub(crate) const SCALE: usize = STRETCHES;

/// Displacement of a place by each stretch: along, across, along growing, across growing with height (heights in units of `scale_mm`).
pub(crate) fn mode(place: [f64; 2], scale_mm: f64) -> [[f64; 2]; STRETCHES] {
    let [z, r] = place;
    [[z, 0.0], [0.0, r], [z * z / scale_mm, 0.0], [0.0, r * z / scale_mm]]
}

impl Layout {
    pub(crate) fn of(state: &State) -> Layout {
        let rods_from = state.views.len() * PER_VIEW;
        let mut next = rods_from + state.rods.len();
        let mut nodes_from = Vec::new();
        for run in &state.runs {
            nodes_from.push(next);
            next += run.len();
        }
        let modes_from = next + 2 * state.runs.len();
        Layout { rods_from, nodes_from, ends_from: next, modes_from, count: modes_from + MODES }
    }
}

/// What a fit found.
#[derive(Clone)]
pub(crate) struct Fitted {
    pub(crate) state: State,
    pub(crate) layout: Layout,
    /// Inverse of the normal matrix, for unit noise scale.
    pub(crate) covariance: DMatrix<f64>,
    /// Residuals of each view's marks, px, biases taken off.
    pub(crate) residuals_px: Vec<Vec<f64>>,
    /// Weights in 0..=1 of each view's marks.
    pub(crate) weights: Vec<Vec<f64>>,
}

/// Weight of the hair that keeps untouched nodes in place, per mm.
pub(crate) fn node_hair(task: &Task) -> f64 {
    1.0 / (3.0 * task.spacing_mm)
}

/// Improves `state` by at most `steps` steps; the lens stays as it is until the chain is fine enough not to lie about it.
pub(crate) fn improve(task: &Task, mut state: State, loss: Loss, steps: usize, lens: LensIs) -> Option<Fitted> {
    let layout = Layout::of(&state);
    let mut now = assemble(task, &state, &layout, loss);
    let mut lambda = 1e-4;
    let mut taken = 0;
    while taken < steps && now.system.cost.is_finite() {
        taken += 1;
        let Some(step) = damped_step(&now.system, &layout, &state, lambda, taken <= HELD_STEPS, lens) else {
            lambda *= 10.0;
            continue;
        };
        let trial = moved(&state, &layout, &step, task.spacing_mm)?;
        let next = assemble(task, &trial, &layout, loss);
        if next.system.cost.is_finite() && next.system.cost < now.system.cost {
            let gained = now.system.cost - next.system.cost;
            (state, now) = (trial, next);
            lambda = (lambda * 0.1_f64).max(1e-9);
            if gained < 0.001 {
                break;
            }
        } else {
            lambda *= 8.0;
            if lambda > 1e3 {
                break;
            }
        }
    }
    finished(task, state, layout, now)
}

fn finished(task: &Task, state: State, layout: Layout, now: Assembled) -> Option<Fitted> {
    let Assembled { mut system, residuals_px, weights } = now;
    if !system.cost.is_finite() {
        return None;
    }
    // What kept untouched nodes in place is no knowledge.
    for i in layout.nodes_from.first().copied().unwrap_or(layout.ends_from)..layout.ends_from {
        system.matrix[(i, i)] -= 0.9999 * node_hair(task).powi(2);
    }
    for m in layout.modes_from..layout.count {
        system.matrix[(m, m)] *= 1e12;
        system.matrix[(m, m)] += 1e12;
    }
    let covariance = inverse(&system.matrix)?;
    Some(Fitted { state, layout, covariance, residuals_px, weights })
}

/// Nodes are damped by their own curvature (Marquardt). Poses, lenses and stretches are so entangled that their own curvature is a million
/// times what the fit knows of them together: damped by it they would stand still, so they are damped by what a large step is for each.
fn damped_step(system: &System, layout: &Layout, state: &State, lambda: f64, held: bool, lens: LensIs) -> Option<DVector<f64>> {
    let mut matrix = system.matrix.clone();
    for i in layout.rods_from..layout.modes_from {
        matrix[(i, i)] *= 1.0 + lambda;
    }
    let weight = lambda * LARGE_STEP + if held { HELD } else { 0.0 };
    let mut hold = |i: usize, large: f64| matrix[(i, i)] += weight / (large * large);
    for (v, view) in state.views.iter().enumerate() {
        let far_mm = 0.05 * view.axis.origin.norm();
        let large = [0.1, 0.1, far_mm, far_mm, far_mm, 0.1, 0.05];
        large.iter().chain(&[0.5; BIASES]).enumerate().for_each(|(i, large)| hold(v * PER_VIEW + i, *large));
    }
    (layout.modes_from..layout.count).for_each(|i| hold(i, 0.05));
    if lens == LensIs::Held {
        for v in 0..state.views.len() {
            matrix[(v * PER_VIEW + 5, v * PER_VIEW + 5)] += HELD;
            matrix[(v * PER_VIEW + 6, v * PER_VIEW + 6)] += HELD;
        }
    }
    let step = Cholesky::new(matrix)?.solve(&system.gradient);
    step.iter().all(|x| x.is_finite()).then_some(-step)
}

/// Weight of the damping of common parameters at lambda 1.
const LARGE_STEP: f64 = 100.0;

/// The carved chain lies inside the body by the noise of the innermost rays. The first steps move only the nodes, lest that bias be taken for a
/// longer lens or another tilt; a valley is easier not to enter than to leave.
const HELD_STEPS: usize = 3;
/// Weight that holds the common parameters meanwhile.
const HELD: f64 = 1e12;

/// Inverse of the normal matrix (lower triangle given); a hair on the diagonal where needed.
fn inverse(lower: &DMatrix<f64>) -> Option<DMatrix<f64>> {
    let mut hair = 1e-12;
    for _ in 0..6 {
        let mut matrix = lower.clone();
        for i in 0..matrix.nrows() {
            matrix[(i, i)] *= 1.0 + hair;
        }
        if let Some(cholesky) = Cholesky::new(matrix) {
            return Some(cholesky.inverse());
        }
        hair *= 100.0;
    }
    None
}

/// The state after a step; steps that would leave all sense are cut.
fn moved(state: &State, layout: &Layout, step: &DVector<f64>, spacing_mm: f64) -> Option<State> {
    let mut next = state.clone();
    let scale_mm = scale_of(state);
    for (v, view) in next.views.iter_mut().enumerate() {
        let p = |i: usize| step[v * PER_VIEW + i];
        let (b1, b2) = across(&view.axis.along);
        let turned = view.axis.along + b1 * p(0) + b2 * p(1);
        view.axis.origin += b1 * p(2) + b2 * p(3) + view.axis.along * p(4);
        view.axis.along = turned.normalize();
        view.lens.focal_px *= p(5).clamp(-0.5, 0.5).exp();
        view.lens.k1 = (view.lens.k1 + p(6)).clamp(-0.5, 0.5);
        for (b, bias) in view.biases_px.iter_mut().enumerate() {
            *bias += p(BIAS_FROM + b);
        }
        if view.axis.origin.z <= 0.0 || !view.axis.origin.iter().all(|x| x.is_finite()) {
            return Some(State { rods: vec![f64::NAN; next.rods.len()], ..state.clone() });
        }
    }
    for (i, rod) in next.rods.iter_mut().enumerate() {
        *rod += step[layout.rods_from + i];
    }
    for (r, run) in next.runs.iter_mut().enumerate() {
        let normals = normals(&state.runs[r]);
        let most = 1.5 * spacing_mm;
        for (i, node) in run.iter_mut().enumerate() {
            let h = step[layout.nodes_from[r] + i].clamp(-most, most);
            node[0] += h * normals[i][0];
            node[1] += h * normals[i][1];
        }
        for (node, old) in run.iter_mut().zip(&state.runs[r]) {
            for (m, by) in mode(*old, scale_mm).iter().enumerate() {
                let share = step[layout.modes_from + m].clamp(-0.2, 0.2);
                node[0] += share * by[0];
                node[1] += share * by[1];
            }
        }
        let last = run.len() - 1;
        for (end, i) in [(0, 0), (1, last)] {
            let t = step[layout.ends_from + 2 * r + end].clamp(-most, most);
            run[i][0] += t * normals[i][1];
            run[i][1] -= t * normals[i][0];
        }
        for node in run.iter_mut() {
            node[1] = node[1].max(0.0);
        }
    }
    let grown = 1.0 + step[layout.modes_from + SCALE].clamp(-0.2, 0.2);
    next.views.iter_mut().for_each(|view| view.axis.origin *= grown);
    next.runs.iter_mut().flatten().for_each(|node| *node = [node[0] * grown, node[1] * grown]);
    Some(next)
}

/// The chain's own measure: its greatest coordinate.
pub(crate) fn scale_of(state: &State) -> f64 {
    state.runs.iter().flatten().fold(1e-6, |most: f64, p| most.max(p[0].abs()).max(p[1]))
}

/// Two unit vectors square to a direction, chosen the same way every time.
pub(crate) fn across(along: &Vector3<f64>) -> (Vector3<f64>, Vector3<f64>) {
    let b1 = Vector3::z().cross(along);
    let b1 = if b1.norm() > 0.1 { b1.normalize() } else { Vector3::x().cross(along).normalize() };
    (b1, along.cross(&b1))
}

/// Outward unit normals of a run's nodes (z, r).
pub(crate) fn normals(run: &Run) -> Vec<[f64; 2]> {
    let last = run.len() - 1;
    (0..=last)
        .map(|i| {
            let (a, b) = (run[i.saturating_sub(1)], run[(i + 1).min(last)]);
            let (dz, dr) = (b[0] - a[0], b[1] - a[1]);
            let length = dz.hypot(dr).max(1e-12);
            [-dr / length, dz / length]
        })
        .collect()
}
