//! What is cut into a turned body and is not turned itself: cross holes, slots, threads, marks.

mod sound;

use meridian::{Piece, Point, Turn};
use solid::{Body, Bore, CrossHole, Feature, Form, Hollow, Limits, Mark, MarkPlace, Relief, SolidError, Surface, Thread};
use sound::{assert_closed_outward, assert_nowhere_through_itself};
use std::f64::consts::PI;

fn p(z_mm: f64, r_mm: f64) -> Point {
    Point { z_mm, r_mm }
}

fn chain(corners: &[(f64, f64)]) -> Vec<Piece> {
    corners.windows(2).map(|pair| Piece::Line { from: p(pair[0].0, pair[0].1), to: p(pair[1].0, pair[1].1) }).collect()
}

fn drum() -> Vec<Piece> {
    chain(&[(0.0, 0.0), (0.0, 10.0), (20.0, 10.0), (20.0, 0.0)])
}

fn body(pieces: &[Piece], features: Vec<Feature>) -> Result<Body, SolidError> {
    Body::from_pieces(pieces, &features, Limits::default()).map(|noted| noted.value)
}

#[track_caller]
fn sound(body: &Body, chord: f64, off: f64, what: &str) {
    let mesh = body.mesh(chord, 3_000_000).expect("meshed");
    assert_closed_outward(&mesh, what);
    assert_nowhere_through_itself(&mesh, what);
    let (found, meant) = (mesh.volume_mm3(), body.volume_mm3());
    assert!((found / meant - 1.0).abs() < off, "{what}: mesh {found}, body {meant}");
    assert!(mesh == body.mesh(chord, 3_000_000).expect("again"), "{what}: another mesh the second time");
    assert!(body.view_mesh(chord, 3_000_000).is_ok() && !body.is_plain());
}

fn hole(z_mm: f64, diameter_mm: f64, angle_deg: f64, both_sides: bool) -> Feature {
    Feature::CrossHole(CrossHole { z_mm, diameter_mm, angle_deg, both_sides })
}

/// Volume common to a cylinder R and a thin one a that crosses it square, by quadrature of 2 sqrt(R^2 - y^2) over the circle (2 sqrt(a^2 - y^2) wide in z).
fn common(radius: f64, a: f64) -> f64 {
    let count = 20_000;
    (0..count)
        .map(|i| a * ((f64::from(i) + 0.5) / f64::from(count) * PI - PI / 2.0).sin())
        .zip((0..count).map(|i| (f64::from(i) + 0.5) / f64::from(count) * PI - PI / 2.0))
        .map(|(y, u)| 2.0 * (radius * radius - y * y).sqrt() * 2.0 * a * u.cos() * a * u.cos() * PI / f64::from(count))
        .sum()
}

#[test]
fn cross_holes_of_every_kind_close() {
    let bore = || Feature::Bore(Bore::blind(6.0, 15.0));
    for (angle, both) in [(0.0, false), (90.0, false), (37.0, true), (-123.4, true)] {
        let drilled = body(&drum(), vec![bore(), hole(7.0, 3.0, angle, both)]).expect("room");
        let taken = (common(10.0, 1.5) - common(3.0, 1.5)) * if both { 1.0 } else { 0.5 };
        let meant = PI * (2000.0 - 135.0) - taken;
        assert!((drilled.volume_mm3() - meant).abs() < 1e-6 * taken, "{} instead of {meant}", drilled.volume_mm3());
        for chord in [0.2, 0.02] {
            sound(&drilled, chord, 4.0 * chord / 10.0, &format!("{angle} {both} {chord}"));
        }
    }
    let solid = body(&drum(), vec![hole(7.0, 5.0, 10.0, true)]).expect("a pin's hole");
    assert!((solid.volume_mm3() - PI * 2000.0 + common(10.0, 2.5)).abs() < 1e-5);
    sound(&solid, 0.05, 0.01, "through solid");
    let hollow =
        body(&drum(), vec![bore(), Feature::Hollow(Hollow { wall_mm: 1.5, depth_mm: 16.0 }), hole(7.0, 2.5, 0.0, false)]).expect("room");
    sound(&hollow, 0.05, 0.02, "hollow");
    let two = body(&drum(), vec![bore(), hole(4.0, 2.0, 0.0, false), hole(9.0, 3.0, 120.0, true)]).expect("room");
    sound(&two, 0.05, 0.01, "two holes");
}

