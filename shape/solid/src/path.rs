//! Walking along pieces: places, directions, splitting, crossings and flattening. `t` runs from 0 at a piece's start to 1 at its end.

use meridian::{Piece, Point, Turn};
use std::f64::consts::{FRAC_PI_2, TAU};

/// Shorter pieces than this are nothing (mm): a thousandth of the roundness of a ground pin, and well above the 1e-9 mm to which centres are kept.
pub const NOTHING_MM: f64 = 1e-7;

/// A point from its two sizes, mm.
pub fn point(z_mm: f64, r_mm: f64) -> Point {
    Point { z_mm, r_mm }
}

/// Where a piece starts.
pub fn start(piece: &Piece) -> Point {
    match *piece {
        Piece::Line { from, .. } | Piece::Arc { from, .. } | Piece::Curve { from, .. } => from,
    }
}

/// Where a piece ends.
pub fn end(piece: &Piece) -> Point {
    match *piece {
        Piece::Line { to, .. } | Piece::Arc { to, .. } | Piece::Curve { to, .. } => to,
    }
}

/// How an arc lies: radius in mm, angle of its start and the angle it sweeps, radians, counter-clockwise positive with z right and r up.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sweep {
    /// Centre.
    pub centre: Point,
    /// Radius, mm: the mean of the distances of both ends.
    pub radius_mm: f64,
    /// Angle of the start, radians from +z toward +r.
    pub from_rad: f64,
    /// Signed angle travelled, radians; never 0, at most a full turn.
    pub sweep_rad: f64,
}

impl Sweep {
    /// The sweep of an arc from its ends, centre and sense.
    pub fn new(from: Point, to: Point, centre: Point, turn: Turn) -> Sweep {
        let (first, last) = (angle(centre, from), angle(centre, to));
        let mut sweep_rad = (last - first).rem_euclid(TAU);
        if sweep_rad <= 0.0 {
            sweep_rad = TAU;
        }
        if turn == Turn::Clockwise {
            sweep_rad = if sweep_rad >= TAU { -TAU } else { sweep_rad - TAU };
        }
        Sweep { centre, radius_mm: 0.5 * (distance(centre, from) + distance(centre, to)), from_rad: first, sweep_rad }
    }

    fn at(&self, t: f64) -> Point {
        let (sin, cos) = (self.from_rad + t * self.sweep_rad).sin_cos();
        point(self.centre.z_mm + self.radius_mm * cos, self.centre.r_mm + self.radius_mm * sin)
    }
}

fn angle(centre: Point, at: Point) -> f64 {
    (at.r_mm - centre.r_mm).atan2(at.z_mm - centre.z_mm)
}

/// Distance of two points, mm.
pub fn distance(a: Point, b: Point) -> f64 {
    (a.z_mm - b.z_mm).hypot(a.r_mm - b.r_mm)
}

fn mix(a: Point, b: Point, t: f64) -> Point {
    point(a.z_mm + t * (b.z_mm - a.z_mm), a.r_mm + t * (b.r_mm - a.r_mm))
}

/// The place at `t`; exactly the stored ends at 0 and 1.
pub fn at(piece: &Piece, t: f64) -> Point {
    if t <= 0.0 {
        return start(piece);
    }
    if t >= 1.0 {
        return end(piece);
    }
    match *piece {
        Piece::Line { from, to } => mix(from, to, t),
        Piece::Arc { from, to, centre, turn } => Sweep::new(from, to, centre, turn).at(t),
        Piece::Curve { from, control1, control2, to } => {
            let (a, b, c) = (mix(from, control1, t), mix(control1, control2, t), mix(control2, to, t));
            mix(mix(a, b, t), mix(b, c, t), t)
        }
    }
}

/// The place at `t`, also a little before 0 or after 1: there a piece runs on straight.
pub(crate) fn at_beyond(piece: &Piece, t: f64) -> Point {
    let inside = t.clamp(0.0, 1.0);
    let (place, [dz, dr]) = (at(piece, inside), velocity(piece, inside));
    point(place.z_mm + (t - inside) * dz, place.r_mm + (t - inside) * dr)
}

