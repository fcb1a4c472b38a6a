//! What a chain must hold to be a meridian.

use crate::path;
use crate::{MeridianError, Piece, Point};

/// Pieces join to this, mm.
const JOINED_MM: f64 = 1e-6;
/// Most pieces: a hundred times what a turner cuts; bounds the crossing check.
const MOST_PIECES: usize = 4096;
/// Largest coordinate, mm.
const LARGEST_MM: f64 = 1e5;

pub(crate) fn checked(pieces: &[Piece]) -> Result<(), MeridianError> {
    let (Some(first), Some(last)) = (pieces.first(), pieces.last()) else { return Err(MeridianError::Empty) };
    if pieces.len() > MOST_PIECES {
        return Err(MeridianError::TooMany { found: pieces.len(), most: MOST_PIECES });
    }
    for (i, piece) in pieces.iter().enumerate() {
        check_piece(i, piece)?;
    }
    check_ends(path::start(first), path::end(last))?;
    for (i, pair) in pieces.windows(2).enumerate() {
        let gap_mm = path::distance(path::end(&pair[0]), path::start(&pair[1]));
        if gap_mm > JOINED_MM {
            return Err(MeridianError::Gap { piece: i + 1, gap_mm });
        }
    }
    check_crossings(pieces)
}

fn check_piece(i: usize, piece: &Piece) -> Result<(), MeridianError> {
    let places: Vec<Point> = match *piece {
        Piece::Line { from, to } => vec![from, to],
        Piece::Arc { from, to, .. } => vec![from, to],
        Piece::Curve { from, control1, control2, to } => vec![from, control1, control2, to],
    };
    let is_size = |p: &Point| p.z_mm.abs() <= LARGEST_MM && p.r_mm.abs() <= LARGEST_MM;
    if !places.iter().all(is_size) {
        return Err(MeridianError::NotFinite { piece: i });
    }
    if let Piece::Arc { from, to, centre, .. } = *piece {
        // An arc may be nearly flat: its centre may lie far out, but not so far that its radius drowns the arc's own size.
        if !(centre.z_mm.abs() <= 1e3 * LARGEST_MM && centre.r_mm.abs() <= 1e3 * LARGEST_MM) {
            return Err(MeridianError::NotFinite { piece: i });
        }
        let off_mm = (path::distance(centre, from) - path::distance(centre, to)).abs();
        if off_mm > JOINED_MM {
            return Err(MeridianError::NoArc { piece: i, off_mm });
        }
    }
    let r_mm = path::extremes(piece).iter().map(|p| p.r_mm).fold(f64::INFINITY, f64::min);
    if r_mm < -JOINED_MM { Err(MeridianError::BelowAxis { piece: i, r_mm }) } else { Ok(()) }
}

fn check_ends(start: Point, end: Point) -> Result<(), MeridianError> {
    if start.z_mm.abs() > JOINED_MM || start.r_mm.abs() > JOINED_MM {
        return Err(MeridianError::OffAxis { end: "start", z_mm: start.z_mm, r_mm: start.r_mm });
    }
    if end.z_mm <= JOINED_MM || end.r_mm.abs() > JOINED_MM {
        return Err(MeridianError::OffAxis { end: "end", z_mm: end.z_mm, r_mm: end.r_mm });
    }
    Ok(())
}

/// Strict crossings of a flattened chain, by a sweep along z.
fn check_crossings(pieces: &[Piece]) -> Result<(), MeridianError> {
    let mut cuts: Vec<(usize, Point, Point)> = Vec::new();
    for (i, piece) in pieces.iter().enumerate() {
        let parts = if matches!(piece, Piece::Line { .. }) { 1 } else { 24 };
        let at = |k: usize| path::at(piece, k as f64 / parts as f64);
        cuts.extend((0..parts).map(|k| (i, at(k), at(k + 1))));
    }
    let low = |c: &(usize, Point, Point)| c.1.z_mm.min(c.2.z_mm);
    cuts.sort_by(|a, b| low(a).total_cmp(&low(b)));
    let mut open: Vec<usize> = Vec::new();
    for (n, cut) in cuts.iter().enumerate() {
        open.retain(|&k| cuts[k].1.z_mm.max(cuts[k].2.z_mm) > low(cut));
        for &k in &open {
            if cross(cuts[k].1, cuts[k].2, cut.1, cut.2) {
                let (first, second) = (cuts[k].0.min(cut.0), cuts[k].0.max(cut.0));
                return Err(MeridianError::Crossing { first, second, z_mm: low(cut) });
            }
        }
        open.push(n);
    }
    Ok(())
}

/// Whether two straight cuts cross at an inner place of both. A hair of a micrometre is no crossing: ends may be joined only to that.
fn cross(a: Point, b: Point, c: Point, d: Point) -> bool {
    let side = |p: Point, q: Point, x: Point| {
        let area = (q.z_mm - p.z_mm) * (x.r_mm - p.r_mm) - (q.r_mm - p.r_mm) * (x.z_mm - p.z_mm);
        let height = area / path::distance(p, q).max(1e-12);
        if height.abs() <= 2.0 * JOINED_MM { 0.0 } else { height.signum() }
    };
    side(a, b, c) * side(a, b, d) < 0.0 && side(c, d, a) * side(c, d, b) < 0.0
}
