//! Station body: the meridian with its features, the bore that fits the shaft, and what the document leaves open about them.

use super::Says;
use super::evidence::Evidence;
use super::shape::ROD_SIGMA_SHARE;
use job::document::{Bottom, Feel};
use meridian::Meridian;
use quantity::{Length, Source};
use result::{BodyResult, BoreResult, JobResult};
use solid::{Body, Bore, BoreEnd, Feature};

/// Distance between mesh and true surface where the document does not say, mm.
const CHORD_MM: f64 = 0.005;

pub(super) fn work_out(evidence: &Evidence, meridian: &Meridian, sheet: &mut JobResult) -> Option<Body> {
    let bored = bore(evidence, meridian, sheet);
    let features: Vec<Feature> = bored.iter().map(|(bore, _)| Feature::Bore(bore.clone())).collect();
    let made = Body::from_pieces(meridian.pieces(), &features, solid::Limits::default()).or_else(|error| {
        sheet.warn("body", None, format!("The bore could not be made: {error}"), "Give another `bore_depth` or `fit` in [body].");
        Body::from_pieces(meridian.pieces(), &[], solid::Limits::default())
    });
    match made {
        Err(error) => {
            sheet.missing("body", &error.to_string());
            None
        }
        Ok(noted) => {
            sheet.warn_all("body", None, &noted.notes);
            let body = noted.value;
            let bore = bored.filter(|_| !body.features().is_empty()).map(|(_, told)| told);
            sheet.body = Some(BodyResult {
                volume_mm3: body.volume_mm3(),
                area_mm2: body.area_mm2(),
                centre_z_mm: body.centre_of_mass_z_mm(),
                bounds_mm: body.bounds_mm(),
                bore,
                files: Vec::new(),
            });
            Some(body)
        }
    }
}

/// The blind bore for the shaft, and what the sheet says of it.
fn bore(evidence: &Evidence, meridian: &Meridian, sheet: &mut JobResult) -> Option<(Bore, BoreResult)> {
    let wanted = evidence.document.body.clone().unwrap_or_default();
    if wanted.bore == Some(false) {
        return None;
    }
    let known = evidence
        .document
        .known
        .iter()
        .find(|known| evidence.document.photo.iter().any(|photo| photo.made.is_none() && photo.shaft.as_ref() == Some(&known.name)))?;
    let sigma_mm = known.sigma.as_ref().map_or(ROD_SIGMA_SHARE * known.value.mm, |sigma| sigma.mm);
    let shaft = Length { mm: known.value.mm, sigma_mm, source: Source(known.source.clone().unwrap_or_default()) };
    let (diameter_mm, fit, limits_mm) = bore_diameter(evidence, &wanted, &shaft, meridian, sheet)?;
    let length_mm = meridian.length_mm();
    let depth_mm = wanted.bore_depth.as_ref().map(|depth| depth.mm).unwrap_or_else(|| {
        let depth_mm = (length_mm - 2.0).min(2.0 * shaft.mm).max(0.25 * length_mm);
        sheet.assume(
            "body",
            format!("The bore is {depth_mm:.1} mm deep: twice the shaft's diameter, or what the part allows."),
            "[body] bore_depth",
        );
        depth_mm
    });
    let bottom = wanted.bottom.unwrap_or_else(|| {
        sheet.assume("body", "The bore's bottom is flat.", "[body] bottom");
        Bottom::Flat
    });
    let bore = match bottom {
        Bottom::Flat => Bore::blind(diameter_mm, depth_mm),
        Bottom::Conical => Bore::drilled(diameter_mm, depth_mm),
    };
    let bottom = if matches!(bore.end, BoreEnd::Flat) { "flat" } else { "conical" };
    let told = BoreResult { diameter_mm, allowance_mm: diameter_mm - shaft.mm, depth_mm, bottom: bottom.into(), fit, limits_mm };
    Some((bore, told))
}

fn bore_diameter(
    evidence: &Evidence,
    wanted: &job::document::Body,
    shaft: &Length,
    meridian: &Meridian,
    sheet: &mut JobResult,
) -> Option<(f64, String, Option<[f64; 2]>)> {
    if let Some(allowance) = &wanted.allowance {
        return Some((shaft.mm + allowance.mm, format!("allowance of {} mm as given", allowance.mm), None));
    }
    let feel = wanted.fit.unwrap_or_else(|| {
        sheet.assume("body", "The part slides on its shaft.", "[body] fit");
        Feel::Slides
    });
    let hub_mm = 2.0 * meridian.radius_at(0.5 * meridian.length_mm()).map_or(shaft.mm, |r| r.outer_mm);
    let (feel, word) = match feel {
        Feel::Slides => (solid::Feel::Slides, "slides"),
        Feel::Pushes => (solid::Feel::Pushes, "pushes on"),
        Feel::Glued => (solid::Feel::Glued, "glued"),
        Feel::Pressed => (solid::Feel::Pressed(solid::Hub::rigid_print(hub_mm)), "pressed"),
    };
    let (process, measured) = super::bench::bore_process(evidence);
    match solid::bore_for_shaft(shaft, feel, &process) {
        Err(error) => {
            sheet.warn("body", None, format!("No bore size could be worked out: {error}"), "Give `allowance` in [body].");
            None
        }
        Ok(fit) => {
            sheet.warn_all("body", None, &fit.notes);
            if !measured {
                sheet.assume(
                    "body",
                    "Bores of this printer come out 0.15 mm small, as is common; it has not been measured.",
                    "[body] allowance",
                );
            }
            let limits_mm = fit.value.wanted_clearance_mm.map(|clearance| shaft.mm + clearance);
            Some((fit.value.drawn_mm, format!("{word} on the shaft in {:.0} of 100", 100.0 * fit.value.chance), Some(limits_mm)))
        }
    }
}

/// Mesh tolerance of the document.
pub(super) fn chord_mm(evidence: &Evidence) -> f64 {
    evidence.document.body.as_ref().and_then(|body| body.chord.as_ref()).map_or(CHORD_MM, |chord| chord.mm)
}
