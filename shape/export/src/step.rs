use crate::NotExact;
use crate::brep::meridian_curve;
use crate::step_cut;
use crate::step_text::{Entities, list, real, string};
use meridian::{Piece, Point, Turn};
use solid::path::{self, NOTHING_MM, Sweep};
use solid::{Body, Feature, Limits};

/// Which application protocol the file follows.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Schema {
    /// AP214 (automotive design): what every reader knows.
    Ap214,
    /// AP242 (managed model based engineering), its successor.
    #[default]
    Ap242,
}

/// What the file says beside the shape.
#[derive(Clone, Debug, PartialEq)]
pub struct StepHeader<'a> {
    /// Name of the part.
    pub product: &'a str,
    /// Who made the file.
    pub author: &'a str,
    /// When, as `2026-01-31T12:00:00`. Given by the caller, so that the same job gives the same bytes.
    pub timestamp: &'a str,
    /// Colour, encoded sRGB.
    pub srgb: Option<[u8; 3]>,
    /// Which protocol.
    pub schema: Schema,
}

/// The body as an ISO 10303-21 file in millimetres with exact surfaces.
///
/// Of what is cut into the turned shape it holds what [`carried`] says. Lines give planes, cylinders and cones; arcs give spheres, tori or, where a torus would cut itself, surfaces of revolution of the circle; curves give surfaces of
/// revolution of a cubic B-spline. Each is split into two faces of 180 degrees. One closed shell, normals out of the material; checked by
/// `proof/solid_second_opinion.py`, which reads the orientation from the raw text because readers turn an inside-out shell without a word.
pub fn step(body: &Body, header: &StepHeader) -> Vec<u8> {
    let mut entities = Entities::default();
    let product = product(&mut entities, header);
    let context = units(&mut entities);
    let shell = shell(&mut entities, &carried(body).body);
    let solid = entities.add(&format!("MANIFOLD_SOLID_BREP({},#{shell})", string(header.product)));
    let origin = entities.placement([0.0; 3], Z, X);
    let shape = entities.add(&format!("ADVANCED_BREP_SHAPE_REPRESENTATION({},(#{origin},#{solid}),#{context})", string(header.product)));
    entities.add(&format!("SHAPE_DEFINITION_REPRESENTATION(#{product},#{shape})"));
    if let Some(srgb) = header.srgb {
        colour(&mut entities, solid, context, srgb);
    }
    file(header, &entities.into_text()).into_bytes()
}

/// What STEP holds of a body.
#[derive(Clone, Debug, PartialEq)]
pub struct Carried {
    /// The body as it is in the file.
    pub body: Body,
    /// What is left out of it, and why.
    pub left: Vec<(Feature, NotExact)>,
}

/// What of a body the STEP file holds exactly: the turned shape, and flats, slots, threads and cross holes, over steps and edges too, as far as they keep clear of one another. Flutes,
/// knurls and marks are in the meshes alone.
pub fn carried(body: &Body) -> Carried {
    let mut carried = Carried { body: body.turned(), left: Vec::new() };
    let limits = Limits { least_wall_mm: 0.0, advised_wall_mm: 0.0 };
    let reliefs = body.cut_reliefs().cloned().map(Feature::Relief);
    for feature in reliefs.chain(body.cross_holes().map(Feature::CrossHole)) {
        let tried = carried.body.with(feature.clone(), limits).map_err(|_| NotExact::MeetsCut);
        match tried.and_then(|tried| step_cut::shell(&mut Entities::default(), &tried).map(|_| tried)) {
            Ok(tried) => carried.body = tried,
            Err(why) => carried.left.push((feature, why)),
        }
    }
    let marks = body.features().iter().filter(|feature| matches!(feature, Feature::Mark(_)));
    carried.left.extend(marks.map(|mark| (mark.clone(), NotExact::MeshOnly)));
    carried
}

fn shell(entities: &mut Entities, body: &Body) -> usize {
    if body.is_plain() {
        return Solid::new(entities, body).shell();
    }
    let before = entities.clone();
    step_cut::shell(entities, body).unwrap_or_else(|_| {
        *entities = before;
        Solid::new(entities, body).shell()
    })
}

pub(crate) const X: [f64; 3] = [1.0, 0.0, 0.0];
pub(crate) const Z: [f64; 3] = [0.0, 0.0, 1.0];

