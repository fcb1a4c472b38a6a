//! Fits against truth-known photographs (exact outlines) and closed forms.

mod common;

use common::truth;
use outline::{Clicks, EdgePoint, Outline};
use profile::{Camera, FocalGuess, KnownKind, KnownSize, ProfileError, SizeKind, View, fit, refit};
use quantity::{Length, Source};

/// Limits are about twice the worst seen over all fourteen public truths (0.10 % and 0.5 %, one at 0.8 %).
fn check(name: &str) {
    let truth = truth(name);
    let found = fit(&[truth.view(0.2, 7)], &[]).expect("fits").value;
    let (length, diameter) = (&found.dimensions[0], &found.dimensions[1]);
    assert_eq!((length.name.as_str(), diameter.name.as_str()), ("overall length", "greatest diameter"));
    let off = |found: f64, meant: f64| 100.0 * (found / meant - 1.0);
    assert!(
        off(diameter.value_mm, truth.diameter_mm).abs() < 0.2,
        "{name}: diameter {} is off by {:.3} %",
        diameter.value_mm,
        off(diameter.value_mm, truth.diameter_mm)
    );
    assert!(
        off(length.value_mm, truth.length_mm).abs() < 0.8,
        "{name}: length {} is off by {:.3} %",
        length.value_mm,
        off(length.value_mm, truth.length_mm)
    );
    assert!(truth.rms_mm(&found) < 0.004 * truth.diameter_mm, "{name}: {} mm from the true meridian", truth.rms_mm(&found));
    for size in
        truth.json["part"]["design_sizes"].as_array().expect("sizes").iter().filter(|s| s["kind"] == "diameter" && !s["z_mm"].is_null())
    {
        let mm = size["value_mm"].as_f64().expect("mm");
        let near = found
            .dimensions
            .iter()
            .filter(|d| d.kind == SizeKind::Diameter)
            .map(|d| (d.value_mm / mm - 1.0).abs())
            .fold(f64::INFINITY, f64::min);
        assert!(near < 0.005, "{name}: no diameter within 0.5 % of {} = {mm} mm", size["name"]);
    }
    let drawn = &found.poses[0];
    assert!(drawn.contour_left.len() > 50 && drawn.contour_right.len() > 50);
}

#[test]
fn stepped_bush_with_a_distorting_lens() {
    check("p04");
}

#[test]
fn stepped_bush_square_on() {
    check("p12");
}

#[test]
fn finial_in_a_large_picture() {
    check("p10");
}

/// A ball's outline is the cone of half angle asin(R / d) about the line to its centre; a rod's edges lie in the two planes through the camera
/// at distance r from the axis. Both in closed form, no truth file needed.
#[test]
fn ball_on_a_rod_by_closed_form() {
    let (ball_mm, rod_mm, f, far) = (10.0_f64, 3.0_f64, 2000.0_f64, 150.0_f64);
    let px = |x: f64, y: f64, z: f64| [800.0 + f * x / z, 600.0 + f * y / z];
    let sine = ball_mm / far;
    let (cone, edge) = (sine / (1.0 - sine * sine).sqrt(), f * rod_mm / (far * far - rod_mm * rod_mm).sqrt());
    let part: Vec<EdgePoint> = (0..1500)
        .map(|i| 0.32 + (std::f64::consts::TAU - 0.64) * f64::from(i) / 1499.0)
        // Axis along +x, the rod at -x: from beside the rod on the left (-y) over the free end.
        .map(|t| EdgePoint { at_px: [800.0 - f * cone * t.cos(), 600.0 - f * cone * t.sin()], normal: [-t.cos(), -t.sin()], sigma_px: 0.1 })
        .collect();
    let rod = |side: f64| {
        (0..300)
            .map(|i| EdgePoint { at_px: [100.0 + f64::from(i), 600.0 + side * edge], normal: [0.0, side], sigma_px: 0.1 })
            .collect::<Vec<_>>()
    };
    let outline = Outline {
        part,
        rod_left: rod(-1.0),
        rod_right: rod(1.0),
        rod_joint: Vec::new(),
        part_bias_sigma_px: 0.05,
        rod_bias_sigma_px: 0.05,
        axis: Clicks { rod_entry: px(-ball_mm, 0.0, far), free_end: px(ball_mm, 0.0, far) },
    };
    let camera = Camera {
        width_px: 1600,
        height_px: 1200,
        focal: vec![FocalGuess { focal_px: f, sigma_px: 2.0, odds: 1.0, source: "made up".into() }],
        k1: (0.0, 0.001),
    };
    let view = View {
        name: "ball".into(),
        outline,
        camera,
        rod_diameter: Length { mm: 2.0 * rod_mm, sigma_mm: 0.001, source: Source("made up".into()) },
    };
    let found = fit(std::slice::from_ref(&view), &[]).expect("fits").value;
    assert!((found.dimensions[1].value_mm / 20.0 - 1.0).abs() < 0.002, "diameter {}", found.dimensions[1].value_mm);
    // The rod hides where it enters: of the length, the ball's own curvature completes the last 0.5 mm.
    assert!((found.dimensions[0].value_mm / 20.0 - 1.0).abs() < 0.02, "length {}", found.dimensions[0].value_mm);
    assert_eq!(fit(&[view], &[]).expect("fits").value, found, "same input, same answer");
}

