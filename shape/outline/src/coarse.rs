//! The rough outline on a reduced picture: colours of the part and of its surroundings against each other, borders where the colour steps.

use crate::Clicks;
use crate::border::Strip;
use crate::frame::AxisFrame;
use crate::light::{Light, lab, shade_free};
use crate::palette::{Bins, Palette, evidence};
use crate::rodlines::Line;
use rayon::prelude::*;

/// Cells between rod entry and free end. Enough to see a flange of a twentieth of the part's length.
const CELLS_ALONG: f64 = 160.0;
/// Part's greatest half-width that is looked at, in lengths as seen: a cap seen at a strong tilt is wider than long.
const REACH: f64 = 1.3;
/// Between these places, in lengths as seen, the part may begin: a wide end face tilted toward or away from the camera.
const EARLIEST: f64 = -0.4;
const LATEST: f64 = 0.3;
/// The free end lies between these, in lengths as seen (a click is good to 1 % of the picture, and a flat end may be tilted).
const FIRST_END: f64 = 0.9;
const LAST_END: f64 = 1.15;

/// Cost of a border where nothing steps, and of one on the plainest step, nats a cell.
const FULL_COST: f32 = 3.0;
const LEAST_COST: f32 = 0.05;

/// The rough outline in the axis frame: half-widths on a grid along the axis.
pub(crate) struct Coarse {
    pub frame: AxisFrame,
    pub step_px: f64,
    /// `t` of the middle of the first column, px.
    pub first_px: f64,
    /// Share of the border that lies on steps of colour, 0..1.
    pub support: f64,
    /// The first column where the border leaves the rod, on either side.
    pub leaves: [usize; 2],
    /// Half-widths on the left, px, one a column; 0 = no body there.
    pub left_px: Vec<f64>,
    /// The same on the right.
    pub right_px: Vec<f64>,
}

impl Coarse {
    /// Where the outline leaves the rod and where it ends, on the axis: what a person would have clicked.
    pub fn clicks(&self) -> Clicks {
        let t = |column: usize| self.first_px + column as f64 * self.step_px;
        let covered = |i: &usize| self.left_px[*i] > 0.0 || self.right_px[*i] > 0.0;
        let end = (0..self.left_px.len()).rev().find(covered).map_or(self.frame.length_px, t);
        let entry = 0.5 * (t(self.leaves[0]) + t(self.leaves[1]));
        Clicks { rod_entry: self.frame.to_px(entry, 0.0), free_end: self.frame.to_px(end, 0.0) }
    }
}

/// One side of the axis on the reduced grid.
struct Side {
    lab: Vec<[f32; 3]>,
    /// The same with shading taken out, for comparing colours.
    shade_free: Vec<[f32; 3]>,
    in_picture: Vec<bool>,
    /// Cells that the rod covers, column by column.
    rod: Vec<usize>,
}

/// Finds the rough outline. The frame's axis is settled by `lines`, the rod's edges, in the same frame.
pub(crate) fn coarse(light: &Light, size_px: [f64; 2], frame: AxisFrame, lines: [Line; 2]) -> Coarse {
    Finder::new(light, size_px, frame, lines).run()
}

/// Line w = a + b t by least absolute deviations (reweighted least squares, 15 rounds).
pub(crate) fn least_deviations(points: &[[f64; 2]]) -> Option<(f64, f64)> {
    if points.len() < 5 {
        return None;
    }
    let (mut a, mut b) = (0.0, 0.0);
    for round in 0..15 {
        let mut s = [0.0; 5];
        for &[t, w] in points {
            let weight = if round == 0 { 1.0 } else { 1.0 / (w - a - b * t).abs().max(0.3) };
            s[0] += weight;
            s[1] += weight * t;
            s[2] += weight * t * t;
            s[3] += weight * w;
            s[4] += weight * t * w;
        }
        let determinant = s[0] * s[2] - s[1] * s[1];
        if determinant.abs() < 1e-9 {
            return None;
        }
        (a, b) = ((s[3] * s[2] - s[1] * s[4]) / determinant, (s[0] * s[4] - s[1] * s[3]) / determinant);
    }
    Some((a, b))
}

struct Finder {
    frame: AxisFrame,
    step: f64,
    first: f64,
    columns: usize,
    rows: usize,
    sides: [Side; 2],
    bins: Bins,
}

