//! What is cut into the turned body, from the document's words to the body's features.

use super::super::Says;
use super::super::evidence::Evidence;
use super::bore::{Bored, process};
use job::document::{self, EdgePlace, KnurlPattern};
use result::JobResult;
use solid::edge::{Edge, EdgeForm};
use solid::{Body, BoreEnd, CrossHole, Feature, Form, Hollow, Knurl, Relief, Surface, Thread};

/// Beyond the mouth: a cut that reaches out of the part comes out at its end.
const OUT_MM: f64 = -1.0;

/// The hollow, if one is wanted.
pub(super) fn hollow(wanted: &document::Body) -> Option<Feature> {
    wanted.hollow.as_ref().map(|hollow| Feature::Hollow(Hollow { wall_mm: hollow.wall.mm, depth_mm: hollow.depth.mm }))
}

/// An edge as the body knows it, and in words.
pub(super) fn edge(edge: &document::Edge) -> Option<(Edge, String)> {
    let (place, there) = match &edge.at {
        EdgePlace::RodEnd => (solid::edge::EdgePlace::RodEnd, "the rod end".to_string()),
        EdgePlace::FreeEnd => (solid::edge::EdgePlace::FreeEnd, "the free end".to_string()),
        EdgePlace::At(size) => {
            let diameter_mm = edge.diameter.as_ref().map(|size| size.mm);
            (solid::edge::EdgePlace::At { z_mm: size.mm, diameter_mm }, size.written.clone())
        }
    };
    let (form, what) = match (&edge.chamfer, &edge.fillet) {
        (Some(size), _) => (EdgeForm::Chamfer { leg_mm: size.mm }, format!("chamfer of {}", size.written)),
        (_, Some(size)) => (EdgeForm::Fillet { radius_mm: size.mm }, format!("fillet of {}", size.written)),
        _ => return None,
    };
    Some((Edge { place, form }, format!("{what} at {there}")))
}

/// Everything that is cut and not turned, by its key in [body], in the order it is cut.
pub(super) fn cuts(
    evidence: &Evidence,
    wanted: &document::Body,
    bored: Option<&Bored>,
    body: &Body,
    sheet: &mut JobResult,
) -> Vec<(&'static str, Feature)> {
    let relief = |on, z_mm, form| Feature::Relief(Relief { on, z_mm, form });
    let mut cuts = Vec::new();
    let needs_bore = [("thread", wanted.thread.is_some()), ("flat", wanted.flat.is_some()), ("slot", wanted.slot.is_some())];
    match bored {
        Some(bored) => cuts.extend(in_the_bore(wanted, bored, body, sheet)),
        None => {
            for (name, _) in needs_bore.iter().filter(|(_, asked)| *asked) {
                let way_out = "Give a shaft of known size in [[photo]], or a `thread`.";
                sheet.warn("body", None, format!("`{name}` was left out: there is no bore."), way_out);
            }
        }
    }
    if let Some(flutes) = &wanted.flutes {
        let form = Form::Flutes { count: flutes.count, radius_mm: flutes.radius.mm, depth_mm: flutes.depth.mm };
        cuts.push(("flutes", relief(Surface::Outside, [flutes.from.mm, flutes.to.mm], form)));
    }
    if let Some(knurl) = &wanted.knurl {
        let pattern = match knurl.pattern {
            KnurlPattern::Straight => Knurl::Straight,
            KnurlPattern::Diamond => Knurl::Diamond,
        };
        let form = Form::Knurl { pitch_mm: knurl.pitch.mm, depth_mm: knurl.depth.mm, pattern };
        cuts.push(("knurl", relief(Surface::Outside, [knurl.from.mm, knurl.to.mm], form)));
    }
    cuts.extend(cross_hole(evidence, wanted, sheet).map(|hole| ("cross_hole", Feature::CrossHole(hole))));
    cuts
}

fn in_the_bore(wanted: &document::Body, bored: &Bored, body: &Body, sheet: &mut JobResult) -> Vec<(&'static str, Feature)> {
    let relief = |z_mm, form| Feature::Relief(Relief { on: Surface::Bore, z_mm, form });
    let mut cuts = Vec::new();
    let [low, high] = body.bounds_mm();
    let through = matches!(bored.bore.end, BoreEnd::Through { .. });
    let depth_mm = if through { high[2] + 1.0 } else { bored.told.depth_mm };
    // A bore with steps has its own diameter only beyond the last of them.
    let widened_mm = wanted.step.last().map_or(low[2] + bored.bore.mouth_chamfer_mm, |step| step.depth.mm);
    if let Some((thread, wider_mm)) = &bored.cut {
        let end_mm = if let BoreEnd::Through { exit_chamfer_mm, .. } = bored.bore.end { high[2] - exit_chamfer_mm } else { depth_mm };
        let form = Form::Thread { pitch_mm: thread.pitch_mm, crest_mm: 0.5 * (thread.minor_mm + wider_mm), flats: thread.flats() };
        cuts.push(("thread", relief([widened_mm, end_mm], form)));
    }
    if let (Some(flat), Some(shaft)) = (&wanted.flat, &bored.shaft) {
        // The flat keeps half of what the bore is wider than its shaft.
        let from_axis_mm = flat.mm - 0.5 * shaft.mm + 0.5 * bored.told.allowance_mm;
        let start = if wanted.step.is_empty() { OUT_MM } else { widened_mm };
        cuts.push(("flat", relief([start, depth_mm], Form::Flats { count: 1, from_axis_mm })));
        if flat.mm >= shaft.mm {
            sheet.warn(
                "body",
                None,
                format!("`flat` of {} is no less than the shaft's diameter.", flat.written),
                "Measure the shaft from its flat to the round opposite.",
            );
        }
    }
    if let Some(slot) = &wanted.slot {
        let widest_mm = wanted.step.first().map_or(bored.told.diameter_mm, |step| step.diameter.mm.max(bored.told.diameter_mm));
        let length_mm = slot.length.as_ref().map_or(depth_mm, |length| length.mm.min(depth_mm));
        let form = Form::Slot { width_mm: slot.width.mm, floor_mm: 0.5 * widest_mm + slot.depth.mm };
        cuts.push(("slot", relief([OUT_MM, length_mm], form)));
    }
    cuts
}

fn cross_hole(evidence: &Evidence, wanted: &document::Body, sheet: &mut JobResult) -> Option<CrossHole> {
    let hole = wanted.cross_hole.as_ref()?;
    let drilled_mm = match (&hole.diameter, &hole.thread) {
        (Some(diameter), _) => diameter.mm,
        (_, Some(name)) => match Thread::named(name) {
            Ok(thread) => {
                let drill_mm = thread.tap_drill_mm;
                sheet.assume(
                    "body",
                    format!("The cross hole is a pilot of {drill_mm:.2} mm to tap {}.", thread.name),
                    "[body] cross_hole thread or diameter",
                );
                drill_mm
            }
            Err(error) => {
                sheet.warn("body", None, format!("`cross_hole` was left out: {error}"), "Name another `thread`, or give a `diameter`.");
                return None;
            }
        },
        _ => return None,
    };
    let offset_mm = process(evidence, drilled_mm, sheet).offset.mm;
    Some(CrossHole {
        z_mm: hole.at.mm,
        diameter_mm: ((drilled_mm - offset_mm) * 100.0).round() / 100.0,
        angle_deg: hole.angle_deg.unwrap_or(0.0),
        both_sides: hole.both_sides == Some(true),
    })
}
