//! Chosen round sizes hold exactly; the rest moves as its covariance allows.

use crate::trace::{square_at, within};
use crate::types::{NamedSize, Profile, SizeKind};
use meridian::{Meridian, Piece, Point, Turn};
use nalgebra::{DMatrix, DVector};

/// The profile with some of its dimensions set to chosen values (index into `dimensions`, mm). The other dimensions take their expected values
/// given the chosen ones (conditional mean of a normal distribution), and the meridian is bent to all of them. Indices that do not exist and
/// values that are no sizes are left aside; where the bent chain would be no meridian, the unbent one stays.
#[must_use]
pub fn refit(profile: &Profile, chosen: &[(usize, f64)]) -> Profile {
    let usable: Vec<(usize, f64)> =
        chosen.iter().copied().filter(|&(i, mm)| i < profile.dimensions.len() && mm > 0.0 && mm < 1e4).collect();
    if usable.is_empty() {
        return profile.clone();
    }
    let Some((values, covariance)) = conditional(profile, &usable) else { return profile.clone() };
    bent(profile, &values, covariance).unwrap_or_else(|| profile.clone())
}

/// The profile with other values of its dimensions; `None` where the chain would be no meridian.
pub(crate) fn bent(profile: &Profile, values: &DVector<f64>, covariance: DMatrix<f64>) -> Option<Profile> {
    let bend = Bend::new(&profile.dimensions, values, &covariance);
    let length_mm = bend.height(profile.meridian.pieces().last().map_or(0.0, end_z));
    let meridian = Meridian::new(within(bend.pieces(profile.meridian.pieces()), length_mm)).ok()?;
    let mut bent = Profile { meridian, ..profile.clone() };
    for (point, old) in bent.points.iter_mut().zip(&profile.points) {
        let new = bend.place(Point { z_mm: old.z_mm, r_mm: old.r_mm });
        (point.z_mm, point.r_mm) = (new.z_mm, new.r_mm);
    }
    for (i, size) in bent.dimensions.iter_mut().enumerate() {
        size.value_mm = values[i];
        size.sigma_mm = covariance[(i, i)].max(0.0).sqrt();
        size.z_mm = size.z_mm.map(|z| bend.height(z));
    }
    bent.covariance = covariance;
    Some(bent)
}

fn conditional(profile: &Profile, chosen: &[(usize, f64)]) -> Option<(DVector<f64>, DMatrix<f64>)> {
    let n = profile.dimensions.len();
    let c = &profile.covariance;
    let mut values = DVector::from_iterator(n, profile.dimensions.iter().map(|d| d.value_mm));
    let k = chosen.len();
    // A hair keeps sizes that say the same (a cylinder that is also the greatest diameter) solvable.
    let own = DMatrix::from_fn(k, k, |a, b| {
        c[(chosen[a].0, chosen[b].0)] + if a == b { 1e-9 + 1e-6 * c[(chosen[a].0, chosen[a].0)] } else { 0.0 }
    });
    let cross = DMatrix::from_fn(n, k, |i, b| c[(i, chosen[b].0)]);
    let off = DVector::from_iterator(k, chosen.iter().map(|&(i, mm)| mm - profile.dimensions[i].value_mm));
    let gain = &cross * own.try_inverse()?;
    values += &gain * off;
    let mut covariance = c - &gain * cross.transpose();
    for &(i, mm) in chosen {
        // The same size under another name (a cylinder that is the greatest diameter) follows, unless it was chosen itself.
        let own = &profile.dimensions[i];
        let twin = |k: usize| {
            profile.dimensions[k].kind == own.kind
                && profile.dimensions[k].z_mm == own.z_mm
                && profile.dimensions[k].value_mm == own.value_mm
        };
        for k in (0..n).filter(|&k| k == i || (twin(k) && !chosen.iter().any(|c| c.0 == k))) {
            values[k] = mm;
            covariance.row_mut(k).fill(0.0);
            covariance.column_mut(k).fill(0.0);
        }
    }
    values.iter().chain(covariance.iter()).all(|x| x.is_finite()).then_some((values, covariance))
}

fn end_z(piece: &Piece) -> f64 {
    match piece {
        Piece::Line { to, .. } | Piece::Arc { to, .. } | Piece::Curve { to, .. } => to.z_mm,
    }
}

/// How places move: heights by a broken line through all positions and lengths, radii by factors that hold exactly on each diameter.
struct Bend {
    heights: Vec<[f64; 2]>,
    factors: Vec<([f64; 2], f64, f64)>,
}

