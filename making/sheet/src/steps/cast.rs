//! Cast from a master: mould, tint, weigh, degas, pour, cure, demould.

use super::{Step, amounts_of, beware, bore, check, fact};
use crate::words::{bounded, count, plain};
use crate::{JobSheet, Material};
use job::document::CastMaterial;

/// Empty where there is no body.
pub(super) fn steps(sheet: &JobSheet) -> Vec<Step> {
    if sheet.result.body.is_none() {
        return Vec::new();
    }
    let mut steps = vec![ready(sheet), master(sheet), mould(sheet)];
    steps.extend(tint(sheet));
    steps.extend([weigh(sheet), degas(), pour(sheet), cure(sheet), demould()]);
    steps.extend(bore(sheet));
    steps.push(check("different pours"));
    steps
}

fn material(sheet: &JobSheet) -> CastMaterial {
    sheet.document.body.as_ref().and_then(|body| body.cast.as_ref()).and_then(|cast| cast.material).unwrap_or_default()
}

/// The caution for the resin that is poured.
fn resin_caution(sheet: &JobSheet) -> Option<String> {
    match material(sheet) {
        CastMaterial::Polyurethane => beware(sheet, Material::Isocyanate).map(|caution| format!("Isocyanate. {caution}")),
        CastMaterial::Epoxy => beware(sheet, Material::EpoxyHardener).map(|caution| format!("Epoxy hardener. {caution}")),
        CastMaterial::Polyester => Some(
            "Styrene vapour harms and burns; the peroxide hardener blinds and sets waste afire. Fresh air, no flame, glasses, gloves; the supplier's safety data sheet governs."
                .into(),
        ),
    }
}

fn ready(sheet: &JobSheet) -> Step {
    Step {
        title: "Make ready".into(),
        lines: vec![
            "Read the suppliers' safety data sheets of resin, hardener, silicone and release agent. Gloves, glasses, fresh air; cover the bench.".into(),
            "Everything at room temperature and dry: water in cups, sticks or colourants makes polyurethane foam.".into(),
            "Write the lot numbers on the record.".into(),
        ],
        caution: resin_caution(sheet),
        ..Step::default()
    }
}

fn master(sheet: &JobSheet) -> Step {
    let mut lines = vec!["Make the master from out/master.stl or out/master.3mf; it is larger by what resin and mould shrink.".to_string()];
    lines.push(
        "Smooth it until no layer shows: the mould takes every scratch. Seal a printed master, or the silicone stays soft on it.".into(),
    );
    lines.push("Set the greased pin for the bore in its rod end.".into());
    Step { title: "Master".into(), amounts: amounts_of(sheet, &[("master larger by", "times the part")]), lines, ..Step::default() }
}

fn mould(sheet: &JobSheet) -> Step {
    let mut lines = Vec::new();
    if let Some(line) = fact(sheet, "parting line") {
        lines.push(format!("Bed the master in clay up to the parting line, {}; press keys into the clay.", bounded(&line.value, 80)));
    }
    lines.push("Brush on release agent. Pour silicone from one corner in a thin stream until it covers the master.".into());
    lines.push("Turn the box over, take the clay away, release agent on silicone too, and pour the second half. Cut sprue and vents at the highest places.".into());
    Step {
        title: "Mould".into(),
        amounts: amounts_of(sheet, &[("silicone", "moulding silicone, both halves")]),
        lines,
        // Common practice, no source: addition-cure silicones set in 4 to 24 h.
        timer: Some("each half as the silicone's maker says, mostly overnight".into()),
        caution: None,
    }
}

