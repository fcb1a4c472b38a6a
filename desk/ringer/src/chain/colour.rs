//! Station colour: grey patches, part and chips in photos, readings -> the colour wanted, with doubt and age.

mod beside;
mod lights;
mod readings;

pub(super) use lights::under;
pub(super) use readings::spectrum;

use super::Says;
use super::evidence::{Evidence, PhotoEvidence};
use super::shape::Shape;
use crate::progress::Progress;
use cie::Light;
use job::document::{Age, Pixel, Sample, SampleRegion, Target};
use quantity::Noted;
use result::{AgePath, AimResult, BesideResult, ColourResult, JobResult, NamedColour};
use target::{Axis, ColourEstimate, ColourReading, Drift, KnownPatch, NeutralPatch, PartView, Polygon};
use tint::Reading;

/// The colour wanted, as the pot takes it.
pub(super) struct Wanted {
    /// CIELAB, D65, 2 degrees.
    pub lab: [f64; 3],
    /// What the pot aims at under each light that counts, D65 first: the wanted colour less all drift.
    pub aims: Vec<(Light, [f64; 3])>,
    /// All drift together: the wanted colour less the aim.
    pub drift: [f64; 3],
    /// Doubt of the aim as the pot counts it.
    pub covariance: [[f64; 3]; 3],
    /// Reflectance at the working wavelengths, where a reading tells it.
    pub spectrum: Option<Vec<f64>>,
    /// Lights to show, D65 first.
    pub lights: Vec<Light>,
}

/// A colour found, with what else is known of it.
pub(super) struct Found {
    estimate: ColourEstimate,
    source: String,
    spectrum: Option<Vec<f64>>,
    spread: Option<[f64; 3]>,
    path: Option<AgePath>,
    /// A colour that is wanted as it is written, whatever it was read from: the pot counts no doubt of it.
    as_written: bool,
}

impl Found {
    fn of(estimate: ColourEstimate, source: String) -> Found {
        Found { estimate, source, spectrum: None, spread: None, path: None, as_written: false }
    }
}

pub(super) fn work_out(evidence: &Evidence, shape: Option<&Shape>, sheet: &mut JobResult, progress: &Progress) -> Option<Wanted> {
    progress.step("reading the colour");
    let mut beside = Vec::new();
    match wanted(evidence, shape, sheet, &mut beside) {
        Err(why) => {
            sheet.missing("colour", &why);
            None
        }
        Ok(found) => told(evidence, found, beside, sheet),
    }
}

/// Counts the drift in, and says the colour under its lights.
fn told(evidence: &Evidence, found: Found, beside: Vec<BesideResult>, sheet: &mut JobResult) -> Option<Wanted> {
    let target = evidence.document.target.as_ref();
    let (lights, chosen) = lights::chosen(target, sheet);
    let drifts: Vec<Drift> = target.map_or(Vec::new(), |target| target.drift.iter().map(drift).collect());
    let aim = match target::aim_for(&found.estimate, &drifts) {
        Ok(aim) => aim,
        Err(error) => {
            sheet.missing("colour", &error.to_string());
            return None;
        }
    };
    let (lab, shown, spectrum) = (found.estimate.lab, cie::screen(found.estimate.lab), found.spectrum);
    if chosen && lights.len() > 1 && spectrum.is_none() {
        sheet.warn(
            "colour",
            None,
            "Only the Lab of the colour wanted is known, so how it looks under other lights is a guess, and recipes are scored under D65 alone.",
            "A spectrum of it (`[[reading]] spectrum`) would settle it.",
        );
    }
    let moved: [f64; 3] = std::array::from_fn(|axis| aim.lab[axis] - lab[axis]);
    let counted = |light: &&Light| **light == Light::D65 || (chosen && spectrum.is_some());
    let aimed = |light: &Light| {
        let under = lights::under(lab, spectrum.as_deref(), *light).0?;
        Some((*light, std::array::from_fn(|axis| under[axis] + moved[axis])))
    };
    let aims = lights.iter().filter(counted).filter_map(aimed).collect();
    sheet.colour = Some(ColourResult {
        lab,
        sigma: found.estimate.sigma(),
        srgb: shown.hex(),
        source: found.source,
        out_of_gamut: shown.out_of_gamut,
        spread: found.spread,
        path: found.path,
        aim: (!drifts.is_empty()).then(|| AimResult {
            lab: aim.lab,
            sigma: aim.sigma(),
            drifts: drifts.iter().map(|drift| (drift.lab, drift.sigma[0], drift.source.clone())).collect(),
        }),
        lights: lights::told(lab, spectrum.as_deref(), &lights),
        beside,
    });
    // What stays of the aim's doubt when the colour itself is wanted as written: the drift's.
    let own = |r: usize, c: usize| if found.as_written { found.estimate.covariance[r][c] } else { 0.0 };
    let covariance = std::array::from_fn(|r| std::array::from_fn(|c| aim.covariance[r][c] - own(r, c)));
    Some(Wanted { lab, aims, drift: moved.map(|v| -v), covariance, spectrum, lights })
}

