//! Flats, flutes and knurls as they show from the side: edges at their true heights, flat faces marked by crossed thin lines, a knurl by its pattern.
//!
//! ISO 128 marks plane faces on round parts by thin diagonals, ISO 13444 shows a knurl by thin lines along its way; from memory, no standard was open
//! beside. The part is turned so that one flat faces the viewer and no groove breaks the outline.

use super::layout::Frame;
use ink::{Figure, palette};
use meridian::Point;
use solid::{Body, Form, Knurl, Relief, Surface, path};
use std::f64::consts::{FRAC_PI_2, TAU};

/// Places along a relief at which the surface under it is looked up.
const LOOKS: usize = 24;
/// From line to line of a knurl's pattern, on paper: a true fine pitch would fill with ink.
const PATTERN_MM: f64 = 1.2;
/// A diamond knurl's grooves run at this angle to the axis.
const DIAMOND_RAD: f64 = 30.0 * std::f64::consts::PI / 180.0;

/// A line of a relief, on the half above the axis or below it.
#[derive(Clone, Debug, PartialEq)]
struct Mark {
    line: Vec<Point>,
    /// An edge of the part; else a thin line that only tells what the face is.
    edge: bool,
}

/// Draws what shows of the reliefs on `surface`; `side` 1 is above the axis, -1 below.
pub(super) fn draw(figure: &mut Figure, body: &Body, frame: &Frame, surface: Surface, side: f64) {
    for relief in body.cut_reliefs().filter(|relief| relief.on == surface) {
        for mark in marks(body, relief, PATTERN_MM / frame.scale.factor) {
            let line: Vec<[f64; 2]> = mark.line.iter().map(|&at| frame.at(at, side)).collect();
            let stroke = palette::outline(palette::INK).width(if mark.edge { 0.35 } else { 0.18 });
            figure.path(ink::polyline_steps(&line), Some(stroke), None);
        }
    }
}

/// How a relief is told in the notes.
pub(super) fn words(relief: &Relief) -> String {
    let words = relief.words();
    match relief.form {
        Form::Slot { .. } => format!("Turned into the section: {words}."),
        Form::Flats { .. } => format!("{words}; crossed thin lines mark the face."),
        Form::Flutes { .. } => format!("{words}."),
        Form::Knurl { .. } => format!("{words}; its lines are drawn wider apart."),
        Form::Thread { .. } => format!("{words}; the bore is drawn at its outer diameter."),
    }
}

fn marks(body: &Body, relief: &Relief, pattern_mm: f64) -> Vec<Mark> {
    // Its own surface: in a hollow part the bore is the boss's, not the cup's.
    let own = body.surfaces().into_iter().filter(|(on, _)| *on == relief.on).flat_map(|(_, chain)| chain);
    let own: Vec<_> = own.copied().collect();
    let radius = |z: f64| path::greatest_radius_at(&own, z);
    let [first, last] = relief.z_mm;
    // What the relief lies on: places with their radii, as far as there is a surface.
    let under: Vec<Point> = (0..=LOOKS)
        .map(|k| first + (last - first) * (k as f64 / LOOKS as f64).clamp(1e-6, 1.0 - 1e-6))
        .filter_map(|z_mm| Some(Point { z_mm, r_mm: radius(z_mm)? }))
        .collect();
    if under.len() < 2 {
        return Vec::new();
    }
    match relief.form {
        Form::Flats { count, from_axis_mm } => flats(&under, count, from_axis_mm),
        Form::Flutes { count, radius_mm, depth_mm } => flutes(&under, count, radius_mm, depth_mm),
        Form::Knurl { pattern, .. } => knurl(&under, pattern, pattern_mm),
        Form::Slot { .. } | Form::Thread { .. } => Vec::new(),
    }
}

