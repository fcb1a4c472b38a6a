//! Turned from bar: saw, chuck, drill, rough, gauge, part off.

use super::{Step, amounts_of, beware, bore, check, fact};
use crate::words::{bounded, count, plain};
use crate::{JobSheet, Material};

/// Empty where there is no body.
pub(super) fn steps(sheet: &JobSheet) -> Vec<Step> {
    if sheet.result.body.is_none() {
        return Vec::new();
    }
    let mut steps = vec![ready(sheet), bar(sheet), chuck()];
    steps.extend(drill(sheet));
    steps.extend([rough(), finish(sheet), gauge(), part_off()]);
    steps.extend(bore(sheet));
    steps.push(check("the start, the middle and the end of the bar"));
    steps
}

fn ready(sheet: &JobSheet) -> Step {
    Step {
        title: "Make ready".into(),
        lines: vec![
            "Glasses. No gloves, loose sleeves, rings or long hair at the lathe; the chuck key never stays in the chuck.".into(),
            "Colour is the bar's own: compare it with the wanted one in daylight before it is cut.".into(),
        ],
        caution: beware(sheet, Material::Dust),
        ..Step::default()
    }
}

fn bar(sheet: &JobSheet) -> Step {
    let wanted = sheet.result.run.as_ref().map(|run| run.start).or(sheet.document.run.as_ref().map(|run| run.wanted)).unwrap_or(1);
    let mut lines = vec![format!("For {}. Once the length that the chuck holds on top.", count(wanted as usize, "part"))];
    if let Some(length) = fact(sheet, "bar length") {
        lines.push(format!("{}.", bounded(&length.note, 200)));
    }
    Step { title: "Saw the bar".into(), amounts: amounts_of(sheet, &[("bar", "bar"), ("bar length", "length")]), lines, ..Step::default() }
}

fn chuck() -> Step {
    Step {
        title: "Chuck and face".into(),
        lines: vec![
            "Stick out the part's length and the parting tool's width with a little air; true it to 0.02 mm. A long thin bar takes a centre.".into(),
            "Face the end: it is the rod end, and every place along the axis counts from it.".into(),
        ],
        ..Step::default()
    }
}

fn drill(sheet: &JobSheet) -> Option<Step> {
    let bore = sheet.result.body.as_ref()?.bore.as_ref()?;
    let diameter = format!("\u{2300}\u{a0}{}\u{a0}mm, {}\u{a0}mm deep", plain(bore.diameter_mm, 2), plain(bore.depth_mm, 1));
    let mut lines = vec![
        "Centre first. Drill 0.2 mm under, clearing often: plastics melt and grab; then ream to size, slowly, in one pass.".to_string(),
    ];
    if bore.bottom == "flat" {
        lines.push("The bottom is drawn flat: finish it with an end mill or a boring tool.".into());
    }
    Some(Step { title: "Drill and ream the bore".into(), amounts: vec![[diameter, "bore".into()]], lines, ..Step::default() })
}

fn rough() -> Step {
    Step {
        title: "Rough".into(),
        lines: vec![
            "Turn the greatest diameter first, then step down by the table of diameters on the sheet, 0.5 mm over on the diameter.".into(),
            "A sharp tool with much rake; light cuts. Catch the swarf, do not pull it by hand.".into(),
        ],
        ..Step::default()
    }
}

fn finish(sheet: &JobSheet) -> Step {
    let mut lines = vec!["Each place of the table to its diameter: read, then take half of what is left, read again.".to_string()];
    if let Some(rows) =
        sheet.result.body.as_ref().and_then(|body| body.route.as_ref()).map(|route| route.diameters_mm.len()).filter(|n| *n > 0)
    {
        lines.push(format!("The table on the sheet has {}; those marked as joints are met exactly.", count(rows, "place")));
    }
    Step {
        title: "Finish to the diameters".into(),
        amounts: amounts_of(sheet, &[("tool nose", "nose of the finishing tool")]),
        lines,
        ..Step::default()
    }
}

fn gauge() -> Step {
    Step {
        title: "Hold the gauge to it".into(),
        lines: vec![
            "Print gauge.pdf at 100 %, measure its check scale, paste it on card and cut it out.".into(),
            "Lathe off. Light between gauge and work shows where there is still to take away.".into(),
        ],
        ..Step::default()
    }
}

fn part_off() -> Step {
    Step {
        title: "Part off and dress".into(),
        lines: vec![
            "Slow, with a sharp narrow tool; catch the part on a rod in its bore. Turn the free end round in soft jaws if it needs it."
                .into(),
            "Break sharp edges; polish wet, with the tool post out of the way and cloth never wound round the fingers.".into(),
        ],
        ..Step::default()
    }
}
