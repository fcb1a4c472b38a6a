//! Writes a dozen awkward bodies as STEP (both protocols), STL and 3MF with a JSON of what they should measure: `cargo run --release -p export --example write_bodies OUTDIR`.
//! With `--random N` after it, N random bodies too (STEP and STL). `proof/solid_second_opinion.py` reads them back with other people's libraries.
#![allow(clippy::print_stdout, clippy::unwrap_used, reason = "a program for proofs, not a library")]

#[path = "../../solid/tests/random/mod.rs"]
mod random;

use export::{Material, Placed, Schema, StepHeader, carried, dxf, dxf_plate, gltf, step, step_plate, stl, threemf};
use meridian::{Piece, Point, Turn};
use solid::{Body, Bore, BoreEnd, BoreStep, CrossHole, Feature, Form, Hollow, Limits, Plate, Relief, Surface, Thread, path};
use std::f64::consts::PI;
use std::path::Path;

const CHORD_MM: f64 = 0.01;

fn main() {
    let folder = std::path::PathBuf::from(std::env::args().nth(1).expect("usage: write_bodies OUTDIR"));
    std::fs::create_dir_all(&folder).unwrap();
    let mut rows: Vec<String> = cases().into_iter().map(|case| write_case(&folder, &case)).collect();
    let count: u64 = std::env::args()
        .nth(3)
        .filter(|_| std::env::args().nth(2).is_some_and(|flag| flag == "--random"))
        .map_or(0, |n| n.parse().unwrap());
    rows.extend((0..count).map(|seed| write_random(&folder, &format!("random_{seed}"), &random::random_body(seed))));
    // Broken edges and stepped bores are turned: the exact files hold them. What is cut besides is in the mesh alone.
    let cut: Vec<(u64, Body)> = (0..count / 2).map(|seed| (seed, random::random_cut_body(seed).0)).collect();
    rows.extend(cut.iter().map(|(seed, body)| {
        let turned =
            Body::from_pieces(&outside(body), &turned_features(body), Limits { least_wall_mm: 0.0, advised_wall_mm: 0.0 }).unwrap().value;
        write_random(&folder, &format!("random_edged_{seed}"), &turned)
    }));
    let random = (0..count).map(|seed| (format!("cut_{seed}"), random::random_cut_body(seed).0)).filter(|(_, body)| !body.is_plain());
    let named = cut_cases().into_iter().map(|(name, body)| (name.to_string(), body));
    let cut: Vec<String> = named.chain(random).map(|(name, body)| write_cut(&folder, &name, &body)).collect();
    std::fs::write(folder.join("cut.json"), format!("[\n{}\n]\n", cut.join(",\n"))).unwrap();
    std::fs::write(folder.join("bodies.json"), format!("[\n{}\n]\n", rows.join(",\n"))).unwrap();
    let plates: Vec<String> =
        plates().into_iter().map(|(name, formula_mm3, plate)| write_plate(&folder, name, formula_mm3, &plate)).collect();
    std::fs::write(folder.join("plates.json"), format!("[\n{}\n]\n", plates.join(",\n"))).unwrap();
    println!("{} bodies", rows.len());
}

fn header(product: &str, schema: Schema) -> StepHeader<'_> {
    StepHeader { product, author: "proof", timestamp: "2026-01-31T12:00:00", srgb: Some([152, 164, 146]), schema }
}

fn write_case(folder: &Path, case: &Case) -> String {
    let body = Body::from_pieces(&case.pieces, &case.features, Limits { least_wall_mm: 0.05, advised_wall_mm: 0.1 }).unwrap().value;
    let mesh = body.mesh(CHORD_MM, solid::DEFAULT_TRIANGLE_LIMIT).unwrap();
    let view = body.view_mesh(CHORD_MM, solid::DEFAULT_TRIANGLE_LIMIT).unwrap();
    let material = Material { name: "sage <green> & \"resin\"".into(), srgb: [152, 164, 146] };
    let copies = [Placed { at_mm: [0.0; 3] }, Placed { at_mm: [60.0, 0.0, 0.0] }];
    let write = |suffix: &str, bytes: Vec<u8>| std::fs::write(folder.join(format!("{}.{suffix}", case.name)), bytes).unwrap();
    write("214.step", step(&body, &header(case.name, Schema::Ap214)));
    write("242.step", step(&body, &header(case.name, Schema::Ap242)));
    write("stl", stl(&mesh, case.name).unwrap());
    write("3mf", threemf(&mesh, case.name, &material, &copies).unwrap());
    write("glb", gltf(&view, case.name, [152, 164, 146]).unwrap());
    write("dxf", dxf(&body));
    row(case.name, case.formula_mm3, &body)
}

