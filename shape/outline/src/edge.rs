//! One edge to a fraction of a pixel: the modelled profile fitted to linear light along a normal.

use crate::limb::LimbTable;
use crate::rays::Rays;
use nalgebra::{SMatrix, SVector};
use rayon::prelude::*;

/// An edge along one ray.
#[derive(Clone, Copy, Debug)]
pub(crate) struct EdgeFit {
    /// Outside the contour, px.
    pub offset_px: f64,
    /// From the fit's own noise and slope.
    pub sigma_px: f64,
    /// How much likelier the edge is than a smooth change, nats.
    pub gain: f64,
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
    /// How far from the border found before the edge is looked for, px.
    pub search_px: f64,
}

impl Expectation {
    /// A plastic part: shaded softly; it reflects the background and the shade it casts there, about half and half.
    pub const PART: Expectation = Expectation { reflected: 0.5, level_inside: 0.02, window_px: [6.0, 6.0], search_px: 2.0 };
    /// A rod, perhaps polished: bright bands begin a few pixels inside.
    pub const ROD: Expectation = Expectation { reflected: 0.5, level_inside: 0.002, window_px: [4.0, 6.0], search_px: 1.5 };
    /// The rod's edge once its line is known.
    pub const ROD_CLOSE: Expectation = Expectation { window_px: [3.0, 6.0], search_px: 0.9, ..Expectation::ROD };
}

/// Profiles of sharp edges in luminance and in colour. JPEG keeps colour at half the pixels each way, which blurs it further.
pub(crate) struct EdgeTables {
    pub blur_px: f64,
    luminance: LimbTable,
    colour: LimbTable,
}

impl EdgeTables {
    pub fn new(blur_px: f64, roughness: f64) -> Self {
        // Mean of two pixels, then a straight line between: standard deviations 0.58 and 0.82 px (box of 2, triangle of 2 + 2).
        let colour_blur = (blur_px * blur_px + 0.58 * 0.58 + 0.82 * 0.82).sqrt();
        EdgeTables { blur_px, luminance: LimbTable::new(blur_px, roughness), colour: LimbTable::new(colour_blur, roughness) }
    }
}

pub(crate) fn fit_all(rays: &Rays, start_px: &[f64], radius_px: &[f64], tables: &EdgeTables) -> Vec<Option<EdgeFit>> {
    (0..rays.count).into_par_iter().map(|i| fit(rays, i, start_px[i], radius_px[i], tables, Expectation::PART)).collect()
}

/// Coarse steps of the search, either way.
const STEPS: i32 = 4;

pub(crate) fn fit(rays: &Rays, ray: usize, start: f64, radius_px: f64, tables: &EdgeTables, expected: Expectation) -> Option<EdgeFit> {
    let window = Window::cut(rays, ray, start, expected)?;
    let spacing = expected.search_px / f64::from(STEPS);
    let misfit = |o: f64| window.misfit(o, radius_px, tables, expected).unwrap_or(f64::INFINITY);
    let coarse: Vec<f64> = (-STEPS..=STEPS).map(|k| misfit(start + f64::from(k) * spacing)).collect();
    let nearest = (1..coarse.len() - 1).fold(1, |a, b| if coarse[b] < coarse[a] { b } else { a });
    // Least at the end of the range: the edge, if any, lies beyond it.
    if coarse[0].min(coarse[coarse.len() - 1]) < coarse[nearest] {
        return None;
    }
    // Twice closer in, then a parabola: the misfit is smooth over less than the blur.
    let mut best = (start + (nearest as f64 - f64::from(STEPS)) * spacing, coarse[nearest]);
    let mut step = 0.5 * spacing;
    let mut sides = [misfit(best.0 - step), misfit(best.0 + step)];
    for _ in 0..2 {
        if sides[0] < best.1 && sides[0] <= sides[1] {
            (best, sides) = ((best.0 - step, sides[0]), [misfit(best.0 - 2.0 * step), best.1]);
        } else if sides[1] < best.1 {
            (best, sides) = ((best.0 + step, sides[1]), [best.1, misfit(best.0 + 2.0 * step)]);
        } else if step > 0.3 * spacing {
            step *= 0.5;
            sides = [misfit(best.0 - step), misfit(best.0 + step)];
        }
    }
    let bend = sides[0] - 2.0 * best.1 + sides[1];
    if !bend.is_finite() || bend <= 0.0 {
        return None;
    }
    let offset_px = best.0 + (0.5 * (sides[0] - sides[1]) / bend).clamp(-1.0, 1.0) * step;
    Some(EdgeFit { offset_px, sigma_px: step / bend.sqrt(), gain: window.smooth() - best.1 })
}

/// How much likelier an edge exactly at `at_px` is than a smooth change there, nats.
pub(crate) fn gain_at(rays: &Rays, ray: usize, at_px: f64, radius_px: f64, tables: &EdgeTables, expected: Expectation) -> Option<f64> {
    let window = Window::cut(rays, ray, at_px, expected)?;
    Some(window.smooth() - window.misfit(at_px, radius_px, tables, expected)?)
}

/// Samples of one ray about the place where its edge is looked for.
struct Window {
    x: Vec<f64>,
    /// Luminance, red minus luminance, blue minus luminance.
    values: [Vec<f64>; 3],
    /// Least variance of a sample in each.
    floor: [f64; 3],
    /// Independent samples: one a pixel.
    independent: f64,
}

