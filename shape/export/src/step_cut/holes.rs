//! Holes across: the edges they leave in the surfaces they pass, and their walls.
//!
//! On its way a hole passes a chain of surfaces at a time: one alone, or several with the circles between them (over a step, a chamfer, a fillet, from one curve of the outline to the next). In each of them it
//! leaves an edge at either side, y > 0 and y < 0 in the hole's own frame, from its lowest place there to its highest; where the chain lies in one surface the two close on themselves.

use super::segments::{Cut, Segment, State};
use crate::NotExact;
use crate::brep::{Brep, Place, Side, direction};
use solid::{CrossHole, path};
use std::f64::consts::{FRAC_PI_2, PI, TAU};

/// What a hole takes of one surface.
pub(super) struct Mouth {
    /// The segment it lies in, and the flat of it, if on one.
    pub segment: usize,
    pub flat: Option<u32>,
    /// Its middle round the axis and half the angle it takes.
    pub angle: f64,
    pub reach: f64,
    /// Whether its edges close on themselves; else they run on in the next surface.
    pub closed: bool,
    /// Its edges as the face round it runs them.
    pub sides: Vec<Side>,
}

/// What a hole takes of a circle between two surfaces that it passes.
pub(super) struct Bite {
    /// The segment before which the circle lies.
    pub joint: usize,
    /// Its middle round the axis and half the angle it takes.
    pub angle: f64,
    pub half: f64,
}

#[derive(Default)]
pub(super) struct Cuts {
    pub mouths: Vec<Mouth>,
    pub bites: Vec<Bite>,
}

/// Room kept between a hole and the edges that it does not cross, mm.
const CLEAR_MM: f64 = 1e-3;

/// Edges and wall of a hole.
pub(super) fn hole(brep: &mut Brep, segments: &[Segment], hole: &CrossHole, cuts: &mut Cuts) -> Result<(), NotExact> {
    let frame = Frame { angle: hole.angle_deg.to_radians(), z_mm: hole.z_mm, radius_mm: 0.5 * hole.diameter_mm };
    let passed = frame.passed(segments)?;
    // From the far end of the hole's own x axis to the other: outside, bore, bore, outside.
    let near = passed.iter().map(|chain| (chain, 1.0));
    let far = passed.iter().rev().map(|chain| (chain, -1.0));
    let crossed: Vec<(&Chain, f64)> = if hole.both_sides { near.chain(far).collect() } else { near.collect() };
    if crossed.is_empty() || crossed.len() % 2 == 1 {
        return Err(NotExact::MeetsCut);
    }
    for pair in crossed.chunks_exact(2) {
        let ends = [frame.edges(brep, segments, pair[0])?, frame.edges(brep, segments, pair[1])?];
        frame.wall(brep, [&ends[0], &ends[1]]).ok_or(NotExact::MeetsCut)?;
        for (place, end) in ends.into_iter().enumerate() {
            // The outer end of a wall is run backward by the face round it, the inner one forward.
            cuts.mouths.extend(end.mouths.into_iter().map(|(mut mouth, [right, left])| {
                mouth.sides = if place == 0 { vec![back(left), back(right)] } else { vec![right, left] };
                mouth
            }));
            cuts.bites.extend(end.bites);
        }
    }
    Ok(())
}

/// Surfaces that follow one another across a hole: each with the stretch of it (`t` at the hole's lowest place there and at its highest).
type Chain = Vec<(usize, [f64; 2])>;

struct Frame {
    angle: f64,
    z_mm: f64,
    radius_mm: f64,
}

struct End {
    /// With the edges at y > 0, up, and at y < 0, down.
    mouths: Vec<(Mouth, [Side; 2])>,
    bites: Vec<Bite>,
    /// Bottom and top.
    corners: [Place; 2],
}

impl Frame {
    fn band(&self) -> [f64; 2] {
        [self.z_mm - self.radius_mm, self.z_mm + self.radius_mm]
    }