/// A washer, and a lever with a rounded end, a hollow corner and two holes; volumes worked by hand.
fn plates() -> Vec<(&'static str, Option<f64>, Plate)> {
    use Turn::{Clockwise as Cw, Counterclockwise as Ccw};
    let line = |from, to| Piece::Line { from, to };
    let arc = |from, to, centre, turn| Piece::Arc { from, to, centre, turn };
    let round = |x: f64, y: f64, r: f64| vec![arc(p(x + r, y), p(x - r, y), p(x, y), Ccw), arc(p(x - r, y), p(x + r, y), p(x, y), Ccw)];
    let washer = Plate::new(round(0.0, 0.0, 10.0), vec![round(0.0, 0.0, 4.0)], 1.5).unwrap();
    // A rectangle 40 x 12 from (0, 0), a half disc of 6 at its right, a quarter disc of 4 cut from its upper left corner.
    let outline = vec![
        line(p(0.0, 0.0), p(40.0, 0.0)),
        arc(p(40.0, 0.0), p(40.0, 12.0), p(40.0, 6.0), Ccw),
        line(p(40.0, 12.0), p(4.0, 12.0)),
        arc(p(4.0, 12.0), p(0.0, 8.0), p(0.0, 12.0), Cw),
        line(p(0.0, 8.0), p(0.0, 0.0)),
    ];
    let lever = Plate::new(outline, vec![round(40.0, 6.0, 3.0), round(8.0, 5.0, 1.5)], 3.0).unwrap();
    let area = 480.0 + 18.0 * PI - 4.0 * PI - 9.0 * PI - 2.25 * PI;
    let outer_washer = 1.5 * (100.0 - 16.0) * PI;
    // Broken by 0.3: from each edge of a circle R outside (or inside a hole, R) the ring pi b^2 R -/+ pi b^3 / 3 goes (Pappus: a triangle at R -/+ b/3).
    let off = |r: f64, sign: f64| 2.0 * 0.5 * 0.09 * 2.0 * PI * (r + sign * 0.1);
    let broken_washer = outer_washer - off(10.0, -1.0) - off(4.0, 1.0);
    // A rectangle 20 x 10 x 2 broken by 0.4: 2 (w l b^2-wise) prismatoids; by hand V = l w t - 2 b^2 (l + w) + 8/3 b^3.
    let block = Plate::new(rectangle(20.0, 10.0), vec![], 2.0).unwrap().with_edge_break(0.4).unwrap();
    let block_mm3 = 400.0 - 2.0 * 0.16 * 30.0 + 8.0 / 3.0 * 0.064;
    let cam = Plate::new(cam(), vec![round(0.0, 0.0, 3.0)], 2.0).unwrap();
    vec![
        ("plate_washer", Some(outer_washer), washer.clone()),
        ("plate_lever", Some(3.0 * area), lever.clone()),
        ("plate_washer_broken", Some(broken_washer), washer.with_edge_break(0.3).unwrap()),
        ("plate_block_broken", Some(block_mm3), block),
        ("plate_lever_broken", None, lever.with_edge_break(0.4).unwrap()),
        ("plate_cam", None, cam.clone()),
        ("plate_cam_broken", None, cam.with_edge_break(0.3).unwrap()),
    ]
}

fn rectangle(width: f64, height: f64) -> Vec<Piece> {
    let corners = [p(0.0, 0.0), p(width, 0.0), p(width, height), p(0.0, height), p(0.0, 0.0)];
    corners.windows(2).map(|pair| Piece::Line { from: pair[0], to: pair[1] }).collect()
}

