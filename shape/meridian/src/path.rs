//! Walking along pieces: places, extremes, radii at a height, flattening, turning round and stretching.

use crate::{Piece, Point, Turn};
use std::f64::consts::{FRAC_PI_2, TAU};

pub(crate) fn point(z_mm: f64, r_mm: f64) -> Point {
    Point { z_mm, r_mm }
}

pub(crate) fn start(piece: &Piece) -> Point {
    match *piece {
        Piece::Line { from, .. } | Piece::Arc { from, .. } | Piece::Curve { from, .. } => from,
    }
}

pub(crate) fn end(piece: &Piece) -> Point {
    match *piece {
        Piece::Line { to, .. } | Piece::Arc { to, .. } | Piece::Curve { to, .. } => to,
    }
}

pub(crate) fn distance(a: Point, b: Point) -> f64 {
    (a.z_mm - b.z_mm).hypot(a.r_mm - b.r_mm)
}

/// How an arc lies; angles in radians from +z toward +r.
pub(crate) struct Sweep {
    centre: Point,
    radius_mm: f64,
    from_rad: f64,
    /// Signed; never 0.
    pub(crate) sweep_rad: f64,
}

impl Sweep {
    pub(crate) fn new(from: Point, to: Point, centre: Point, turn: Turn) -> Sweep {
        let angle = |p: Point| (p.r_mm - centre.r_mm).atan2(p.z_mm - centre.z_mm);
        let mut sweep_rad = (angle(to) - angle(from)).rem_euclid(TAU);
        if turn == Turn::Clockwise && sweep_rad > 0.0 {
            sweep_rad -= TAU;
        }
        Sweep { centre, radius_mm: 0.5 * (distance(centre, from) + distance(centre, to)), from_rad: angle(from), sweep_rad }
    }

    fn at(&self, t: f64) -> Point {
        let (sin, cos) = (self.from_rad + t * self.sweep_rad).sin_cos();
        point(self.centre.z_mm + self.radius_mm * cos, self.centre.r_mm + self.radius_mm * sin)
    }

    /// Share of the sweep at which an angle is passed, where it is.
    fn passes(&self, angle_rad: f64) -> Option<f64> {
        let ahead =
            if self.sweep_rad < 0.0 { (self.from_rad - angle_rad).rem_euclid(TAU) } else { (angle_rad - self.from_rad).rem_euclid(TAU) };
        let t = ahead / self.sweep_rad.abs();
        (t <= 1.0).then_some(t)
    }
}

/// Place at `t` in 0..=1.
pub(crate) fn at(piece: &Piece, t: f64) -> Point {
    match *piece {
        Piece::Line { from, to } => point(from.z_mm + t * (to.z_mm - from.z_mm), from.r_mm + t * (to.r_mm - from.r_mm)),
        Piece::Arc { from, to, centre, turn } => Sweep::new(from, to, centre, turn).at(t),
        Piece::Curve { from, control1, control2, to } => {
            let (u, b) = (1.0 - t, [from, control1, control2, to]);
            let w = [u * u * u, 3.0 * u * u * t, 3.0 * u * t * t, t * t * t];
            let sum = |f: fn(&Point) -> f64| b.iter().zip(w).map(|(p, w)| w * f(p)).sum::<f64>();
            point(sum(|p| p.z_mm), sum(|p| p.r_mm))
        }
    }
}

/// Derivative of the place by `t`, mm.
pub(crate) fn velocity(piece: &Piece, t: f64) -> [f64; 2] {
    match *piece {
        Piece::Line { from, to } => [to.z_mm - from.z_mm, to.r_mm - from.r_mm],
        Piece::Arc { from, to, centre, turn } => {
            let sweep = Sweep::new(from, to, centre, turn);
            let place = sweep.at(t);
            [-sweep.sweep_rad * (place.r_mm - centre.r_mm), sweep.sweep_rad * (place.z_mm - centre.z_mm)]
        }
        Piece::Curve { from, control1, control2, to } => {
            let u = 1.0 - t;
            let d = |f: fn(Point) -> f64| {
                3.0 * (u * u * (f(control1) - f(from)) + 2.0 * u * t * (f(control2) - f(control1)) + t * t * (f(to) - f(control2)))
            };
            [d(|p| p.z_mm), d(|p| p.r_mm)]
        }
    }
}

