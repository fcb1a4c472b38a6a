//! Writes a fluted, a knurled and a flatted knob as STL, to look at: `cargo run --release -p export --example show_reliefs OUTDIR`.
#![allow(clippy::unwrap_used, reason = "a program for looking, not a library")]

use export::stl;
use meridian::{Piece, Point, Turn};
use solid::{Body, Bore, Feature, FitTest, Form, Knurl, Limits, Relief, Surface};

fn main() {
    let folder = std::path::PathBuf::from(std::env::args().nth(1).expect("usage: show_reliefs OUTDIR"));
    std::fs::create_dir_all(&folder).unwrap();
    let p = |z_mm: f64, r_mm: f64| Point { z_mm, r_mm };
    let line = |from: Point, to: Point| Piece::Line { from, to };
    let outside = [
        line(p(0.0, 0.0), p(0.0, 7.0)),
        line(p(0.0, 7.0), p(4.0, 7.0)),
        line(p(4.0, 7.0), p(4.0, 11.0)),
        line(p(4.0, 11.0), p(20.0, 11.0)),
        Piece::Arc { from: p(20.0, 11.0), to: p(25.0, 0.0), centre: p(10.4, 0.0), turn: Turn::Clockwise },
    ];
    let test = FitTest::around(6.6, 0.05, 7, 8.0).mesh(0.01).unwrap();
    std::fs::write(folder.join("fit_test.stl"), stl(&test, "fit test").unwrap()).unwrap();
    let forms = [
        ("fluted", Form::Flutes { count: 10, radius_mm: 2.0, depth_mm: 1.2 }),
        ("straight_knurl", Form::Knurl { pitch_mm: 1.0, depth_mm: 0.4, pattern: Knurl::Straight }),
        ("diamond_knurl", Form::Knurl { pitch_mm: 1.5, depth_mm: 0.5, pattern: Knurl::Diamond }),
        ("hexagon", Form::Flats { count: 6, from_axis_mm: 9.8 }),
    ];
    for (name, form) in forms {
        let features = [
            Feature::Bore(Bore::drilled(6.35, 14.0).with_chamfer(0.4)),
            Feature::Relief(Relief { on: Surface::Outside, z_mm: [6.0, 18.0], form }),
            Feature::Relief(Relief { on: Surface::Bore, z_mm: [-1.0, 14.0], form: Form::Flats { count: 1, from_axis_mm: 2.4 } }),
        ];
        let body = Body::from_pieces(&outside, &features, Limits::default()).unwrap().value;
        std::fs::write(folder.join(format!("{name}.stl")), stl(&body.mesh(0.05, 2_000_000).unwrap(), name).unwrap()).unwrap();
    }
}