/// A free curve out and back round a straight foot, with two corners.
fn cam() -> Vec<Piece> {
    vec![
        Piece::Line { from: p(-8.0, -6.0), to: p(8.0, -6.0) },
        Piece::Curve { from: p(8.0, -6.0), control1: p(16.0, 4.0), control2: p(10.0, 12.0), to: p(0.0, 11.0) },
        Piece::Curve { from: p(0.0, 11.0), control1: p(-10.0, 10.0), control2: p(-6.0, 2.0), to: p(-8.0, -6.0) },
    ]
}

fn write_plate(folder: &Path, name: &str, formula_mm3: Option<f64>, plate: &Plate) -> String {
    let mesh = plate.mesh(0.01).unwrap();
    let material = Material { name: "resin".into(), srgb: [152, 164, 146] };
    std::fs::write(folder.join(format!("{name}.step")), step_plate(plate, &header(name, Schema::Ap242))).unwrap();
    std::fs::write(folder.join(format!("{name}.stl")), stl(&mesh, name).unwrap()).unwrap();
    std::fs::write(folder.join(format!("{name}.3mf")), threemf(&mesh, name, &material, &[Placed::default()]).unwrap()).unwrap();
    std::fs::write(folder.join(format!("{name}.dxf")), dxf_plate(plate)).unwrap();
    format!(
        "{{\"name\": \"{name}\", \"formula_mm3\": {}, \"volume_mm3\": {:?}, \"area_mm2\": {:?}}}",
        formula_mm3.map_or("null".into(), |v| format!("{v:?}")),
        plate.volume_mm3(),
        plate.area_mm2()
    )
}

/// The outside as it was before its bore, axis to axis.
fn outside(body: &Body) -> Vec<Piece> {
    let outer = body.outer();
    let (first, last) = (outer.first().map(path::start).unwrap(), outer.last().map(path::end).unwrap());
    let to_axis = |at: Point| Point { r_mm: 0.0, ..at };
    let mut pieces = Vec::new();
    if first.r_mm > 0.0 {
        pieces.push(Piece::Line { from: to_axis(first), to: first });
    }
    pieces.extend(outer);
    if last.r_mm > 0.0 {
        pieces.push(Piece::Line { from: last, to: to_axis(last) });
    }
    pieces
}

fn turned_features(body: &Body) -> Vec<Feature> {
    body.features().iter().filter(|feature| matches!(feature, Feature::Bore(_) | Feature::Hollow(_))).cloned().collect()
}

