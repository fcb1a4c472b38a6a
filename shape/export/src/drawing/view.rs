use super::layout::Frame;
use super::reliefs;
use ink::{Figure, Step, palette};
use meridian::{Piece, Point};
use solid::path::{self, Sweep};
use solid::{Body, Form, Surface};
use std::f64::consts::FRAC_PI_4;

/// A bend of the outline that shows as an edge, radians: 8 degrees, about where a polished edge catches the light (common practice, no source).
const EDGE_RAD: f64 = 0.14;
/// Least distance of two edges on paper: twice the wider line (ISO 128 asks for at least that, and 0.7 mm).
const PARTED_MM: f64 = 1.0;
/// How far the centre line stands out of the part.
pub(crate) const OVERSHOOT_MM: f64 = 4.0;

/// Outlines, edges, hatching and centre line.
pub(crate) fn draw(figure: &mut Figure, body: &Body, frame: &Frame) {
    section_half(figure, body, frame);
    view_half(figure, body, frame);
    let [low, high] = body.bounds_mm();
    let from = frame.at(Point { z_mm: low[2], r_mm: 0.0 }, 1.0);
    let to = frame.at(Point { z_mm: high[2], r_mm: 0.0 }, 1.0);
    figure.line([from[0] - OVERSHOOT_MM, from[1]], [to[0] + OVERSHOOT_MM, to[1]], palette::chain(palette::INK));
}

/// How far the parting line stands out of the part, on paper.
const PARTING_OUT_MM: f64 = 2.5;
/// How far off the outline a side without draft is marked, on paper.
const UNDRAFTED_OFF_MM: f64 = 1.0;

/// Where a mould parts, the stretches of the outline that hold it, and those that lack draft.
pub(crate) fn mould(figure: &mut Figure, body: &Body, frame: &Frame) {
    let pull = body.pull();
    let out = body.bounds_mm()[1][0] + PARTING_OUT_MM / frame.scale.factor;
    let end = |side: f64| frame.at(Point { z_mm: pull.parting_z_mm, r_mm: out }, side);
    let dashes = ink::Stroke { dash_mm: vec![5.0, 0.8, 1.0, 0.8, 1.0, 0.8], ..palette::outline(palette::INK).width(0.35) };
    figure.line(end(1.0), end(-1.0), dashes);
    let places = |[first, last]: [f64; 2], off_mm: f64| -> Vec<Point> {
        let looks = 64;
        let inset = 1e-6 * (last - first);
        (0..=looks)
            .map(|i| (first + inset) + (last - first - 2.0 * inset) * f64::from(i) / f64::from(looks))
            .filter_map(|z_mm| body.outer_radius_mm(z_mm).map(|r_mm| Point { z_mm, r_mm: r_mm + off_mm }))
            .collect()
    };
    for side in [1.0, -1.0] {
        for &stretch in &pull.undercuts_mm {
            let line: Vec<[f64; 2]> = places(stretch, 0.0).into_iter().map(|at| frame.at(at, side)).collect();
            figure.path(ink::polyline_steps(&line), Some(palette::outline(palette::BRICK).width(1.0)), None);
        }
        // Beside the outline, in short dashes: told from undercuts without their colour.
        for &stretch in &pull.undrafted_mm {
            let line: Vec<[f64; 2]> =
                places(stretch, UNDRAFTED_OFF_MM / frame.scale.factor).into_iter().map(|at| frame.at(at, side)).collect();
            let dashes = ink::Stroke { dash_mm: vec![1.2, 0.8], ..palette::outline(palette::BRICK).width(0.35) };
            figure.path(ink::polyline_steps(&line), Some(dashes), None);
        }
    }
}

