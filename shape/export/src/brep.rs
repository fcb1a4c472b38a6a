//! Vertices, edges and faces that find their neighbours: what two faces share is written once.

use crate::step::flag;
use crate::step_text::{Entities, list, real};
use meridian::{Piece, Turn};
use solid::path::{self, Sweep};

pub(crate) type Place = [f64; 3];
/// An edge by its number, and whether it is run the way it was written.
pub(crate) type Side = (usize, bool);

/// Places nearer than this are one, mm: a tenth of what the file calls the same.
const SAME_MM: f64 = 1e-7;
/// Middles of one edge may differ by as much as two ways of working them out.
const SAME_MIDDLE_MM: f64 = 1e-5;
/// Pieces of a fitted edge; cubic with true tangents, so that they keep within a hundredth of a micrometre where nothing bends sharply.
pub(crate) const FIT_PIECES: usize = 48;
/// Pieces that a traced edge may have, and how near it is meant to keep half way between its knots, mm; farther off than the second is no fit.
const TRACE_PIECES: [usize; 5] = [48, 96, 192, 384, 768];
const TRACE_MM: [f64; 2] = [1e-7, 1e-6];

pub(crate) struct Brep<'a> {
    pub entities: &'a mut Entities,
    vertices: Vec<(Place, usize)>,
    edges: Vec<Edge>,
    faces: Vec<usize>,
}

struct Edge {
    ends: [usize; 2],
    middle: Place,
    number: usize,
    /// Times run forward and backward by faces.
    used: [u32; 2],
}

