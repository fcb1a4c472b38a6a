//! Station colour: grey patches, part and chips in photos, readings -> the colour wanted, with doubt and age.

use super::Says;
use super::evidence::{Evidence, PhotoEvidence};
use super::shape::Shape;
use crate::progress::Progress;
use job::document::{NamedReading, Pixel, Sample, Target};
use quantity::Noted;
use result::{ColourResult, JobResult};
use target::{Axis, ColourEstimate, ColourReading, KnownPatch, NeutralPatch, PartView, Polygon};
use tint::Reading;

/// The colour wanted, as the pot takes it.
pub(super) struct Wanted {
    /// CIELAB, D65, 2 degrees.
    pub lab: [f64; 3],
    /// Its doubt.
    pub covariance: [[f64; 3]; 3],
}

/// Standard uncertainty of a colour given without one: between instruments of different make (common practice, no source).
const ENTERED_SIGMA: f64 = 0.5;
/// Spectrum readings: repeatability of a bench instrument (common practice, no source).
const SPECTRUM_SIGMA: f64 = 0.003;

pub(super) fn work_out(evidence: &Evidence, shape: Option<&Shape>, sheet: &mut JobResult, progress: &Progress) -> Option<Wanted> {
    progress.step("reading the colour");
    match wanted(evidence, shape, sheet) {
        Err(why) => {
            sheet.missing("colour", &why);
            None
        }
        Ok((estimate, source)) => {
            let shown = cie::screen(estimate.lab);
            sheet.colour = Some(ColourResult {
                lab: estimate.lab,
                sigma: estimate.sigma(),
                srgb: shown.hex(),
                source,
                out_of_gamut: shown.out_of_gamut,
            });
            Some(Wanted { lab: estimate.lab, covariance: estimate.covariance })
        }
    }
}

/// The colour that the document wants, or without its word the one that the photos show; with its source in words.
fn wanted(evidence: &Evidence, shape: Option<&Shape>, sheet: &mut JobResult) -> Result<(ColourEstimate, String), String> {
    let Some(target) = &evidence.document.target else {
        let told = from_photos(evidence, shape, sheet)?;
        sheet.assume("colour", "The colour wanted is the one that the photos show.", "[target]");
        return Ok(told);
    };
    if let Some(lab) = target.lab {
        return entered(lab, target.sigma, "[target] sigma", sheet).map(|estimate| (estimate, "the document".into()));
    }
    if let Some(age) = &target.age {
        let (new, now) = (named(evidence, shape, &age.new, target, sheet)?, named(evidence, shape, &age.now, target, sheet)?);
        let estimate = target::aged(&new, &now, age.share).map_err(|e| e.to_string())?;
        return Ok((estimate, format!("{:.0} % of the way from {} to {}", 100.0 * age.share, age.new, age.now)));
    }
    match target.from.as_deref() {
        None | Some("photo") => from_photos(evidence, shape, sheet),
        Some(name) => named(evidence, shape, name, target, sheet).map(|estimate| (estimate, name.to_string())),
    }
}

fn named(evidence: &Evidence, shape: Option<&Shape>, name: &str, target: &Target, sheet: &mut JobResult) -> Result<ColourEstimate, String> {
    if let Some(reading) = evidence.document.reading.iter().find(|reading| reading.name == name) {
        return entered_reading(reading, target, sheet);
    }
    let photo = evidence.photo(name).ok_or_else(|| format!("`{name}` is neither a photo nor a reading"))?;
    let reading = in_photo(evidence, shape, photo)?;
    sheet.warn_all("colour", Some(name), &reading.notes);
    Ok(reading.value.estimate())
}

fn entered_reading(reading: &NamedReading, target: &Target, sheet: &mut JobResult) -> Result<ColourEstimate, String> {
    entered(reading.lab, reading.sigma.or(target.sigma), "[[reading]] sigma", sheet)
}

