//! Printed in resin: how it stands, what supports touch, what is held inside, how much it shrinks.

use super::super::Says;
use super::super::evidence::Evidence;
use super::{fact, short};
use job::document;
use result::{JobResult, RouteResult, StanceResult};
use solid::{Body, Limits, MarkPlace, SELF_SUPPORTING_DEG, Stance};

/// Least hole that drains, mm (`printing_rules`: 2 mm at least, from memory there).
const LEAST_DRAIN_MM: f64 = 2.0;
/// Least and advised pin, mm (`printing_rules`).
const PIN_MM: [f64; 2] = [0.5, 1.0];
/// Linear shrinkage of (meth)acrylate prints after cure, percent (trade table `shrinkage`).
const USUAL_SHRINKAGE_PERCENT: [f64; 2] = [0.3, 1.0];

/// By how much a print is sent larger: what the bench has learnt, else what the document says, else nothing.
pub fn factor(document: &document::Document, result: &JobResult) -> Option<f64> {
    let learnt = result.bench.as_ref().and_then(|bench| bench.scale.as_ref()).map(|scale| scale.value);
    let said = document.body.as_ref().and_then(|body| body.print.as_ref()).and_then(|print| print.shrinkage_percent);
    learnt.or(said.map(|percent| 1.0 / (1.0 - percent / 100.0))).filter(|factor| (0.9..1.2).contains(factor))
}

pub(super) fn facts(evidence: &Evidence, wanted: &document::Body, body: &Body, sheet: &mut JobResult) -> RouteResult {
    let mut facts = vec![larger(evidence, sheet)];
    if let Some(bore) = sheet.body.as_ref().and_then(|body| body.bore.as_ref()) {
        let learnt = sheet.bench.as_ref().is_some_and(|bench| bench.bore_offset_mm.is_some());
        let basis = if learnt { "offset learnt in bench.toml" } else { "holes come out 0.1 to 0.2 mm small (service-bureau guide)" };
        facts.push(fact("bore, compensated", format!("\u{2300} {} mm drawn", short(bore.diameter_mm, 3)), basis));
    }
    facts.extend(walls(body));
    let mut best = None;
    match body.stances() {
        Ok(stances) => {
            facts.extend(stand(&stances));
            best = stances.first().map(|stance| StanceResult {
                rod_end_down: stance.toward_plate == MarkPlace::RodEnd,
                lean_deg: stance.lean_deg,
                height_mm: stance.height_mm,
                footprint_mm: stance.footprint_mm,
            });
        }
        Err(error) => {
            sheet.warn("body", None, format!("No way to stand on the plate was worked out: {error}"), "Give a coarser `chord` in [body].")
        }
    }
    facts.extend(held(wanted, body, sheet));
    RouteResult { name: "print".into(), facts, stance: best, diameters_mm: Vec::new() }
}

/// By how much prints are sent larger, and on what that rests.
pub(super) fn larger(evidence: &Evidence, sheet: &JobResult) -> result::RouteFact {
    match factor(&evidence.document, sheet) {
        Some(factor) => {
            let learnt = sheet.bench.as_ref().and_then(|bench| bench.scale.as_ref()).map(|scale| scale.sigma);
            let note = learnt.map_or_else(|| "as job.toml says".to_string(), |sigma| format!("\u{b1} {sigma:.4}, learnt in bench.toml"));
            fact(
                "sent larger by",
                format!("{factor:.4}"),
                format!("{note}; the plate file is, part.stl and part.3mf are true to the drawing"),
            )
        }
        None => fact(
            "sent larger by",
            "not known",
            format!(
                "prints shrink by {} to {} % after cure (trade table); print one, measure it, and write it into bench.toml; until then nothing is enlarged",
                USUAL_SHRINKAGE_PERCENT[0], USUAL_SHRINKAGE_PERCENT[1]
            ),
        ),
    }
}

