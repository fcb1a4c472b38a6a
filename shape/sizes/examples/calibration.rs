//! Ten thousand made-up parts: do the odds keep their word? `cargo run --release -p sizes --example calibration [PARTS]`

#[path = "../tests/parts/mod.rs"]
mod parts;

use parts::{Tally, USUAL, design_parts, made_up_part, measured};
use solve::Sampler;
use std::io::Write;

fn main() -> std::io::Result<()> {
    let count: u64 = std::env::args().nth(1).and_then(|text| text.parse().ok()).unwrap_or(10_000);
    let mut out = std::io::stdout();
    let mut tally = Tally::default();
    for seed in 0..count {
        let mut dice = Sampler::new(seed);
        let part = made_up_part(&mut dice);
        let (evidence, all) = measured(&part, USUAL, &mut dice);
        if let Ok(answer) = sizes::infer(&evidence) {
            tally.add(&part, &all, &answer.value);
        }
    }
    writeln!(out, "made-up parts: {tally:#?}")?;
    let mut tally = Tally::default();
    for seed in 0..20 {
        for part in design_parts() {
            let mut dice = Sampler::new(1_000_000 + seed);
            let (evidence, all) = measured(&part, USUAL, &mut dice);
            if let Ok(answer) = sizes::infer(&evidence) {
                tally.add(&part, &all, &answer.value);
                if seed == 0 {
                    writeln!(out, "{} {} {:?} shaft {:?}", part.name, part.inch, answer.value.system, answer.value.shaft.first())?;
                }
            }
        }
    }
    writeln!(out, "the 14 design parts, 20 times: {tally:#?}")
}