impl Finder {
    fn new(light: &Light, size_px: [f64; 2], frame: AxisFrame, lines: [Line; 2]) -> Self {
        let length = frame.length_px;
        let step = (length / CELLS_ALONG).max(1.0);
        let back = frame.room_behind_px(size_px[0], size_px[1]).min(-(EARLIEST - 0.05) * length);
        let first = -(back / step).floor() * step + 0.5 * step;
        let columns = (((LAST_END * length - first) / step).ceil() as usize).max(4);
        let rows = ((REACH * length / step).ceil() as usize).max(4);
        let sides = [1.0, -1.0].map(|sign| {
            let mut side = Side {
                lab: Vec::with_capacity(columns * rows),
                shade_free: Vec::new(),
                in_picture: Vec::with_capacity(columns * rows),
                rod: Vec::new(),
            };
            for i in 0..columns {
                let t = first + i as f64 * step;
                let line = if sign > 0.0 { lines[0] } else { lines[1] };
                side.rod.push(((sign * line.at(t.min(0.0)) / step).round().max(1.0) as usize).min(rows - 1));
                for j in 0..rows {
                    let at = frame.to_px(t, sign * (j as f64 + 0.5) * step);
                    side.in_picture.push(at[0] >= 0.0 && at[1] >= 0.0 && at[0] < size_px[0] && at[1] < size_px[1]);
                    side.lab.push(lab(light.at(at)));
                }
            }
            side.shade_free = side.lab.iter().map(|&c| shade_free(c)).collect();
            side
        });
        let colours: Vec<[f32; 3]> = sides.iter().flat_map(|s| s.shade_free.iter().copied()).collect();
        Finder { frame, step, first, columns, rows, sides, bins: Bins::over(&colours) }
    }

    /// Place along the axis in part lengths.
    fn share(&self, column: usize) -> f64 {
        (self.first + column as f64 * self.step) / self.frame.length_px
    }

    /// Colours can mislead where part and surroundings are alike, edges where they are lost: several balances are tried, and the border that
    /// lies on colour steps along most of its way is taken.
    fn run(&self) -> Coarse {
        let edges = [self.edge_costs(&self.sides[0]), self.edge_costs(&self.sides[1])];
        let mut best: Option<(f64, [Vec<usize>; 2])> = None;
        for (trust, by_edges_first) in [(0.4, false), (0.15, false), (0.05, true)] {
            let start = by_edges_first.then(|| self.with_trust(0.0, None, &edges));
            let found = self.with_trust(trust, start, &edges);
            let support = self.support(&found, &edges);
            if best.as_ref().is_none_or(|b| support > b.0 + 0.03) {
                best = Some((support, found));
            }
            // Nothing can do better by that much.
            if support > 0.95 {
                break;
            }
        }
        let (support, found) = best.unwrap_or_else(|| (0.0, [vec![0; self.columns], vec![0; self.columns]]));
        let px = |side: &[usize]| side.iter().map(|&b| b as f64 * self.step).collect();
        // For good: a few columns on end, by more than the rod's own edge is off.
        let off = |s: usize, i: usize, cells: usize| found[s].get(i).zip(self.sides[s].rod.get(i)).is_some_and(|(b, rod)| *b > rod + cells);
        let leaves = [0, 1].map(|s| {
            let lasting = (0..self.columns).find(|&i| (i..i + 4).all(|k| off(s, k, 1)));
            lasting.or_else(|| (0..self.columns).find(|&i| off(s, i, 0))).unwrap_or(0)
        });
        Coarse {
            frame: self.frame,
            step_px: self.step,
            first_px: self.first,
            support,
            leaves,
            left_px: px(&found[0]),
            right_px: px(&found[1]),
        }
    }

    /// Share of the border, off the rod, that lies on steps of colour (0..1).
    fn support(&self, found: &[Vec<usize>; 2], edges: &[(Vec<f32>, Vec<f32>); 2]) -> f64 {
        let (mut gained, mut length) = (0.0f64, 0.0f64);
        let mut count = |cost: f32| {
            gained += f64::from(1.0 - (cost - LEAST_COST) / FULL_COST);
            length += 1.0;
        };
        for s in 0..2 {
            for i in 0..self.columns {
                let b = found[s][i];
                let on_rod = self.share(i) < LATEST && b == self.sides[s].rod[i];
                if b > 0 && !on_rod {
                    count(edges[s].0[i * self.rows + b.min(self.rows - 1)]);
                }
                if i + 1 < self.columns {
                    let next = found[s][i + 1];
                    (b.min(next)..b.max(next)).for_each(|j| count(edges[s].1[i * self.rows + j]));
                }
            }
        }
        gained / length.max(1.0)
    }