    /// Chains of segments that the hole passes on one side of the axis, from outside inward, each upward.
    fn passed(&self, segments: &[Segment]) -> Result<Vec<Chain>, NotExact> {
        let [low, high] = self.band();
        let mut chains: Vec<(Chain, usize)> = Vec::new();
        for (index, segment) in segments.iter().enumerate() {
            let ends = [segment.start().z_mm, segment.end().z_mm];
            // An edge of the outline that the hole would touch.
            let touched = ends.into_iter().find(|z| (z - low).abs() < CLEAR_MM || (z - high).abs() < CLEAR_MM);
            if let Some(z_mm) = touched {
                return Err(NotExact::TouchesEdge { z_mm });
            }
            let Some(stretch) = self.stretch(segment)? else { continue };
            if segment.thread.is_some() {
                return Err(NotExact::MeetsCut);
            }
            match chains.last_mut() {
                Some((chain, last)) if *last + 1 == index && segments[*last].surface == segment.surface => {
                    chain.push((index, stretch));
                    *last = index;
                }
                _ => chains.push((vec![(index, stretch)], index)),
            }
        }
        let mut found = Vec::new();
        for (mut chain, _) in chains {
            let z = |&(index, t): &(usize, [f64; 2]), end: usize| path::at(&segments[index].piece, t[end]).z_mm;
            if chain.first().map(|first| z(first, 0)) > chain.last().map(|last| z(last, 0)) {
                chain.reverse();
            }
            // From rim to rim, each on from where the one before ends.
            let joined = chain.windows(2).all(|pair| (z(&pair[0], 1) - z(&pair[1], 0)).abs() < 1e-6);
            let whole = chain.first().is_some_and(|first| (z(first, 0) - low).abs() < 1e-6)
                && chain.last().is_some_and(|last| (z(last, 1) - high).abs() < 1e-6);
            if !(joined && whole) {
                return Err(NotExact::TurnsBack);
            }
            let widest = chain.iter().flat_map(|&(index, t)| t.map(|t| path::at(&segments[index].piece, t).r_mm)).fold(0.0, f64::max);
            found.push((chain, widest));
        }
        found.sort_by(|a, b| b.1.total_cmp(&a.1));
        Ok(found.into_iter().map(|(chain, _)| chain).collect())
    }

    /// The stretch of a segment that lies within the hole's reach, upward; `None` if none does.
    fn stretch(&self, segment: &Segment) -> Result<Option<[f64; 2]>, NotExact> {
        let [low, high] = self.band();
        let (first, last) = (segment.start().z_mm, segment.end().z_mm);
        let within = |z: f64| z > low && z < high;
        if segment.is_square() {
            // Upward on a step is where the chain goes on: its neighbours tell, see `Frame::step`.
            return Ok(within(first).then_some([0.0, 1.0]));
        }
        let crossings = |z: f64| {
            let mut found = path::heights_at(&segment.piece, z);
            found.sort_by(f64::total_cmp);
            found.dedup_by(|b, a| *b - *a < 1e-9);
            found
        };
        let (at_low, at_high) = (crossings(low), crossings(high));
        let passes = |level: f64| usize::from((first < level) != (last < level));
        if at_low.len() != passes(low) || at_high.len() != passes(high) {
            return Err(NotExact::TurnsBack);
        }
        if at_low.is_empty() && at_high.is_empty() && !within(first) {
            return Ok(None);
        }
        let up = last > first;
        let bottom = at_low.first().copied().unwrap_or(if up { 0.0 } else { 1.0 });
        let top = at_high.first().copied().unwrap_or(if up { 1.0 } else { 0.0 });
        let rises = (1..64).all(|i| {
            let t = bottom + (top - bottom) * f64::from(i) / 64.0;
            path::velocity(&segment.piece, t)[0] * (top - bottom) > 1e-9
        });
        if rises { Ok(Some([bottom, top])) } else { Err(NotExact::TurnsBack) }
    }

    /// From the hole's frame (x along it, y across, z along the axis) to the body's.
    fn place(&self, [x, y, z]: Place) -> Place {
        let (sin, cos) = direction(self.angle);
        [x * cos - y * sin, x * sin + y * cos, z]
    }

    /// Half the hole's width at a height.
    fn half_width(&self, z_mm: f64) -> f64 {
        let off = z_mm - self.z_mm;
        (self.radius_mm * self.radius_mm - off * off).max(0.0).sqrt()
    }

