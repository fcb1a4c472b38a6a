//! Draws a few bodies to look at: `cargo run --release -p export --example draw_bodies OUTDIR`.
#![allow(clippy::unwrap_used, reason = "a program for looking, not a library")]

use export::{DrawnSize, SizeKind, TitleBlock, drawing, section};
use ink::{Fonts, SvgOptions};
use meridian::{Piece, Point, Turn};
use solid::{Body, Bore, BoreEnd, BoreStep, Feature, Form, Knurl, Limits, Relief, Surface};

fn main() {
    let folder = std::path::PathBuf::from(std::env::args().nth(1).expect("usage: draw_bodies OUTDIR"));
    std::fs::create_dir_all(&folder).unwrap();
    for (name, body, sizes) in [knob(), bush(), finial(), pin(), grip()] {
        let title = TitleBlock {
            title: name.replace('_', " "),
            maker: "R. Maker, bench 2".into(),
            date: "2026-01-31".into(),
            revision: "A".into(),
            page: "1/1".into(),
            material: "sage-green resin".into(),
        };
        let options = || SvgOptions { fonts: Fonts::Embedded, ..SvgOptions::default() };
        std::fs::write(folder.join(format!("{name}.svg")), drawing(&body, &sizes, &title, export::MouldMarks::None).to_svg_with(options()))
            .unwrap();
        std::fs::write(
            folder.join(format!("{name}.section.svg")),
            section(&body, &sizes, [170.0, 120.0], export::MouldMarks::Drawn).to_svg_with(options()),
        )
        .unwrap();
    }
}

fn p(z_mm: f64, r_mm: f64) -> Point {
    Point { z_mm, r_mm }
}

fn line(z0: f64, r0: f64, z1: f64, r1: f64) -> Piece {
    Piece::Line { from: p(z0, r0), to: p(z1, r1) }
}

fn arc(from: (f64, f64), to: (f64, f64), centre: (f64, f64), turn: Turn) -> Piece {
    Piece::Arc { from: p(from.0, from.1), to: p(to.0, to.1), centre: p(centre.0, centre.1), turn }
}

fn size(kind: SizeKind, label: &str, measured: &str, z: [f64; 2], value_mm: f64) -> DrawnSize {
    DrawnSize { label: label.into(), measured: measured.into(), kind, z_mm: z, value_mm }
}

fn built(pieces: &[Piece], bore: Option<Bore>) -> Body {
    Body::from_pieces(pieces, &bore.map(Feature::Bore).into_iter().collect::<Vec<_>>(), Limits { least_wall_mm: 0.1, advised_wall_mm: 0.1 })
        .unwrap()
        .value
}

/// The focus knob: collar, neck with cove, skirt, domed crown.
fn knob() -> (&'static str, Body, Vec<DrawnSize>) {
    let (crown, radius, top): (f64, f64, f64) = (11.1125, 18.0, 31.0);
    let centre_z = top - radius;
    let crown_z = centre_z + (radius * radius - crown * crown).sqrt();
    let pieces = [
        line(0.0, 0.0, 0.0, 6.35),
        line(0.0, 6.35, 5.0, 6.35),
        line(5.0, 6.35, 5.0, 5.0),
        line(5.0, 5.0, 7.5, 5.0),
        arc((7.5, 5.0), (11.5, 9.0), (7.5, 9.0), Turn::Counterclockwise),
        line(11.5, 9.0, 11.5, crown),
        line(11.5, crown, crown_z, crown),
        arc((crown_z, crown), (top, 0.0), (centre_z, 0.0), Turn::Clockwise),
    ];
    let sizes = vec![
        size(SizeKind::Length, "1 1/4 in", "31.02 \u{b1} 0.08", [0.0, 31.0], 31.0),
        size(SizeKind::Diameter, "7/8 in", "22.20 \u{b1} 0.04", [11.5, 27.0], 22.225),
        size(SizeKind::Diameter, "1/2 in", "12.68 \u{b1} 0.05", [0.0, 5.0], 12.7),
        size(SizeKind::Diameter, "10", "10.03 \u{b1} 0.05", [5.0, 7.5], 10.0),
        size(SizeKind::Length, "5", "5.02 \u{b1} 0.06", [0.0, 5.0], 5.0),
        size(SizeKind::Length, "2.5", "2.47 \u{b1} 0.07", [5.0, 7.5], 2.5),
        size(SizeKind::Length, "15.5", "15.46 \u{b1} 0.07", [11.5, 27.0], 15.5),
        size(SizeKind::Bore, "6.60", "for shaft 1/4 in, slides", [0.0, 16.0], 6.6),
        size(SizeKind::Depth, "16", "", [0.0, 16.0], 16.0),
    ];
    ("focus_knob", built(&pieces, Some(Bore::drilled(6.6, 16.0).with_chamfer(0.4))), sizes)
}