/// Below the axis, cut: hatched material, its outline, and the edges of the bore that are seen behind the cut.
fn section_half(figure: &mut Figure, body: &Body, frame: &Frame) {
    let boundary = body.boundary();
    let mut window = steps(&boundary, frame, -1.0);
    window.push(Step::Close);
    let cuts = cuts(body, frame);
    // Run the other way than the outline: what is cut away is not hatched.
    for cut in &cuts {
        window.extend(ink::polyline_steps(&cut.around));
        window.push(Step::Close);
    }
    let wall_on_paper = body.wall().map_or(f64::INFINITY, |wall| wall.thickness_mm * frame.scale.factor);
    let pitch = if wall_on_paper < 5.0 { 1.4 } else { 2.2 };
    figure.hatch(window, 45.0, pitch, palette::hair(palette::INK).width(0.18));
    figure.path(steps(&boundary, frame, -1.0), Some(outline()), None);
    edges(figure, body.inner(), frame, -1.0);
    reliefs::draw(figure, body, frame, Surface::Bore, -1.0);
    rims(figure, body, frame, -1.0);
    for cut in cuts {
        for [from, to] in cut.walls {
            figure.line(from, to, outline());
        }
        if let Some([from, to]) = cut.axis {
            figure.line(from, to, palette::chain(palette::INK).width(0.18));
        }
    }
}

/// A cross hole or a slot, turned into the section: what it takes away clockwise as seen, its walls, its axis.
struct CutAway {
    around: Vec<[f64; 2]>,
    walls: Vec<[[f64; 2]; 2]>,
    axis: Option<[[f64; 2]; 2]>,
}

fn cuts(body: &Body, frame: &Frame) -> Vec<CutAway> {
    let looks = 48;
    // From the inside to the outside at each place along the axis; the inside is run first, forward.
    let between = |[first, last]: [f64; 2], inside: &dyn Fn(f64) -> f64, outside: &dyn Fn(f64) -> f64| -> CutAway {
        let place = |z_mm: f64, r_mm: f64| frame.at(Point { z_mm, r_mm }, -1.0);
        let z = |i: i32| first + (last - first) * f64::from(i) / f64::from(looks);
        let inner = (0..=looks).map(|i| place(z(i), inside(z(i))));
        let outer = (0..=looks).rev().map(|i| place(z(i), outside(z(i))));
        let ends = [first, last].map(|z| [place(z, inside(z)), place(z, outside(z))]);
        CutAway { around: inner.chain(outer).collect(), walls: ends.to_vec(), axis: None }
    };
    let bore = |z: f64| body.bore_radius_mm(z).unwrap_or(0.0);
    let outer = |z: f64| body.outer_radius_mm(z).unwrap_or(0.0);
    let mut found = Vec::new();
    for hole in body.cross_holes() {
        let a = 0.5 * hole.diameter_mm;
        // Where a slot lies over it in the section the hole begins at its floor: what is cut away twice would be hatched again.
        let inside = |z: f64| {
            let floors =
                body.cut_reliefs().filter(|relief| (relief.z_mm[0]..=relief.z_mm[1]).contains(&z)).filter_map(|relief| match relief.form {
                    Form::Slot { floor_mm, .. } => Some(floor_mm),
                    _ => None,
                });
            floors.fold(bore(z), f64::max)
        };
        let mut cut = between([hole.z_mm - a, hole.z_mm + a], &inside, &outer);
        let reach = 2.0 / frame.scale.factor;
        let end = |r_mm: f64| frame.at(Point { z_mm: hole.z_mm, r_mm }, -1.0);
        cut.axis = Some([end((bore(hole.z_mm) - reach).max(0.0)), end(outer(hole.z_mm) + reach)]);
        found.push(cut);
    }
    for relief in body.cut_reliefs() {
        let Form::Slot { floor_mm, .. } = relief.form else { continue };
        let reach = body.inner().iter().flat_map(|piece| [path::start(piece).z_mm, path::end(piece).z_mm]);
        let (low, high) = reach.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), z| (low.min(z), high.max(z)));
        let ends = [relief.z_mm[0].max(low), relief.z_mm[1].min(high)];
        let inset = 1e-6 * (ends[1] - ends[0]);
        let mut cut = between([ends[0] + inset, ends[1] - inset], &bore, &|_| floor_mm);
        cut.walls.push(ends.map(|z_mm| frame.at(Point { z_mm, r_mm: floor_mm }, -1.0)));
        found.push(cut);
    }
    found
}