/// The edges of the flats that are seen, and thin lines across the one that faces the viewer.
fn flats(under: &[Point], count: u32, from_axis_mm: f64) -> Vec<Mark> {
    // Only where the surface is wider than the flats do they cut it.
    let cut: Vec<Point> = under.iter().copied().filter(|p| p.r_mm > from_axis_mm + 1e-6).collect();
    let (Some(start), Some(end)) = (cut.first().copied(), cut.last().copied()) else { return Vec::new() };
    let half = |p: &Point| (from_axis_mm / p.r_mm).clamp(-1.0, 1.0).acos();
    let mut marks = Vec::new();
    for k in 0..count.min(64) {
        let middle = FRAC_PI_2 + TAU * f64::from(k) / f64::from(count.max(1));
        marks.extend(seen_edges(&cut, middle, half));
    }
    let height = |p: Point| Point { r_mm: p.r_mm * half(&p).sin(), ..p };
    let foot = |p: Point| Point { r_mm: 0.0, ..p };
    let middle = Point { z_mm: 0.5 * (start.z_mm + end.z_mm), r_mm: 0.0 };
    // The lower half of the cross is the other half of the picture's.
    marks.extend([start, end].map(|p| Mark { line: vec![height(p), middle], edge: false }));
    marks.extend([start, end].map(|p| Mark { line: vec![foot(p), height(p)], edge: true }));
    marks
}

/// The edges of the grooves that are seen; a ridge stands at the outline.
fn flutes(under: &[Point], count: u32, radius_mm: f64, depth_mm: f64) -> Vec<Mark> {
    // Where a circle about the groove's middle meets the surface (law of cosines).
    let half = |p: &Point| {
        let centre = p.r_mm - depth_mm + radius_mm;
        ((p.r_mm * p.r_mm + centre * centre - radius_mm * radius_mm) / (2.0 * p.r_mm * centre).max(1e-9)).clamp(-1.0, 1.0).acos()
    };
    let mut marks = Vec::new();
    for k in 0..count.min(360) {
        let middle = TAU * (f64::from(k) + 0.5) / f64::from(count.max(1));
        marks.extend(seen_edges(under, middle, half));
    }
    marks
}

/// The two edges of a cut that lies at `middle` and reaches `half` to either side, radians from the top, and its ends if both are seen.
fn seen_edges(under: &[Point], middle: f64, half: impl Fn(&Point) -> f64) -> Vec<Mark> {
    let edges: Vec<Mark> = [-1.0, 1.0].into_iter().filter_map(|turn| seen_edge(under, |p| middle + turn * half(p))).collect();
    let mut marks = edges.clone();
    if let [a, b] = edges.as_slice() {
        let ends = [(a.line.first(), b.line.first()), (a.line.last(), b.line.last())];
        let straight = |(from, to): (Option<&Point>, Option<&Point>)| Some((*from?, *to?)).filter(|(from, to)| from.z_mm == to.z_mm);
        marks.extend(ends.into_iter().filter_map(straight).map(|(from, to)| Mark { line: vec![from, to], edge: true }));
    }
    marks
}

/// A line on the surface at an angle from the top, if it lies on the quarter that is seen above the axis.
fn seen_edge(under: &[Point], angle: impl Fn(&Point) -> f64) -> Option<Mark> {
    let seen = |p: &Point| (1e-6..FRAC_PI_2 - 1e-6).contains(&angle(p).rem_euclid(TAU));
    let line: Vec<Point> = under.iter().filter(|p| seen(p)).map(|p| Point { r_mm: p.r_mm * angle(p).cos(), ..*p }).collect();
    (line.len() > 1).then_some(Mark { line, edge: true })
}

