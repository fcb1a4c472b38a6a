//! Flat parts as STEP: planes and cylinders, broken edges as planes, cones and ruled surfaces.

use crate::brep::{Brep, FIT_PIECES, Place, Side};
use crate::step::{self, StepHeader, X, Z};
use crate::step_text::{Entities, real, string};
use meridian::{Piece, Turn};
use solid::path::{self, Sweep};
use solid::{Plate, Rim};
use std::f64::consts::FRAC_1_SQRT_2;

/// A plate as an ISO 10303-21 file in millimetres: two planes, a plane or cylinder an edge piece (of a curve a surface of linear extrusion), one closed shell with normals outward.
/// Broken edges are planes beside lines, cones beside arcs that go on smoothly, else surfaces ruled between both lines (within 1e-7 mm).
pub fn step_plate(plate: &Plate, header: &StepHeader) -> Vec<u8> {
    let mut entities = Entities::default();
    let product = step::product(&mut entities, header);
    let context = step::units(&mut entities);
    let mut slab = Slab { brep: Brep::new(&mut entities) };
    slab.faces(plate);
    let shell = slab.brep.into_shell();
    let solid = entities.add(&format!("MANIFOLD_SOLID_BREP({},#{shell})", string(header.product)));
    let origin = entities.placement([0.0; 3], Z, X);
    let shape = entities.add(&format!("ADVANCED_BREP_SHAPE_REPRESENTATION({},(#{origin},#{solid}),#{context})", string(header.product)));
    entities.add(&format!("SHAPE_DEFINITION_REPRESENTATION(#{product},#{shape})"));
    if let Some(srgb) = header.srgb {
        step::colour(&mut entities, solid, context, srgb);
    }
    step::file(header, &entities.into_text()).into_bytes()
}

struct Slab<'a> {
    brep: Brep<'a>,
}

/// A closed line of the plate at a height: the wall's own, or a leg inside it.
#[derive(Clone, Copy)]
struct Level<'a> {
    line: &'a [Piece],
    rim: Option<&'a Rim>,
    z_mm: f64,
}

impl Level<'_> {
    /// Place and speed on a piece, at a step from 0 to 1.
    fn at(&self, index: usize, s: f64) -> (Place, Place) {
        let (at, speed) = match self.rim {
            Some(rim) => rim.at(index, s),
            None => {
                let at = path::at(&self.line[index], s);
                ([at.z_mm, at.r_mm], path::velocity(&self.line[index], s))
            }
        };
        ([at[0], at[1], self.z_mm], [speed[0], speed[1], 0.0])
    }
}

