//! Cubics in a row through places, each flowing into the next: least squared distances square to them.

use crate::segment::{Place, distance};
use nalgebra::{DMatrix, DVector};

/// Rounds of Gauss, Newton, Levenberg and Marquardt, and of the places' own steps along the curve in each.
const ROUNDS: usize = 12;
const ROW_ROUNDS: usize = 40;
const FEET: usize = 3;
/// Handles as shares of their curve's length: shorter ones make corners, longer ones loops.
const HANDLES: [f64; 2] = [0.05, 0.9];

/// What is known of a row's end: its place, and its direction of travel.
#[derive(Clone, Copy, Debug)]
pub(crate) struct End {
    pub at: Option<Place>,
    pub along: Option<Place>,
}

impl End {
    /// Two ends of which nothing is known.
    pub const FREE: [End; 2] = [End { at: None, along: None }; 2];
}

/// A fitted row.
pub(crate) struct Row {
    pub cubics: Vec<[Place; 4]>,
    /// Sum of squared distances, mm^2.
    pub squares: f64,
    /// How far each place is off, mm.
    pub offs: Vec<f64>,
    /// The farthest place, and the farthest that is none of the first and last three (a corner is rounded off by blur).
    pub farthest: f64,
    pub farthest_inside: f64,
}

impl Row {
    /// Place and direction of the first (0) or last (1) end.
    pub fn end(&self, which: usize) -> [Place; 2] {
        let (at, from, to) = if which == 0 {
            let c = self.cubics.first().copied().unwrap_or_default();
            (c[0], c[0], c[1])
        } else {
            let c = self.cubics.last().copied().unwrap_or_default();
            (c[3], c[2], c[3])
        };
        let length = distance(from, to).max(1e-12);
        [at, [(to[0] - from[0]) / length, (to[1] - from[1]) / length]]
    }
}

/// A row's unknowns: at each break a place and an angle, for each curve two handles.
#[derive(Clone)]
struct Nodes {
    at: Vec<Place>,
    angle: Vec<f64>,
    handles: Vec<[f64; 2]>,
    closed: bool,
}

impl Nodes {
    fn next(&self, k: usize) -> usize {
        if self.closed { (k + 1) % self.at.len() } else { k + 1 }
    }

    fn cubic(&self, k: usize) -> [Place; 4] {
        let (i, j) = (k, self.next(k));
        let (u, v) = (unit(self.angle[i]), unit(self.angle[j]));
        let [a, b] = self.handles[k];
        let (p, q) = (self.at[i], self.at[j]);
        [p, [p[0] + a * u[0], p[1] + a * u[1]], [q[0] - b * v[0], q[1] - b * v[1]], q]
    }
}

fn unit(angle: f64) -> Place {
    [angle.cos(), angle.sin()]
}

fn across(angle: f64) -> Place {
    [-angle.sin(), angle.cos()]
}

/// Through places, a curve between each two breaks (the first and last place among them; closed, these are one). `None` where no such row is found.
pub(crate) fn fitted(places: &[Place], breaks: &[usize], ends: [End; 2], closed: bool) -> Option<Row> {
    let curves = breaks.len().checked_sub(1).filter(|&curves| curves > 0)?;
    let lengths: Vec<f64> =
        breaks.windows(2).map(|pair| places[pair[0]..=pair[1]].windows(2).map(|p| distance(p[0], p[1])).sum::<f64>().max(1e-9)).collect();
    let mut nodes = begun(places, breaks, &lengths, ends, closed);
    if curves > 1 || closed || ends[0].at.is_some() || ends[1].at.is_some() {
        shape_alone(&mut nodes, places, breaks, ends);
    }
    // A place's curve, and its share of the way along it.
    let mut shares: Vec<(usize, f64)> = Vec::with_capacity(places.len());
    for k in 0..curves {
        let mut way = 0.0;
        for i in breaks[k]..breaks[k + 1] {
            shares.push((k, way / lengths[k]));
            way += distance(places[i], places[i + 1]);
        }
    }
    shares.push((curves - 1, 1.0));
    let free = Free::new(&nodes, ends);
    let mut squares = project(&nodes, places, &mut shares);
    let mut damping = 1e-4;
    let alone = curves == 1 && !closed && ends.iter().all(|end| end.at.is_none() && end.along.is_none());
    for _ in 0..if alone { ROUNDS } else { ROW_ROUNDS } {
        let (matrix, rest) = normal_equations(&nodes, places, &shares, &free);
        let mut damped = matrix.clone();
        (0..damped.nrows()).for_each(|i| damped[(i, i)] += damping * matrix[(i, i)] + 1e-12);
        let step = damped.cholesky()?.solve(&rest);
        let (mut tried, mut moved) = (nodes.clone(), shares.clone());
        free.go(&mut tried, &step, &lengths);
        let now = project(&tried, places, &mut moved);
        if now < squares {
            let gained = squares - now;
            (nodes, shares, squares, damping) = (tried, moved, now, damping * 0.2);
            if gained < 1e-4 * now && damping < 1e-2 {
                break;
            }
        } else {
            damping *= 20.0;
        }
    }
    let cubics: Vec<[Place; 4]> = (0..curves).map(|k| nodes.cubic(k)).collect();
    let offs: Vec<f64> = places.iter().zip(&shares).map(|(p, &(k, t))| distance(*p, place(&cubics[k], t))).collect();
    let most = |offs: &[f64]| offs.iter().copied().fold(0.0, f64::max);
    let inside = if closed { &offs[..] } else { offs.get(3..offs.len().saturating_sub(3)).unwrap_or_default() };
    let (farthest, farthest_inside) = (most(&offs), most(inside));
    squares.is_finite().then_some(Row { cubics, squares, offs, farthest, farthest_inside })
}