/// Colourants go into the component that does not react with them on its own, before the other one is added.
fn tint(sheet: &JobSheet) -> Option<Step> {
    let pot = sheet.result.pot.as_ref()?;
    let mut amounts = Vec::new();
    if let Some(scaled) = &pot.scaled {
        for part in scaled.parts.iter().take(20) {
            let grams = part.g.map_or_else(String::new, |g| format!(" = {}\u{a0}g", plain(g, 2)));
            amounts.push([format!("{}\u{a0}mL{grams}", plain(part.ml, 2)), bounded(&part.colourant, 60)]);
        }
    } else {
        let best = pot.recipes.first()?;
        let drops = best.drops.iter().filter(|(_, n)| **n > 0).take(20);
        amounts.extend(
            drops.map(|(name, n)| [count(*n as usize, "drop"), format!("{} for {}\u{a0}mL", bounded(name, 60), plain(best.volume_ml, 1))]),
        );
        amounts.extend(best.grams.iter().take(20).map(|(name, g)| [format!("{}\u{a0}g", plain(*g, 3)), bounded(name, 60)]));
    }
    Some(Step {
        title: "Tint the first component".into(),
        amounts,
        lines: vec![
            "Into the component without hardener (of polyurethane: not the isocyanate). Only colourants that are dry and meant for this resin.".into(),
            "Stir until no streak is left. Cast one chip first; it shall have the colour of the recipe after its cure.".into(),
        ],
        timer: Some("stir 5 min".into()),
        caution: None,
    })
}

fn weigh(sheet: &JobSheet) -> Step {
    let mut lines = vec!["By weight, on a balance, one after the other into one cup. The tint counts to its component.".to_string()];
    if let Some(weigh) = fact(sheet, "weigh") {
        lines.push(format!("{}.", bounded(&weigh.note, 200)));
    }
    lines.push("From here the pot life runs: have the mould clamped and level before.".into());
    Step {
        title: "Weigh and mix".into(),
        amounts: amounts_of(sheet, &[("weigh", "first component (tinted) + second"), ("resin", "in all")]),
        lines,
        timer: Some("stir 1 min, scrape walls and floor; pour into a second cup and stir again".into()),
        caution: resin_caution(sheet),
    }
}

fn degas() -> Step {
    Step {
        title: "Degas".into(),
        lines: vec![
            "In a vacuum chamber, in a cup four times as large as the mix: it rises, breaks and falls. Stop when it falls, well inside the pot life.".into(),
            "Without vacuum: stir slowly, let it stand, prick what rises; or cure the mould under pressure.".into(),
        ],
        timer: Some("about 2 min, and never beyond a third of the pot life".into()),
        ..Step::default()
    }
}

fn pour(sheet: &JobSheet) -> Step {
    let wanted =
        sheet.document.run.as_ref().map_or_else(String::new, |run| format!(" {} are wanted.", count(run.wanted as usize, "good part")));
    Step {
        title: "Pour".into(),
        lines: vec![
            format!("In a thin stream at the lowest place, until it stands in every vent.{wanted}"),
            "Tap the mould; top the sprue up as it sinks.".into(),
        ],
        caution: resin_caution(sheet),
        ..Step::default()
    }
}

fn cure(sheet: &JobSheet) -> Step {
    let said = sheet.document.batch.as_ref().and_then(|batch| batch.cure.as_ref()).map(|cure| bounded(cure, 200));
    let lines = vec![
        said.map_or_else(
            || "Level, still, at the temperature that the maker says; what sets cold stays soft.".to_string(),
            |said| format!("As for this batch: {said}."),
        ),
        "It grows warm as it sets. Leftovers in the cup too: stand it on stone, in fresh air.".into(),
    ];
    Step { title: "Cure".into(), lines, timer: Some("demould time of the maker's sheet".into()), ..Step::default() }
}

fn demould() -> Step {
    Step {
        title: "Demould and rest".into(),
        lines: vec![
            "Open along the parting line, pull along the axis, draw the pin. Cut the sprue and dress the seam, wet.".into(),
            "Colour and sizes are read after full cure.".into(),
        ],
        timer: Some("rest 24 h, or the full cure of the maker's sheet".into()),
        ..Step::default()
    }
}
