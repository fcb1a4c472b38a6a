//! The shelf: what earlier jobs know of the bottles, from shelf.toml, and how lots of one colourant go together.
//!
//! Chips of the same resin join this bench's own: they tell how strong colourant and resin are against each other. Of another resin only the colourants'
//! spectra are taken. A lot that no chip knows has the spectrum of the first one and its own strength.

use super::bottles::tint_resin;
use crate::chain::Says;
use crate::chain::evidence::Evidence;
use job::document::{Colourant, Resin};
use job::{ShelfBench, ShelfChip, ShelfColourant};
use result::JobResult;
use std::collections::{BTreeMap, BTreeSet};
use tint::{Bench, Chip, Dose, Reading, Shelf, Twin};

/// Where what is known of a colourant beforehand came from.
#[derive(Clone, Debug)]
pub(super) struct Origin {
    /// Its name in the job.
    pub colourant: String,
    /// Its name and lot on the shelf.
    pub from: String,
    /// In words.
    pub how: String,
}

/// Weights on the shelf carry no doubt of their own, g: a balance of 0.01 g, each net weight of two readings (USP general chapter 41).
const GRAMS_SIGMA: f64 = 0.005;
/// Scatter of a drop where the shelf tells none (common practice).
const DROP_CV: f64 = 0.05;

/// A bottle's common name and its lot; a lot that is not named is empty.
type Lot = (String, String);

/// Puts the shelf's chips and bottles on the bench and ties lots together.
pub(super) fn fill(evidence: &Evidence, resin: &Resin, bench: &mut Bench, sheet: &mut JobResult) -> Result<Vec<Origin>, String> {
    let entries = &evidence.document.colourant;
    let none = job::Shelf::default();
    let (same, other): (Vec<&ShelfBench>, Vec<&ShelfBench>) =
        evidence.shelf.as_ref().unwrap_or(&none).bench.iter().partition(|old| is_same(&old.resin, resin));
    let mut names: BTreeMap<Lot, String> =
        entries.iter().filter_map(|c| Some(((key(c).to_string(), c.lot.clone()?), c.name.clone()))).collect();
    let mut shelved: BTreeSet<Lot> = BTreeSet::new();
    let mut chips = Vec::new();
    for old in same {
        chips.extend(on_this_bench(old, bench, &mut names, &mut shelved)?);
    }
    bench.chips = chips.into_iter().chain(std::mem::take(&mut bench.chips)).collect();
    let known = of_other_resins(&other, sheet);
    let mut origins = Vec::new();
    for (i, entry) in entries.iter().enumerate() {
        let lot = (key(entry).to_string(), entry.lot.clone().unwrap_or_default());
        if entry.lot.is_some() && shelved.contains(&lot) {
            origins.push(Origin {
                colourant: entry.name.clone(),
                from: words(&lot),
                how: "the same lot in the same resin: its chips count as this job's own".into(),
            });
            continue;
        }
        if let Some((root, from)) = root_of(entries, i, bench, &shelved, &names) {
            let (twin, how) = twin(evidence, entry, root);
            bench.colourants[i].twin = Some(twin);
            origins.push(Origin { colourant: entry.name.clone(), from, how });
        } else if let Some((shelf, lot)) = known.iter().rev().find(|(_, lot)| lot.0 == key(entry)) {
            // How much the resin itself scatters is not known from there, so strength is as open as a new lot's.
            bench.colourants[i].shelf = Some(Shelf { strength_sigma: Shelf::NEW_LOT, ..shelf.clone() });
            let how = "from another resin: its spectrum is taken, its strength is open".to_string();
            origins.push(Origin { colourant: entry.name.clone(), from: words(lot), how });
        }
    }
    Ok(origins)
}

fn is_same(a: &Resin, b: &Resin) -> bool {
    a.name == b.name && a.thickness_mm == b.thickness_mm && a.backing == b.backing
}

