//! What to do at the bench, in order, with amounts, times, and cautions where they matter.

mod cast;
mod turn;

use crate::words::{bounded, count, doubted, plain};
use crate::{JobSheet, Material};
use job::document::Route;
use result::JobResult;

/// One step.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Step {
    /// What is done, in a few words.
    pub title: String,
    /// How much of what; each is ticked off.
    pub amounts: Vec<[String; 2]>,
    /// How it is done.
    pub lines: Vec<String>,
    /// How long it takes or rests.
    pub timer: Option<String>,
    /// What to beware of, here.
    pub caution: Option<String>,
}

/// Most loads that get a step of their own; more are one step said once.
const MOST_LOADS: usize = 8;

/// The steps for this job's batch, by the route of its body; empty where there is neither a recipe nor a run (nor, cast or turned, a body).
pub fn steps(sheet: &JobSheet) -> Vec<Step> {
    let result = sheet.result;
    match sheet.document.body.as_ref().and_then(|body| body.route).unwrap_or_default() {
        Route::Print => {}
        Route::Cast => return cast::steps(sheet),
        // Sheet is not turned; how it is sawn and filed is told by its table alone.
        Route::Turn if sheet.document.flat.is_some() => return Vec::new(),
        Route::Turn => return turn::steps(sheet),
    }
    if result.pot.is_none() && result.run.is_none() {
        return Vec::new();
    }
    let mut steps = vec![ready(sheet)];
    steps.extend(mix(sheet));
    steps.extend(trial(sheet));
    steps.extend(loads(sheet));
    steps.push(clean(sheet));
    steps.push(cure(sheet));
    steps.extend(bore(sheet));
    steps.push(check("different places on the plate"));
    steps
}

fn check(from: &str) -> Step {
    Step {
        title: "Check and write down".into(),
        lines: vec![
            format!("Mark each part. Read three parts or more from {from}, each size twice."),
            "Write the readings into job.toml as [[check]]; count made and good into [batch].".into(),
            "Keep one part as master, in the dark, with its label.".into(),
        ],
        ..Step::default()
    }
}

/// What the body station found out for the route, by its name there.
fn fact<'a>(sheet: &'a JobSheet, what: &str) -> Option<&'a result::RouteFact> {
    sheet.result.body.as_ref()?.route.as_ref()?.facts.iter().find(|fact| fact.what == what)
}

/// Facts as amounts to tick off: the answer, what it is.
fn amounts_of(sheet: &JobSheet, facts: &[(&str, &str)]) -> Vec<[String; 2]> {
    facts.iter().filter_map(|(what, words)| Some([bounded(&fact(sheet, what)?.value, 80), words.to_string()])).collect()
}

fn beware(sheet: &JobSheet, material: Material) -> Option<String> {
    sheet.materials.contains(&material).then(|| material.reminder()[2].to_string())
}

fn ready(sheet: &JobSheet) -> Step {
    let mut lines = vec!["Read the supplier's safety data sheet. Gloves, glasses, fresh air; cover the bench.".to_string()];
    lines.push("Shake and stir each bottle; write the lot numbers on the record.".into());
    Step { title: "Make ready".into(), lines, caution: beware(sheet, Material::UncuredResin), ..Step::default() }
}

/// The pot for the whole run, else the best recipe as it stands.
fn mix(sheet: &JobSheet) -> Option<Step> {
    let pot = sheet.result.pot.as_ref()?;
    let grams = |g: Option<f64>| g.map_or_else(String::new, |g| format!(" = {}\u{a0}g", plain(g, 2)));
    let mut amounts = Vec::new();
    if let Some(scaled) = &pot.scaled {
        amounts.push([format!("{}\u{a0}mL{}", plain(scaled.resin_ml, 1), grams(scaled.resin_g)), "bare resin".to_string()]);
        for part in scaled.parts.iter().take(20) {
            amounts.push([
                format!("{}\u{a0}mL{}", plain(part.ml, 2), grams(part.g)),
                format!("{} ({})", bounded(&part.colourant, 60), count(part.drops as usize, "drop")),
            ]);
        }
    } else {
        let best = pot.recipes.first()?;
        amounts.push([format!("{}\u{a0}mL", plain(best.volume_ml, 1)), "bare resin".to_string()]);
        amounts
            .extend(best.drops.iter().filter(|(_, n)| **n > 0).take(20).map(|(name, n)| [count(*n as usize, "drop"), bounded(name, 60)]));
        amounts.extend(best.grams.iter().take(20).map(|(name, g)| [format!("{}\u{a0}g", plain(*g, 3)), bounded(name, 60)]));
    }
    Some(Step {
        title: if pot.scaled.is_some() { "Mix the pot for the whole run".into() } else { "Mix the pot".into() },
        amounts,
        lines: vec!["Weigh where grams are given; else measure. Tick each off as it goes in. Stir slowly, scrape walls and floor, let the bubbles rise.".into()],
        // Common practice, no source.
        timer: Some("stir 5 min, rest 10 min".into()),
        caution: None,
    })
}

fn trial(sheet: &JobSheet) -> Option<Step> {
    let best = sheet.result.pot.as_ref()?.recipes.first()?;
    Some(Step {
        title: "Cure a chip before the run".into(),
        lines: vec![
            format!(
                "Cure and rest one chip of this mix as the parts will be. It shall read L*\u{a0}{}, a*\u{a0}{}, b*\u{a0}{}.",
                plain(best.lab[0], 1),
                plain(best.lab[1], 1),
                plain(best.lab[2], 1)
            ),
            format!(
                "Up to {} CIEDE2000 from the colour wanted was to be expected (95 in 100). If it is more, enter the chip as [[sample]] and mix anew by the next recipe.",
                plain(best.de00_95, 1)
            ),
        ],
        ..Step::default()
    })
}

