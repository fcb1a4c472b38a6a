//! Whatever numbers come in, an answer or an error comes out.

use check::*;
use cie::Lab;
use solve::Sampler;

const NASTY: [f64; 10] = [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, -1.0, 0.0, 1e-300, 1e300, 22.0, 0.02, 6.35];

#[test]
fn nasty_numbers() {
    let mut dice = Sampler::new(1);
    let counts = [0u64, 1, 5, 20, 10_000, 1_000_000, u64::MAX];
    let mut answers = 0;
    for _ in 0..20_000 {
        let mut pick = || NASTY[dice.below(NASTY.len())];
        let limits = Limits { low_mm: pick(), high_mm: pick(), side: Side::Bore };
        let (a, b, c) = (pick(), pick(), pick());
        answers += u32::from(judge(Reading { mm: a, sigma_mm: b }, limits).is_ok());
        answers += u32::from(judge_by_pins(&[PinTry { mm: a, enters: true }, PinTry { mm: b, enters: false }], c, limits).is_ok());
        let _ =
            (mean_reading(&[a, b], c), capability_of(&[a, b, c], limits), capability(a, b, 5, limits), Limits::about(a, b, c, Side::Outer));
        let _ = (
            tone_lots(&[Lab::new(a, b, c), Lab::new(b, c, a)], a, b),
            matched_pairs(&[Lab::new(a, b, c), Lab::new(c, a, b)]),
            combine(&[(a, b), (b, c)]),
        );
        let _ = (general_tolerance(Class::Medium, Feature::Linear, a), small_lot(20, a));
        let mut count = || counts[dice.below(counts.len())];
        let (k, m, n) = (count(), count(), count());
        let _ = (bad_share_bounds(k, n, a), zero_failure_bound(n, a), accept_chance_binomial(n.min(500), k.min(500), a));
        let _ = (accept_chance_of_lot(n, m.min(50), k, m), bad_in_lot_bound(n.min(100), m, k, a), inspect_for(n.min(500), k, a));
    }
    assert!(answers > 100, "{answers}");
}

#[test]
fn nasty_records() {
    let mut dice = Sampler::new(2);
    for _ in 0..5_000 {
        let size = |kind, drawn_mm, made_mm, sigma_mm| SizeRecord { process: "p".into(), kind, drawn_mm, made_mm, sigma_mm };
        let numbers: [f64; 9] = std::array::from_fn(|_| NASTY[dice.below(NASTY.len())]);
        let bench = Bench {
            size: vec![size(Kind::Outer, numbers[0], numbers[1], numbers[2]), size(Kind::Bore, numbers[3], numbers[4], numbers[5])],
            strength: vec![StrengthRecord { colourant: "c".into(), lot: "1".into(), ln_strength: numbers[6], sigma: numbers[7] }],
            cure: vec![CureRecord { process: "p".into(), before: [numbers[8]; 3], after: [numbers[0]; 3], sigma: numbers[1] }],
            run: vec![RunRecord { process: "p".into(), made: [7, u32::MAX][dice.below(2)], good: 7, loads: 0, lost: 0 }; 2],
            ..Bench::default()
        };
        if let Ok(noted) = learn(&bench, "p") {
            assert!(noted.value.shrinkage.is_none_or(|s| s.value.is_finite() && s.sigma.is_finite()), "{bench:?}");
        }
    }
}
