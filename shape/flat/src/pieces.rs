use crate::FlatError;
use crate::curves::{self, Span, Told};
use crate::segment::{Fit, Place, arc, circle, distance, line, off_squared};
use meridian::{Piece, Point, Turn};

/// Points weighed at most; denser outlines are thinned evenly.
const MOST_POINTS: usize = 360;
/// What an arc costs where a line costs 1: it must say more than one line.
const ARC_COST: f64 = 1.4;
/// Fewest points that make an arc.
const ARC_POINTS: usize = 5;

/// A closed line of places (mm) told as few lines, arcs and curves as keep within `tolerance_mm` of it. A whole circle comes as two halves. Where nothing longer fits, short lines stay.
///
/// The cheapest cut into pieces by dynamic programming over all pairs of places; each piece is then fitted to its own places, and neighbours meet where their fits cross.
///
/// # Errors
/// Fewer than three places, or places that are none.
pub fn pieces(places_mm: &[Place], tolerance_mm: f64) -> Result<Vec<Piece>, FlatError> {
    if places_mm.len() < 3 || places_mm.len() > 1_000_000 || !places_mm.iter().flatten().all(|x| x.abs() < 1e5) {
        return Err(FlatError::outline("an outline of three or more finite places was expected"));
    }
    if !(tolerance_mm.is_finite() && tolerance_mm > 0.0) {
        return Err(FlatError::outline("the tolerance is no size"));
    }
    let mut places = thinned(places_mm, tolerance_mm);
    places.dedup();
    if places.len() >= 8
        && let Some((centre, radius)) = circle(places.iter())
        && places.iter().all(|p| (distance(*p, centre) - radius).abs() <= tolerance_mm)
        && hugs(&places, centre, radius, tolerance_mm)
    {
        return Ok(whole_circle(centre, radius, &places));
    }
    // The cut begins at the sharpest corner, where a piece surely ends.
    let sharpest = (0..places.len()).max_by(|&a, &b| bend(&places, a).total_cmp(&bend(&places, b))).unwrap_or(0);
    places.rotate_left(sharpest);
    places.push(places[0]);
    let first = cheapest(&places, tolerance_mm);
    // A smooth outline has no sharpest corner: where it was begun is then no end of a piece. It is cut anew from an end that was found.
    if let Some(&found) = first.get(1).filter(|_| first.len() > 2) {
        places.pop();
        let count = places.len();
        places.rotate_left(found % count);
        places.push(places[0]);
    }
    let mut cuts = cheapest(&places, tolerance_mm);
    settle(&places, &mut cuts, tolerance_mm);
    let fits: Vec<Fit> = cuts.windows(2).map(|pair| Fit::of(&places[pair[0]..=pair[1]], tolerance_mm)).collect();
    let row = curves::plain(&places, &cuts, &fits);
    let mut turned = places.clone();
    let spans = curves::chosen(&mut turned, row.clone(), tolerance_mm);
    // Where a row of curves cannot keep near and flow, the outline stays lines and arcs.
    match curves::smooth(&turned, &spans, tolerance_mm) {
        Some(told) => Ok(joined(&turned, &spans, &told, tolerance_mm)),
        None => Ok(joined(&places, &row, &Told::none(row.len()), tolerance_mm)),
    }
}

/// Every so many places, and the tips of corners between them: cut off, a corner would be two with a short line.
fn thinned(places: &[Place], tolerance: f64) -> Vec<Place> {
    let (n, step) = (places.len(), places.len().div_ceil(MOST_POINTS));
    let off = |i: usize| {
        let (a, b) = (places[(i + n - step) % n], places[(i + step) % n]);
        let (u, v) = ([b[0] - a[0], b[1] - a[1]], [places[i][0] - a[0], places[i][1] - a[1]]);
        (u[0] * v[1] - u[1] * v[0]).abs() / u[0].hypot(u[1]).max(1e-12)
    };
    let is_tip =
        |i: usize| step > 1 && off(i) > tolerance && (1..step).all(|k| off((i + k) % n) <= off(i) && off((i + n - k) % n) < off(i));
    (0..n).filter(|&i| i % step == 0 || is_tip(i)).map(|i| places[i]).collect()
}

/// The spans as pieces that meet: curves where they were laid, lines and arcs where their fits cross.
fn joined(places: &[Place], spans: &[Span], told: &Told, tolerance_mm: f64) -> Vec<Piece> {
    let count = spans.len();
    let joint = |i: usize| {
        told.joints[i].unwrap_or_else(|| match (spans[(i + count - 1) % count].fit, spans[i].fit) {
            (Some(before), Some(own)) => before.meeting(&own, places[spans[i].first], tolerance_mm),
            _ => places[spans[i].first],
        })
    };
    let joints: Vec<Place> = (0..count).map(joint).collect();
    let point = |p: Place| Point { z_mm: p[0], r_mm: p[1] };
    let piece = |i: usize| {
        let (from, to) = (joints[i], joints[(i + 1) % count]);
        match (spans[i].fit, told.cubics[i]) {
            (Some(fit), _) => fit.piece(from, to),
            (None, Some([_, a, b, _])) => Piece::Curve { from: point(from), control1: point(a), control2: point(b), to: point(to) },
            (None, None) => Piece::Line { from: point(from), to: point(to) },
        }
    };
    (0..count).map(piece).collect()
}

