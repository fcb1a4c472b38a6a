//! Exact shells of bodies with flats, slots, threads and cross holes.
//!
//! Turned surfaces stay what they are and lose what is cut out of them; flats and slots add planes, holes cylinders. Edges where a plane or a cylinder runs obliquely through a
//! turned surface are cubic B-splines through true places with true tangents (within 1e-6 mm, most within 1e-7); all others are lines and circles.

mod holes;
mod runs;
mod segments;
mod thread;

use crate::NotExact;
use crate::brep::{Brep, Place, Side, direction};
use crate::step::turned_surface;
use crate::step_text::Entities;
use holes::{Bite, Cuts, Mouth};
use segments::{Cut, Segment, State};
use solid::path::{self, NOTHING_MM};
use solid::{Body, Surface};
use std::f64::consts::{PI, TAU};

const X: Place = [1.0, 0.0, 0.0];
const Z: Place = [0.0, 0.0, 1.0];

/// The closed shell of a body, by its number.
///
/// # Errors
/// [`NotExact`] where something is cut into it that has no exact form here.
pub(crate) fn shell(entities: &mut Entities, body: &Body) -> Result<usize, NotExact> {
    let segments = segments::segments(body)?;
    let mut brep = Brep::new(entities);
    let mut cuts = Cuts::default();
    for hole in body.cross_holes() {
        holes::hole(&mut brep, &segments, &hole, &mut cuts)?;
    }
    let Cuts { mouths, bites } = cuts;
    let joints = joints(&segments, &mouths, &bites, body.is_through());
    Builder { joints, segments, mouths, bites, through: body.is_through(), brep }.shell().ok_or(NotExact::MeetsCut)
}

/// A circle between two segments, with the angles of its corners, ascending from 0.
pub(super) struct Joint {
    z_mm: f64,
    r_mm: f64,
    angles: Vec<f64>,
}

struct Builder<'a> {
    brep: Brep<'a>,
    segments: Vec<Segment>,
    /// One before each segment and one at the end; of a body bored through the last is the first again.
    joints: Vec<Joint>,
    mouths: Vec<Mouth>,
    bites: Vec<Bite>,
    through: bool,
}

/// An edge from the start of a segment to its end, and where it stands round the axis: at the start, at the end, and between which on the way.
struct Rail {
    side: Side,
    ends: [f64; 2],
    reach: [f64; 2],
}

fn joints(segments: &[Segment], mouths: &[Mouth], bites: &[Bite], through: bool) -> Vec<Joint> {
    let place = |at: meridian::Point| Joint { z_mm: at.z_mm, r_mm: at.r_mm, angles: Vec::new() };
    let mut joints: Vec<Joint> = segments.iter().map(|segment| place(segment.start())).collect();
    joints.extend(segments.last().map(|segment| place(segment.end())));
    let last = joints.len().saturating_sub(1);
    for (index, segment) in segments.iter().enumerate() {
        for (joint, at) in [(index, segment.start()), (index + 1, segment.end())] {
            let joint = if through && joint == last { 0 } else { joint };
            let angles = corners_of(segment, index, mouths, at);
            joints[joint].angles.extend(angles.into_iter().map(|angle| angle.rem_euclid(TAU)));
        }
    }
    for bite in bites {
        let ends = [bite.angle - bite.half, bite.angle + bite.half];
        joints[bite.joint].angles.extend(ends.map(|angle| angle.rem_euclid(TAU)));
    }
    for joint in &mut joints {
        if joint.angles.is_empty() {
            joint.angles = vec![0.0, PI];
        }
        joint.angles.sort_by(f64::total_cmp);
        joint.angles.dedup_by(|b, a| *b - *a < 1e-9);
        if joint.angles.len() > 1 && joint.angles[0] + TAU - joint.angles[joint.angles.len() - 1] < 1e-9 {
            joint.angles.pop();
        }
        if let [only] = joint.angles[..] {
            joint.angles = vec![only, (only + PI).rem_euclid(TAU)];
            joint.angles.sort_by(f64::total_cmp);
        }
    }
    joints
}