#[test]
fn cross_holes_pass_steps_cones_domes_and_reliefs() {
    let stepped = chain(&[(0.0, 0.0), (0.0, 7.0), (6.0, 7.0), (6.0, 9.0), (9.0, 10.0), (20.0, 10.0), (20.0, 0.0)]);
    let stepped = body(&stepped, vec![Feature::Bore(Bore::through(5.0)), hole(6.5, 3.0, 45.0, true)]).expect("over a shoulder");
    sound(&stepped, 0.05, 0.01, "stepped");
    let steps = vec![solid::BoreStep { diameter_mm: 8.0, depth_mm: 6.2 }, solid::BoreStep { diameter_mm: 6.0, depth_mm: 7.4 }];
    let counterbored = Bore { steps, end: solid::BoreEnd::Through { diameter_mm: 5.0, exit_chamfer_mm: 0.3 }, mouth_chamfer_mm: 0.3 };
    let counterbored = body(&drum(), vec![Feature::Bore(counterbored), hole(6.5, 3.0, 45.0, true)]).expect("over two shoulders");
    sound(&counterbored, 0.05, 0.01, "counterbored");
    let mut domed = chain(&[(0.0, 0.0), (0.0, 10.0), (10.0, 10.0)]);
    domed.push(Piece::Arc { from: p(10.0, 10.0), to: p(20.0, 0.0), centre: p(10.0, 0.0), turn: Turn::Clockwise });
    let domed = body(&domed, vec![Feature::Bore(Bore::drilled(5.0, 15.0)), hole(12.0, 3.0, 45.0, false)]).expect("in a dome");
    sound(&domed, 0.05, 0.01, "domed");
    let relief = |on, z_mm, form| Feature::Relief(Relief { on, z_mm, form });
    let d_bore = relief(Surface::Bore, [-1.0, 15.0], Form::Flats { count: 1, from_axis_mm: 2.3 });
    let set = body(&drum(), vec![Feature::Bore(Bore::blind(6.0, 15.0)), d_bore, hole(7.0, 2.5, 0.0, false)]).expect("on the flat");
    sound(&set, 0.05, 0.01, "set screw on a flat");
    let knurl = relief(Surface::Outside, [2.0, 18.0], Form::Knurl { pitch_mm: 1.2, depth_mm: 0.3, pattern: solid::Knurl::Straight });
    let knurled = body(&drum(), vec![Feature::Bore(Bore::blind(6.0, 15.0)), knurl, hole(7.0, 2.5, 20.0, false)]).expect("in a knurl");
    sound(&knurled, 0.05, 0.02, "knurled");
    let flutes = relief(Surface::Outside, [7.0, 18.0], Form::Flutes { count: 12, radius_mm: 2.0, depth_mm: 0.8 });
    let fluted =
        body(&drum(), vec![Feature::Bore(Bore::blind(6.0, 15.0)), flutes, hole(7.0, 2.0, 0.0, false)]).expect("at the end of a flute");
    sound(&fluted, 0.05, 0.02, "fluted");
}

#[test]
fn holes_without_room_are_told_why() {
    let tried = |z, d, both| body(&drum(), vec![Feature::Bore(Bore::blind(6.0, 12.0)), hole(z, d, 0.0, both)]);
    for (z, d, both, word) in [
        (0.5, 3.0, false, "end face"),
        (12.0, 3.0, false, "bottom"),
        (16.0, 3.0, false, "no bore"),
        (6.0, 6.5, false, "narrower"),
        (30.0, 2.0, true, "no material"),
    ] {
        let Err(SolidError::CrossHole { why, .. }) = tried(z, d, both) else { panic!("{z} {d} was made") };
        assert!(why.contains(word), "{why}");
    }
    for wild in [f64::NAN, f64::INFINITY, -1.0] {
        assert!(tried(wild, 3.0, false).is_err() && tried(6.0, wild, false).is_err());
    }
    let twice = vec![Feature::Bore(Bore::blind(6.0, 12.0)), hole(5.0, 3.0, 0.0, false), hole(6.0, 3.0, 180.0, false)];
    assert!(matches!(body(&drum(), twice), Err(SolidError::CrossHole { .. })));
}

