//! The book of pots, what to add to the pot as it stands, and the scale-up as it was written down.

use super::{Worked, volumes_ml};
use crate::chain::Says;
use crate::chain::evidence::Evidence;
use job::document::{BookLine, Colourant, ScaleUp};
use result::{BookTold, CorrectionTold, JobResult, PotResult, ScaleUpTold};
use std::collections::BTreeMap;
use tint::{Act, Batch, Contents, Entry, Goal, Ledger, Nanolitres, OfTotal, Part, Slip};

/// What the bare resin is called among the things added.
const RESIN: &str = "resin";
/// Drops that may go into a pot of any size to correct it.
const MOST_DROPS: u32 = 400;

pub(super) fn work_out(evidence: &Evidence, worked: &Worked, pot: &mut PotResult, sheet: &mut JobResult) {
    if !evidence.document.book.is_empty()
        && let Err(why) = book(evidence, worked, pot)
    {
        sheet.warn(
            "pot",
            None,
            format!("The book of pots does not add up: {why}"),
            "Correct the [[book]] lines, or add the one that is missing.",
        );
    }
    if let Some(scale) = &evidence.document.scale_up {
        match scale_up(evidence, scale, pot) {
            Ok(lines) => {
                for line in lines.iter().filter(|line| line.slip.is_some()) {
                    let what = line.slip.clone().unwrap_or_default();
                    sheet.warn(
                        "pot",
                        None,
                        format!("Scale-up, {}: {what}", line.colourant),
                        format!("Write {:.3} mL instead of {:.3} mL before it is mixed.", line.right_ml, line.written_ml),
                    );
                }
                pot.scale_up = lines;
            }
            Err(why) => sheet.warn("pot", None, format!("The scale-up was not checked: {why}"), "Correct [scale_up]."),
        }
    }
}

/// Enters every line; then what the last pot needs.
fn book(evidence: &Evidence, worked: &Worked, pot: &mut PotResult) -> Result<(), String> {
    let mut ledger = Ledger::default();
    let mut ends: Vec<(usize, &BookLine)> = Vec::new();
    for (i, line) in evidence.document.book.iter().enumerate() {
        for act in acts(line, &evidence.document.colourant)? {
            ledger.enter(act).map_err(|e| format!("[[book]] number {}: {e}", i + 1))?;
        }
        ends.push((ledger.book().len().saturating_sub(1), line));
    }
    let drift = ledger.drift(&worked.model, &worked.goal).map_err(|e| e.to_string())?;
    let told = |(at, line): &(usize, &BookLine)| {
        let entry = ledger.book().get(*at)?;
        let drift = drift.get(*at).copied().flatten();
        Some(BookTold {
            what: words(line),
            pot: entry.pot.clone(),
            total_ml: entry.after.total().ml(),
            percent: entry.after.colourants.keys().map(|name| (name.clone(), 100.0 * entry.after.share(name))).collect(),
            lab: drift.map(|drift| drift.lab),
            de00: drift.map(|drift| drift.de00),
        })
    };
    pot.book = ends.iter().filter_map(told).collect();
    let Some(last) = ledger.book().last().map(|entry| entry.pot.clone()) else { return Ok(()) };
    if let Some(contents) = ledger.pot(&last) {
        pot.corrections = corrections(worked, &last, contents)?;
        pot.top_up = top_up(evidence, pot, &last, contents, ledger.book());
    }
    Ok(())
}

fn acts(line: &BookLine, colourants: &[Colourant]) -> Result<Vec<Act>, String> {
    let volume = |ml: f64| Nanolitres::from_ml(ml).map_err(|e| e.to_string());
    let poured = || volume(line.ml.unwrap_or(0.0));
    if let Some(into) = &line.pour_into {
        return Ok(vec![Act::Pour { from: line.pot.clone(), into: into.clone(), volume: poured()? }]);
    }
    if let Some(what) = &line.take {
        return Ok(vec![Act::Take { pot: line.pot.clone(), volume: poured()?, what: what.clone() }]);
    }
    let mut acts = Vec::new();
    for (name, ml) in &line.add {
        let part = if name == RESIN { Part::Resin } else { Part::Colourant(name.clone()) };
        acts.push(Act::Add { pot: line.pot.clone(), part, volume: volume(*ml)? });
    }
    for (name, n) in &line.drops {
        let drop_ul = colourants.iter().find(|c| &c.name == name).map_or(0.0, |c| c.drop_ul);
        let volume = volume(f64::from(*n) * drop_ul * 1e-3)?;
        acts.push(Act::Add { pot: line.pot.clone(), part: Part::Colourant(name.clone()), volume });
    }
    Ok(acts)
}