    /// The hole's edges in a chain, on the side of `sign`.
    fn edges(&self, brep: &mut Brep, segments: &[Segment], (chain, sign): (&Chain, f64)) -> Result<End, NotExact> {
        let angle = (self.angle + if sign < 0.0 { PI } else { 0.0 }).rem_euclid(TAU);
        let flats: Option<Vec<Option<(u32, f64)>>> = chain.iter().map(|&(index, t)| self.on_flat(&segments[index], t, angle)).collect();
        let (Some(flats), Some(&(first, _))) = (flats, chain.first()) else { return Err(NotExact::MeetsCut) };
        // On a flat all the way, or nowhere on one.
        if flats.iter().any(|flat| *flat != flats[0]) {
            return Err(NotExact::MeetsCut);
        }
        if let Some(flat) = flats[0] {
            return Ok(self.circle(brep, first, angle, sign, flat));
        }
        let mut end = End { mouths: Vec::new(), bites: Vec::new(), corners: [[0.0; 3]; 2] };
        let closed = chain.len() == 1;
        for (place, &(index, t)) in chain.iter().enumerate() {
            let segment = &segments[index];
            let below = place.checked_sub(1).map(|before| &segments[chain[before].0]);
            let (reach, halves) = if let (true, Some(below)) = (segment.is_square(), below) {
                self.over_step(brep, segment, below, sign)
            } else {
                let run = Run { frame: self, segment, sign, t, rims: [place == 0, place + 1 == chain.len()] };
                for (rim, s) in [(0, 0.0), (1, 1.0)].into_iter().filter(|(rim, _)| run.rims[*rim]) {
                    end.corners[rim] = self.place(run.at(s).ok_or(NotExact::TooWide)?.0);
                }
                run.halves(brep)
            }
            .ok_or(NotExact::TooWide)?;
            end.mouths.push((Mouth { segment: index, flat: None, angle, reach, closed, sides: Vec::new() }, halves));
        }
        // The circles between: of the two segments' ends the later one's start in the boundary.
        for pair in chain.windows(2) {
            let joint = pair[0].0.max(pair[1].0);
            let at = segments[joint].start();
            let half = (self.half_width(at.z_mm) / at.r_mm).min(1.0).asin();
            end.bites.push(Bite { joint, angle, half });
        }
        Ok(end)
    }

    /// Straight edges over a face square to the axis, on from the segment below it.
    fn over_step(&self, brep: &mut Brep, step: &Segment, below: &Segment, sign: f64) -> Option<(f64, [Side; 2])> {
        let apart = |at| path::distance(at, below.start()).min(path::distance(at, below.end()));
        let ends = [step.start(), step.end()];
        let [from, to] = if apart(ends[0]) < apart(ends[1]) { ends } else { [ends[1], ends[0]] };
        let y = self.half_width(from.z_mm);
        let at = |r: f64, y: f64| (r > y.abs() + CLEAR_MM).then(|| self.place([sign * (r * r - y * y).sqrt(), y, from.z_mm]));
        let right = brep.line(at(from.r_mm, y)?, at(to.r_mm, y)?)?;
        let left = brep.line(at(to.r_mm, -y)?, at(from.r_mm, -y)?)?;
        Some(((y / from.r_mm.min(to.r_mm)).asin(), [right, left]))
    }

    /// The hole's edge on a flat that lies square to it: a circle in two halves.
    fn circle(&self, brep: &mut Brep, segment: usize, angle: f64, sign: f64, (member, from_axis_mm): (u32, f64)) -> End {
        let (sin, cos) = direction(self.angle);
        let centre = self.place([sign * from_axis_mm, 0.0, self.z_mm]);
        let axes = [[cos, sin, 0.0], [-sin, cos, 0.0]];
        let half = |from: f64| [from, from + PI];
        let halves = [half(-FRAC_PI_2), half(FRAC_PI_2)].map(|angles| brep.arc(centre, axes, self.radius_mm, angles));
        let corner = |up: f64| self.place([sign * from_axis_mm, 0.0, self.z_mm + up * self.radius_mm]);
        let mouth = Mouth { segment, flat: Some(member), angle, reach: 0.0, closed: true, sides: Vec::new() };
        End { mouths: vec![(mouth, halves)], bites: Vec::new(), corners: [corner(-1.0), corner(1.0)] }
    }

    /// Which flat of a segment the hole lies wholly on and square to, with its distance from the axis: outer `None` if it meets one otherwise.
    fn on_flat(&self, segment: &Segment, t: [f64; 2], angle: f64) -> Option<Option<(u32, f64)>> {
        let Some((_, cut)) = segment.cut else { return Some(None) };
        if let Cut::Flats { count, from_axis_mm } = cut {
            for member in 0..count {
                let off = (angle - cut.angle(member) + PI).rem_euclid(TAU) - PI;
                let widths =
                    (0..=48).map(|i| path::at(&segment.piece, t[0] + (t[1] - t[0]) * f64::from(i) / 48.0).r_mm).map(|r| cut.edge_mm(r)[1]);
                if off.abs() < 1e-9 && widths.fold(f64::INFINITY, f64::min) > self.radius_mm + CLEAR_MM {
                    return Some(Some((member, from_axis_mm)));
                }
            }
        }
        (segment.state != State::Full).then_some(None)
    }

