//! Ten thousand made-up parts: do the odds keep their word? `cargo bench -p sizes --bench calibration` (`-- PARTS` for fewer)
//!
//! Also with sigmas stated at a quarter, at half and at twice their true worth, and with the 14 parts of `tests/data/design_sizes.csv`.

#[path = "../tests/parts/mod.rs"]
mod parts;

use parts::{Errors, Part, Tally, USUAL, design_parts, made_up_part, measured};
use solve::Sampler;
use std::io::Write;

fn main() -> std::io::Result<()> {
    let count: u64 = std::env::args().skip(1).find_map(|text| text.parse().ok()).unwrap_or(10_000);
    let made_up = |seed: u64, dice: &mut Sampler| -> Part {
        let _ = seed;
        made_up_part(dice)
    };
    let designs = design_parts();
    let design = |seed: u64, _: &mut Sampler| -> Part { designs[seed as usize % designs.len()].clone() };
    report("made-up parts", count, USUAL, made_up)?;
    report("made-up parts, sigmas stated at half their worth", count / 4, Errors { stated: 0.5, ..USUAL }, made_up)?;
    report("made-up parts, sigmas stated at a quarter of their worth", count / 4, Errors { stated: 0.25, ..USUAL }, made_up)?;
    report("made-up parts, sigmas stated at twice their worth", count / 4, Errors { stated: 2.0, ..USUAL }, made_up)?;
    report("the 14 design parts, many times", count / 4, USUAL, design)?;
    report("the 14 design parts, no strays", count / 4, Errors { strays: 0, ..USUAL }, design)?;
    report(
        "the 14 design parts, half the errors",
        count / 4,
        Errors { scale: 0.0015, offset_mm: 0.03, own_mm: (0.02, 0.05), strays: 2, stated: 1.0 },
        design,
    )
}

fn report(title: &str, count: u64, errors: Errors, part_of: impl Fn(u64, &mut Sampler) -> Part) -> std::io::Result<()> {
    let mut tally = Tally::default();
    for seed in 0..count {
        let mut dice = Sampler::new(seed);
        let part = part_of(seed, &mut dice);
        let (evidence, all) = measured(&part, errors, &mut dice);
        if let Ok(answer) = sizes::infer(&evidence) {
            tally.add(&part, &all, &answer.value);
        }
    }
    let percent = |of: usize, all: usize| 100.0 * Tally::share(of, all);
    let mut out = std::io::stdout();
    writeln!(out, "{title}: {count}")?;
    writeln!(
        out,
        "  unit right {:.1} %, with odds >= 0.9 {:.1} %",
        percent(tally.system_right, tally.parts),
        percent(tally.system_sure, tally.parts)
    )?;
    given(&mut out, "unit", "in 0.85..0.95", [tally.system_ninety_right, tally.system_ninety], tally.system_ninety_odds)?;
    writeln!(
        out,
        "  sizes: true one first {:.1} %, among three {:.1} % of {}",
        percent(tally.first, tally.sizes),
        percent(tally.third, tally.sizes),
        tally.sizes
    )?;
    given(&mut out, "sizes", "in 0.85..0.95", [tally.at_ninety_right, tally.at_ninety], tally.at_ninety_odds)?;
    given(&mut out, "sizes", "above 0.5", [tally.chosen_right, tally.chosen], tally.chosen_odds)?;
    writeln!(out, "  strays taken for round: {:.1} % of {}", percent(tally.strays_taken, tally.strays), tally.strays)
}

/// How often what was given such odds was right. `odds` is their sum.
fn given(out: &mut impl Write, what: &str, range: &str, [right, all]: [usize; 2], odds: f64) -> std::io::Result<()> {
    let mean = odds / all.max(1) as f64;
    writeln!(out, "  {what} given {mean:.3} on average {range}: right {:.1} % of {all}", 100.0 * Tally::share(right, all))
}