fn drift(entered: &job::document::Drift) -> Drift {
    Drift { lab: entered.lab, sigma: [entered.sigma; 3], source: entered.source.clone() }
}

/// The colour that the document wants, or without its word the one that the photos show; with its source in words.
fn wanted(evidence: &Evidence, shape: Option<&Shape>, sheet: &mut JobResult, beside: &mut Vec<BesideResult>) -> Result<Found, String> {
    let Some(target) = &evidence.document.target else {
        let told = from_photos(evidence, shape, sheet, beside)?;
        sheet.assume("colour", "The colour wanted is the one that the photos show.", "[target]");
        return Ok(told);
    };
    if let Some(lab) = target.lab {
        return readings::entered(lab, target.sigma, sheet);
    }
    if let Some(age) = &target.age {
        let new = named(evidence, shape, &age.new, target, sheet, beside)?;
        let now = named(evidence, shape, &age.now, target, sheet, beside)?;
        return between(&new, &now, age, sheet);
    }
    match target.from.as_deref() {
        None | Some("photo") => from_photos(evidence, shape, sheet, beside),
        Some(name) => named(evidence, shape, name, target, sheet, beside),
    }
}

/// The person's place on the way from one evidence to the other.
fn between(new: &Found, now: &Found, age: &Age, sheet: &mut JobResult) -> Result<Found, String> {
    let estimate = target::aged(&new.estimate, &now.estimate, age.share).map_err(|e| e.to_string())?;
    let end = |name: &str, found: &Found| NamedColour { name: name.into(), lab: found.estimate.lab, sigma: found.estimate.sigma() };
    let path = AgePath {
        new: end(&age.new, new),
        now: end(&age.now, now),
        share: age.share,
        de00: cie::ciede2000(new.estimate.lab, now.estimate.lab),
    };
    let share = age.share;
    let spectrum = new.spectrum.as_ref().zip(now.spectrum.as_ref()).map(|(new, now)| {
        if share > 0.0 && share < 1.0 {
            let text = "Between the two evidences each wavelength is taken straight from one to the other.";
            sheet.assume("colour", text, "[target] age");
        }
        new.iter().zip(now).map(|(new, now)| (1.0 - share) * new + share * now).collect()
    });
    let spread = if share <= 0.0 { new.spread } else { now.spread };
    let source = format!("{:.0} % of the way from {} to {}", 100.0 * age.share, age.new, age.now);
    Ok(Found { path: Some(path), spectrum, spread, ..Found::of(estimate, source) })
}

fn named(
    evidence: &Evidence,
    shape: Option<&Shape>,
    name: &str,
    target: &Target,
    sheet: &mut JobResult,
    beside: &mut Vec<BesideResult>,
) -> Result<Found, String> {
    if let Some(reading) = evidence.document.reading.iter().find(|reading| reading.name == name) {
        return readings::named(evidence, reading, target, sheet);
    }
    let photo = evidence.photo(name).ok_or_else(|| format!("`{name}` is neither a photo nor a reading"))?;
    let reading = in_photo(evidence, shape, photo)?;
    sheet.warn_all("colour", Some(name), &reading.notes);
    let found = Found { spread: Some(reading.value.mottle), ..Found::of(reading.value.estimate(), name.to_string()) };
    Ok(beside::by_chips(evidence, photo, &reading.value, found, sheet, beside))
}

