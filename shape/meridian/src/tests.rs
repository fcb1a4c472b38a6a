use super::*;
use std::f64::consts::PI;

fn p(z_mm: f64, r_mm: f64) -> Point {
    Point { z_mm, r_mm }
}

fn line(from: Point, to: Point) -> Piece {
    Piece::Line { from, to }
}

fn arc(from: Point, to: Point, centre: Point) -> Piece {
    Piece::Arc { from, to, centre, turn: Turn::Clockwise }
}

fn near(found: f64, meant: f64, share: f64) {
    assert!((found - meant).abs() <= share * meant.abs().max(1e-300), "found {found}, meant {meant}");
}

fn ball(r: f64) -> Meridian {
    Meridian::new(vec![arc(p(0.0, 0.0), p(r, r), p(r, 0.0)), arc(p(r, r), p(2.0 * r, 0.0), p(r, 0.0))]).expect("a ball")
}

fn cone() -> Meridian {
    Meridian::new(vec![line(p(0.0, 0.0), p(0.0, 3.0)), line(p(0.0, 3.0), p(4.0, 0.0))]).expect("a cone")
}

/// A cylinder of radius 5 and length 10 with a half-round bead of radius 2 about its middle.
fn beaded() -> Meridian {
    Meridian::new(vec![
        line(p(0.0, 0.0), p(0.0, 5.0)),
        line(p(0.0, 5.0), p(3.0, 5.0)),
        arc(p(3.0, 5.0), p(7.0, 5.0), p(5.0, 5.0)),
        line(p(7.0, 5.0), p(10.0, 5.0)),
        line(p(10.0, 5.0), p(10.0, 0.0)),
    ])
    .expect("a bead on a cylinder")
}

#[test]
fn ball_cone_and_bead_by_closed_form() {
    let r = 7.0_f64;
    near(ball(r).volume_mm3(), 4.0 / 3.0 * PI * r.powi(3), 1e-13);
    near(ball(r).area_mm2(), 4.0 * PI * r * r, 1e-13);
    near(ball(r).centroid_z_mm(), r, 1e-13);
    near(cone().volume_mm3(), PI * 9.0 * 4.0 / 3.0, 1e-14);
    near(cone().lateral_area_mm2(), PI * 3.0 * 5.0, 1e-14);
    near(cone().area_mm2(), PI * 3.0 * 5.0 + PI * 9.0, 1e-14);
    near(cone().centroid_z_mm(), 1.0, 1e-14);
    // Pappus on the half disc: area pi a^2 / 2, its centre 4 a / 3 pi above its chord; half circle: length pi a, centre 2 a / pi.
    let (a, big) = (2.0_f64, 5.0_f64);
    near(beaded().volume_mm3(), PI * 250.0 + PI * a * a / 2.0 * 2.0 * PI * (big + 4.0 * a / (3.0 * PI)), 1e-13);
    near(beaded().lateral_area_mm2(), 2.0 * PI * big * 6.0 + PI * a * 2.0 * PI * (big + 2.0 * a / PI), 1e-13);
    near(beaded().centroid_z_mm(), 5.0, 1e-13);
}

#[test]
fn sizes_are_read_off() {
    let part = beaded();
    assert_eq!(part.length_mm(), 10.0);
    let widest = part.greatest_radius_mm();
    assert!((widest.z_mm - 5.0).abs() < 1e-12 && (widest.r_mm - 7.0).abs() < 1e-12);
    near(part.radius_at(4.0).expect("inside").outer_mm, 5.0 + 3.0_f64.sqrt(), 1e-12);
    assert_eq!(part.radius_at(0.0), Some(Radii { outer_mm: 5.0, inner_mm: 0.0 }));
    assert_eq!(part.radius_at(1.0).map(|r| r.outer_mm), Some(5.0));
    assert_eq!(part.radius_at(-0.1), None);
    assert_eq!(part.radius_at(10.1), None);
}

