//! What the bench asks of a shape: diameters to turn, bar to buy, radii a tool must reach, and whether a mould lets go.

use crate::{Body, path};
use meridian::{Piece, Turn};

/// A place along the axis and the diameter to turn there.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TurningRow {
    /// From the rod end.
    pub z_mm: f64,
    /// Diameter of the outside there.
    pub diameter_mm: f64,
    /// Whether it is a corner or joint of the profile rather than an even step.
    pub joint: bool,
}

/// The part as a lathe sees it.
#[derive(Clone, Debug, PartialEq)]
pub struct Turning {
    /// Least bar: 0.5 mm over the greatest diameter, in steps of a tenth (common practice: 0.5 to 1 mm over).
    pub bar_mm: f64,
    /// Diameters at even steps and at every joint, from the rod end.
    pub rows: Vec<TurningRow>,
    /// Smallest inside radius of the outside: the tool's nose must be no larger. 0 at a sharp inside corner; `None` where nothing is hollow.
    pub smallest_inside_radius_mm: Option<f64>,
}

/// How a mould parted square to the axis at the widest place comes off along the axis.
#[derive(Clone, Debug, PartialEq)]
pub struct Pull {
    /// Where it parts: the middle of the widest stretch.
    pub parting_z_mm: f64,
    /// Stretches that hold it: something wider lies between them and their end. Empty: it comes off.
    pub undercuts_mm: Vec<[f64; 2]>,
    /// Stretches beside undercuts whose sides lean less than [`LEAST_DRAFT_DEG`]: they rub all the way out.
    pub undrafted_mm: Vec<[f64; 2]>,
    /// Least angle of the sides to the axis outside undercuts, faces left out; 0 where a cylinder is pulled.
    pub least_draft_deg: Option<f64>,
}

/// Draft that a side wants at least, degrees (trade table `draft_and_mould`: 0.5 at least, 1 usual).
pub const LEAST_DRAFT_DEG: f64 = 0.5;
/// At most this many rows and looks along the axis.
const MOST_ROWS: usize = 2_000;

impl Body {
    /// Diameters along the axis every `step_mm` (widened where that would be more than 2,000 rows), and at joints.
    pub fn turning(&self, step_mm: f64) -> Turning {
        let [low, high] = self.bounds_mm();
        let length = high[2] - low[2];
        let step = if step_mm.is_finite() && step_mm > 0.0 { step_mm.max(length / MOST_ROWS as f64) } else { length / 20.0 };
        let mut places: Vec<(f64, bool)> = (0..=(length / step) as usize).map(|i| (low[2] + step * i as f64, false)).collect();
        places.extend(self.outer().iter().flat_map(|piece| [path::start(piece), path::end(piece)]).map(|at| (at.z_mm, true)));
        places.sort_by(|a, b| a.0.total_cmp(&b.0).then(b.1.cmp(&a.1)));
        places.dedup_by(|b, a| (b.0 - a.0).abs() < 1e-6);
        let row = |(z_mm, joint): (f64, bool)| {
            // A face has many diameters at one place: its greatest is the one to turn.
            let near = [z_mm, z_mm - 1e-9, z_mm + 1e-9].into_iter().filter_map(|z| self.outer_radius_mm(z)).fold(0.0, f64::max);
            let own = self.outer_radius_mm(z_mm).filter(|own| near - own < 1e-6);
            TurningRow { z_mm, diameter_mm: 2.0 * own.unwrap_or(near), joint }
        };
        let bar_mm = ((2.0 * high[0] + 0.5) * 10.0 - 1e-9).ceil() / 10.0;
        Turning { bar_mm, rows: places.into_iter().map(row).collect(), smallest_inside_radius_mm: self.smallest_inside_radius_mm() }
    }

    fn smallest_inside_radius_mm(&self) -> Option<f64> {
        let coves = self.outer().iter().filter_map(|piece| match *piece {
            Piece::Arc { from, to, centre, turn: Turn::Counterclockwise } => {
                Some(path::Sweep::new(from, to, centre, Turn::Counterclockwise).radius_mm)
            }
            Piece::Curve { .. } => hollow_radius_mm(piece),
            _ => None,
        });
        let corners = self.outer().windows(2).filter(|pair| {
            let (before, after) = (path::direction(&pair[0], 1.0), path::direction(&pair[1], 0.0));
            before[0] * after[1] - before[1] * after[0] > 0.05
        });
        coves.chain(corners.map(|_| 0.0)).min_by(f64::total_cmp)
    }