fn loads(sheet: &JobSheet) -> Vec<Step> {
    let result = sheet.result;
    let Some(run) = &result.run else { return Vec::new() };
    let of = run.per_load.len();
    let minutes = run.minutes.map(|[one, _]| format!("about {}", hours(one)));
    let one = |n: usize, parts: u32| Step {
        title: format!("Load {} of {of}: {}", n + 1, count(parts as usize, "part")),
        amounts: vat_amounts(result, n as u32 + 1),
        lines: load_lines(sheet, n),
        timer: minutes.clone(),
        caution: (n == 0).then(|| beware(sheet, Material::UncuredResin)).flatten(),
    };
    if of <= MOST_LOADS {
        return run.per_load.iter().enumerate().map(|(n, parts)| one(n, *parts)).collect();
    }
    let most = run.per_load.first().copied().unwrap_or(0);
    let mut first = one(0, most);
    first.title = format!("{of} loads, up to {} each", count(most as usize, "part"));
    first.lines.push("The same for each load; before each, stir the mix and top the vat up from it.".into());
    vec![first]
}

fn vat_amounts(result: &JobResult, load: u32) -> Vec<[String; 2]> {
    let Some(vat) = &result.vat else { return Vec::new() };
    let line = vat.lines.iter().find(|line| line.load == load && !line.what.starts_with("load"));
    line.map(|line| {
        [
            line.what.clone(),
            if load == 1 { "into the vat, from the mix".into() } else { "from the mix, stirred; never bare resin".to_string() },
        ]
    })
    .into_iter()
    .collect()
}

fn load_lines(sheet: &JobSheet, n: usize) -> Vec<String> {
    let mut lines = Vec::new();
    if n == 0 {
        match sheet.result.bench.as_ref().and_then(|bench| bench.scale) {
            Some(scale) => lines.push(format!(
                "Enlarge the part by the factor {} when laying it on the plate: what this bench shrinks.",
                doubted(scale.value, scale.sigma)
            )),
            None => lines.push("Lay the part on the plate at its own size; this bench's shrinkage is not measured yet.".into()),
        }
        if let Some(exposure) = sheet.document.batch.as_ref().and_then(|batch| batch.exposure.as_ref()) {
            lines.push(format!("Exposure: {}.", bounded(exposure, 200)));
        } else if let Some(said) = exposure(sheet) {
            lines.push(said);
        } else {
            lines.push("Exposure: tint swallows light. Cure a test strip of this mix first and write the exposure down.".into());
        }
    }
    lines
}

/// What the strips say of the exposure.
fn exposure(sheet: &JobSheet) -> Option<String> {
    let cure = sheet.result.pot.as_ref()?.cure.as_ref()?;
    let exposure = cure.exposure?;
    let basis = if cure.measured { "by this mix's strips" } else { "an estimate from bare resin's strips: cure a strip of this mix first" };
    Some(format!(
        "Exposure for a layer of {}\u{a0}mm: {} (in the strips' unit; {basis}).",
        plain(cure.layer_mm, 3),
        doubted(exposure.value, exposure.sigma)
    ))
}

/// "2 h 35 min".
fn hours(minutes: f64) -> String {
    let whole = if minutes.is_finite() { minutes.clamp(0.0, 1e7).round() as u64 } else { 0 };
    if whole < 60 { format!("{whole}\u{a0}min") } else { format!("{}\u{a0}h\u{a0}{}\u{a0}min", whole / 60, whole % 60) }
}

fn said_cure(sheet: &JobSheet) -> Option<String> {
    sheet.document.batch.as_ref().and_then(|batch| batch.cure.as_ref()).map(|cure| bounded(cure, 200))
}

fn clean(sheet: &JobSheet) -> Step {
    let lines = match said_cure(sheet) {
        Some(said) => vec![format!("Wash as for this batch: {said}.")],
        None => vec!["Wash as the resin's maker says, in two baths, the second one clean. Let the parts dry wholly: what is wet when cured turns white.".into()],
    };
    Step {
        title: "Wash and dry".into(),
        lines,
        timer: Some("write the time down".into()),
        caution: beware(sheet, Material::Propanol),
        ..Step::default()
    }
}

fn cure(sheet: &JobSheet) -> Step {
    Step {
        title: "Cure, turn, cure; then rest".into(),
        lines: vec!["All parts alike: same lamp, same distance, same time a side. Colour and sizes are read after a day's rest.".into()],
        timer: Some("rest 24 h".into()),
        caution: beware(sheet, Material::UltravioletLamp),
        amounts: Vec::new(),
    }
}

fn bore(sheet: &JobSheet) -> Option<Step> {
    let bore = sheet.result.body.as_ref()?.bore.as_ref()?;
    let mut lines = Vec::new();
    if let Some([low, high]) = bore.limits_mm {
        lines.push(format!(
            "A pin of {}\u{a0}mm must enter by its own weight; a pin of {}\u{a0}mm must not.",
            plain(low, 2),
            plain(high, 2)
        ));
        lines.push("Too tight: ream by hand, a little at a time. Too loose: lay the part aside, it can't be saved.".into());
    } else {
        lines.push(format!("Drawn \u{2300}\u{a0}{}\u{a0}mm: {}.", plain(bore.diameter_mm, 2), bounded(&bore.fit, 120)));
    }
    Some(Step { title: "Try the bore with pins".into(), lines, caution: beware(sheet, Material::Dust), ..Step::default() })
}
