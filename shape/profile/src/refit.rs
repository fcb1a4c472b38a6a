//! Chosen round sizes hold exactly; the rest moves as its covariance allows.

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
    let bend = Bend::new(&profile.dimensions, values);
    let meridian = Meridian::new(bend.pieces(profile.meridian.pieces())).ok()?;
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
        values[i] = mm;
        covariance.row_mut(i).fill(0.0);
        covariance.column_mut(i).fill(0.0);
    }
    values.iter().chain(covariance.iter()).all(|x| x.is_finite()).then_some((values, covariance))
}

/// How places move: heights by a broken line through all positions and lengths, radii by factors that hold exactly on each diameter.
struct Bend {
    heights: Vec<[f64; 2]>,
    factors: Vec<([f64; 2], f64, f64)>,
}

impl Bend {
    fn new(sizes: &[NamedSize], values: &DVector<f64>) -> Bend {
        let mut heights = vec![[0.0, 0.0]];
        let mut place = |from: f64, to: f64| {
            if heights.iter().all(|h: &[f64; 2]| (h[0] - from).abs() > 1e-6) {
                heights.push([from, to]);
            }
        };
        if let Some((size, value)) = sizes.iter().zip(values).find(|(s, _)| s.kind == SizeKind::Length) {
            place(size.z_mm[1], *value);
        }
        for (size, value) in sizes.iter().zip(values).filter(|(s, _)| s.kind == SizeKind::Position) {
            place(size.value_mm, *value);
        }
        heights.sort_by(|a, b| a[0].total_cmp(&b[0]));
        for (size, value) in sizes.iter().zip(values).filter(|(s, _)| s.kind == SizeKind::Length).skip(1) {
            let to = broken_line(&heights, size.z_mm[0]) + value;
            if heights.iter().all(|h| (h[0] - size.z_mm[1]).abs() > 1e-6) {
                heights.push([size.z_mm[1], to]);
                heights.sort_by(|a, b| a[0].total_cmp(&b[0]));
            }
        }
        // Heights must keep their order.
        let mut kept: Vec<[f64; 2]> = Vec::new();
        for h in heights {
            if kept.last().is_none_or(|last| h[1] > last[1] + 1e-9) {
                kept.push(h);
            }
        }
        let diameters = sizes.iter().zip(values).filter(|(s, _)| s.kind == SizeKind::Diameter && s.value_mm > 0.0);
        let factors = diameters.map(|(s, value)| (s.z_mm, 0.5 * s.value_mm, value / s.value_mm)).collect();
        Bend { heights: kept, factors }
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

    /// An arc through its moved ends that keeps its bend (height over chord).
    fn arc(&self, from: Point, to: Point, centre: Point, turn: Turn) -> Piece {
        let (a, b) = (self.place(from), self.place(to));
        let (old, new) = ([to.z_mm - from.z_mm, to.r_mm - from.r_mm], [b.z_mm - a.z_mm, b.r_mm - a.r_mm]);
        let (old2, new2) = (old[0].hypot(old[1]).powi(2), new[0].hypot(new[1]).powi(2));
        if old2 < 1e-18 || new2 < 1e-18 {
            return Piece::Line { from: a, to: b };
        }
        // Centre over the chord's middle, in chord lengths to its left: a similar arc.
        let off = ((centre.z_mm - from.z_mm) * -old[1] + (centre.r_mm - from.r_mm) * old[0]) / old2;
        let centre = Point { z_mm: 0.5 * (a.z_mm + b.z_mm) - off * new[1], r_mm: 0.5 * (a.r_mm + b.r_mm) + off * new[0] };
        Piece::Arc { from: a, to: b, centre, turn }
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
