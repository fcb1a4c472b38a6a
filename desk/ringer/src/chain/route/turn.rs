//! Turned from bar: what to buy, the diameters at each step, and the tool that reaches.

use super::super::Says;
use super::{fact, short};
use job::document;
use quantity::inch_label;
use result::{JobResult, RouteResult};
use sizes::tables::stock;
use solid::Body;

/// From row to row, and the tool's nose, where the document does not say, mm (common practice, no source).
const USUAL_STEP_MM: f64 = 1.0;
const USUAL_NOSE_MM: f64 = 0.4;
/// Skin to be turned off the bar, on the diameter, mm (common practice: 0.5 to 1).
const SKIN_MM: f64 = 0.5;
/// Facing and parting off, and what the chuck holds, mm (common practice, no source).
const PARTING_MM: f64 = 4.0;
const CHUCK_MM: f64 = 20.0;
/// Rows on the sheet at most.
const MOST_ROWS: usize = 200;

pub(super) fn facts(wanted: &document::Body, body: &Body, sheet: &mut JobResult) -> RouteResult {
    let turn = wanted.turn.as_ref();
    let step_mm = turn.and_then(|turn| turn.step.as_ref()).map_or(USUAL_STEP_MM, |step| step.mm);
    let nose_mm = turn.and_then(|turn| turn.nose.as_ref()).map_or(USUAL_NOSE_MM, |nose| nose.mm);
    let [low, high] = body.bounds_mm();
    let (greatest_mm, length_mm) = (2.0 * high[0], high[2] - low[2]);
    let step_mm = step_mm.max(length_mm / MOST_ROWS as f64);
    let turning = body.turning(step_mm);
    let bar_length_mm = length_mm + PARTING_MM;
    let mut facts = Vec::new();
    let mut bars: Vec<_> = stock().iter().filter(|item| item.kind == "round bar" && item.mm >= greatest_mm + SKIN_MM - 1e-9).collect();
    bars.sort_by(|a, b| a.mm.total_cmp(&b.mm));
    let label = |item: &sizes::tables::Stock| if item.inch { inch_label(item.mm) } else { format!("{} mm", short(item.mm, 2)) };
    let metric = bars.iter().find(|item| !item.inch);
    let inch = bars.iter().find(|item| item.inch);
    let offers: Vec<String> = metric.into_iter().chain(inch).map(|item| label(item)).collect();
    let bar_mm = bars.first().map_or(turning.bar_mm, |item| item.mm);
    if offers.is_empty() {
        let note = format!("the stock table ends below \u{2300} {} mm; ask for it", short(turning.bar_mm, 1));
        facts.push(fact("bar", format!("\u{2300} {} mm", short(turning.bar_mm, 1)), note));
    } else {
        facts.push(fact(
            "bar",
            format!("\u{2300} {}", offers.join(" or ")),
            format!("the least in stock that leaves {SKIN_MM} mm of skin on \u{2300} {} mm", short(greatest_mm, 3)),
        ));
    }
    facts.push(fact(
        "bar length",
        format!("{} mm a part", short(bar_length_mm, 1)),
        format!("{PARTING_MM} mm to face and part off; {CHUCK_MM} mm more once for the chuck (common practice)"),
    ));
    let bar_ml = std::f64::consts::PI / 4.0 * bar_mm * bar_mm * bar_length_mm * 1e-3;
    let swarf = 100.0 * (1.0 - body.volume_mm3() * 1e-3 / bar_ml);
    facts.push(fact("material", format!("{} mL a part", short(bar_ml, 1)), format!("of which {swarf:.0} % is turned away")));
    facts.push(match turning.smallest_inside_radius_mm {
        None => fact("tool nose", "any", "the outside is nowhere hollow"),
        Some(radius) if radius < 1e-6 => {
            fact("tool nose", "sharp", "an inside corner of the profile is sharp: any nose leaves its own radius there")
        }
        Some(radius) => fact("tool nose", format!("{} mm at most", short(radius, 2)), "the tightest hollow of the profile"),
    });
    if let Some(radius) = turning.smallest_inside_radius_mm.filter(|radius| *radius < nose_mm) {
        sheet.warn(
            "body",
            None,
            format!("A nose of {} mm does not reach into the tightest hollow of {} mm.", short(nose_mm, 2), short(radius, 2)),
            "Take a sharper tool there, or accept its radius and give a `fillet` of that size in `edge`.",
        );
    }
    if turn.and_then(|turn| turn.nose.as_ref()).is_none() {
        sheet.assume("body", format!("The tool's nose has a radius of {USUAL_NOSE_MM} mm."), "[body] turn nose");
    }
    facts.push(fact("gauge", "out/gauge.pdf", "the outline at 1:1 with a scale to check the print by; hold it against the work"));
    let diameters_mm = turning.rows.iter().take(2 * MOST_ROWS).map(|row| (row.z_mm, row.diameter_mm, row.joint)).collect();
    RouteResult { name: "turn".into(), facts, stance: None, diameters_mm }
}
