//! What else is asked of a model: a recipe under other lights, what was known of it after each chip, strength against the shelf, absorption at the lamp.

use crate::bench::{Bench, Mix};
use crate::cure::Doubted;
use crate::forward::Eye;
use crate::goal::{Aim, Goal, Odds};
use crate::law_error::with_error;
use crate::learn::{Model, Prediction};
use crate::optics::{BANDS, Spectrum};
use crate::prior::nm;
use crate::{Recipe, Shelf, TintError};
use cie::Weights;
use nalgebra::DMatrix;

impl Recipe {
    /// Volumes of the recipe on its bench; grams go by density.
    fn mix(&self, bench: &Bench) -> Mix {
        let drops: Vec<u32> = bench.colourants.iter().map(|c| self.drops.get(&c.name).copied().unwrap_or(0)).collect();
        let mut mix = Mix::of_drops(&bench.colourants, self.volume_ml, &drops);
        for (i, colourant) in bench.colourants.iter().enumerate() {
            if let Some((g, density)) = self.grams.get(&colourant.name).zip(colourant.density_g_ml) {
                mix.ml[i] += g / density;
            }
        }
        mix
    }

    /// Colourants of the recipe, mL by name; grams go by density.
    pub fn colourants_ml(&self, bench: &Bench) -> Vec<(String, f64)> {
        let mix = self.mix(bench);
        bench.colourants.iter().zip(mix.ml).filter(|(_, ml)| *ml > 0.0).map(|(c, ml)| (c.name.clone(), ml)).collect()
    }
}

/// How well a recipe was known after so many chips.
#[derive(Clone, Debug, PartialEq)]
pub struct Known {
    /// Chips, in the order of the bench.
    pub chips: usize,
    /// Predicted CIEDE2000 from the target.
    pub de00: f64,
    /// Chance and bound.
    pub odds: Odds,
}

impl Model {
    /// The colour of a recipe under each of `lights`.
    pub fn predict_recipe(&self, recipe: &Recipe, lights: &[&Weights]) -> Prediction {
        let eyes: Vec<Eye> = lights.iter().map(|w| Eye::Lab(w)).collect();
        self.foretell(&recipe.mix(&self.bench), &eyes)
    }

    /// The colour of volumes that need not be whole drops, mL in the order of the bench's colourants.
    pub fn predict_ml(&self, resin_ml: f64, ml: &[f64], lights: &[&Weights]) -> Prediction {
        let eyes: Vec<Eye> = lights.iter().map(|w| Eye::Lab(w)).collect();
        let n = self.bench.colourants.len();
        let padded = (0..n).map(|i| ml.get(i).copied().unwrap_or(0.0).max(0.0)).collect();
        self.foretell(&Mix { resin_ml, ml: padded, scatter: vec![0.0; n] }, &eyes)
    }

    /// Reflectance of a recipe as the law tells it, surface and backing included.
    pub fn reflectance(&self, recipe: &Recipe) -> Spectrum {
        self.optics.reflectance(&recipe.mix(&self.bench))
    }

    /// What the colourants of a recipe add to the absorption of the layer at `lamp_nm`, per mm: K of the nearest band (400 to 700 nm).
    pub fn tint_absorption_mm(&self, recipe: &Recipe, lamp_nm: f64) -> f64 {
        let mix = recipe.mix(&self.bench);
        let band = (0..BANDS).min_by(|&a, &b| (nm(a) - lamp_nm).abs().total_cmp(&(nm(b) - lamp_nm).abs())).unwrap_or(0);
        let total = mix.total_ml();
        let one = |(pigment, ml): (&crate::forward::Pigment, &f64)| {
            let c = ml / total;
            c * pigment.strength(c) * pigment.k[band]
        };
        self.optics.colourants.iter().zip(&mix.ml).map(one).sum()
    }

