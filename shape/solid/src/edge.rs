//! Chamfers and fillets on corners of the outside: still a chain of exact pieces.

use crate::SolidError;
use crate::path;
use meridian::{Piece, Point, Turn};

/// A corner that is to be broken.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Edge {
    /// Which one.
    pub place: EdgePlace,
    /// How.
    pub form: EdgeForm,
}

/// Which corner of the outside.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum EdgePlace {
    /// The first one from the axis at the rod end.
    RodEnd,
    /// The last one before the axis at the free end.
    FreeEnd,
    /// The one nearest to a place along the axis, within [`NEAR_MM`]; of several there the one nearest to the diameter, or the outermost if none is given.
    At {
        /// From the rod end.
        z_mm: f64,
        /// Diameter of the corner.
        diameter_mm: Option<f64>,
    },
}

/// What a corner is broken to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum EdgeForm {
    /// A straight cut that takes this length off both sides, measured along them (of an arc: along its own length, to 1e-6).
    Chamfer {
        /// The leg.
        leg_mm: f64,
    },
    /// An arc that leaves both sides without a bend.
    Fillet {
        /// Its radius.
        radius_mm: f64,
    },
}

/// How far from the asked place a corner may stand.
pub const NEAR_MM: f64 = 0.25;
/// A bend that counts as a corner, radians: 8 degrees, as the drawing draws it.
const CORNER_RAD: f64 = 0.14;

/// The chain with its corners broken, one after another.
///
/// # Errors
/// [`SolidError::NoSuchEdge`] with the corners there are; [`SolidError::EdgeTooLarge`] where a side is too short for what is asked.
pub fn broken(pieces: &[Piece], edges: &[Edge]) -> Result<Vec<Piece>, SolidError> {
    // All corners are found on the unbroken chain, so that breaking one does not hide its neighbour; from the last to the first, so that places keep their numbers.
    let mut found = Vec::with_capacity(edges.len());
    for edge in edges {
        found.push((corner_of(pieces, edge.place)?, edge.form));
    }
    found.sort_by_key(|(index, _)| std::cmp::Reverse(*index));
    if let Some(twice) = found.windows(2).find(|pair| pair[0].0 == pair[1].0) {
        let at = path::end(&pieces[twice[0].0]);
        return Err(SolidError::EdgeTwice { z_mm: at.z_mm, diameter_mm: 2.0 * at.r_mm });
    }
    let mut chain = pieces.to_vec();
    for (index, form) in found {
        break_corner(&mut chain, index, form)?;
    }
    Ok(chain)
}

/// Corners of a chain off the axis: the number of the piece before, and the bend (left positive).
fn corners(pieces: &[Piece]) -> Vec<(usize, Point, f64)> {
    let bend = |pair: &[Piece]| {
        let (u, v) = (path::direction(&pair[0], 1.0), path::direction(&pair[1], 0.0));
        (u[0] * v[1] - u[1] * v[0]).atan2(u[0] * v[0] + u[1] * v[1])
    };
    pieces
        .windows(2)
        .enumerate()
        .map(|(index, pair)| (index, path::end(&pair[0]), bend(pair)))
        .filter(|(_, at, bend)| bend.abs() > CORNER_RAD && at.r_mm > path::NOTHING_MM)
        .collect()
}

fn corner_of(pieces: &[Piece], place: EdgePlace) -> Result<usize, SolidError> {
    let corners = corners(pieces);
    let chosen = match place {
        EdgePlace::RodEnd => corners.first(),
        EdgePlace::FreeEnd => corners.last(),
        EdgePlace::At { z_mm, diameter_mm } => {
            let nearest = corners.iter().map(|(_, at, _)| (at.z_mm - z_mm).abs()).fold(f64::INFINITY, f64::min);
            let off = |at: &Point| diameter_mm.map_or(-at.r_mm, |diameter| (2.0 * at.r_mm - diameter).abs());
            let near = corners.iter().filter(|(_, at, _)| (at.z_mm - z_mm).abs() <= (nearest + 1e-3).min(NEAR_MM));
            near.min_by(|a, b| off(&a.1).total_cmp(&off(&b.1)))
        }
    };
    chosen.map(|(index, ..)| *index).ok_or_else(|| {
        let there: Vec<String> =
            corners.iter().take(12).map(|(_, at, _)| format!("{:.2} mm (diameter {:.2})", at.z_mm, 2.0 * at.r_mm)).collect();
        SolidError::NoSuchEdge {
            z_mm: if let EdgePlace::At { z_mm, .. } = place { z_mm } else { 0.0 },
            there: if there.is_empty() { "none".into() } else { there.join(", ") },
        }
    })
}