/// In a hollow the bore's cuts stay in the bore's own wall: the boss and the cup round it are as they were.
#[test]
fn cuts_of_a_bore_leave_the_hollow_alone() {
    let (bore, hollow) = (|| Feature::Bore(Bore::blind(6.0, 12.0)), || Feature::Hollow(Hollow { wall_mm: 2.0, depth_mm: 16.0 }));
    let plain = body(&drum(), vec![bore(), hollow()]).expect("room");
    let relief = |form| Feature::Relief(Relief { on: Surface::Bore, z_mm: [-1.0, 12.0], form });
    // A segment of a circle of 3 cut off at 2.3, as long as the bore; half a slot's rectangle beyond the circle.
    let segment = 9.0 * (2.3_f64 / 3.0).acos() - 2.3 * (9.0_f64 - 2.3 * 2.3).sqrt();
    let cap = 8.0_f64.sqrt() + 9.0 * (1.0_f64 / 3.0).asin();
    for (form, added) in [
        (Form::Flats { count: 1, from_axis_mm: 2.3 }, segment * 12.0),
        (Form::Slot { width_mm: 2.0, floor_mm: 4.2 }, -(2.0 * 4.2 - cap) * 12.0),
    ] {
        let cut = body(&drum(), vec![bore(), hollow(), relief(form)]).expect("room");
        let found = cut.volume_mm3() - plain.volume_mm3();
        assert!((found / added - 1.0).abs() < 1e-6, "{form:?}: {found} instead of {added}");
        sound(&cut, 0.02, 2e-3, "in a hollow");
    }
    // 2 mm of boss round a bore of 3: no room for a slot to 4.8 from the axis.
    let deep = body(&drum(), vec![bore(), hollow(), relief(Form::Slot { width_mm: 2.0, floor_mm: 4.8 })]);
    assert!(matches!(deep, Err(SolidError::WallTooThin { .. })), "{deep:?}");
    let on_hollow = Relief { on: Surface::Hollow, z_mm: [1.0, 5.0], form: Form::Flats { count: 2, from_axis_mm: 4.0 } };
    assert!(body(&drum(), vec![bore(), hollow(), Feature::Relief(on_hollow)]).is_err());
}

/// A mark may not meet flats that begin under its face, a slot not flats cut over it.
#[test]
fn cuts_from_both_sides_keep_a_wall() {
    let flats = |z_mm| Feature::Relief(Relief { on: Surface::Outside, z_mm, form: Form::Flats { count: 2, from_axis_mm: 5.0 } });
    let square = vec![vec![[-7.0, -1.0], [-5.0, -1.0], [-5.0, 1.0], [-7.0, 1.0]]];
    let mark = Feature::Mark(Mark { text: "o".into(), on: MarkPlace::RodEnd, outlines_mm: square, depth_mm: 0.4 });
    assert!(matches!(body(&drum(), vec![flats([0.3, 12.0]), mark.clone()]), Err(SolidError::Mark { .. })));
    assert!(body(&drum(), vec![flats([1.5, 12.0]), mark]).is_ok());
    let slot = Feature::Relief(Relief { on: Surface::Bore, z_mm: [-1.0, 8.0], form: Form::Slot { width_mm: 2.0, floor_mm: 4.8 } });
    for order in [[flats([2.0, 12.0]), slot.clone()], [slot, flats([2.0, 12.0])]] {
        let [first, second] = order;
        let tried = body(&drum(), vec![Feature::Bore(Bore::blind(6.0, 12.0)), first, second]);
        assert!(matches!(tried, Err(SolidError::WallTooThin { .. })), "{tried:?}");
    }
}

/// Slot of width w and depth to f in a bore R: w (f - mean of sqrt(R^2 - y^2)); the mean over the slot by its closed form.
#[test]
fn slots_by_school_formula() {
    let (r, w, f): (f64, f64, f64) = (3.0, 2.0, 4.2);
    let half: f64 = 0.5 * w;
    let cap = half * (r * r - half * half).sqrt() + r * r * (half / r).asin();
    let area = w * f - cap;
    for bore in [Bore::blind(6.0, 12.0), Bore::blind(6.0, 12.0).with_chamfer(0.4)] {
        let chamfered = bore.mouth_chamfer_mm > 0.0;
        let plain = body(&drum(), vec![Feature::Bore(bore.clone())]).expect("fits");
        let slot = Feature::Relief(Relief { on: Surface::Bore, z_mm: [-1.0, 8.0], form: Form::Slot { width_mm: w, floor_mm: f } });
        let slotted = body(&drum(), vec![Feature::Bore(bore), slot]).expect("fits");
        let taken = plain.volume_mm3() - slotted.volume_mm3();
        assert!(chamfered || (taken / (area * 8.0) - 1.0).abs() < 1e-8, "{taken} instead of {}", area * 8.0);
        sound(&slotted, 0.02, 2e-3, "slot");
    }
    let through = Feature::Relief(Relief { on: Surface::Bore, z_mm: [-1.0, 30.0], form: Form::Slot { width_mm: w, floor_mm: f } });
    let through = body(&drum(), vec![Feature::Bore(Bore::through(6.0)), through, hole(10.0, 2.0, 90.0, false)]).expect("fits");
    sound(&through, 0.02, 2e-3, "slot through and a hole");
    let wide =
        |width_mm, floor_mm| Feature::Relief(Relief { on: Surface::Bore, z_mm: [-1.0, 8.0], form: Form::Slot { width_mm, floor_mm } });
    for (width, floor) in [(2.0, 9.9), (7.0, 4.0), (2.0, 2.0), (f64::NAN, 4.0), (2.0, f64::INFINITY)] {
        assert!(body(&drum(), vec![Feature::Bore(Bore::blind(6.0, 12.0)), wide(width, floor)]).is_err(), "{width} {floor}");
    }
}

