//! The normal equations of the joint fit: every mark, prior and smoothness as a weighted row.

use crate::carve::{At, DEEP, Run, nearest, smoothed, touch_smooth};
use crate::joint::{
    BIAS_FROM, Border, Given, Layout, MODES, Mark, PER_VIEW, SCALE, State, Task, ViewState, across, mode, node_hair, normals, scale_of,
};
use crate::lens::Ray;
use crate::sight::{Sight, Stand, Touch};
use nalgebra::{DMatrix, DVector, Vector3};
use rayon::prelude::*;
use solve::Loss;

pub(crate) struct System {
    pub(crate) matrix: DMatrix<f64>,
    pub(crate) gradient: DVector<f64>,
    pub(crate) cost: f64,
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

fn length(a: [f64; 2], b: [f64; 2]) -> f64 {
    let (dz, dr) = (b[0] - a[0], b[1] - a[1]);
    (dz * dz + dr * dr).sqrt()
}

/// The equations at one state, with every mark's residual and weight.
pub(crate) struct Assembled {
    pub(crate) system: System,
    /// Residuals of each view's marks, px, biases taken off; NaN where a ray meets nothing.
    pub(crate) residuals_px: Vec<Vec<f64>>,
    /// Weights in 0..=1 of each view's marks.
    pub(crate) weights: Vec<Vec<f64>>,
}

pub(crate) fn assemble(task: &Task, state: &State, layout: &Layout, loss: Loss) -> Assembled {
    let mut found = Assembled { system: System::new(layout.count), residuals_px: Vec::new(), weights: Vec::new() };
    let normals: Vec<Vec<[f64; 2]>> = state.runs.iter().map(normals).collect();
    if state.rods.iter().any(|r| r.is_nan()) {
        found.system.cost = f64::NAN;
        return found;
    }
    for v in 0..task.views.len() {
        add_view(&mut found, task, state, layout, v, &normals, loss);
        add_view_priors(&mut found.system, v, &task.views[v], &state.views[v]);
    }
    let system = &mut found.system;
    for (i, (radius, sigma)) in task.rods.iter().enumerate() {
        let sigma = sigma.max(1e-6 * radius);
        system.add((state.rods[i] - radius) / sigma, &[(layout.rods_from + i, 1.0 / sigma)], Loss::Square);
    }
    add_smoothness(system, task, state, layout, &normals);
    for m in 0..MODES {
        system.add(0.0, &[(layout.modes_from + m, 0.1)], Loss::Square);
    }
    found
}

/// Where a mark's ray comes nearest to the model.
struct Meeting {
    ray: Ray,
    sight: Sight,
    touch: Touch,
    /// The touched segment of the chain; `None` where the rod or its foot is met.
    chain: Option<At>,
}

/// The meetings of one view, in the order of its marks. Each is found by itself, so working on them side by side changes nothing.
fn meetings(task: &Task, state: &State, v: usize) -> Vec<Option<Meeting>> {
    let (given, view) = (&task.views[v], &state.views[v]);
    let stand = Stand::new(view.axis);
    let rod_mm = state.rods[given.rod];
    let fine: Vec<Run> = state.runs.iter().map(smoothed).collect();
    let foot = state.runs.first().and_then(|run| run.first()).map(|node| [node[0], rod_mm]);
    let deep_mm = DEEP * task.spacing_mm;
    let meet = |mark: &Mark| {
        let ray = view.lens.ray(mark.at_px);
        let sight = stand.sight(&ray.d);
        if mark.border == Border::Rod {
            return Some(Meeting { ray, sight, touch: rod_touch(&sight, rod_mm), chain: None });
        }
        let (at, _) = nearest(&sight, &state.runs, deep_mm)?;
        let (at, touch) = touch_smooth(&sight, &fine[at.run], at, deep_mm);
        let at_foot = foot.filter(|_| mark.border == Border::Joint).map(|foot| joint_touch(&sight, foot));
        match at_foot.filter(|foot| foot.gap.abs() < touch.gap.abs()) {
            Some(touch) => Some(Meeting { ray, sight, touch, chain: None }),
            None => Some(Meeting { ray, sight, touch, chain: Some(at) }),
        }
    };
    given.marks.par_iter().with_min_len(64).map(meet).collect()
}

fn add_view(found: &mut Assembled, task: &Task, state: &State, layout: &Layout, v: usize, normals: &[Vec<[f64; 2]>], loss: Loss) {
    let (given, view) = (&task.views[v], &state.views[v]);
    let (mut residuals, mut weights) = (Vec::with_capacity(given.marks.len()), Vec::with_capacity(given.marks.len()));
    let mut row: Vec<(usize, f64)> = Vec::with_capacity(20);
    let scale_mm = scale_of(state);
    for (mark, meeting) in given.marks.iter().zip(meetings(task, state, v)) {
        let Some(meeting) = meeting else {
            residuals.push(f64::NAN);
            weights.push(0.0);
            continue;
        };
        row.clear();
        let mut residual_px = row_of(&mut row, mark, &meeting, view, layout, v, given.rod, normals, scale_mm);
        for (which, share) in mark.biased.iter().filter(|b| b.1 != 0.0) {
            row.push((v * PER_VIEW + BIAS_FROM + which, -share / mark.sigma_px));
            residual_px -= share * view.biases_px[*which];
        }
        residuals.push(residual_px);
        weights.push(found.system.add(residual_px / mark.sigma_px, &row, loss));
    }
    found.residuals_px.push(residuals);
    found.weights.push(weights);
}

/// Fills the row of a mark (derivatives by pose, lens, rod, nodes and stretches, in its sigmas) and returns its gap, px.
#[allow(clippy::too_many_arguments)] // one inner loop, split off for length only
fn row_of(
    row: &mut Vec<(usize, f64)>,
    mark: &Mark,
    meeting: &Meeting,
    view: &ViewState,
    layout: &Layout,
    v: usize,
    rod: usize,
    normals: &[Vec<[f64; 2]>],
    scale_mm: f64,
) -> f64 {
    let Meeting { ray, sight, touch, chain } = meeting;
    let (base, rod_at) = (v * PER_VIEW, layout.rods_from + rod);
    let (b1, b2) = across(&view.axis.along);
    let place = sight.unit * (sight.s_v + touch.w);
    let radial = Stand::new(view.axis).radial(&place);
    let [nz, nr] = touch.normal;
    let normal = view.axis.along * nz + radial * nr;
    let px = view.lens.focal_px / (place.z.max(1e-6) * normal.xy().norm().max(1e-6));
    let (z, d) = (touch_height(sight, touch), (place - view.axis.origin).dot(&radial));
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
                push_node(row, layout, 0, 0, run, -scale, touch.normal);
            }
        }
        (_, Some(at)) => {
            let spot = [z - nz * touch.gap, d - nr * touch.gap];
            for (m, by) in mode(spot, scale_mm).iter().enumerate() {
                row.push((layout.modes_from + m, -scale * (nz * by[0] + nr * by[1])));
            }
            let run = &normals[at.run];
            push_node(row, layout, at.run, at.node, run, -scale * (1.0 - touch.share), touch.normal);
            if touch.share > 0.0 {
                push_node(row, layout, at.run, at.node + 1, run, -scale * touch.share, touch.normal);
            }
        }
    }
    touch.gap * px
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
            system.add(0.0, &[(layout.nodes_from[r] + i, node_hair(task))], Loss::Square);
        }
        for end in 0..2 {
            system.add(0.0, &[(layout.ends_from + 2 * r + end, 1.0 / (0.3 * task.spacing_mm))], Loss::Square);
        }
    }
}