fn words(line: &BookLine) -> String {
    let ml = line.ml.unwrap_or(0.0);
    if let Some(into) = &line.pour_into {
        return format!("{ml} mL of {} poured into {into}", line.pot);
    }
    if let Some(what) = &line.take {
        return format!("{ml} mL of {} taken: {what}", line.pot);
    }
    let added = line.add.iter().map(|(name, ml)| format!("{ml} mL {name}"));
    let dripped = line.drops.iter().map(|(name, n)| format!("{n} drops {name}"));
    format!("into {}: {}", line.pot, added.chain(dripped).collect::<Vec<_>>().join(", "))
}

fn corrections(worked: &Worked, name: &str, contents: &Contents) -> Result<Vec<CorrectionTold>, String> {
    if contents.resin.ml() < 0.01 {
        return Ok(Vec::new());
    }
    let goal = Goal { max_drops: worked.goal.max_drops.max(MOST_DROPS), ..worked.goal.clone() };
    let found = tint::corrections(&worked.model, &goal, contents).map_err(|e| e.to_string())?;
    let told = |addition: &tint::Addition| CorrectionTold {
        pot: name.into(),
        resin_ml: addition.resin_ml,
        drops: addition.recipe.drops.clone(),
        grams: addition.recipe.grams.clone(),
        de00: [addition.recipe.de00, addition.recipe.odds.de00_95],
    };
    Ok(found.value.iter().map(told).collect())
}

/// What was taken since the pot was last added to is what a top-up puts back.
fn top_up(evidence: &Evidence, pot: &PotResult, name: &str, contents: &Contents, book: &[Entry]) -> Option<String> {
    let best = pot.recipes.first()?;
    let taken: f64 = book
        .iter()
        .rev()
        .filter(|entry| entry.pot == name)
        .map_while(|entry| if let Act::Take { volume, .. } = &entry.act { Some(volume.ml()) } else { None })
        .sum();
    if taken <= 0.0 {
        return None;
    }
    let mut recipe = Contents { resin: Nanolitres::from_ml(best.volume_ml).ok()?, colourants: BTreeMap::new() };
    let colourants = &evidence.document.colourant;
    for (c, ml) in colourants.iter().zip(volumes_ml(evidence, best)).filter(|(_, ml)| *ml > 0.0) {
        recipe.colourants.insert(c.name.clone(), Nanolitres::from_ml(ml).ok()?);
    }
    let needed = contents.top_up(&recipe, taken);
    let drops = |name: &str, ml: f64| {
        let ul = colourants.iter().find(|c| c.name == name).map_or(f64::INFINITY, |c| c.drop_ul);
        format!("{name} {ml:.3} mL ({:.1} drops)", ml * 1e3 / ul)
    };
    let parts: Vec<String> = needed.ml.iter().map(|(name, ml)| drops(name, *ml)).collect();
    let over: Vec<String> = needed.over_ml.iter().map(|(name, ml)| format!("{name} by {ml:.3} mL")).collect();
    let over = if over.is_empty() {
        String::new()
    } else {
        format!(" It holds too much already of {}: only a larger top-up brings that back.", over.join(", "))
    };
    let of = if parts.is_empty() { String::new() } else { format!(", {}", parts.join(", ")) };
    Some(format!(
        "Pot {name}: to put the {taken:.1} mL back at the best recipe's shares, add {:.2} mL of bare resin{of}.{over}",
        needed.resin_ml.max(0.0)
    ))
}