/// Flats, slots and holes as makers ask for them.
fn cut_cases() -> Vec<(&'static str, Body)> {
    let drum = || Pen::new().line(0.0, 10.0).line(20.0, 10.0).line(20.0, 0.0).0;
    let domed =
        || Pen::new().line(0.0, 8.0).line(3.0, 8.0).line(3.0, 10.0).line(12.0, 10.0).arc((22.0, 0.0), (12.0, 0.0), Turn::Clockwise).0;
    let stepped = || Pen::new().line(0.0, 7.0).line(6.0, 7.0).line(6.0, 10.0).line(20.0, 10.0).line(20.0, 0.0).0;
    let filleted = || {
        let (cove, lip) = (Turn::Counterclockwise, Turn::Clockwise);
        Pen::new()
            .line(0.0, 7.0)
            .line(5.5, 7.0)
            .arc((6.5, 8.0), (5.5, 8.0), cove)
            .line(6.5, 9.0)
            .line(7.5, 10.0)
            .line(18.0, 10.0)
            .arc((20.0, 8.0), (18.0, 8.0), lip)
            .line(20.0, 0.0)
            .0
    };
    let turned = || {
        let (bead, cove) = (Turn::Clockwise, Turn::Counterclockwise);
        Pen::new()
            .line(0.0, 8.0)
            .line(3.5, 8.0)
            .arc((5.5, 8.0), (4.5, 8.0), bead)
            .arc((9.5, 8.0), (7.5, 9.0), cove)
            .line(16.0, 9.5)
            .line(16.0, 0.0)
            .0
    };
    let waved = || {
        Pen::new()
            .line(0.0, 8.0)
            .curve((3.0, 12.0), (5.0, 6.5), (8.0, 8.0))
            .curve((10.0, 9.0), (11.0, 11.0), (14.5, 9.0))
            .curve((16.0, 8.0), (18.0, 9.0), (20.0, 9.0))
            .line(20.0, 0.0)
            .0
    };
    let counterbored = || {
        let steps = vec![BoreStep { diameter_mm: 8.0, depth_mm: 6.2 }, BoreStep { diameter_mm: 6.5, depth_mm: 7.4 }];
        Bore { steps, end: BoreEnd::Through { diameter_mm: 5.0, exit_chamfer_mm: 0.3 }, mouth_chamfer_mm: 0.3 }
    };
    let flats = |on, z_mm, count, from_axis_mm| Feature::Relief(Relief { on, z_mm, form: Form::Flats { count, from_axis_mm } });
    let slot = |z_mm| Feature::Relief(Relief { on: Surface::Bore, z_mm, form: Form::Slot { width_mm: 2.0, floor_mm: 4.2 } });
    let hole = |z_mm, diameter_mm, angle_deg, both_sides| Feature::CrossHole(CrossHole { z_mm, diameter_mm, angle_deg, both_sides });
    let bore = |bore| Feature::Bore(bore);
    let blind = || bore(Bore::blind(6.0, 12.0));
    let made = |pieces: Vec<Piece>, features: Vec<Feature>| Body::from_pieces(&pieces, &features, Limits::default()).unwrap().value;
    let threaded = |name: &str, z_mm| {
        let thread = Thread::named(name).unwrap();
        let form = Form::Thread { pitch_mm: thread.pitch_mm, crest_mm: 0.5 * thread.minor_mm, flats: thread.flats() };
        Feature::Relief(Relief { on: Surface::Bore, z_mm, form })
    };
    let hollow = || Feature::Hollow(Hollow { wall_mm: 1.5, depth_mm: 16.0 });
    let hollow_wide = || Feature::Hollow(Hollow { wall_mm: 2.0, depth_mm: 16.0 });
    let d_bore = |depth| flats(Surface::Bore, [-1.0, depth], 1, 2.3);
    vec![
        ("d_bore", made(drum(), vec![blind(), d_bore(12.0)])),
        ("d_bore_chamfered_drilled", made(drum(), vec![bore(Bore::drilled(6.0, 12.0).with_chamfer(0.5)), d_bore(12.0)])),
        ("d_bore_through", made(drum(), vec![bore(Bore::through(6.0)), d_bore(30.0)])),
        ("d_bore_set_screw", made(drum(), vec![blind(), d_bore(12.0), hole(6.0, 2.5, 0.0, false)])),
        ("double_d_bore", made(drum(), vec![blind(), flats(Surface::Bore, [-1.0, 8.0], 2, 2.4), hole(4.0, 2.0, 90.0, false)])),
        ("hexagon_head", made(drum(), vec![blind(), flats(Surface::Outside, [10.0, 30.0], 6, 8.5)])),
        ("hexagon_collar", made(drum(), vec![flats(Surface::Outside, [4.0, 12.0], 6, 8.0)])),
        ("hexagon_just_rounded", made(drum(), vec![flats(Surface::Outside, [4.0, 12.0], 6, 9.0)])),
        ("square_over_step_and_dome", made(domed(), vec![flats(Surface::Outside, [-1.0, 40.0], 4, 7.0)])),
        ("two_flats_over_dome", made(domed(), vec![flats(Surface::Outside, [5.0, 40.0], 2, 7.5)])),
        ("slot", made(drum(), vec![blind(), slot([-1.0, 8.0])])),
        ("slot_to_the_bottom", made(drum(), vec![blind(), slot([-1.0, 12.0])])),
        (
            "slot_chamfered",
            made(drum(), vec![bore(Bore::blind(6.0, 12.0).with_chamfer(0.5)), slot([-1.0, 8.0]), hole(5.0, 2.0, 90.0, false)]),
        ),
        ("slot_through", made(drum(), vec![bore(Bore::through(6.0)), slot([-1.0, 30.0]), hole(10.0, 2.0, 120.0, true)])),
        ("slot_inside", made(drum(), vec![bore(Bore::through(6.0)), slot([5.0, 12.0])])),
        ("set_screw", made(drum(), vec![blind(), hole(6.0, 3.0, 37.0, false)])),
        ("pin_hole", made(drum(), vec![hole(7.0, 5.0, 10.0, true)])),
        ("pin_hole_and_bore", made(drum(), vec![blind(), hole(4.0, 2.0, -30.0, true), hole(9.0, 3.0, 120.0, false)])),
        ("hole_in_dome", made(domed(), vec![bore(Bore::drilled(5.0, 17.0)), hole(15.0, 3.0, 45.0, true)])),
        (
            // Over a shoulder, its fillet and the chamfer above it, outside; over a counterbore's floor inside.
            "hole_over_steps",
            made(filleted(), vec![bore(counterbored()), hole(7.0, 4.0, 25.0, false)]),
        ),
        ("hole_over_steps_both_sides", made(filleted(), vec![bore(counterbored()), hole(7.0, 4.0, 25.0, true)])),
        ("hole_over_shoulder", made(stepped(), vec![blind(), hole(6.4, 3.0, 0.0, false)])),
        ("pin_hole_over_shoulder", made(stepped(), vec![hole(6.0, 5.0, 70.0, true)])),
        ("hole_over_bead_and_cove", made(turned(), vec![bore(Bore::through(5.0)), hole(5.0, 4.4, 200.0, true)])),
        ("hole_over_curves", made(waved(), vec![bore(Bore::through(5.0)), hole(8.2, 4.0, -20.0, true), hole(14.0, 2.0, 70.0, false)])),
        ("hole_over_dome_edge", made(domed(), vec![bore(Bore::drilled(5.0, 17.0)), hole(12.3, 3.0, 45.0, true)])),
        ("hole_over_shoulder_on_flat", made(stepped(), vec![blind(), d_bore(12.0), hole(6.4, 2.5, 0.0, false)])),
        (
            "hole_over_shoulder_and_hexagon",
            made(stepped(), vec![blind(), flats(Surface::Outside, [8.5, 30.0], 6, 8.8), hole(6.0, 3.0, 15.0, false)]),
        ),
        ("thread_m6", made(drum(), vec![bore(Bore::blind(6.0, 12.0).with_chamfer(0.5)), threaded("M6", [0.5, 12.0])])),
        ("thread_part_of_bore", made(drum(), vec![blind(), threaded("M6", [2.0, 9.3]), hole(10.8, 1.5, 40.0, false)])),
        ("thread_drilled", made(drum(), vec![bore(Bore::drilled(6.35, 12.0).with_chamfer(0.4)), threaded("1/4-20 UNC", [0.4, 12.0])])),
        ("thread_through", made(drum(), vec![bore(Bore::through(6.35)), threaded("1/4 BSW", [0.0, 21.0])])),
        ("thread_through_dome", made(domed(), vec![bore(Bore::through(4.7)), threaded("2BA", [0.0, 30.0])])),
        ("thread_fine_stepped", made(drum(), vec![bore(counterbored()), threaded("M5", [7.4, 19.7])])),
        ("d_bore_in_hollow", made(drum(), vec![blind(), hollow(), d_bore(12.0), hole(7.0, 2.5, 180.0, false)])),
        ("slot_in_hollow", made(drum(), vec![blind(), hollow_wide(), slot([-1.0, 8.0])])),
        ("thread_in_hollow", made(drum(), vec![blind(), hollow(), threaded("M6", [0.0, 12.0])])),
        ("hole_in_hollow", made(drum(), vec![blind(), hollow(), hole(7.0, 2.5, 200.0, false)])),
    ]
}

