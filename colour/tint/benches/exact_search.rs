//! The exact search against a general-purpose optimiser: twelve paints, up to four used, forty drops.
//!
//! `cargo bench -p tint` prints the colour reached by both and the ratio of their times. The optimiser is scipy's differential evolution, run by .venv/bin/python on the same
//! optics, which may stop as soon as it is as near as ours; without Python that half is skipped, and said so. A population that settled elsewhere is started anew; after 30 s it is given up. Each of its recipes is judged by the same model as ours.

mod virtual_shelf;

use std::io::Write;
use std::process::{Command, Stdio};
use std::time::Instant;
use tint::{Goal, Model, learn, nearest_mix};
use virtual_shelf::{bench, pigments, truth};

/// Paints of the shelf that stand on the bench: all hues, a black, earths.
const BOTTLES: usize = 12;
const MOST_DROPS: u32 = 40;
const VOLUME_ML: f64 = 20.0;
/// The optimiser is given up after so many seconds a target.
const PATIENCE_S: f64 = 30.0;
/// CIEDE2000 that counts as the same colour: the model corrects each mix by its near chips, which the optimiser does not know of.
const SAME: f64 = 0.01;

fn main() {
    if let Err(why) = run() {
        say(&format!("exact search: {why}"));
        std::process::exit(1);
    }
}

fn run() -> Result<(), String> {
    let all = pigments();
    let white = all.iter().find(|p| p.name.starts_with("TitaniumWhite")).ok_or("no white on the shelf")?;
    let paints: Vec<_> = all.iter().filter(|p| !p.name.starts_with("TitaniumWhite")).take(BOTTLES).collect();
    let model = learn(&bench(white, &paints)).map_err(|e| e.to_string())?.value;
    let mut ratios = vec![];
    let mut worse = 0;
    for (n, used) in [[0, 3, 7, 10], [1, 2, 5, 11], [4, 6, 8, 9], [0, 5, 6, 10]].iter().enumerate() {
        let mut fractions = vec![0.0; BOTTLES];
        for (j, i) in used.iter().enumerate() {
            // No whole number of drops makes these shares.
            fractions[*i] = (2.3 + 3.1 * j as f64) * 0.025 / VOLUME_ML;
        }
        let lab = cie::working().lab(&truth(white, &paints, &fractions)).map_err(|e| e.to_string())?;
        let goal = Goal::d65(lab.array(), 0.0, VOLUME_ML, MOST_DROPS);
        let mut ours_s = f64::INFINITY;
        let mut found = None;
        // The best of five runs: what else the machine does at the time only ever adds.
        for _ in 0..5 {
            let start = Instant::now();
            found = nearest_mix(&model, &goal).map_err(|e| e.to_string())?;
            ours_s = ours_s.min(start.elapsed().as_secs_f64());
        }
        let found = found.ok_or("nothing was found")?;
        let ours = [found.de00, ours_s];
        let proven = if found.proven { "proven" } else { "not proven" };
        match optimiser(&model, &goal, found.de00)? {
            None => say(&format!(
                "target {}: exact {:.4} CIEDE2000 in {:.3} s ({proven}); scipy: skipped, no .venv/bin/python with numpy and scipy",
                n + 1,
                ours[0],
                ours[1]
            )),
            Some((drops, theirs_s)) => {
                let theirs = judged(&model, &goal, &drops);
                worse += usize::from(ours[0] > theirs + SAME);
                ratios.push(theirs_s / ours_s);
                say(&format!(
                    "target {}: exact {:.4} CIEDE2000 in {:.3} s ({proven}); differential evolution {theirs:.4} in {theirs_s:.1} s: {:.0} times as long",
                    n + 1,
                    ours[0],
                    ours[1],
                    theirs_s / ours_s
                ));
            }
        }
    }
    if !ratios.is_empty() {
        let least = ratios.iter().copied().fold(f64::INFINITY, f64::min);
        say(&format!(
            "exact search: better or equal colour in {} of {}; at least {least:.0} times faster (wanted: 100)",
            ratios.len() - worse,
            ratios.len()
        ));
    }
    Ok(())
}

/// What our model says of the optimiser's drops.
fn judged(model: &Model, goal: &Goal, drops: &[u32]) -> f64 {
    let lab = model.predict(goal.volume_ml, drops, &[cie::working()]).lab;
    cie::ciede2000([lab[0], lab[1], lab[2]], goal.wanted[0].lab)
}

/// Drops found by differential evolution, and its seconds; `None` without Python.
fn optimiser(model: &Model, goal: &Goal, enough: f64) -> Result<Option<(Vec<u32>, f64)>, String> {
    let root = concat!(env!("CARGO_MANIFEST_DIR"), "/../..");
    let python = format!("{root}/.venv/bin/python");
    let known = Command::new(&python).args(["-c", "import numpy, scipy"]).stderr(Stdio::null()).status();
    if !known.is_ok_and(|status| status.success()) {
        return Ok(None);
    }
    let (resin, colourants) = model.spectra();
    let spectra = |s: &tint::Spectra| serde_json::json!({"k": s.k.to_vec(), "s": s.s.to_vec(), "loss": s.loss});
    let problem = serde_json::json!({
        "resin": spectra(&resin),
        "colourants": colourants.iter().map(spectra).collect::<Vec<_>>(),
        "unit": 0.025 / goal.volume_ml,
        "k1": tint::Surface::PLASTIC.k1, "k2": tint::Surface::PLASTIC.k2,
        "weights": cie::working().rows(), "white": cie::working().white().array(),
        "lab": goal.wanted[0].lab, "enough": enough + SAME, "patience_s": PATIENCE_S, "most_drops": goal.max_drops, "most_used": goal.most_colourants,
    });
    let mut child = Command::new(&python)
        .arg(format!("{root}/colour/tint/benches/differential_evolution.py"))
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .map_err(|e| e.to_string())?;
    child.stdin.take().ok_or("no way to speak to Python")?.write_all(problem.to_string().as_bytes()).map_err(|e| e.to_string())?;
    let output = child.wait_with_output().map_err(|e| e.to_string())?;
    let answer: serde_json::Value = serde_json::from_slice(&output.stdout).map_err(|e| format!("scipy gave no answer: {e}"))?;
    let drops = answer["drops"].as_array().into_iter().flatten().filter_map(|n| Some(n.as_u64()? as u32)).collect();
    Ok(Some((drops, answer["seconds"].as_f64().unwrap_or(f64::NAN))))
}

#[allow(clippy::print_stdout, reason = "this is a program")]
fn say(text: &str) {
    println!("{text}");
}