/// Above the axis, whole: silhouette and edges; the bore is not seen.
fn view_half(figure: &mut Figure, body: &Body, frame: &Frame) {
    figure.path(steps(body.outer(), frame, 1.0), Some(outline()), None);
    edges(figure, body.outer(), frame, 1.0);
    reliefs::draw(figure, body, frame, Surface::Outside, 1.0);
    rims(figure, body, frame, 1.0);
}

/// The mouths of a bore, seen from the side.
fn rims(figure: &mut Figure, body: &Body, frame: &Frame, side: f64) {
    for rim in body.outer().first().map(path::start).into_iter().chain(body.outer().last().map(path::end)) {
        edge(figure, rim, frame, side, outline());
    }
}

fn outline() -> ink::Stroke {
    palette::outline(palette::INK)
}

/// A line from the axis to each corner of the chain: a circle seen from the side. Of corners nearer than `PARTED_MM` on paper the sharpest is drawn: a
/// rounding made of many small bends is one edge to the eye, not a bar.
fn edges(figure: &mut Figure, chain: &[Piece], frame: &Frame, side: f64) {
    let mut corners: Vec<(f64, Point)> = chain
        .windows(2)
        .map(|pair| {
            let (before, after) = (path::direction(&pair[0], 1.0), path::direction(&pair[1], 0.0));
            let bend = (before[0] * after[1] - before[1] * after[0]).atan2(before[0] * after[0] + before[1] * after[1]);
            (bend.abs(), path::start(&pair[1]))
        })
        .filter(|(bend, _)| *bend > EDGE_RAD)
        .collect();
    corners.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut drawn: Vec<Point> = Vec::new();
    for (_, at) in corners {
        let near = |other: &Point| {
            let apart = (other.z_mm - at.z_mm).abs() * frame.scale.factor;
            apart > 1e-6 && apart < PARTED_MM
        };
        if !drawn.iter().any(near) {
            edge(figure, at, frame, side, palette::outline(palette::INK).width(0.35));
            drawn.push(at);
        }
    }
}

fn edge(figure: &mut Figure, at: Point, frame: &Frame, side: f64, stroke: ink::Stroke) {
    if at.r_mm > path::NOTHING_MM {
        figure.line(frame.at(Point { r_mm: 0.0, ..at }, side), frame.at(at, side), stroke);
    }
}

/// A chain as a path on paper. Arcs as cubics of at most an eighth of a turn, true to 5e-6 of the radius.
fn steps(chain: &[Piece], frame: &Frame, side: f64) -> Vec<Step> {
    let mut steps: Vec<Step> = chain.first().map(|piece| Step::Move(frame.at(path::start(piece), side))).into_iter().collect();
    for piece in chain {
        match *piece {
            Piece::Line { to, .. } => steps.push(Step::Line(frame.at(to, side))),
            Piece::Curve { control1, control2, to, .. } => {
                steps.push(Step::Cubic(frame.at(control1, side), frame.at(control2, side), frame.at(to, side)));
            }
            Piece::Arc { from, to, centre, turn } => {
                let sweep = Sweep::new(from, to, centre, turn);
                let count = (sweep.sweep_rad.abs() / FRAC_PI_4).ceil().max(1.0);
                let handle = 4.0 / 3.0 * (sweep.sweep_rad / count / 4.0).tan() * sweep.radius_mm;
                for part in 0..count as usize {
                    let (t0, t1) = (part as f64 / count, (part as f64 + 1.0) / count);
                    let (p0, p1) = (path::at(piece, t0), path::at(piece, t1));
                    let ([z0, r0], [z1, r1]) = (path::direction(piece, t0), path::direction(piece, t1));
                    let reach = handle.abs();
                    let first = Point { z_mm: p0.z_mm + reach * z0, r_mm: p0.r_mm + reach * r0 };
                    let second = Point { z_mm: p1.z_mm - reach * z1, r_mm: p1.r_mm - reach * r1 };
                    steps.push(Step::Cubic(frame.at(first, side), frame.at(second, side), frame.at(p1, side)));
                }
            }
        }
    }
    steps
}
