use crate::answer::{Inference, SizeOdds};
use crate::evidence::Evidence;
use crate::roundness::SAME_MM;
use quantity::{Note, mm_label};

/// Below these odds of its likeliest unit, a part's unit is not settled.
const SETTLED: f64 = 0.9;
/// A choice this many sigmas from the photographs is told.
const FAR_SIGMAS: f64 = 3.0;

/// What is doubtful about an answer, most important first.
pub fn notes(answer: &Inference, evidence: &Evidence) -> Vec<Note> {
    let against = answer.sizes.iter().filter_map(note_against);
    note_of_shaft(answer, evidence).into_iter().chain(note_of_unit(answer)).chain(against).collect()
}

fn note_of_shaft(answer: &Inference, evidence: &Evidence) -> Option<Note> {
    let (best, stated) = (answer.shaft.first()?, evidence.shaft.as_ref()?.stated.mm);
    ((best.mm - stated).abs() > SAME_MM).then(|| {
        Note::new(
            format!("The sizes fit a shaft of {} better than the stated {}; all sizes follow the shaft.", best.label, mm_label(stated)),
            "Measure the shaft with a caliper to 0.02 mm and state it.",
        )
    })
}

fn note_of_unit(answer: &Inference) -> Option<Note> {
    let system = answer.system;
    let units = [("mm", system.mm), ("inch", system.inch), ("mixed", system.mixed), ("not round", system.not_round)];
    if answer.sizes.is_empty() || units.iter().any(|(_, odds)| *odds >= SETTLED) {
        return None;
    }
    let list = units.map(|(name, odds)| format!("{name} {:.0} %", 100.0 * odds)).join(", ");
    let settle = answer.best_measurement.as_ref().map_or(String::new(), |best| best.text.clone());
    Some(Note::new(format!("The unit the maker worked in is not settled: {list}."), settle))
}

fn note_against(size: &SizeOdds) -> Option<Note> {
    let (against, chosen) = (size.against_sigmas?, size.chosen.as_ref()?);
    let side = if against > 0.0 { "larger" } else { "smaller" };
    (against.abs() > FAR_SIGMAS).then(|| {
        Note::new(
            format!("{}: the photographs say {side} than {} by {:.1} sigmas.", size.name, chosen.label, against.abs()),
            format!("Measure the {} on the original, or take the choice back.", size.name),
        )
    })
}
