//! Part and chip in one photo: their difference is read directly, and it is surer than either reading.

use super::{Found, chip_reading};
use crate::chain::Says;
use crate::chain::evidence::{Evidence, PhotoEvidence};
use job::document::SampleRegion;
use quantity::Note;
use result::{BesideResult, JobResult};
use target::{ColourEstimate, ColourReading};

/// Standard uncertainty of a chip's own reading where none is given: repeat readings of a good instrument (common practice, no source).
const CHIP_SIGMA: f64 = 0.3;

/// Chips in this photo that were also read by an instrument: where, their Lab, their name.
pub(super) fn known_in<'a>(evidence: &'a Evidence, photo: &'a str) -> impl Iterator<Item = (&'a SampleRegion, [f64; 3], &'a str)> {
    evidence.document.sample.iter().filter_map(move |sample| {
        let region = sample.region.as_ref().filter(|region| region.photo == photo)?;
        Some((region, own_lab(evidence, sample)?, sample.name.as_str()))
    })
}

fn own_lab(evidence: &Evidence, sample: &job::document::Sample) -> Option<[f64; 3]> {
    let of_file = |file: &String| match super::spectrum(evidence, file) {
        Ok(tint::Reading::Spectrum { reflectance, .. }) => cie::working().lab(&reflectance).ok().map(cie::Lab::array),
        _ => None,
    };
    sample.lab.or_else(|| sample.spectrum.as_ref().and_then(of_file))
}

/// Reads every chip beside the part against it, and takes the part's colour from a chip that an instrument read if that is surer than the
/// photo alone.
pub(super) fn by_chips(
    evidence: &Evidence,
    photo: &PhotoEvidence,
    part: &ColourReading,
    alone: Found,
    sheet: &mut JobResult,
    told: &mut Vec<BesideResult>,
) -> Found {
    let name = evidence.entry(photo).name.clone();
    let mut best = alone;
    for sample in &evidence.document.sample {
        let Some(region) = sample.region.as_ref().filter(|region| region.photo == name) else { continue };
        if told.iter().any(|one| one.photo == name && one.chip == sample.name) {
            continue;
        }
        let difference =
            chip_reading(evidence, photo, region, &sample.name).and_then(|chip| target::difference(part, &chip).map_err(|e| e.to_string()));
        let difference = match difference {
            Ok(difference) => difference,
            Err(why) => {
                let way_out = "Mark the chip's flat, evenly lit middle.";
                sheet.warn("colour", Some(&name), format!("Chip {} could not be read beside the part: {why}", sample.name), way_out);
                continue;
            }
        };
        sheet.warn_all("colour", Some(&name), &difference.notes);
        let mut one = BesideResult {
            photo: name.clone(),
            chip: sample.name.clone(),
            lab: difference.lab,
            sigma: difference.sigma,
            de00: difference.de00,
            words: cie::direction(part.lab, std::array::from_fn::<f64, 3, _>(|axis| part.lab[axis] + difference.lab[axis])),
            used: false,
        };
        if let Some(own) = own_lab(evidence, sample) {
            let sigma = sample.sigma.unwrap_or(CHIP_SIGMA);
            let lab = std::array::from_fn(|axis| own[axis] - difference.lab[axis]);
            let mut covariance = difference.covariance;
            (0..3).for_each(|axis| covariance[axis][axis] += sigma * sigma);
            let estimate = ColourEstimate { lab, covariance };
            if total(&estimate) < total(&best.estimate) {
                told.iter_mut().filter(|other| other.photo == name).for_each(|other| other.used = false);
                one.used = true;
                let source = format!("{name}, against chip {}", sample.name);
                best = Found { spread: best.spread, ..Found::of(estimate, source) };
            }
        }
        told.push(one);
    }
    teach(evidence, photo, &name, told, sheet);
    best
}

/// Says how to lessen the doubt where a part was read without a chip beside it.
fn teach(evidence: &Evidence, photo: &PhotoEvidence, name: &str, told: &[BesideResult], sheet: &mut JobResult) {
    const ALONE: &str = "The part was read by itself: lamp, camera and card all add their doubt.";
    let said = sheet.warnings.iter().any(|warning| warning.text == ALONE);
    if said || told.iter().any(|one| one.photo == name) || evidence.entry(photo).made.is_some() {
        return;
    }
    let note = Note::new(
        ALONE,
        "Lay a cured chip of nearly its colour beside it, in one light, and mark it with `region` in its [[sample]]: the difference of the two is surer than either. Best of all is a chip that an instrument has read (`lab` beside `region`).",
    );
    sheet.warn_all("colour", Some(name), &[note]);
}

/// The joined reading of all photos, or the reading against a chip, whichever is known better.
pub(super) fn surest(joined: Found, by_chips: Vec<Found>) -> Found {
    let spread = joined.spread;
    let best = by_chips.into_iter().fold(joined, |best, one| if total(&one.estimate) < total(&best.estimate) { one } else { best });
    Found { spread, ..best }
}

fn total(estimate: &ColourEstimate) -> f64 {
    (0..3).map(|axis| estimate.covariance[axis][axis]).sum()
}