/// Change of place with `t`: `[dz/dt, dr/dt]`, mm. May vanish only where a curve's control points coincide.
pub fn velocity(piece: &Piece, t: f64) -> [f64; 2] {
    match *piece {
        Piece::Line { from, to } => [to.z_mm - from.z_mm, to.r_mm - from.r_mm],
        Piece::Arc { from, to, centre, turn } => {
            let sweep = Sweep::new(from, to, centre, turn);
            let (sin, cos) = (sweep.from_rad + t * sweep.sweep_rad).sin_cos();
            [-sweep.radius_mm * sweep.sweep_rad * sin, sweep.radius_mm * sweep.sweep_rad * cos]
        }
        Piece::Curve { from, control1, control2, to } => {
            let (u, v) = (1.0 - t, t);
            let slope = |p0: f64, p1: f64, p2: f64, p3: f64| 3.0 * (u * u * (p1 - p0) + 2.0 * u * v * (p2 - p1) + v * v * (p3 - p2));
            [slope(from.z_mm, control1.z_mm, control2.z_mm, to.z_mm), slope(from.r_mm, control1.r_mm, control2.r_mm, to.r_mm)]
        }
    }
}

/// Unit direction of travel at `t`, `[z, r]`. Where a curve stands still the direction a little further inside is taken.
pub fn direction(piece: &Piece, t: f64) -> [f64; 2] {
    for inward in [0.0, 1e-6, 1e-3] {
        let [dz, dr] = velocity(piece, t + inward * (0.5 - t).signum());
        let speed = dz.hypot(dr);
        if speed > 1e-12 {
            return [dz / speed, dr / speed];
        }
    }
    let (a, b) = (start(piece), end(piece));
    let length = distance(a, b).max(f64::MIN_POSITIVE);
    [(b.z_mm - a.z_mm) / length, (b.r_mm - a.r_mm) / length]
}

/// The same piece travelled backward.
pub fn reversed(piece: &Piece) -> Piece {
    match *piece {
        Piece::Line { from, to } => Piece::Line { from: to, to: from },
        Piece::Arc { from, to, centre, turn } => Piece::Arc { from: to, to: from, centre, turn: other(turn) },
        Piece::Curve { from, control1, control2, to } => Piece::Curve { from: to, control1: control2, control2: control1, to: from },
    }
}

fn other(turn: Turn) -> Turn {
    match turn {
        Turn::Clockwise => Turn::Counterclockwise,
        Turn::Counterclockwise => Turn::Clockwise,
    }
}

/// The two parts of a piece before and after `t`.
pub fn split(piece: &Piece, t: f64) -> (Piece, Piece) {
    let middle = at(piece, t);
    match *piece {
        Piece::Line { from, to } => (Piece::Line { from, to: middle }, Piece::Line { from: middle, to }),
        Piece::Arc { from, to, centre, turn } => {
            (Piece::Arc { from, to: middle, centre, turn }, Piece::Arc { from: middle, to, centre, turn })
        }
        Piece::Curve { from, control1, control2, to } => {
            let (a, b, c) = (mix(from, control1, t), mix(control1, control2, t), mix(control2, to, t));
            let (ab, bc) = (mix(a, b, t), mix(b, c, t));
            (Piece::Curve { from, control1: a, control2: ab, to: middle }, Piece::Curve { from: middle, control1: bc, control2: c, to })
        }
    }
}

/// The same piece from a start a rounding error away.
pub fn with_start(piece: &Piece, from: Point) -> Piece {
    match *piece {
        Piece::Line { to, .. } => Piece::Line { from, to },
        Piece::Arc { to, centre, turn, .. } => Piece::Arc { from, to, centre, turn },
        Piece::Curve { control1, control2, to, .. } => Piece::Curve { from, control1, control2, to },
    }
}

/// The piece `factor` times as large about (0, 0).
pub fn scaled(piece: &Piece, factor: f64) -> Piece {
    let grow = |p: Point| point(p.z_mm * factor, p.r_mm * factor);
    match *piece {
        Piece::Line { from, to } => Piece::Line { from: grow(from), to: grow(to) },
        Piece::Arc { from, to, centre, turn } => Piece::Arc { from: grow(from), to: grow(to), centre: grow(centre), turn },
        Piece::Curve { from, control1, control2, to } => {
            Piece::Curve { from: grow(from), control1: grow(control1), control2: grow(control2), to: grow(to) }
        }
    }
}