impl Window {
    fn cut(rays: &Rays, ray: usize, start: f64, expected: Expectation) -> Option<Window> {
        let cells = &rays.light[ray * rays.cells..(ray + 1) * rays.cells];
        let mut window = Window { x: Vec::new(), values: [Vec::new(), Vec::new(), Vec::new()], floor: [0.0; 3], independent: 0.0 };
        let mut level = 0.0;
        for (k, rgb) in cells.iter().enumerate() {
            let x = (k as f64 + 0.5) * rays.step_px - rays.reach_px;
            if !(-expected.window_px[0]..=expected.window_px[1]).contains(&(x - start)) {
                continue;
            }
            let [r, g, b] = rgb.map(f64::from);
            let luminance = 0.299 * r + 0.587 * g + 0.114 * b;
            window.x.push(x);
            window.values[0].push(luminance);
            window.values[1].push(r - luminance);
            window.values[2].push(b - luminance);
            level += luminance;
        }
        let count = window.x.len();
        if count < 12 {
            return None;
        }
        // Shot noise of a full well of 20,000 electrons, and the steps of 8-bit coding in the shadows: no photograph is better.
        let noise = level / count as f64 / 20_000.0 + 2e-7;
        window.floor = [noise, 4.0 * noise, 4.0 * noise];
        window.independent = count as f64 * rays.step_px;
        Some(window)
    }

    /// Minus the log-likelihood of the best profile with its edge at `o`, nats; the noise is whatever the profile leaves.
    fn misfit(&self, o: f64, radius_px: f64, tables: &EdgeTables, expected: Expectation) -> Option<f64> {
        let luminance = self.left(0, o, radius_px, &tables.luminance, expected)?;
        let colour = self.left_colour(o, radius_px, &tables.colour, expected)?;
        Some(self.nats(0, luminance) + self.nats(1, colour[0]) + self.nats(2, colour[1]))
    }

    fn nats(&self, channel: usize, square: f64) -> f64 {
        0.5 * self.independent * (square / self.x.len() as f64 + self.floor[channel]).ln()
    }

    fn left(&self, channel: usize, o: f64, radius_px: f64, table: &LimbTable, expected: Expectation) -> Option<f64> {
        let (mut normal, rows) = self.rows(o, radius_px, table);
        let left = remainder(&mut normal, &rows, &[&self.values[channel]], expected)?;
        Some(left[0])
    }

    fn left_colour(&self, o: f64, radius_px: f64, table: &LimbTable, expected: Expectation) -> Option<[f64; 2]> {
        let (mut normal, rows) = self.rows(o, radius_px, table);
        let left = remainder(&mut normal, &rows, &[&self.values[1], &self.values[2]], expected)?;
        Some([left[0], left[1]])
    }

    fn rows(&self, o: f64, radius_px: f64, table: &LimbTable) -> (SMatrix<f64, 5, 5>, Vec<SVector<f64, 5>>) {
        let rows: Vec<SVector<f64, 5>> = self
            .x
            .iter()
            .map(|&x| {
                let [outside, body, reflected] = table.shares(radius_px, x - o).map(f64::from);
                let slope = (x - o) / 6.0;
                SVector::<f64, 5>::new(outside, body, reflected, outside * slope, (body + reflected) * slope)
            })
            .collect();
        let normal = rows.iter().fold(SMatrix::<f64, 5, 5>::zeros(), |m, row| m + row * row.transpose());
        (normal, rows)
    }

    /// Minus the log-likelihood of a smooth change (a parabola through all samples), nats.
    fn smooth(&self) -> f64 {
        let middle = self.x.iter().sum::<f64>() / self.x.len() as f64;
        let rows: Vec<SVector<f64, 3>> =
            self.x.iter().map(|&x| SVector::<f64, 3>::new(1.0, (x - middle) / 6.0, ((x - middle) / 6.0).powi(2))).collect();
        let normal = rows.iter().fold(SMatrix::<f64, 3, 3>::identity() * 1e-9, |m, row| m + row * row.transpose());
        let Some(solver) = normal.cholesky() else { return f64::INFINITY };
        (0..3)
            .map(|c| {
                let right = rows.iter().zip(&self.values[c]).fold(SVector::<f64, 3>::zeros(), |r, (row, v)| r + row * *v);
                let fit = solver.solve(&right);
                let left = rows.iter().zip(&self.values[c]).map(|(row, v)| (v - row.dot(&fit)).powi(2)).sum::<f64>();
                self.nats(c, left)
            })
            .sum()
    }
}

/// Sums of squares that the best profile leaves of each channel: levels outside, of the body, of what it reflects, and slopes on both sides.
fn remainder(normal: &mut SMatrix<f64, 5, 5>, rows: &[SVector<f64, 5>], channels: &[&Vec<f64>], expected: Expectation) -> Option<Vec<f64>> {
    let count = rows.len() as f64;
    let outside_weight = normal[(0, 0)].max(1e-9);
    // The reflected light is a share of what the surroundings send, give or take; slopes are small against levels. Each is worth a
    // few hundredths of a sample.
    let weight = 0.02 * count;
    normal[(2, 2)] += weight;
    normal[(3, 3)] += 0.02 * count;
    normal[(4, 4)] += expected.level_inside * count + 1e-9;
    let solver = normal.cholesky()?;
    Some(
        channels
            .iter()
            .map(|values| {
                let mut right = rows.iter().zip(values.iter()).fold(SVector::<f64, 5>::zeros(), |r, (row, v)| r + row * *v);
                let reflected = expected.reflected * right[0] / outside_weight;
                right[2] += weight * reflected;
                let square = values.iter().map(|v| v * v).sum::<f64>() + weight * reflected * reflected;
                (square - solver.solve(&right).dot(&right)).max(0.0)
            })
            .collect(),
    )
}
