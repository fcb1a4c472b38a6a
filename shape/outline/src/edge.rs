//! One edge to a fraction of a pixel: the modelled profile fitted to linear light along a normal.

use crate::limb::LimbTable;
use crate::rays::Rays;
use nalgebra::{Matrix5, Vector5};
use rayon::prelude::*;

/// An edge along one ray.
#[derive(Clone, Copy, Debug)]
pub(crate) struct EdgeFit {
    /// Outside the contour, px.
    pub offset_px: f64,
    /// From the fit's own noise and slope.
    pub sigma_px: f64,
    /// Step between body and surroundings over the noise of one sample.
    pub step_over_noise: f64,
    /// Root mean square of what the model leaves, over the noise expected.
    pub misfit: f64,
}

/// What is expected of an edge before it is fitted.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Expectation {
    /// Share of the background's light that the limb reflects.
    pub reflected: f64,
    /// How firmly the light inside is held level (0 = any slope).
    pub level_inside: f64,
    /// Samples used, px inside and outside of the edge.
    pub window_px: [f64; 2],
}

impl Expectation {
    /// A plastic part: shaded softly; it reflects the background and the shade it casts there, about half and half.
    pub const PART: Expectation = Expectation { reflected: 0.5, level_inside: 0.02, window_px: [6.0, 6.0] };
    /// A rod, perhaps polished: bright bands begin a few pixels inside.
    pub const ROD: Expectation = Expectation { reflected: 0.5, level_inside: 0.001, window_px: [4.0, 6.0] };
}

/// How far from the border found before the edge is looked for, px.
const SEARCH_PX: f64 = 2.0;

pub(crate) fn fit_all(rays: &Rays, start_px: &[f64], radius_px: &[f64], table: &LimbTable) -> Vec<Option<EdgeFit>> {
    (0..rays.count).into_par_iter().map(|i| fit(rays, i, start_px[i], radius_px[i], table, Expectation::PART)).collect()
}

/// One ray as a single number a sample: the channels weighted so that the step stands out most from shot noise.
pub(crate) fn projected(rays: &Rays, ray: usize, start: f64) -> Option<(Vec<f64>, f64)> {
    let cells = &rays.light[ray * rays.cells..(ray + 1) * rays.cells];
    let (mut inside, mut outside) = (([0.0f64; 3], 0.0f64), ([0.0f64; 3], 0.0f64));
    for (k, c) in cells.iter().enumerate() {
        let x = rays.reach_px - (k as f64 + 0.5) * rays.step_px + start; // inside positive
        let side = if (1.5..5.0).contains(&x) {
            &mut inside
        } else if (1.5..5.0).contains(&-x) {
            &mut outside
        } else {
            continue;
        };
        (0..3).for_each(|i| side.0[i] += f64::from(c[i]));
        side.1 += 1.0;
    }
    if inside.1 < 2.0 || outside.1 < 2.0 {
        return None;
    }
    let (a, b) = (inside.0.map(|v| v / inside.1), outside.0.map(|v| v / outside.1));
    // Shot noise grows with the light; 0.002 stands for read noise and the steps of 8-bit coding in the shadows.
    let weights: [f64; 3] = std::array::from_fn(|i| (a[i] - b[i]) / (0.5 * (a[i] + b[i]) + 0.002));
    let norm = weights.iter().map(|w| w * w).sum::<f64>().sqrt();
    if norm < 1e-6 {
        return None;
    }
    let values = cells.iter().map(|c| (0..3).map(|i| weights[i] / norm * f64::from(c[i])).sum()).collect();
    let level: f64 = (0..3).map(|i| (weights[i] / norm).powi(2) * (0.5 * (a[i] + b[i]) + 0.002)).sum();
    Some((values, level))
}

pub(crate) fn fit(rays: &Rays, ray: usize, start: f64, radius_px: f64, table: &LimbTable, expected: Expectation) -> Option<EdgeFit> {
    let (values, level) = projected(rays, ray, start)?;
    let window: Vec<(f64, f64)> = values
        .iter()
        .enumerate()
        .map(|(k, &v)| ((k as f64 + 0.5) * rays.step_px - rays.reach_px, v))
        .filter(|(x, _)| (-expected.window_px[0]..=expected.window_px[1]).contains(&(x - start)))
        .collect();
    if window.len() < 10 {
        return None;
    }
    let steps = 16;
    let cost = |o: f64| at_offset(&window, o, radius_px, table, expected).map_or(f64::INFINITY, |f| f.0);
    let costs: Vec<f64> = (0..=2 * steps).map(|k| cost(start + (k as f64 / steps as f64 - 1.0) * SEARCH_PX)).collect();
    let best = (1..2 * steps).fold(1, |a, b| if costs[b] < costs[a] { b } else { a });
    let spacing = SEARCH_PX / steps as f64;
    let bend = costs[best - 1] - 2.0 * costs[best] + costs[best + 1];
    if !(bend > 0.0) {
        return None;
    }
    let shift = (0.5 * (costs[best - 1] - costs[best + 1]) / bend).clamp(-1.0, 1.0);
    let offset_px = start + (best as f64 / steps as f64 - 1.0) * SEARCH_PX + shift * spacing;
    let (cost, step) = at_offset(&window, offset_px, radius_px, table, expected)?;
    let freedom = (window.len() as f64 * rays.step_px - 5.0).max(1.0);
    // Neighbouring samples share pixels: a window holds one independent sample a pixel.
    let variance = cost * rays.step_px / freedom;
    // An 8-bit photograph in good light has a noise of about 1 % of the level (10,000 electrons at most).
    let floor = 0.01 * 0.01 * level * 0.3 + 1e-8;
    let sigma_px = (2.0 * variance.max(floor) / (bend / (spacing * spacing) * rays.step_px)).sqrt();
    Some(EdgeFit { offset_px, sigma_px, step_over_noise: step / variance.max(floor).sqrt(), misfit: (variance / floor).sqrt() })
}

/// Cost and step of the best profile with its edge at `o`: levels and slopes are linear in it.
fn at_offset(window: &[(f64, f64)], o: f64, radius_px: f64, table: &LimbTable, expected: Expectation) -> Option<(f64, f64)> {
    let mut normal = Matrix5::<f64>::zeros();
    let mut right = Vector5::<f64>::zeros();
    let mut square = 0.0;
    for &(x, v) in window {
        let [outside, body, reflected] = table.shares(radius_px, x - o).map(f64::from);
        let inside = body + reflected;
        let row = Vector5::new(outside, body, reflected, outside * (x - o) / 6.0, inside * (x - o) / 6.0);
        normal += row * row.transpose();
        right += row * v;
        square += v * v;
    }
    // The reflected light is about half of what the surroundings send, give or take; slopes are small against levels.
    let count = window.len() as f64;
    let outside_level = right[0] / normal[(0, 0)].max(1e-9);
    let (reflected, weight) = (expected.reflected * outside_level, 0.02 * count);
    normal[(2, 2)] += weight;
    right[2] += weight * reflected;
    square += weight * reflected * reflected;
    normal[(3, 3)] += 0.02 * count;
    normal[(4, 4)] += expected.level_inside * count;
    let solved = normal.cholesky()?.solve(&right);
    let cost = (square - solved.dot(&right)).max(0.0);
    Some((cost, (solved[0] - solved[1]).abs()))
}
