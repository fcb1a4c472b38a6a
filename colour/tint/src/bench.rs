//! What stands on the bench: the resin, the colourants in their bottles, and the chips cured so far.

use crate::{Shelf, Surface, TintError, Twin};
use std::collections::BTreeMap;

/// Everything that is known about a pot before anything is learnt from it.
#[derive(Clone, Debug, PartialEq)]
pub struct Bench {
    /// What the tint goes into.
    pub resin: Resin,
    /// The bottles; at most 36, of which those with nothing left only explain chips.
    pub colourants: Vec<Colourant>,
    /// The cured chips; at most 200.
    pub chips: Vec<Chip>,
}

/// What the tint goes into, and how its chips are read.
#[derive(Clone, Debug, PartialEq)]
pub struct Resin {
    /// Thickness of chips, mm; `None`: so thick that the backing does not show.
    pub thickness_mm: Option<f64>,
    /// Behind the chips.
    pub backing: Backing,
    /// g/mL, where grams are used.
    pub density_g_ml: Option<f64>,
    /// Surface reflections; [`Surface::PLASTIC`] unless gloss was left out of the reading.
    pub surface: Surface,
}

/// What lies behind a chip.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Backing {
    /// White card: 0.85, known to 0.04 (uncoated paper and card; common practice, no source).
    White,
    /// Black card: 0.05, known to 0.02.
    Black,
    /// A reflectance 0..1, known to 0.01.
    Reflectance(f64),
}

/// A bottle.
#[derive(Clone, Debug, PartialEq)]
pub struct Colourant {
    /// Its name. A plain colour word in it is taken as a weak hint of its hue.
    pub name: String,
    /// Volume of a drop, uL.
    pub drop_ul: f64,
    /// Relative scatter of one drop.
    pub drop_cv: f64,
    /// Limit of the cure, percent of the total volume.
    pub max_percent: Option<f64>,
    /// g/mL, where grams are used.
    pub density_g_ml: Option<f64>,
    /// What is left in the bottle, mL; `None`: enough.
    pub stock_ml: Option<f64>,
    /// Smallest dose that makes sense, drops (1 if all do).
    pub least_drops: u32,
    /// What was learnt of it before, perhaps from another lot.
    pub shelf: Option<Shelf>,
    /// It is another lot of a colourant that stands on this bench too; then `shelf` is not looked at.
    pub twin: Option<Twin>,
}

impl Colourant {
    /// A bottle of which only the drop is known; scatter 0.05 (common practice for dropper bottles, no source; USP <1101> allows 0.15).
    pub fn new(name: impl Into<String>, drop_ul: f64) -> Colourant {
        Colourant {
            name: name.into(),
            drop_ul,
            drop_cv: 0.05,
            max_percent: None,
            density_g_ml: None,
            stock_ml: None,
            least_drops: 1,
            shelf: None,
            twin: None,
        }
    }
}

/// A cured and read chip.
#[derive(Clone, Debug, PartialEq)]
pub struct Chip {
    /// Its name.
    pub name: String,
    /// Bare resin that the doses went into, mL.
    pub volume_ml: f64,
    /// What went in.
    pub doses: BTreeMap<String, Dose>,
    /// How it looks.
    pub reading: Reading,
}

/// How much of a colourant.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Dose {
    /// Whole drops; their scatter is the bottle's.
    Drops(u32),
    /// Weighed in, with the standard uncertainty of the net weight.
    Grams {
        /// Net, g.
        g: f64,
        /// Standard uncertainty, g.
        sigma_g: f64,
    },
    /// By pipette.
    Millilitres {
        /// mL.
        ml: f64,
        /// Standard uncertainty, mL.
        sigma_ml: f64,
    },
}

/// A reading of a cured chip.
#[derive(Clone, Debug, PartialEq)]
pub enum Reading {
    /// Lab, D65, 2 degrees.
    Lab {
        /// The coordinates.
        lab: [f64; 3],
        /// Standard uncertainty of each.
        sigma: [f64; 3],
    },
    /// Reflectance at 400 to 700 nm by 10 nm.
    Spectrum {
        /// 31 values, 0..1.
        reflectance: Vec<f64>,
        /// Standard uncertainty of each value.
        sigma: f64,
    },
}