/// Angles at which a segment wants corners on a circle of its own.
fn corners_of(segment: &Segment, index: usize, mouths: &[Mouth], at: meridian::Point) -> Vec<f64> {
    let (z_mm, r_mm) = (at.z_mm, at.r_mm);
    if let Some(thread) = segment.thread {
        return thread.corners(z_mm).to_vec();
    }
    match segment.cut {
        Some((_, cut)) if is_gapped(segment, cut, r_mm) => {
            let half = cut.half_gap(r_mm);
            let gaps = (0..cut.count()).flat_map(|member| [cut.angle(member) - half, cut.angle(member) + half]);
            gaps.chain(seams(segment, index, mouths)).collect()
        }
        // Planes touch a surface that narrows to them in one place each.
        Some((_, cut)) if !segment.is_square() => {
            (0..cut.count()).map(|member| cut.angle(member)).chain(seams(segment, index, mouths)).collect()
        }
        _ => seams(segment, index, mouths),
    }
}

/// Whether the gaps of a segment are open in a circle of that radius at one of its ends.
fn is_gapped(segment: &Segment, cut: Cut, r_mm: f64) -> bool {
    match cut {
        Cut::Flats { from_axis_mm, .. } => r_mm > from_axis_mm + NOTHING_MM,
        // In an end face only the bore's mouth.
        Cut::Slot { .. } => segment.surface == Surface::Bore || r_mm <= segment.start().r_mm.min(segment.end().r_mm) + NOTHING_MM,
    }
}

/// Where turned surfaces are split along the axis, clear of holes: twice where they go all round, once in a gap-to-gap stretch wider than half a turn.
fn seams(segment: &Segment, index: usize, mouths: &[Mouth]) -> Vec<f64> {
    if segment.is_square() || segment.state == State::Full {
        return Vec::new();
    }
    let own: Vec<&Mouth> = mouths.iter().filter(|mouth| mouth.segment == index && mouth.flat.is_none()).collect();
    let clear = |angle: f64| {
        own.iter().map(|mouth| ((angle - mouth.angle + PI).rem_euclid(TAU) - PI).abs() - mouth.reach).fold(f64::INFINITY, f64::min)
    };
    let best = |tried: Vec<f64>, clear: &dyn Fn(f64) -> f64| {
        // The first one with room enough, else the one with most.
        let roomy = tried.iter().copied().find(|&angle| clear(angle) > 0.1);
        roomy.or_else(|| tried.iter().copied().max_by(|a, b| clear(*a).total_cmp(&clear(*b))))
    };
    match segment.cut {
        None => {
            let tried: Vec<f64> = (0..32).map(|i| PI * f64::from(i) / 32.0).collect();
            best(tried, &|angle| clear(angle).min(clear(angle + PI))).into_iter().flat_map(|angle| [angle, angle + PI]).collect()
        }
        Some((_, cut)) if cut.count() == 1 => {
            let tried = [0, 1, -1, 2, -2, 3, -3, 4, -4, 5, -5, 6, -6].iter().map(|i| PI + PI * f64::from(*i) / 16.0).collect();
            best(tried, &clear).into_iter().collect()
        }
        Some(_) => Vec::new(),
    }
}

