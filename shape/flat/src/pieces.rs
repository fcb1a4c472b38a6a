use crate::FlatError;
use meridian::{Piece, Point, Turn};

type Place = [f64; 2];

/// Points weighed at most; denser outlines are thinned evenly.
const MOST_POINTS: usize = 360;
/// What an arc costs where a line costs 1: it must say more than one line.
const ARC_COST: f64 = 1.4;
/// Fewest points that make an arc.
const ARC_POINTS: usize = 5;

/// A closed line of places (mm) told as few lines and arcs as keep within `tolerance_mm` of it. A whole circle comes as two halves. Where nothing longer fits, short lines stay.
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
    let step = places_mm.len().div_ceil(MOST_POINTS);
    let mut places: Vec<Place> = places_mm.iter().step_by(step).copied().collect();
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
    let joints: Vec<Place> =
        (0..fits.len()).map(|i| fits[(i + fits.len() - 1) % fits.len()].meeting(&fits[i], places[cuts[i]], tolerance_mm)).collect();
    Ok((0..fits.len()).map(|i| fits[i].piece(joints[i], joints[(i + 1) % joints.len()])).collect())
}

/// Places moved at most when a cut is settled.
const SETTLE: usize = 14;

/// Within the tolerance an arc may swallow the start of a line: each cut moves to where both its pieces, of the kind they are, fit best (least squares), a few times round.
fn settle(places: &[Place], cuts: &mut [usize], tolerance: f64) {
    let kinds: Vec<bool> = cuts.windows(2).map(|pair| matches!(Fit::of(&places[pair[0]..=pair[1]], tolerance), Fit::Arc { .. })).collect();
    let off = |from: usize, to: usize, is_arc: bool| {
        let stretch = &places[from..=to];
        let fit = if is_arc { arc(stretch) } else { Some(line(stretch)) };
        fit.map_or(f64::INFINITY, |fit| stretch.iter().map(|p| fit.off(p).powi(2)).sum())
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

/// A line through two points' middle, or a circle.
#[derive(Clone, Copy, Debug)]
enum Fit {
    Line { at: Place, along: Place },
    Arc { centre: Place, radius: f64, turn: Turn },
}

impl Fit {
    /// How far a place is off it.
    fn off(&self, p: &Place) -> f64 {
        match self {
            Fit::Line { at, along } => ((p[0] - at[0]) * along[1] - (p[1] - at[1]) * along[0]).abs(),
            Fit::Arc { centre, radius, .. } => (distance(*p, *centre) - radius).abs(),
        }
    }

    fn of(places: &[Place], tolerance: f64) -> Fit {
        let line = line(places);
        let Fit::Line { at, along } = line else { return line };
        let off = |p: &Place| ((p[0] - at[0]) * along[1] - (p[1] - at[1]) * along[0]).abs();
        if places.iter().all(|p| off(p) <= tolerance) {
            return line;
        }
        arc(places).unwrap_or(line)
    }

    /// Where two fits cross nearest to a place; the place itself where they don't come near it.
    fn meeting(&self, next: &Fit, near: Place, tolerance: f64) -> Place {
        let candidates: Vec<Place> = match (self, next) {
            (Fit::Line { at: a, along: u }, Fit::Line { at: b, along: v }) => {
                let det = u[0] * v[1] - u[1] * v[0];
                let t = ((b[0] - a[0]) * v[1] - (b[1] - a[1]) * v[0]) / det;
                if det.abs() > 0.02 { vec![[a[0] + t * u[0], a[1] + t * u[1]]] } else { Vec::new() }
            }
            (Fit::Line { at, along }, Fit::Arc { centre, radius, .. }) | (Fit::Arc { centre, radius, .. }, Fit::Line { at, along }) => {
                let foot = (centre[0] - at[0]) * along[0] + (centre[1] - at[1]) * along[1];
                let foot_at = [at[0] + foot * along[0], at[1] + foot * along[1]];
                let off = distance(foot_at, *centre);
                // Tangent within the tolerance: they meet at the foot.
                let half = (radius * radius - off * off).max(0.0).sqrt();
                if (off - radius).abs() < tolerance {
                    vec![foot_at]
                } else {
                    [half, -half].map(|h| [foot_at[0] + h * along[0], foot_at[1] + h * along[1]]).to_vec()
                }
            }
            (Fit::Arc { .. }, Fit::Arc { .. }) => Vec::new(),
        };
        let nearest = candidates.into_iter().min_by(|a, b| distance(*a, near).total_cmp(&distance(*b, near)));
        // A corner may be cut off by blur: it stands farther out than its nearest place.
        nearest.filter(|at| distance(*at, near) < 12.0 * tolerance).unwrap_or(near)
    }

    fn piece(&self, from: Place, to: Place) -> Piece {
        let point = |p: Place| Point { z_mm: p[0], r_mm: p[1] };
        match *self {
            Fit::Line { .. } => Piece::Line { from: point(from), to: point(to) },
            Fit::Arc { centre, turn, .. } => {
                // Equally far from both ends: the centre moves to the middle line between them.
                let (middle, d) = ([0.5 * (from[0] + to[0]), 0.5 * (from[1] + to[1])], [to[0] - from[0], to[1] - from[1]]);
                let length = d[0].hypot(d[1]).max(1e-12);
                let up = [-d[1] / length, d[0] / length];
                let h = (centre[0] - middle[0]) * up[0] + (centre[1] - middle[1]) * up[1];
                Piece::Arc { from: point(from), to: point(to), centre: point([middle[0] + h * up[0], middle[1] + h * up[1]]), turn }
            }
        }
    }
}

fn distance(a: Place, b: Place) -> f64 {
    (a[0] - b[0]).hypot(a[1] - b[1])
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

/// The line of least squared distance.
fn line(places: &[Place]) -> Fit {
    let n = places.len() as f64;
    let at = [0, 1].map(|i| places.iter().map(|p| p[i]).sum::<f64>() / n);
    let (mut xx, mut xy, mut yy) = (0.0, 0.0, 0.0);
    for p in places {
        let (x, y) = (p[0] - at[0], p[1] - at[1]);
        (xx, xy, yy) = (xx + x * x, xy + x * y, yy + y * y);
    }
    let angle = 0.5 * (2.0 * xy).atan2(xx - yy);
    Fit::Line { at, along: [angle.cos(), angle.sin()] }
}

fn arc(places: &[Place]) -> Option<Fit> {
    let (centre, radius) = circle(places.iter())?;
    let (first, last, middle) = (places.first()?, places.last()?, places.get(places.len() / 2)?);
    let side = (last[0] - first[0]) * (middle[1] - first[1]) - (last[1] - first[1]) * (middle[0] - first[0]);
    Some(Fit::Arc { centre, radius, turn: if side < 0.0 { Turn::Counterclockwise } else { Turn::Clockwise } })
}

/// The circle of least squared algebraic distance (Kasa 1976).
fn circle<'a>(places: impl Iterator<Item = &'a Place> + Clone) -> Option<(Place, f64)> {
    let n = places.clone().count() as f64;
    let at = [0, 1].map(|i| places.clone().map(|p| p[i]).sum::<f64>() / n);
    let (mut m, mut v) = (nalgebra::Matrix2::<f64>::zeros(), nalgebra::Vector2::<f64>::zeros());
    let mut square = 0.0;
    for p in places {
        let (x, y) = (p[0] - at[0], p[1] - at[1]);
        let s = x * x + y * y;
        m += nalgebra::Matrix2::new(x * x, x * y, x * y, y * y);
        v += nalgebra::Vector2::new(x * s, y * s);
        square += s;
    }
    let c = m.try_inverse()? * v * 0.5;
    let radius = (c.norm_squared() + square / n).sqrt();
    radius.is_finite().then_some(([at[0] + c.x, at[1] + c.y], radius))
}

fn whole_circle(centre: Place, radius: f64, places: &[Place]) -> Vec<Piece> {
    let area: f64 = (0..places.len()).map(|i| (places[i], places[(i + 1) % places.len()])).map(|(a, b)| a[0] * b[1] - b[0] * a[1]).sum();
    let turn = if area > 0.0 { Turn::Counterclockwise } else { Turn::Clockwise };
    let at = |s: f64| Point { z_mm: centre[0] + s * radius, r_mm: centre[1] };
    let middle = Point { z_mm: centre[0], r_mm: centre[1] };
    [1.0, -1.0].map(|s| Piece::Arc { from: at(s), to: at(-s), centre: middle, turn }).to_vec()
}