/// The start: breaks at their places, directions by their neighbours, handles a third of the way.
fn begun(places: &[Place], breaks: &[usize], lengths: &[f64], ends: [End; 2], closed: bool) -> Nodes {
    let n = places.len() - 1;
    let count = if closed { breaks.len() - 1 } else { breaks.len() };
    let mut nodes = Nodes { at: Vec::new(), angle: Vec::new(), handles: Vec::new(), closed };
    for &at in &breaks[..count] {
        let reach = (n / 40).clamp(1, 4);
        let (a, b) = if closed {
            (places[(at + n - reach) % n], places[(at + reach) % n])
        } else {
            (places[at.saturating_sub(reach)], places[(at + reach).min(n)])
        };
        nodes.at.push(places[at]);
        nodes.angle.push((b[1] - a[1]).atan2(b[0] - a[0]));
    }
    nodes.handles = lengths.iter().map(|length| [length / 3.0; 2]).collect();
    for (i, end) in [(0, ends[0]), (count - 1, ends[1])].into_iter().filter(|_| !closed) {
        nodes.at[i] = end.at.unwrap_or(nodes.at[i]);
        nodes.angle[i] = end.along.map_or(nodes.angle[i], |along| along[1].atan2(along[0]));
    }
    nodes
}

/// Better than that: as each curve lies fitted alone.
fn shape_alone(nodes: &mut Nodes, places: &[Place], breaks: &[usize], ends: [End; 2]) {
    let mut angles: Vec<Place> = vec![[0.0; 2]; nodes.at.len()];
    for k in 0..nodes.handles.len() {
        let stretch = &places[breaks[k]..=breaks[k + 1]];
        let Some(row) = fitted(stretch, &[0, stretch.len() - 1], End::FREE, false) else { return };
        let Some([a, b, c, d]) = row.cubics.first().copied() else { return };
        nodes.handles[k] = [distance(a, b), distance(c, d)];
        for (i, which) in [(k, 0), (nodes.next(k), 1)] {
            let along = row.end(which)[1];
            angles[i] = [angles[i][0] + along[0], angles[i][1] + along[1]];
        }
    }
    let last = nodes.at.len() - 1;
    for (i, along) in angles.into_iter().enumerate() {
        let held = !nodes.closed && ((i == 0 && ends[0].along.is_some()) || (i == last && ends[1].along.is_some()));
        if !held {
            nodes.angle[i] = along[1].atan2(along[0]);
        }
    }
}

/// Which unknown stands in which row of the equations.
struct Free {
    offset: Vec<Option<usize>>,
    along: Vec<Option<usize>>,
    angle: Vec<Option<usize>>,
    handles: usize,
    count: usize,
}

impl Free {
    fn new(nodes: &Nodes, ends: [End; 2]) -> Free {
        let (n, mut count) = (nodes.at.len(), 0);
        let mut numbered = |fixed: [bool; 2]| -> Vec<Option<usize>> {
            (0..n)
                .map(|i| {
                    let held = !nodes.closed && ((i == 0 && fixed[0]) || (i == n - 1 && fixed[1]));
                    (!held).then(|| {
                        count += 1;
                        count - 1
                    })
                })
                .collect()
        };
        let offset = numbered(ends.map(|end| end.at.is_some()));
        // Joints slide; an end is where its last place is.
        let along = numbered([true; 2]);
        let angle = numbered(ends.map(|end| end.along.is_some()));
        Free { offset, along, angle, handles: count, count: count + 2 * nodes.handles.len() }
    }

