//! Flat parts as files: STEP with planes and cylinders, DXF of the outline, and a drawing.

use crate::Scale;
use crate::drawing::{self, TitleBlock};
use crate::dxf::{entity, pair, place, tables};
use crate::step::{self, StepHeader, X, Z, flag};
use crate::step_text::{Entities, list, real, string};
use ink::{Anchor, Face, Figure, Step, palette};
use meridian::{Piece, Point, Turn};
use solid::Plate;
use solid::path::{self, Sweep};

/// A plate as an ISO 10303-21 file in millimetres: two planes, a plane or cylinder an edge piece (of a curve a surface of linear extrusion), one closed shell with normals outward.
pub fn step_plate(plate: &Plate, header: &StepHeader) -> Vec<u8> {
    let mut entities = Entities::default();
    let product = step::product(&mut entities, header);
    let context = step::units(&mut entities);
    let shell = Slab { entities: &mut entities, thickness_mm: plate.thickness_mm() }.shell(plate);
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
    entities: &'a mut Entities,
    thickness_mm: f64,
}

impl Slab<'_> {
    fn shell(&mut self, plate: &Plate) -> usize {
        let mut faces = Vec::new();
        let (mut bottoms, mut tops) = (Vec::new(), Vec::new());
        for line in plate.lines() {
            let (bottom, top) = self.walls(line, &mut faces);
            bottoms.push(bottom);
            tops.push(top);
        }
        faces.push(self.face(&tops, self.thickness_mm, Z));
        faces.push(self.face(&bottoms, 0.0, [0.0, 0.0, -1.0]));
        self.entities.add(&format!("CLOSED_SHELL('',{})", list(&faces)))
    }

    /// The edge faces of one closed line; returns its loops below and above, as the two faces run them.
    fn walls(&mut self, line: &[Piece], faces: &mut Vec<usize>) -> (usize, usize) {
        let high = self.thickness_mm;
        let vertex = |slab: &mut Self, at: Point, z: f64| {
            let at = slab.entities.cartesian([at.z_mm, at.r_mm, z]);
            slab.entities.add(&format!("VERTEX_POINT('',#{at})"))
        };
        let low_corners: Vec<usize> = line.iter().map(|piece| vertex(self, path::start(piece), 0.0)).collect();
        let high_corners: Vec<usize> = line.iter().map(|piece| vertex(self, path::start(piece), high)).collect();
        let uprights: Vec<usize> = (0..line.len())
            .map(|i| {
                let at = path::start(&line[i]);
                let curve = self.line([at.z_mm, at.r_mm, 0.0], Z);
                self.entities.add(&format!("EDGE_CURVE('',#{},#{},#{curve},.T.)", low_corners[i], high_corners[i]))
            })
            .collect();
        let (mut lows, mut highs) = (Vec::new(), Vec::new());
        for (i, piece) in line.iter().enumerate() {
            let next = (i + 1) % line.len();
            let low_curve = self.curve(piece, 0.0);
            let high_curve = self.curve(piece, high);
            let low = self.entities.add(&format!("EDGE_CURVE('',#{},#{},#{low_curve},.T.)", low_corners[i], low_corners[next]));
            let high = self.entities.add(&format!("EDGE_CURVE('',#{},#{},#{high_curve},.T.)", high_corners[i], high_corners[next]));
            let (surface, along) = self.surface(piece, low_curve);
            let edge_loop = self.edge_loop(&[(low, true), (uprights[next], true), (high, false), (uprights[i], false)]);
            let bound = self.entities.add(&format!("FACE_OUTER_BOUND('',#{edge_loop},.T.)"));
            faces.push(self.entities.add(&format!("ADVANCED_FACE('',(#{bound}),#{surface},{})", flag(along))));
            lows.push((low, false));
            highs.push((high, true));
        }
        lows.reverse();
        (self.edge_loop(&lows), self.edge_loop(&highs))
    }

    fn face(&mut self, loops: &[usize], z: f64, normal: [f64; 3]) -> usize {
        let bounds: Vec<usize> = loops
            .iter()
            .enumerate()
            .map(|(i, edge_loop)| {
                let kind = if i == 0 { "FACE_OUTER_BOUND" } else { "FACE_BOUND" };
                self.entities.add(&format!("{kind}('',#{edge_loop},.T.)"))
            })
            .collect();
        let placement = self.entities.placement([0.0, 0.0, z], normal, X);
        let plane = self.entities.add(&format!("PLANE('',#{placement})"));
        self.entities.add(&format!("ADVANCED_FACE('',{},#{plane},.T.)", list(&bounds)))
    }

    fn edge_loop(&mut self, edges: &[(usize, bool)]) -> usize {
        let oriented: Vec<usize> =
            edges.iter().map(|(edge, forward)| self.entities.add(&format!("ORIENTED_EDGE('',*,*,#{edge},{})", flag(*forward)))).collect();
        self.entities.add(&format!("EDGE_LOOP('',{})", list(&oriented)))
    }

    fn line(&mut self, from: [f64; 3], direction: [f64; 3]) -> usize {
        let (origin, direction) = (self.entities.cartesian(from), self.entities.direction(direction));
        let vector = self.entities.add(&format!("VECTOR('',#{direction},1.0)"));
        self.entities.add(&format!("LINE('',#{origin},#{vector})"))
    }

    fn curve(&mut self, piece: &Piece, z: f64) -> usize {
        match *piece {
            Piece::Line { from, .. } => {
                let [dx, dy] = path::direction(piece, 0.5);
                self.line([from.z_mm, from.r_mm, z], [dx, dy, 0.0])
            }
            Piece::Arc { from, to, centre, turn } => {
                let sweep = Sweep::new(from, to, centre, turn);
                let placement = self.entities.placement([centre.z_mm, centre.r_mm, z], [0.0, 0.0, sweep.sweep_rad.signum()], X);
                self.entities.add(&format!("CIRCLE('',#{placement},{})", real(sweep.radius_mm)))
            }
            Piece::Curve { from, control1, control2, to } => {
                let poles: Vec<usize> =
                    [from, control1, control2, to].iter().map(|p| self.entities.cartesian([p.z_mm, p.r_mm, z])).collect();
                self.entities
                    .add(&format!("B_SPLINE_CURVE_WITH_KNOTS('',3,{},.UNSPECIFIED.,.F.,.F.,(4,4),(0.0,1.0),.UNSPECIFIED.)", list(&poles)))
            }
        }
    }

    /// The surface over an edge piece, and whether its own normal points out of the material, which lies on the left of travel.
    fn surface(&mut self, piece: &Piece, curve: usize) -> (usize, bool) {
        match *piece {
            Piece::Line { from, .. } => {
                let [dx, dy] = path::direction(piece, 0.5);
                let placement = self.entities.placement([from.z_mm, from.r_mm, 0.0], [dy, -dx, 0.0], Z);
                (self.entities.add(&format!("PLANE('',#{placement})")), true)
            }
            Piece::Arc { from, to, centre, turn } => {
                let radius = Sweep::new(from, to, centre, turn).radius_mm;
                let placement = self.entities.placement([centre.z_mm, centre.r_mm, 0.0], Z, X);
                (self.entities.add(&format!("CYLINDRICAL_SURFACE('',#{placement},{})", real(radius))), turn == Turn::Counterclockwise)
            }
            Piece::Curve { .. } => {
                // Along the curve, then up: that order's normal points to the right of travel.
                let up = self.entities.direction(Z);
                let vector = self.entities.add(&format!("VECTOR('',#{up},1.0)"));
                (self.entities.add(&format!("SURFACE_OF_LINEAR_EXTRUSION('',#{curve},#{vector})")), true)
            }
        }
    }
}