fn bush() -> (&'static str, Body, Vec<DrawnSize>) {
    let bore = Bore {
        steps: vec![BoreStep { diameter_mm: 12.0, depth_mm: 4.0 }, BoreStep { diameter_mm: 9.0, depth_mm: 11.0 }],
        end: BoreEnd::Through { diameter_mm: 6.0, exit_chamfer_mm: 0.5 },
        mouth_chamfer_mm: 0.5,
    };
    let sizes = vec![
        size(SizeKind::Length, "18", "", [0.0, 18.0], 18.0),
        size(SizeKind::Diameter, "20", "", [0.0, 18.0], 20.0),
        size(SizeKind::Bore, "12", "", [0.0, 4.0], 12.0),
        size(SizeKind::Bore, "9", "", [4.0, 11.0], 9.0),
        size(SizeKind::Bore, "6", "", [11.0, 18.0], 6.0),
        size(SizeKind::Depth, "4", "", [0.0, 4.0], 4.0),
        size(SizeKind::Depth, "11", "", [0.0, 11.0], 11.0),
    ];
    ("stepped_bush", built(&[line(0.0, 0.0, 0.0, 10.0), line(0.0, 10.0, 18.0, 10.0), line(18.0, 10.0, 18.0, 0.0)], Some(bore)), sizes)
}

/// Many small members: beads, necks, a ball.
fn finial() -> (&'static str, Body, Vec<DrawnSize>) {
    let (ball_r, neck): (f64, f64) = (9.0, 3.0);
    let touch = (ball_r * ball_r - neck * neck).sqrt();
    let centre = 30.0;
    let pieces = [
        line(0.0, 0.0, 0.0, 10.0),
        line(0.0, 10.0, 2.0, 10.0),
        line(2.0, 10.0, 2.0, 6.0),
        arc((2.0, 6.0), (5.0, 6.0), (3.5, 6.0), Turn::Clockwise),
        line(5.0, 6.0, 5.0, 4.5),
        line(5.0, 4.5, 7.0, 4.5),
        arc((7.0, 4.5), (9.0, 4.5), (8.0, 4.5), Turn::Clockwise),
        line(9.0, 4.5, 11.0, 4.5),
        arc((11.0, 4.5), (12.5, 3.0), (12.5, 4.5), Turn::Counterclockwise),
        line(12.5, 3.0, centre - touch, neck),
        arc((centre - touch, neck), (centre + ball_r, 0.0), (centre, 0.0), Turn::Clockwise),
    ];
    let sizes = vec![
        size(SizeKind::Length, "39", "39.1 \u{b1} 0.1", [0.0, 39.0], 39.0),
        size(SizeKind::Diameter, "20", "20.04 \u{b1} 0.05", [0.0, 2.0], 20.0),
        size(SizeKind::Diameter, "15", "14.96 \u{b1} 0.05", [2.0, 5.0], 15.0),
        size(SizeKind::Diameter, "9", "9.05 \u{b1} 0.05", [5.0, 7.0], 9.0),
        size(SizeKind::Diameter, "11", "11.02 \u{b1} 0.05", [7.0, 9.0], 11.0),
        size(SizeKind::Diameter, "9", "8.97 \u{b1} 0.05", [9.0, 11.0], 9.0),
        size(SizeKind::Diameter, "6", "6.02 \u{b1} 0.05", [12.5, 21.0], 6.0),
        size(SizeKind::Diameter, "18", "18.00 \u{b1} 0.05", [22.0, 38.0], 18.0),
        size(SizeKind::Length, "2", "1.98 \u{b1} 0.06", [0.0, 2.0], 2.0),
        size(SizeKind::Length, "3", "3.05 \u{b1} 0.06", [2.0, 5.0], 3.0),
        size(SizeKind::Length, "2", "2.05 \u{b1} 0.06", [5.0, 7.0], 2.0),
        size(SizeKind::Length, "2", "2.01 \u{b1} 0.06", [7.0, 9.0], 2.0),
        size(SizeKind::Length, "12.5", "12.4 \u{b1} 0.1", [0.0, 12.5], 12.5),
        size(SizeKind::Bore, "4.1", "for shaft 4 mm, pushes", [0.0, 8.0], 4.1),
        size(SizeKind::Depth, "8", "", [0.0, 8.0], 8.0),
    ];
    ("ball_finial", built(&pieces, Some(Bore::blind(4.1, 8.0))), sizes)
}

