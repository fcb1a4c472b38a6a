//! The segments as a checked meridian of few pieces.

use crate::chain::{Chain, Node};
use crate::features::Features;
use crate::segment::{LEAST_SIGMA, Segment, Shape};
use meridian::{Meridian, Piece, Point, Turn};
use nalgebra::{Matrix4, Vector4};

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
    let mut done = 0;
    for (k, (segment, to)) in features.segments.iter().zip(&joints[1..]).enumerate() {
        if k < done {
            continue;
        }
        if let Some((end, curve)) = smooth(chain, &features.segments, &joints, k, at) {
            (at, done) = (point(joints[end]), end);
            pieces.push(curve);
            continue;
        }
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

/// The longest row of arcs and cones from `first` on that one smooth curve tells with less: its end and the curve.
fn smooth(chain: &Chain, segments: &[Segment], joints: &[[f64; 2]], first: usize, from: Point) -> Option<(usize, Piece)> {
    let row = (first..segments.len()).take_while(|&k| along_one_curve(chain, segments, joints, first, k)).count();
    let pay = (chain.nodes.len() as f64).ln();
    (LEAST_ROW..=row).rev().find_map(|count| {
        let end = first + count;
        let nodes = &chain.nodes[segments[first].first..=segments[end - 1].last];
        let (curve, cost) = curve_through(nodes, chain.spacing_mm, from, point(joints[end]))?;
        let pays = |s: &Segment| if matches!(s.shape, Shape::Arc { .. }) { 4.0 } else { 3.0 };
        let now: f64 = segments[first..end].iter().map(|s| cost_of(chain, s) + pays(s) * pay).sum();
        (cost + CURVE_PAYS * pay < now).then_some((end, curve))
    })
}

/// Two arcs are a maker's radii; three pieces in a row that flow into each other may be a free curve.
const LEAST_ROW: usize = 3;
/// Parameters of a curve: two control points and its own end.
const CURVE_PAYS: f64 = 6.0;
/// Pieces flow into each other where they meet at less than this, radians.
const FLOWS_RAD: f64 = 0.15;

/// Whether segment `k` carries on the row begun with `first`: it leaves the one before in its direction, and no diameter is measured on it, as it
/// is on cylinders and at the widest or narrowest place of an arc.
fn along_one_curve(chain: &Chain, segments: &[Segment], joints: &[[f64; 2]], first: usize, k: usize) -> bool {
    let (a, b) = (chain.nodes[segments[k].first].at[0], chain.nodes[segments[k].last].at[0]);
    let room = 0.05 * (b - a).abs();
    let measured = match segments[k].shape {
        Shape::Arc { centre, .. } => (a.min(b) + room..a.max(b) - room).contains(&centre[0]),
        Shape::Line { along, .. } => along[1].abs() < 0.03 || along[0].abs() < 0.03,
    };
    let heading = |s: &Segment| match s.shape {
        Shape::Line { along, .. } => along[1].atan2(along[0]),
        Shape::Arc { centre, convex, .. } => {
            let (z, r) = (joints[k][0] - centre[0], joints[k][1] - centre[1]);
            if convex { (-z).atan2(r) } else { z.atan2(-r) }
        }
    };
    let flows = || {
        let turn = heading(&segments[k - 1]) - heading(&segments[k]);
        turn.sin().atan2(turn.cos()).abs() < FLOWS_RAD
    };
    !measured && (k == first || flows())
}

fn sigma_of(node: &Node, spacing_mm: f64) -> f64 {
    node.sigma_mm.max(LEAST_SIGMA * spacing_mm)
}

fn cost_of(chain: &Chain, segment: &Segment) -> f64 {
    let off = |node: &Node| {
        let f = foot(&segment.shape, node.at);
        ((node.at[0] - f[0]).hypot(node.at[1] - f[1]) / sigma_of(node, chain.spacing_mm)).powi(2)
    };
    chain.nodes[segment.first..=segment.last].iter().map(off).sum()
}

/// Cubic with given ends and the least squared distances square to it (Gauss and Newton's steps; each node's place along the curve follows), and
/// its cost. It starts straight, its places by the way along the nodes.
fn curve_through(nodes: &[Node], spacing_mm: f64, from: Point, to: Point) -> Option<(Piece, f64)> {
    let ends = [[from.z_mm, from.r_mm], [to.z_mm, to.r_mm]];
    let mut controls = [1.0, 2.0].map(|k| [0, 1].map(|c| ends[0][c] + (ends[1][c] - ends[0][c]) * k / 3.0));
    let mut places: Vec<f64> = vec![0.0];
    for pair in nodes.windows(2) {
        let way = (pair[1].at[0] - pair[0].at[0]).hypot(pair[1].at[1] - pair[0].at[1]);
        places.push(places[places.len() - 1] + way);
    }
    let whole = places.last()?.max(1e-9);
    places.iter_mut().for_each(|t| *t /= whole);
    let mut cost = f64::INFINITY;
    for _ in 0..CURVE_STEPS {
        let [p0, p1, p2, p3] = [ends[0], controls[0], controls[1], ends[1]];
        let at = |t: f64| {
            let s = 1.0 - t;
            [0, 1].map(|c| s * s * s * p0[c] + 3.0 * t * s * s * p1[c] + 3.0 * t * t * s * p2[c] + t * t * t * p3[c])
        };
        let slope = |t: f64| {
            let s = 1.0 - t;
            [0, 1].map(|c| 3.0 * (s * s * (p1[c] - p0[c]) + 2.0 * s * t * (p2[c] - p1[c]) + t * t * (p3[c] - p2[c])))
        };
        let (mut matrix, mut rest) = (Matrix4::<f64>::identity() * 1e-9, Vector4::<f64>::zeros());
        cost = 0.0;
        for (node, t) in nodes.iter().zip(&mut places) {
            for _ in 0..3 {
                let (q, d) = (at(*t), slope(*t));
                let ahead = (node.at[0] - q[0]) * d[0] + (node.at[1] - q[1]) * d[1];
                *t = (*t + (ahead / (d[0] * d[0] + d[1] * d[1]).max(1e-12)).clamp(-0.1, 0.1)).clamp(0.0, 1.0);
            }
            let (q, d) = (at(*t), slope(*t));
            let speed = d[0].hypot(d[1]).max(1e-9);
            let normal = [-d[1] / speed, d[0] / speed];
            let sigma = sigma_of(node, spacing_mm);
            let off = (normal[0] * (node.at[0] - q[0]) + normal[1] * (node.at[1] - q[1])) / sigma;
            let (w1, w2) = (3.0 * *t * (1.0 - *t).powi(2) / sigma, 3.0 * *t * *t * (1.0 - *t) / sigma);
            let row = Vector4::new(w1 * normal[0], w1 * normal[1], w2 * normal[0], w2 * normal[1]);
            matrix += row * row.transpose();
            rest += row * off;
            cost += off * off;
        }
        let step = matrix.cholesky()?.solve(&rest);
        let longest = step.iter().fold(0.0f64, |m, x| m.max(x.abs())).max(1e-12);
        // No step longer than a third of the way: far from the answer the linear one overshoots.
        let held = (whole / 3.0 / longest).min(1.0);
        (0..4).for_each(|k| controls[k / 2][k % 2] += held * step[k]);
    }
    let [control1, control2] = controls.map(|c| Point { z_mm: c[0], r_mm: c[1].max(0.0) });
    cost.is_finite().then_some((Piece::Curve { from, control1, control2, to }, cost))
}

const CURVE_STEPS: usize = 12;

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