    /// What was known of a recipe after each chip, in their order: the model is learnt anew from the first one, the first two, and so on, with
    /// the law's error as all chips together tell it. Of more than twelve chips twelve numbers are taken, evenly spread.
    ///
    /// # Errors
    /// A goal that cannot be, or a fit that breaks down.
    pub fn learning(&self, goal: &Goal, recipe: &Recipe) -> Result<Vec<Known>, TintError> {
        let aim = Aim::new(goal)?;
        let eyes = aim.eyes();
        let mut known = vec![];
        for chips in spread_out(self.bench.chips.len()) {
            let bench = Bench { chips: self.bench.chips[..chips].to_vec(), ..self.bench.clone() };
            let mix = recipe.mix(&bench);
            let all = chips == self.bench.chips.len();
            let prediction = if all { self.foretell(&mix, &eyes) } else { with_error(&bench, self.law_error())?.foretell(&mix, &eyes) };
            let odds = aim.odds(&prediction, goal.tolerance_de00);
            known.push(Known { chips, de00: aim.miss(prediction.lab.as_slice()), odds });
        }
        Ok(known)
    }

    /// What is now known of a colourant, as plain data for the shelf; `None` for a name that is not on the bench.
    ///
    /// Put it into [`crate::Colourant::shelf`] of a later job in another resin; for another lot raise `strength_sigma` to [`Shelf::NEW_LOT`] first. In the same
    /// resin take the chips themselves along: they also tell how strong colourant and resin are against each other, which this does not.
    pub fn shelf(&self, name: &str) -> Option<Shelf> {
        let i = self.bench.colourants.iter().position(|c| c.name == name)?;
        let block = &self.prior.colourants[i];
        let spread = block.by_unknowns(self.prior.count);
        let covariance = self.covariance_of(&spread);
        let rows =
            (0..covariance.nrows()).map(|r| (0..covariance.ncols()).map(|c| 0.5 * (covariance[(r, c)] + covariance[(c, r)])).collect());
        Some(Shelf { mean: block.natural(&self.u).iter().copied().collect(), covariance: rows.collect(), strength_sigma: 0.0 })
    }

    /// ln of another lot's strength against the first one's on this bench. `None` for what is no [`crate::Twin`].
    pub fn twin_strength(&self, name: &str) -> Option<Doubted> {
        let i = self.bench.colourants.iter().position(|c| c.name == name)?;
        let twin = self.bench.colourants[i].twin.as_ref()?;
        let sigma = twin.strength_sigma;
        let first = self.prior.colourants[i].first;
        let own = DMatrix::from_fn(1, self.prior.count, |_, column| if column == first { sigma } else { 0.0 });
        Some(Doubted { value: twin.ln_strength + sigma * self.u[first], sigma: self.covariance_of(&own)[(0, 0)].max(0.0).sqrt() })
    }

    /// Covariance, after the chips, of what moves with the unknowns as `spread` says.
    fn covariance_of(&self, spread: &DMatrix<f64>) -> DMatrix<f64> {
        let before = spread * spread.transpose();
        match &self.spread {
            Some(factor) => {
                let with_readings = spread * &self.by_unknowns;
                before - &with_readings * factor.solve(&with_readings.transpose())
            }
            None => before,
        }
    }
}

/// Whole numbers from 1 to `count`, at most twelve, evenly spread, `count` among them.
fn spread_out(count: usize) -> Vec<usize> {
    const MOST: usize = 12;
    if count <= MOST { (1..=count).collect() } else { (1..=MOST).map(|i| (i * count).div_ceil(MOST)).collect() }
}

impl Shelf {
    /// The same colourant in a lot that is stronger by the factor exp(`ln_strength`), known to `sigma`.
    pub fn of_strength(&self, ln_strength: f64, sigma: f64) -> Shelf {
        let mut other = self.clone();
        // ln absorption and ln scattering move together; loss by crowding does not.
        other.mean.iter_mut().take(BANDS + 1).for_each(|v| *v += ln_strength);
        other.strength_sigma = sigma;
        other
    }
}
