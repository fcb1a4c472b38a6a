use crate::SolidError;
use crate::path;
use meridian::{Piece, Point};

/// The thinnest place between bore and outside.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Wall {
    /// Thickness there.
    pub thickness_mm: f64,
    /// On the bore's side.
    pub inside: Point,
    /// On the outside.
    pub outside: Point,
}

/// Thinnest wall between the bore's wall `inner` and the outside `outer`, which follow each other in one chain (closed if `through`).
///
/// At a rim the two meet, so the bare distance falls to 0 on every part. A pair of points counts as wall only where the straight way through the material is
/// under 0.4 of the way along the surface round the rim: rims blunter than 47 degrees (2 asin 0.4) are edges, sharper ones are walls that run out. `None` where nothing counts.
/// Good to 1e-3 of the part's size before, 1e-6 after refining; test `wall_of_a_bush`.
pub(crate) fn thinnest(inner: &[Piece], outer: &[Piece], through: bool) -> Option<Wall> {
    let along: f64 = inner.iter().chain(outer).map(rough_length).sum();
    let step = along / 1200.0;
    let (inside, inner_length) = looks(inner, step, 0.0);
    let (outside, total) = looks(outer, step, inner_length);
    let mut best: Option<(f64, Look, Look)> = None;
    for &a in &inside {
        for &b in &outside {
            // Squares are quick and tell nearly all apart; a hair's breadth is left for their rounding.
            let square = (a.at.z_mm - b.at.z_mm).powi(2) + (a.at.r_mm - b.at.r_mm).powi(2);
            if best.is_some_and(|(found, _, _)| square > found * found * (1.0 + 1e-9)) {
                continue;
            }
            let straight = path::distance(a.at, b.at);
            if best.is_none_or(|(found, _, _)| straight < found) && counts(straight, b.along - a.along, total, through) {
                best = Some((straight, a, b));
            }
        }
    }
    let (_, a, b) = best?;
    Some(refine((inner.get(a.piece)?, a), (outer.get(b.piece)?, b), |straight, way| counts(straight, way, total, through)))
}

fn counts(straight: f64, way: f64, total: f64, through: bool) -> bool {
    let round = if through { way.min(total - way) } else { way };
    2.5 * straight < round
}

/// Refuses a bore that leaves the material: every look at the bore's wall must lie inside the outside, and none of the outside within the bore.
pub(crate) fn check_inside(inner: &[Piece], outer: &[Piece], outside: &[Piece]) -> Result<(), SolidError> {
    let step = outside.iter().map(rough_length).sum::<f64>() / 2000.0;
    let whole = polygon(outside, step);
    let escaped = looks(inner, step, 0.0).0.into_iter().map(|look| look.at).find(|&at| !contains(&whole, at));
    let void = polygon(inner, step);
    let invaded = || looks(outer, step, 0.0).0.into_iter().map(|look| look.at).find(|&at| contains(&void, at));
    match escaped.or_else(invaded) {
        Some(at) => Err(SolidError::BreaksThrough { z_mm: at.z_mm, r_mm: at.r_mm }),
        None => Ok(()),
    }
}

#[derive(Clone, Copy)]
struct Look {
    piece: usize,
    t: f64,
    at: Point,
    along: f64,
}

/// Points inside each piece about `step` apart, with their way along the chain; and the chain's length on top of `from`.
fn looks(pieces: &[Piece], step: f64, from: f64) -> (Vec<Look>, f64) {
    let (mut found, mut along) = (Vec::new(), from);
    for (piece, what) in pieces.iter().enumerate() {
        let length = rough_length(what);
        let count = (length / step).ceil().clamp(8.0, 1200.0) as usize;
        for i in 0..count {
            let t = (i as f64 + 0.5) / count as f64;
            found.push(Look { piece, t, at: path::at(what, t), along: along + t * length });
        }
        along += length;
    }
    (found, along)
}

/// Length by 32 chords: good to 0.2 % for a full circle, enough to space looks.
fn rough_length(piece: &Piece) -> f64 {
    (0..32).map(|i| path::distance(path::at(piece, f64::from(i) / 32.0), path::at(piece, f64::from(i + 1) / 32.0))).sum()
}

/// Shrinks a window round a pair of places until the distance stands still, never leaving what counts as wall.
fn refine((inner, a): (&Piece, Look), (outer, b): (&Piece, Look), counts: impl Fn(f64, f64) -> bool) -> Wall {
    let (inner_length, outer_length) = (rough_length(inner), rough_length(outer));
    let (mut best, mut window) = ((path::distance(a.at, b.at), a.t, b.t), 0.02);
    for _ in 0..40 {
        let middle = best;
        for (i, j) in (-2..=2).flat_map(|i| (-2..=2).map(move |j| (f64::from(i), f64::from(j)))) {
            let (p, q) = ((middle.1 + window * i).clamp(0.0, 1.0), (middle.2 + window * j).clamp(0.0, 1.0));
            let straight = path::distance(path::at(inner, p), path::at(outer, q));
            let way = b.along + (q - b.t) * outer_length - a.along - (p - a.t) * inner_length;
            if straight < best.0 && counts(straight, way) {
                best = (straight, p, q);
            }
        }
        window *= 0.65;
    }
    Wall { thickness_mm: best.0, inside: path::at(inner, best.1), outside: path::at(outer, best.2) }
}

fn polygon(pieces: &[Piece], step: f64) -> Vec<Point> {
    let mut corners: Vec<Point> = pieces.first().map(path::start).into_iter().collect();
    for piece in pieces {
        let count = if matches!(piece, Piece::Line { .. }) { 1 } else { (rough_length(piece) / step).ceil().clamp(8.0, 1200.0) as usize };
        corners.extend((1..=count).map(|i| path::at(piece, i as f64 / count as f64)));
    }
    // Closed down to the axis, where both ends of a chain that does not close itself belong.
    if let (Some(first), Some(last)) = (corners.first().copied(), corners.last().copied()) {
        corners.push(Point { r_mm: 0.0, ..last });
        corners.push(Point { r_mm: 0.0, ..first });
    }
    corners
}

fn contains(polygon: &[Point], at: Point) -> bool {
    let mut inside = false;
    let Some(mut next) = polygon.first().copied() else { return false };
    // Backward, so that each corner knows the one after it, and the last the first.
    for &a in polygon.iter().rev() {
        let b = std::mem::replace(&mut next, a);
        if (a.z_mm > at.z_mm) != (b.z_mm > at.z_mm) {
            let r = a.r_mm + (at.z_mm - a.z_mm) / (b.z_mm - a.z_mm) * (b.r_mm - a.r_mm);
            if r > at.r_mm {
                inside = !inside;
            }
        }
    }
    inside
}
