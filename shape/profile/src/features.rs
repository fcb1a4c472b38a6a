//! Segments to what a turner names: cylinders, cones, beads, necks, faces, and the sharp corners between them that a drawing gives although
//! the made part has them broken.

use crate::chain::{Chain, Form};
use crate::segment::{Segment, Shape, segments};

/// A feature that is more than a broken edge.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Feature {
    pub(crate) first: usize,
    pub(crate) last: usize,
    pub(crate) shape: Shape,
    pub(crate) kind: Kind,
}

/// Kinds of features.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Kind {
    Cylinder,
    /// Square to the axis; the end faces are features of their own with no nodes.
    Face,
    Cone,
    Convex,
    Concave,
}

/// Where two neighbouring features meet if the edge were sharp.
#[derive(Clone, Debug)]
pub(crate) struct Corner {
    pub(crate) at: [f64; 2],
    /// Derivatives of height and radius.
    pub(crate) height: Form,
    pub(crate) radius: Form,
    /// Further doubt of the height where the features meet at a tangent.
    pub(crate) extra_mm: f64,
}

/// Everything found along the chain.
pub(crate) struct Features {
    pub(crate) segments: Vec<Segment>,
    pub(crate) list: Vec<Feature>,
    /// `corners[i]` between `list[i]` and `list[i + 1]`.
    pub(crate) corners: Vec<Corner>,
}

/// Slope under which a line counts as square or parallel to the axis: a third of a degree, what the tilt's doubt leaves open.
const SQUARE: f64 = 0.006;
/// A piece shorter than this share of the overall length can be a broken edge.
const EDGE_SHARE: f64 = 0.05;

pub(crate) fn features(chain: &Chain) -> Features {
    let mut segments = segments(&chain.nodes, chain.spacing_mm);
    for segment in segments.iter_mut() {
        segment.shape = squared(chain, segment);
    }
    let mut list: Vec<Feature> = Vec::new();
    if !chain.closed.dome[0] {
        list.push(face(0, 0.0, -1.0));
    }
    list.extend(segments.iter().filter(|s| !is_edge(chain, s)).map(|s| Feature {
        first: s.first,
        last: s.last,
        shape: s.shape,
        kind: kind_of(s),
    }));
    if !chain.closed.dome[1] {
        list.push(face(chain.nodes.len() - 1, chain.length_mm, 1.0));
    }
    let corners = list.windows(2).map(|pair| corner(chain, &pair[0], &pair[1])).collect();
    Features { segments, list, corners }
}

fn face(node: usize, z: f64, _out: f64) -> Feature {
    Feature { first: node, last: node, shape: Shape::Line { at: [z, 0.0], along: [0.0, 1.0] }, kind: Kind::Face }
}

fn length(chain: &Chain, s: &Segment) -> f64 {
    chain.nodes[s.first..=s.last].windows(2).map(|p| (p[1].at[0] - p[0].at[0]).hypot(p[1].at[1] - p[0].at[1])).sum()
}

/// Nearly square or parallel lines are made so.
fn squared(chain: &Chain, s: &Segment) -> Shape {
    let Shape::Line { at, along } = s.shape else { return s.shape };
    let (n, long) = ((s.last - s.first + 1) as f64, length(chain, s).max(1e-9));
    let sigma = 0.05 * chain.spacing_mm * (12.0 / n).sqrt() / long;
    let limit = SQUARE + 3.0 * sigma.min(0.03);
    if along[1].abs() < limit {
        Shape::Line { at, along: [1.0, 0.0] }
    } else if along[0].abs() < limit.max(0.05) {
        Shape::Line { at, along: [0.0, along[1].signum()] }
    } else {
        s.shape
    }
}

fn is_edge(chain: &Chain, s: &Segment) -> bool {
    let long = length(chain, s);
    match s.shape {
        Shape::Line { along, .. } => long < 0.02 * chain.length_mm || (along[0] != 0.0 && along[1] != 0.0 && long < 0.03 * chain.length_mm),
        Shape::Arc { radius_mm, .. } => radius_mm < 0.03 * chain.length_mm && long < EDGE_SHARE * chain.length_mm,
    }
}

fn kind_of(s: &Segment) -> Kind {
    match s.shape {
        Shape::Line { along, .. } if along[1] == 0.0 => Kind::Cylinder,
        Shape::Line { along, .. } if along[0] == 0.0 => Kind::Face,
        Shape::Line { .. } => Kind::Cone,
        Shape::Arc { convex: true, .. } => Kind::Convex,
        Shape::Arc { .. } => Kind::Concave,
    }
}

