//! The bore: its size by fit, thread or allowance; its depth, steps and ends.

use super::super::Says;
use super::super::bench::bore_process;
use super::super::evidence::Evidence;
use super::super::shape::ROD_SIGMA_SHARE;
use super::exact;
use job::document::{self, Bottom, Feel, Fit, Route, ThreadMade};
use meridian::Meridian;
use quantity::{Length, Source};
use result::{BoreResult, FeatureResult, JobResult};
use solid::{Bore, BoreEnd, BoreStep, Process, Thread};

/// A bore to be made, with what later features need to know of it.
pub(super) struct Bored {
    pub bore: Bore,
    pub told: BoreResult,
    /// Steps and chamfers in words.
    pub words: Vec<FeatureResult>,
    /// The shaft, where there is one.
    pub shaft: Option<Length>,
    /// The thread to cut into it, with what is added to all its diameters.
    pub cut: Option<(Thread, f64)>,
}

/// A diameter with its story.
struct Sized {
    diameter_mm: f64,
    allowance_mm: f64,
    fit: String,
    limits_mm: Option<[f64; 2]>,
    chance: Option<f64>,
    hoop_mpa: Option<[f64; 3]>,
    /// A thread with what is added to its diameters.
    thread: Option<(Thread, f64)>,
}

pub(super) fn bore(evidence: &Evidence, wanted: &document::Body, meridian: &Meridian, sheet: &mut JobResult) -> Option<Bored> {
    if wanted.bore == Some(false) {
        return None;
    }
    let shaft = shaft(evidence);
    let sized = match &wanted.thread {
        Some(thread) => threaded(evidence, thread, sheet)?,
        None => plain(evidence, wanted, shaft.as_ref()?, meridian, sheet)?,
    };
    let through = wanted.through == Some(true);
    let usual_mm = sized.thread.as_ref().map_or(shaft.as_ref().map_or(sized.diameter_mm, |shaft| shaft.mm), |(thread, _)| thread.major_mm);
    let length_mm = meridian.length_mm();
    let depth_mm = if through { length_mm } else { depth(wanted, length_mm, usual_mm, sheet) };
    let mut steps: Vec<BoreStep> =
        wanted.step.iter().map(|step| BoreStep { diameter_mm: step.diameter.mm, depth_mm: step.depth.mm }).collect();
    let end = if through {
        BoreEnd::Through { diameter_mm: sized.diameter_mm, exit_chamfer_mm: wanted.exit_chamfer.as_ref().map_or(0.0, |size| size.mm) }
    } else {
        steps.push(BoreStep { diameter_mm: sized.diameter_mm, depth_mm });
        bottom(wanted, sheet)
    };
    let bottom = match end {
        BoreEnd::Flat => "flat",
        BoreEnd::Drilled { .. } => "conical",
        BoreEnd::Through { .. } => "none",
    };
    let bore = Bore { steps, end, mouth_chamfer_mm: wanted.mouth_chamfer.as_ref().map_or(0.0, |size| size.mm) };
    let told = BoreResult {
        diameter_mm: sized.diameter_mm,
        allowance_mm: sized.allowance_mm,
        depth_mm,
        bottom: bottom.into(),
        fit: sized.fit,
        limits_mm: sized.limits_mm,
        through,
        thread: sized.thread.as_ref().map(|(thread, _)| thread.name.clone()),
        chance: sized.chance,
        hoop_mpa: sized.hoop_mpa,
    };
    let cut = sized.thread.filter(|_| wanted.thread.as_ref().is_some_and(|thread| thread.made == Some(ThreadMade::Cut)));
    Some(Bored { bore, told, words: words(wanted), shaft, cut })
}

fn words(wanted: &document::Body) -> Vec<FeatureResult> {
    let steps = wanted.step.iter().map(|step| format!("bore widened to {} down to {}", step.diameter.written, step.depth.written));
    let mouth = wanted.mouth_chamfer.iter().map(|size| format!("chamfer of {} at the bore's mouth", size.written));
    let exit = wanted.exit_chamfer.iter().map(|size| format!("chamfer of {} where the bore comes out", size.written));
    steps.chain(mouth).chain(exit).map(exact).collect()
}