/// A thread leaves of its groove what its profile says: the mean of r^2 along one pitch.
#[test]
fn threads_by_their_profile() {
    for name in ["M6", "1/4-20 UNC", "2BA", "1/4 BSW", "M8x1"] {
        let thread = Thread::named(name).expect("listed");
        let form = Form::Thread { pitch_mm: thread.pitch_mm, crest_mm: 0.5 * thread.minor_mm, flats: thread.flats() };
        let bore = Bore::blind(thread.major_mm, 10.0).with_chamfer(0.5);
        let plain = body(&drum(), vec![Feature::Bore(bore.clone())]).expect("fits");
        let cut =
            body(&drum(), vec![Feature::Bore(bore), Feature::Relief(Relief { on: Surface::Bore, z_mm: [0.5, 10.0], form })]).expect("fits");
        let ([crest, root], (r0, r1)) = (thread.flats(), (0.5 * thread.minor_mm, 0.5 * thread.major_mm));
        let mean_square = crest * r0 * r0 + root * r1 * r1 + (1.0 - crest - root) * (r0 * r0 + r0 * r1 + r1 * r1) / 3.0;
        let left = PI * (r1 * r1 - mean_square) * 9.5;
        assert!(((cut.volume_mm3() - plain.volume_mm3()) / left - 1.0).abs() < 1e-8, "{name}");
        sound(&cut, 0.05, 2e-3, name);
    }
}

/// Square letters with square counters: areas by hand; read from outside at both ends.
#[test]
fn marks_by_hand() {
    let square = |x: f64, y: f64, side: f64| vec![[x, y], [x + side, y], [x + side, y + side], [x, y + side]];
    let mark = |on| Mark {
        text: "oo".into(),
        on,
        outlines_mm: vec![square(4.0, -1.0, 2.0), square(4.5, -0.5, 1.0), square(4.8, -0.2, 0.4), square(-6.0, -1.0, 2.0)],
        depth_mm: 0.4,
    };
    let plain = PI * (2000.0 - 9.0 * 12.0);
    for on in [MarkPlace::RodEnd, MarkPlace::FreeEnd] {
        let marked = body(&drum(), vec![Feature::Bore(Bore::blind(6.0, 12.0)), Feature::Mark(mark(on))]).expect("room");
        assert!((marked.volume_mm3() - (plain - 0.4 * (4.0 - 1.0 + 0.16 + 4.0))).abs() < 1e-9);
        sound(&marked, 0.05, 0.01, "mark");
        // What stands at the right as it is read lies at +x on the free end, at -x on the rod end.
        let mesh = marked.mesh(0.05, 1_000_000).expect("meshed");
        let floor = if on == MarkPlace::RodEnd { 0.4 } else { 19.6 };
        let with_counter =
            mesh.vertices_mm.iter().find(|v| (v[2] - floor).abs() < 1e-9 && (v[0].abs() - 4.5).abs() < 1e-9).expect("the counter's floor");
        assert_eq!(with_counter[0] > 0.0, on == MarkPlace::FreeEnd);
    }
    let through = body(
        &drum(),
        vec![Feature::Bore(Bore::through(6.0)), Feature::Mark(mark(MarkPlace::RodEnd)), Feature::Mark(mark(MarkPlace::FreeEnd))],
    );
    sound(&through.expect("room"), 0.05, 0.01, "both ends");
}

#[test]
fn marks_without_room_are_told_why() {
    let square = |x: f64, side: f64| vec![[x, -0.5 * side], [x + side, -0.5 * side], [x + side, 0.5 * side], [x, 0.5 * side]];
    let tried = |outlines_mm: Vec<Vec<[f64; 2]>>, depth_mm| {
        body(
            &drum(),
            vec![
                Feature::Bore(Bore::blind(6.0, 12.0)),
                Feature::Mark(Mark { text: "x".into(), on: MarkPlace::RodEnd, outlines_mm, depth_mm }),
            ],
        )
    };
    for (outlines, depth, word) in [
        (vec![square(8.5, 2.0)], 0.4, "flat from"),
        (vec![square(2.0, 2.0)], 0.4, "flat from"),
        (vec![square(4.0, 2.0), square(5.0, 2.0)], 0.4, "touch"),
        (vec![], 0.4, "0 outlines"),
        (vec![vec![[4.0, 0.0], [f64::NAN, 1.0], [5.0, 0.0]]], 0.4, "finite"),
        (vec![square(4.0, 2.0)], 19.9, "come out"),
    ] {
        let Err(SolidError::Mark { why }) = tried(outlines, depth) else { panic!("{word}: was made") };
        assert!(why.contains(word), "{why}");
    }
    assert!(tried(vec![square(4.0, 2.0)], f64::NAN).is_err());
}