pub(crate) fn file(header: &StepHeader, data: &str) -> String {
    let schema = match header.schema {
        Schema::Ap214 => "AUTOMOTIVE_DESIGN { 1 0 10303 214 1 1 1 1 }",
        Schema::Ap242 => "AP242_MANAGED_MODEL_BASED_3D_ENGINEERING_MIM_LF { 1 0 10303 442 1 1 4 }",
    };
    let (name, time, author) = (string(header.product), string(header.timestamp), string(header.author));
    let system = string(concat!("ringer ", env!("CARGO_PKG_VERSION")));
    format!(
        "ISO-10303-21;\nHEADER;\nFILE_DESCRIPTION(('turned solid, exact surfaces, millimetres'),'2;1');\n\
         FILE_NAME({name},{time},({author}),(''),{system},{system},'');\nFILE_SCHEMA(('{schema}'));\nENDSEC;\nDATA;\n{data}ENDSEC;\nEND-ISO-10303-21;\n"
    )
}

/// The product structure that every reader asks for; returns the number of its PRODUCT_DEFINITION_SHAPE.
pub(crate) fn product(entities: &mut Entities, header: &StepHeader) -> usize {
    let (application, protocol, year) = match header.schema {
        Schema::Ap214 => ("core data for automotive mechanical design processes", "automotive_design", 2000),
        Schema::Ap242 => ("managed model based 3d engineering", "ap242_managed_model_based_3d_engineering", 2014),
    };
    let name = string(header.product);
    let context = entities.add(&format!("APPLICATION_CONTEXT('{application}')"));
    entities.add(&format!("APPLICATION_PROTOCOL_DEFINITION('international standard','{protocol}',{year},#{context})"));
    let product_context = entities.add(&format!("PRODUCT_CONTEXT('',#{context},'mechanical')"));
    let product = entities.add(&format!("PRODUCT({name},{name},'',(#{product_context}))"));
    entities.add(&format!("PRODUCT_RELATED_PRODUCT_CATEGORY('part','',(#{product}))"));
    let formation = entities.add(&format!("PRODUCT_DEFINITION_FORMATION('','',#{product})"));
    let definition_context = entities.add(&format!("PRODUCT_DEFINITION_CONTEXT('part definition',#{context},'design')"));
    let definition = entities.add(&format!("PRODUCT_DEFINITION('design','',#{formation},#{definition_context})"));
    entities.add(&format!("PRODUCT_DEFINITION_SHAPE('','',#{definition})"))
}

/// Millimetres, radians, and how near is the same place: 1e-6 mm, ten times what joints and centres are kept to.
pub(crate) fn units(entities: &mut Entities) -> usize {
    let length = entities.add("(LENGTH_UNIT() NAMED_UNIT(*) SI_UNIT(.MILLI.,.METRE.))");
    let angle = entities.add("(NAMED_UNIT(*) PLANE_ANGLE_UNIT() SI_UNIT($,.RADIAN.))");
    let solid_angle = entities.add("(NAMED_UNIT(*) SI_UNIT($,.STERADIAN.) SOLID_ANGLE_UNIT())");
    let same = entities.add(&format!("UNCERTAINTY_MEASURE_WITH_UNIT(LENGTH_MEASURE(1.E-6),#{length},'distance_accuracy_value','')"));
    entities.add(&format!(
        "(GEOMETRIC_REPRESENTATION_CONTEXT(3) GLOBAL_UNCERTAINTY_ASSIGNED_CONTEXT((#{same})) \
         GLOBAL_UNIT_ASSIGNED_CONTEXT((#{length},#{angle},#{solid_angle})) REPRESENTATION_CONTEXT('',''))"
    ))
}

pub(crate) fn colour(entities: &mut Entities, solid: usize, context: usize, srgb: [u8; 3]) {
    let [red, green, blue] = srgb.map(|code| real((f64::from(code) / 255.0 * 1e6).round() / 1e6));
    let rgb = entities.add(&format!("COLOUR_RGB('',{red},{green},{blue})"));
    let fill = entities.add(&format!("FILL_AREA_STYLE_COLOUR('',#{rgb})"));
    let style = entities.add(&format!("FILL_AREA_STYLE('',(#{fill}))"));
    let area = entities.add(&format!("SURFACE_STYLE_FILL_AREA(#{style})"));
    let side = entities.add(&format!("SURFACE_SIDE_STYLE('',(#{area}))"));
    let usage = entities.add(&format!("SURFACE_STYLE_USAGE(.BOTH.,#{side})"));
    let assignment = entities.add(&format!("PRESENTATION_STYLE_ASSIGNMENT((#{usage}))"));
    let item = entities.add(&format!("STYLED_ITEM('colour',(#{assignment}),#{solid})"));
    entities.add(&format!("MECHANICAL_DESIGN_GEOMETRIC_PRESENTATION_REPRESENTATION('',(#{item}),#{context})"));
}

