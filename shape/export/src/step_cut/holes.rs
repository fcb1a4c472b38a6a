//! Holes across: the edges they leave in the surfaces they pass, and their walls.

use super::segments::{Cut, Segment, State};
use crate::brep::{Brep, Place, Side, direction};
use solid::{CrossHole, path};
use std::f64::consts::{FRAC_PI_2, PI, TAU};

/// One edge of a hole: a closed line in one surface, in two halves split at its top and bottom.
pub(super) struct Mouth {
    /// The segment it lies in, and the flat of it, if on one.
    pub segment: usize,
    pub flat: Option<u32>,
    /// Its middle round the axis and half the angle it takes.
    pub angle: f64,
    pub reach: f64,
    /// As a hole in the face round it.
    pub sides: Vec<Side>,
}

/// Room kept between a hole and the edges of the face it is in, mm.
const CLEAR_MM: f64 = 1e-3;

/// Edges and wall of a hole; `None` where it meets more than one surface on its way.
pub(super) fn hole(brep: &mut Brep, segments: &[Segment], hole: &CrossHole) -> Option<Vec<Mouth>> {
    let a = 0.5 * hole.diameter_mm;
    let angle = hole.angle_deg.to_radians();
    let passed = passed(segments, hole.z_mm, a)?;
    // From the far end of the hole's own x axis to the other: outside, bore, bore, outside.
    let near = passed.iter().map(|&index| (index, 1.0));
    let far = passed.iter().rev().map(|&index| (index, -1.0));
    let crossed: Vec<(usize, f64)> = if hole.both_sides { near.chain(far).collect() } else { near.collect() };
    if crossed.is_empty() || crossed.len() % 2 == 1 {
        return None;
    }
    let frame = Frame { angle, z_mm: hole.z_mm, radius_mm: a };
    let mut mouths = Vec::new();
    for pair in crossed.chunks_exact(2) {
        let ends = [frame.edges(brep, segments, pair[0])?, frame.edges(brep, segments, pair[1])?];
        frame.wall(brep, [&ends[0], &ends[1]])?;
        for (place, end) in ends.into_iter().enumerate() {
            // The outer end of a wall is run backward by the face round it, the inner one forward.
            let [right, left] = end.halves;
            let sides = if place == 0 { vec![(left.0, !left.1), (right.0, !right.1)] } else { vec![right, left] };
            mouths.push(Mouth { sides, ..end.mouth });
        }
    }
    Some(mouths)
}

/// Segments that the hole passes on one side of the axis, from outside inward.
fn passed(segments: &[Segment], z_mm: f64, a: f64) -> Option<Vec<usize>> {
    let (low, high) = (z_mm - a, z_mm + a);
    let mut found = Vec::new();
    for (index, segment) in segments.iter().enumerate() {
        let (s, e) = (segment.start().z_mm, segment.end().z_mm);
        let (first, last) = (s.min(e), s.max(e));
        if last < low - CLEAR_MM || first > high + CLEAR_MM {
            continue;
        }
        if segment.is_square() || first > low - CLEAR_MM || last < high + CLEAR_MM {
            return None;
        }
        found.push((index, radius(segment, z_mm)?[0]));
    }
    found.sort_by(|a, b| b.1.total_cmp(&a.1));
    Some(found.into_iter().map(|(index, _)| index).collect())
}

/// Radius of a segment at a height and its slope along the axis; `None` where it turns back.
fn radius(segment: &Segment, z_mm: f64) -> Option<[f64; 2]> {
    let mut found = path::heights_at(&segment.piece, z_mm);
    found.dedup_by(|b, a| (*b - *a).abs() < 1e-9);
    let [t] = found[..] else { return None };
    let [dz, dr] = path::velocity(&segment.piece, t);
    (dz.abs() > 1e-9).then(|| [path::at(&segment.piece, t).r_mm, dr / dz])
}

struct Frame {
    angle: f64,
    z_mm: f64,
    radius_mm: f64,
}

struct End {
    mouth: Mouth,
    /// From the bottom up at y > 0, from the top down at y < 0.
    halves: [Side; 2],
    /// Bottom and top.
    corners: [Place; 2],
}

impl Frame {
    /// From the hole's frame (x along it, y across, z along the axis) to the body's.
    fn place(&self, [x, y, z]: Place) -> Place {
        let (sin, cos) = direction(self.angle);
        [x * cos - y * sin, x * sin + y * cos, z]
    }

