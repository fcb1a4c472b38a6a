//! Reads DIR/job.toml (the pot's part of it) and prints {"pot": ...}: enough for a simulated bench to drive this crate alone.
//!
//! usage: pot_once make DIR --json

mod common;

use common::Job;
use tint::{learn, next_chip, recipes};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let dir = std::env::args().nth(2).ok_or("usage: pot_once make DIR --json")?;
    let job: Job = toml::from_str(&std::fs::read_to_string(std::path::Path::new(&dir).join("job.toml"))?)?;
    let goal = job.goal();
    let model = learn(&job.bench())?;
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
