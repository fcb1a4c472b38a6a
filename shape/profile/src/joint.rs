//! The joint fit: poses, lenses, edge biases, rod radii and the meridian's nodes at once, by damped Gauss-Newton with robust weights.

use crate::carve::{At, DEEP, Run, nearest, smoothed, touch_smooth};
use crate::lens::Lens;
use crate::sight::{Axis, Sight, Stand, Touch};
use nalgebra::{Cholesky, DMatrix, DVector, Vector3};
use solve::{Loss, mad_sigma};

/// Parameters of one view: two turns and three shifts of the axis, ln f, k1, and the biases of the edges.
pub(crate) const PER_VIEW: usize = BIAS_FROM + BIASES;
/// Biases of one view, px: the part's left and right; each rod edge at its middle, and its growth from there to its ends. A finder errs on one
/// side when light, shadow or a streak is one-sided, and rarely by the same all along.
pub(crate) const BIASES: usize = 6;
const BIAS_FROM: usize = 7;

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
}

impl Given {
    fn bias_sigmas_px(&self) -> [f64; BIASES] {
        let (part, rod) = (self.part_bias_sigma_px.max(1e-3), self.rod_bias_sigma_px.max(1e-3));
        [part, part, rod, 0.4 * rod, rod, 0.4 * rod]
    }
}

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
const MODES: usize = STRETCHES + 1;
const STRETCHES: usize = 4;
/// The last mode: everything grows about the cameras. No part point feels it, only the rods do.
const SCALE: usize = STRETCHES;