    /// The border when a cell's colour counts `trust` times its evidence, after a few rounds of learning the colours from the border.
    fn with_trust(&self, trust: f32, start: Option<[Vec<usize>; 2]>, edges: &[(Vec<f32>, Vec<f32>); 2]) -> [Vec<usize>; 2] {
        let mut inside = start;
        for _ in 0..if trust > 0.0 { 3 } else { 1 } {
            let palettes = self.palettes(inside.as_ref());
            let strips: Vec<Strip> = (0..2)
                .map(|s| Strip {
                    columns: self.columns,
                    rows: self.rows,
                    inside: self.evidence(s, trust, &palettes),
                    across: edges[s].0.clone(),
                    along: edges[s].1.clone(),
                })
                .collect();
            let mut found = inside.take().unwrap_or_else(|| [Vec::new(), Vec::new()]);
            let rounds = if found[0].is_empty() { 3 } else { 2 };
            for _ in 0..rounds {
                for s in 0..2 {
                    let other = std::mem::take(&mut found[1 - s]);
                    let known = (!other.is_empty()).then_some(other.as_slice());
                    found[s] = strips[s].cheapest(|column, b| self.prior(s, column, b, known));
                    found[1 - s] = other;
                }
            }
            inside = Some(found);
        }
        inside.unwrap_or_else(|| [vec![0; self.columns], vec![0; self.columns]])
    }

    /// Part and surroundings in zones along the axis (index: zone), the surroundings for each side apart (index: zone, side).
    fn palettes(&self, inside: Option<&[Vec<usize>; 2]>) -> Palettes {
        let row = self.frame.length_px / self.step;
        let is_part = |s: usize, i: usize, j: f64| {
            let t = self.share(i);
            match inside {
                None => (0.1..0.92).contains(&t) && j < 0.1 * row && (t > LATEST || j > self.sides[s].rod[i] as f64 || t > 0.12),
                Some(inside) => {
                    let b = inside[s][i];
                    let rod = if t < LATEST && b <= self.sides[s].rod[i] { b } else { 0 };
                    b > rod && j < b as f64 - 1.0 && (t > 0.05 || j > self.sides[s].rod[i] as f64 + 1.0)
                }
            }
        };
        let is_outside = |s: usize, i: usize, j: f64| {
            let t = self.share(i);
            match inside {
                None => j > if t < -0.1 { 0.7 } else { 0.9 } * row || t > 1.1,
                Some(inside) => j > inside[s][i] as f64 + 2.0 && j < inside[s][i] as f64 + 0.6 * row,
            }
        };
        let gather = |wanted: &(dyn Fn(usize, usize, f64) -> bool + Sync), weight: &(dyn Fn(usize, usize) -> f32 + Sync)| {
            let mut colours = Vec::new();
            for (s, side) in self.sides.iter().enumerate() {
                for i in 0..self.columns {
                    let weight = weight(s, i);
                    if weight <= 0.0 {
                        continue;
                    }
                    for j in 0..self.rows {
                        let cell = i * self.rows + j;
                        if side.in_picture[cell] && wanted(s, i, j as f64 + 0.5) {
                            colours.push((side.shade_free[cell], weight));
                        }
                    }
                }
            }
            Palette::of(self.bins, colours.into_iter())
        };
        // Before anything is found the zones have too little to go by: everything counts everywhere.
        let elsewhere = if inside.is_none() { 1.0 } else { 0.15 };
        let near = |zone: usize, i: usize| (ZONES[zone] - self.share(i)).abs() < ZONE_HALF;
        let parts = (0..ZONES.len()).into_par_iter().map(|z| gather(&is_part, &|_, i| if near(z, i) { 1.0 } else { elsewhere })).collect();
        let outsides = (0..2 * ZONES.len())
            .into_par_iter()
            .map(|k| {
                let (zone, side) = (k / 2, k % 2);
                gather(&is_outside, &|s, i| if near(zone, i) && s == side { 1.0 } else { elsewhere })
            })
            .collect();
        Palettes { parts, outsides }
    }

