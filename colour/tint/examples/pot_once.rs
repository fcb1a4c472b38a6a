//! Reads DIR/job.toml (the pot's part of it) and prints {"pot": ...}: enough for a simulated bench to drive this crate alone.
//!
//! usage: pot_once make DIR --json

use serde::Deserialize;
use std::collections::BTreeMap;
use tint::{Backing, Bench, Chip, Colourant, Dose, Goal, Reading, Resin, Surface, learn, next_chip, recipes};

#[derive(Deserialize)]
struct Job {
    resin: Option<JobResin>,
    #[serde(default)]
    colourant: Vec<JobColourant>,
    #[serde(default)]
    sample: Vec<JobSample>,
    target: JobTarget,
}

#[derive(Deserialize)]
struct JobResin {
    thickness_mm: Option<f64>,
    backing: Option<toml::Value>,
}

#[derive(Deserialize)]
struct JobColourant {
    name: String,
    drop_ul: f64,
    drop_cv: Option<f64>,
    max_percent: Option<f64>,
}

#[derive(Deserialize)]
struct JobSample {
    name: String,
    volume_ml: f64,
    #[serde(default)]
    drops: BTreeMap<String, u32>,
    lab: [f64; 3],
    sigma: Option<f64>,
}

#[derive(Deserialize)]
struct JobTarget {
    lab: [f64; 3],
    sigma: Option<f64>,
    sample_ml: f64,
    max_drops: u32,
    tolerance: Option<f64>,
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let dir = std::env::args().nth(2).ok_or("usage: pot_once make DIR --json")?;
    let job: Job = toml::from_str(&std::fs::read_to_string(std::path::Path::new(&dir).join("job.toml"))?)?;
    let goal = Goal {
        tolerance_de00: job.target.tolerance.unwrap_or(1.0),
        ..Goal::d65(job.target.lab, job.target.sigma.unwrap_or(0.0), job.target.sample_ml, job.target.max_drops)
    };
    let model = learn(&bench(&job))?;
    let found = recipes(&model.value, &goal)?;
    let next = next_chip(&model.value, &goal, &found.value)?;
    let list: Vec<_> = found
        .value
        .iter()
        .map(|r| {
            serde_json::json!({"volume_ml": r.volume_ml, "drops": r.drops, "lab": r.lab, "de00": r.de00, "de00_95": r.odds.de00_95,
        "chance": r.odds.chance, "proven": r.proven, "merit": format!("{:?}", r.merit)})
        })
        .collect();
    let next_notes = next.notes;
    let next = next.value.map(|n| serde_json::json!({"volume_ml": n.volume_ml, "drops": n.drops, "why": n.why}));
    let notes: Vec<_> = model
        .notes
        .iter()
        .chain(&found.notes)
        .chain(&next_notes)
        .map(|n| serde_json::json!({"text": n.text, "settle": n.settle}))
        .collect();
    let chips: Vec<_> = model.value.chips();
    print(&serde_json::json!({"pot": {"recipes": list, "next": next, "chips": chips, "notes": notes}}).to_string());
    Ok(())
}

#[allow(clippy::print_stdout, reason = "this is a program")]
fn print(text: &str) {
    println!("{text}");
}

fn bench(job: &Job) -> Bench {
    let backing = match job.resin.as_ref().and_then(|r| r.backing.as_ref()) {
        Some(toml::Value::String(name)) if name == "black" => Backing::Black,
        Some(toml::Value::Float(r)) => Backing::Reflectance(*r),
        _ => Backing::White,
    };
    let resin =
        Resin { thickness_mm: job.resin.as_ref().and_then(|r| r.thickness_mm), backing, density_g_ml: None, surface: Surface::PLASTIC };
    let colourants = job
        .colourant
        .iter()
        .map(|c| Colourant { drop_cv: c.drop_cv.unwrap_or(0.05), max_percent: c.max_percent, ..Colourant::new(&c.name, c.drop_ul) })
        .collect();
    let chip = |s: &JobSample| Chip {
        name: s.name.clone(),
        volume_ml: s.volume_ml,
        doses: s.drops.iter().map(|(name, n)| (name.clone(), Dose::Drops(*n))).collect(),
        reading: Reading::Lab { lab: s.lab, sigma: [s.sigma.unwrap_or(0.3); 3] },
    };
    Bench { resin, colourants, chips: job.sample.iter().map(chip).collect() }
}
