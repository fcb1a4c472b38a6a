//! Colours that were read otherwise: Lab of either observer, spectra and Lab in the files that instruments write.

use super::Found;
use crate::chain::Says;
use crate::chain::evidence::Evidence;
use cie::{Lab, LabReading, Light, Observer, Weights};
use job::document::{NamedReading, Target};
use result::JobResult;
use target::ColourEstimate;
use tint::Reading;

/// Standard uncertainty of a colour given without one: between instruments of different make (common practice, no source).
const ENTERED_SIGMA: f64 = 0.5;
/// Spectrum readings: repeatability of a bench instrument (common practice, no source).
const SPECTRUM_SIGMA: f64 = 0.003;

/// A named reading as the colour for D65, 2 degrees.
pub(super) fn named(evidence: &Evidence, reading: &NamedReading, target: &Target, sheet: &mut JobResult) -> Result<Found, String> {
    let (read, spectrum) = match (&reading.spectrum, reading.lab) {
        (Some(file), _) => from_file(evidence, reading, file, sheet)?,
        (None, Some(lab)) => (LabReading { lab: lab.into(), light: light(reading)?, observer: observer(reading) }, None),
        (None, None) => return Err(format!("reading `{}` has no colour", reading.name)),
    };
    let (lab, guess) = cie::guess_reference(read).map_err(|e| format!("reading `{}`: {e}", reading.name))?;
    if guess.iter().any(|sigma| *sigma > 0.0) {
        sheet.warn(
            "colour",
            None,
            format!(
                "Reading `{}` is for {}, {}; for D65, 2 degrees it was guessed by way of a likely spectrum, right to about {:.1}, {:.1}, {:.1} in L*, a*, b*.",
                reading.name,
                read.light.name(),
                read.observer.words(),
                guess[0],
                guess[1],
                guess[2]
            ),
            "Its spectrum, or a reading for D65, 2 degrees, would settle it.",
        );
    }
    let sigma = given_or_usual(reading.sigma.or(target.sigma), "[[reading]] sigma", sheet);
    let estimate = ColourEstimate::entered(lab.array(), guess.map(|guess| guess.hypot(sigma))).map_err(|e| e.to_string())?;
    Ok(Found { spectrum, ..Found::of(estimate, reading.name.clone()) })
}

/// A colour written in the document. Without `sigma` it is the aim as it stands; how well it copies the original is another matter.
pub(super) fn entered(lab: [f64; 3], sigma: Option<f64>, sheet: &mut JobResult) -> Result<Found, String> {
    let estimate = ColourEstimate::entered(lab, [sigma.unwrap_or(ENTERED_SIGMA); 3]).map_err(|e| e.to_string())?;
    if sigma.is_none() {
        let text = format!(
            "The colour wanted is written without its doubt: recipes are judged against it as it stands, and against the original it is taken to be right to {ENTERED_SIGMA} in each of L*, a*, b* (one sigma)."
        );
        sheet.assume("colour", text, "[target] sigma");
    }
    Ok(Found { as_written: sigma.is_none(), ..Found::of(estimate, "the document".into()) })
}

fn given_or_usual(sigma: Option<f64>, switch: &str, sheet: &mut JobResult) -> f64 {
    sigma.unwrap_or_else(|| {
        sheet.assume("colour", format!("The entered colour is right to {ENTERED_SIGMA} in each of L*, a*, b* (one sigma)."), switch);
        ENTERED_SIGMA
    })
}

fn light(reading: &NamedReading) -> Result<Light, String> {
    reading.light.as_deref().map_or(Ok(Light::D65), |name| Light::by_name(name).map_err(|e| format!("reading `{}`: {e}", reading.name)))
}

fn observer(reading: &NamedReading) -> Observer {
    if reading.observer == Some(10) { Observer::TenDegree } else { Observer::TwoDegree }
}

/// The sample that is meant: its Lab exactly by its spectrum, else the Lab that the file holds, for the light and observer that the document or the file says.
fn from_file(
    evidence: &Evidence,
    reading: &NamedReading,
    file: &str,
    sheet: &mut JobResult,
) -> Result<(LabReading, Option<Vec<f64>>), String> {
    let sample = sample(evidence, file, reading.sample.as_deref())?;
    if let Some((nms, values)) = &sample.spectrum {
        let reference = Weights::new(Light::D65, Observer::TwoDegree, nms).and_then(|weights| weights.lab(values));
        let lab = reference.map_err(|e| format!("{file}: {e}"))?;
        return Ok((LabReading { lab, light: Light::D65, observer: Observer::TwoDegree }, at_working_wavelengths(nms, values)));
    }
    let lab: Lab = sample.lab.ok_or_else(|| format!("{file}: sample `{}` holds neither a spectrum nor a Lab", sample.name))?;
    let said_light = if reading.light.is_some() { Some(light(reading)?) } else { sample.light };
    let said_observer = if reading.observer.is_some() { Some(observer(reading)) } else { sample.observer };
    if said_light.is_none() || said_observer.is_none() {
        sheet.assume(
            "colour",
            format!("{file} does not say its light or observer; what it leaves out is taken for D65, 2 degrees."),
            "[[reading]] light, observer",
        );
    }
    Ok((LabReading { lab, light: said_light.unwrap_or(Light::D65), observer: said_observer.unwrap_or_default() }, None))
}

fn sample(evidence: &Evidence, file: &str, name: Option<&str>) -> Result<cie::Sample, String> {
    let text = evidence.spectra.get(file).ok_or_else(|| format!("{file} was not read"))?;
    let readings = cie::read_readings(text).map_err(|e| format!("{file}: {e}"))?;
    let names = || readings.samples.iter().take(20).map(|sample| sample.name.as_str()).collect::<Vec<_>>().join(", ");
    match (name, readings.samples.as_slice()) {
        (Some(name), samples) => samples
            .iter()
            .find(|sample| sample.name == name)
            .cloned()
            .ok_or_else(|| format!("{file}: no sample is named `{name}`; there are: {}", names())),
        (None, [only]) => Ok(only.clone()),
        (None, samples) => Err(format!("{file}: {} samples are in the file; name one with `sample`: {}", samples.len(), names())),
    }
}

/// A chip's spectrum from its file, as the pot's model takes it.
pub(in crate::chain) fn spectrum(evidence: &Evidence, file: &str) -> Result<Reading, String> {
    let sample = sample(evidence, file, None)?;
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
