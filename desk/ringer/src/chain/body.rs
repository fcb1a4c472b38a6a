//! Station body: the meridian with its features, the bore that fits the shaft, and what the document leaves open about them.

mod bore;
mod features;
mod mark;
#[cfg(test)]
mod tests;

use super::evidence::Evidence;
use super::{Says, route};
use export::NotExact;
use job::document;
use meridian::{Meridian, Piece};
use result::{BodyResult, FeatureResult, JobResult};
use solid::{Body, Feature, Limits};

/// Distance between mesh and true surface where the document does not say, mm.
const CHORD_MM: f64 = 0.005;
/// A mesh that is only weighed, mm.
const WEIGHED_CHORD_MM: f64 = 0.02;

pub(super) fn work_out(evidence: &Evidence, meridian: &Meridian, sheet: &mut JobResult) -> Option<Body> {
    let wanted = evidence.document.body.clone().unwrap_or_default();
    let mut told = Vec::new();
    let pieces = edges(&wanted, meridian, sheet, &mut told);
    let bored = bore::bore(evidence, &wanted, meridian, sheet);
    let mut body = match Body::from_pieces(&pieces, &[], Limits::default()) {
        Ok(plain) => plain.value,
        Err(error) => {
            sheet.missing("body", &error.to_string());
            return None;
        }
    };
    let mut bore_told = None;
    let first: Vec<Feature> = bored.iter().map(|bored| Feature::Bore(bored.bore.clone())).chain(features::hollow(&wanted)).collect();
    match Body::from_pieces(&pieces, &first, Limits::default()) {
        Ok(with_bore) => {
            sheet.warn_all("body", None, &with_bore.notes);
            body = with_bore.value;
            bore_told = bored.as_ref().map(|bored| bored.told.clone());
            told.extend(bored.iter().flat_map(|bored| bored.words.clone()));
            told.extend(
                wanted.hollow.iter().map(|hollow| exact(format!("hollow {} deep, walls of {}", hollow.depth.written, hollow.wall.written))),
            );
        }
        Err(error) => {
            let what = if wanted.hollow.is_some() { "The bore or the hollow" } else { "The bore" };
            let way_out = "Give another `bore_depth`, `fit` or `hollow` in [body].";
            sheet.warn("body", None, format!("{what} could not be made: {error}"), way_out);
        }
    }
    // What is cut into the turned shape, one after another: what can't be made is told and left out, the rest stands.
    let mut cuts = Vec::new();
    for (name, feature) in features::cuts(evidence, &wanted, bored.as_ref().filter(|_| bore_told.is_some()), &body, sheet) {
        cuts.extend(add(&mut body, sheet, name, feature));
    }
    if let Some(mark) = mark::mark(&wanted, &body, sheet) {
        cuts.extend(add(&mut body, sheet, "mark", Feature::Mark(mark)));
    }
    let carried = export::carried(&body);
    told.extend(cuts.iter().map(|feature| {
        let left = carried.left.iter().find(|(left, _)| left == feature).map(|(_, why)| *why);
        let why_not = left.filter(|why| *why != NotExact::MeshOnly).map(|why| why.to_string());
        FeatureResult { what: words(feature), exact: left.is_none(), why_not, turned: false }
    }));
    let step_volume_mm3 = (!carried.left.is_empty()).then(|| carried.body.volume_mm3());
    sheet.body = Some(BodyResult { bore: bore_told, features: told, step_volume_mm3, ..measured(evidence, &body) });
    route::work_out(evidence, &wanted, &body, sheet);
    Some(body)
}

/// Cuts it into the body, and gives it back; what can't be made is told and left out.
fn add(body: &mut Body, sheet: &mut JobResult, name: &str, feature: Feature) -> Option<Feature> {
    match body.with(feature.clone(), Limits::default()) {
        Ok(cut) => {
            *body = cut;
            Some(feature)
        }
        Err(error) => {
            let way_out = format!("Change or remove `{name}` in [body].");
            sheet.warn("body", None, format!("`{name}` could not be made and was left out: {error}"), way_out);
            None
        }
    }
}

fn words(feature: &Feature) -> String {
    match feature {
        Feature::Relief(relief) => relief.words(),
        Feature::CrossHole(hole) => hole.words(),
        Feature::Mark(mark) => mark.words(),
        Feature::Bore(_) => "bore".into(),
        Feature::Hollow(_) => "hollow".into(),
    }
}

fn exact(what: String) -> FeatureResult {
    FeatureResult { what, exact: true, why_not: None, turned: true }
}

/// The outside with its edges broken; one that can't be is told and left.
fn edges(wanted: &document::Body, meridian: &Meridian, sheet: &mut JobResult, told: &mut Vec<FeatureResult>) -> Vec<Piece> {
    let mut kept: Vec<solid::edge::Edge> = Vec::new();
    let mut pieces = meridian.pieces().to_vec();
    for (index, edge) in wanted.edge.iter().enumerate() {
        let Some((one, what)) = features::edge(edge) else { continue };
        let tried: Vec<solid::edge::Edge> = kept.iter().copied().chain([one]).collect();
        match solid::edge::broken(meridian.pieces(), &tried).and_then(|broken| {
            // Fillets may run into each other's sides: what comes out must still be a profile.
            Body::from_pieces(&broken, &[], Limits::default()).map(|_| broken)
        }) {
            Ok(broken) => {
                (pieces, kept) = (broken, tried);
                told.push(exact(what));
            }
            Err(error) => sheet.warn(
                "body",
                None,
                format!("Edge {} was left as it is: {error}", index + 1),
                "Change `at`, `diameter` or the size of this `edge` in [body].",
            ),
        }
    }
    pieces
}

/// Sizes of the body: of the plain turned shape in closed form, else by its mesh.
fn measured(evidence: &Evidence, body: &Body) -> BodyResult {
    let volume_mm3 = body.volume_mm3();
    let mesh = (!body.is_plain()).then(|| body.mesh(WEIGHED_CHORD_MM, solid::DEFAULT_TRIANGLE_LIMIT).ok()).flatten();
    let centre_mm = mesh.as_ref().map(|mesh| mesh.centre_mm()).filter(|centre| centre.iter().all(|x| x.is_finite()));
    let density_g_ml = evidence.document.resin.as_ref().and_then(|resin| resin.density_g_ml);
    BodyResult {
        volume_mm3,
        area_mm2: mesh.as_ref().map_or_else(|| body.area_mm2(), |mesh| mesh.area_mm2()),
        centre_z_mm: centre_mm.map_or_else(|| body.centre_of_mass_z_mm(), |centre| centre[2]),
        bounds_mm: body.bounds_mm(),
        mass_g: density_g_ml.map(|density| density * volume_mm3 * 1e-3),
        // A micrometre off the axis is the mesh's own error.
        centre_mm: centre_mm.filter(|centre| centre[0].hypot(centre[1]) > 1e-3),
        ..BodyResult::default()
    }
}

/// Mesh tolerance of the document.
pub(super) fn chord_mm(evidence: &Evidence) -> f64 {
    evidence.document.body.as_ref().and_then(|body| body.chord.as_ref()).map_or(CHORD_MM, |chord| chord.mm)
}
