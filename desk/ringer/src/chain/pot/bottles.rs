//! What stands on the bench: resin, bottles with what the shelf knows of them, chips with their readings.

use super::shelf::{self, Origin, uses};
use crate::chain::Says;
use crate::chain::evidence::Evidence;
use cie::Lab;
use job::document::{Backing, BackingName, Colourant, Resin, Sample};
use job::{ShelfBench, ShelfChip, ShelfColourant};
use result::JobResult;
use std::collections::BTreeMap;
use tint::{Bench, Chip, Dose, Reading};

/// Standard uncertainty of a Lab reading where the document gives none: between repeat readings of a good instrument on a moulded chip
/// (common practice, no source).
const READING_SIGMA: f64 = 0.3;
/// Weights without a stated doubt, g: a balance of 0.01 g, each net weight of two readings (USP general chapter 41).
const GRAMS_SIGMA: f64 = 0.005;

/// The bench, and which bottles started from the shelf.
pub(super) fn bench(evidence: &Evidence, sheet: &mut JobResult) -> Result<(Bench, Vec<Origin>), String> {
    let document = &evidence.document;
    let resin = document.resin.clone().unwrap_or_else(|| {
        sheet.assume("pot", "The chips are so thick that what is behind them does not show.", "[resin] thickness_mm, backing");
        Resin { name: "resin".into(), thickness_mm: None, backing: None, density_g_ml: None }
    });
    if resin.thickness_mm.is_some() && resin.backing.is_none() {
        sheet.assume("pot", "The chips were read over white card.", "[resin] backing");
    }
    let cure_shift = cure_shift(evidence, sheet);
    let chip = |(i, sample)| chip(evidence, i, sample, cure_shift);
    let chips = document.sample.iter().enumerate().map(chip).collect::<Result<_, _>>()?;
    let colourants = document.colourant.iter().map(bottle).collect();
    let mut bench = Bench { resin: tint_resin(&resin), colourants, chips };
    let origins = shelf::fill(evidence, &resin, &mut bench, sheet)?;
    Ok((bench, origins))
}

pub(super) fn tint_resin(resin: &Resin) -> tint::Resin {
    tint::Resin {
        thickness_mm: resin.thickness_mm,
        backing: match resin.backing {
            Some(Backing::Reflectance(reflectance)) => tint::Backing::Reflectance(reflectance),
            Some(Backing::Named(BackingName::Black)) => tint::Backing::Black,
            Some(Backing::Named(BackingName::White)) | None => tint::Backing::White,
        },
        density_g_ml: resin.density_g_ml,
        surface: tint::Surface::PLASTIC,
    }
}

fn bottle(colourant: &Colourant) -> tint::Colourant {
    let mut bottle = tint::Colourant::new(colourant.name.clone(), colourant.drop_ul);
    bottle.drop_cv = colourant.drop_cv.unwrap_or(bottle.drop_cv);
    bottle.max_percent = colourant.max_percent;
    bottle.density_g_ml = colourant.density_g_ml;
    bottle.stock_ml = colourant.stock_ml;
    bottle.least_drops = colourant.least_drops.unwrap_or(1);
    bottle
}

/// What the last cure does on this bench, where a chip was read before it.
fn cure_shift(evidence: &Evidence, sheet: &mut JobResult) -> Option<[check::Estimate; 3]> {
    if !evidence.document.sample.iter().any(|sample| sample.before_cure) {
        return None;
    }
    let shift = crate::chain::bench::learnt(evidence).and_then(Result::ok).and_then(|learnt| learnt.value.cure);
    if shift.is_none() {
        sheet.warn(
            "pot",
            None,
            "A chip was read before its last cure, but what that cure does to the colour is not known; the reading is taken as it is.",
            "Read one chip before and after its last cure; the pair makes a `[[cure]]` record in bench.toml.",
        );
    }
    shift
}

