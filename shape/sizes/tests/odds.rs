//! The odds of whole parts: made-up truths that must be found again, and how honest the odds are.

mod parts;

use nalgebra::DMatrix;
use parts::{Tally, USUAL, design_parts, made_up_part, measured};
use quantity::{Length, Source};
use sizes::{Decision, Evidence, Inference, Kind, Measured, Role, Shaft, infer};
use solve::Sampler;

fn evidence(values: &[(f64, Kind)], sigma_mm: f64) -> Evidence {
    let sizes = values.iter().enumerate().map(|(i, (value_mm, kind))| Measured {
        name: format!("size {i}"),
        kind: *kind,
        role: Role::Feature,
        z_mm: [0.0; 2],
        value_mm: *value_mm,
    });
    let n = values.len();
    Evidence::new(sizes.collect(), DMatrix::identity(n, n) * sigma_mm * sigma_mm, None)
}

fn with_shaft(mut evidence: Evidence, mm: f64) -> Evidence {
    evidence.shaft = Some(Shaft { stated: Length { mm, sigma_mm: 0.02, source: Source("test".into()) } });
    evidence
}

fn answer(evidence: &Evidence) -> Inference {
    infer(evidence).expect("sound evidence").value
}

/// Trade notes, finding 2: 19.07, 12.68, 6.33 with 0.05 each are undecided alone and inch together.
#[test]
fn three_undecided_sizes_decide_together() {
    let values = [(19.07, Kind::Diameter), (12.68, Kind::Diameter), (6.33, Kind::Diameter)];
    let mut evidence = evidence(&values, 0.05);
    evidence.systematics = sizes::Systematics { scale: 0.0, length_scale: 0.0, diameter_offset_mm: 0.0, own_mm: 0.0 };
    let all = answer(&evidence);
    assert!(all.system.inch > 0.8, "{:?}", all.system);
    assert_eq!(all.sizes.iter().map(|s| s.candidates[0].label.as_str()).collect::<Vec<_>>(), ["3/4 in", "1/2 in", "1/4 in"]);
}

/// 5/16 in shaft stated as 8 mm: everything measured 0.8 % too large, and the sizes say so.
#[test]
fn a_mistaken_shaft_is_found_out() {
    let true_mm = [22.225, 31.75, 15.875, 9.525, 12.7, 25.4, 28.575];
    let values: Vec<(f64, Kind)> = true_mm.iter().map(|mm| (mm * 8.0 / 7.9375 + 0.004, Kind::Length)).collect();
    let mut evidence = with_shaft(evidence(&values, 0.02), 8.0);
    evidence.systematics.scale = 0.0005;
    evidence.systematics.length_scale = 0.0005;
    let noted = infer(&evidence).expect("sound");
    assert_eq!(noted.value.shaft[0].label, "5/16 in", "{:?}", noted.value.shaft);
    assert!(noted.value.system.inch > 0.9);
    assert!(noted.notes.iter().any(|note| note.text.contains("5/16 in")));
    assert!((noted.value.scale.value - 7.9375 / 8.0).abs() < 2e-3, "{:?}", noted.value.scale);
}

#[test]
fn a_decision_moves_the_other_sizes() {
    let values = [(22.18, Kind::Diameter), (12.62, Kind::Diameter), (31.66, Kind::Length)];
    let mut evidence = evidence(&values, 0.08);
    let before = answer(&evidence);
    evidence.decisions.push(Decision::Choose { name: "size 0".into(), mm: 22.225 });
    evidence.decisions.push(Decision::Reading { name: "size 2".into(), mm: 31.74, sigma_mm: 0.02 });
    let after = answer(&evidence);
    assert!(after.system.inch > before.system.inch && after.system.inch > 0.9, "{:?} {:?}", before.system, after.system);
    assert!(after.sizes[1].candidates[0].label == "1/2 in" && after.sizes[1].candidates[0].odds > before.sizes[1].candidates[0].odds);
    evidence.decisions.push(Decision::Refuse { name: "size 1".into(), mm: 12.7 });
    assert!(answer(&evidence).sizes[1].candidates.iter().all(|c| (c.mm - 12.7).abs() > 0.01));
}

#[test]
fn odd_sizes_are_not_round() {
    let values = [17.283, 9.117, 23.862, 5.342, 12.843, 28.137, 7.633].map(|mm| (mm, Kind::Length));
    let mut evidence = evidence(&values, 0.006);
    evidence.systematics = sizes::Systematics { scale: 0.0, length_scale: 0.0, diameter_offset_mm: 0.0, own_mm: 0.0 };
    let all = answer(&evidence);
    assert!(all.system.not_round > 0.5, "{:?}", all.system);
}

/// 500 made-up parts: what is given 0.9 is right nine times in ten.
#[test]
fn odds_keep_their_word() {
    let mut tally = Tally::default();
    for seed in 0..300 {
        let mut dice = Sampler::new(seed);
        let part = made_up_part(&mut dice);
        let (evidence, all) = measured(&part, USUAL, &mut dice);
        tally.add(&part, &all, &answer(&evidence));
    }
    let right = Tally::share(tally.at_ninety_right, tally.at_ninety);
    assert!((0.87..=0.93).contains(&right), "{tally:#?}");
}

#[test]
fn design_parts_are_found_again() {
    let mut tally = Tally::default();
    for part in design_parts() {
        let mut dice = Sampler::new(7);
        let (evidence, all) = measured(&part, USUAL, &mut dice);
        tally.add(&part, &all, &answer(&evidence));
    }
    assert!(Tally::share(tally.first, tally.sizes) >= 0.8 && Tally::share(tally.third, tally.sizes) >= 0.93, "{tally:#?}");
}

#[test]
fn nothing_and_nonsense_are_answered_in_words() {
    assert!(infer(&evidence(&[], 0.05)).is_ok());
    assert!(infer(&evidence(&[(f64::NAN, Kind::Length)], 0.05)).is_err());
    assert!(infer(&evidence(&[(10.0, Kind::Length)], f64::INFINITY)).is_err());
    assert!(infer(&evidence(&[(1e300, Kind::Length)], 0.05)).is_err());
    assert!(infer(&evidence(&[(10.0, Kind::Length), (10.0, Kind::Length)], 0.0)).is_ok());
    assert!(infer(&evidence(&[(10.0, Kind::Length), (20.0, Kind::Diameter)], 1e4)).is_ok());
    let mut unknown = evidence(&[(10.0, Kind::Length)], 0.05);
    unknown.decisions.push(Decision::Choose { name: "colar".into(), mm: 10.0 });
    assert!(infer(&unknown).expect_err("no such size").to_string().contains("its sizes are: size 0"));
}