fn key(colourant: &Colourant) -> &str {
    colourant.shelf.as_deref().unwrap_or(&colourant.name)
}

fn words((name, lot): &Lot) -> String {
    if lot.is_empty() { name.clone() } else { format!("{name}, lot {lot}") }
}

/// The chips of an old bench, with bottles of its own where this job has not the same lot. Those have nothing left: they only explain chips.
fn on_this_bench(
    old: &ShelfBench,
    bench: &mut Bench,
    names: &mut BTreeMap<Lot, String>,
    shelved: &mut BTreeSet<Lot>,
) -> Result<Vec<Chip>, String> {
    let mut own: BTreeMap<&str, String> = BTreeMap::new();
    for bottle in old.colourant.iter().filter(|bottle| old.chip.iter().any(|chip| uses(chip, &bottle.name))) {
        let lot: Lot = (bottle.shelf.clone().unwrap_or_else(|| bottle.name.clone()), bottle.lot.clone());
        let name = names.entry(lot.clone()).or_insert_with(|| format!("{} on the shelf", words(&lot))).clone();
        if !bench.colourants.iter().any(|c| c.name == name) {
            let mut shut = tint::Colourant::new(name.clone(), bottle.drop_ul);
            shut.stock_ml = Some(0.0);
            // Further lots of one colourant go with the first.
            let first = names.iter().find(|(known, first)| known.0 == lot.0 && **first != name && shelved.contains(*known));
            shut.twin = first.map(|(_, first)| open(root(bench, first)));
            bench.colourants.push(shut);
        }
        shelved.insert(lot);
        own.insert(&bottle.name, name);
    }
    old.chip.iter().map(|chip| shelf_chip(old, chip, |name| own.get(name).cloned())).collect()
}

/// The bottle that a name's twins go with: itself, or the one it is a twin of.
fn root(bench: &Bench, name: &str) -> String {
    let twin = bench.colourants.iter().find(|c| c.name == name).and_then(|c| c.twin.as_ref());
    twin.map_or_else(|| name.to_string(), |twin| twin.of.clone())
}

fn open(of: String) -> Twin {
    Twin { of, ln_strength: 0.0, strength_sigma: Shelf::NEW_LOT }
}

pub(super) fn uses(chip: &ShelfChip, name: &str) -> bool {
    chip.drops.get(name).is_some_and(|n| *n > 0) || chip.grams.get(name).is_some_and(|g| *g > 0.0)
}

/// A chip with volumes for doses, for its drops were of the old bottle's tip.
fn shelf_chip(old: &ShelfBench, chip: &ShelfChip, name_here: impl Fn(&str) -> Option<String>) -> Result<Chip, String> {
    let mut doses = BTreeMap::new();
    for bottle in old.colourant.iter().filter(|bottle| uses(chip, &bottle.name)) {
        let Some(name) = name_here(&bottle.name) else { continue };
        doses.insert(name, volume(bottle, chip)?);
    }
    let reading = match (&chip.lab, &chip.reflectance) {
        (Some(lab), None) => Reading::Lab { lab: *lab, sigma: [chip.sigma; 3] },
        (None, Some(reflectance)) => Reading::Spectrum { reflectance: reflectance.clone(), sigma: chip.sigma },
        _ => return Err(format!("shelf.toml: chip `{}` needs one of `lab`, `reflectance`", chip.name)),
    };
    Ok(Chip { name: format!("{} (shelf)", chip.name), volume_ml: chip.volume_ml, doses, reading })
}

fn volume(bottle: &ShelfColourant, chip: &ShelfChip) -> Result<Dose, String> {
    if let Some(drops) = chip.drops.get(&bottle.name) {
        let (n, drop_ml) = (f64::from(*drops), bottle.drop_ul * 1e-3);
        return Ok(Dose::Millilitres { ml: n * drop_ml, sigma_ml: bottle.drop_cv.unwrap_or(DROP_CV) * n.sqrt() * drop_ml });
    }
    let density = bottle.density_g_ml.filter(|density| *density > 0.0);
    let density = density
        .ok_or_else(|| format!("shelf.toml: `{}` was weighed into chip `{}`, but its density is not known", bottle.name, chip.name))?;
    let g = chip.grams.get(&bottle.name).copied().unwrap_or(0.0);
    Ok(Dose::Millilitres { ml: g / density, sigma_ml: GRAMS_SIGMA / density })
}