    /// Two faces of the hole's cylinder between two ends, the first farther along the hole.
    fn wall(&self, brep: &mut Brep, [outer, inner]: [&End; 2]) -> Option<()> {
        let bottom = brep.line(inner.corners[0], outer.corners[0])?;
        let top = brep.line(inner.corners[1], outer.corners[1])?;
        let rights = |end: &End| end.mouths.iter().map(|(_, [right, _])| *right).collect::<Vec<_>>();
        let lefts = |end: &End| end.mouths.iter().rev().map(|(_, [_, left])| *left).collect::<Vec<_>>();
        let (sin, cos) = direction(self.angle);
        let mut right = vec![bottom];
        right.extend(rights(outer));
        right.push(back(top));
        right.extend(super::reversed(rights(inner)));
        let mut left = lefts(outer);
        left.push(back(bottom));
        left.extend(super::reversed(lefts(inner)));
        left.push(top);
        let placement = brep.entities.placement([0.0, 0.0, self.z_mm], [cos, sin, 0.0], [0.0, 0.0, 1.0]);
        let surface = brep.entities.add(&format!("CYLINDRICAL_SURFACE('',#{placement},{})", crate::step_text::real(self.radius_mm)));
        brep.face(&[right], surface, false);
        brep.face(&[left], surface, false);
        Some(())
    }
}

fn back(side: Side) -> Side {
    (side.0, !side.1)
}

/// The hole's edge at y > 0 in one turned surface.
struct Run<'a> {
    frame: &'a Frame,
    segment: &'a Segment,
    sign: f64,
    /// Of the segment, below and above.
    t: [f64; 2],
    /// Whether it comes from the hole's lowest place and goes to its highest.
    rims: [bool; 2],
}

impl Run<'_> {
    /// The widest angle that it takes, and both edges: up at y > 0, down at y < 0. `None` where the hole is as wide as the surface.
    fn halves(&self, brep: &mut Brep) -> Option<(f64, [Side; 2])> {
        // Looked at first, so that what has no place there is told before anything is written.
        let looks = (0..=96).map(|i| self.at(f64::from(i) / 96.0).map(|(place, _)| place)).collect::<Option<Vec<_>>>()?;
        let reach = looks.iter().map(|place| (place[1] / place[0].hypot(place[1])).abs().asin()).fold(0.0, f64::max);
        let frame = self.frame;
        let right = brep.traced(|s| {
            let (place, speed) = self.at(s).unwrap_or_default();
            (frame.place(place), frame.place(speed))
        })?;
        let left = brep.traced(|s| {
            let ([x, y, z], [dx, dy, dz]) = self.at(1.0 - s).unwrap_or_default();
            (frame.place([x, -y, z]), frame.place([-dx, dy, -dz]))
        })?;
        Some((reach, [right, left]))
    }

    /// A place of the edge, `s` from 0 below to 1 above, and its speed, in the hole's frame; `None` where the hole is as wide as the surface.
    ///
    /// At the hole's own lowest and highest place the edge lies square to the axis: there steps along the surface begin with the square of `s`, so that the edge is smooth in it.
    fn at(&self, s: f64) -> Option<(Place, Place)> {
        let [(share, rate), bends] = self.eased(s);
        let (frame, piece) = (self.frame, &self.segment.piece);
        let span = self.t[1] - self.t[0];
        let t = if s <= 0.0 {
            self.t[0]
        } else if s >= 1.0 {
            self.t[1]
        } else {
            self.t[0] + span * share
        };
        let (at, [dz, dr]) = (path::at(piece, t), path::velocity(piece, t));
        let (dz, dr) = (dz * span * rate, dr * span * rate);
        let off = at.z_mm - frame.z_mm;
        let rim = (s <= 0.0 && self.rims[0]) || (s >= 1.0 && self.rims[1]);
        let (y, dy) = if rim {
            // y^2 = a^2 - off^2 rises with a |dz/dt| |span| share'' s^2.
            let rise = (frame.radius_mm * (path::velocity(piece, t)[0] * span).abs() * bends.0.abs()).sqrt();
            (0.0, if s <= 0.0 { rise } else { -rise })
        } else {
            let y = frame.half_width(at.z_mm);
            (y, if y > 0.0 { -off * dz / y } else { 0.0 })
        };
        let x = (at.r_mm * at.r_mm - y * y).sqrt();
        (x > CLEAR_MM && y.is_finite()).then(|| ([self.sign * x, y, at.z_mm], [self.sign * (at.r_mm * dr - y * dy) / x, dy, dz]))
    }

    /// How far along at `s`, how fast, and how that bends at the ends.
    fn eased(&self, s: f64) -> [(f64, f64); 2] {
        let (sin, cos) = (FRAC_PI_2 * s).sin_cos();
        match self.rims {
            [true, true] => [(sin * sin, PI * sin * cos), (0.5 * PI * PI, 0.0)],
            [true, false] => [(1.0 - cos, FRAC_PI_2 * sin), (FRAC_PI_2 * FRAC_PI_2, 0.0)],
            [false, true] => [(sin, FRAC_PI_2 * cos), (FRAC_PI_2 * FRAC_PI_2, 0.0)],
            [false, false] => [(s, 1.0), (0.0, 0.0)],
        }
    }
}