    /// Undercuts and draft for a mould in two parts that part square to the axis at the widest place; 2,000 looks along the axis.
    pub fn pull(&self) -> Pull {
        let [low, high] = self.bounds_mm();
        let width = (high[2] - low[2]) / MOST_ROWS as f64;
        let looks: Vec<(f64, f64)> =
            (0..MOST_ROWS).map(|i| low[2] + (i as f64 + 0.5) * width).filter_map(|z| self.outer_radius_mm(z).map(|r| (z, r))).collect();
        let widest: Vec<f64> = looks.iter().filter(|(_, r)| *r > high[0] - 1e-6).map(|(z, _)| *z).collect();
        let widest =
            if widest.is_empty() { looks.iter().max_by(|a, b| a.1.total_cmp(&b.1)).map(|(z, _)| *z).into_iter().collect() } else { widest };
        // The middle of an even number of looks lies between two; of two flanges alike it is the farther one.
        let (above, below) = (widest.get(widest.len() / 2), widest.get(widest.len().saturating_sub(1) / 2));
        let parting_z_mm = match (above, below) {
            (Some(above), Some(below)) if above - below < 1.5 * width => 0.5 * (above + below),
            (above, _) => above.copied().unwrap_or(0.0),
        };
        let (mut held, mut steep, mut draft) = (vec![false; looks.len()], vec![false; looks.len()], None::<f64>);
        let split = looks.iter().position(|(z, _)| *z >= parting_z_mm).unwrap_or(0);
        // From each end inward: whatever is narrower than something already passed is held.
        let inward = [(0..split).collect::<Vec<_>>(), (split..looks.len()).rev().collect()];
        for order in inward {
            let (mut passed, mut before) = (0.0_f64, None::<f64>);
            for index in order {
                let (_, r) = looks[index];
                held[index] = r < passed - 1e-6;
                if let Some(before) = before.filter(|_| !held[index]) {
                    let angle = ((r - before) / width).atan().to_degrees();
                    steep[index] = (-1e-6..LEAST_DRAFT_DEG).contains(&angle);
                    // Steps of more than 80 degrees are faces.
                    draft = if (0.0..80.0).contains(&angle) { Some(draft.map_or(angle, |least| least.min(angle))) } else { draft };
                }
                passed = passed.max(r);
                before = Some(r);
            }
        }
        let half = 0.5 * width;
        let undrafted_mm =
            stretches(&looks, &steep, half).into_iter().filter(|[first, last]| last - first > 0.02 * (high[2] - low[2])).collect();
        Pull { parting_z_mm, undercuts_mm: stretches(&looks, &held, half), undrafted_mm, least_draft_deg: draft }
    }
}

/// Least radius of curvature where a curve is hollow, by 256 looks.
fn hollow_radius_mm(piece: &Piece) -> Option<f64> {
    let looks = 256;
    (1..looks)
        .filter_map(|i| {
            let t = f64::from(i) / f64::from(looks);
            let (a, b) = (path::direction(piece, t - 0.5 / f64::from(looks)), path::direction(piece, t + 0.5 / f64::from(looks)));
            let turn = (a[0] * b[1] - a[1] * b[0]).asin();
            let [dz, dr] = path::velocity(piece, t);
            (turn > 1e-6).then(|| dz.hypot(dr) / f64::from(looks) / turn)
        })
        .min_by(f64::total_cmp)
}

fn stretches(looks: &[(f64, f64)], held: &[bool], half: f64) -> Vec<[f64; 2]> {
    let mut found: Vec<[f64; 2]> = Vec::new();
    for ((z, _), _) in looks.iter().zip(held).filter(|(_, held)| **held) {
        match found.last_mut() {
            Some(last) if z - last[1] < 3.0 * half => last[1] = z + half,
            _ => found.push([z - half, z + half]),
        }
    }
    found
}