fn walls(body: &Body) -> Vec<result::RouteFact> {
    let limits = Limits::default();
    let mut facts = Vec::new();
    if let Some(wall) = body.wall() {
        facts.push(fact(
            "thinnest wall",
            format!("{:.2} mm", wall.thickness_mm),
            format!(
                "at {:.1} mm; {} mm at least, {} mm advised (service-bureau guides)",
                wall.inside.z_mm, limits.least_wall_mm, limits.advised_wall_mm
            ),
        ));
    }
    // A neck is a pin: its thinnest place between thicker ones.
    let [low, high] = body.bounds_mm().map(|corner| corner[2]);
    let radii: Vec<f64> = (1..200).filter_map(|i| body.outer_radius_mm(low + (high - low) * f64::from(i) / 200.0)).collect();
    let neck = (1..radii.len().saturating_sub(1))
        .filter(|&i| {
            radii[i] < radii[..i].iter().copied().fold(0.0, f64::max) && radii[i] < radii[i + 1..].iter().copied().fold(0.0, f64::max)
        })
        .map(|i| 2.0 * radii[i])
        .fold(f64::INFINITY, f64::min);
    if neck.is_finite() {
        facts.push(fact(
            "thinnest neck",
            format!("\u{2300} {neck:.2} mm"),
            format!("a pin wants {} mm at least, {} mm advised (service-bureau guide)", PIN_MM[0], PIN_MM[1]),
        ));
    }
    facts
}

fn stand(stances: &[Stance]) -> Vec<result::RouteFact> {
    let words = |stance: &Stance| {
        let end = if stance.toward_plate == MarkPlace::RodEnd { "rod end" } else { "free end" };
        match stance.lean_deg {
            0.0 => format!("upright, {end} to the plate"),
            90.0 => "lying".to_string(),
            lean => format!("leaning {lean:.0}\u{b0}, {end} to the plate"),
        }
    };
    let areas = |stance: &Stance| {
        format!(
            "supports touch {} mm\u{b2} that is seen, {} mm\u{b2} of rod face and bore; {} mm high",
            short(stance.seen_mm2, 1),
            short(stance.hidden_mm2, 1),
            short(stance.height_mm, 1)
        )
    };
    let Some(best) = stances.first() else { return Vec::new() };
    let mut facts = vec![fact(
        "stands",
        words(best),
        format!("{}; faces within {SELF_SUPPORTING_DEG}\u{b0} of level want support (service-bureau guide)", areas(best)),
    )];
    // Lying is one way whichever end comes first.
    let others = stances.iter().skip(1).filter(|stance| stance.lean_deg < 90.0 || stance.toward_plate == MarkPlace::RodEnd);
    facts.extend(others.map(|stance| fact("or", words(stance), areas(stance))));
    facts
}

/// Resin held by a blind bore or hollow, and what lets it out.
fn held(wanted: &document::Body, body: &Body, sheet: &mut JobResult) -> Vec<result::RouteFact> {
    let Some((held_mm3, mouth_mm)) = body.held_mm3() else {
        return vec![fact("held inside", "nothing", "no blind bore or hollow")];
    };
    let drain_mm = body
        .features()
        .iter()
        .filter_map(|f| if let solid::Feature::CrossHole(hole) = f { Some(hole.diameter_mm) } else { None })
        .fold(0.0, f64::max);
    let drains = drain_mm >= LEAST_DRAIN_MM;
    let note = if drains {
        format!("the cross hole of {} mm lets air in and resin out", short(drain_mm, 2))
    } else {
        format!(
            "mouth of {} mm: with it toward the plate it holds its fill until the part is turned over; with it away from the plate it sucks at the film. Turn over and drain before washing",
            short(mouth_mm, 1)
        )
    };
    if !drains && wanted.hollow.is_some() {
        sheet.warn(
            "body",
            None,
            format!("The hollow holds {:.2} mL of resin and has no drain.", held_mm3 * 1e-3),
            "Add a `cross_hole` of 2 mm or more near its bottom, on a side that is not seen.",
        );
    }
    vec![fact("held inside", format!("{:.2} mL", held_mm3 * 1e-3), note)]
}