/// The ends of a knurled stretch and thin lines along its grooves, as if the surface were rolled out.
fn knurl(under: &[Point], pattern: Knurl, apart_mm: f64) -> Vec<Mark> {
    let (start, end) = (under[0], under[under.len() - 1]);
    let top = under.iter().fold(f64::INFINITY, |m, p| m.min(p.r_mm));
    let ends = [start, end].map(|p| Mark { line: vec![Point { r_mm: 0.0, ..p }, p], edge: false });
    let mut marks = ends.to_vec();
    let length = end.z_mm - start.z_mm;
    let mut across = |from: [f64; 2], slope: f64| {
        // r = from + slope (z - z0), kept within the stretch.
        let at = |r: f64| from[0] + (r - from[1]) / slope;
        let (mut a, mut b) = (start.z_mm, end.z_mm);
        if slope != 0.0 {
            let (low, high) = (at(0.0).min(at(top)), at(0.0).max(at(top)));
            (a, b) = (a.max(low), b.min(high));
        }
        if b - a > 1e-6 {
            let place = |z_mm: f64| Point { z_mm, r_mm: (from[1] + slope * (z_mm - from[0])).clamp(0.0, top) };
            marks.push(Mark { line: vec![place(a), place(b)], edge: false });
        }
    };
    match pattern {
        Knurl::Straight => {
            let count = (top / apart_mm).ceil().clamp(1.0, 200.0) as usize;
            (1..count).for_each(|k| across([start.z_mm, top * k as f64 / count as f64], 0.0));
        }
        Knurl::Diamond => {
            let slope = DIAMOND_RAD.tan();
            let step = apart_mm / DIAMOND_RAD.sin();
            let reach = (length + top / slope) / step;
            let count = reach.ceil().clamp(1.0, 400.0) as i32;
            for k in -count..=count {
                let z = start.z_mm + step * f64::from(k);
                across([z, 0.0], slope);
                across([z, 0.0], -slope);
            }
        }
    }
    marks
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rod(radius_mm: f64) -> Vec<Point> {
        (0..=LOOKS).map(|k| Point { z_mm: 10.0 * k as f64 / LOOKS as f64, r_mm: radius_mm }).collect()
    }

    fn heights(marks: &[Mark]) -> Vec<f64> {
        let mut heights: Vec<f64> = marks.iter().filter(|m| m.edge && m.line.len() > 2).map(|m| m.line[0].r_mm).collect();
        heights.sort_by(f64::total_cmp);
        heights
    }

    /// A flat 3 mm from the axis of a bore of 10 mm is a chord of 8 mm (3-4-5): its edges lie 4 mm off the axis.
    #[test]
    fn a_flat_that_faces_the_viewer_is_as_high_as_its_chord() {
        let marks = flats(&rod(5.0), 1, 3.0);
        assert_eq!(heights(&marks).len(), 1);
        assert!((heights(&marks)[0] - 4.0).abs() < 1e-9);
        assert_eq!(marks.iter().filter(|m| !m.edge).count(), 2, "the cross");
        assert!(flats(&rod(5.0), 1, 5.5).is_empty(), "a flat off the surface cuts nothing");
    }

    /// Six flats of a hexagon on its round blank: the edges of the one in front are half the radius off the axis.
    #[test]
    fn a_hexagon_shows_its_corners() {
        let marks = flats(&rod(6.0), 6, 6.0 * 30f64.to_radians().cos());
        let heights = heights(&marks);
        assert!(!heights.is_empty() && heights.iter().all(|h| (h - 3.0).abs() < 1e-6 || (h - 6.0).abs() < 1e-6), "{heights:?}");
    }

    /// Edges of a groove in closed form: circle of radius 2 about a place 6 off the axis on a round of 5 (cosine 57/60).
    #[test]
    fn flutes_stand_where_their_rounds_meet_the_surface() {
        let marks = flutes(&rod(5.0), 4, 2.0, 1.0);
        let half = (57.0f64 / 60.0).acos();
        let expected = [1.0, -1.0].map(|turn| 5.0 * (std::f64::consts::FRAC_PI_4 + turn * half).cos());
        let heights = heights(&marks);
        assert_eq!(heights.len(), 2);
        assert!(heights.iter().zip(expected).all(|(h, e)| (h - e).abs() < 1e-9), "{heights:?}, expected {expected:?}");
    }

    #[test]
    fn a_knurls_lines_stay_on_it() {
        for pattern in [Knurl::Straight, Knurl::Diamond] {
            let marks = knurl(&rod(8.0), pattern, 0.8);
            assert!(marks.len() > 8, "{}", marks.len());
            for p in marks.iter().flat_map(|m| &m.line) {
                assert!((-1e-9..=10.0 + 1e-9).contains(&p.z_mm) && (-1e-9..=8.0 + 1e-9).contains(&p.r_mm), "{p:?}");
            }
        }
    }
}
