//! The boundary in segments on which what is cut stays of one kind.

use super::thread::Thread;
use crate::NotExact;
use meridian::{Piece, Point};
use solid::path::{self, NOTHING_MM};
use solid::{Body, Form, Relief, Surface};
use std::f64::consts::{PI, TAU};

/// What is cut into a segment.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Cut {
    /// Planes parallel to the axis, evenly round it.
    Flats { count: u32, from_axis_mm: f64 },
    /// A slot along the bore toward +x.
    Slot { width_mm: f64, floor_mm: f64 },
}

/// How a segment is cut between its ends.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum State {
    /// The planes lie outside it.
    Whole,
    /// Gaps in the turned surface.
    Gaps,
    /// Nothing of the turned surface is left.
    Full,
}

#[derive(Clone, Copy, Debug)]
pub(super) struct Segment {
    pub piece: Piece,
    pub surface: Surface,
    /// Which relief, and what it cuts.
    pub cut: Option<(usize, Cut)>,
    pub state: State,
    /// The thread that takes its place.
    pub thread: Option<Thread>,
}

impl Segment {
    pub fn start(&self) -> Point {
        path::start(&self.piece)
    }

    pub fn end(&self) -> Point {
        path::end(&self.piece)
    }

    /// Square to the axis.
    pub fn is_square(&self) -> bool {
        path::is_line(&self.piece) && (self.start().z_mm - self.end().z_mm).abs() <= NOTHING_MM
    }

    /// A straight-walled cylinder.
    pub fn is_cylinder(&self) -> bool {
        path::is_line(&self.piece) && (self.start().r_mm - self.end().r_mm).abs() <= NOTHING_MM
    }
}

impl Cut {
    pub fn count(self) -> u32 {
        if let Cut::Flats { count, .. } = self { count } else { 1 }
    }

    fn part(self) -> f64 {
        TAU / f64::from(self.count())
    }

    /// Where flats meet one another, from the axis.
    pub fn corner_mm(self) -> f64 {
        match self {
            Cut::Flats { count, from_axis_mm } if count > 2 => from_axis_mm / (PI / f64::from(count)).cos(),
            _ => f64::INFINITY,
        }
    }

    /// Angle of a member.
    pub fn angle(self, member: u32) -> f64 {
        f64::from(member) * self.part()
    }

    /// Half the gap in a circle of that radius; 0 where it is not reached, half a part where nothing is left.
    pub fn half_gap(self, r_mm: f64) -> f64 {
        match self {
            Cut::Flats { from_axis_mm, .. } if r_mm <= from_axis_mm + NOTHING_MM => 0.0,
            Cut::Flats { from_axis_mm, .. } => (from_axis_mm / r_mm).acos().min(0.5 * self.part()),
            Cut::Slot { width_mm, .. } => (0.5 * width_mm / r_mm).min(1.0).asin(),
        }
    }

    /// The gap's edge on a circle of that radius, across and beside, in the member's own frame (x through its middle), for its right side.
    pub fn edge_mm(self, r_mm: f64) -> [f64; 2] {
        match self {
            Cut::Flats { from_axis_mm: f, .. } if r_mm <= f + NOTHING_MM => [f, 0.0],
            Cut::Flats { from_axis_mm: f, .. } => {
                let y = (r_mm * r_mm - f * f).max(0.0).sqrt();
                [f, if r_mm >= self.corner_mm() - NOTHING_MM { f * (0.5 * self.part()).tan() } else { y }]
            }
            Cut::Slot { width_mm, .. } => [(r_mm * r_mm - 0.25 * width_mm * width_mm).max(0.0).sqrt(), 0.5 * width_mm],
        }
    }

    fn state(self, r_mm: f64) -> State {
        match self {
            Cut::Flats { from_axis_mm, .. } if r_mm <= from_axis_mm + NOTHING_MM => State::Whole,
            Cut::Flats { .. } if r_mm >= self.corner_mm() - NOTHING_MM => State::Full,
            _ => State::Gaps,
        }
    }
}

/// All segments of a body whose reliefs are flats and slots, the bore's first.
pub(super) fn segments(body: &Body) -> Result<Vec<Segment>, NotExact> {
    let reliefs: Vec<&Relief> = body.cut_reliefs().collect();
    let hollow = body.surfaces().iter().any(|(surface, chain)| *surface == Surface::Hollow && !chain.is_empty());
    let mut all = Vec::new();
    for (surface, chain) in body.surfaces() {
        let own: Vec<(usize, &Relief, Cut)> = reliefs
            .iter()
            .enumerate()
            .filter(|(_, relief)| relief.on == surface && !is_thread(relief))
            .map(|(index, relief)| cut_of(relief).map(|cut| (index, *relief, cut)))
            .collect::<Option<_>>()
            .ok_or(NotExact::MeshOnly)?;
        let threads: Vec<&Relief> = reliefs.iter().copied().filter(|relief| relief.on == surface && is_thread(relief)).collect();
        let last = chain.len().saturating_sub(1);
        for (index, piece) in chain.iter().enumerate() {
            for segment in split(piece, surface, &own, &threads) {
                let segment = with_cut(segment, &own).ok_or(NotExact::MeetsCut)?;
                all.push(with_thread(segment, &threads)?);
            }
            // The face round the bore's mouth (of the boss, in a hollow), or the other end's.
            let mouth = index == 0 && (surface == Surface::Hollow || (surface == Surface::Outside && !hollow));
            let end = mouth || (index == last && surface == Surface::Outside);
            if let Some(segment) = all.last_mut().filter(|segment| end && segment.is_square() && segment.cut.is_none()) {
                open_slot(segment, &reliefs, mouth);
            }
        }
    }
    if monotone(&all) { Ok(all) } else { Err(NotExact::TurnsBack) }
}