impl Builder<'_> {
    fn shell(mut self) -> Option<usize> {
        for index in 0..self.segments.len() {
            let segment = self.segments[index];
            match (segment.is_square(), segment.state) {
                _ if segment.thread.is_some() => segment.thread.map_or(Some(()), |thread| self.thread(index, &thread))?,
                (true, _) => self.square(index)?,
                (false, State::Full) => {}
                (false, _) => self.turned(index)?,
            }
        }
        self.walls()?;
        self.runs()?;
        // Every hole must have found the face it is in.
        if self.mouths.iter().any(|mouth| !mouth.sides.is_empty()) {
            return None;
        }
        self.brep.shell()
    }

    fn joint(&self, index: usize) -> &Joint {
        let index = if self.through && index + 1 == self.joints.len() { 0 } else { index };
        &self.joints[index]
    }

    /// A stretch of a circle from angle to angle, counter-clockwise; without what holes have taken of it.
    fn arcs(&mut self, joint: usize, [from, to]: [f64; 2]) -> Vec<Side> {
        let (z, r) = (self.joint(joint).z_mm, self.joint(joint).r_mm);
        if r <= NOTHING_MM || to - from < 1e-9 {
            return Vec::new();
        }
        let mut stops = vec![from];
        let turns = self.joint(joint).angles.iter().flat_map(|angle| [-TAU, 0.0, TAU, 2.0 * TAU].map(|turn| angle + turn));
        stops.extend(turns.filter(|angle| *angle > from + 1e-9 && *angle < to - 1e-9));
        stops.push(to);
        stops.sort_by(f64::total_cmp);
        let joint = if self.through && joint + 1 == self.joints.len() { 0 } else { joint };
        let own: Vec<&Bite> = self.bites.iter().filter(|bite| bite.joint == joint).collect();
        let stands = |pair: &&[f64]| {
            let off = |bite: &Bite| ((0.5 * (pair[0] + pair[1]) - bite.angle + PI).rem_euclid(TAU) - PI).abs();
            own.iter().all(|bite| off(bite) > bite.half)
        };
        stops.windows(2).filter(stands).map(|pair| self.brep.arc([0.0, 0.0, z], [Z, X], r, [pair[0], pair[1]])).collect()
    }

    /// All round.
    fn circle(&mut self, joint: usize) -> Vec<Side> {
        let first = self.joint(joint).angles.first().copied().unwrap_or(0.0);
        self.arcs(joint, [first, first + TAU])
    }

    /// The edge of a gap on a circle.
    fn gap_place(&self, cut: Cut, member: u32, side: f64, [z_mm, r_mm]: [f64; 2]) -> Place {
        let [x, y] = cut.edge_mm(r_mm);
        self.turned_place(cut, member, [x, side * y, z_mm])
    }

    fn turned_place(&self, cut: Cut, member: u32, [x, y, z]: Place) -> Place {
        let (sin, cos) = direction(cut.angle(member));
        [x * cos - y * sin, x * sin + y * cos, z]
    }

    /// Across a gap at a joint, from its left to its right: a line, or round the slot.
    fn across(&mut self, cut: Cut, member: u32, joint: usize) -> Vec<Side> {
        let at = [self.joint(joint).z_mm, self.joint(joint).r_mm];
        let (left, right) = (self.gap_place(cut, member, -1.0, at), self.gap_place(cut, member, 1.0, at));
        let mut places = vec![left];
        if let Cut::Slot { width_mm, floor_mm } = cut {
            places.extend([-0.5, 0.5].map(|half| self.turned_place(cut, member, [floor_mm, half * width_mm, at[0]])));
        }
        places.push(right);
        places.windows(2).filter_map(|pair| self.brep.line(pair[0], pair[1])).collect()
    }

    /// Round a joint with its gaps: across them, and along the circle between.
    fn outline(&mut self, cut: Cut, joint: usize) -> Vec<Side> {
        let half = cut.half_gap(self.joint(joint).r_mm);
        let mut sides = Vec::new();
        for member in 0..cut.count() {
            sides.extend(self.across(cut, member, joint));
            sides.extend(self.arcs(joint, [cut.angle(member) + half, cut.angle(member + 1) - half]));
        }
        sides
    }

    /// A turned surface between its gaps, or all round in two halves.
    fn turned(&mut self, index: usize) -> Option<()> {
        let segment = self.segments[index];
        let surface = turned_surface(self.brep.entities, &segment.piece, None);
        let seams = seams(&segment, index, &self.mouths);
        let stretches: Vec<Vec<Rail>> = match segment.cut {
            None => {
                let first = *seams.first()?;
                vec![[first, first + PI, first + TAU].into_iter().map(|angle| self.seam(&segment, angle)).collect()]
            }
            Some((_, cut)) => (0..cut.count())
                .map(|member| {
                    let right = self.gap_rail(&segment, cut, member, 1.0)?;
                    let between = seams.iter().map(|&angle| self.seam(&segment, angle)).collect::<Vec<_>>();
                    let left = self.gap_rail(&segment, cut, member + 1, -1.0)?;
                    Some(std::iter::once(right).chain(between).chain([left]).collect())
                })
                .collect::<Option<_>>()?,
        };
        for pair in stretches.iter().flat_map(|rails| rails.windows(2)) {
            let mut outer = self.arcs(index, [pair[0].ends[0], pair[1].ends[0]]);
            outer.push(pair[1].side);
            outer.extend(reversed(self.arcs(index + 1, [pair[0].ends[1], pair[1].ends[1]])));
            outer.push((pair[0].side.0, !pair[0].side.1));
            let taken = self.taken(|mouth| {
                let from = pair[0].reach[1];
                let off = (mouth.angle - from).rem_euclid(TAU);
                mouth.segment == index
                    && mouth.flat.is_none()
                    && off > mouth.reach + 1e-6
                    && from + off + mouth.reach + 1e-6 < pair[1].reach[0]
            });
            for loops in self.without(outer, taken)? {
                self.brep.face(&loops, surface.0, surface.1);
            }
        }
        Some(())
    }

    /// What holes leave of a face: those within it are holes in it, those that run on into the next face change its edge and may part it. Each face by its closed lines.
    fn without(&self, outer: Vec<Side>, taken: Vec<(bool, Vec<Side>)>) -> Option<Vec<Vec<Vec<Side>>>> {
        let (within, across): (Vec<_>, Vec<_>) = taken.into_iter().partition(|(closed, _)| *closed);
        let within = within.into_iter().map(|(_, sides)| sides);
        if across.is_empty() {
            return Some(vec![std::iter::once(outer).chain(within).collect()]);
        }
        let parts = self.brep.chained(outer.into_iter().chain(across.into_iter().flat_map(|(_, sides)| sides)).collect())?;
        let within: Vec<_> = within.collect();
        if let [part] = &parts[..] {
            return Some(vec![std::iter::once(part.clone()).chain(within).collect()]);
        }
        within.is_empty().then(|| parts.into_iter().map(|part| vec![part]).collect())
    }

    /// The edges of holes that lie in a face, each given once, and whether they close on themselves.
    fn taken(&mut self, lies_in: impl Fn(&Mouth) -> bool) -> Vec<(bool, Vec<Side>)> {
        let own = self.mouths.iter_mut().filter(|mouth| !mouth.sides.is_empty() && lies_in(mouth));
        own.map(|mouth| (mouth.closed, std::mem::take(&mut mouth.sides))).collect()
    }

    fn seam(&mut self, segment: &Segment, angle: f64) -> Rail {
        Rail { side: self.brep.meridian(&segment.piece, angle), ends: [angle; 2], reach: [angle; 2] }
    }

    /// The edge of a gap along a segment; members are counted on beyond a turn.
    fn gap_rail(&mut self, segment: &Segment, cut: Cut, member: u32, side: f64) -> Option<Rail> {
        let angle = |t: f64| cut.angle(member) + side * cut.half_gap(path::at(&segment.piece, t).r_mm);
        let looks = (0..=64).map(|i| angle(f64::from(i) / 64.0));
        let reach = looks.fold([f64::INFINITY, f64::NEG_INFINITY], |[low, high], angle| [low.min(angle), high.max(angle)]);
        Some(Rail { side: self.gap_edge(segment, cut, member % cut.count(), side)?, ends: [angle(0.0), angle(1.0)], reach })
    }

    fn gap_edge(&mut self, segment: &Segment, cut: Cut, member: u32, side: f64) -> Option<Side> {
        let (a, b) = (segment.start(), segment.end());
        if segment.is_cylinder() || segment.state == State::Full {
            let ends = [a, b].map(|at| self.gap_place(cut, member, side, [at.z_mm, at.r_mm]));
            if let Some(line) = self.brep.line(ends[0], ends[1]) {
                return Some(line);
            }
        }
        // Where a plane only touches the surface at an end, steps shrink toward it with the square, for the edge leaves it square.
        let touches = |r: f64| matches!(cut, Cut::Flats { from_axis_mm, .. } if r <= from_axis_mm + 1e-6);
        let (from_touch, to_touch) = (touches(a.r_mm), touches(b.r_mm));
        let (sin, cos) = direction(cut.angle(member));
        let turn = |[x, y, z]: Place| [x * cos - y * sin, x * sin + y * cos, z];
        self.brep.traced(|s| {
            let (t, dt) = match (from_touch, to_touch) {
                (true, _) => (s * s, 2.0 * s),
                (_, true) => (1.0 - (1.0 - s) * (1.0 - s), 2.0 * (1.0 - s)),
                _ => (s, 1.0),
            };
            let (at, [dz, dr]) = (path::at(&segment.piece, t), path::velocity(&segment.piece, t));
            let [x, y] = cut.edge_mm(at.r_mm);
            let speed = match cut {
                // y^2 = r^2 - f^2; at the touch itself dy = sqrt(2 f dr/dt) ds.
                Cut::Flats { from_axis_mm, .. } if y < 1e-6 => {
                    let rise = (2.0 * from_axis_mm * dr.abs()).sqrt();
                    [0.0, if from_touch { rise } else { -rise }, dz * dt]
                }
                Cut::Flats { .. } => [0.0, at.r_mm * dr * dt / y, dz * dt],
                Cut::Slot { .. } => [at.r_mm * dr * dt / x, 0.0, dz * dt],
            };
            (turn([x, side * y, at.z_mm]), turn([speed[0], side * speed[1], speed[2]]))
        })
    }

    /// A face square to the axis.
    fn square(&mut self, index: usize) -> Option<()> {
        let segment = self.segments[index];
        let (a, b) = (segment.start().r_mm, segment.end().r_mm);
        let normal = [0.0, 0.0, if b > a { -1.0 } else { 1.0 }];
        let place = [0.0, 0.0, segment.start().z_mm];
        let gapped = segment.cut.map(|(_, cut)| (cut, [a, b].map(|r| is_gapped(&segment, cut, r))));
        let crossed = self.mouths.iter().any(|mouth| mouth.segment == index && mouth.flat.is_none());
        if let Some((cut, [true, true])) = gapped {
            for member in 0..cut.count() {
                let stretch = |r: f64| [cut.angle(member) + cut.half_gap(r), cut.angle(member + 1) - cut.half_gap(r)];
                let mut sides = self.arcs(index, stretch(a));
                sides.extend(self.step_line(&segment, cut, (member + 1) % cut.count(), -1.0));
                sides.extend(reversed(self.arcs(index + 1, stretch(b))));
                sides.extend(self.step_line(&segment, cut, member, 1.0).map(|(edge, forward)| (edge, !forward)));
                let [from, to] =
                    [stretch(a), stretch(b)].into_iter().fold([0.0, TAU * 2.0], |[from, to], [low, high]| [from.max(low), to.min(high)]);
                let taken = self.taken(|mouth| {
                    let off = (mouth.angle - from).rem_euclid(TAU);
                    mouth.segment == index && mouth.flat.is_none() && off > mouth.reach + 1e-6 && from + off + mouth.reach + 1e-6 < to
                });
                for loops in self.without(sides, taken)?.into_iter().filter(|loops| loops.iter().any(|sides| !sides.is_empty())) {
                    self.brep.plane_face(&loops, place, normal, X);
                }
            }
            return Some(());
        }
        let mut ring = |joint: usize, which: usize| match (gapped, self.thread_at(joint)) {
            (Some((cut, open)), None) if open[which] => Some(self.outline(cut, joint)),
            (_, None) => Some(self.circle(joint)),
            (None, Some(thread)) => self.thread_outline(&thread, joint),
            (Some(_), Some(_)) => None,
        };
        let (first, last) = (ring(index, 0)?, reversed(ring(index + 1, 1)?));
        if crossed {
            // A hole leaves of a ring an open ring, or two halves.
            let taken = self.taken(|mouth| mouth.segment == index && mouth.flat.is_none());
            let sides = first.into_iter().chain(last).chain(taken.into_iter().flat_map(|(_, sides)| sides)).collect();
            for part in self.brep.chained(sides)? {
                self.brep.plane_face(&[part], place, normal, X);
            }
            return Some(());
        }
        let loops = if a > b { [first, last] } else { [last, first] };
        self.brep.plane_face(&loops, place, normal, X);
        Some(())
    }

    /// Where a step's face meets a plane cut through it, from the step's first circle to its second.
    fn step_line(&mut self, segment: &Segment, cut: Cut, member: u32, side: f64) -> Option<Side> {
        let [from, to] = [segment.start(), segment.end()].map(|at| self.gap_place(cut, member, side, [at.z_mm, at.r_mm]));
        self.brep.line(from, to)
    }
}

fn reversed(mut sides: Vec<Side>) -> Vec<Side> {
    sides.reverse();
    sides.into_iter().map(|(edge, forward)| (edge, !forward)).collect()
}