/// Which meridian of the body: at 0 degrees (x > 0) or at 180 degrees (x < 0).
#[derive(Clone, Copy, PartialEq, Eq)]
enum Side {
    Near,
    Far,
}

impl Side {
    fn sign(self) -> f64 {
        if self == Side::Near { 1.0 } else { -1.0 }
    }

    fn place(self, at: Point) -> [f64; 3] {
        [self.sign() * at.r_mm, 0.0, at.z_mm]
    }
}

/// A corner of the boundary turned about the axis: two vertices and the two half circles between them, or a single vertex on the axis.
struct Joint {
    near: usize,
    far: usize,
    /// 0 to 180 degrees and 180 to 360 degrees; `None` on the axis.
    halves: Option<[usize; 2]>,
}

struct Solid<'a> {
    entities: &'a mut Entities,
    pieces: Vec<Piece>,
    joints: Vec<Joint>,
}

impl<'a> Solid<'a> {
    fn new(entities: &'a mut Entities, body: &Body) -> Solid<'a> {
        let pieces = body.boundary();
        let mut solid = Solid { entities, pieces: Vec::new(), joints: Vec::new() };
        for piece in &pieces {
            let joint = solid.joint(path::start(piece));
            solid.joints.push(joint);
        }
        if let Some(last) = pieces.last().filter(|_| !body.is_through()) {
            let joint = solid.joint(path::end(last));
            solid.joints.push(joint);
        }
        solid.pieces = pieces;
        solid
    }

    fn joint(&mut self, at: Point) -> Joint {
        let near = self.vertex(Side::Near.place(at));
        if at.r_mm <= NOTHING_MM {
            return Joint { near, far: near, halves: None };
        }
        let far = self.vertex(Side::Far.place(at));
        let placement = self.entities.placement([0.0, 0.0, at.z_mm], Z, X);
        let circle = self.entities.add(&format!("CIRCLE('',#{placement},{})", real(at.r_mm)));
        let halves = [self.edge(near, far, circle), self.edge(far, near, circle)];
        Joint { near, far, halves: Some(halves) }
    }

    fn vertex(&mut self, at: [f64; 3]) -> usize {
        let at = self.entities.cartesian(at);
        self.entities.add(&format!("VERTEX_POINT('',#{at})"))
    }

    fn edge(&mut self, from: usize, to: usize, curve: usize) -> usize {
        self.entities.add(&format!("EDGE_CURVE('',#{from},#{to},#{curve},.T.)"))
    }

    /// All faces, two a piece, in one closed shell; returns its number.
    fn shell(mut self) -> usize {
        let mut faces = Vec::new();
        for index in 0..self.pieces.len() {
            let piece = self.pieces[index];
            let (before, after) = (index, (index + 1) % self.joints.len());
            let near_curve = self.meridian(&piece, Side::Near);
            let far_curve = self.meridian(&piece, Side::Far);
            let near = self.edge(self.joints[before].near, self.joints[after].near, near_curve);
            let far = self.edge(self.joints[before].far, self.joints[after].far, far_curve);
            let (surface, along) = turned_surface(self.entities, &piece, Some(near_curve));
            for (half, (left, right)) in [(near, far), (far, near)].into_iter().enumerate() {
                // Seen from outside, counter-clockwise: round the axis at the start, along on the far side, back round at the end, back along on the near side.
                let round = |joint: &Joint| joint.halves.map(|halves| halves[half]);
                let (first, last) = (round(&self.joints[before]), round(&self.joints[after]));
                let sides = [first.map(|edge| (edge, true)), Some((right, true)), last.map(|edge| (edge, false)), Some((left, false))];
                faces.push(self.face(&sides, surface, along));
            }
        }
        self.entities.add(&format!("CLOSED_SHELL('',{})", list(&faces)))
    }

    fn face(&mut self, sides: &[Option<(usize, bool)>], surface: usize, along: bool) -> usize {
        let mut edges = Vec::new();
        for (edge, forward) in sides.iter().flatten() {
            edges.push(self.entities.add(&format!("ORIENTED_EDGE('',*,*,#{edge},{})", flag(*forward))));
        }
        let edge_loop = self.entities.add(&format!("EDGE_LOOP('',{})", list(&edges)));
        let bound = self.entities.add(&format!("FACE_OUTER_BOUND('',#{edge_loop},.T.)"));
        self.entities.add(&format!("ADVANCED_FACE('',(#{bound}),#{surface},{})", flag(along)))
    }

    /// The curve of a piece on one side, running with the piece.
    fn meridian(&mut self, piece: &Piece, side: Side) -> usize {
        meridian_curve(self.entities, piece, [side.sign(), 0.0])
    }
}

/// The surface a piece sweeps, and whether its own normal already points out of the material; `curve` is the piece's own at 0 degrees, if it is written already.
pub(crate) fn turned_surface(entities: &mut Entities, piece: &Piece, curve: Option<usize>) -> (usize, bool) {
    let curve = |entities: &mut Entities| curve.unwrap_or_else(|| meridian_curve(entities, piece, [1.0, 0.0]));
    match *piece {
        Piece::Line { from, to } => straight(entities, from, to),
        Piece::Arc { from, to, centre, turn } => {
            let radius = Sweep::new(from, to, centre, turn).radius_mm;
            let bead = turn == Turn::Clockwise;
            if centre.r_mm.abs() <= NOTHING_MM {
                let placement = entities.placement([0.0, 0.0, centre.z_mm], Z, X);
                (entities.add(&format!("SPHERICAL_SURFACE('',#{placement},{})", real(radius))), bead)
            } else if centre.r_mm > radius * (1.0 + 1e-6) {
                let placement = entities.placement([0.0, 0.0, centre.z_mm], Z, X);
                (entities.add(&format!("TOROIDAL_SURFACE('',#{placement},{},{})", real(centre.r_mm), real(radius))), bead)
            } else {
                let curve = curve(entities);
                let sweep = Sweep::new(from, to, centre, turn).sweep_rad.abs();
                let ends = format!("(PARAMETER_VALUE(0.0)),(PARAMETER_VALUE({}))", real(sweep));
                let arc = entities.add(&format!("TRIMMED_CURVE('',#{curve},{ends},.T.,.PARAMETER.)"));
                (revolved(entities, arc), true)
            }
        }
        Piece::Curve { .. } => {
            let curve = curve(entities);
            (revolved(entities, curve), true)
        }
    }
}

fn straight(entities: &mut Entities, from: Point, to: Point) -> (usize, bool) {
    let (dz, dr) = (to.z_mm - from.z_mm, to.r_mm - from.r_mm);
    if dz.abs() <= NOTHING_MM {
        let placement = entities.placement([0.0, 0.0, from.z_mm], [0.0, 0.0, -dr.signum()], X);
        return (entities.add(&format!("PLANE('',#{placement})")), true);
    }
    if dr.abs() <= NOTHING_MM {
        let placement = entities.placement([0.0, 0.0, from.z_mm], Z, X);
        return (entities.add(&format!("CYLINDRICAL_SURFACE('',#{placement},{})", real(from.r_mm))), dz > 0.0);
    }
    let (narrow, toward) = if dr > 0.0 { (from, dz.signum()) } else { (to, -dz.signum()) };
    let placement = entities.placement([0.0, 0.0, narrow.z_mm], [0.0, 0.0, toward], X);
    let angle = dr.abs().atan2(dz.abs());
    (entities.add(&format!("CONICAL_SURFACE('',#{placement},{},{})", real(narrow.r_mm), real(angle))), dz > 0.0)
}

/// Round the axis, then along the curve: the normal of that order points out of the material.
fn revolved(entities: &mut Entities, curve: usize) -> usize {
    let (origin, axis) = (entities.cartesian([0.0; 3]), entities.direction(Z));
    let axis = entities.add(&format!("AXIS1_PLACEMENT('',#{origin},#{axis})"));
    entities.add(&format!("SURFACE_OF_REVOLUTION('',#{curve},#{axis})"))
}

pub(crate) fn flag(yes: bool) -> &'static str {
    if yes { ".T." } else { ".F." }
}