/// The outline with its holes as DXF (release 12, ASCII), full size in millimetres. Lines and arcs are exact.
pub fn dxf_plate(plate: &Plate) -> Vec<u8> {
    let [low, high] = plate.bounds_mm();
    let mut text = String::new();
    for (code, value) in [("999", "ringer: outline in millimetres"), ("0", "SECTION"), ("2", "HEADER"), ("9", "$ACADVER"), ("1", "AC1009")]
    {
        pair(&mut text, code, value);
    }
    for (name, at) in [("$EXTMIN", low), ("$EXTMAX", high)] {
        pair(&mut text, "9", name);
        place(&mut text, 10, at[0], at[1]);
    }
    pair(&mut text, "0", "ENDSEC");
    tables(&mut text);
    pair(&mut text, "0", "SECTION");
    pair(&mut text, "2", "ENTITIES");
    plate.outline().iter().for_each(|piece| entity(&mut text, "OUTSIDE", piece, 1.0));
    plate.holes().iter().flatten().for_each(|piece| entity(&mut text, "BORE", piece, 1.0));
    pair(&mut text, "0", "ENDSEC");
    pair(&mut text, "0", "EOF");
    text.into_bytes()
}

/// Room round the outline for its sizes, mm on paper.
const ROOM_MM: f64 = 16.0;

/// The outline seen from above with its overall sizes, no larger than `room_mm`, at a preferred scale.
pub fn outline_plate(plate: &Plate, room_mm: [f64; 2]) -> Figure {
    scaled_outline(plate, room_mm).0
}