impl Bend {
    fn new(sizes: &[NamedSize], values: &DVector<f64>, covariance: &DMatrix<f64>) -> Bend {
        let mut heights: Vec<[f64; 2]> = vec![[0.0, 0.0]];
        let sure = |i: usize| covariance[(i, i)];
        let of = |kind: SizeKind| sizes.iter().zip(values).enumerate().filter(move |(_, (s, _))| s.kind == kind);
        if let Some((_, (size, value))) = of(SizeKind::Length).next() {
            place(&mut heights, size.z_mm[1], *value);
        }
        // Sizes that were chosen or are best known come first: what would cross them gives way.
        let mut positions: Vec<_> = of(SizeKind::Position).collect();
        positions.sort_by(|a, b| sure(a.0).total_cmp(&sure(b.0)));
        for (_, (size, value)) in positions {
            place(&mut heights, size.value_mm, *value);
        }
        let mut lengths: Vec<_> = of(SizeKind::Length).skip(1).collect();
        lengths.sort_by(|a, b| sure(a.0).total_cmp(&sure(b.0)));
        for (_, (size, value)) in lengths {
            let to = broken_line(&heights, size.z_mm[0]) + value;
            place(&mut heights, size.z_mm[1], to);
        }
        let diameters = sizes.iter().zip(values).filter(|(s, _)| s.kind == SizeKind::Diameter && s.value_mm > 0.0);
        let factors = diameters.map(|(s, value)| (s.z_mm, 0.5 * s.value_mm, value / s.value_mm)).collect();
        Bend { heights, factors }
    }

    fn height(&self, z: f64) -> f64 {
        broken_line(&self.heights, z)
    }

    fn place(&self, p: Point) -> Point {
        let mut sum = (0.0, 0.0);
        for &(z, r, factor) in &self.factors {
            let aside = (z[0] - p.z_mm).max(p.z_mm - z[1]).max(0.0);
            let weight = 1.0 / (aside * aside + (p.r_mm - r).powi(2) + 1e-12);
            sum = (sum.0 + weight * factor, sum.1 + weight);
        }
        Point { z_mm: self.height(p.z_mm), r_mm: if sum.1 > 0.0 { p.r_mm * sum.0 / sum.1 } else { p.r_mm } }
    }

    fn pieces(&self, pieces: &[Piece]) -> Vec<Piece> {
        pieces
            .iter()
            .map(|piece| match *piece {
                Piece::Line { from, to } => Piece::Line { from: self.place(from), to: self.place(to) },
                Piece::Curve { from, control1, control2, to } => Piece::Curve {
                    from: self.place(from),
                    control1: self.place(control1),
                    control2: self.place(control2),
                    to: self.place(to),
                },
                Piece::Arc { from, to, centre, turn } => self.arc(from, to, centre, turn),
            })
            .collect()
    }

    /// An arc through its moved ends. One that ends square to the radius (a bead cut at its widest) or stands about the axis keeps that; else it
    /// keeps its bend (height over chord).
    fn arc(&self, from: Point, to: Point, centre: Point, turn: Turn) -> Piece {
        let (a, b) = (self.place(from), self.place(to));
        let (old, new) = ([to.z_mm - from.z_mm, to.r_mm - from.r_mm], [b.z_mm - a.z_mm, b.r_mm - a.r_mm]);
        let (old2, new2) = (old[0] * old[0] + old[1] * old[1], new[0] * new[0] + new[1] * new[1]);
        if old2 < 1e-18 || new2 < 1e-18 {
            return Piece::Line { from: a, to: b };
        }
        let near = |x: f64, y: f64| (x - y).abs() < 1e-7;
        let centre = if near(centre.z_mm, from.z_mm) && !near(a.r_mm, b.r_mm) {
            square_at(a, b)
        } else if near(centre.z_mm, to.z_mm) && !near(a.r_mm, b.r_mm) {
            square_at(b, a)
        } else if near(centre.r_mm, 0.0) && new[0].abs() > 1e-9 {
            Point { z_mm: 0.5 * (a.z_mm + b.z_mm) + 0.5 * (b.r_mm * b.r_mm - a.r_mm * a.r_mm) / new[0], r_mm: 0.0 }
        } else {
            // Centre over the chord's middle, in chord lengths to its left: a similar arc.
            let off = ((centre.z_mm - from.z_mm) * -old[1] + (centre.r_mm - from.r_mm) * old[0]) / old2;
            Point { z_mm: 0.5 * (a.z_mm + b.z_mm) - off * new[1], r_mm: 0.5 * (a.r_mm + b.r_mm) + off * new[0] }
        };
        Piece::Arc { from: a, to: b, centre, turn }
    }
}

/// Adds a height and where it goes, unless it would turn the order round or stretch a stretch to less than a third or more than three times.
fn place(heights: &mut Vec<[f64; 2]>, from: f64, to: f64) {
    let at = heights.partition_point(|h| h[0] < from);
    let fits = |a: [f64; 2], b: [f64; 2]| {
        let (run, rise) = (b[0] - a[0], b[1] - a[1]);
        run > 1e-6 && rise > run / 3.0 && rise < 3.0 * run
    };
    let (before, after) = (at.checked_sub(1).map(|i| heights[i]), heights.get(at).copied());
    if before.is_none_or(|h| fits(h, [from, to])) && after.is_none_or(|h| fits([from, to], h)) {
        heights.insert(at, [from, to]);
    }
}

fn broken_line(line: &[[f64; 2]], z: f64) -> f64 {
    let (Some(first), Some(last)) = (line.first(), line.last()) else { return z };
    if z <= first[0] {
        return z - first[0] + first[1];
    }
    for pair in line.windows(2) {
        if z <= pair[1][0] {
            let share = (z - pair[0][0]) / (pair[1][0] - pair[0][0]).max(1e-12);
            return pair[0][1] + share * (pair[1][1] - pair[0][1]);
        }
    }
    z - last[0] + last[1]
}