/// The rod of known size that a photo of the original shows.
fn shaft(evidence: &Evidence) -> Option<Length> {
    let document = &evidence.document;
    let named = |name: &String| document.photo.iter().any(|photo| photo.made.is_none() && photo.shaft.as_ref() == Some(name));
    let known = document.known.iter().find(|known| named(&known.name))?;
    let sigma_mm = known.sigma.as_ref().map_or(ROD_SIGMA_SHARE * known.value.mm, |sigma| sigma.mm);
    Some(Length { mm: known.value.mm, sigma_mm, source: Source(known.source.clone().unwrap_or_default()) })
}

fn depth(wanted: &document::Body, length_mm: f64, usual_mm: f64, sheet: &mut JobResult) -> f64 {
    wanted.bore_depth.as_ref().map(|depth| depth.mm).unwrap_or_else(|| {
        let depth_mm = (length_mm - 2.0).min(2.0 * usual_mm).max(0.25 * length_mm);
        sheet.assume(
            "body",
            format!("The bore is {depth_mm:.1} mm deep: twice its shaft's diameter, or what the part allows."),
            "[body] bore_depth",
        );
        depth_mm
    })
}

fn bottom(wanted: &document::Body, sheet: &mut JobResult) -> BoreEnd {
    let bottom = wanted.bottom.unwrap_or_else(|| {
        sheet.assume("body", "The bore's bottom is flat.", "[body] bottom");
        Bottom::Flat
    });
    match bottom {
        Bottom::Flat => BoreEnd::Flat,
        Bottom::Conical => BoreEnd::Drilled { point_angle_deg: solid::COMMON_DRILL_POINT_DEG },
    }
}

/// How bores come out on this job's route, and whether that was measured on this bench.
pub(super) fn process(evidence: &Evidence, nominal_mm: f64, sheet: &mut JobResult) -> Process {
    let route = evidence.document.body.as_ref().and_then(|body| body.route).unwrap_or_default();
    let (learnt, measured) = bore_process(evidence);
    let (process, words) = match (route, measured) {
        (_, true) => return learnt,
        (Route::Print, false) => (learnt, "Bores of this printer come out 0.15 mm small, as is common; it has not been measured."),
        (Route::Cast, false) => {
            (Process::cast_unmeasured(), "Cast bores come out true to their pin within 0.05 mm; it has not been measured.")
        }
        (Route::Turn, false) => (Process::reamed(nominal_mm), "The bore is reamed to H7 after drilling."),
    };
    let switch = if route == Route::Turn { "[body] allowance" } else { "bench.toml, or [body] allowance" };
    if !sheet.assumptions.iter().any(|other| other.text == words) {
        sheet.assume("body", words, switch);
    }
    process
}

fn threaded(evidence: &Evidence, wanted: &document::Thread, sheet: &mut JobResult) -> Option<Sized> {
    let thread = match Thread::named(&wanted.size) {
        Ok(thread) => thread,
        Err(error) => {
            sheet.warn("body", None, format!("No bore was made: {error}"), "Name another `size` in `thread` of [body].");
            return None;
        }
    };
    let offset_mm = process(evidence, thread.tap_drill_mm, sheet).offset.mm;
    // Drawn in hundredths, as the printer's own step.
    let drawn = |mm: f64| ((mm - offset_mm) * 100.0).round() / 100.0;
    let name = &thread.name;
    let (diameter_mm, fit) = match (wanted.made.unwrap_or(ThreadMade::Tap), &wanted.hole) {
        (ThreadMade::Insert, Some(hole)) => (drawn(hole.mm), format!("hole of {} for a threaded insert {name}", hole.written)),
        (ThreadMade::Cut, _) => (drawn(thread.major_mm), format!("{name} cut to its full form, pitch {} mm", thread.pitch_mm)),
        _ => {
            let hole = thread.tap_drill_mm;
            (drawn(hole), format!("pilot of {hole:.2} mm to tap {name}: {:.0} % of the full thread", 100.0 * thread.engagement(hole)))
        }
    };
    Some(Sized {
        diameter_mm,
        allowance_mm: -offset_mm,
        fit,
        limits_mm: None,
        chance: None,
        hoop_mpa: None,
        thread: Some((thread, -offset_mm)),
    })
}