fn pin() -> (&'static str, Body, Vec<DrawnSize>) {
    let pieces = [line(0.0, 0.0, 0.0, 1.5), line(0.0, 1.5, 40.0, 1.5), line(40.0, 1.5, 48.0, 0.0)];
    let sizes = vec![
        size(SizeKind::Length, "48", "47.9 \u{b1} 0.1", [0.0, 48.0], 48.0),
        size(SizeKind::Diameter, "3", "3.01 \u{b1} 0.02", [0.0, 40.0], 3.0),
        size(SizeKind::Length, "40", "", [0.0, 40.0], 40.0),
    ];
    ("pointed_pin", built(&pieces, None), sizes)
}

/// Everything that is cut round the axis: a D bore, a diamond and a straight knurl, flutes, six flats.
fn grip() -> (&'static str, Body, Vec<DrawnSize>) {
    let relief = |on, z_mm, form| Feature::Relief(Relief { on, z_mm, form });
    let features = [
        Feature::Bore(Bore::drilled(6.4, 14.0)),
        relief(Surface::Bore, [0.0, 10.0], Form::Flats { count: 1, from_axis_mm: 2.4 }),
        relief(Surface::Outside, [3.0, 11.0], Form::Knurl { pitch_mm: 0.8, depth_mm: 0.3, pattern: Knurl::Diamond }),
        relief(Surface::Outside, [13.0, 19.0], Form::Knurl { pitch_mm: 0.8, depth_mm: 0.3, pattern: Knurl::Straight }),
        relief(Surface::Outside, [24.0, 36.0], Form::Flutes { count: 12, radius_mm: 1.2, depth_mm: 0.6 }),
        relief(Surface::Outside, [41.0, 49.0], Form::Flats { count: 6, from_axis_mm: 6.5 }),
    ];
    let outline = [
        line(0.0, 0.0, 0.0, 10.0),
        line(0.0, 10.0, 38.0, 10.0),
        line(38.0, 10.0, 38.0, 7.2),
        line(38.0, 7.2, 52.0, 7.2),
        line(52.0, 7.2, 52.0, 0.0),
    ];
    let body = Body::from_pieces(&outline, &features, Limits { least_wall_mm: 0.1, advised_wall_mm: 0.1 }).unwrap().value;
    let sizes = vec![
        size(SizeKind::Length, "52", "", [0.0, 52.0], 52.0),
        size(SizeKind::Diameter, "20", "", [0.0, 38.0], 20.0),
        size(SizeKind::Bore, "6.4", "", [0.0, 14.0], 6.4),
    ];
    ("fluted_grip", body, sizes)
}