/// Places moved at most when a cut is settled.
const SETTLE: usize = 14;

/// Within the tolerance an arc may swallow the start of a line: each cut moves to where both its pieces, of the kind they are, fit best (least squares), a few times round.
fn settle(places: &[Place], cuts: &mut [usize], tolerance: f64) {
    let kinds: Vec<bool> = cuts.windows(2).map(|pair| matches!(Fit::of(&places[pair[0]..=pair[1]], tolerance), Fit::Arc { .. })).collect();
    let off = |from: usize, to: usize, is_arc: bool| {
        let stretch = &places[from..=to];
        let fit = if is_arc { arc(stretch) } else { Some(line(stretch)) };
        fit.map_or(f64::INFINITY, |fit| off_squared(&fit, stretch))
    };
    for _ in 0..4 {
        for i in 1..cuts.len().saturating_sub(1) {
            let (before, after) = (cuts[i - 1], cuts[i + 1]);
            let least = |is_arc: bool| if is_arc { ARC_POINTS - 1 } else { 1 };
            let (low, high) = (before + least(kinds[i - 1]), after.saturating_sub(least(kinds[i])));
            let reach = cuts[i].saturating_sub(SETTLE).max(low)..=(cuts[i] + SETTLE).min(high);
            let cost = |at: &usize| off(before, *at, kinds[i - 1]) + off(*at, after, kinds[i]);
            if let Some(best) = reach.min_by(|a, b| cost(a).total_cmp(&cost(b))) {
                cuts[i] = best;
            }
        }
    }
}

/// How sharply a closed line bends at a place, over a few places to either side.
fn bend(places: &[Place], at: usize) -> f64 {
    let (n, reach) = (places.len(), (places.len() / 60).max(1));
    let (a, b, c) = (places[(at + n - reach) % n], places[at], places[(at + reach) % n]);
    let (u, v) = ([b[0] - a[0], b[1] - a[1]], [c[0] - b[0], c[1] - b[1]]);
    (u[0] * v[1] - u[1] * v[0]).atan2(u[0] * v[0] + u[1] * v[1]).abs()
}

/// Places where the cheapest row of pieces is cut, first and last included.
fn cheapest(places: &[Place], tolerance: f64) -> Vec<usize> {
    let n = places.len();
    let mut best: Vec<(f64, usize)> = vec![(f64::INFINITY, 0); n];
    best[0] = (0.0, 0);
    for from in 0..n - 1 {
        let mut misses = 0;
        for to in from + 1..n {
            let stretch = &places[from..=to];
            let own = if fits_chord(stretch, tolerance) {
                1.0
            } else if stretch.len() >= ARC_POINTS && fits_arc(stretch, tolerance) {
                ARC_COST
            } else {
                misses += 1;
                // Noise may spoil one length and not the next; a long row of misses is the end of the piece.
                if misses > 12 {
                    break;
                }
                continue;
            };
            misses = 0;
            if best[from].0 + own < best[to].0 - 1e-12 {
                best[to] = (best[from].0 + own, from);
            }
        }
    }
    let (mut cuts, mut here) = (vec![n - 1], n - 1);
    while here > 0 {
        here = best[here].1;
        cuts.push(here);
    }
    cuts.reverse();
    cuts
}

fn fits_chord(places: &[Place], tolerance: f64) -> bool {
    let Fit::Line { at, along } = line(places) else { return false };
    places.iter().all(|p| ((p[0] - at[0]) * along[1] - (p[1] - at[1]) * along[0]).abs() <= tolerance)
}

fn fits_arc(places: &[Place], tolerance: f64) -> bool {
    let Some(Fit::Arc { centre, radius, .. }) = arc(places) else { return false };
    let near = |p: &Place| (distance(*p, centre) - radius).abs() <= tolerance;
    radius < 1e4 && places.iter().all(near) && hugs(places, centre, radius, tolerance)
}

/// Whether the straight steps between places stay near the circle too: four corners of a square lie on one, but are none.
fn hugs(places: &[Place], centre: Place, radius: f64, tolerance: f64) -> bool {
    let middle = |pair: &[Place]| [0.5 * (pair[0][0] + pair[1][0]), 0.5 * (pair[0][1] + pair[1][1])];
    places.windows(2).all(|pair| (distance(middle(pair), centre) - radius).abs() <= 2.0 * tolerance)
}

fn whole_circle(centre: Place, radius: f64, places: &[Place]) -> Vec<Piece> {
    let area: f64 = (0..places.len()).map(|i| (places[i], places[(i + 1) % places.len()])).map(|(a, b)| a[0] * b[1] - b[0] * a[1]).sum();
    let turn = if area > 0.0 { Turn::Counterclockwise } else { Turn::Clockwise };
    let at = |s: f64| Point { z_mm: centre[0] + s * radius, r_mm: centre[1] };
    let middle = Point { z_mm: centre[0], r_mm: centre[1] };
    [1.0, -1.0].map(|s| Piece::Arc { from: at(s), to: at(-s), centre: middle, turn }).to_vec()
}