fn chip(evidence: &Evidence, index: usize, sample: &Sample, shift: Option<[check::Estimate; 3]>) -> Result<Chip, String> {
    let mut doses: BTreeMap<String, Dose> =
        sample.drops.iter().filter(|(_, n)| **n > 0).map(|(name, n)| (name.clone(), Dose::Drops(*n))).collect();
    let balance = evidence.document.tools.as_ref().and_then(|tools| tools.balance_g.map(|step| 0.41 * std::f64::consts::SQRT_2 * step));
    let sigma_g = sample.grams_sigma.or(balance).unwrap_or(GRAMS_SIGMA);
    doses.extend(sample.grams.iter().filter(|(_, g)| **g > 0.0).map(|(name, g)| (name.clone(), Dose::Grams { g: *g, sigma_g })));
    let sigma = sample.sigma.unwrap_or(READING_SIGMA);
    let reading = match (&sample.lab, &sample.spectrum) {
        (Some(lab), _) => Reading::Lab { lab: *lab, sigma: [sigma; 3] },
        (None, Some(file)) => crate::chain::colour::spectrum(evidence, file)?,
        (None, None) => crate::chain::colour::chip_in_photo(evidence, index, sample)?,
    };
    let reading = match shift.filter(|_| sample.before_cure) {
        Some(shift) => cured(reading, shift),
        None => reading,
    };
    Ok(Chip { name: sample.name.clone(), volume_ml: sample.volume_ml, doses, reading })
}

/// A reading before the last cure as it will be after it: the learnt shift added, with its doubt and its scatter from part to part. A spectrum
/// becomes the Lab that it has, for what cure does to each wavelength is not known.
fn cured(reading: Reading, shift: [check::Estimate; 3]) -> Reading {
    let (lab, sigma) = match reading {
        Reading::Lab { lab, sigma } => (lab, sigma),
        Reading::Spectrum { ref reflectance, .. } => match cie::working().lab(reflectance) {
            Ok(lab) => (lab.array(), [READING_SIGMA; 3]),
            Err(_) => return reading,
        },
    };
    Reading::Lab {
        lab: std::array::from_fn(|axis| lab[axis] + shift[axis].value),
        sigma: std::array::from_fn(|axis| sigma[axis].hypot(shift[axis].sigma).hypot(shift[axis].scatter)),
    }
}

/// This job's chips as a bench of shelf.toml, for a person to copy; `None` without chips of a colourant.
pub(super) fn shelf_lines(evidence: &Evidence, bench: &Bench) -> Option<String> {
    let document = &evidence.document;
    let resin = document.resin.clone()?;
    let chip = |(chip, sample): (&Chip, &Sample)| {
        let (lab, reflectance, sigma) = match &chip.reading {
            Reading::Lab { lab, sigma } => (Some(*lab), None, sigma.iter().copied().fold(0.0, f64::max)),
            Reading::Spectrum { reflectance, sigma } => (None, Some(reflectance.clone()), *sigma),
        };
        let lab = lab.filter(|lab| Lab::from(*lab).is_finite());
        let (drops, grams) = (sample.drops.clone(), sample.grams.clone());
        ShelfChip { name: chip.name.clone(), volume_ml: chip.volume_ml, drops, grams, lab, reflectance, sigma }
    };
    let bottle = |c: &Colourant| ShelfColourant {
        name: c.name.clone(),
        shelf: c.shelf.clone(),
        lot: c.lot.clone().unwrap_or_default(),
        drop_ul: c.drop_ul,
        drop_cv: c.drop_cv,
        density_g_ml: c.density_g_ml,
    };
    let entry = ShelfBench {
        source: document.title.clone(),
        resin,
        colourant: document.colourant.iter().map(bottle).collect(),
        // The job's own chips stand last, after those of the shelf.
        chip: bench.chips.iter().skip(bench.chips.len().saturating_sub(document.sample.len())).zip(&document.sample).map(chip).collect(),
    };
    if !entry.chip.iter().any(|chip| entry.colourant.iter().any(|c| uses(chip, &c.name))) {
        return None;
    }
    let text = toml::to_string(&job::Shelf { bench: vec![entry] }).ok()?;
    Some(format!("# The chips of this job. Copy these lines into shelf.toml of the next one:\n\n{text}"))
}