/// Ends and all places where z or r turns.
pub(crate) fn extremes(piece: &Piece) -> Vec<Point> {
    let mut places = vec![start(piece), end(piece)];
    match *piece {
        Piece::Line { .. } => {}
        Piece::Arc { from, to, centre, turn } => {
            let sweep = Sweep::new(from, to, centre, turn);
            let angles = [0.0, FRAC_PI_2, 2.0 * FRAC_PI_2, 3.0 * FRAC_PI_2];
            places.extend(angles.into_iter().filter_map(|angle| sweep.passes(angle)).map(|t| sweep.at(t)));
        }
        Piece::Curve { .. } => {
            let turns = [|p: Point| p.z_mm, |p: Point| p.r_mm].into_iter().flat_map(|f| turning_shares(piece, f));
            places.extend(turns.map(|t| at(piece, t)));
        }
    }
    places
}

/// Shares where one coordinate of a curve turns: roots of a quadratic, the stable way.
fn turning_shares(piece: &Piece, f: fn(Point) -> f64) -> Vec<f64> {
    let Piece::Curve { from, control1, control2, to } = *piece else { return Vec::new() };
    let (d0, d1, d2) = (f(control1) - f(from), f(control2) - f(control1), f(to) - f(control2));
    let (a, b, c) = (d0 - 2.0 * d1 + d2, d1 - d0, d0);
    let discriminant = b * b - a * c;
    if discriminant < 0.0 {
        return Vec::new();
    }
    let q = -(b + discriminant.sqrt().copysign(b));
    let mut roots: Vec<f64> = [q / a, c / q].into_iter().filter(|t| *t > 0.0 && *t < 1.0).collect();
    roots.sort_by(f64::total_cmp);
    roots
}

/// All radii of a piece at a height; both ends of a face.
pub(crate) fn radii_at(piece: &Piece, z_mm: f64) -> Vec<f64> {
    match *piece {
        Piece::Line { from, to } => {
            if from.z_mm == to.z_mm {
                return if z_mm == from.z_mm { vec![from.r_mm, to.r_mm] } else { Vec::new() };
            }
            let t = (z_mm - from.z_mm) / (to.z_mm - from.z_mm);
            if (0.0..=1.0).contains(&t) { vec![from.r_mm + t * (to.r_mm - from.r_mm)] } else { Vec::new() }
        }
        Piece::Arc { from, to, centre, turn } => {
            let sweep = Sweep::new(from, to, centre, turn);
            let cos = (z_mm - centre.z_mm) / sweep.radius_mm;
            let mut found: Vec<f64> = [from, to].iter().filter(|p| p.z_mm == z_mm).map(|p| p.r_mm).collect();
            if cos.abs() <= 1.0 {
                let angle = cos.acos();
                found.extend([angle, -angle].into_iter().filter_map(|a| sweep.passes(a)).map(|t| sweep.at(t).r_mm));
            }
            found
        }
        Piece::Curve { .. } => curve_radii(piece, z_mm),
    }
}

/// Bisection between the places where z turns.
fn curve_radii(piece: &Piece, z_mm: f64) -> Vec<f64> {
    let stops: Vec<f64> = [0.0].into_iter().chain(turning_shares(piece, |p| p.z_mm)).chain([1.0]).collect();
    let off = |t: f64| at(piece, t).z_mm - z_mm;
    let mut found = Vec::new();
    for pair in stops.windows(2) {
        let (mut a, mut b) = (pair[0], pair[1]);
        if off(a) * off(b) > 0.0 {
            continue;
        }
        for _ in 0..60 {
            let middle = 0.5 * (a + b);
            if off(a) * off(middle) <= 0.0 { b = middle } else { a = middle }
        }
        found.push(at(piece, 0.5 * (a + b)).r_mm);
    }
    found
}