/// A body with cuts, as STEP, STL and 3MF: its own volume, that of what STEP carries of it, and how far its mesh may be off.
fn write_cut(folder: &Path, name: &str, body: &Body) -> String {
    let chord_mm = 0.02;
    let mesh = body.mesh(chord_mm, solid::DEFAULT_TRIANGLE_LIMIT).unwrap();
    let material = Material { name: "resin".into(), srgb: [152, 164, 146] };
    std::fs::write(folder.join(format!("{name}.stl")), stl(&mesh, name).unwrap()).unwrap();
    std::fs::write(folder.join(format!("{name}.3mf")), threemf(&mesh, name, &material, &[Placed::default()]).unwrap()).unwrap();
    std::fs::write(folder.join(format!("{name}.step")), step(body, &header(name, Schema::Ap242))).unwrap();
    let kept = carried(body);
    let words: Vec<String> = kept.body.features().iter().map(short_name).collect();
    // For OpenCASCADE to drill itself: the same without its holes.
    let holes: Vec<CrossHole> = kept.body.cross_holes().collect();
    if !holes.is_empty() {
        let limits = Limits { least_wall_mm: 0.0, advised_wall_mm: 0.0 };
        let undrilled =
            kept.body.cut_reliefs().fold(kept.body.turned(), |made, relief| made.with(Feature::Relief(relief.clone()), limits).unwrap());
        std::fs::write(folder.join(format!("{name}.undrilled.step")), step(&undrilled, &header(name, Schema::Ap242))).unwrap();
    }
    let holes: Vec<String> =
        holes.iter().map(|hole| format!("[{:?}, {:?}, {:?}, {}]", hole.z_mm, hole.diameter_mm, hole.angle_deg, hole.both_sides)).collect();
    let left: Vec<String> = kept.left.iter().map(|(feature, why)| format!("{} ({why})", short_name(feature))).collect();
    format!(
        "{{\"name\": \"{name}\", \"volume_mm3\": {:?}, \"step_volume_mm3\": {:?}, \"carried\": \"{}\", \"left\": \"{}\", \"holes\": [{}], \"area_mm2\": {:?}, \"chord_mm\": {chord_mm:?}}}",
        body.volume_mm3(),
        kept.body.volume_mm3(),
        words.join(" "),
        left.join(", "),
        holes.join(", "),
        mesh.area_mm2()
    )
}