/// Volumes that go together, with their relative scatter; the bench's own units, ready for the optics.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Mix {
    pub resin_ml: f64,
    /// One a colourant, in the order of the bench.
    pub ml: Vec<f64>,
    /// Relative standard uncertainty of each dose.
    pub scatter: Vec<f64>,
}

impl Mix {
    pub(crate) fn of_drops(colourants: &[Colourant], resin_ml: f64, drops: &[u32]) -> Mix {
        let ml = colourants.iter().zip(drops).map(|(c, &n)| f64::from(n) * c.drop_ul * 1e-3).collect();
        let scatter = colourants.iter().zip(drops).map(|(c, &n)| if n == 0 { 0.0 } else { c.drop_cv / f64::from(n).sqrt() }).collect();
        Mix { resin_ml, ml, scatter }
    }

    pub(crate) fn total_ml(&self) -> f64 {
        self.resin_ml + self.ml.iter().sum::<f64>()
    }
}

const MOST_COLOURANTS: usize = 36;
const MOST_CHIPS: usize = 200;

impl Bench {
    /// Checks every number.
    ///
    /// # Errors
    /// The first value that cannot be, with its place.
    pub(crate) fn check(&self) -> Result<(), TintError> {
        limit("colourants", self.colourants.len(), MOST_COLOURANTS)?;
        limit("chips", self.chips.len(), MOST_CHIPS)?;
        if let Some(mm) = self.resin.thickness_mm {
            within("resin, thickness_mm", mm, 0.01..=1000.0, "0.01 to 1000 mm")?;
        }
        if let Backing::Reflectance(r) = self.resin.backing {
            within("resin, backing", r, 0.0..=1.0, "a reflectance from 0 to 1")?;
        }
        within("resin, surface k1", self.resin.surface.k1, 0.0..=0.5, "0 to 0.5")?;
        within("resin, surface k2", self.resin.surface.k2, 0.0..=0.95, "0 to 0.95")?;
        for (i, c) in self.colourants.iter().enumerate() {
            if self.colourants[..i].iter().any(|other| other.name == c.name) {
                return Err(TintError::TwoAlike { name: c.name.clone() });
            }
            c.check()?;
            if let Some(twin) = &c.twin {
                let place = format!("colourant `{}`, twin", c.name);
                within(&place, twin.strength_sigma, 0.0..=5.0, "0 to 5")?;
                within(&place, twin.ln_strength, -10.0..=10.0, "a logarithm from -10 to 10")?;
                let first = &self.colourants[self.index(&twin.of, &place)?];
                if first.twin.is_some() || first.name == c.name {
                    return Err(TintError::Fit { why: format!("{place}: `{}` is itself another lot; name the first one", twin.of) });
                }
            }
        }
        self.chips.iter().try_for_each(|chip| self.mix(chip).map(|_| ()).and_then(|()| chip.check_reading()))
    }

    /// The chip as volumes.
    pub(crate) fn mix(&self, chip: &Chip) -> Result<Mix, TintError> {
        let place = format!("chip `{}`", chip.name);
        within(&format!("{place}, volume_ml"), chip.volume_ml, 1e-3..=1e6, "0.001 to 1000000 mL")?;
        let n = self.colourants.len();
        let mut mix = Mix { resin_ml: chip.volume_ml, ml: vec![0.0; n], scatter: vec![0.0; n] };
        for (name, dose) in &chip.doses {
            let i = self.index(name, &place)?;
            let (ml, scatter) = self.colourants[i].volume(*dose, &place)?;
            (mix.ml[i], mix.scatter[i]) = (ml, scatter);
        }
        Ok(mix)
    }

    pub(crate) fn index(&self, name: &str, place: &str) -> Result<usize, TintError> {
        self.colourants.iter().position(|c| c.name == name).ok_or_else(|| TintError::UnknownColourant {
            place: place.into(),
            name: name.into(),
            known: self.colourants.iter().map(|c| c.name.as_str()).collect::<Vec<_>>().join(", "),
        })
    }
}

