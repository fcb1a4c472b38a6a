//! The segments as a checked meridian of few pieces.

use crate::chain::Chain;
use crate::features::Features;
use crate::segment::{Segment, Shape};
use meridian::{Meridian, Piece, Point, Turn};

/// Pieces from (0, 0) to (L, 0); where the few pieces would be no meridian, the chain itself as many short lines.
pub(crate) fn meridian_of(chain: &Chain, features: &Features) -> Option<Meridian> {
    let joints = joints(chain, &features.segments);
    let mut pieces = vec![];
    let first = joints.first()?;
    let mut at = point([0.0, 0.0]);
    if chain.closed.dome[0] && first[0] > 1e-6 {
        pieces.push(about_axis(at, point(*first), first[0], first[1], false));
    } else {
        push_line(&mut pieces, &mut at, [0.0, first[1]]);
        push_line(&mut pieces, &mut at, *first);
    }
    at = point(*first);
    for (segment, to) in features.segments.iter().zip(&joints[1..]) {
        match segment.shape {
            Shape::Line { .. } => push_line(&mut pieces, &mut at, *to),
            Shape::Arc { centre, radius_mm, convex } => push_arc(&mut pieces, &mut at, *to, centre, radius_mm, convex),
        }
    }
    let (end, left) = (point([chain.length_mm, 0.0]), chain.length_mm - at.z_mm);
    if chain.closed.dome[1] && left > 1e-6 && at.r_mm > 1e-6 {
        pieces.push(about_axis(at, end, left, at.r_mm, true));
    } else {
        let r_mm = at.r_mm;
        push_line(&mut pieces, &mut at, [chain.length_mm, r_mm]);
        push_line(&mut pieces, &mut at, [chain.length_mm, 0.0]);
    }
    Meridian::new(within(pieces, chain.length_mm)).ok().or_else(|| plain(chain))
}

/// The broken edges at the end faces run into them squarely, and no arc bulges beyond the faces: what still would becomes straight.
pub(crate) fn within(mut pieces: Vec<Piece>, length_mm: f64) -> Vec<Piece> {
    for i in 0..pieces.len() {
        let Piece::Arc { from, to, centre, turn: Turn::Clockwise } = pieces[i] else { continue };
        let radius = (from.z_mm - centre.z_mm).hypot(from.r_mm - centre.r_mm);
        let low = centre.z_mm - radius < -1e-9 && centre.r_mm > from.r_mm && from.z_mm < to.z_mm && centre.r_mm < to.r_mm;
        let high = centre.z_mm + radius > length_mm + 1e-9 && centre.r_mm > to.r_mm && from.z_mm < to.z_mm && centre.r_mm < from.r_mm;
        if low && i > 0 && to.z_mm > 1e-6 {
            // Tangent to the face at the arc's own level.
            let foot = Point { z_mm: 0.0, r_mm: centre.r_mm };
            let own = (to.z_mm * to.z_mm + (to.r_mm - foot.r_mm).powi(2)) / (2.0 * to.z_mm);
            pieces[i] = Piece::Arc { from: foot, to, centre: Point { z_mm: own, r_mm: foot.r_mm }, turn: Turn::Clockwise };
            pieces.drain(..i);
            pieces.insert(0, Piece::Line { from: Point { z_mm: 0.0, r_mm: 0.0 }, to: foot });
            return within(pieces, length_mm);
        }
        if high && i + 1 < pieces.len() && length_mm - from.z_mm > 1e-6 {
            let (foot, left) = (Point { z_mm: length_mm, r_mm: centre.r_mm }, length_mm - from.z_mm);
            let own = (left * left + (from.r_mm - foot.r_mm).powi(2)) / (2.0 * left);
            pieces[i] = Piece::Arc { from, to: foot, centre: Point { z_mm: length_mm - own, r_mm: foot.r_mm }, turn: Turn::Clockwise };
            pieces.truncate(i + 1);
            pieces.push(Piece::Line { from: foot, to: Point { z_mm: length_mm, r_mm: 0.0 } });
            return within(pieces, length_mm);
        }
    }
    pieces
}

fn point(p: [f64; 2]) -> Point {
    Point { z_mm: p[0], r_mm: p[1] }
}

fn push_line(pieces: &mut Vec<Piece>, at: &mut Point, to: [f64; 2]) {
    let to = point(to);
    if (to.z_mm - at.z_mm).hypot(to.r_mm - at.r_mm) > 1e-6 {
        pieces.push(Piece::Line { from: *at, to });
        *at = to;
    }
}

