//! Our mesher against OpenCASCADE's (`BRepMesh_IncrementalMesh`) at the same chord tolerance in one run: `cargo bench -p solid`.
//!
//! Three bodies go out as STEP; Python (`.venv/bin/python` with cadquery-ocp) reads and meshes them, both sides take the best of several goes. Without Python
//! only our own times are printed, with a line that says so.
#![allow(clippy::print_stdout, clippy::unwrap_used, reason = "a bench prints")]

use export::{Schema, StepHeader, step};
use meridian::{Piece, Point, Turn};
use solid::{Body, Bore, DEFAULT_TRIANGLE_LIMIT, Feature, Limits};
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Instant;

const CHORDS_MM: [f64; 3] = [0.05, 0.01, 0.002];
const GOES: usize = 7;

/// Reads a STEP file, meshes it at a chord, prints the best time in seconds and the number of triangles.
const THEIRS: &str = r"
import sys, time
from OCP.STEPControl import STEPControl_Reader
from OCP.BRepMesh import BRepMesh_IncrementalMesh
from OCP.BRepTools import BRepTools
from OCP.BRep import BRep_Tool
from OCP.TopExp import TopExp_Explorer
from OCP.TopAbs import TopAbs_FACE
from OCP.TopLoc import TopLoc_Location
from OCP.TopoDS import TopoDS
reader = STEPControl_Reader(); reader.ReadFile(sys.argv[1]); reader.TransferRoots(); shape = reader.OneShape()
best = 1e9
for _ in range(int(sys.argv[3])):
    BRepTools.Clean_s(shape)
    start = time.perf_counter(); BRepMesh_IncrementalMesh(shape, float(sys.argv[2]), False, 3.0, False); best = min(best, time.perf_counter() - start)
count, walk = 0, TopExp_Explorer(shape, TopAbs_FACE)
face_of = getattr(TopoDS, 'Face_s', None) or TopoDS.Face
while walk.More():
    mesh = BRep_Tool.Triangulation_s(face_of(walk.Current()), TopLoc_Location()); count += mesh.NbTriangles() if mesh else 0; walk.Next()
print(best, count)
";

fn main() {
    let python = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../.venv/bin/python");
    let judged = Command::new(&python).args(["-c", "import OCP"]).output().is_ok_and(|output| output.status.success());
    if !judged {
        println!("skipped: OpenCASCADE is not there ({} with cadquery-ocp was looked for); our own times only", python.display());
    }
    let folder = std::env::temp_dir().join(format!("ringer-bench-{}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    println!(
        "{:8} {:>8} {:>12} {:>10} {:>14} {:>10} {:>8}",
        "body", "chord mm", "ours ms", "triangles", "OpenCASCADE ms", "triangles", "ratio"
    );
    for (name, body) in bodies() {
        let header = StepHeader { product: name, author: "", timestamp: "2026-01-01T00:00:00", srgb: None, schema: Schema::default() };
        let file = folder.join(format!("{name}.step"));
        std::fs::write(&file, step(&body, &header)).unwrap();
        for chord_mm in CHORDS_MM {
            let (ours_s, count) = ours(&body, chord_mm);
            let theirs = judged.then(|| theirs(&python, &file, chord_mm)).flatten();
            let (time, triangles, ratio) = theirs.map_or(("-".into(), "-".into(), "-".into()), |(theirs_s, count)| {
                (format!("{:.3}", 1e3 * theirs_s), count.to_string(), format!("{:.1}", theirs_s / ours_s))
            });
            println!("{name:8} {chord_mm:>8} {:>12.3} {count:>10} {time:>14} {triangles:>10} {ratio:>8}", 1e3 * ours_s);
        }
    }
    std::fs::remove_dir_all(&folder).unwrap();
}

fn ours(body: &Body, chord_mm: f64) -> (f64, usize) {
    let go = |_| {
        let start = Instant::now();
        let mesh = body.mesh(chord_mm, DEFAULT_TRIANGLE_LIMIT).unwrap();
        (start.elapsed().as_secs_f64(), mesh.triangles.len())
    };
    (0..GOES).map(go).min_by(|a, b| a.0.total_cmp(&b.0)).unwrap()
}

fn theirs(python: &Path, file: &PathBuf, chord_mm: f64) -> Option<(f64, usize)> {
    let output = Command::new(python).arg("-c").arg(THEIRS).arg(file).args([chord_mm.to_string(), GOES.to_string()]).output().ok()?;
    let text = String::from_utf8(output.stdout).ok()?;
    let mut words = text.split_whitespace();
    Some((words.next()?.parse().ok()?, words.next()?.parse().ok()?))
}

/// A bush, a knob with collar, cove and dome, and a finial of curves.
fn bodies() -> Vec<(&'static str, Body)> {
    let p = |z_mm, r_mm| Point { z_mm, r_mm };
    let line = |from, to| Piece::Line { from, to };
    let arc = |from, to, centre, turn| Piece::Arc { from, to, centre, turn };
    let bush = vec![line(p(0.0, 0.0), p(0.0, 8.0)), line(p(0.0, 8.0), p(25.0, 8.0)), line(p(25.0, 8.0), p(25.0, 0.0))];
    let knob = vec![
        line(p(0.0, 0.0), p(0.0, 6.35)),
        line(p(0.0, 6.35), p(4.8, 6.35)),
        arc(p(4.8, 6.35), p(8.6, 8.0), p(7.628_684_210_526_316, 5.5), Turn::Clockwise),
        line(p(8.6, 8.0), p(8.6, 11.1)),
        line(p(8.6, 11.1), p(20.65, 11.1)),
        arc(p(20.65, 11.1), p(31.75, 0.0), p(20.65, 0.0), Turn::Clockwise),
    ];
    let finial = vec![
        line(p(0.0, 0.0), p(0.0, 7.0)),
        Piece::Curve { from: p(0.0, 7.0), control1: p(4.0, 12.0), control2: p(8.0, 2.0), to: p(12.0, 5.0) },
        Piece::Curve { from: p(12.0, 5.0), control1: p(18.0, 9.5), control2: p(26.0, 6.0), to: p(34.0, 0.0) },
    ];
    let made = |pieces: &[Piece], bore| Body::from_pieces(pieces, &[Feature::Bore(bore)], Limits::default()).unwrap().value;
    vec![
        ("bush", made(&bush, Bore::through(6.35))),
        ("knob", made(&knob_checked(knob), Bore::drilled(6.45, 15.9).with_chamfer(0.3))),
        ("finial", made(&finial, Bore::blind(4.0, 8.0))),
    ]
}

/// The cove's centre put where both its ends are equally far.
fn knob_checked(mut pieces: Vec<Piece>) -> Vec<Piece> {
    if let Some(Piece::Arc { from, to, centre, .. }) = pieces.get_mut(2) {
        // On the perpendicular through the middle, at the same height.
        let (middle, slope) = ([0.5 * (from.z_mm + to.z_mm), 0.5 * (from.r_mm + to.r_mm)], (to.r_mm - from.r_mm) / (to.z_mm - from.z_mm));
        centre.z_mm = middle[0] - slope * (centre.r_mm - middle[1]);
    }
    pieces
}