/// All photos that can tell, joined.
fn from_photos(evidence: &Evidence, shape: Option<&Shape>, sheet: &mut JobResult, beside: &mut Vec<BesideResult>) -> Result<Found, String> {
    let telling: Vec<&PhotoEvidence> =
        evidence.photos.iter().filter(|photo| evidence.entry(photo).made.is_none() && has_light(evidence, photo)).collect();
    if telling.is_empty() {
        return Err("no neutral patch and no reading".into());
    }
    let (mut readings, mut names, mut refusals) = (Vec::new(), Vec::new(), Vec::new());
    let mut by_chips: Vec<Found> = Vec::new();
    for photo in telling {
        let name = &evidence.entry(photo).name;
        match in_photo(evidence, shape, photo) {
            Err(why) => refusals.push(format!("{name}: {why}")),
            Ok(reading) => {
                sheet.warn_all("colour", Some(name), &reading.notes);
                let alone = Found::of(reading.value.estimate(), name.clone());
                by_chips.push(beside::by_chips(evidence, photo, &reading.value, alone, sheet, beside));
                readings.push(reading.value);
                names.push(name.clone());
            }
        }
    }
    if readings.is_empty() {
        return Err(refusals.join("; "));
    }
    for refusal in refusals {
        sheet.warn(
            "colour",
            None,
            format!("A photo was left out: {refusal}"),
            "Take it again in one even light, exposed so that nothing is burnt out.",
        );
    }
    let joined = target::combine(&readings).map_err(|e| e.to_string())?;
    sheet.warn_all("colour", None, &joined.notes);
    // Spots and photos vary by the original's own mottle: the widest seen is told.
    let spread = readings.iter().map(|reading| reading.mottle).reduce(|a, b| std::array::from_fn(|axis| a[axis].max(b[axis])));
    let joined = Found { spread, ..Found::of(joined.value, names.join(", ")) };
    Ok(beside::surest(joined, by_chips))
}

/// Whether anything in the photo tells its light: a grey patch, a patch or a chip of known colour.
fn has_light(evidence: &Evidence, photo: &PhotoEvidence) -> bool {
    let entry = evidence.entry(photo);
    entry.neutral.is_some() || !entry.patch.is_empty() || beside::known_in(evidence, &entry.name).next().is_some()
}

/// The part's colour in one photo; where no rod is shown, the marked region is a flat spot that lies as the card does.
fn in_photo(evidence: &Evidence, shape: Option<&Shape>, photo: &PhotoEvidence) -> Result<Noted<ColourReading>, String> {
    let entry = evidence.entry(photo);
    let region = entry.colour_region.as_ref().map(|points| polygon(points, "colour_region")).transpose()?;
    let outline = shape
        .and_then(|shape| shape.outlines.iter().find(|(index, _)| *index == photo.index))
        .and_then(|(_, found)| found.as_ref().as_ref().ok());
    let light = LightEvidence::of(evidence, photo)?;
    match (outline, region) {
        (Some(outline), region) => {
            let points: Vec<Pixel> = outline.value.part.iter().map(|p| p.at_px).collect();
            let outline_polygon = polygon(&points, "the part's outline")?;
            let pose = shape.and_then(|shape| {
                shape.profile.as_ref()?.as_ref().as_ref().ok()?.value.poses.iter().find(|pose| pose.name == entry.name).cloned()
            });
            let axis = Axis {
                rod_entry: outline.value.axis.rod_entry,
                free_end: outline.value.axis.free_end,
                tilt_deg: pose.as_ref().map(|pose| pose.tilt_deg.0),
            };
            let view = light.view(photo, &entry.name, &outline_polygon, Some(axis), pose.map(|pose| pose.focal_px.0), region.as_ref());
            target::read_part(&view).map_err(|e| e.to_string())
        }
        // A part is round; only where no part is shown does a marked region lie flat as the card does.
        (None, Some(region)) if entry.shaft.is_none() => {
            let view = light.view(photo, &entry.name, &region, None, None, None);
            target::read_patch(&view, &region, "the marked region").map_err(|e| e.to_string())
        }
        (None, region) => {
            let axis = entry.axis.map(|[rod_entry, free_end]| Axis { rod_entry, free_end, tilt_deg: None });
            let spot = match (region, axis) {
                (Some(region), _) => region,
                (None, Some(axis)) => axis.strip().map_err(|e| e.to_string())?,
                (None, None) => {
                    return Err("where to read the colour is not known: no outline was found, and no `colour_region` is given".into());
                }
            };
            target::read_spot(&light.view(photo, &entry.name, &spot, axis, None, None)).map_err(|e| e.to_string())
        }
    }
}