/// First `t` at which the piece reaches distance `r_mm` from the axis, if it does.
///
/// Lines exactly; arcs and curves by 256 looks and bisection to 1e-15 of the piece: a touch narrower than a 256th of a piece may be missed.
pub fn first_crossing(piece: &Piece, r_mm: f64) -> Option<f64> {
    let height = |t: f64| at(piece, t).r_mm - r_mm;
    if let Piece::Line { from, to } = *piece {
        let t = (r_mm - from.r_mm) / (to.r_mm - from.r_mm);
        return (0.0..=1.0).contains(&t).then_some(t);
    }
    if height(0.0) == 0.0 {
        return Some(0.0);
    }
    let looks = 256;
    let mut low = 0.0;
    for look in 1..=looks {
        let mut high = f64::from(look) / f64::from(looks);
        if height(low) * height(high) <= 0.0 {
            for _ in 0..60 {
                let middle = 0.5 * (low + high);
                if height(low) * height(middle) <= 0.0 { high = middle } else { low = middle }
            }
            return Some(0.5 * (low + high));
        }
        low = high;
    }
    None
}

/// Whether the piece is straight.
pub fn is_line(piece: &Piece) -> bool {
    matches!(piece, Piece::Line { .. })
}

/// The points a piece is stored with.
pub fn points(piece: &Piece) -> Vec<Point> {
    match *piece {
        Piece::Line { from, to } => vec![from, to],
        Piece::Arc { from, to, centre, .. } => vec![from, centre, to],
        Piece::Curve { from, control1, control2, to } => vec![from, control1, control2, to],
    }
}

/// Values of `t` among which z and r take their least and greatest values: ends and turning points. Exact for lines and arcs; for curves 1,024 looks.
pub fn extremes(piece: &Piece) -> Vec<f64> {
    match *piece {
        Piece::Line { .. } => vec![0.0, 1.0],
        Piece::Arc { from, to, centre, turn } => {
            let sweep = Sweep::new(from, to, centre, turn);
            let quarter = |n: i32| (f64::from(n) * FRAC_PI_2 - sweep.from_rad) / sweep.sweep_rad;
            [0.0, 1.0].into_iter().chain((-8..=8).map(quarter).filter(|t| (0.0..=1.0).contains(t))).collect()
        }
        Piece::Curve { .. } => (0..=1024).map(|i| f64::from(i) / 1024.0).collect(),
    }
}

/// Greatest radius of a chain at `z_mm`, over all pieces that pass there.
pub fn greatest_radius_at(pieces: &[Piece], z_mm: f64) -> Option<f64> {
    pieces.iter().flat_map(|piece| heights_at(piece, z_mm).into_iter().map(|t| at(piece, t).r_mm)).max_by(f64::total_cmp)
}

/// Values of `t` at which the piece passes `z_mm`; pieces square to the axis have none.
pub fn heights_at(piece: &Piece, z_mm: f64) -> Vec<f64> {
    // Pieces that stay clear of the place need no search; the margin is far above rounding.
    let [low_mm, high_mm] = z_hull(piece);
    if z_mm < low_mm - 1e-6 || z_mm > high_mm + 1e-6 {
        return Vec::new();
    }
    // How an arc lies is worked out once, not at each look.
    let sweep = match *piece {
        Piece::Arc { from, to, centre, turn } => Some(Sweep::new(from, to, centre, turn)),
        _ => None,
    };
    let off = |t: f64| match &sweep {
        Some(sweep) if t > 0.0 && t < 1.0 => sweep.at(t).z_mm - z_mm,
        _ => at(piece, t).z_mm - z_mm,
    };
    let looks = if is_line(piece) { 1 } else { 64 };
    let (first, last) = (off(0.0), off(1.0));
    let mut found: Vec<f64> = [(0.0, first), (1.0, last)].into_iter().filter(|(_, off)| off.abs() <= 1e-12).map(|(t, _)| t).collect();
    let mut off_low = first;
    for look in 0..looks {
        let (mut low, mut high) = (f64::from(look) / f64::from(looks), f64::from(look + 1) / f64::from(looks));
        let off_high = off(high);
        let mut here = std::mem::replace(&mut off_low, off_high);
        if here * off_high > 0.0 {
            continue;
        }
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            if middle <= low || middle >= high {
                break;
            }
            let off_middle = off(middle);
            if here * off_middle <= 0.0 { high = middle } else { (low, here) = (middle, off_middle) }
        }
        found.push(0.5 * (low + high));
    }
    found
}

/// Values of `t` at which the piece passes the radius `r_mm`, by 64 looks and bisection; a touch between two looks may be missed.
pub fn radii_at(piece: &Piece, r_mm: f64) -> Vec<f64> {
    let looks = if is_line(piece) { 1 } else { 64 };
    let off = |t: f64| at(piece, t).r_mm - r_mm;
    let mut found = Vec::new();
    for look in 0..looks {
        let (mut low, mut high) = (f64::from(look) / f64::from(looks), f64::from(look + 1) / f64::from(looks));
        if off(low) * off(high) > 0.0 {
            continue;
        }
        for _ in 0..50 {
            let middle = 0.5 * (low + high);
            if off(low) * off(middle) <= 0.0 { high = middle } else { low = middle }
        }
        found.push(0.5 * (low + high));
    }
    found
}