fn scaled_outline(plate: &Plate, room_mm: [f64; 2]) -> (Figure, Scale) {
    let [low, high] = plate.bounds_mm();
    let size = [high[0] - low[0], high[1] - low[1]];
    let fits = |scale: &Scale| (0..2).all(|i| size[i] * scale.factor + 2.0 * ROOM_MM <= room_mm[i]);
    let scale = drawing::preferred(fits);
    let k = scale.factor;
    let words = format!(
        "Seen from above at {scale}: {} by {} mm, {} mm thick, {} holes.",
        short(size[0]),
        short(size[1]),
        short(plate.thickness_mm()),
        plate.holes().len()
    );
    let mut figure = Figure::new(size[0] * k + 2.0 * ROOM_MM, size[1] * k + 2.0 * ROOM_MM, format!("Outline, {scale}"), words);
    let at = |p: Point| [ROOM_MM + (p.z_mm - low[0]) * k, ROOM_MM + (high[1] - p.r_mm) * k];
    let mut window = Vec::new();
    for line in plate.lines() {
        window.extend(steps(line, &at));
    }
    figure.path(window, Some(palette::outline(palette::INK)), None);
    for hole in plate.holes() {
        if let Some((centre, radius)) = round(hole) {
            let [x, y] = at(centre);
            let reach = radius * k + 2.0;
            figure.line([x - reach, y], [x + reach, y], palette::chain(palette::INK).width(0.18));
            figure.line([x, y - reach], [x, y + reach], palette::chain(palette::INK).width(0.18));
            figure.text(
                [x + 0.75 * reach, y - 0.75 * reach],
                3.4,
                Face::Figures,
                Anchor::Start,
                palette::INK,
                format!("\u{2300}{}", short(2.0 * radius)),
            );
        }
    }
    let (right, below) = (ROOM_MM + size[0] * k, ROOM_MM + size[1] * k);
    let hair = palette::hair(palette::INK);
    figure.line([ROOM_MM, below + 8.0], [right, below + 8.0], hair.clone());
    figure.line([right + 8.0, ROOM_MM], [right + 8.0, below], hair.clone());
    for (from, to) in [
        ([ROOM_MM, below + 1.0], [ROOM_MM, below + 9.5]),
        ([right, below + 1.0], [right, below + 9.5]),
        ([right + 1.0, ROOM_MM], [right + 9.5, ROOM_MM]),
        ([right + 1.0, below], [right + 9.5, below]),
    ] {
        figure.line(from, to, hair.clone());
    }
    // Ticks across the ends, 45 degrees (ISO 129-1 allows oblique strokes).
    for [x, y] in [[ROOM_MM, below + 8.0], [right, below + 8.0], [right + 8.0, ROOM_MM], [right + 8.0, below]] {
        figure.line([x - 1.2, y + 1.2], [x + 1.2, y - 1.2], palette::outline(palette::INK).width(0.35));
    }
    figure.text([0.5 * (ROOM_MM + right), below + 7.0], 3.4, Face::Figures, Anchor::Middle, palette::INK, short(size[0]));
    figure.text([right + 9.0, 0.5 * (ROOM_MM + below) + 1.2], 3.4, Face::Figures, Anchor::Start, palette::INK, short(size[1]));
    (figure, scale)
}

/// The same on a sheet with its title block.
pub fn drawing_plate(plate: &Plate, title: &TitleBlock) -> Figure {
    let note = format!("Seen from above. Thickness {} mm. Sizes in mm.", short(plate.thickness_mm()));
    drawing::on_sheet(title, &[note], |room| scaled_outline(plate, room))
}

/// Centre and radius of a hole that is one circle.
fn round(hole: &[Piece]) -> Option<(Point, f64)> {
    let Piece::Arc { from, centre, .. } = *hole.first()? else { return None };
    let radius = path::distance(from, centre);
    let same = |piece: &Piece| matches!(*piece, Piece::Arc { centre: other, .. } if path::distance(other, centre) < 1e-6);
    hole.iter().all(same).then_some((centre, radius))
}

fn steps(line: &[Piece], at: &impl Fn(Point) -> [f64; 2]) -> Vec<Step> {
    let mut steps: Vec<Step> = line.first().map(|piece| Step::Move(at(path::start(piece)))).into_iter().collect();
    for piece in line {
        let count = path::steps_for_chord(piece, 0.005);
        steps.extend((1..=count).map(|i| Step::Line(at(path::at(piece, i as f64 / count as f64)))));
    }
    steps.push(Step::Close);
    steps
}

fn short(mm: f64) -> String {
    let text = format!("{mm:.2}");
    text.trim_end_matches('0').trim_end_matches('.').to_string()
}