fn short_name(feature: &Feature) -> String {
    match feature {
        Feature::Bore(_) => "bore",
        Feature::Hollow(_) => "hollow",
        Feature::CrossHole(_) => "hole",
        Feature::Mark(_) => "mark",
        Feature::Relief(relief) => match relief.form {
            Form::Flats { .. } => "flats",
            Form::Flutes { .. } => "flutes",
            Form::Knurl { .. } => "knurl",
            Form::Slot { .. } => "slot",
            Form::Thread { .. } => "thread",
        },
    }
    .into()
}

fn write_random(folder: &Path, name: &str, body: &Body) -> String {
    let mesh = body.mesh(CHORD_MM, solid::DEFAULT_TRIANGLE_LIMIT).unwrap();
    std::fs::write(folder.join(format!("{name}.242.step")), step(body, &header(name, Schema::Ap242))).unwrap();
    std::fs::write(folder.join(format!("{name}.stl")), stl(&mesh, name).unwrap()).unwrap();
    row(name, None, body)
}

fn row(name: &str, formula_mm3: Option<f64>, body: &Body) -> String {
    let pieces: Vec<String> = body.boundary().iter().map(piece_json).collect();
    format!(
        "{{\"name\": \"{name}\", \"formula_mm3\": {}, \"volume_mm3\": {:?}, \"area_mm2\": {:?}, \"centre_mm\": {:?}, \"chord_mm\": {CHORD_MM:?}, \"pieces\": [{}]}}",
        formula_mm3.map_or("null".into(), |v| format!("{v:?}")),
        body.volume_mm3(),
        body.area_mm2(),
        body.centre_of_mass_z_mm(),
        pieces.join(", ")
    )
}

struct Case {
    name: &'static str,
    pieces: Vec<Piece>,
    features: Vec<Feature>,
    /// Volume by a formula worked by hand, where there is one.
    formula_mm3: Option<f64>,
}

fn p(z_mm: f64, r_mm: f64) -> Point {
    Point { z_mm, r_mm }
}

/// Builds a chain corner by corner.
struct Pen(Vec<Piece>, Point);

