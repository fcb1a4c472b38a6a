//! Rims of a plate with broken edges: the line that lies a leg inside a closed line of pieces.

use crate::SolidError;
use crate::measure::GAUSS_16;
use crate::path::{self, Sweep};
use crate::plane::Corner;
use meridian::Piece;

/// For each piece of a closed line its neighbour a leg to its left, run from where it meets the one before to where it meets the next; a step `s` of the piece faces step `s` of it.
#[derive(Clone, Debug, PartialEq)]
pub struct Rim {
    pieces: Vec<Piece>,
    spans: Vec<[f64; 2]>,
    leg_mm: f64,
}

/// A joint that bends less goes on smoothly, radians.
const SMOOTH_RAD: f64 = 1e-7;

impl Rim {
    /// # Errors
    /// A leg that leaves nothing of a piece: a round as tight as the leg, or a short piece between two corners.
    pub(crate) fn new(pieces: &[Piece], leg_mm: f64) -> Result<Rim, SolidError> {
        let count = pieces.len();
        let too_large = |piece: &Piece| {
            let at = path::at(piece, 0.5);
            SolidError::BadMeridian {
                what: format!(
                    "an edge break of {leg_mm} mm finds no room on the piece of outline at {:.1}, {:.1} mm; make it smaller",
                    at.z_mm, at.r_mm
                ),
            }
        };
        let mut spans = vec![[0.0, 1.0]; count];
        for i in 0..count {
            let next = (i + 1) % count;
            let (a, b) = (&pieces[i], &pieces[next]);
            if let Some((end, start)) = meeting(a, b, leg_mm).ok_or_else(|| too_large(a))? {
                (spans[i][1], spans[next][0]) = (end, start);
            }
        }
        let rim = Rim { pieces: pieces.to_vec(), spans, leg_mm };
        for (index, piece) in pieces.iter().enumerate() {
            let [from, to] = rim.spans[index];
            // Run backward anywhere, a piece is used up.
            let backward = (0..=32).any(|k| {
                let (_, speed) = offset(piece, from + (to - from) * f64::from(k) / 32.0, leg_mm);
                let along = path::direction(piece, f64::from(k) / 32.0);
                speed[0] * along[0] + speed[1] * along[1] <= 0.0
            });
            if to - from < 1e-6 || backward {
                return Err(too_large(piece));
            }
        }
        Ok(rim)
    }

    /// The place and its speed on the inner line that faces step `s`, 0 to 1, of a piece.
    pub fn at(&self, index: usize, s: f64) -> (Corner, Corner) {
        let [from, to] = self.spans[index];
        let (place, speed) = offset(&self.pieces[index], from + (to - from) * s, self.leg_mm);
        (place, speed.map(|v| v * (to - from)))
    }

    /// Whether a piece and its inner neighbour run side by side from end to end, as an arc and its cone do.
    pub fn is_even(&self, index: usize) -> bool {
        let [from, to] = self.spans[index];
        from.abs() < 1e-9 && (to - 1.0).abs() < 1e-9
    }

    /// Area within the line that lies a share of the leg inside, its moments about y and x, and its length: by Gauss's rule.
    pub(crate) fn sums(&self, share: f64) -> [f64; 4] {
        let mut sum = [0.0; 4];
        self.each(|weight, (place, speed), (inner, inner_speed), _| {
            let mix = |a: Corner, b: Corner| [0, 1].map(|i| (1.0 - share) * a[i] + share * b[i]);
            let ([x, y], [dx, dy]) = (mix(place, inner), mix(speed, inner_speed));
            sum[0] += weight * 0.5 * (x * dy - y * dx);
            sum[1] += weight * 0.5 * x * x * dy;
            sum[2] -= weight * 0.5 * y * y * dx;
            sum[3] += weight * dx.hypot(dy);
        });
        sum
    }

    /// Area of the broken edge: ruled from the line at one height to its inner neighbour a leg higher.
    pub(crate) fn area_mm2(&self) -> f64 {
        let leg = self.leg_mm;
        let mut sum = 0.0;
        self.each(|weight, (place, speed), (inner, inner_speed), _| {
            for (x, w) in GAUSS_16.iter().flat_map(|&(x, w)| [(x, w), (-x, w)]) {
                let share = 0.5 + 0.5 * x;
                let along = [0, 1].map(|i| (1.0 - share) * speed[i] + share * inner_speed[i]);
                let across = [inner[0] - place[0], inner[1] - place[1], leg];
                let normal = [along[1] * across[2], -along[0] * across[2], along[0] * across[1] - along[1] * across[0]];
                sum += 0.5 * w * weight * normal.iter().map(|v| v * v).sum::<f64>().sqrt();
            }
        });
        sum
    }