    /// One step, no longer than keeps directions and handles sane.
    fn go(&self, nodes: &mut Nodes, step: &DVector<f64>, lengths: &[f64]) {
        for i in 0..nodes.at.len() {
            if let Some(row) = self.offset[i] {
                let n = across(nodes.angle[i]);
                nodes.at[i] = [nodes.at[i][0] + step[row] * n[0], nodes.at[i][1] + step[row] * n[1]];
            }
            if let Some(row) = self.along[i] {
                let (u, reach) = (unit(nodes.angle[i]), 0.1 * lengths[i.min(lengths.len() - 1)]);
                let way = step[row].clamp(-reach, reach);
                nodes.at[i] = [nodes.at[i][0] + way * u[0], nodes.at[i][1] + way * u[1]];
            }
            if let Some(row) = self.angle[i] {
                nodes.angle[i] += step[row].clamp(-0.5, 0.5);
            }
        }
        for (k, handles) in nodes.handles.iter_mut().enumerate() {
            for side in 0..2 {
                let wanted = handles[side] + step[self.handles + 2 * k + side];
                handles[side] = wanted.clamp(HANDLES[0] * lengths[k], HANDLES[1] * lengths[k]);
            }
        }
    }
}

fn normal_equations(nodes: &Nodes, places: &[Place], shares: &[(usize, f64)], free: &Free) -> (DMatrix<f64>, DVector<f64>) {
    let (mut matrix, mut rest) = (DMatrix::zeros(free.count, free.count), DVector::zeros(free.count));
    let mut entries: Vec<(usize, f64)> = Vec::with_capacity(8);
    for (p, &(k, t)) in places.iter().zip(shares) {
        let cubic = nodes.cubic(k);
        let (q, d) = (place(&cubic, t), slope(&cubic, t));
        let speed = d[0].hypot(d[1]).max(1e-12);
        let normal = [-d[1] / speed, d[0] / speed];
        let dot = |v: Place| v[0] * normal[0] + v[1] * normal[1];
        let s = 1.0 - t;
        let w = [s * s * s, 3.0 * t * s * s, 3.0 * t * t * s, t * t * t];
        let (i, j) = (k, nodes.next(k));
        let (ni, nj) = (across(nodes.angle[i]), across(nodes.angle[j]));
        let [a, b] = nodes.handles[k];
        entries.clear();
        for (row, value) in [
            (free.offset[i], (w[0] + w[1]) * dot(ni)),
            (free.offset[j], (w[2] + w[3]) * dot(nj)),
            (free.along[i], (w[0] + w[1]) * dot(unit(nodes.angle[i]))),
            (free.along[j], (w[2] + w[3]) * dot(unit(nodes.angle[j]))),
            (free.angle[i], w[1] * a * dot(ni)),
            (free.angle[j], -w[2] * b * dot(nj)),
            (Some(free.handles + 2 * k), w[1] * dot(unit(nodes.angle[i]))),
            (Some(free.handles + 2 * k + 1), -w[2] * dot(unit(nodes.angle[j]))),
        ] {
            entries.extend(row.map(|row| (row, value)));
        }
        let off = dot([p[0] - q[0], p[1] - q[1]]);
        for &(row, value) in &entries {
            rest[row] += value * off;
            entries.iter().for_each(|&(other, weight)| matrix[(row, other)] += value * weight);
        }
    }
    (matrix, rest)
}

/// Moves each place's share to its foot on the row; the sum of squared distances.
fn project(nodes: &Nodes, places: &[Place], shares: &mut [(usize, f64)]) -> f64 {
    let cubics: Vec<[Place; 4]> = (0..nodes.handles.len()).map(|k| nodes.cubic(k)).collect();
    let curves = cubics.len();
    let mut squares = 0.0;
    for (p, (k, t)) in places.iter().zip(shares) {
        for _ in 0..FEET {
            let (q, d) = (place(&cubics[*k], *t), slope(&cubics[*k], *t));
            let ahead = (p[0] - q[0]) * d[0] + (p[1] - q[1]) * d[1];
            let wanted = *t + (ahead / (d[0] * d[0] + d[1] * d[1]).max(1e-12)).clamp(-0.1, 0.1);
            // Over a joint it goes on with the next curve.
            if wanted < 0.0 && (*k > 0 || nodes.closed) {
                (*k, *t) = ((*k + curves - 1) % curves, 1.0);
            } else if wanted > 1.0 && (*k + 1 < curves || nodes.closed) {
                (*k, *t) = ((*k + 1) % curves, 0.0);
            } else {
                *t = wanted.clamp(0.0, 1.0);
            }
        }
        let q = place(&cubics[*k], *t);
        squares += (p[0] - q[0]).powi(2) + (p[1] - q[1]).powi(2);
    }
    squares
}

fn place(c: &[Place; 4], t: f64) -> Place {
    let s = 1.0 - t;
    let w = [s * s * s, 3.0 * t * s * s, 3.0 * t * t * s, t * t * t];
    [0, 1].map(|i| w.iter().zip(c).map(|(w, p)| w * p[i]).sum())
}

fn slope(c: &[Place; 4], t: f64) -> Place {
    let s = 1.0 - t;
    [0, 1].map(|i| 3.0 * (s * s * (c[1][i] - c[0][i]) + 2.0 * s * t * (c[2][i] - c[1][i]) + t * t * (c[3][i] - c[2][i])))
}
