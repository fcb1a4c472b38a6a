//! Threads in a bore: four strips that wind along it (crest, flank, root, flank), crest and root parts of cylinders, flanks ruled between helices.
//!
//! Across the thread `u` counts turns from the middle of a crest: at the angle `t` round the axis a place lies at z = pitch (u + t / turn). Helices are cubic B-splines through true places with true tangents.

use super::segments::Segment;
use super::{Builder, X, Z, reversed};
use crate::NotExact;
use crate::brep::{Place, Side};
use crate::step_text::real;
use solid::{Form, Relief, Surface};
use std::f64::consts::{FRAC_PI_2, TAU};

/// A thread in a stretch of a bore.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Thread {
    pitch_mm: f64,
    crest_mm: f64,
    root_mm: f64,
    flats: [f64; 2],
    /// Where it begins and ends.
    z_mm: [f64; 2],
}

/// A line along the thread at constant `u`.
#[derive(Clone, Copy)]
struct Helix {
    u: f64,
    r_mm: f64,
}

/// More turns make a file too large to be of use.
const MOST_TURNS: f64 = 100.0;
/// Pieces of a helix in a quarter turn: within 2e-7 mm at a radius of 5 mm.
const QUARTER_PIECES: f64 = 24.0;
/// Corners nearer than that on a helix are one, radians.
const APART_RAD: f64 = 1e-3;

impl Thread {
    /// The thread that a relief cuts in a segment that lies in its reach.
    ///
    /// # Errors
    /// [`NotExact::RunsOut`] where the bore is not one cylinder along it or its form has no flat roots; [`NotExact::MeshOnly`] beyond [`MOST_TURNS`].
    pub fn in_segment(relief: &Relief, segment: &Segment) -> Result<Thread, NotExact> {
        let Form::Thread { pitch_mm, crest_mm, flats } = relief.form else { return Err(NotExact::MeshOnly) };
        let (a, b) = (segment.start(), segment.end());
        let thread = Thread { pitch_mm, crest_mm, root_mm: a.r_mm, flats, z_mm: [a.z_mm.min(b.z_mm), a.z_mm.max(b.z_mm)] };
        let turns = (thread.z_mm[1] - thread.z_mm[0]) / pitch_mm;
        let sound = segment.surface == Surface::Bore
            && segment.is_cylinder()
            && segment.cut.is_none()
            && crest_mm < a.r_mm - 1e-3
            && flats.iter().all(|flat| *flat > 0.01)
            && flats[0] + flats[1] < 0.99
            && turns > 1.0;
        match (sound, turns <= MOST_TURNS) {
            (false, _) => Err(NotExact::RunsOut),
            (_, false) => Err(NotExact::MeshOnly),
            _ => Ok(thread),
        }
    }

    /// Lines along it, from one crest's beginning to the next.
    fn helices(&self) -> [Helix; 5] {
        let [crest, root] = self.flats.map(|flat| 0.5 * flat);
        let at = |u: f64, r_mm: f64| Helix { u, r_mm };
        let (r0, r1) = (self.crest_mm, self.root_mm);
        [at(-crest, r0), at(crest, r0), at(0.5 - root, r1), at(0.5 + root, r1), at(1.0 - crest, r0)]
    }

    /// Where round the axis a helix passes a height.
    fn angle(&self, u: f64, z_mm: f64) -> f64 {
        TAU * (z_mm / self.pitch_mm - u)
    }

    /// Place and speed by the angle.
    fn at(&self, helix: Helix, angle: f64) -> (Place, Place) {
        let (sin, cos) = angle.sin_cos();
        let (r, rise) = (helix.r_mm, self.pitch_mm / TAU);
        ([r * cos, r * sin, self.pitch_mm * helix.u + rise * angle], [-r * sin, r * cos, rise])
    }