fn break_corner(chain: &mut Vec<Piece>, index: usize, form: EdgeForm) -> Result<(), SolidError> {
    let (Some(&before), Some(&after)) = (chain.get(index), chain.get(index + 1)) else { return Ok(()) };
    let corner = path::end(&before);
    let (asked_mm, cut) = match form {
        EdgeForm::Chamfer { leg_mm } => (leg_mm, chamfer(&before, &after, leg_mm)),
        EdgeForm::Fillet { radius_mm } => (radius_mm, fillet(&before, &after, radius_mm)),
    };
    if !(asked_mm.is_finite() && asked_mm > 0.0) {
        return Err(SolidError::NotASize { what: "a chamfer or fillet".into(), found: asked_mm });
    }
    let too_large = || SolidError::EdgeTooLarge { asked_mm, z_mm: corner.z_mm, diameter_mm: 2.0 * corner.r_mm };
    let (t_before, middle, t_after) = cut.ok_or_else(too_large)?;
    let (kept_before, kept_after) = (path::split(&before, t_before).0, path::split(&after, t_after).1);
    let (first, last) = (path::start(&middle), path::end(&middle));
    let kept_before = path::reversed(&path::with_start(&path::reversed(&kept_before), first));
    chain.splice(index..=index + 1, [kept_before, middle, path::with_start(&kept_after, last)]);
    Ok(())
}

/// Where the sides end and the straight piece between them.
fn chamfer(before: &Piece, after: &Piece, leg_mm: f64) -> Option<(f64, Piece, f64)> {
    let backward = path::reversed(before);
    let (back, on) = (after_length(&backward, leg_mm)?, after_length(after, leg_mm)?);
    let middle = Piece::Line { from: path::at(&backward, back), to: path::at(after, on) };
    Some((1.0 - back, middle, on))
}

/// `t` so far along a piece, inside it.
fn after_length(piece: &Piece, length_mm: f64) -> Option<f64> {
    if let Piece::Line { from, to } = *piece {
        let t = length_mm / path::distance(from, to);
        return (t < 1.0 - 1e-6).then_some(t);
    }
    let steps = 4096;
    let mut along = 0.0;
    for step in 0..steps {
        let (a, b) = (f64::from(step) / f64::from(steps), f64::from(step + 1) / f64::from(steps));
        let chord = path::distance(path::at(piece, a), path::at(piece, b));
        if along + chord >= length_mm {
            let t = a + (b - a) * (length_mm - along) / chord;
            return (t < 1.0 - 1e-6).then_some(t);
        }
        along += chord;
    }
    None
}