/// Each colourant of the scale-up against the chip or recipe that it came from, in mL (of the stock, where one is used).
fn scale_up(evidence: &Evidence, scale: &ScaleUp, pot: &PotResult) -> Result<Vec<ScaleUpTold>, String> {
    let colourants = &evidence.document.colourant;
    let drop_ml = |name: &str| colourants.iter().find(|c| c.name == name).map_or(0.0, |c| c.drop_ul * 1e-3);
    let (sample_resin, neat) = sample(evidence, scale, pot)?;
    let stock = |name: &str| scale.stock_percent.get(name).map_or(1.0, |percent| percent / 100.0);
    let mut written = scale.ml.clone();
    for (name, n) in &scale.drops {
        *written.entry(name.clone()).or_default() += f64::from(*n) * drop_ml(name);
    }
    let tips = |(name, others): (&String, &Vec<f64>)| {
        // The other tip may have been meant for the count or used for the dosing: either way round.
        let both = |ul: &f64| [drop_ml(name) * 1e3 / ul, ul / (drop_ml(name) * 1e3)];
        (name.clone(), others.iter().flat_map(both).collect())
    };
    let batch = Batch {
        sample_resin,
        sample: neat.into_iter().map(|(name, ml)| (name.clone(), ml / stock(&name))).collect(),
        batch_resin: scale.resin_ml,
        batch: written,
        stocks: scale.stock_percent.keys().map(|name| (name.clone(), OfTotal(stock(name)))).collect(),
        tips: scale.other_drop_ul.iter().map(tips).collect(),
    };
    let lines = tint::check_scale(&batch).map_err(|e| e.to_string())?;
    Ok(lines
        .into_iter()
        .map(|line| ScaleUpTold {
            slip: line.slip.map(|slip| slip_words(&slip)),
            colourant: line.colourant,
            written_ml: line.written,
            right_ml: line.right,
        })
        .collect())
}

/// Bare resin and colourants of the chip or recipe, mL.
fn sample(evidence: &Evidence, scale: &ScaleUp, pot: &PotResult) -> Result<(f64, BTreeMap<String, f64>), String> {
    let colourants = &evidence.document.colourant;
    let Some(from) = &scale.from else {
        let best = pot.recipes.first().ok_or("there is no recipe yet that it could come from")?;
        let volumes = colourants.iter().map(|c| c.name.clone()).zip(volumes_ml(evidence, best));
        return Ok((best.volume_ml, volumes.filter(|(_, ml)| *ml > 0.0).collect()));
    };
    let chip = evidence.document.sample.iter().find(|sample| &sample.name == from).ok_or_else(|| format!("no sample is named `{from}`"))?;
    let amount = |c: &Colourant| {
        let dripped = chip.drops.get(&c.name).map_or(0.0, |n| f64::from(*n) * c.drop_ul * 1e-3);
        dripped + chip.grams.get(&c.name).zip(c.density_g_ml).map_or(0.0, |(g, density)| g / density)
    };
    Ok((chip.volume_ml, colourants.iter().map(|c| (c.name.clone(), amount(c))).filter(|(_, ml)| *ml > 0.0).collect()))
}

fn slip_words(slip: &Slip) -> String {
    match slip {
        Slip::TimesTen(power) if *power > 0 => {
            format!("{} times too much: a decimal point slipped", 10u64.pow(power.unsigned_abs().min(9)))
        }
        Slip::TimesTen(power) => format!("{} times too little: a decimal point slipped", 10u64.pow(power.unsigned_abs().min(9))),
        Slip::ShareOfTotalOfResin => "a share of the total was taken of the resin alone: a little too little".into(),
        Slip::ShareOnResinOfTotal => "a share on the resin was taken of the total: a little too much".into(),
        Slip::DilutionForgotten => "the thinning of the stock was forgotten: this is the neat amount".into(),
        Slip::DilutionTwice => "the thinning of the stock was counted twice".into(),
        Slip::OtherTip => "the drops were counted for another tip".into(),
        Slip::NotScaled => "the sample's own amount was copied without scaling it".into(),
        Slip::OtherResin(resin_ml) => format!("all are right for {resin_ml:.1} mL of resin, not for this much: another base"),
        Slip::LeftOut => "it was left out".into(),
        Slip::NotInSample => "it is not in what was scaled up".into(),
        Slip::Factor(factor) => format!("{factor:.3} times what is right, by no slip known here"),
    }
}