/// The bottle on this bench that holds another lot of the same colourant, and that some chip knows: the shelf's first, else an earlier one of the job.
fn root_of(
    entries: &[Colourant],
    i: usize,
    bench: &Bench,
    shelved: &BTreeSet<Lot>,
    names: &BTreeMap<Lot, String>,
) -> Option<(String, String)> {
    let own = key(&entries[i]);
    if let Some((lot, name)) = shelved.iter().filter(|lot| lot.0 == own).find_map(|lot| Some((lot, names.get(lot)?))) {
        return Some((root(bench, name), words(lot)));
    }
    let first = (0..i).find(|&j| key(&entries[j]) == own)?;
    Some((root(bench, &entries[first].name), format!("{} on this bench", entries[first].name)))
}

/// Another lot's strength: by the records of bench.toml, else open.
fn twin(evidence: &Evidence, entry: &Colourant, root: String) -> (Twin, String) {
    match learnt_strength(evidence, key(entry), entry.lot.as_deref()) {
        Some(found) => {
            let twin = Twin { of: root, ln_strength: found.value.clamp(-5.0, 5.0), strength_sigma: found.sigma.clamp(0.01, 2.0) };
            (twin, format!("another lot; bench.toml knows it {:.2} times as strong", found.value.exp()))
        }
        None => (open(root), "another lot (or one that is not named): its spectrum is taken, its strength is open".into()),
    }
}

/// What earlier batches found of one lot's strength.
fn learnt_strength(evidence: &Evidence, name: &str, lot: Option<&str>) -> Option<check::Estimate> {
    let records = &evidence.bench.as_ref()?.strength;
    let values: Vec<(f64, f64)> = records
        .iter()
        .filter(|record| record.colourant == name && Some(record.lot.as_str()) == lot)
        .map(|record| (record.ln_strength, record.sigma))
        .collect();
    (!values.is_empty()).then(|| check::combine(&values)).filter(|found| found.value.is_finite() && found.sigma.is_finite())
}

/// What benches of other resins taught of each lot, in the order of the file.
fn of_other_resins(benches: &[&ShelfBench], sheet: &mut JobResult) -> Vec<(Shelf, Lot)> {
    let mut all = Vec::new();
    for old in benches {
        match learnt_alone(old) {
            Ok(found) => all.extend(found),
            Err(why) => sheet.warn(
                "pot",
                None,
                format!("A bench of shelf.toml ({}) was left out: {why}", old.source),
                "Correct it, or remove it from shelf.toml.",
            ),
        }
    }
    all
}

fn learnt_alone(old: &ShelfBench) -> Result<Vec<(Shelf, Lot)>, String> {
    let colourants = old.colourant.iter().map(|bottle| tint::Colourant::new(bottle.name.clone(), bottle.drop_ul)).collect();
    let chips = old.chip.iter().map(|chip| shelf_chip(old, chip, |name| Some(name.to_string()))).collect::<Result<_, _>>()?;
    let model = tint::learn(&Bench { resin: tint_resin(&old.resin), colourants, chips }).map_err(|e| e.to_string())?.value;
    let used = old.colourant.iter().filter(|bottle| old.chip.iter().any(|chip| uses(chip, &bottle.name)));
    let one = |bottle: &ShelfColourant| {
        Some((model.shelf(&bottle.name)?, (bottle.shelf.clone().unwrap_or_else(|| bottle.name.clone()), bottle.lot.clone())))
    };
    Ok(used.filter_map(one).collect())
}
