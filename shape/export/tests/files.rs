//! What every file must hold, without other people's readers (those are asked in `proof/solid_second_opinion.py`).

use export::{ExportError, Material, Placed, Schema, StepHeader, TitleBlock, drawing, dxf, gltf, step, stl, threemf};
use meridian::{Piece, Point, Turn};
use solid::{Body, Bore, Feature, Limits, Mesh};
use std::collections::BTreeSet;

fn p(z_mm: f64, r_mm: f64) -> Point {
    Point { z_mm, r_mm }
}

fn knob() -> Body {
    let outside = [
        Piece::Line { from: p(0.0, 0.0), to: p(0.0, 8.0) },
        Piece::Line { from: p(0.0, 8.0), to: p(6.0, 8.0) },
        Piece::Arc { from: p(6.0, 8.0), to: p(10.0, 8.0), centre: p(8.0, 9.0), turn: Turn::Counterclockwise },
        Piece::Curve { from: p(10.0, 8.0), control1: p(12.0, 11.0), control2: p(15.0, 11.0), to: p(18.0, 9.0) },
        Piece::Arc { from: p(18.0, 9.0), to: p(27.0, 0.0), centre: p(18.0, 0.0), turn: Turn::Clockwise },
    ];
    Body::from_pieces(&outside, &[Feature::Bore(Bore::drilled(6.0, 12.0).with_chamfer(0.4))], Limits::default())
        .expect("a sound knob")
        .value
}

fn header() -> StepHeader<'static> {
    StepHeader { product: "knob", author: "test", timestamp: "2026-01-31T12:00:00", srgb: Some([152, 164, 146]), schema: Schema::Ap242 }
}

fn material() -> Material {
    Material { name: "resin & \"dye\"".into(), srgb: [152, 164, 146] }
}

fn every_file(body: &Body) -> Vec<(&'static str, Vec<u8>)> {
    let mesh = body.mesh(0.02, 1_000_000).expect("few triangles");
    let view = body.view_mesh(0.02, 1_000_000).expect("few triangles");
    vec![
        ("step", step(body, &header())),
        ("stl", stl(&mesh, "knob").expect("triangles")),
        ("3mf", threemf(&mesh, "knob", &material(), &[Placed::default()]).expect("triangles")),
        ("glb", gltf(&view, "knob", [152, 164, 146]).expect("triangles")),
        ("dxf", dxf(body)),
        ("svg", drawing(body, &[], &TitleBlock::default(), export::MouldMarks::None).to_svg().into_bytes()),
    ]
}

#[test]
fn same_body_same_bytes() {
    for ((name, first), (_, second)) in every_file(&knob()).into_iter().zip(every_file(&knob())) {
        assert!(first == second, "{name} came out otherwise the second time");
    }
}

/// Every entity that a STEP file refers to is there, each once, and none is left unused but the roots.
#[test]
fn step_refers_to_what_it_holds() {
    let text = String::from_utf8(step(&knob(), &header())).expect("plain text");
    let (mut defined, mut used) = (BTreeSet::new(), BTreeSet::new());
    for line in text.lines().filter(|line| line.starts_with('#')) {
        let (number, rest) = line.split_once('=').expect("an entity");
        assert!(defined.insert(number.to_string()), "{number} twice");
        for part in rest.split('#').skip(1) {
            used.insert(format!("#{}", part.chars().take_while(char::is_ascii_digit).collect::<String>()));
        }
    }
    let missing: Vec<_> = used.difference(&defined).collect();
    assert!(missing.is_empty(), "{missing:?} are not there");
    let roots: Vec<&str> = text
        .lines()
        .filter(|line| line.split_once('=').is_some_and(|(number, _)| line.starts_with('#') && !used.contains(number)))
        .collect();
    let allowed = ["APPLICATION_PROTOCOL_DEFINITION", "PRODUCT_RELATED", "SHAPE_DEFINITION_REPRESENTATION", "MECHANICAL_DESIGN"];
    assert!(roots.iter().all(|line| allowed.iter().any(|kind| line.contains(kind))), "{roots:?}");
    for surface in [
        "PLANE",
        "CYLINDRICAL_SURFACE",
        "CONICAL_SURFACE",
        "SPHERICAL_SURFACE",
        "TOROIDAL_SURFACE",
        "SURFACE_OF_REVOLUTION",
        "B_SPLINE_CURVE_WITH_KNOTS",
    ] {
        assert!(text.contains(surface), "no {surface}");
    }
}

#[test]
fn stl_counts_its_triangles() {
    let mesh = knob().mesh(0.05, 1_000_000).expect("few triangles");
    let bytes = stl(&mesh, "knob").expect("triangles");
    assert_eq!(bytes.len(), 84 + 50 * mesh.triangles.len());
    assert_eq!(bytes[80..84], (mesh.triangles.len() as u32).to_le_bytes());
    assert!(!bytes.starts_with(b"solid"));
}

#[test]
fn nothing_is_no_file() {
    let nothing = Mesh::default();
    assert!(matches!(stl(&nothing, ""), Err(ExportError::Empty { .. })));
    assert!(matches!(threemf(&nothing, "", &material(), &[Placed::default()]), Err(ExportError::Empty { .. })));
    let mesh = knob().mesh(0.1, 1_000_000).expect("few triangles");
    assert!(matches!(threemf(&mesh, "", &material(), &[]), Err(ExportError::Empty { .. })));
    let broken = Mesh { triangles: vec![[0, 1, 7]], ..mesh };
    assert!(stl(&broken, "").is_ok() || stl(&broken, "").is_err(), "must not panic");
}

/// Words that would break the format's quoting come through.
#[test]
fn names_can_not_break_a_file() {
    let name = "o'knob \"<&>\\ \u{e4}\u{1f52d}\n\u{0}";
    let body = knob();
    let text = String::from_utf8(step(&body, &StepHeader { product: name, ..header() })).expect("plain text");
    assert!(text.is_ascii() && text.contains("o''knob"));
    let mesh = body.mesh(0.1, 1_000_000).expect("few triangles");
    let package = threemf(&mesh, name, &Material { name: name.into(), ..material() }, &[Placed::default()]).expect("triangles");
    let text = String::from_utf8_lossy(&package);
    assert!(text.contains("o&apos;knob &quot;&lt;&amp;&gt;\\") && !text.contains("<&>"));
}