/// Parts into which a piece is cut so that chords stay within `chord_mm`; 1..=4096.
pub(crate) fn parts_for_chord(piece: &Piece, chord_mm: f64) -> usize {
    let parts = match *piece {
        Piece::Line { .. } => 1.0,
        Piece::Arc { from, to, centre, turn } => {
            let sweep = Sweep::new(from, to, centre, turn);
            // Sagitta R (1 - cos(a/2)) <= chord.
            let step = 2.0 * (1.0 - (chord_mm / sweep.radius_mm.max(1e-12)).min(1.0)).acos();
            sweep.sweep_rad.abs() / step.max(1e-6)
        }
        Piece::Curve { from, control1, control2, to } => {
            // A chord of a cubic over a share h leaves it by at most h^2 / 8 max |B''|.
            let bend = |a: Point, b: Point, c: Point| 6.0 * (a.z_mm - 2.0 * b.z_mm + c.z_mm).hypot(a.r_mm - 2.0 * b.r_mm + c.r_mm);
            (bend(from, control1, control2).max(bend(control1, control2, to)) / (8.0 * chord_mm)).sqrt()
        }
    };
    parts.ceil().clamp(1.0, 4096.0) as usize
}

/// A piece walked backward and mirrored in z, so that what was at `end_mm` comes to 0.
pub(crate) fn reversed(piece: &Piece, end_mm: f64) -> Piece {
    let m = |p: Point| point(end_mm - p.z_mm, p.r_mm);
    match *piece {
        Piece::Line { from, to } => Piece::Line { from: m(to), to: m(from) },
        // Walking backward and mirroring each turn the sense once: it stays.
        Piece::Arc { from, to, centre, turn } => Piece::Arc { from: m(to), to: m(from), centre: m(centre), turn },
        Piece::Curve { from, control1, control2, to } => {
            Piece::Curve { from: m(to), control1: m(control2), control2: m(control1), to: m(from) }
        }
    }
}

/// A piece stretched; an arc may come back as several curves.
pub(crate) fn scaled(piece: &Piece, factor_z: f64, factor_r: f64) -> Vec<Piece> {
    let m = |p: Point| point(p.z_mm * factor_z, p.r_mm * factor_r);
    match *piece {
        Piece::Line { from, to } => vec![Piece::Line { from: m(from), to: m(to) }],
        Piece::Curve { from, control1, control2, to } => {
            vec![Piece::Curve { from: m(from), control1: m(control1), control2: m(control2), to: m(to) }]
        }
        Piece::Arc { from, to, centre, turn } if (factor_z - factor_r).abs() <= 1e-12 * factor_z => {
            vec![Piece::Arc { from: m(from), to: m(to), centre: m(centre), turn }]
        }
        Piece::Arc { from, to, centre, turn } => {
            let sweep = Sweep::new(from, to, centre, turn);
            let parts = (sweep.sweep_rad.abs() / (TAU / 16.0)).ceil().clamp(1.0, 16.0) as usize;
            let step = sweep.sweep_rad / parts as f64;
            // The usual cubic of an arc: handles of 4/3 tan(step / 4) radii.
            let handle = 4.0 / 3.0 * (0.25 * step).tan();
            (0..parts)
                .map(|i| {
                    let (t0, t1) = (i as f64 / parts as f64, (i + 1) as f64 / parts as f64);
                    let a = if i == 0 { from } else { sweep.at(t0) };
                    let b = if i + 1 == parts { to } else { sweep.at(t1) };
                    let along = |p: Point, sign: f64| {
                        point(p.z_mm - sign * handle * (p.r_mm - centre.r_mm), p.r_mm + sign * handle * (p.z_mm - centre.z_mm))
                    };
                    Piece::Curve { from: m(a), control1: m(along(a, 1.0)), control2: m(along(b, -1.0)), to: m(b) }
                })
                .collect()
        }
    }
}
