//! The colour wanted under several lights: exactly where its spectrum is known, a guess where only its Lab is.

use crate::chain::Says;
use cie::{Lab, Light, Observer, WORKING_NM, Weights};
use job::document::Target;
use result::{JobResult, WantedUnder};

/// Shown where the document chooses none: daylight, a lamp with a filament, and the LED of a room (CIE LED-B3, 4100 K).
const SHOWN: [Light; 3] = [Light::D65, Light::A, Light::LedB3];

/// The lights to show, D65 first, each once; and whether the document chose them.
pub(super) fn chosen(target: Option<&Target>, sheet: &mut JobResult) -> (Vec<Light>, bool) {
    let names = target.map_or(&[][..], |target| &target.lights);
    if names.is_empty() {
        return (SHOWN.to_vec(), false);
    }
    let mut lights = vec![Light::D65];
    for name in names {
        match Light::by_name(name) {
            Ok(light) if lights.contains(&light) => {}
            Ok(light) => lights.push(light),
            Err(error) => sheet.warn("colour", None, format!("A light was left out: {error}"), "Correct [target] lights."),
        }
    }
    (lights, true)
}

/// The wanted colour under one light, and whether it is known.
pub(in crate::chain) fn under(lab: [f64; 3], spectrum: Option<&[f64]>, light: Light) -> (Option<[f64; 3]>, bool) {
    if light == Light::D65 {
        return (Some(lab), true);
    }
    let known = spectrum.and_then(|spectrum| Weights::new(light, Observer::TwoDegree, &WORKING_NM).ok()?.lab(spectrum).ok());
    match known {
        Some(there) => {
            // What the spectrum leaves to the wanted Lab (a place between two spectra does not lie quite straight between their Labs) moves along.
            let here = spectrum.and_then(|spectrum| cie::working().lab(spectrum).ok()).map_or(lab, Lab::array);
            (Some(std::array::from_fn(|axis| there.array()[axis] + lab[axis] - here[axis])), true)
        }
        None => (cie::guess_under(Lab::from(lab), light).ok().map(Lab::array), false),
    }
}

pub(super) fn told(lab: [f64; 3], spectrum: Option<&[f64]>, lights: &[Light]) -> Vec<WantedUnder> {
    let one = |light: &Light| {
        let (lab, known) = under(lab, spectrum, *light);
        let lab = lab?;
        let screen = cie::proof(lab, *light, Observer::TwoDegree);
        Some(WantedUnder {
            light: light.name().into(),
            words: light.words().trim_end_matches('.').into(),
            lab,
            known,
            srgb: screen.hex(),
            out_of_gamut: screen.out_of_gamut,
        })
    };
    lights.iter().filter_map(one).collect()
}