impl Pen {
    fn new() -> Pen {
        Pen(Vec::new(), p(0.0, 0.0))
    }
    fn line(mut self, z: f64, r: f64) -> Pen {
        self.0.push(Piece::Line { from: self.1, to: p(z, r) });
        self.1 = p(z, r);
        self
    }
    fn arc(mut self, to: (f64, f64), centre: (f64, f64), turn: Turn) -> Pen {
        self.0.push(Piece::Arc { from: self.1, to: p(to.0, to.1), centre: p(centre.0, centre.1), turn });
        self.1 = p(to.0, to.1);
        self
    }
    fn curve(mut self, c1: (f64, f64), c2: (f64, f64), to: (f64, f64)) -> Pen {
        self.0.push(Piece::Curve { from: self.1, control1: p(c1.0, c1.1), control2: p(c2.0, c2.1), to: p(to.0, to.1) });
        self.1 = p(to.0, to.1);
        self
    }
    fn case(self, name: &'static str, features: Vec<Feature>, formula_mm3: Option<f64>) -> Case {
        Case { name, pieces: self.0, features, formula_mm3 }
    }
}

fn cases() -> Vec<Case> {
    use Turn::{Clockwise as Cw, Counterclockwise as Ccw};
    let cylinder = |d: f64, h: f64| PI / 4.0 * d * d * h;
    let mut all = Vec::new();
    all.push(Pen::new().arc((22.0, 0.0), (11.0, 0.0), Cw).case("ball", vec![], Some(4.0 / 3.0 * PI * 11.0_f64.powi(3))));
    all.push(Pen::new().line(0.0, 6.0).line(10.0, 6.0).line(25.0, 0.0).case(
        "ferrule_to_a_point",
        vec![],
        Some(cylinder(12.0, 10.0) + cylinder(12.0, 15.0) / 3.0),
    ));
    // Lemon: arc of radius 10 about a centre 6 below the axis.
    let segment = 100.0 * 0.8_f64.asin() - 6.0 * 8.0;
    all.push(Pen::new().arc((16.0, 0.0), (8.0, -6.0), Cw).case("lemon", vec![], Some(4.0 * PI * (512.0 / 3.0 - 3.0 * segment))));
    all.push(Pen::new().line(0.0, 8.0).line(5.0, 8.0).arc((5.0 + 32.0_f64.sqrt(), 0.0), (5.0, 2.0), Cw).case("apple_dome", vec![], None));
    // Bead and cove of equal radius and width on a cylinder; Pappus with half-disc centroids at R +/- 4 a / (3 pi).
    let half_disc = |r: f64, a: f64, sign: f64| sign * PI * a * a / 2.0 * 2.0 * PI * (r + sign * 4.0 * a / (3.0 * PI));
    all.push(
        Pen::new()
            .line(0.0, 7.0)
            .line(3.0, 7.0)
            .arc((7.0, 7.0), (5.0, 7.0), Cw)
            .line(9.0, 7.0)
            .arc((13.0, 7.0), (11.0, 7.0), Ccw)
            .line(16.0, 7.0)
            .line(16.0, 0.0)
            .case("cove_and_bead", vec![], Some(cylinder(14.0, 16.0) + half_disc(7.0, 2.0, 1.0) + half_disc(7.0, 2.0, -1.0))),
    );
    // A dome whose circle misses the axis by 0.02 mm, closed by an arc of 0.05 mm radius that is tangent nowhere in particular.
    let dome_z = 10.0 + (9.0_f64.powi(2) - (0.01_f64 - 0.02).powi(2)).sqrt();
    let tip_z = dome_z - (0.05_f64.powi(2) - 0.01_f64.powi(2)).sqrt();
    all.push(
        Pen::new().line(0.0, 9.02).line(10.0, 9.02).arc((dome_z, 0.01), (10.0, 0.02), Cw).arc((tip_z + 0.05, 0.0), (tip_z, 0.0), Cw).case(
            "dome_with_tiny_apex",
            vec![],
            None,
        ),
    );
    all.push(Pen::new().line(0.0, 5.0).curve((3.0, 11.0), (9.0, 2.0), (14.0, 6.0)).curve((17.0, 8.4), (22.0, 6.0), (22.0, 0.0)).case(
        "curve_body",
        vec![],
        None,
    ));
    let steps = vec![BoreStep { diameter_mm: 12.0, depth_mm: 4.0 }, BoreStep { diameter_mm: 9.0, depth_mm: 11.0 }];
    let stepped = Bore { steps, end: BoreEnd::Through { diameter_mm: 6.0, exit_chamfer_mm: 0.5 }, mouth_chamfer_mm: 0.5 };
    let frustum = |r0: f64, r1: f64, h: f64| PI * h / 3.0 * (r0 * r0 + r0 * r1 + r1 * r1);
    let bush = cylinder(20.0, 18.0)
        - frustum(6.5, 6.0, 0.5)
        - cylinder(12.0, 3.5)
        - cylinder(9.0, 7.0)
        - cylinder(6.0, 6.5)
        - frustum(3.0, 3.5, 0.5);
    all.push(Pen::new().line(0.0, 10.0).line(18.0, 10.0).line(18.0, 0.0).case("stepped_bush", vec![Feature::Bore(stepped)], Some(bush)));
    // Ball with a hole: only the height of what is left counts (napkin ring): pi h^3 / 6.
    let ring = PI / 6.0 * (2.0 * (100.0_f64 - 9.0).sqrt()).powi(3);
    all.push(Pen::new().arc((20.0, 0.0), (10.0, 0.0), Cw).case("through_bored_ball", vec![Feature::Bore(Bore::through(6.0))], Some(ring)));
    let drill_tip = 3.175 / 59.0_f64.to_radians().tan();
    let knob_void = cylinder(6.35, 16.0 - 0.4) + frustum(3.575, 3.175, 0.4) + cylinder(6.35, drill_tip) / 3.0;
    let knob = cylinder(22.225, 20.0) + 2.0 / 3.0 * PI * 11.1125_f64.powi(3) - knob_void;
    all.push(Pen::new().line(0.0, 11.1125).line(20.0, 11.1125).arc((31.1125, 0.0), (20.0, 0.0), Cw).case(
        "drilled_knob",
        vec![Feature::Bore(Bore::drilled(6.35, 16.0).with_chamfer(0.4))],
        Some(knob),
    ));
    all.push(Pen::new().line(0.0, 0.15).line(60.0, 0.15).line(61.0, 0.0).case(
        "needle",
        vec![],
        Some(cylinder(0.3, 60.0) + cylinder(0.3, 1.0) / 3.0),
    ));
    let radius = 2000.0_f64;
    let low = 6.0 - (radius * radius - 144.0).sqrt();
    all.push(Pen::new().line(0.0, 6.0).arc((24.0, 6.0), (12.0, low), Cw).line(24.0, 0.0).case("barely_crowned_roller", vec![], None));
    // A barrel whose arcs would cross the axis, so that its torus would cut itself; and a waist deep enough to leave a thin neck.
    all.push(Pen::new().line(0.0, 8.0).arc((16.0, 8.0), (8.0, 2.0), Cw).line(16.0, 0.0).case("barrel", vec![], None));
    all.push(Pen::new().line(0.0, 10.0).arc((16.0, 10.0), (8.0, 10.5), Ccw).line(16.0, 0.0).case("deep_waist", vec![], None));
    let hollow = vec![Feature::Bore(Bore::blind(6.0, 10.0)), Feature::Hollow(Hollow { wall_mm: 2.0, depth_mm: 15.0 })];
    let drum = cylinder(20.0, 20.0) - (cylinder(16.0, 15.0) - cylinder(10.0, 15.0)) - cylinder(6.0, 10.0);
    all.push(Pen::new().line(0.0, 10.0).line(20.0, 10.0).line(20.0, 0.0).case("hollow_drum", hollow, Some(drum)));
    all
}

fn piece_json(piece: &Piece) -> String {
    let pair = |p: Point| format!("[{:?}, {:?}]", p.z_mm, p.r_mm);
    match *piece {
        Piece::Line { from, to } => format!("{{\"line\": [{}, {}]}}", pair(from), pair(to)),
        Piece::Arc { from, to, centre, turn } => {
            format!("{{\"arc\": [{}, {}, {}], \"ccw\": {}}}", pair(from), pair(to), pair(centre), turn == Turn::Counterclockwise)
        }
        Piece::Curve { from, control1, control2, to } => {
            format!("{{\"curve\": [{}, {}, {}, {}]}}", pair(from), pair(control1), pair(control2), pair(to))
        }
    }
}
