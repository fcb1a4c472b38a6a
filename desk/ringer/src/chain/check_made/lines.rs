//! What a batch teaches, as lines for bench.toml and job.toml.

use super::{Allowed, LAB_SIGMA};
use crate::chain::bench;
use crate::chain::evidence::Evidence;
use result::{CheckResult, JobResult};
use std::fmt::Write as _;

/// Most records of sizes that a batch adds: more teach nothing new and make the file long.
const MOST_RECORDS: usize = 120;

/// What this batch adds to bench.toml.
pub(super) fn bench_lines(evidence: &Evidence, found: &CheckResult, allowed: &[Allowed], sheet: &JobResult) -> String {
    let (process, mut lines) = (quoted(&bench::process(evidence)), String::new());
    let sizes = found.parts.iter().flat_map(|part| &part.sizes);
    let records = sizes.filter_map(|size| Some((size, allowed.iter().find(|one| one.told.name == size.name)?.drawn?)));
    for (size, (drawn_mm, kind)) in records.take(MOST_RECORDS) {
        let kind = if kind == check::Kind::Bore { "bore" } else { "outer" };
        let _ = writeln!(
            lines,
            "[[size]]\nprocess = {process}\nkind = \"{kind}\"\ndrawn_mm = {drawn_mm:.4}\nmade_mm = {:.4}\nsigma_mm = {:.4}\n",
            size.mm, size.sigma_mm
        );
    }
    lines += &pot_lines(evidence, sheet);
    let Some(batch) = &evidence.document.batch else { return lines };
    if let Some((made, good)) = batch.made.zip(batch.good) {
        let _ = writeln!(
            lines,
            "[[run]]\nprocess = {process}\nmade = {made}\ngood = {good}\nloads = {}\nlost = {}\n",
            batch.loads.unwrap_or(0),
            batch.lost.unwrap_or(0)
        );
    }
    if let (Some(before), Some(after)) = (batch.before_cure, mean_lab(found)) {
        let _ = writeln!(
            lines,
            "[[cure]]\nprocess = {process}\nbefore = {before:?}\nafter = [{:.2}, {:.2}, {:.2}]\nsigma = {LAB_SIGMA}\n",
            after[0], after[1], after[2]
        );
    }
    lines
}

/// A strength is worth a record once the chips know it better than a new lot's is known beforehand.
const TELLING_LN_STRENGTH: f64 = 0.2;

/// Strengths of lots as the chips showed them, and strips of bare resin.
fn pot_lines(evidence: &Evidence, sheet: &JobResult) -> String {
    let (process, mut lines) = (quoted(&bench::process(evidence)), String::new());
    for told in sheet.pot.iter().flat_map(|pot| &pot.shelf) {
        let entry = evidence.document.colourant.iter().find(|entry| entry.name == told.colourant);
        let lot = entry.and_then(|entry| entry.lot.as_ref()).filter(|lot| !lot.is_empty());
        let strength = told.ln_strength.filter(|ln| ln.sigma < TELLING_LN_STRENGTH);
        if let (Some(entry), Some(lot), Some(ln)) = (entry, lot, strength) {
            let name = quoted(entry.shelf.as_ref().unwrap_or(&entry.name));
            let _ = writeln!(
                lines,
                "[[strength]]\ncolourant = {name}\nlot = {}\nln_strength = {:.4}\nsigma = {:.4}\n",
                quoted(lot),
                ln.value,
                ln.sigma.max(0.001)
            );
        }
    }
    for strip in evidence.document.strip.iter().filter(|strip| !strip.tinted) {
        let sigma_um = strip.sigma_um.unwrap_or(10.0);
        let _ = writeln!(
            lines,
            "[[strip]]\nprocess = {process}\nexposure = {}\ndepth_um = {}\nsigma_um = {sigma_um}\ntinted = false\n",
            strip.exposure, strip.depth_um
        );
    }
    lines
}

/// The batch as one more chip for the pot, which learns the colourants' strength from it.
pub(super) fn sample_lines(evidence: &Evidence, found: &CheckResult, sheet: &JobResult) -> String {
    let (Some(lab), Some(best)) = (mean_lab(found), sheet.pot.as_ref().and_then(|pot| pot.recipes.first())) else { return String::new() };
    let number = evidence.document.batch.as_ref().and_then(|batch| batch.number.clone()).unwrap_or_else(|| "1".into());
    let drops: Vec<String> = best.drops.iter().map(|(name, drops)| format!("{} = {drops}", key(name))).collect();
    let grams: Vec<String> = best.grams.iter().map(|(name, g)| format!("{} = {g}", key(name))).collect();
    let (what, amounts) = if best.grams.is_empty() { ("drops", drops) } else { ("grams", grams) };
    format!(
        "# If the pot was mixed by the first recipe, and a part is as thick as the chips are:\n[[sample]]\nname = {}\nvolume_ml = {}\n{what} = {{ {} }}\nlab = [{:.2}, {:.2}, {:.2}]\n",
        quoted(&format!("batch {number}")),
        best.volume_ml,
        amounts.join(", "),
        lab[0],
        lab[1],
        lab[2]
    )
}

fn mean_lab(found: &CheckResult) -> Option<[f64; 3]> {
    let labs: Vec<[f64; 3]> = found.parts.iter().filter_map(|part| Some(part.colour.as_ref()?.lab)).collect();
    let n = labs.len() as f64;
    (!labs.is_empty()).then(|| std::array::from_fn(|axis| labs.iter().map(|lab| lab[axis]).sum::<f64>() / n))
}

/// A text as TOML writes it.
fn quoted(text: &str) -> String {
    toml::Value::String(text.into()).to_string()
}

/// A key as TOML writes it: bare where it may be.
fn key(name: &str) -> String {
    let bare = !name.is_empty() && name.chars().all(|c| c.is_ascii_alphanumeric() || c == '-' || c == '_');
    if bare { name.into() } else { quoted(name) }
}