    /// The hole's edge in a segment, on the side of `sign`.
    fn edges(&self, brep: &mut Brep, segments: &[Segment], (index, sign): (usize, f64)) -> Option<End> {
        let segment = segments.get(index)?;
        let angle = (self.angle + if sign < 0.0 { PI } else { 0.0 }).rem_euclid(TAU);
        let flat = self.on_flat(segment, angle)?;
        let mouth = |reach: f64| Mouth { segment: index, flat: flat.map(|(member, _)| member), angle, reach, sides: Vec::new() };
        let half = |from: f64| [from, from + PI];
        if let Some((_, from_axis_mm)) = flat {
            let (sin, cos) = direction(self.angle);
            let centre = self.place([sign * from_axis_mm, 0.0, self.z_mm]);
            let axes = [[cos, sin, 0.0], [-sin, cos, 0.0]];
            let halves = [half(-FRAC_PI_2), half(FRAC_PI_2)].map(|angles| brep.arc(centre, axes, self.radius_mm, angles));
            let corner = |up: f64| self.place([sign * from_axis_mm, 0.0, self.z_mm + up * self.radius_mm]);
            return Some(End { mouth: mouth(0.0), halves, corners: [corner(-1.0), corner(1.0)] });
        }
        // Looked at first, so that what has no place there is told before anything is written.
        let looks = (0..=96).map(|i| self.at(segment, sign, PI * f64::from(i) / 48.0)).collect::<Option<Vec<_>>>()?;
        let reach = looks.iter().map(|(place, _)| (place[1] / place[0].hypot(place[1])).abs().asin()).fold(0.0, f64::max);
        let fitted = |brep: &mut Brep, from: f64| {
            brep.fitted(|t| {
                let (place, speed) = self.at(segment, sign, from + PI * t).unwrap_or_default();
                (self.place(place), self.place(speed).map(|v| PI * v))
            })
        };
        let halves = [fitted(brep, -FRAC_PI_2), fitted(brep, FRAC_PI_2)];
        let corner = |u: f64| Some(self.place(self.at(segment, sign, u)?.0));
        Some(End { mouth: mouth(reach), halves, corners: [corner(-FRAC_PI_2)?, corner(FRAC_PI_2)?] })
    }

    /// A place of the edge at an angle about the hole's own axis, and its speed, in the hole's frame.
    fn at(&self, segment: &Segment, sign: f64, u: f64) -> Option<(Place, Place)> {
        let (sin, cos) = direction(u);
        let (y, z) = (self.radius_mm * cos, self.z_mm + self.radius_mm * sin);
        let [r, slope] = radius(segment, z)?;
        let x = (r * r - y * y).sqrt();
        let (dy, dz) = (-self.radius_mm * sin, self.radius_mm * cos);
        (x > 1e-3).then(|| ([sign * x, y, z], [sign * (r * slope * dz - y * dy) / x, dy, dz]))
    }

    /// Which flat of a segment the hole lies wholly on and square to, with its distance from the axis: outer `None` if it meets one otherwise.
    fn on_flat(&self, segment: &Segment, angle: f64) -> Option<Option<(u32, f64)>> {
        let Some((_, cut @ Cut::Flats { count, from_axis_mm })) = segment.cut else { return Some(None) };
        let (low, high) = (self.z_mm - self.radius_mm, self.z_mm + self.radius_mm);
        for member in 0..count {
            let off = (angle - cut.angle(member) + PI).rem_euclid(TAU) - PI;
            let widths = (0..=48).filter_map(|i| radius(segment, low + (high - low) * f64::from(i) / 48.0)).map(|[r, _]| cut.edge_mm(r)[1]);
            let narrowest = widths.fold(f64::INFINITY, f64::min);
            if off.abs() < 1e-9 && narrowest > self.radius_mm + CLEAR_MM {
                return Some(Some((member, from_axis_mm)));
            }
        }
        (segment.state != State::Full).then_some(None)
    }

    /// Two faces of the hole's cylinder between two ends, the first farther along the hole.
    fn wall(&self, brep: &mut Brep, [outer, inner]: [&End; 2]) -> Option<()> {
        let bottom = brep.line(inner.corners[0], outer.corners[0])?;
        let top = brep.line(inner.corners[1], outer.corners[1])?;
        let back = |side: Side| (side.0, !side.1);
        let (sin, cos) = direction(self.angle);
        let right = vec![bottom, outer.halves[0], back(top), back(inner.halves[0])];
        let left = vec![outer.halves[1], back(bottom), back(inner.halves[1]), top];
        let placement = brep.entities.placement([0.0, 0.0, self.z_mm], [cos, sin, 0.0], [0.0, 0.0, 1.0]);
        let surface = brep.entities.add(&format!("CYLINDRICAL_SURFACE('',#{placement},{})", crate::step_text::real(self.radius_mm)));
        brep.face(&[right], surface, false);
        brep.face(&[left], surface, false);
        Some(())
    }
}