impl<'a> Brep<'a> {
    pub fn new(entities: &'a mut Entities) -> Brep<'a> {
        Brep { entities, vertices: Vec::new(), edges: Vec::new(), faces: Vec::new() }
    }

    /// The shell of all faces.
    pub fn into_shell(self) -> usize {
        self.entities.add(&format!("CLOSED_SHELL('',{})", list(&self.faces)))
    }

    /// The shell of all faces, if every edge is run once each way.
    pub fn shell(self) -> Option<usize> {
        let closed = !self.faces.is_empty() && self.edges.iter().all(|edge| edge.used == [1, 1]);
        closed.then(|| self.into_shell())
    }

    fn vertex(&mut self, at: Place) -> usize {
        if let Some((_, number)) = self.vertices.iter().find(|(other, _)| distance(*other, at) < SAME_MM) {
            return *number;
        }
        let point = self.entities.cartesian(at);
        let number = self.entities.add(&format!("VERTEX_POINT('',#{point})"));
        self.vertices.push((at, number));
        number
    }

    /// The edge between two places over a third; its curve is written only if it is new.
    fn edge(&mut self, [from, middle, to]: [Place; 3], curve: impl FnOnce(&mut Entities) -> usize) -> Side {
        let (first, last) = (self.vertex(from), self.vertex(to));
        let same = |edge: &Edge| distance(edge.middle, middle) < SAME_MIDDLE_MM;
        if let Some(found) = self.edges.iter().position(|edge| (edge.ends == [first, last] || edge.ends == [last, first]) && same(edge)) {
            return (found, self.edges[found].ends == [first, last]);
        }
        let curve = curve(self.entities);
        let number = self.entities.add(&format!("EDGE_CURVE('',#{first},#{last},#{curve},.T.)"));
        self.edges.push(Edge { ends: [first, last], middle, number, used: [0; 2] });
        (self.edges.len() - 1, true)
    }

    /// A straight edge; `None` without length.
    pub fn line(&mut self, from: Place, to: Place) -> Option<Side> {
        let length = distance(from, to);
        if length < SAME_MM {
            return None;
        }
        let middle = std::array::from_fn(|i| 0.5 * (from[i] + to[i]));
        let along = std::array::from_fn(|i| (to[i] - from[i]) / length);
        Some(self.edge([from, middle, to], |entities| {
            let (origin, direction) = (entities.cartesian(from), entities.direction(along));
            let vector = entities.add(&format!("VECTOR('',#{direction},1.0)"));
            entities.add(&format!("LINE('',#{origin},#{vector})"))
        }))
    }

    /// A stretch of a circle, counter-clockwise about its axis from angle to angle of its own frame (axis, where angles start).
    pub fn arc(&mut self, centre: Place, [axis, start]: [Place; 2], radius: f64, [from, to]: [f64; 2]) -> Side {
        let across = cross(axis, start);
        let at = |angle: f64| {
            let (sin, cos) = angle.sin_cos();
            std::array::from_fn(|i| centre[i] + radius * (cos * start[i] + sin * across[i]))
        };
        self.edge([at(from), at(0.5 * (from + to)), at(to)], |entities| {
            let placement = entities.placement(centre, axis, start);
            entities.add(&format!("CIRCLE('',#{placement},{})", real(radius)))
        })
    }

    /// A free curve through places with their speeds, `t` from 0 to 1: a cubic B-spline that keeps both at even steps.
    pub fn fitted(&mut self, f: impl Fn(f64) -> (Place, Place)) -> Side {
        self.fitted_in(&f, FIT_PIECES)
    }

    /// The same in as many steps as keep it true between them; `None` if it strays.
    pub fn traced(&mut self, f: impl Fn(f64) -> (Place, Place)) -> Option<Side> {
        let last = TRACE_PIECES[TRACE_PIECES.len() - 1];
        let near = TRACE_PIECES.into_iter().find(|&pieces| stray_mm(&f, pieces) <= TRACE_MM[0]);
        let pieces = near.or_else(|| (stray_mm(&f, last) <= TRACE_MM[1]).then_some(last))?;
        Some(self.fitted_in(&f, pieces))
    }

    /// The same in so many steps, an even number.
    pub fn fitted_in(&mut self, f: &dyn Fn(f64) -> (Place, Place), pieces: usize) -> Side {
        let knots = knots(f, pieces);
        let (from, middle, to) = (knots[0].0, knots[pieces / 2].0, knots[pieces].0);
        self.edge([from, middle, to], |entities| {
            let poles: Vec<usize> = fit_poles(&knots).into_iter().map(|at| entities.cartesian(at)).collect();
            let (times, places) = fit_knots(pieces);
            entities
                .add(&format!("B_SPLINE_CURVE_WITH_KNOTS('',3,{},.UNSPECIFIED.,.F.,.F.,({times}),({places}),.UNSPECIFIED.)", list(&poles)))
        })
    }

    /// A cubic of four places.
    pub fn cubic(&mut self, p: [Place; 4]) -> Side {
        let middle = std::array::from_fn(|i| (p[0][i] + 3.0 * p[1][i] + 3.0 * p[2][i] + p[3][i]) / 8.0);
        self.edge([p[0], middle, p[3]], |entities| {
            let poles: Vec<usize> = p.iter().map(|&at| entities.cartesian(at)).collect();
            entities.add(&format!("B_SPLINE_CURVE_WITH_KNOTS('',3,{},.UNSPECIFIED.,.F.,.F.,(4,4),(0.0,1.0),.UNSPECIFIED.)", list(&poles)))
        })
    }

    /// The surface ruled between two free curves, step for step; its own normal is the way along times the way from the first to the second.
    pub fn ruled(&mut self, both: [&dyn Fn(f64) -> (Place, Place); 2], pieces: usize) -> usize {
        let rows = both.map(|f| fit_poles(&knots(f, pieces)));
        let pairs: Vec<String> =
            rows[0].iter().zip(&rows[1]).map(|(&a, &b)| list(&[self.entities.cartesian(a), self.entities.cartesian(b)])).collect();
        let (times, places) = fit_knots(pieces);
        self.entities.add(&format!(
            "B_SPLINE_SURFACE_WITH_KNOTS('',3,1,({}),.UNSPECIFIED.,.F.,.F.,.F.,({times}),(2,2),({places}),(0.0,1.0),.UNSPECIFIED.)",
            pairs.join(",")
        ))
    }

    /// The meridian of a piece at an angle round the axis.
    pub fn meridian(&mut self, piece: &Piece, angle: f64) -> Side {
        let (sin, cos) = direction(angle);
        let place = |t: f64| {
            let at = path::at(piece, t);
            [at.r_mm * cos, at.r_mm * sin, at.z_mm]
        };
        self.edge([place(0.0), place(0.5), place(1.0)], |entities| meridian_curve(entities, piece, [cos, sin]))
    }

    /// A face inside closed lines, counter-clockwise about its outward normal, holes in it the other way; the first line is its outer one.
    pub fn face(&mut self, loops: &[Vec<Side>], surface: usize, along: bool) {
        let mut bounds = Vec::new();
        for (index, sides) in loops.iter().filter(|sides| !sides.is_empty()).enumerate() {
            let mut oriented = Vec::new();
            for &(edge, forward) in sides {
                self.edges[edge].used[usize::from(!forward)] += 1;
                let number = self.edges[edge].number;
                oriented.push(self.entities.add(&format!("ORIENTED_EDGE('',*,*,#{number},{})", flag(forward))));
            }
            let edge_loop = self.entities.add(&format!("EDGE_LOOP('',{})", list(&oriented)));
            let kind = if index == 0 { "FACE_OUTER_BOUND" } else { "FACE_BOUND" };
            bounds.push(self.entities.add(&format!("{kind}('',#{edge_loop},.T.)")));
        }
        self.faces.push(self.entities.add(&format!("ADVANCED_FACE('',{},#{surface},{})", list(&bounds), flag(along))));
    }

    /// Edges in any order as closed lines, each end on to the next start; `None` if that is not told.
    pub fn chained(&self, sides: Vec<Side>) -> Option<Vec<Vec<Side>>> {
        let ends = |(edge, forward): Side| {
            let [a, b] = self.edges[edge].ends;
            if forward { [a, b] } else { [b, a] }
        };
        let (mut left, mut loops) = (sides, Vec::new());
        while let Some(first) = left.pop() {
            let mut line = vec![first];
            while let Some(&last) = line.last()
                && ends(last)[1] != ends(first)[0]
            {
                let mut next = left.iter().enumerate().filter(|(_, side)| ends(**side)[0] == ends(last)[1]).map(|(index, _)| index);
                let (Some(index), None) = (next.next(), next.next()) else { return None };
                line.push(left.swap_remove(index));
            }
            loops.push(line);
        }
        Some(loops)
    }

    /// A plane face with its outward normal.
    pub fn plane_face(&mut self, loops: &[Vec<Side>], at: Place, normal: Place, reference: Place) {
        let placement = self.entities.placement(at, normal, reference);
        let plane = self.entities.add(&format!("PLANE('',#{placement})"));
        self.face(loops, plane, true);
    }
}

/// How far a fitted curve strays from the true one half way between its knots.
fn stray_mm(f: &dyn Fn(f64) -> (Place, Place), pieces: usize) -> f64 {
    let step = 1.0 / pieces as f64;
    let knots = knots(f, pieces);
    let halfway = knots.windows(2).enumerate().map(|(i, pair)| {
        let [(a, u), (b, v)] = [pair[0], pair[1]];
        let fitted = std::array::from_fn(|k| 0.5 * (a[k] + b[k]) + 0.125 * step * (u[k] - v[k]));
        distance(fitted, f((i as f64 + 0.5) * step).0)
    });
    // What is not a number is no fit.
    halfway.fold(0.0, |worst, off| {
        if off <= worst {
            worst
        } else if off.is_nan() {
            f64::INFINITY
        } else {
            off
        }
    })
}

fn knots(f: &dyn Fn(f64) -> (Place, Place), pieces: usize) -> Vec<(Place, Place)> {
    (0..=pieces).map(|i| f(i as f64 / pieces as f64)).collect()
}

/// Poles of the cubic with double knots through places with their speeds.
fn fit_poles(knots: &[(Place, Place)]) -> Vec<Place> {
    let reach = 1.0 / (3.0 * (knots.len() - 1) as f64);
    let beside = |(at, speed): (Place, Place), sign: f64| std::array::from_fn(|i| at[i] + sign * reach * speed[i]);
    let between = knots.windows(2).flat_map(|pair| [beside(pair[0], 1.0), beside(pair[1], -1.0)]);
    knots.first().map(|first| first.0).into_iter().chain(between).chain(knots.last().map(|last| last.0)).collect()
}

/// How often each knot counts, and the knots.
fn fit_knots(pieces: usize) -> (String, String) {
    let mut times = vec!["2"; pieces + 1];
    (times[0], times[pieces]) = ("4", "4");
    let places: Vec<String> = (0..=pieces).map(|i| real(i as f64 / pieces as f64)).collect();
    (times.join(","), places.join(","))
}

/// The curve of a piece in the half plane at an angle round the axis, by its cosine and sine; it runs with the piece.
pub(crate) fn meridian_curve(entities: &mut Entities, piece: &Piece, [cos, sin]: [f64; 2]) -> usize {
    let place = |at: meridian::Point| [at.r_mm * cos, at.r_mm * sin, at.z_mm];
    match *piece {
        Piece::Line { from, .. } => {
            let [dz, dr] = path::direction(piece, 0.5);
            let (origin, direction) = (entities.cartesian(place(from)), entities.direction([dr * cos, dr * sin, dz]));
            let vector = entities.add(&format!("VECTOR('',#{direction},1.0)"));
            entities.add(&format!("LINE('',#{origin},#{vector})"))
        }
        Piece::Arc { from, to, centre, turn } => {
            let sweep = Sweep::new(from, to, centre, turn);
            let (up, along) = sweep.from_rad.sin_cos();
            // With z right and the half plane up, counter-clockwise turns about z x radial.
            let about = if turn == Turn::Counterclockwise { 1.0 } else { -1.0 };
            let placement = entities.placement(place(centre), [-sin * about, cos * about, 0.0], [up * cos, up * sin, along]);
            entities.add(&format!("CIRCLE('',#{placement},{})", real(sweep.radius_mm)))
        }
        Piece::Curve { from, control1, control2, to } => {
            let poles: Vec<usize> = [from, control1, control2, to].iter().map(|&p| entities.cartesian(place(p))).collect();
            entities.add(&format!("B_SPLINE_CURVE_WITH_KNOTS('',3,{},.UNSPECIFIED.,.F.,.F.,(4,4),(0.0,1.0),.UNSPECIFIED.)", list(&poles)))
        }
    }
}

/// Sine and cosine, true at the quarters.
pub(crate) fn direction(angle: f64) -> (f64, f64) {
    let quarters = angle / std::f64::consts::FRAC_PI_2;
    if (quarters - quarters.round()).abs() < 1e-12 {
        return [(0.0, 1.0), (1.0, 0.0), (0.0, -1.0), (-1.0, 0.0)][quarters.round().rem_euclid(4.0) as usize % 4];
    }
    angle.sin_cos()
}

fn cross(a: Place, b: Place) -> Place {
    [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]]
}

fn distance(a: Place, b: Place) -> f64 {
    (0..3).map(|i| (a[i] - b[i]).powi(2)).sum::<f64>().sqrt()
}