/// The arc that touches both sides: its centre lies `radius_mm` off each, on the side they bend to. Newton's method on the two places of touch;
/// exact to 1e-12 for lines and arcs.
fn fillet(before: &Piece, after: &Piece, radius_mm: f64) -> Option<(f64, Piece, f64)> {
    let (u, v) = (path::direction(before, 1.0), path::direction(after, 0.0));
    let bend = (u[0] * v[1] - u[1] * v[0]).atan2(u[0] * v[0] + u[1] * v[1]);
    let side = bend.signum() * radius_mm;
    // Left of travel [z, r] is [-r, z].
    let centre = |piece: &Piece, t: f64| {
        let (at, d) = (path::at_beyond(piece, t), path::direction(piece, t.clamp(0.0, 1.0)));
        [at.z_mm - side * d[1], at.r_mm + side * d[0]]
    };
    let reach = radius_mm * (0.5 * bend.abs()).tan();
    let speed = |piece: &Piece, t: f64| path::velocity(piece, t).iter().fold(0.0, |sum: f64, x| sum.hypot(*x)).max(1e-12);
    let (mut s, mut t) = (1.0 - reach / speed(before, 1.0), reach / speed(after, 0.0));
    let gap = |s: f64, t: f64| {
        let (a, b) = (centre(before, s), centre(after, t));
        [a[0] - b[0], a[1] - b[1]]
    };
    for _ in 0..60 {
        let (h, g) = (1e-7, gap(s, t));
        let (gs, gt) = (gap(s + h, t), gap(s, t + h));
        let [[a, c], [b, d]] = [[(gs[0] - g[0]) / h, (gs[1] - g[1]) / h], [(gt[0] - g[0]) / h, (gt[1] - g[1]) / h]];
        let det = a * d - b * c;
        if det.is_nan() || det.abs() <= 1e-12 {
            return None;
        }
        let (ds, dt) = ((d * g[0] - b * g[1]) / det, (a * g[1] - c * g[0]) / det);
        (s, t) = (s - ds, t - dt);
        if ds.abs() + dt.abs() < 1e-14 {
            break;
        }
    }
    let inside = |t: f64| (1e-6..1.0 - 1e-6).contains(&t);
    let off = gap(s, t);
    if !(inside(s) && inside(t) && off[0].hypot(off[1]) < 1e-8) {
        return None;
    }
    let [a, b] = [centre(before, s), centre(after, t)];
    let turn = if side > 0.0 { Turn::Counterclockwise } else { Turn::Clockwise };
    let (from, to) = (path::at(before, s), path::at(after, t));
    Some((s, Piece::Arc { from, to, centre: path::point(0.5 * (a[0] + b[0]), 0.5 * (a[1] + b[1])), turn }, t))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::swept;
    use crate::path::point;
    use std::f64::consts::PI;

    fn chain(corners: &[(f64, f64)]) -> Vec<Piece> {
        corners.windows(2).map(|pair| Piece::Line { from: point(pair[0].0, pair[0].1), to: point(pair[1].0, pair[1].1) }).collect()
    }

    fn drum() -> Vec<Piece> {
        chain(&[(0.0, 0.0), (0.0, 10.0), (20.0, 10.0), (20.0, 0.0)])
    }

    /// Pappus on the triangle cut off: area 1/2, its centroid 10 - 1/3 from the axis.
    #[test]
    fn chamfer_takes_its_triangle_off() {
        let cut = broken(&drum(), &[Edge { place: EdgePlace::FreeEnd, form: EdgeForm::Chamfer { leg_mm: 1.0 } }]).expect("room");
        let lost = swept(&drum()).volume_mm3 - swept(&cut).volume_mm3;
        assert!((lost - 2.0 * PI * (10.0 - 1.0 / 3.0) * 0.5).abs() < 1e-9, "{lost}");
    }

    /// Pappus on what a quarter circle of 2 leaves of its square: area (1 - pi/4) R^2, centroid R (10 - 3 pi) / (3 (4 - pi)) from the corner's sides.
    #[test]
    fn fillet_takes_its_corner_off() {
        let cut = broken(&drum(), &[Edge { place: EdgePlace::RodEnd, form: EdgeForm::Fillet { radius_mm: 2.0 } }]).expect("room");
        let lost = swept(&drum()).volume_mm3 - swept(&cut).volume_mm3;
        let (area, inward) = ((1.0 - PI / 4.0) * 4.0, 2.0 * (10.0 - 3.0 * PI) / (3.0 * (4.0 - PI)));
        assert!((lost - 2.0 * PI * (10.0 - inward) * area).abs() < 1e-9, "{lost}");
    }

    /// A fillet in a hollow corner adds material; one between a cylinder and a ball touches both.
    #[test]
    fn fillets_touch_arcs_and_fill_corners() {
        let stepped = chain(&[(0.0, 0.0), (0.0, 10.0), (8.0, 10.0), (8.0, 5.0), (20.0, 5.0), (20.0, 0.0)]);
        let inner = Edge { place: EdgePlace::At { z_mm: 8.0, diameter_mm: Some(10.0) }, form: EdgeForm::Fillet { radius_mm: 1.0 } };
        let outer = Edge { place: EdgePlace::At { z_mm: 8.1, diameter_mm: None }, form: EdgeForm::Fillet { radius_mm: 1.0 } };
        let filled = broken(&stepped, &[inner]).expect("room");
        assert!(swept(&filled).volume_mm3 > swept(&stepped).volume_mm3);
        assert!(matches!(filled[3], Piece::Arc { turn: Turn::Counterclockwise, .. }));
        assert_eq!(broken(&stepped, &[inner, outer]).expect("both").len(), stepped.len() + 2);
        // A neck of radius 3 that runs into a ball of radius 4: the fillet's centre is 4.5 from the ball's and 3.5 from the axis.
        let start = point(14.0 - 7.0f64.sqrt(), 3.0);
        let ball = Piece::Arc { from: start, to: point(18.0, 0.0), centre: point(14.0, 0.0), turn: Turn::Clockwise };
        let neck = [Piece::Line { from: point(0.0, 0.0), to: point(0.0, 3.0) }, Piece::Line { from: point(0.0, 3.0), to: start }, ball];
        let eased = broken(&neck, &[Edge { place: EdgePlace::FreeEnd, form: EdgeForm::Fillet { radius_mm: 0.5 } }]).expect("room");
        let Piece::Arc { centre, .. } = eased[2] else { panic!("no arc") };
        assert!((path::distance(centre, point(14.0, 0.0)) - 4.5).abs() < 1e-9 && (centre.r_mm - 3.5).abs() < 1e-9);
    }

    #[test]
    fn what_has_no_room_is_told() {
        let edge = |place, leg_mm| [Edge { place, form: EdgeForm::Chamfer { leg_mm } }];
        assert!(matches!(broken(&drum(), &edge(EdgePlace::FreeEnd, 12.0)), Err(SolidError::EdgeTooLarge { .. })));
        let none = EdgePlace::At { z_mm: 7.0, diameter_mm: None };
        let Err(SolidError::NoSuchEdge { there, .. }) = broken(&drum(), &edge(none, 1.0)) else { panic!("found one") };
        assert!(there.contains("20.00 mm (diameter 20.00)"), "{there}");
        for wild in [f64::NAN, f64::INFINITY, -1.0, 0.0] {
            assert!(broken(&drum(), &edge(EdgePlace::RodEnd, wild)).is_err());
            assert!(broken(&drum(), &[Edge { place: EdgePlace::RodEnd, form: EdgeForm::Fillet { radius_mm: wild } }]).is_err());
        }
    }
}