/// Mean of the nodes of a feature (or of those nearest to one of its ends) in a direction, as a form.
pub(crate) fn mean_form(chain: &Chain, nodes: std::ops::RangeInclusive<usize>, direction: [f64; 2], factor: f64, form: &mut Form) {
    let seen: Vec<usize> = nodes.filter(|&i| chain.nodes[i].seen).collect();
    for &i in &seen {
        chain.nodes[i].form(direction, factor / seen.len() as f64, form);
    }
}

/// Height of the rod-end face: everything is counted from it.
pub(crate) fn zero_form(chain: &Chain, factor: f64, form: &mut Form) {
    if let Some(node) = chain.nodes.iter().find(|n| n.seen) {
        node.form([1.0, 0.0], factor, form);
    }
}

pub(crate) fn length_form(chain: &Chain, factor: f64, form: &mut Form) {
    if let Some(node) = chain.nodes.iter().rev().find(|n| n.seen) {
        node.form([1.0, 0.0], factor, form);
    }
    zero_form(chain, -factor, form);
}

/// Unit normal of a feature near a place.
fn normal_at(shape: &Shape, p: [f64; 2]) -> [f64; 2] {
    match *shape {
        Shape::Line { along, .. } => [-along[1], along[0]],
        Shape::Arc { centre, .. } => {
            let (z, r) = (p[0] - centre[0], p[1] - centre[1]);
            let d = z.hypot(r).max(1e-12);
            [z / d, r / d]
        }
    }
}

/// Signed distance from a feature's curve along its normal.
fn off(shape: &Shape, p: [f64; 2]) -> f64 {
    match *shape {
        Shape::Line { at, along } => -(p[0] - at[0]) * along[1] + (p[1] - at[1]) * along[0],
        Shape::Arc { centre, radius_mm, .. } => (p[0] - centre[0]).hypot(p[1] - centre[1]) - radius_mm,
    }
}

fn corner(chain: &Chain, a: &Feature, b: &Feature) -> Corner {
    let nodes = &chain.nodes;
    let between = (a.last + b.first) / 2;
    let start = nodes[between.min(nodes.len() - 1)].at;
    // Newton on both curves at once.
    let mut p = start;
    let mut cross = 0.0;
    for _ in 0..12 {
        let (na, nb) = (normal_at(&a.shape, p), normal_at(&b.shape, p));
        cross = na[0] * nb[1] - na[1] * nb[0];
        if cross.abs() < 0.1 {
            break;
        }
        let (da, db) = (off(&a.shape, p), off(&b.shape, p));
        p = [p[0] - (da * nb[1] - db * na[1]) / cross, p[1] - (na[0] * db - nb[0] * da) / cross];
    }
    let reach = 0.08 * chain.length_mm + 6.0 * chain.spacing_mm;
    let (mut height, mut radius) = (Form::new(), Form::new());
    let moved = (p[0] - start[0]).hypot(p[1] - start[1]);
    if cross.abs() < 0.1 || moved.is_nan() || moved >= reach {
        // A tangent: the place along the chain is told only by where the curves part by their noise.
        nodes[between].form([0.0, 1.0], 1.0, &mut radius);
        let curvature = |s: &Shape| if let Shape::Arc { radius_mm, .. } = s { 1.0 / radius_mm } else { 0.0 };
        let parting = (curvature(&a.shape) - curvature(&b.shape)).abs().max(1e-4);
        zero_form(chain, -1.0, &mut height);
        return Corner { at: start, height, radius, extra_mm: (0.1 * chain.spacing_mm / parting).sqrt() };
    }
    let (na, nb) = (normal_at(&a.shape, p), normal_at(&b.shape, p));
    let window =
        |f: &Feature, end: bool| if end { f.last.saturating_sub(8).max(f.first)..=f.last } else { f.first..=(f.first + 8).min(f.last) };
    let part = |f: &Feature, end: bool, n: [f64; 2], factor: f64, form: &mut Form| match f.kind {
        Kind::Cylinder => mean_form(chain, f.first..=f.last, n, factor, form),
        _ => mean_form(chain, window(f, end), n, factor, form),
    };
    for (form, fa, fb) in [(&mut height, nb[1] / cross, -na[1] / cross), (&mut radius, -nb[0] / cross, na[0] / cross)] {
        part(a, true, na, fa, form);
        part(b, false, nb, fb, form);
    }
    zero_form(chain, -1.0, &mut height);
    Corner { at: p, height, radius, extra_mm: 0.0 }
}
