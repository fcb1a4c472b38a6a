//! What STEP carries of cut bodies. Volumes are judged by OpenCASCADE in `proof/solid_second_opinion.py`; here: what is held and what is not, the same bytes twice, every edge
//! between two faces.

#[path = "../../solid/tests/random/mod.rs"]
mod random;

use export::{NotExact, Schema, StepHeader, carried, step};
use meridian::{Piece, Point};
use solid::{Body, Bore, CrossHole, Feature, Form, Knurl, Limits, Relief, Surface, Thread};

fn drum(features: Vec<Feature>) -> Body {
    let p = |z_mm, r_mm| Point { z_mm, r_mm };
    let corners = [p(0.0, 0.0), p(0.0, 8.0), p(8.0, 8.0), p(8.0, 10.0), p(20.0, 10.0), p(20.0, 0.0)];
    let pieces: Vec<Piece> = corners.windows(2).map(|pair| Piece::Line { from: pair[0], to: pair[1] }).collect();
    Body::from_pieces(&pieces, &features, Limits::default()).expect("room").value
}

fn relief(on: Surface, z_mm: [f64; 2], form: Form) -> Feature {
    Feature::Relief(Relief { on, z_mm, form })
}

fn hole(z_mm: f64, angle_deg: f64) -> Feature {
    Feature::CrossHole(CrossHole { z_mm, diameter_mm: 2.5, angle_deg, both_sides: false })
}

fn text(body: &Body) -> String {
    let header = StepHeader { product: "p", author: "", timestamp: "2026-01-31T12:00:00", srgb: None, schema: Schema::Ap242 };
    String::from_utf8(step(body, &header)).expect("plain text")
}

/// Every edge is run once each way: the shell is closed and its faces look the same way.
#[track_caller]
fn assert_closed(text: &str, what: &str) {
    let mut uses = std::collections::BTreeMap::<&str, [u32; 2]>::new();
    for line in text.lines().filter(|line| line.contains("=ORIENTED_EDGE(")) {
        let edge = line.split('#').nth(2).and_then(|rest| rest.split(',').next()).expect("its edge");
        uses.entry(edge).or_default()[usize::from(line.contains(".F."))] += 1;
    }
    assert!(!uses.is_empty() && uses.values().all(|used| *used == [1, 1]), "{what}: {uses:?}");
}

#[test]
fn flats_slots_and_holes_are_carried_the_rest_is_not() {
    let bore = || Feature::Bore(Bore::blind(6.0, 15.0));
    let d_bore = || relief(Surface::Bore, [-1.0, 15.0], Form::Flats { count: 1, from_axis_mm: 2.3 });
    let slot = || relief(Surface::Bore, [-1.0, 12.0], Form::Slot { width_mm: 2.0, floor_mm: 4.2 });
    let knurl = || relief(Surface::Outside, [10.0, 18.0], Form::Knurl { pitch_mm: 1.2, depth_mm: 0.3, pattern: Knurl::Straight });
    let hexagon = || relief(Surface::Outside, [10.0, 30.0], Form::Flats { count: 6, from_axis_mm: 8.5 });
    for (name, features, held, surfaces) in [
        ("plain", vec![bore()], 1, "CYLINDRICAL_SURFACE"),
        // A set screw square to its flat makes a circle there, a curve outside.
        ("set screw on a flat", vec![bore(), d_bore(), hole(4.0, 0.0)], 3, "B_SPLINE_CURVE_WITH_KNOTS"),
        ("hexagon", vec![bore(), hexagon()], 2, "PLANE"),
        ("slot", vec![bore(), slot(), hole(4.0, 90.0)], 3, "PLANE"),
        ("hole over a shoulder", vec![bore(), hole(8.0, 0.0)], 2, "B_SPLINE_CURVE_WITH_KNOTS"),
        ("hole over a shoulder on a flat", vec![bore(), d_bore(), hole(8.5, 0.0)], 3, "B_SPLINE_CURVE_WITH_KNOTS"),
        // Tangent to the shoulder at 8, and obliquely over the edge of a flat: not carried.
        ("hole that touches a shoulder", vec![bore(), hole(6.75, 0.0)], 1, "CYLINDRICAL_SURFACE"),
        ("hole over a flat's edge", vec![bore(), d_bore(), hole(4.0, 40.0)], 2, "PLANE"),
        ("knurl", vec![bore(), knurl(), slot()], 2, "PLANE"),
    ] {
        let body = drum(features);
        let kept = carried(&body).body;
        assert_eq!(kept.features().len(), held, "{name}: {:?}", kept.features());
        let written = text(&body);
        assert!(written == text(&body) && written.contains(surfaces), "{name}");
        assert_eq!(written.matches("CLOSED_SHELL").count(), 1);
        assert_closed(&written, name);
    }
}

#[test]
fn what_is_left_out_says_why() {
    let bore = || Feature::Bore(Bore::blind(6.0, 15.0));
    let d_bore = relief(Surface::Bore, [-1.0, 15.0], Form::Flats { count: 1, from_axis_mm: 2.3 });
    let knurl = relief(Surface::Outside, [10.0, 18.0], Form::Knurl { pitch_mm: 1.2, depth_mm: 0.3, pattern: Knurl::Straight });
    let thread = |z_mm| {
        let m6 = Thread::named("M6").expect("listed");
        let form = Form::Thread { pitch_mm: m6.pitch_mm, crest_mm: 0.5 * m6.minor_mm, flats: m6.flats() };
        relief(Surface::Bore, z_mm, form)
    };
    let exact = carried(&drum(vec![bore(), thread([1.0, 14.0])]));
    assert!(exact.left.is_empty() && exact.body.features().len() == 2);
    for (features, wanted) in [
        (vec![bore(), knurl], NotExact::MeshOnly),
        (vec![bore(), hole(6.75, 0.0)], NotExact::TouchesEdge { z_mm: 8.0 }),
        (vec![bore(), hole(9.2495, 0.0)], NotExact::TouchesEdge { z_mm: 8.0 }),
        (vec![bore(), d_bore, hole(4.0, 40.0)], NotExact::MeetsCut),
        (vec![bore(), thread([1.0, 14.0]), hole(10.5, 40.0)], NotExact::MeetsCut),
        // Over the chamfer; a thread of less than a turn.
        (vec![Feature::Bore(Bore::blind(6.0, 15.0).with_chamfer(0.5)), thread([0.2, 14.0])], NotExact::RunsOut),
        (vec![bore(), thread([3.0, 3.8])], NotExact::RunsOut),
    ] {
        let body = drum(features);
        let [(_, why)] = carried(&body).left[..] else { panic!("{wanted:?}: nothing left out") };
        assert_eq!(why, wanted);
    }
}

#[test]
fn two_hundred_random_bodies_close_in_step() {
    let mut counts = [0; 4];
    for seed in 0..200 {
        let (body, _) = random::random_cut_body(seed);
        assert_closed(&text(&body), &format!("body {seed}"));
        for feature in carried(&body).body.features() {
            match feature {
                Feature::Relief(Relief { form: Form::Flats { .. }, .. }) => counts[0] += 1,
                Feature::Relief(Relief { form: Form::Slot { .. }, .. }) => counts[1] += 1,
                Feature::CrossHole(_) => counts[2] += 1,
                Feature::Relief(Relief { form: Form::Thread { .. }, .. }) => counts[3] += 1,
                _ => {}
            }
        }
    }
    // Nearly three holes in four; the rest run into flats, slots and threads.
    assert!(counts[0] >= 70 && counts[1] >= 35 && counts[2] >= 160 && counts[3] >= 40, "flats, slots, holes, threads: {counts:?}");
}