/// Displacement of a place by each stretch: along, across, along growing, across growing with height (heights in units of `scale_mm`).
fn mode(place: [f64; 2], scale_mm: f64) -> [[f64; 2]; STRETCHES] {
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

struct System {
    matrix: DMatrix<f64>,
    gradient: DVector<f64>,
    cost: f64,
}

impl System {
    fn new(count: usize) -> System {
        System { matrix: DMatrix::zeros(count, count), gradient: DVector::zeros(count), cost: 0.0 }
    }

    /// Adds one residual (in sigmas) with its row, weighted.
    fn add(&mut self, residual: f64, row: &[(usize, f64)], loss: Loss) -> f64 {
        let weight = loss.weight(residual);
        self.cost += loss.cost(residual);
        for &(i, a) in row {
            self.gradient[i] += weight * a * residual;
            for &(j, b) in row {
                if j <= i {
                    self.matrix[(i, j)] += weight * a * b;
                }
            }
        }
        weight
    }
}

/// Improves `state` by at most `steps` steps; the lens stays as it is until the chain is fine enough not to lie about it.
pub(crate) fn improve(task: &Task, mut state: State, loss: Loss, steps: usize, lens: LensIs) -> Option<Fitted> {
    let layout = Layout::of(&state);
    let mut touches = Touches::none(task);
    let (mut system, mut residuals_px, mut weights) = assemble(task, &state, &layout, loss, &mut touches, true);
    let mut lambda = 1e-4;
    let mut taken = 0;
    while taken < steps && system.cost.is_finite() {
        taken += 1;
        let Some(step) = damped_step(&system, &layout, &state, lambda, taken <= HELD_STEPS, lens) else {
            lambda *= 10.0;
            continue;
        };
        let trial = moved(&state, &layout, &step, task.spacing_mm)?;
        let (next, next_residuals, next_weights) = assemble(task, &trial, &layout, loss, &mut touches, true);
        if next.cost.is_finite() && next.cost < system.cost {
            let gained = system.cost - next.cost;
            (state, system, residuals_px, weights) = (trial, next, next_residuals, next_weights);
            lambda = (lambda * 0.1_f64).max(1e-9);
            if gained < 0.02 {
                break;
            }
        } else {
            lambda *= 8.0;
            if lambda > 1e3 {
                break;
            }
        }
    }
    if !system.cost.is_finite() {
        return None;
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
        let large = [0.1, 0.1, far_mm, far_mm, far_mm, 0.1, 0.05, 0.5, 0.5, 0.5, 0.5, 0.5, 0.5];
        large.iter().enumerate().for_each(|(i, large)| hold(v * PER_VIEW + i, *large));
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
fn scale_of(state: &State) -> f64 {
    state.runs.iter().flatten().fold(1e-6, |most: f64, p| most.max(p[0].abs()).max(p[1]))
}

/// Two unit vectors square to a direction, chosen the same way every time.
pub(crate) fn across(along: &Vector3<f64>) -> (Vector3<f64>, Vector3<f64>) {
    let b1 = Vector3::z().cross(along);
    let b1 = if b1.norm() > 0.1 { b1.normalize() } else { Vector3::x().cross(along).normalize() };
    (b1, along.cross(&b1))
}

fn length(a: [f64; 2], b: [f64; 2]) -> f64 {
    let (dz, dr) = (b[0] - a[0], b[1] - a[1]);
    (dz * dz + dr * dr).sqrt()
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

/// Last touched node of every part mark, to search near it.
struct Touches {
    at: Vec<Vec<Option<At>>>,
}

impl Touches {
    fn none(task: &Task) -> Touches {
        Touches { at: task.views.iter().map(|view| vec![None; view.marks.len()]).collect() }
    }
}

type Assembled = (System, Vec<Vec<f64>>, Vec<Vec<f64>>);

fn assemble(task: &Task, state: &State, layout: &Layout, loss: Loss, touches: &mut Touches, afresh: bool) -> Assembled {
    let mut system = System::new(layout.count);
    let mut residuals = Vec::with_capacity(task.views.len());
    let mut weights = Vec::with_capacity(task.views.len());
    let normals: Vec<Vec<[f64; 2]>> = state.runs.iter().map(normals).collect();
    if state.rods.iter().any(|r| r.is_nan()) {
        system.cost = f64::NAN;
        return (system, residuals, weights);
    }
    for (v, given) in task.views.iter().enumerate() {
        let (r, w) = add_view(&mut system, task, state, layout, v, given, &normals, loss, &mut touches.at[v], afresh);
        residuals.push(r);
        weights.push(w);
        add_view_priors(&mut system, v, given, &state.views[v]);
    }
    for (i, (radius, sigma)) in task.rods.iter().enumerate() {
        let sigma = sigma.max(1e-6 * radius);
        system.add((state.rods[i] - radius) / sigma, &[(layout.rods_from + i, 1.0 / sigma)], Loss::Square);
    }
    add_smoothness(&mut system, task, state, layout, &normals);
    for m in 0..MODES {
        system.add(0.0, &[(layout.modes_from + m, 0.1)], Loss::Square);
    }
    (system, residuals, weights)
}

#[allow(clippy::too_many_arguments)] // one inner loop, split off for length only
fn add_view(
    system: &mut System,
    task: &Task,
    state: &State,
    layout: &Layout,
    v: usize,
    given: &Given,
    normals: &[Vec<[f64; 2]>],
    loss: Loss,
    hints: &mut [Option<At>],
    afresh: bool,
) -> (Vec<f64>, Vec<f64>) {
    let view = &state.views[v];
    let stand = Stand::new(view.axis);
    let rod_mm = state.rods[given.rod];
    let (base, rod_at) = (v * PER_VIEW, layout.rods_from + given.rod);
    let (b1, b2) = across(&view.axis.along);
    let fine: Vec<Run> = state.runs.iter().map(smoothed).collect();
    let scale_mm = scale_of(state);
    let joint_place = state.runs.first().and_then(|run| run.first()).map(|node| [node[0], rod_mm]);
    let (mut residuals, mut weights) = (Vec::with_capacity(given.marks.len()), Vec::with_capacity(given.marks.len()));
    let mut row: Vec<(usize, f64)> = Vec::with_capacity(20);
    for (mark, hint) in given.marks.iter().zip(hints) {
        let ray = view.lens.ray(mark.at_px);
        let sight = stand.sight(&ray.d);
        row.clear();
        let (touch, chain) = match mark.border {
            Border::Rod => (rod_touch(&sight, rod_mm), None),
            _ => {
                let found = nearest(&sight, &state.runs, if afresh { None } else { *hint }, DEEP * task.spacing_mm);
                let Some((at, _)) = found else {
                    residuals.push(f64::NAN);
                    weights.push(0.0);
                    continue;
                };
                *hint = Some(at);
                let (at, touch) = touch_smooth(&sight, &fine[at.run], at, DEEP * task.spacing_mm);
                let foot = joint_place.filter(|_| mark.border == Border::Joint).map(|place| joint_touch(&sight, place));
                match foot.filter(|foot| foot.gap.abs() < touch.gap.abs()) {
                    Some(foot) => (foot, None),
                    None => (touch, Some(at)),
                }
            }
        };
        let place = sight.unit * (sight.s_v + touch.w);
        let radial = stand.radial(&place);
        let [nz, nr] = touch.normal;
        let normal = view.axis.along * nz + radial * nr;
        let px = view.lens.focal_px / (place.z.max(1e-6) * normal.xy().norm().max(1e-6));
        let (z, d) = (touch_height(&sight, &touch), (place - view.axis.origin).dot(&radial));
        // gap changes with the axis by -n . dO + (n_z d - n_r z) radial . da, with the ray by Z n . dd.
        let turn = radial * (nz * d - nr * z);
        let by_shift = |b: &Vector3<f64>| -normal.dot(b);
        let scale = px / mark.sigma_px;
        row.push((base, turn.dot(&b1) * scale));
        row.push((base + 1, turn.dot(&b2) * scale));
        row.push((base + 2, by_shift(&b1) * scale));
        row.push((base + 3, by_shift(&b2) * scale));
        row.push((base + 4, by_shift(&view.axis.along) * scale));
        row.push((base + 5, place.z * normal.dot(&ray.by_ln_focal) * scale));
        row.push((base + 6, place.z * normal.dot(&ray.by_k1) * scale));
        match (mark.border, chain) {
            (Border::Rod, _) => {
                row.push((rod_at, -scale));
                row.push((layout.modes_from + SCALE, sight.least * scale));
            }
            (_, None) => {
                row.push((layout.modes_from + SCALE, nr * d * scale));
                row.push((rod_at, -nr * scale));
                if let Some(run) = normals.first() {
                    push_node(&mut row, layout, 0, 0, run, -scale, touch.normal);
                }
            }
            (_, Some(at)) => {
                let spot = [z - nz * touch.gap, d - nr * touch.gap];
                for (m, by) in mode(spot, scale_mm).iter().enumerate() {
                    row.push((layout.modes_from + m, -scale * (nz * by[0] + nr * by[1])));
                }
                let run = &normals[at.run];
                push_node(&mut row, layout, at.run, at.node, run, -scale * (1.0 - touch.share), touch.normal);
                if touch.share > 0.0 {
                    push_node(&mut row, layout, at.run, at.node + 1, run, -scale * touch.share, touch.normal);
                }
            }
        }
        let mut bias = 0.0;
        for (which, share) in mark.biased.iter().filter(|b| b.1 != 0.0) {
            row.push((base + BIAS_FROM + which, -share / mark.sigma_px));
            bias += share * view.biases_px[*which];
        }
        let residual_px = touch.gap * px - bias;
        residuals.push(residual_px);
        weights.push(system.add(residual_px / mark.sigma_px, &row, loss));
    }
    (residuals, weights)
}

fn touch_height(sight: &Sight, touch: &Touch) -> f64 {
    sight.z_v + touch.w * sight.along
}

fn rod_touch(sight: &Sight, rod_mm: f64) -> Touch {
    Touch { gap: sight.least - rod_mm, w: 0.0, normal: [0.0, 1.0], share: 0.0 }
}

/// The border between the rod and a face that is seen: the rod's foot on the face, or, where the rod stands before the face, the rod's side.
/// (Where the face is not seen the part itself borders the rod: then the chain is nearer.)
fn joint_touch(sight: &Sight, foot: [f64; 2]) -> Touch {
    let (foot, side) = (sight.touch_place(foot), rod_touch(sight, foot[1]));
    if side.gap.abs() < foot.gap.abs() { side } else { foot }
}

/// Derivatives of the gap by a node: along its normal, and along the chain where the node ends a run.
fn push_node(row: &mut Vec<(usize, f64)>, layout: &Layout, run: usize, node: usize, normals: &[[f64; 2]], factor: f64, normal: [f64; 2]) {
    let own = normals[node];
    row.push((layout.nodes_from[run] + node, factor * (normal[0] * own[0] + normal[1] * own[1])));
    let along = factor * (normal[0] * own[1] - normal[1] * own[0]);
    if node == 0 {
        row.push((layout.ends_from + 2 * run, along));
    }
    if node + 1 == normals.len() {
        row.push((layout.ends_from + 2 * run + 1, along));
    }
}

fn add_view_priors(system: &mut System, v: usize, given: &Given, view: &ViewState) {
    let base = v * PER_VIEW;
    let mut prior = |i: usize, off: f64, sigma: f64| {
        let sigma = sigma.max(1e-9);
        system.add(off / sigma, &[(base + i, 1.0 / sigma)], Loss::Square);
    };
    prior(5, view.lens.focal_px.ln() - given.ln_focal.0, given.ln_focal.1.max(1e-5));
    prior(6, view.lens.k1 - given.k1.0, given.k1.1.max(1e-6));
    for (b, (bias, sigma)) in view.biases_px.iter().zip(given.bias_sigmas_px()).enumerate() {
        prior(BIAS_FROM + b, *bias, sigma);
    }
    // Height along the axis is free together with the chain: the first view holds it, later ones are held by nothing but a hair.
    prior(4, 0.0, if v == 0 { 1e-6 } else { 1e3 });
    for i in 0..4 {
        prior(i, 0.0, 1e4);
    }
}

/// Change of turn from node to node that costs one sigma, radians. Cauchy's loss makes a corner cost little more than a small wobble.
const TURN_RAD: f64 = 0.1;

/// Change of curvature costs: third divided differences across the chain, with a heavy-tailed loss so that corners stay corners.
fn add_smoothness(system: &mut System, task: &Task, state: &State, layout: &Layout, normals: &[Vec<[f64; 2]>]) {
    for (r, run) in state.runs.iter().enumerate() {
        for k in 0..run.len().saturating_sub(3) {
            let (a, b) = (normals[r][k + 1], normals[r][k + 2]);
            let across = [0.5 * (a[0] + b[0]), 0.5 * (a[1] + b[1])];
            let h: Vec<f64> = (0..3).map(|i| length(run[k + i], run[k + i + 1]).max(0.05 * task.spacing_mm)).collect();
            // Curvatures at the two inner nodes and their difference times the step between them: a change of turn.
            let (first, second) = (2.0 / (h[0] + h[1]), 2.0 / (h[1] + h[2]));
            let step = h[1] / TURN_RAD;
            let factors = [
                -step * first / h[0],
                step * (first * (1.0 / h[0] + 1.0 / h[1]) + second / h[1]),
                -step * (first / h[1] + second * (1.0 / h[1] + 1.0 / h[2])),
                step * second / h[2],
            ];
            let mut residual = 0.0;
            let mut row = Vec::with_capacity(6);
            for (i, factor) in factors.iter().enumerate() {
                let node = run[k + i];
                residual += factor * (node[0] * across[0] + node[1] * across[1]);
                push_node(&mut row, layout, r, k + i, &normals[r], *factor, across);
            }
            system.add(residual, &row, Loss::Cauchy(1.0));
        }
        // A hair that keeps untouched nodes in place.
        for i in 0..run.len() {
            system.add(0.0, &[(layout.nodes_from[r] + i, 1.0 / (3.0 * task.spacing_mm))], Loss::Square);
        }
        for end in 0..2 {
            system.add(0.0, &[(layout.ends_from + 2 * r + end, 1.0 / (0.3 * task.spacing_mm))], Loss::Square);
        }
    }
}

/// How much the sigmas of one border must grow over the finder's own: the middle deviation of the residuals, times the root of the number of
/// neighbours that err alike (edges wave; a hundred points along one wave are one piece of evidence).
pub(crate) fn growth(given: &Given, residuals_px: &[f64], border: Border) -> f64 {
    let over: Vec<f64> =
        given.marks.iter().zip(residuals_px).filter(|(m, r)| m.border == border && r.is_finite()).map(|(m, r)| r / m.own_px).collect();
    if over.len() < 8 {
        return 1.0;
    }
    let scale = mad_sigma(&over).max(1e-3);
    let held: Vec<f64> = over.iter().map(|r| r.clamp(-3.0 * scale, 3.0 * scale)).collect();
    let power = held.iter().map(|r| r * r).sum::<f64>() / held.len() as f64;
    let mut alike = 1.0;
    for lag in 1..ALIKE_MOST.min(held.len() / 4) {
        let correlation = held.windows(lag + 1).map(|w| w[0] * w[lag]).sum::<f64>() / (held.len() - lag) as f64 / power.max(1e-12);
        if correlation < 0.1 {
            break;
        }
        alike += 2.0 * correlation;
    }
    scale.max(1.0) * alike.sqrt()
}

/// Neighbours beyond this many are taken to err on their own.
const ALIKE_MOST: usize = 40;

/// A yardstick for rival fits of one task: robust cost with sigmas that do not depend on the fit, and the priors.
pub(crate) fn yardstick(task: &Task, fitted: &Fitted) -> f64 {
    let mut sum = 0.0;
    for ((given, residuals), view) in task.views.iter().zip(&fitted.residuals_px).zip(&fitted.state.views) {
        for (mark, r) in given.marks.iter().zip(residuals).filter(|(_, r)| r.is_finite()) {
            // Neighbours err alike: three sigmas, as if every ninth point counted.
            sum += Loss::Cauchy(2.385).cost(r / (3.0 * mark.own_px.max(0.07)));
        }
        let prior = |off: f64, sigma: f64| (off / sigma.max(1e-6)).powi(2);
        sum += prior(view.lens.focal_px.ln() - given.ln_focal.0, given.ln_focal.1) + prior(view.lens.k1 - given.k1.0, given.k1.1);
        sum += view.biases_px.iter().zip(given.bias_sigmas_px()).map(|(bias, sigma)| prior(*bias, sigma)).sum::<f64>();
    }
    sum
}
