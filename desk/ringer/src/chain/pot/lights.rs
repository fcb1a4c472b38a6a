//! The best recipe beside the wanted colour under several lights, and what of their difference comes from the light.

use super::Worked;
use crate::chain::Says;
use crate::chain::colour::{Wanted, under};
use cie::{Light, Observer, SEEN_DE00, WORKING_NM, Weights, ciede2000};
use result::{JobResult, PairUnder};

pub(super) fn pairs(wanted: &Wanted, worked: &Worked, sheet: &mut JobResult) -> Vec<PairUnder> {
    let Some(best) = worked.recipes.first() else { return Vec::new() };
    let reflectance = worked.model.reflectance(best);
    let metamerism = |light: Light| {
        let spectrum = wanted.spectrum.as_deref()?;
        let pairs = cie::under_lights(&WORKING_NM, spectrum, &reflectance, &[light], Observer::TwoDegree).ok()?;
        pairs.first().map(|pair| pair.metamerism)
    };
    let pair = |light: &Light| {
        let weights = Weights::new(*light, Observer::TwoDegree, &WORKING_NM).ok()?;
        let lab = worked.model.predict_recipe(best, &[&weights]).lab;
        // As the part will be once it has drifted; the entered drift is taken alike under every light.
        let predicted: [f64; 3] = std::array::from_fn(|axis| lab[axis] + wanted.drift[axis]);
        let (seen, known) = under(wanted.lab, wanted.spectrum.as_deref(), *light);
        let seen = seen?;
        let screens = [seen, predicted].map(|lab| cie::proof(lab, *light, Observer::TwoDegree));
        Some(PairUnder {
            light: light.name().into(),
            words: light.words().trim_end_matches('.').into(),
            wanted: seen,
            predicted,
            de00: known.then(|| ciede2000(seen, predicted)),
            metamerism: if *light == Light::D65 { None } else { metamerism(*light) },
            srgb: screens.map(|screen| screen.hex()),
            out_of_gamut: screens.iter().any(|screen| screen.out_of_gamut),
        })
    };
    let pairs: Vec<PairUnder> = wanted.lights.iter().filter_map(pair).collect();
    if let Some(worst) = pairs.iter().filter(|pair| pair.metamerism.is_some_and(|index| index > SEEN_DE00)).max_by(|a, b| {
        let index = |pair: &PairUnder| pair.metamerism.unwrap_or(0.0);
        index(a).total_cmp(&index(b))
    }) {
        sheet.warn(
            "pot",
            None,
            format!(
                "Under {} ({}) the recipe parts from the wanted colour by {:.1} CIEDE2000 through the light alone: the two are metameric.",
                worst.light,
                worst.words,
                worst.metamerism.unwrap_or(0.0)
            ),
            "Colourants of another make absorb elsewhere in the spectrum; name this light in [target] lights to have it counted.",
        );
    }
    pairs
}