/// What is known of the light in a photo.
struct LightEvidence {
    neutral: Option<NeutralPatch>,
    patches: Vec<KnownPatch>,
}

impl LightEvidence {
    fn of(evidence: &Evidence, photo: &PhotoEvidence) -> Result<Self, String> {
        let entry = evidence.entry(photo);
        let neutral = match &entry.neutral {
            None => None,
            Some(neutral) => Some(NeutralPatch { polygon: polygon(&neutral.polygon, "the grey patch")?, reflectance: neutral.reflectance }),
        };
        let patches = entry
            .patch
            .iter()
            .map(|patch| Ok(KnownPatch { polygon: polygon(&patch.polygon, "a patch of known colour")?, lab: patch.lab }))
            .collect::<Result<Vec<_>, String>>()?;
        if neutral.is_some() || !patches.is_empty() {
            return Ok(LightEvidence { neutral, patches });
        }
        // Nothing else tells the light: chips read by an instrument do.
        let chips = beside::known_in(evidence, &entry.name)
            .map(|(region, lab, name)| Ok(KnownPatch { polygon: polygon(&region.polygon, name)?, lab }))
            .collect::<Result<_, String>>()?;
        Ok(LightEvidence { neutral, patches: chips })
    }

    fn view<'a>(
        &'a self,
        photo: &'a PhotoEvidence,
        name: &'a str,
        outline: &'a Polygon,
        axis: Option<Axis>,
        focal_px: Option<f64>,
        region: Option<&'a Polygon>,
    ) -> PartView<'a> {
        PartView {
            picture: &photo.photo.picture,
            name,
            outline,
            axis,
            focal_px,
            region,
            neutral: self.neutral.as_ref(),
            patches: &self.patches,
        }
    }
}

fn polygon(points: &[Pixel], what: &str) -> Result<Polygon, String> {
    Polygon::new(points, what).map_err(|e| e.to_string())
}

/// A chip that lies in a photo with a grey patch.
pub(super) fn chip_in_photo(evidence: &Evidence, index: usize, sample: &Sample) -> Result<Reading, String> {
    let region = sample.region.as_ref().ok_or_else(|| format!("sample {} has no reading", index + 1))?;
    let photo = evidence.photo(&region.photo).ok_or_else(|| format!("no photo is named `{}`", region.photo))?;
    let read = chip_reading(evidence, photo, region, &sample.name)?;
    Ok(Reading::Lab { lab: read.lab, sigma: sample.sigma.map_or(read.sigma, |sigma| [sigma; 3]) })
}

fn chip_reading(evidence: &Evidence, photo: &PhotoEvidence, region: &SampleRegion, name: &str) -> Result<ColourReading, String> {
    let spot = polygon(&region.polygon, name)?;
    let light = LightEvidence::of(evidence, photo)?;
    let view = light.view(photo, &region.photo, &spot, None, None, None);
    Ok(target::read_patch(&view, &spot, name).map_err(|e| format!("sample `{name}`: {e}"))?.value)
}