    /// The two corners where the crests and flanks of one turn begin and end at a height, ascending.
    pub fn corners(&self, z_mm: f64) -> [f64; 2] {
        let root = 0.5 - 0.5 * self.flats[1];
        [self.angle(root, z_mm), self.angle(-root, z_mm)]
    }
}

/// Quarter turns between two angles, clear of both.
fn quarters(from: f64, to: f64) -> impl Iterator<Item = f64> {
    let (first, last) = (((from + APART_RAD) / FRAC_PI_2).ceil() as i64, ((to - APART_RAD) / FRAC_PI_2).floor() as i64);
    (first..=last).map(|quarter| quarter as f64 * FRAC_PI_2)
}

/// The same stretch, begun in the first turn.
fn within_turn([from, to]: [f64; 2]) -> [f64; 2] {
    let first = from.rem_euclid(TAU);
    [first, first + to - from]
}

fn pieces(from: f64, to: f64) -> usize {
    2 * ((to - from) / FRAC_PI_2 * 0.5 * QUARTER_PIECES).ceil().max(2.0) as usize
}

impl Builder<'_> {
    /// The edges of a helix between two angles of its own, ascending.
    fn along(&mut self, thread: &Thread, helix: Helix, [from, to]: [f64; 2]) -> Vec<Side> {
        // Corners are those of the whole helix, not of this stretch.
        let ends = thread.z_mm.map(|z| thread.angle(helix.u, z));
        let inner = quarters(ends[0], ends[1]).filter(|angle| *angle > from + 0.5 * APART_RAD && *angle < to - 0.5 * APART_RAD);
        let stops: Vec<f64> = std::iter::once(from).chain(inner).chain([to]).collect();
        let one = |pair: &[f64]| {
            let span = pair[1] - pair[0];
            let f = |s: f64| {
                let (place, speed) = thread.at(helix, pair[0] + s * span);
                (place, speed.map(|v| v * span))
            };
            self.brep.fitted_in(&f, pieces(pair[0], pair[1]))
        };
        stops.windows(2).map(one).collect()
    }

    /// The edge of one strip (from its helix on to the next) where the thread begins or ends, by ascending angle.
    fn strip_end(&mut self, thread: &Thread, strip: usize, joint: usize) -> Option<Vec<Side>> {
        let helices = thread.helices();
        let (low, high) = (helices[strip], helices[strip + 1]);
        let z = self.joint(joint).z_mm;
        let [from, to] = [thread.angle(high.u, z), thread.angle(low.u, z)];
        Some(match strip {
            0 => vec![self.brep.arc([0.0, 0.0, z], [Z, X], thread.crest_mm, [from, to])],
            2 => self.arcs(joint, within_turn([from, to])),
            _ => vec![self.brep.traced(|s| {
                let (sin, cos) = (from + s * (to - from)).sin_cos();
                let (r, dr) = (high.r_mm + s * (low.r_mm - high.r_mm), low.r_mm - high.r_mm);
                let turn = to - from;
                ([r * cos, r * sin, z], [dr * cos - turn * r * sin, dr * sin + turn * r * cos, 0.0])
            })?],
        })
    }

    /// Flank, crest and flank where the thread begins or ends, by ascending angle.
    fn thread_profile(&mut self, thread: &Thread, joint: usize) -> Option<Vec<Side>> {
        let mut sides = self.strip_end(thread, 1, joint)?;
        sides.extend(self.strip_end(thread, 0, joint)?);
        // The other flank is the last of the turn before.
        sides.extend(self.strip_end(thread, 3, joint)?);
        Some(sides)
    }

    /// What a thread leaves open at one of its ends, all round.
    pub(super) fn thread_outline(&mut self, thread: &Thread, joint: usize) -> Option<Vec<Side>> {
        let mut sides = self.thread_profile(thread, joint)?;
        sides.extend(self.strip_end(thread, 2, joint)?);
        Some(sides)
    }

    /// All faces of a thread, with the ends of its crests where the bore goes on beyond them.
    pub(super) fn thread(&mut self, index: usize, thread: &Thread) -> Option<()> {
        // A bore's wall runs toward its mouth.
        let joints = [index + 1, index];
        let helices = thread.helices();
        let surfaces = [thread.crest_mm, thread.root_mm].map(|r_mm| {
            let placement = self.brep.entities.placement([0.0; 3], Z, X);
            self.brep.entities.add(&format!("CYLINDRICAL_SURFACE('',#{placement},{})", real(r_mm)))
        });
        for strip in 0..4 {
            let (low, high) = (helices[strip], helices[strip + 1]);
            let ends = |helix: Helix| thread.z_mm.map(|z| thread.angle(helix.u, z));
            let (lows, highs) = (ends(low), ends(high));
            // Rulings part it in quarter turns; the first patch begins and the last one ends obliquely.
            let cuts: Vec<f64> = quarters(lows[0], highs[1]).collect();
            for patch in 0..=cuts.len() {
                let (left, right) = (patch.checked_sub(1).map(|before| cuts[before]), cuts.get(patch).copied());
                let mut sides = match left {
                    Some(angle) => vec![self.brep.line(thread.at(low, angle).0, thread.at(high, angle).0)?],
                    None => reversed(self.strip_end(thread, strip, joints[0])?),
                };
                sides.extend(self.along(thread, high, [left.unwrap_or(highs[0]), right.unwrap_or(highs[1])]));
                match right {
                    Some(angle) => sides.push(self.brep.line(thread.at(high, angle).0, thread.at(low, angle).0)?),
                    None => sides.extend(self.strip_end(thread, strip, joints[1])?),
                }
                sides.extend(reversed(self.along(thread, low, [left.unwrap_or(lows[0]), right.unwrap_or(lows[1])])));
                let surface = match strip {
                    0 => surfaces[0],
                    2 => surfaces[1],
                    _ => {
                        let [from, to] = [left.unwrap_or(highs[0]), right.unwrap_or(lows[1])];
                        let on = |helix: Helix| {
                            move |s: f64| {
                                let (place, speed) = thread.at(helix, from + s * (to - from));
                                (place, speed.map(|v| v * (to - from)))
                            }
                        };
                        self.brep.ruled([&on(low), &on(high)], pieces(from, to))
                    }
                };
                self.brep.face(&[sides], surface, false);
            }
        }
        for (joint, begins) in [(joints[0], true), (joints[1], false)] {
            if self.is_square_beside(joint) {
                continue;
            }
            let z = self.joint(joint).z_mm;
            let round = self.arcs(joint, within_turn(thread.corners(z)));
            let profile = self.thread_profile(thread, joint)?;
            let (mut sides, rest) = if begins { (profile, reversed(round)) } else { (round, reversed(profile)) };
            sides.extend(rest);
            self.brep.plane_face(&[sides], [0.0, 0.0, z], [0.0, 0.0, if begins { -1.0 } else { 1.0 }], X);
        }
        Some(())
    }

    /// Whether a face square to the axis begins or ends at a circle.
    fn is_square_beside(&self, joint: usize) -> bool {
        let count = self.segments.len();
        let before = if joint > 0 { Some(joint - 1) } else { self.through.then_some(count - 1) };
        let after = if joint < count { Some(joint) } else { self.through.then_some(0) };
        [before, after].into_iter().flatten().any(|index| self.segments[index].is_square())
    }

    /// The thread that begins or ends at a circle.
    pub(super) fn thread_at(&self, joint: usize) -> Option<Thread> {
        let count = self.segments.len();
        let before = if joint > 0 { Some(joint - 1) } else { self.through.then_some(count - 1) };
        let after = if joint < count { Some(joint) } else { self.through.then_some(0) };
        [before, after].into_iter().flatten().find_map(|index| self.segments[index].thread)
    }
}