fn cut_of(relief: &Relief) -> Option<Cut> {
    match relief.form {
        Form::Flats { count, from_axis_mm } => Some(Cut::Flats { count, from_axis_mm }),
        Form::Slot { width_mm, floor_mm } => Some(Cut::Slot { width_mm, floor_mm }),
        _ => None,
    }
}

/// A piece split where reliefs begin and end and where their planes touch it.
fn split(piece: &Piece, surface: Surface, own: &[(usize, &Relief, Cut)], threads: &[&Relief]) -> Vec<Segment> {
    let whole = Segment { piece: *piece, surface, cut: None, state: State::Whole, thread: None };
    if whole.is_square() {
        return vec![whole];
    }
    let mut stops = vec![0.0, 1.0];
    stops.extend(threads.iter().flat_map(|relief| relief.z_mm).flat_map(|z| path::heights_at(piece, z)));
    for (_, relief, cut) in own {
        stops.extend(relief.z_mm.iter().flat_map(|&z| path::heights_at(piece, z)));
        if let Cut::Flats { from_axis_mm, .. } = *cut {
            let touched = [from_axis_mm, cut.corner_mm()].into_iter().filter(|r| r.is_finite());
            stops.extend(touched.flat_map(|r| path::radii_at(piece, r)));
        }
    }
    stops.sort_by(f64::total_cmp);
    stops.dedup_by(|b, a| *b - *a < 1e-9);
    // From touch to touch a bead's flat is cut in two, so that either half has one touch only.
    let touches = |t: f64| {
        let r = path::at(piece, t).r_mm;
        own.iter().any(|(_, _, cut)| matches!(cut, Cut::Flats { from_axis_mm, .. } if (r - from_axis_mm).abs() < 1e-6))
    };
    let halves: Vec<f64> =
        stops.windows(2).filter(|pair| touches(pair[0]) && touches(pair[1])).map(|pair| 0.5 * (pair[0] + pair[1])).collect();
    stops.extend(halves);
    stops.sort_by(f64::total_cmp);
    let (mut rest, mut from, mut found) = (*piece, 0.0, Vec::new());
    for &to in stops.iter().skip(1) {
        let share = (to - from) / (1.0 - from);
        let (part, left) = if share < 1.0 { path::split(&rest, share) } else { (rest, rest) };
        found.push(Segment { piece: part, ..whole });
        (rest, from) = (left, to);
    }
    found
}

/// The segment with the one relief that reaches it; `None` if two do.
fn with_cut(segment: Segment, own: &[(usize, &Relief, Cut)]) -> Option<Segment> {
    let (a, b) = (segment.start(), segment.end());
    let middle = path::at(&segment.piece, 0.5);
    let reach = if segment.is_square() { 1e-6 } else { 0.0 };
    let mut active = own.iter().filter(|(_, relief, _)| middle.z_mm >= relief.z_mm[0] - reach && middle.z_mm <= relief.z_mm[1] + reach);
    let Some(&(index, _, cut)) = active.next() else { return Some(segment) };
    if active.next().is_some() {
        return None;
    }
    match cut {
        // The bottom of a bore lies level with the end of a slot that goes as deep.
        Cut::Slot { width_mm, .. } if a.r_mm.min(b.r_mm) <= 0.5 * width_mm + NOTHING_MM => segment.is_square().then_some(segment),
        _ => {
            let state = if segment.is_square() { cut.state(a.r_mm.max(b.r_mm)) } else { cut.state(middle.r_mm) };
            Some(if state == State::Whole { segment } else { Segment { cut: Some((index, cut)), state, ..segment } })
        }
    }
}

fn is_thread(relief: &Relief) -> bool {
    matches!(relief.form, Form::Thread { .. })
}

/// The segment with the thread that reaches it; faces square to the axis have none.
fn with_thread(segment: Segment, threads: &[&Relief]) -> Result<Segment, NotExact> {
    let z_mm = path::at(&segment.piece, 0.5).z_mm;
    let mut own = threads.iter().filter(|relief| !segment.is_square() && (relief.z_mm[0]..=relief.z_mm[1]).contains(&z_mm));
    match (own.next(), own.next()) {
        (None, _) => Ok(segment),
        (Some(_), Some(_)) => Err(NotExact::MeetsCut),
        (Some(_), None) if segment.cut.is_some() => Err(NotExact::MeetsCut),
        (Some(relief), None) => Ok(Segment { thread: Some(Thread::in_segment(relief, &segment)?), ..segment }),
    }
}

/// A slot that reaches an end face opens in it.
fn open_slot(segment: &mut Segment, reliefs: &[&Relief], rod_end: bool) {
    let z = segment.start().z_mm;
    let inner_mm = if rod_end { segment.start().r_mm } else { segment.end().r_mm };
    for (index, relief) in reliefs.iter().enumerate() {
        let Some(cut @ Cut::Slot { width_mm, .. }) = cut_of(relief) else { continue };
        if z >= relief.z_mm[0] - 1e-6 && z <= relief.z_mm[1] + 1e-6 && inner_mm > 0.5 * width_mm {
            (segment.cut, segment.state) = (Some((index, cut)), State::Gaps);
        }
    }
}

/// Under a relief the surface may not turn back along the axis.
fn monotone(segments: &[Segment]) -> bool {
    segments.iter().filter(|segment| segment.cut.is_some() && !segment.is_square()).all(|segment| {
        let forward = if segment.surface == Surface::Outside { 1.0 } else { -1.0 };
        (0..=64).all(|i| path::velocity(&segment.piece, f64::from(i) / 64.0)[0] * forward > -1e-12)
    })
}