    fn each(&self, mut f: impl FnMut(f64, (Corner, Corner), (Corner, Corner), usize)) {
        for (index, piece) in self.pieces.iter().enumerate() {
            let parts = if path::is_line(piece) { 1 } else { 8 };
            for part in 0..parts {
                for (x, w) in GAUSS_16.iter().flat_map(|&(x, w)| [(x, w), (-x, w)]) {
                    let s = (f64::from(part) + 0.5 + 0.5 * x) / f64::from(parts);
                    let at = path::at(piece, s);
                    f(0.5 * w / f64::from(parts), ([at.z_mm, at.r_mm], path::velocity(piece, s)), self.at(index, s), index);
                }
            }
        }
    }
}

/// A place and speed of the line `leg` to the left of a piece; before and after its ends lines and arcs run on as they are, curves straight.
fn offset(piece: &Piece, t: f64, leg: f64) -> (Corner, Corner) {
    match *piece {
        Piece::Line { from, .. } => {
            let ([dx, dy], [ux, uy]) = (path::velocity(piece, 0.5), path::direction(piece, 0.5));
            ([from.z_mm + t * dx - leg * uy, from.r_mm + t * dy + leg * ux], [dx, dy])
        }
        Piece::Arc { from, to, centre, turn } => {
            let sweep = Sweep::new(from, to, centre, turn);
            let radius = sweep.radius_mm - leg * sweep.sweep_rad.signum();
            let (sin, cos) = (sweep.from_rad + t * sweep.sweep_rad).sin_cos();
            let place = [centre.z_mm + radius * cos, centre.r_mm + radius * sin];
            (place, [-radius * sweep.sweep_rad * sin, radius * sweep.sweep_rad * cos])
        }
        Piece::Curve { from, control1, control2, to } => {
            let inside = t.clamp(0.0, 1.0);
            let (at, [dx, dy], [ux, uy]) = (path::at(piece, inside), path::velocity(piece, inside), path::direction(piece, inside));
            let bend = |a: f64, b: f64, c: f64, d: f64| 6.0 * ((1.0 - inside) * (a - 2.0 * b + c) + inside * (b - 2.0 * c + d));
            let [ddx, ddy] =
                [bend(from.z_mm, control1.z_mm, control2.z_mm, to.z_mm), bend(from.r_mm, control1.r_mm, control2.r_mm, to.r_mm)];
            let curvature = (dx * ddy - dy * ddx) / dx.hypot(dy).powi(3).max(1e-12);
            let speed = [dx * (1.0 - curvature * leg), dy * (1.0 - curvature * leg)];
            ([at.z_mm - leg * uy + (t - inside) * speed[0], at.r_mm + leg * ux + (t - inside) * speed[1]], speed)
        }
    }
}

/// Where the inner neighbours of two pieces meet: steps on either, `Some(None)` where they go on smoothly, `None` where they do not meet. Newton's rule, the leg grown little by little.
fn meeting(a: &Piece, b: &Piece, leg_mm: f64) -> Option<Option<(f64, f64)>> {
    let (u, v) = (path::direction(a, 1.0), path::direction(b, 0.0));
    let bend = (u[0] * v[1] - u[1] * v[0]).atan2(u[0] * v[0] + u[1] * v[1]);
    if bend.abs() < SMOOTH_RAD {
        return Some(None);
    }
    let (mut s, mut t) = (1.0, 0.0);
    let steps = 8;
    for step in 1..=steps {
        let leg = leg_mm * f64::from(step) / f64::from(steps);
        let mut left = f64::INFINITY;
        for _ in 0..30 {
            let ((p, dp), (q, dq)) = (offset(a, s, leg), offset(b, t, leg));
            let off = [q[0] - p[0], q[1] - p[1]];
            left = off[0].hypot(off[1]);
            let det = dp[1] * dq[0] - dp[0] * dq[1];
            if left < 1e-13 || det == 0.0 {
                break;
            }
            s += (off[1] * dq[0] - off[0] * dq[1]) / det;
            t += (dp[0] * off[1] - dp[1] * off[0]) / det;
        }
        if !(left < 1e-9 && (-1.0..2.0).contains(&s) && (-1.0..2.0).contains(&t)) {
            return None;
        }
    }
    Some(Some((s, t)))
}