fn entered(lab: [f64; 3], sigma: Option<f64>, switch: &str, sheet: &mut JobResult) -> Result<ColourEstimate, String> {
    let sigma = sigma.unwrap_or_else(|| {
        sheet.assume("colour", format!("The entered colour is right to {ENTERED_SIGMA} in each of L*, a*, b* (one sigma)."), switch);
        ENTERED_SIGMA
    });
    ColourEstimate::entered(lab, [sigma; 3]).map_err(|e| e.to_string())
}

/// All photos that can tell, joined.
fn from_photos(evidence: &Evidence, shape: Option<&Shape>, sheet: &mut JobResult) -> Result<(ColourEstimate, String), String> {
    let telling: Vec<&PhotoEvidence> =
        evidence.photos.iter().filter(|photo| evidence.entry(photo).made.is_none() && !grey_or_known(evidence, photo).is_empty()).collect();
    if telling.is_empty() {
        return Err("no neutral patch and no reading".into());
    }
    let (mut readings, mut names, mut refusals) = (Vec::new(), Vec::new(), Vec::new());
    for photo in telling {
        let name = &evidence.entry(photo).name;
        match in_photo(evidence, shape, photo) {
            Err(why) => refusals.push(format!("{name}: {why}")),
            Ok(reading) => {
                sheet.warn_all("colour", Some(name), &reading.notes);
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
    Ok((joined.value, names.join(", ")))
}

fn grey_or_known(evidence: &Evidence, photo: &PhotoEvidence) -> Vec<Pixel> {
    let entry = evidence.entry(photo);
    entry
        .neutral
        .iter()
        .flat_map(|neutral| neutral.polygon.clone())
        .chain(entry.patch.iter().flat_map(|patch| patch.polygon.clone()))
        .collect()
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
            .collect::<Result<_, String>>()?;
        Ok(LightEvidence { neutral, patches })
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

/// A chip's spectrum from its file, as the pot's model takes it.
pub(super) fn spectrum(evidence: &Evidence, file: &str) -> Result<Reading, String> {
    let text = evidence.spectra.get(file).ok_or_else(|| format!("{file} was not read"))?;
    let readings = cie::read_readings(text).map_err(|e| format!("{file}: {e}"))?;
    let [sample] = readings.samples.as_slice() else {
        return Err(format!("{file}: {} samples are in the file; one was expected", readings.samples.len()));
    };
    let (nms, values) = sample.spectrum.as_ref().ok_or_else(|| format!("{file}: it holds no spectrum"))?;
    Ok(Reading::Spectrum {
        reflectance: at_working_wavelengths(nms, values).ok_or_else(|| format!("{file}: the spectrum must reach from 400 to 700 nm"))?,
        sigma: SPECTRUM_SIGMA,
    })
}

/// Straight between neighbours; readings are 10 or 20 nm apart, over which resin colours bend little.
fn at_working_wavelengths(nms: &[f64], values: &[f64]) -> Option<Vec<f64>> {
    let at = |nm: f64| {
        let after = nms.iter().position(|known| *known >= nm)?;
        if after == 0 {
            return (nms[0] - nm < 1e-6).then(|| values[0]);
        }
        let t = (nm - nms[after - 1]) / (nms[after] - nms[after - 1]);
        Some(values.get(after - 1)? * (1.0 - t) + values.get(after)? * t)
    };
    cie::WORKING_NM.iter().map(|nm| at(*nm)).collect()
}

/// A chip that lies in a photo with a grey patch.
pub(super) fn chip_in_photo(evidence: &Evidence, index: usize, sample: &Sample) -> Result<Reading, String> {
    let region = sample.region.as_ref().ok_or_else(|| format!("sample {} has no reading", index + 1))?;
    let photo = evidence.photo(&region.photo).ok_or_else(|| format!("no photo is named `{}`", region.photo))?;
    let spot = polygon(&region.polygon, &sample.name)?;
    let light = LightEvidence::of(evidence, photo)?;
    let view = light.view(photo, &region.photo, &spot, None, None, None);
    let read = target::read_patch(&view, &spot, &sample.name).map_err(|e| format!("sample `{}`: {e}", sample.name))?;
    Ok(Reading::Lab { lab: read.value.lab, sigma: sample.sigma.map_or(read.value.sigma, |sigma| [sigma; 3]) })
}