fn plain(evidence: &Evidence, wanted: &document::Body, shaft: &Length, meridian: &Meridian, sheet: &mut JobResult) -> Option<Sized> {
    if let Some(allowance) = &wanted.allowance {
        let fit = format!("allowance of {} mm as given", allowance.mm);
        let diameter_mm = shaft.mm + allowance.mm;
        return Some(Sized { diameter_mm, allowance_mm: allowance.mm, fit, limits_mm: None, chance: None, hoop_mpa: None, thread: None });
    }
    let fit = wanted.fit.clone().unwrap_or_else(|| {
        sheet.assume("body", "The part slides on its shaft.", "[body] fit");
        Fit::Feel(Feel::Slides)
    });
    let hub_mm = 2.0 * meridian.radius_at(0.5 * meridian.length_mm()).map_or(shaft.mm, |r| r.outer_mm);
    let (feel, word) = match &fit {
        Fit::Feel(Feel::Slides) => (solid::Feel::Slides, "slides on the shaft".to_string()),
        Fit::Feel(Feel::Pushes) => (solid::Feel::Pushes, "pushes on the shaft".to_string()),
        Fit::Feel(Feel::Glued) => (solid::Feel::Glued, "glued on the shaft".to_string()),
        Fit::Feel(Feel::Pressed) => (solid::Feel::Pressed(solid::Hub::rigid_print(hub_mm)), "pressed on the shaft".to_string()),
        Fit::Iso(code) => iso(code, shaft, sheet)?,
    };
    let process = process(evidence, shaft.mm, sheet);
    match solid::bore_for_shaft(shaft, feel, &process) {
        Err(error) => {
            sheet.warn("body", None, format!("No bore size could be worked out: {error}"), "Give `allowance` in [body].");
            None
        }
        Ok(fit) => {
            sheet.warn_all("body", None, &fit.notes);
            let fit = fit.value;
            let hoop = fit.hoop_mpa.map_or_else(String::new, |[expected, _, allowed]| {
                format!("; hoop stress {expected:.1} MPa where {allowed:.0} MPa is borne for long")
            });
            Some(Sized {
                diameter_mm: fit.drawn_mm,
                allowance_mm: fit.drawn_mm - shaft.mm,
                fit: format!("{word} in {:.0} of 100{hoop}", 100.0 * fit.chance),
                limits_mm: Some(fit.wanted_clearance_mm.map(|clearance| shaft.mm + clearance)),
                chance: Some(fit.chance),
                hoop_mpa: fit.hoop_mpa,
                thread: None,
            })
        }
    }
}

/// A fit by its ISO code: the bore's zone about the shaft's known size, and whether the shaft's own class agrees with what is known of it.
fn iso(code: &str, shaft: &Length, sheet: &mut JobResult) -> Option<(solid::Feel, String)> {
    match sizes::tables::fit(code, shaft.mm) {
        Err(error) => {
            sheet.warn(
                "body",
                None,
                format!("No bore size could be worked out: {error}"),
                "Give another `fit`, or `allowance`, in [body].",
            );
            None
        }
        Ok(fit) => {
            let um = |value: f64| format!("{value:+.0}");
            sheet.assume(
                "body",
                format!(
                    "The shaft's nominal size is {:.3} mm and it was made to its class of {code}: {} to {} \u{b5}m; clearance {:.0} to {:.0} \u{b5}m.",
                    shaft.mm,
                    um(fit.shaft.lower_um),
                    um(fit.shaft.upper_um),
                    fit.clearance_min_um,
                    fit.clearance_max_um
                ),
                "[[known]] value, [body] fit",
            );
            let feel = solid::Feel::Zone { low_mm: fit.hole.lower_um * 1e-3, high_mm: fit.hole.upper_um * 1e-3 };
            Some((feel, format!("{code}: bore {} to {} \u{b5}m, kept", um(fit.hole.lower_um), um(fit.hole.upper_um))))
        }
    }
}
