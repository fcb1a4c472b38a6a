//! Reads one problem as JSON from standard input (the pot's part of a job: `resin`, `colourant`, `sample`, `target`) and prints the learnt optics, the
//! recipes and the seconds they took: a hook for comparing the exact search with general-purpose optimisers on the same optics.
//!
//! usage: search_once < problem.json

mod common;

use common::Job;
use std::time::Instant;
use tint::{Spectra, learn, recipes};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let job: Job = serde_json::from_reader(std::io::stdin())?;
    let goal = job.goal();
    let start = Instant::now();
    let model = learn(&job.bench())?.value;
    let learnt = start.elapsed().as_secs_f64();
    let found = recipes(&model, &goal)?.value;
    let searched = start.elapsed().as_secs_f64() - learnt;
    let optics = |s: &Spectra| serde_json::json!({"k": s.k.to_vec(), "s": s.s.to_vec(), "loss": s.loss});
    let (resin, colourants) = model.spectra();
    let list: Vec<_> = found
        .iter()
        .map(|r| serde_json::json!({"drops": r.drops, "lab": r.lab, "de00": r.de00, "de00_95": r.odds.de00_95, "proven": r.proven}))
        .collect();
    let colourants: Vec<_> = colourants.iter().map(optics).collect();
    print(
        &serde_json::json!({"recipes": list, "resin": optics(&resin), "colourants": colourants, "learn_s": learnt, "search_s": searched})
            .to_string(),
    );
    Ok(())
}

#[allow(clippy::print_stdout, reason = "this is a program")]
fn print(text: &str) {
    println!("{text}");
}