/// An arc between two joints with the segment's radius, its centre on the segment's side; flatter than the chord allows: a line.
fn push_arc(pieces: &mut Vec<Piece>, at: &mut Point, to: [f64; 2], shape_centre: [f64; 2], radius_mm: f64, convex: bool) {
    let from = [at.z_mm, at.r_mm];
    let (dz, dr) = (to[0] - from[0], to[1] - from[1]);
    let chord = dz.hypot(dr);
    if chord < 1e-6 || radius_mm > 1e4 {
        return push_line(pieces, at, to);
    }
    let radius = radius_mm.max(0.5 * chord);
    let rise = (radius * radius - 0.25 * chord * chord).max(0.0).sqrt();
    // The left of the travel is outside; a convex arc of less than half a turn has its centre on the right.
    let side = ((shape_centre[0] - from[0]) * -dr + (shape_centre[1] - from[1]) * dz).signum();
    let middle = [0.5 * (from[0] + to[0]), 0.5 * (from[1] + to[1])];
    let centre = Point { z_mm: middle[0] - side * rise * dr / chord, r_mm: middle[1] + side * rise * dz / chord };
    let to = point(to);
    let turn = if convex { Turn::Clockwise } else { Turn::Counterclockwise };
    // Cut at its widest (or narrowest) place, where its diameter is measured, so that both say the same number.
    let apex = Point { z_mm: shape_centre[0], r_mm: if convex { shape_centre[1] + radius_mm } else { shape_centre[1] - radius_mm } };
    let beyond = |end: Point| if convex { apex.r_mm > end.r_mm + 1e-6 } else { apex.r_mm < end.r_mm - 1e-6 };
    let room = 0.05 * radius;
    if apex.r_mm > 0.0 && at.z_mm + room < apex.z_mm && apex.z_mm < to.z_mm - room && beyond(*at) && beyond(to) {
        pieces.push(Piece::Arc { from: *at, to: apex, centre: square_at(apex, *at), turn });
        pieces.push(Piece::Arc { from: apex, to, centre: square_at(apex, to), turn });
    } else {
        pieces.push(Piece::Arc { from: *at, to, centre, turn });
    }
    *at = to;
}

/// Centre of the arc that leaves `apex` along the axis' direction and meets `other`.
pub(crate) fn square_at(apex: Point, other: Point) -> Point {
    let dr = other.r_mm - apex.r_mm;
    Point { z_mm: apex.z_mm, r_mm: apex.r_mm + ((other.z_mm - apex.z_mm).powi(2) + dr * dr) / (2.0 * dr) }
}

/// The last bit of a dome: an arc about a centre on the axis.
fn about_axis(from: Point, to: Point, height: f64, radius: f64, free_end: bool) -> Piece {
    let ball = (height * height + radius * radius) / (2.0 * height);
    let z_mm = if free_end { to.z_mm - ball } else { from.z_mm + ball };
    Piece::Arc { from, to, centre: Point { z_mm, r_mm: 0.0 }, turn: Turn::Clockwise }
}

/// Where neighbouring segments meet: their crossing near the shared node, else the mean of the node's feet on both.
fn joints(chain: &Chain, segments: &[Segment]) -> Vec<[f64; 2]> {
    let mut joints = Vec::new();
    if let Some(first) = segments.first() {
        joints.push(inside(chain, foot(&first.shape, chain.nodes[first.first].at)));
    }
    for pair in segments.windows(2) {
        let node = chain.nodes[pair[0].last].at;
        let place = match (pair[0].shape, pair[1].shape) {
            (Shape::Line { at: p, along: a }, Shape::Line { at: q, along: b }) => {
                crossing(p, a, q, b).filter(|x| (x[0] - node[0]).hypot(x[1] - node[1]) < 4.0 * chain.spacing_mm)
            }
            _ => None,
        };
        let (f, g) = (foot(&pair[0].shape, node), foot(&pair[1].shape, node));
        // A line's foot keeps cylinders cylinders and faces faces.
        let mean = match (pair[0].shape, pair[1].shape) {
            (Shape::Line { .. }, Shape::Arc { .. }) => f,
            (Shape::Arc { .. }, Shape::Line { .. }) => g,
            _ => [0.5 * (f[0] + g[0]), 0.5 * (f[1] + g[1])],
        };
        joints.push(inside(chain, place.unwrap_or(mean)));
    }
    if let Some(last) = segments.last() {
        joints.push(inside(chain, foot(&last.shape, chain.nodes[last.last].at)));
    }
    joints
}

fn inside(chain: &Chain, p: [f64; 2]) -> [f64; 2] {
    [p[0].clamp(0.0, chain.length_mm), p[1].max(0.0)]
}

fn foot(shape: &Shape, p: [f64; 2]) -> [f64; 2] {
    match *shape {
        Shape::Line { at, along } => {
            let t = (p[0] - at[0]) * along[0] + (p[1] - at[1]) * along[1];
            [at[0] + t * along[0], at[1] + t * along[1]]
        }
        Shape::Arc { centre, radius_mm, .. } => {
            let (z, r) = (p[0] - centre[0], p[1] - centre[1]);
            let d = z.hypot(r).max(1e-12);
            [centre[0] + radius_mm * z / d, centre[1] + radius_mm * r / d]
        }
    }
}

fn crossing(p: [f64; 2], a: [f64; 2], q: [f64; 2], b: [f64; 2]) -> Option<[f64; 2]> {
    let cross = a[0] * b[1] - a[1] * b[0];
    if cross.abs() < 0.05 {
        return None;
    }
    let t = ((q[0] - p[0]) * b[1] - (q[1] - p[1]) * b[0]) / cross;
    Some([p[0] + t * a[0], p[1] + t * a[1]])
}

fn plain(chain: &Chain) -> Option<Meridian> {
    let mut pieces = Vec::new();
    let mut at = point([0.0, 0.0]);
    let mut least = 0.0;
    for node in &chain.nodes {
        least = node.at[0].clamp(least, chain.length_mm);
        push_line(&mut pieces, &mut at, [least, node.at[1].max(0.0)]);
    }
    push_line(&mut pieces, &mut at, [chain.length_mm, 0.0]);
    Meridian::new(pieces).ok()
}