#[test]
fn known_sizes_tighten_or_are_named_and_chosen_sizes_hold() {
    let truth = truth("p02");
    let view = truth.view(0.2, 3);
    let known = |mm: f64| KnownSize {
        name: "ball".into(),
        kind: KnownKind::GreatestDiameter,
        at_z_mm: None,
        value: Length { mm, sigma_mm: 0.005, source: Source("caliper".into()) },
    };
    let plain = fit(&[view.clone(), truth.view(0.2, 4)], &[]).expect("two views fit").value;
    assert_eq!(plain.poses.len(), 2);
    assert!((plain.dimensions[1].value_mm / truth.diameter_mm - 1.0).abs() < 0.002, "two views: {}", plain.dimensions[1].value_mm);
    let tight = fit(std::slice::from_ref(&view), &[known(truth.diameter_mm)]).expect("fits").value;
    assert!(tight.dimensions[1].sigma_mm <= 0.005 && (tight.dimensions[1].value_mm - truth.diameter_mm).abs() < 0.01);
    // Stock a hair smaller than the photos say pulls down to itself at most; much larger stock says nothing; much smaller contradicts.
    let stock = |mm: f64| KnownSize { kind: KnownKind::Stock, ..known(mm) };
    let alone = fit(std::slice::from_ref(&view), &[]).expect("fits").value;
    let (mm, sigma_mm) = (alone.dimensions[1].value_mm, alone.dimensions[1].sigma_mm);
    let under = fit(std::slice::from_ref(&view), &[stock(mm - 0.5 * sigma_mm)]).expect("fits").value;
    assert!(under.dimensions[1].value_mm < mm - 0.5 * sigma_mm && under.dimensions[1].sigma_mm < sigma_mm, "{:?}", under.dimensions[1]);
    let large = fit(std::slice::from_ref(&view), &[stock(mm + 9.0 * sigma_mm)]).expect("fits").value;
    assert_eq!(large.dimensions[1], alone.dimensions[1]);
    let small = fit(std::slice::from_ref(&view), &[stock(0.8 * mm)]).expect("fits");
    assert!(small.notes.iter().any(|n| n.text.contains("contradicts")), "{:?}", small.notes);
    let wrong = fit(&[view], &[known(1.2 * truth.diameter_mm)]).expect("fits");
    assert!(wrong.notes.iter().any(|n| n.text.contains("contradicts")), "{:?}", wrong.notes);
    let round = refit(&tight, &[(0, 30.2), (1, 19.0)]);
    assert!((round.meridian.length_mm() - 30.2).abs() < 1e-6, "length {}", round.meridian.length_mm());
    assert!(
        (2.0 * round.meridian.greatest_radius_mm().r_mm - 19.0).abs() < 1e-6,
        "diameter {}",
        2.0 * round.meridian.greatest_radius_mm().r_mm
    );
    assert_eq!((round.dimensions[0].value_mm, round.dimensions[0].sigma_mm), (30.2, 0.0));
}