impl Slab<'_> {
    fn faces(&mut self, plate: &Plate) {
        let (high, leg) = (plate.thickness_mm(), plate.edge_break_mm());
        let (mut bottoms, mut tops) = (Vec::new(), Vec::new());
        for (index, line) in plate.lines().enumerate() {
            let level = |rim: Option<usize>, z_mm: f64| Level { line, rim: rim.and_then(|index| plate.rims().get(index)), z_mm };
            let levels = if leg > 0.0 {
                vec![level(Some(index), 0.0), level(None, leg), level(None, high - leg), level(Some(index), high)]
            } else {
                vec![level(None, 0.0), level(None, high)]
            };
            for pair in levels.windows(2) {
                (0..line.len()).for_each(|piece| self.edge_face([&pair[0], &pair[1]], piece));
            }
            let round =
                |slab: &mut Self, level: &Level| (0..line.len()).filter_map(|piece| slab.along(level, piece)).collect::<Vec<Side>>();
            let below = levels.first().map(|level| round(self, level)).unwrap_or_default();
            bottoms.push(below.into_iter().rev().map(|(edge, forward)| (edge, !forward)).collect());
            tops.push(levels.last().map(|level| round(self, level)).unwrap_or_default());
        }
        self.brep.plane_face(&tops, [0.0, 0.0, high], Z, X);
        self.brep.plane_face(&bottoms, [0.0; 3], [0.0, 0.0, -1.0], X);
    }

    /// The edge of a piece at a height.
    fn along(&mut self, level: &Level, index: usize) -> Option<Side> {
        let ends = [level.at(index, 0.0).0, level.at(index, 1.0).0];
        match (&level.line[index], level.rim) {
            (Piece::Line { .. }, _) => self.brep.line(ends[0], ends[1]),
            (&Piece::Arc { from, to, centre, turn }, rim) => {
                let sweep = Sweep::new(from, to, centre, turn);
                let at = [centre.z_mm, centre.r_mm, level.z_mm];
                let radius = (ends[0][0] - at[0]).hypot(ends[0][1] - at[1]);
                let radius = if rim.is_some() { radius } else { sweep.radius_mm };
                // Counter-clockwise about its own axis; angles by where it really begins and ends.
                let axis = [0.0, 0.0, sweep.sweep_rad.signum()];
                let angle = |end: Place| axis[2] * (end[1] - at[1]).atan2(end[0] - at[0]);
                let first = angle(ends[0]);
                let mut turn = (angle(ends[1]) - first).rem_euclid(std::f64::consts::TAU);
                // A whole turn comes as none.
                if turn < 1e-9 {
                    turn += std::f64::consts::TAU;
                }
                Some(self.brep.arc(at, [axis, X], radius, [first, first + turn]))
            }
            (&Piece::Curve { from, control1, control2, to }, None) => {
                Some(self.brep.cubic([from, control1, control2, to].map(|p| [p.z_mm, p.r_mm, level.z_mm])))
            }
            (Piece::Curve { .. }, Some(_)) => Some(self.brep.fitted(|s| level.at(index, s))),
        }
    }

    /// The face of a piece between two heights.
    fn edge_face(&mut self, [below, above]: [&Level; 2], index: usize) {
        let next = |level: &Level| level.at(index, 1.0).0;
        let start = |level: &Level| level.at(index, 0.0).0;
        let back = |(edge, forward): Side| (edge, !forward);
        let low = self.along(below, index);
        let end = self.brep.line(next(below), next(above));
        let high = self.along(above, index).map(back);
        let begin = self.brep.line(start(below), start(above)).map(back);
        let sides: Vec<Side> = [low, end, high, begin].into_iter().flatten().collect();
        let (surface, along) = match (below.rim, above.rim) {
            (None, None) => self.wall(&below.line[index]),
            (_, Some(rim)) => self.broken([below, above], rim, index, 1.0),
            (Some(rim), None) => self.broken([above, below], rim, index, -1.0),
        };
        self.brep.face(&[sides], surface, along);
    }

    /// The surface over an edge piece, and whether its own normal points out of the material, which lies on the left of travel.
    fn wall(&mut self, piece: &Piece) -> (usize, bool) {
        let entities = &mut *self.brep.entities;
        match *piece {
            Piece::Line { from, .. } => {
                let [dx, dy] = path::direction(piece, 0.5);
                let placement = entities.placement([from.z_mm, from.r_mm, 0.0], [dy, -dx, 0.0], Z);
                (entities.add(&format!("PLANE('',#{placement})")), true)
            }
            Piece::Arc { from, to, centre, turn } => {
                let radius = Sweep::new(from, to, centre, turn).radius_mm;
                let placement = entities.placement([centre.z_mm, centre.r_mm, 0.0], Z, X);
                (entities.add(&format!("CYLINDRICAL_SURFACE('',#{placement},{})", real(radius))), turn == Turn::Counterclockwise)
            }
            Piece::Curve { from, control1, control2, to } => {
                let poles: Vec<usize> = [from, control1, control2, to].iter().map(|p| entities.cartesian([p.z_mm, p.r_mm, 0.0])).collect();
                let curve = entities.add(&format!(
                    "B_SPLINE_CURVE_WITH_KNOTS('',3,{},.UNSPECIFIED.,.F.,.F.,(4,4),(0.0,1.0),.UNSPECIFIED.)",
                    crate::step_text::list(&poles)
                ));
                // Along the curve, then up: that order's normal points to the right of travel.
                let up = entities.direction(Z);
                let vector = entities.add(&format!("VECTOR('',#{up},1.0)"));
                (entities.add(&format!("SURFACE_OF_LINEAR_EXTRUSION('',#{curve},#{vector})")), true)
            }
        }
    }

    /// The surface of a broken edge, from the wall to the face that lies above (`up` 1) or below (-1) it.
    fn broken(&mut self, [wall, face]: [&Level; 2], rim: &Rim, index: usize, up: f64) -> (usize, bool) {
        match wall.line[index] {
            Piece::Line { from, .. } => {
                let [dx, dy] = path::direction(&wall.line[index], 0.5);
                let normal = [dy, -dx, up].map(|v| v * FRAC_1_SQRT_2);
                let placement = self.brep.entities.placement([from.z_mm, from.r_mm, wall.z_mm], normal, [dx, dy, 0.0]);
                (self.brep.entities.add(&format!("PLANE('',#{placement})")), true)
            }
            Piece::Arc { from, to, centre, turn } if rim.is_even(index) => {
                let radius = Sweep::new(from, to, centre, turn).radius_mm;
                let leg = (face.z_mm - wall.z_mm).abs();
                // A cone is told from its narrow end: the face's on the outside of a bend, the wall's within a hole.
                let outside = turn == Turn::Counterclockwise;
                let (z, narrow, toward) = if outside { (face.z_mm, radius - leg, -up) } else { (wall.z_mm, radius, up) };
                let placement = self.brep.entities.placement([centre.z_mm, centre.r_mm, z], [0.0, 0.0, toward], X);
                let angle = real(std::f64::consts::FRAC_PI_4);
                (self.brep.entities.add(&format!("CONICAL_SURFACE('',#{placement},{},{angle})", real(narrow))), outside)
            }
            _ => (self.brep.ruled([&|s| wall.at(index, s), &|s| face.at(index, s)], FIT_PIECES), up > 0.0),
        }
    }
}