    fn evidence(&self, s: usize, trust: f32, palettes: &Palettes) -> Vec<f32> {
        let side = &self.sides[s];
        let mut all = Vec::with_capacity(side.lab.len());
        for i in 0..self.columns {
            let t = self.share(i);
            let zone = (0..ZONES.len()).fold(0, |a, b| if (ZONES[b] - t).abs() < (ZONES[a] - t).abs() { b } else { a });
            for j in 0..self.rows {
                let cell = i * self.rows + j;
                if !side.in_picture[cell] {
                    all.push(-1.0);
                } else if t < LATEST && j < side.rod[i] {
                    all.push(0.0);
                } else {
                    // Neighbouring cells share shading and texture: they are not independent witnesses.
                    all.push(trust * evidence(&palettes.parts[zone], &palettes.outsides[2 * zone + s], side.shade_free[cell]));
                }
            }
        }
        all
    }

    /// Cost of a border between neighbouring cells: high where the colour stays, low where it steps (whitened by its spread over the strip).
    fn edge_costs(&self, side: &Side) -> (Vec<f32>, Vec<f32>) {
        let (n, m) = (self.columns, self.rows);
        let colour = |i: usize, j: usize| side.lab[i.min(n - 1) * m + j.min(m - 1)];
        let mut across = vec![[0.0f32; 3]; n * m];
        let mut along = vec![[0.0f32; 3]; n * m];
        for i in 0..n {
            for j in 0..m {
                // Means of two cells on either side of the border, over three cells along it.
                let sum = |cells: [(usize, usize); 12]| -> [f32; 3] {
                    let mut total = [0.0f32; 3];
                    for (k, (a, b)) in cells.into_iter().enumerate() {
                        let sign = if k < 6 { 1.0 / 6.0 } else { -1.0 / 6.0 };
                        let v = colour(a, b);
                        (0..3).for_each(|c| total[c] += sign * v[c]);
                    }
                    total
                };
                let (im, jm) = (i.saturating_sub(1), j.saturating_sub(1));
                if j > 1 {
                    across[i * m + j] = sum([
                        (im, j),
                        (i, j),
                        (i + 1, j),
                        (im, j + 1),
                        (i, j + 1),
                        (i + 1, j + 1),
                        (im, jm),
                        (i, jm),
                        (i + 1, jm),
                        (im, j - 2),
                        (i, j - 2),
                        (i + 1, j - 2),
                    ]);
                }
                if i + 1 < n {
                    along[i * m + j] = sum([
                        (i + 1, jm),
                        (i + 1, j),
                        (i + 1, j + 1),
                        (i + 2, jm),
                        (i + 2, j),
                        (i + 2, j + 1),
                        (i, jm),
                        (i, j),
                        (i, j + 1),
                        (im, jm),
                        (im, j),
                        (im, j + 1),
                    ]);
                }
            }
        }
        let spread: [f32; 3] = std::array::from_fn(|c| {
            let mut sizes: Vec<f32> = across.iter().chain(&along).map(|d| d[c].abs()).collect();
            sizes.sort_by(f32::total_cmp);
            (1.4826 * sizes[sizes.len() / 2]).clamp(0.15, 3.0)
        });
        let cost = |d: &[f32; 3]| {
            let q: f32 = (0..3).map(|c| (d[c] / spread[c]).powi(2)).sum();
            FULL_COST / (1.0 + q / 30.0) + LEAST_COST
        };
        let costs = |steps: &[[f32; 3]]| {
            let seen = |k: usize| side.in_picture[k] && side.in_picture[(k + 2 * m).min(n * m - 1)];
            steps.iter().enumerate().map(|(k, d)| if seen(k) { cost(d) } else { FULL_COST }).collect()
        };
        (costs(&across), costs(&along))
    }

    /// What is known before looking: where there is no part there is the rod or nothing, the body covers the axis between the clicks, ends about
    /// the free end, and its two sides are alike.
    fn prior(&self, s: usize, column: usize, inside: usize, other: Option<&[usize]>) -> f32 {
        let t = self.share(column);
        let rod = self.sides[s].rod[column];
        let forbidden = (t < LATEST && inside < rod)
            || (t < EARLIEST && inside != rod)
            || (inside == 0 && t < FIRST_END)
            || (inside > 0 && t > LAST_END - 0.02);
        if forbidden {
            return f32::INFINITY;
        }
        other.map_or(0.0, |o| 0.15 * (inside as f32 - o[column] as f32).abs().min(12.0))
    }
}

/// Colours in zones along the axis.
struct Palettes {
    parts: Vec<Palette>,
    outsides: Vec<Palette>,
}

const ZONES: [f64; 4] = [-0.1, 0.25, 0.6, 0.95];
const ZONE_HALF: f64 = 0.3;