/// Least and greatest z that a piece can reach, mm.
fn z_hull(piece: &Piece) -> [f64; 2] {
    let (from, to) = (start(piece).z_mm, end(piece).z_mm);
    let [a, b] = match *piece {
        Piece::Line { .. } => [from, to],
        Piece::Curve { control1, control2, .. } => [control1.z_mm, control2.z_mm],
        Piece::Arc { from, to, centre, .. } => {
            let radius_mm = 0.5 * (distance(centre, from) + distance(centre, to));
            [centre.z_mm - radius_mm, centre.z_mm + radius_mm]
        }
    };
    [from.min(to).min(a).min(b), from.max(to).max(a).max(b)]
}

/// How many equal steps of `t` keep straight chords within `chord_mm` of the piece; at least 1, at most 100,000.
///
/// Arcs by the sagitta; curves by the bound |B''| / 8 on a chord's distance (de Boor, A Practical Guide to Splines).
pub fn steps_for_chord(piece: &Piece, chord_mm: f64) -> usize {
    let wanted = match *piece {
        Piece::Line { .. } => 1.0,
        Piece::Arc { from, to, centre, turn } => {
            let sweep = Sweep::new(from, to, centre, turn);
            let half = (1.0 - (chord_mm / sweep.radius_mm).min(0.5)).acos();
            (sweep.sweep_rad.abs() / (2.0 * half)).ceil()
        }
        Piece::Curve { from, control1, control2, to } => {
            let bend = |a: Point, b: Point, c: Point| (a.z_mm - 2.0 * b.z_mm + c.z_mm).hypot(a.r_mm - 2.0 * b.r_mm + c.r_mm);
            (6.0 * bend(from, control1, control2).max(bend(control1, control2, to)) / (8.0 * chord_mm)).sqrt().ceil()
        }
    };
    if wanted >= 1.0 { wanted.min(100_000.0) as usize } else { 1 }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bead() -> Piece {
        Piece::Arc { from: point(0.0, 5.0), to: point(4.0, 5.0), centre: point(2.0, 5.0), turn: Turn::Clockwise }
    }

    #[test]
    fn clockwise_goes_over_the_top_and_back() {
        let top = at(&bead(), 0.5);
        assert!(distance(top, point(2.0, 7.0)) < 1e-12);
        let back = reversed(&bead());
        assert!(distance(at(&back, 0.25), at(&bead(), 0.75)) < 1e-12);
    }

    #[test]
    fn halves_lie_on_the_whole() {
        let curve = Piece::Curve { from: point(0.0, 5.0), control1: point(2.0, 9.0), control2: point(5.0, 1.0), to: point(7.0, 4.0) };
        for piece in [bead(), curve] {
            let (left, right) = split(&piece, 0.3);
            assert!(distance(at(&left, 0.5), at(&piece, 0.15)) < 1e-12);
            assert!(distance(at(&right, 0.5), at(&piece, 0.65)) < 1e-12);
        }
    }

    #[test]
    fn chords_stay_within_their_promise() {
        let curve = Piece::Curve { from: point(0.0, 5.0), control1: point(2.0, 9.0), control2: point(5.0, 1.0), to: point(7.0, 4.0) };
        for piece in [bead(), curve] {
            for chord in [0.2, 0.01, 0.001] {
                let n = steps_for_chord(&piece, chord);
                for i in 0..n {
                    let (a, b) = (at(&piece, i as f64 / n as f64), at(&piece, (i + 1) as f64 / n as f64));
                    let m = at(&piece, (i as f64 + 0.5) / n as f64);
                    let off = ((b.z_mm - a.z_mm) * (m.r_mm - a.r_mm) - (b.r_mm - a.r_mm) * (m.z_mm - a.z_mm)).abs() / distance(a, b);
                    assert!(off <= chord * (1.0 + 1e-9), "{off} > {chord}");
                }
            }
        }
    }

    #[test]
    fn crossings_lie_at_their_height() {
        let t = first_crossing(&bead(), 6.0).expect("crosses");
        assert!((at(&bead(), t).r_mm - 6.0).abs() < 1e-12 && t < 0.5);
        assert_eq!(first_crossing(&bead(), 8.0), None);
    }
}