/// A bright band inside a polished rod passes for its edge: the part's two sides tell which of the rod's edges to believe.
#[test]
fn a_false_edge_of_the_rod_is_found_out_and_a_lost_one_is_done_without() {
    let truth = truth("p02");
    let mut view = truth.view(0.2, 8);
    view.outline.rod_bias_sigma_px = 0.1;
    let moved = |p: &mut EdgePoint| p.at_px = [p.at_px[0] - 4.0 * p.normal[0], p.at_px[1] - 4.0 * p.normal[1]];
    view.outline.rod_left.iter_mut().for_each(moved);
    let found = fit(std::slice::from_ref(&view), &[]).expect("fits");
    let off = |d: f64| d / truth.diameter_mm - 1.0;
    assert!(off(found.value.dimensions[1].value_mm).abs() < 0.004, "diameter off by {}", off(found.value.dimensions[1].value_mm));
    assert!(found.notes.iter().any(|n| n.text.contains("left edge") && n.text.contains("inside")), "{:?}", found.notes);
    view.outline.rod_left.truncate(3);
    let found = fit(&[view], &[]).expect("fits with one edge");
    assert!(off(found.value.dimensions[1].value_mm).abs() < 0.006, "one edge: off by {}", off(found.value.dimensions[1].value_mm));
    assert!(found.notes.iter().any(|n| n.text.contains("left edge was not found")), "{:?}", found.notes);
}

/// Gaps, wild points and a lost side widen the doubt; they neither fail nor mislead.
#[test]
fn gaps_and_wild_points_are_survived() {
    let truth = truth("p04");
    let mut view = truth.view(0.2, 5);
    let part = &mut view.outline.part;
    for i in (0..part.len()).step_by(25) {
        part[i].at_px = [part[i].at_px[0] + 9.0 * part[i].normal[0], part[i].at_px[1] + 9.0 * part[i].normal[1]];
    }
    part.drain(300..420);
    let found = fit(&[view], &[]).expect("fits").value;
    let d = &found.dimensions[1];
    assert!((d.value_mm / truth.diameter_mm - 1.0).abs() < 0.005, "diameter {}", d.value_mm);
}

#[test]
fn nonsense_is_refused_in_words_and_never_panics() {
    assert_eq!(fit(&[], &[]), Err(ProfileError::NoViews));
    let truth = truth("p02");
    let good = truth.view(0.2, 6);
    let spoilt = |change: &dyn Fn(&mut View)| {
        let mut view = good.clone();
        change(&mut view);
        fit(&[view], &[])
    };
    assert!(matches!(spoilt(&|v| v.outline.part.clear()), Err(ProfileError::TooFewPoints { what: "the part", .. })));
    assert!(matches!(
        spoilt(&|v| v.outline.rod_left.iter_mut().chain(&mut v.outline.rod_right).for_each(|p| p.at_px[0] = f64::NAN)),
        Err(ProfileError::TooFewPoints { .. })
    ));
    assert!(matches!(spoilt(&|v| v.rod_diameter.mm = f64::NAN), Err(ProfileError::NotASize { .. })));
    match spoilt(&|v| v.outline.rod_right = v.outline.rod_left.clone()) {
        Err(ProfileError::NoRod { .. } | ProfileError::NoBody { .. }) => {}
        // Twice the same edge is one edge: with the part's two sides it will do.
        other => {
            let found = other.expect("one edge will do").value.dimensions[1].value_mm;
            assert!((found / truth.diameter_mm - 1.0).abs() < 0.01, "diameter {found}");
        }
    }
    let _ = spoilt(&|v| v.outline.part.iter_mut().for_each(|p| p.at_px = [500.0, 500.0]));
    let _ = spoilt(&|v| {
        v.outline.part.iter_mut().enumerate().for_each(|(i, p)| p.at_px = [(i * 7919 % 1600) as f64, (i * 104_729 % 1200) as f64])
    });
    let _ = spoilt(&|v| v.camera = Camera { width_px: 0, height_px: 0, focal: Vec::new(), k1: (f64::NAN, f64::INFINITY) });
    let _ = spoilt(&|v| v.outline.axis = Clicks { rod_entry: [0.0, 0.0], free_end: [0.0, 0.0] });
}
