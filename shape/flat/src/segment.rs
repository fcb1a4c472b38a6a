//! Lines and arcs fitted to places.

use meridian::{Piece, Point, Turn};

pub(crate) type Place = [f64; 2];

/// A line through two points' middle, or a circle.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Fit {
    Line { at: Place, along: Place },
    Arc { centre: Place, radius: f64, turn: Turn },
}

impl Fit {
    /// How far a place is off it.
    pub fn off(&self, p: &Place) -> f64 {
        match self {
            Fit::Line { at, along } => ((p[0] - at[0]) * along[1] - (p[1] - at[1]) * along[0]).abs(),
            Fit::Arc { centre, radius, .. } => (distance(*p, *centre) - radius).abs(),
        }
    }

    pub fn of(places: &[Place], tolerance: f64) -> Fit {
        let line = line(places);
        let Fit::Line { at, along } = line else { return line };
        let off = |p: &Place| ((p[0] - at[0]) * along[1] - (p[1] - at[1]) * along[0]).abs();
        if places.iter().all(|p| off(p) <= tolerance) {
            return line;
        }
        arc(places).unwrap_or(line)
    }

    /// The nearest place on it.
    pub fn foot(&self, p: Place) -> Place {
        match *self {
            Fit::Line { at, along } => {
                let way = (p[0] - at[0]) * along[0] + (p[1] - at[1]) * along[1];
                [at[0] + way * along[0], at[1] + way * along[1]]
            }
            Fit::Arc { centre, radius, .. } => {
                let off = distance(p, centre).max(1e-12);
                [0, 1].map(|i| centre[i] + radius / off * (p[i] - centre[i]))
            }
        }
    }

    /// Direction of travel at a place, the stretch run from its first place to its last.
    pub fn heading(&self, p: Place, stretch: &[Place]) -> Place {
        match *self {
            Fit::Line { along, .. } => {
                let forward =
                    stretch.first().zip(stretch.last()).is_none_or(|(a, b)| (b[0] - a[0]) * along[0] + (b[1] - a[1]) * along[1] >= 0.0);
                if forward { along } else { along.map(|x| -x) }
            }
            Fit::Arc { centre, turn, .. } => {
                let off = distance(p, centre).max(1e-12);
                let round = [-(p[1] - centre[1]) / off, (p[0] - centre[0]) / off];
                if turn == Turn::Counterclockwise { round } else { round.map(|x| -x) }
            }
        }
    }

    /// Where two fits cross nearest to a place; the place itself where they don't come near it.
    pub fn meeting(&self, next: &Fit, near: Place, tolerance: f64) -> Place {
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

    pub fn piece(&self, from: Place, to: Place) -> Piece {
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

pub(crate) fn distance(a: Place, b: Place) -> f64 {
    (a[0] - b[0]).hypot(a[1] - b[1])
}

/// Sum of squared distances of places from a fit.
pub(crate) fn off_squared(fit: &Fit, places: &[Place]) -> f64 {
    places.iter().map(|p| fit.off(p).powi(2)).sum()
}

/// The line of least squared distance.
pub(crate) fn line(places: &[Place]) -> Fit {
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

pub(crate) fn arc(places: &[Place]) -> Option<Fit> {
    let (centre, radius) = circle(places.iter())?;
    let (first, last, middle) = (places.first()?, places.last()?, places.get(places.len() / 2)?);
    let side = (last[0] - first[0]) * (middle[1] - first[1]) - (last[1] - first[1]) * (middle[0] - first[0]);
    // Of a flat arc the centre tells the sense surely, the middle place only as surely as its noise.
    let flat = radius > 2.0 * distance(*first, *last);
    let of_centre = (last[0] - first[0]) * (centre[1] - first[1]) - (last[1] - first[1]) * (centre[0] - first[0]);
    let side = if flat { -of_centre } else { side };
    Some(Fit::Arc { centre, radius, turn: if side < 0.0 { Turn::Counterclockwise } else { Turn::Clockwise } })
}

/// The circle of least squared algebraic distance (Kasa 1976).
pub(crate) fn circle<'a>(places: impl Iterator<Item = &'a Place> + Clone) -> Option<(Place, f64)> {
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
