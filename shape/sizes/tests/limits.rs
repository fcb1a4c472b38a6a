//! What no evidence may do: panic, take for ever, or give odds that are none.

use nalgebra::DMatrix;
use quantity::{Length, Source};
use sizes::{Decision, Evidence, Inference, Kind, Measured, Process, Role, Shaft, infer};
use solve::Sampler;

fn sound(answer: &Inference) {
    let s = answer.system;
    assert!((s.mm + s.inch + s.mixed + s.not_round - 1.0).abs() < 1e-6, "{s:?}");
    for size in &answer.sizes {
        let sum: f64 = size.candidates.iter().map(|c| c.odds).sum::<f64>() + size.not_round;
        assert!(sum <= 1.0 + 1e-6 && size.not_round >= 0.0 && size.candidates.iter().all(|c| c.odds > 0.0 && c.mm.is_finite()), "{size:?}");
        assert!(size.refined_mm.is_finite() && size.refined_sigma_mm.is_finite(), "{size:?}");
        assert!(size.against_sigmas.is_none_or(f64::is_finite));
        assert!(size.candidates.windows(2).all(|w| w[0].odds >= w[1].odds));
    }
    assert!(answer.scale.value.is_finite() && answer.scale.sigma.is_finite());
    assert!(answer.shaft.iter().all(|shaft| (0.0..=1.0 + 1e-9).contains(&shaft.odds)));
}

fn any_value(dice: &mut Sampler) -> f64 {
    match dice.below(12) {
        0 => f64::NAN,
        1 => f64::INFINITY,
        2 => -1.0,
        3 => 0.0,
        4 => 1e-12,
        5 => 1e300,
        6 => 2000.0,
        7 => 0.01,
        _ => 10f64.powf(dice.between(-1.0, 2.5)),
    }
}

fn any_evidence(seed: u64, wild: bool) -> Evidence {
    let mut dice = Sampler::new(seed);
    let n = dice.below(7);
    let value = |dice: &mut Sampler| if wild { any_value(dice) } else { 10f64.powf(dice.between(-1.5, 3.2)) };
    let sizes: Vec<Measured> = (0..n)
        .map(|i| Measured {
            name: format!("size {i}"),
            kind: [Kind::Diameter, Kind::Length, Kind::Position][dice.below(3)],
            role: [Role::Overall, Role::Feature, Role::Bore, Role::Doubtful][dice.below(4)],
            z_mm: [0.0, value(&mut dice)],
            value_mm: value(&mut dice),
        })
        .collect();
    // Not even positive semi-definite.
    let spread = 10f64.powf(dice.between(-8.0, 3.0));
    let mut covariance = DMatrix::from_fn(n, n, |_, _| spread * dice.normal());
    for i in 0..n {
        covariance[(i, i)] = covariance[(i, i)].abs();
    }
    let stated = Length { mm: value(&mut dice), sigma_mm: value(&mut dice).abs(), source: Source("fuzz".into()) };
    let mut evidence = Evidence::new(sizes, covariance, (dice.below(2) == 0).then_some(Shaft { stated }));
    if dice.below(3) == 0 {
        evidence.process = Process::Moulded { shrink_low: 0.002, shrink_high: 0.01, draft_deg: 1.0 };
    }
    for _ in 0..dice.below(4) {
        let name = if dice.below(4) == 0 && evidence.shaft.is_some() { "shaft".into() } else { format!("size {}", dice.below(n.max(1))) };
        let mm = value(&mut dice);
        evidence.decisions.push(match dice.below(3) {
            0 => Decision::Choose { name, mm },
            1 => Decision::Refuse { name, mm },
            _ => Decision::Reading { name, mm, sigma_mm: value(&mut dice) },
        });
    }
    evidence
}

#[test]
fn any_evidence_is_answered_or_refused() {
    let mut answered = 0;
    for seed in 0..30 {
        for wild in [true, false] {
            match infer(&any_evidence(seed, wild)) {
                Ok(noted) => {
                    sound(&noted.value);
                    answered += 1;
                }
                Err(error) => assert!(error.to_string().len() > 20, "{error}"),
            }
        }
    }
    assert!(answered > 12, "{answered}");
}

#[test]
fn sizes_known_not_at_all_are_not_round() {
    for variance in [1e6, 1e300, f64::MAX] {
        let sizes =
            ["a", "b"].map(|name| Measured { name: name.into(), kind: Kind::Length, role: Role::Feature, z_mm: [0.0; 2], value_mm: 20.0 });
        let evidence = Evidence::new(sizes.to_vec(), DMatrix::from_row_slice(2, 2, &[variance, 0.0, 0.0, variance]), None);
        let answer = infer(&evidence).expect("readable").value;
        sound(&answer);
        assert!(answer.sizes.iter().all(|size| size.not_round > 0.9 && size.chosen.is_none()), "{answer:?}");
    }
}

#[test]
fn a_hundred_sizes_are_weighed_and_more_are_refused() {
    let many = |n: usize| {
        let mut dice = Sampler::new(n as u64);
        let sizes = (0..n).map(|i| {
            let value_mm = (dice.between(3.0, 60.0) * 2.0).round() / 2.0 + 0.08 * dice.normal();
            let kind = if i % 2 == 0 { Kind::Diameter } else { Kind::Position };
            Measured { name: format!("size {i}"), kind, role: Role::Feature, z_mm: [0.0; 2], value_mm }
        });
        Evidence::new(sizes.collect(), DMatrix::identity(n, n) * 0.0064, None)
    };
    let answer = infer(&many(100)).expect("the most there may be").value;
    sound(&answer);
    assert!(answer.system.mm > 0.99, "{:?}", answer.system);
    assert!(infer(&many(101)).is_err());
}