impl Colourant {
    fn check(&self) -> Result<(), TintError> {
        let place = |what: &str| format!("colourant `{}`, {what}", self.name);
        within(&place("drop_ul"), self.drop_ul, 1e-3..=1e5, "0.001 to 100000 uL")?;
        within(&place("drop_cv"), self.drop_cv, 0.0..=1.0, "0 to 1")?;
        if let Some(percent) = self.max_percent {
            within(&place("max_percent"), percent, 0.0..=100.0, "0 to 100 %")?;
        }
        if let Some(density) = self.density_g_ml {
            within(&place("density_g_ml"), density, 0.1..=25.0, "0.1 to 25 g/mL")?;
        }
        if let Some(ml) = self.stock_ml {
            within(&place("stock_ml"), ml, 0.0..=1e6, "0 to 1000000 mL")?;
        }
        self.shelf.as_ref().map_or(Ok(()), |shelf| shelf.check(&self.name))
    }

    /// mL and relative scatter of a dose.
    fn volume(&self, dose: Dose, place: &str) -> Result<(f64, f64), TintError> {
        let place = format!("{place}, `{}`", self.name);
        let relative = |amount: f64, sigma: f64| if amount > 0.0 { sigma / amount } else { 0.0 };
        match dose {
            Dose::Drops(n) => {
                within(&place, f64::from(n), 0.0..=1e6, "at most a million drops")?;
                Ok((f64::from(n) * self.drop_ul * 1e-3, if n == 0 { 0.0 } else { self.drop_cv / f64::from(n).sqrt() }))
            }
            Dose::Grams { g, sigma_g } => {
                within(&place, g, 0.0..=1e6, "0 to 1000000 g")?;
                within(&place, sigma_g, 0.0..=1e6, "an uncertainty of 0 or more")?;
                let density = self.density_g_ml.ok_or_else(|| TintError::NoDensity { place: place.clone(), name: self.name.clone() })?;
                Ok((g / density, relative(g, sigma_g)))
            }
            Dose::Millilitres { ml, sigma_ml } => {
                within(&place, ml, 0.0..=1e6, "0 to 1000000 mL")?;
                within(&place, sigma_ml, 0.0..=1e6, "an uncertainty of 0 or more")?;
                Ok((ml, relative(ml, sigma_ml)))
            }
        }
    }
}

impl Chip {
    fn check_reading(&self) -> Result<(), TintError> {
        let place = format!("chip `{}`, reading", self.name);
        match &self.reading {
            Reading::Lab { lab, sigma } => {
                within(&format!("{place}, L"), lab[0], -1.0..=120.0, "0 to 100")?;
                within(&format!("{place}, a"), lab[1], -200.0..=200.0, "-200 to 200")?;
                within(&format!("{place}, b"), lab[2], -200.0..=200.0, "-200 to 200")?;
                sigma.iter().try_for_each(|&s| within(&format!("{place}, sigma"), s, 0.0..=100.0, "0 to 100"))
            }
            Reading::Spectrum { reflectance, sigma } => {
                if reflectance.len() != crate::optics::BANDS {
                    return Err(TintError::SpectrumLength { place, found: reflectance.len() });
                }
                within(&format!("{place}, sigma"), *sigma, 0.0..=1.0, "0 to 1")?;
                reflectance.iter().try_for_each(|&r| within(&place, r, -0.05..=1.5, "a reflectance from 0 to 1"))
            }
        }
    }
}

pub(crate) fn within(place: &str, found: f64, range: std::ops::RangeInclusive<f64>, expected: &'static str) -> Result<(), TintError> {
    // A NaN is in no range.
    if range.contains(&found) { Ok(()) } else { Err(TintError::Value { place: place.into(), found, expected }) }
}

fn limit(what: &'static str, found: usize, most: usize) -> Result<(), TintError> {
    if found <= most { Ok(()) } else { Err(TintError::TooMany { what, found, most }) }
}
