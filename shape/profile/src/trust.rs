//! Which of a rod's two edges to believe. A polished rod mirrors the ground, and a bright band inside it or a shadow beside it can pass for an
//! edge; but where the axis lies is told by the part, which is alike on both sides, and then each edge tells the scale by itself.

use crate::joint::{Given, ViewState};
use outline::{EdgePoint, Outline};
use solve::median;

/// Which edges of the rod are believed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Trust {
    Both,
    Left,
    Right,
}

impl Trust {
    pub(crate) fn left(self) -> bool {
        self != Trust::Right
    }

    pub(crate) fn right(self) -> bool {
        self != Trust::Left
    }
}

/// Odds that an edge is another thing's: a streak inside the rod, or a shadow or the ground's grain outside of it. On the truth-known photos in
/// `cases/known` and on others of their kind one edge in ten was, nearly always inside.
const FALSE_INSIDE: f64 = 0.08;
const FALSE_OUTSIDE: f64 = 0.02;
/// An edge found along far less of the rod than its twin is false more often than not.
const FALSE_WHEN_SHORT: f64 = 0.8;
/// False edges lie at about this distance from the true one, px; some much further (half-Cauchy).
const FALSE_PX: f64 = 2.0;

/// What it costs, in the yardstick's measure (-2 ln odds), to disbelieve an edge that lies `off_px` outside of where the fit puts it, over having
/// it where it is with a bias of nothing.
pub(crate) fn disbelief(given: &Given, view: &ViewState) -> f64 {
    let (off_px, counts) = match given.trust {
        Trust::Both => return 0.0,
        Trust::Left => (view.biases_px[4], [given.rod_marks[1], given.rod_marks[0]]),
        Trust::Right => (view.biases_px[2], [given.rod_marks[0], given.rod_marks[1]]),
    };
    let short = |count: usize, twin: usize| FALSE_WHEN_SHORT * (1.0 - count as f64 / twin.max(1) as f64).clamp(0.0, 1.0).powi(2);
    let side = if off_px < 0.0 { FALSE_INSIDE } else { FALSE_OUTSIDE };
    let odds = side + 0.5 * short(counts[0], counts[1]);
    let twin = 1.0 - short(counts[1], counts[0]);
    let per_px = odds * 2.0 / (std::f64::consts::PI * FALSE_PX * (1.0 + (off_px / FALSE_PX).powi(2)));
    // The bias of a good edge: its density at nothing, of the middle; the growth along it costs neither.
    let sigma_px = given.rod_bias_sigma_px.hypot(0.1);
    let good = 1.0 / (sigma_px * (2.0 * std::f64::consts::PI).sqrt());
    (2.0 * (good / per_px / twin).ln()).max(0.0)
}

/// The middle between the part's two sides, as a line in the frame of the clicks: `w = at_entry + slope t`, px, w to the left.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Midline {
    entry: [f64; 2],
    along: [f64; 2],
    at_entry: f64,
    slope: f64,
}

/// Stations along the part at which its two sides are compared.
const STATIONS: usize = 40;

impl Midline {
    /// `None` where the two sides are seen together at too few stations.
    pub(crate) fn of(outline: &Outline) -> Option<Midline> {
        let [entry, free] = [outline.axis.rod_entry, outline.axis.free_end];
        let (dx, dy) = (free[0] - entry[0], free[1] - entry[1]);
        let length = dx.hypot(dy);
        if length.is_nan() || length <= 1.0 {
            return None;
        }
        let along = [dx / length, dy / length];
        let mut line = Midline { entry, along, at_entry: 0.0, slope: 0.0 };
        let mut sides: Vec<[(f64, usize); 2]> = vec![[(0.0, 0); 2]; STATIONS];
        for point in outline.part.iter().filter(|p| crate::single::usable(p)) {
            let [t, w] = line.place(point.at_px);
            // Where the outline runs across the axis its two sides meet and tell no middle.
            let station = t / length * STATIONS as f64;
            if !(0.0..STATIONS as f64).contains(&station) || (point.normal[0] * along[0] + point.normal[1] * along[1]).abs() > 0.9 {
                continue;
            }
            let (sum, count) = &mut sides[station as usize][usize::from(w < 0.0)];
            *sum += w;
            *count += 1;
        }
        let mean = |(sum, count): (f64, usize)| (count > 0).then(|| sum / count as f64);
        let middles: Vec<[f64; 2]> = sides
            .iter()
            .enumerate()
            .filter_map(|(k, [l, r])| Some([(k as f64 + 0.5) * length / STATIONS as f64, 0.5 * (mean(*l)? + mean(*r)?)]))
            .collect();
        if middles.len() < 8 {
            return None;
        }
        // Theil and Sen's line: the middle of all slopes, so that a third of the stations may be wrong.
        let slopes: Vec<f64> =
            middles.iter().enumerate().flat_map(|(i, a)| middles[i + 1..].iter().map(move |b| (b[1] - a[1]) / (b[0] - a[0]))).collect();
        line.slope = median(&slopes)?;
        line.at_entry = median(&middles.iter().map(|m| m[1] - line.slope * m[0]).collect::<Vec<f64>>())?;
        Some(line)
    }

    fn place(&self, q: [f64; 2]) -> [f64; 2] {
        let (x, y) = (q[0] - self.entry[0], q[1] - self.entry[1]);
        [x * self.along[0] + y * self.along[1], x * self.along[1] - y * self.along[0]]
    }

    /// An edge as it would lie on the other side of the middle.
    pub(crate) fn mirrored(&self, edge: &[EdgePoint]) -> Vec<EdgePoint> {
        let n = (1.0 + self.slope * self.slope).sqrt();
        // Unit vector square to the line, in the picture.
        let (ct, cw) = (-self.slope / n, 1.0 / n);
        let across = [ct * self.along[0] + cw * self.along[1], ct * self.along[1] - cw * self.along[0]];
        let mirror = |p: &EdgePoint| {
            let [t, w] = self.place(p.at_px);
            let off = 2.0 * (w - self.at_entry - self.slope * t) / n;
            let turned = 2.0 * (p.normal[0] * across[0] + p.normal[1] * across[1]);
            EdgePoint {
                at_px: [p.at_px[0] - off * across[0], p.at_px[1] - off * across[1]],
                normal: [p.normal[0] - turned * across[0], p.normal[1] - turned * across[1]],
                sigma_px: p.sigma_px,
            }
        };
        edge.iter().map(mirror).collect()
    }

    /// How far the middle between the rod's edges lies off this line, px; 0 where an edge is missing.
    pub(crate) fn off_px(&self, outline: &Outline) -> f64 {
        let off = |edge: &[EdgePoint]| {
            let places = edge.iter().filter(|p| crate::single::usable(p)).map(|p| self.place(p.at_px));
            median(&places.map(|[t, w]| w - self.at_entry - self.slope * t).collect::<Vec<f64>>())
        };
        let middle = off(&outline.rod_left).zip(off(&outline.rod_right)).map(|(l, r)| 0.5 * (l + r));
        middle.map_or(0.0, f64::abs)
    }
}
