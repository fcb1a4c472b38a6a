//! What the bench learns, from made-up truths that must be found again.

use check::*;
use solve::Sampler;

const TRUE: (f64, f64, f64) = (0.006, 0.03, -0.15);

/// A process that shrinks 0.6 %, adds 0.03 mm outside, and closes bores by 0.15 mm.
fn bench(seed: u64) -> Bench {
    let mut dice = Sampler::new(seed);
    let mut size = Vec::new();
    for (kind, drawn_mm) in [
        (Kind::Outer, 10.0),
        (Kind::Outer, 22.0),
        (Kind::Outer, 31.75),
        (Kind::Outer, 60.0),
        (Kind::Bore, 6.4),
        (Kind::Bore, 6.5),
        (Kind::Bore, 8.0),
    ] {
        let offset = if kind == Kind::Outer { TRUE.1 } else { TRUE.2 };
        let made_mm = drawn_mm * (1.0 - TRUE.0) + offset + 0.02 * dice.normal();
        size.push(SizeRecord { process: "grey resin".into(), kind, drawn_mm, made_mm, sigma_mm: 0.02 });
    }
    Bench { size, ..Bench::default() }
}

#[test]
fn shrinkage_and_offsets_are_found_with_honest_bars() {
    let mut held = [0; 3];
    for seed in 0..600 {
        let learnt = learn(&bench(seed), "grey resin").expect("fine").value;
        let found = [learnt.shrinkage, learnt.outer_offset_mm, learnt.bore_offset_mm].map(|e| e.expect("known"));
        for (held, (found, truth)) in held.iter_mut().zip(found.iter().zip([TRUE.0, TRUE.1, TRUE.2])) {
            *held += u32::from((found.value - truth).abs() <= 1.96 * found.sigma);
        }
    }
    // 570 of 600 expected; widening where parts scatter by chance makes it a little more.
    assert!(held.iter().all(|h| (555..=600).contains(h)), "{held:?}");
}

#[test]
fn one_size_alone_says_what_is_missing() {
    let mut one = bench(1);
    one.size.truncate(1);
    let noted = learn(&one, "grey resin").expect("fine");
    assert!(noted.value.outer_offset_mm.is_none() && noted.notes[0].settle.contains("large outer size"));
    assert_eq!(learn(&one, "another").expect("fine").value, Learnt::default());
}

/// Paule and Mandel's own condition: chi squared equals its degrees of freedom; and equal values give no scatter.
#[test]
fn scattered_lots_are_combined() {
    let values = [(0.1, 0.02), (-0.4, 0.05), (0.3, 0.03), (-0.1, 0.02)];
    let found = combine(&values);
    let chi2: f64 = values.iter().map(|(v, s)| (v - found.value).powi(2) / (s * s + found.scatter * found.scatter)).sum();
    assert!((chi2 - 3.0).abs() < 1e-6 && found.scatter > 0.2);
    let calm = combine(&[(0.1, 0.02), (0.11, 0.02)]);
    assert!(calm.scatter == 0.0 && (calm.value - 0.105).abs() < 1e-12 && (calm.sigma - 0.02 / 2f64.sqrt()).abs() < 1e-12);
    assert!(combine(&[]).sigma.is_infinite());
}

#[test]
fn yield_strength_and_cure() {
    let run = |made, good| RunRecord { process: "p".into(), made, good, loads: 2, lost: 0 };
    let strength = |lot: &str, ln_strength| StrengthRecord { colourant: "black".into(), lot: lot.into(), ln_strength, sigma: 0.03 };
    let cure = |l| CureRecord { process: "p".into(), before: [66.0, -8.0, 8.0], after: [l, -7.5, 9.0], sigma: 0.2 };
    let bench = Bench {
        run: vec![run(10, 8), run(20, 18)],
        strength: vec![strength("1", 0.0), strength("2", -0.5)],
        cure: vec![cure(65.0), cure(65.2)],
        ..Bench::default()
    };
    let noted = learn(&bench, "p").expect("fine");
    let learnt = noted.value;
    let yielded = learnt.yielded.expect("runs");
    assert_eq!((yielded.made, yielded.good, yielded.loads), (30, 26, [4, 0]));
    assert!((yielded.bad.value - 5.0 / 32.0).abs() < 1e-12 && yielded.bounds_95[1] > 0.13 && noted.notes.is_empty());
    assert!(learnt.strength["black"].scatter > 0.2);
    let [l, a, b] = learnt.cure.expect("cured");
    assert!((l.value + 0.9).abs() < 1e-9 && (a.value - 0.5).abs() < 1e-9 && (b.value - 1.0).abs() < 1e-9 && l.sigma > 0.15);

    let uneven = Bench { run: vec![run(20, 19), run(20, 5)], ..Bench::default() };
    assert!(learn(&uneven, "p").expect("fine").notes[0].text.contains("more than chance"));
    assert!(learn(&Bench { run: vec![run(3, 4)], ..Bench::default() }, "p").is_err());
}

/// The bench file is plain TOML, reads back as written, and may be empty.
#[test]
fn the_bench_file_is_plain_text() {
    let bench = Bench { run: vec![RunRecord { process: "p".into(), made: 10, good: 8, loads: 1, lost: 0 }], ..bench(1) };
    let text = toml::to_string(&bench).expect("writes");
    assert!(text.contains("[[size]]\nprocess = \"grey resin\"\nkind = \"outer\"\ndrawn_mm = 10.0"), "{text}");
    assert_eq!(toml::from_str::<Bench>(&text), Ok(bench));
    assert_eq!(toml::from_str::<Bench>(""), Ok(Bench::default()));
    assert!(toml::from_str::<Bench>("[[run]]\nprocess = 3").is_err());
}