#[test]
fn samples_stay_within_the_chord() {
    let points = ball(7.0).sample(0.01);
    assert!(points.len() > 20 && points.len() < 100);
    for pair in points.windows(2) {
        let middle = p(0.5 * (pair[0].z_mm + pair[1].z_mm), 0.5 * (pair[0].r_mm + pair[1].r_mm));
        let off = 7.0 - (middle.z_mm - 7.0).hypot(middle.r_mm);
        assert!((-1e-12..=0.01 + 1e-12).contains(&off), "off by {off}");
    }
    assert!(ball(7.0).sample(f64::NAN).len() > points.len());
}

#[test]
fn turned_round_twice_is_the_same_and_stretched_is_an_ellipsoid() {
    let part =
        Meridian::new(vec![arc(p(0.0, 0.0), p(5.0, 5.0), p(5.0, 0.0)), line(p(5.0, 5.0), p(9.0, 2.0)), line(p(9.0, 2.0), p(9.0, 0.0))])
            .expect("part");
    let back = part.reversed();
    assert!(Meridian::new(back.pieces().to_vec()).is_ok());
    near(back.volume_mm3(), part.volume_mm3(), 1e-13);
    near(back.centroid_z_mm(), 9.0 - part.centroid_z_mm(), 1e-12);
    assert_eq!(back.reversed(), part);
    // An ellipsoid of half axes 2 x 7 along and 7 across: 4/3 pi a b^2. The cubic is 7e-8 off the arc at most.
    near(ball(7.0).scaled(2.0, 1.0).expect("stretched").volume_mm3(), 4.0 / 3.0 * PI * 14.0 * 49.0, 2e-7);
    near(ball(7.0).scaled(1.01, 1.01).expect("grown").volume_mm3(), 4.0 / 3.0 * PI * 7.07_f64.powi(3), 1e-12);
    assert!(matches!(part.scaled(0.0, 1.0), Err(MeridianError::NotAFactor { .. })));
}

#[test]
fn curve_measures_as_the_same_shape_in_arcs() {
    let curved = ball(7.0).scaled(1.0, 1.0 + 1e-9).expect("curves");
    assert!(curved.pieces().iter().all(|piece| matches!(piece, Piece::Curve { .. })));
    near(curved.greatest_radius_mm().r_mm, 7.0, 1e-7);
    for z in [0.5, 3.0, 7.0, 12.9] {
        let (a, b) = (curved.radius_at(z).expect("inside").outer_mm, ball(7.0).radius_at(z).expect("inside").outer_mm);
        near(a, b, 1e-6);
    }
}

#[test]
fn what_is_no_meridian_is_refused_with_the_place() {
    let refused = |pieces: Vec<Piece>| Meridian::new(pieces).expect_err("must be refused");
    assert_eq!(refused(Vec::new()), MeridianError::Empty);
    assert!(matches!(refused(vec![line(p(0.0, 0.0), p(f64::NAN, 0.0))]), MeridianError::NotFinite { piece: 0 }));
    assert!(matches!(refused(vec![line(p(0.0, 0.0), p(0.0, 1.0)), line(p(0.0, 1.1), p(1.0, 0.0))]), MeridianError::Gap { piece: 1, .. }));
    assert!(matches!(refused(vec![line(p(0.0, 0.5), p(1.0, 0.0))]), MeridianError::OffAxis { end: "start", .. }));
    assert!(matches!(refused(vec![line(p(0.0, 0.0), p(1.0, 1.0))]), MeridianError::OffAxis { end: "end", .. }));
    assert!(matches!(
        refused(vec![line(p(0.0, 0.0), p(1.0, -1.0)), line(p(1.0, -1.0), p(2.0, 0.0))]),
        MeridianError::BelowAxis { piece: 0, .. }
    ));
    assert!(matches!(refused(vec![arc(p(0.0, 0.0), p(4.0, 0.0), p(1.0, 0.0))]), MeridianError::NoArc { piece: 0, .. }));
    let bow_tie = vec![line(p(0.0, 0.0), p(3.0, 3.0)), line(p(3.0, 3.0), p(0.0, 3.0)), line(p(0.0, 3.0), p(3.0, 0.0))];
    assert!(matches!(refused(bow_tie), MeridianError::Crossing { first: 0, second: 2, .. }));
    let many = vec![line(p(0.0, 0.0), p(0.0, 1.0)); 5000];
    assert!(matches!(refused(many), MeridianError::TooMany { .. }));
}
