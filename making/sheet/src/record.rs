//! The record of a batch: what was known, assumed and decided, what went in, what came out, and how alike it is.

use crate::JobSheet;
use crate::station::{Cell, Table};
use crate::words::{bounded, capital, count, doubted, lab, plain};
use job::document::{Document, KnownOf};
use result::{Dimension, JobResult};

const LONGEST: usize = 300;

/// A table of the record, or words.
pub(crate) enum Entry {
    /// A chapter.
    Chapter(&'static str),
    /// A paragraph.
    Words(String),
    /// Lines.
    Table(Table),
}

/// The whole record, in order.
pub(crate) fn record(sheet: &JobSheet) -> Vec<Entry> {
    let (document, result) = (sheet.document, sheet.result);
    let mut entries = vec![Entry::Chapter("How alike it is")];
    entries.extend(likeness(document, result).into_iter().map(Entry::Words));
    entries.push(Entry::Chapter("The batch"));
    entries.push(Entry::Table(batch(document, result)));
    if let Some((table, words)) = recipe(document, result) {
        entries.push(Entry::Chapter("The recipe"));
        entries.extend([Entry::Table(table), Entry::Words(words)]);
    }
    entries.push(Entry::Chapter("Evidence"));
    entries.push(Entry::Table(evidence(document)));
    if !result.dimensions.is_empty() {
        entries.push(Entry::Chapter("Sizes"));
        entries.push(Entry::Table(sizes(result)));
    }
    entries.push(Entry::Chapter("Decisions"));
    entries.push(decisions(document));
    if !result.assumptions.is_empty() {
        entries.push(Entry::Chapter("Assumptions"));
        entries.push(Entry::Table(assumptions(result)));
    }
    if let Some(check) = &result.check {
        entries.push(Entry::Chapter("What was checked"));
        let row = |part: &result::CheckedPart| {
            vec![Cell::words(bounded(&part.part, 40)), Cell::words(part.verdict.clone()), Cell::words(bounded(&part.why, LONGEST))]
        };
        entries.push(Entry::Table(table(
            "Made parts",
            &["part", "verdict", "what decided"],
            &[0.14, 0.16, 0.7],
            check.parts.iter().take(100).map(row).collect(),
        )));
    }
    entries
}

fn table(caption: &str, columns: &[&str], shares: &[f64], rows: Vec<Vec<Cell>>) -> Table {
    Table { caption: caption.into(), columns: columns.iter().map(|name| name.to_string()).collect(), shares: shares.to_vec(), rows }
}

/// The statement of likeness: shape, sizes, colour and what was made, each with its doubt; then what it rests on.
fn likeness(document: &Document, result: &JobResult) -> Vec<String> {
    let mut said = Vec::new();
    match shape(result) {
        Some(words) => said.push(words),
        None => said.push("Shape: nothing can be said; no profile was found.".into()),
    }
    said.push(made(result));
    said.push(colour(result));
    let assumed = result.assumptions.len();
    let contradicted = result.dimensions.iter().filter(|size| crate::stations::is_contradicted(size)).count();
    let mut rests = format!(
        "It rests on {} and {}; {} were made, which stand below.",
        count(document.photo.iter().filter(|photo| photo.made.is_none()).count(), "photo"),
        count(document.known.len(), "known size"),
        count(assumed, "assumption")
    );
    if contradicted > 0 {
        rests += &format!(
            " {} against what the photos show: see there.",
            if contradicted == 1 { "One size was taken".to_string() } else { format!("{contradicted} sizes were taken") }
        );
    }
    said.push(rests);
    said
}

fn shape(result: &JobResult) -> Option<String> {
    let main: Vec<String> = result
        .dimensions
        .iter()
        .take(2)
        .map(|size| {
            format!(
                "{} {}\u{a0}mm where the photos show {}",
                bounded(&size.name, 60),
                plain(size.used_mm, 2),
                doubted(size.value_mm, size.sigma_mm)
            )
        })
        .collect();
    if main.is_empty() {
        return None;
    }
    let mut off: Vec<f64> = result.profile.as_ref().map_or(Vec::new(), |profile| {
        profile.points.iter().zip(&profile.seen).filter(|(_, seen)| **seen).map(|(p, _)| 2.0 * p[2]).filter(|s| s.is_finite()).collect()
    });
    off.sort_by(f64::total_cmp);
    let median = off.get(off.len() / 2).map_or_else(String::new, |two_sigma| {
        format!(" At half of its places or more the original's radius is known to {}\u{a0}mm (95 in 100).", plain(*two_sigma, 2))
    });
    Some(format!("Shape as designed: {}.{median}", main.join("; ")))
}

fn made(result: &JobResult) -> String {
    let Some(check) = &result.check else { return "Shape as made: nothing can be said; no made part was read.".into() };
    let sizes: Vec<String> = check
        .sizes
        .iter()
        .take(6)
        .filter_map(|size| {
            let nominal = result.limits.iter().find(|limits| limits.name == size.name)?.nominal_mm;
            let off = size.mean_mm - nominal;
            Some(format!("{} {}{}\u{a0}mm", bounded(&size.name, 60), if off > 0.0 { "+" } else { "" }, plain(off, 3)))
        })
        .collect();
    let [good, undecided, rework, reject] = check.counts;
    let means = if sizes.is_empty() { String::new() } else { format!(" Means less design: {}.", sizes.join(", ")) };
    let photos: Vec<String> = check
        .laid_over
        .iter()
        .take(4)
        .map(|over| format!("part {} is {}\u{a0}mm off in the root mean square", bounded(&over.part, 40), plain(over.rms_mm, 3)))
        .collect();
    let photos = if photos.is_empty() { String::new() } else { format!(" By photo, {}.", photos.join("; ")) };
    format!(
        "Shape as made: of {} read, {good} accepted, {undecided} not decided, {rework} to rework, {reject} rejected.{means}{photos}",
        count(check.parts.len(), "part")
    )
}

fn colour(result: &JobResult) -> String {
    let Some(wanted) = &result.colour else { return "Colour: nothing can be said; no colour is wanted yet.".into() };
    let doubts: Vec<String> = wanted.sigma.iter().map(|s| plain(*s, 1)).collect();
    let mut said = format!(
        "Colour: wanted is {}, known to {} in L*, a*, b* (one sigma), from {}.",
        lab(wanted.lab),
        doubts.join(", "),
        bounded(&wanted.source, 120)
    );
    if let Some(aim) = &wanted.aim {
        let sources: Vec<String> = aim.drifts.iter().take(6).map(|(_, _, source)| bounded(source, 80)).collect();
        said += &format!(" The pot aims at {}, for drift was entered: {}.", lab(aim.lab), sources.join("; "));
    }
    said += &other_lights(result);
    if let Some(best) = result.pot.as_ref().and_then(|pot| pot.recipes.first()) {
        said +=
            &format!(" The recipe is foretold {} CIEDE2000 from it, at most {} in 95 of 100.", plain(best.de00, 1), plain(best.de00_95, 1));
    }
    let read: Vec<f64> = result.check.iter().flat_map(|check| &check.parts).filter_map(|part| part.colour.as_ref()?.to_target).collect();
    if read.is_empty() {
        said + " No made part was read for its colour."
    } else {
        let mean = read.iter().sum::<f64>() / read.len() as f64;
        let most = read.iter().copied().fold(0.0, f64::max);
        said + &format!(
            " {} read {} CIEDE2000 from it in the mean, {} at most.",
            capital(&count(read.len(), "made part")),
            plain(mean, 1),
            plain(most, 1)
        )
    }
}

/// How alike original and recipe are where the light is another.
fn other_lights(result: &JobResult) -> String {
    let pairs = result.pot.as_ref().map_or(&[][..], |pot| &pot.lights);
    let others: Vec<&result::PairUnder> = pairs.iter().filter(|pair| pair.light != "D65").take(8).collect();
    let known: Vec<String> =
        others.iter().filter_map(|pair| Some(format!("{} {}", bounded(&pair.light, 20), plain(pair.metamerism?, 1)))).collect();
    match (others.is_empty(), known.is_empty()) {
        (true, _) => String::new(),
        (false, true) => " How alike they are under other lights is not known: of the original only the Lab under D65 is.".into(),
        (false, false) => format!(" Metamerism index of the recipe (CIE 15): {}.", known.join(", ")),
    }
}

fn batch(document: &Document, result: &JobResult) -> Table {
    let batch = document.batch.clone().unwrap_or_default();
    let to_write = |text: Option<String>| text.map_or_else(|| Cell::number(""), |text| Cell::words(bounded(&text, LONGEST)));
    let lots = (!batch.lots.is_empty())
        .then(|| batch.lots.iter().take(20).map(|(what, lot)| format!("{what} {lot}")).collect::<Vec<_>>().join(", "));
    let made = batch.made.zip(batch.good).map(|(made, good)| format!("{made} made, {good} good"));
    let loads = batch.loads.map(|loads| format!("{}, {} lost", count(loads as usize, "load"), batch.lost.unwrap_or(0)));
    let planned = result.run.as_ref().map(|run| {
        format!(
            "{} wanted, {} to start in {}, chance {}",
            run.wanted,
            run.start,
            count(run.loads as usize, "load"),
            crate::words::percent(run.chance)
        )
    });
    let rows = [
        ("batch", batch.number),
        ("date", batch.date),
        ("process", batch.process.or_else(|| document.resin.as_ref().map(|resin| resin.name.clone()))),
        ("lots", lots),
        ("exposure", batch.exposure.or_else(|| exposure(result))),
        ("wash and cure", batch.cure),
        ("enlarged by", batch.scale.map(|scale| plain(scale, 4))),
        ("planned", planned),
        ("made", made),
        ("loads", loads),
        ("kept master", batch.master.map(lab)),
        ("note", batch.note),
    ];
    let rows = rows.into_iter().map(|(name, value)| vec![Cell::words(name), to_write(value)]).collect();
    table("The batch as it was made; what is blank is to be written in", &["what", "how"], &[0.22, 0.78], rows)
}

/// In mass fractions where all densities are known, else in parts by volume.
/// What the strips suggest, where the batch says nothing.
fn exposure(result: &JobResult) -> Option<String> {
    let cure = result.pot.as_ref()?.cure.as_ref()?;
    let found = cure.exposure?;
    let basis = if cure.measured { "by strips of the mix" } else { "an estimate; to be confirmed by a strip" };
    Some(format!("suggested {} a layer of {}\u{a0}mm ({basis})", doubted(found.value, found.sigma), plain(cure.layer_mm, 3)))
}

fn recipe(document: &Document, result: &JobResult) -> Option<(Table, String)> {
    let best = result.pot.as_ref()?.recipes.first()?;
    let dripped = document.colourant.iter().filter_map(|c| Some((c, *best.drops.get(&c.name)?))).filter(|(_, n)| *n > 0);
    let weighed =
        document.colourant.iter().filter_map(|c| Some((c, *best.grams.get(&c.name)?, c.density_g_ml?))).filter(|(_, g, _)| *g > 0.0);
    let resin = document.resin.as_ref();
    let mut parts: Vec<(String, String, f64, Option<f64>)> =
        vec![(resin.map_or("resin".into(), |r| bounded(&r.name, 60)), String::new(), best.volume_ml, resin.and_then(|r| r.density_g_ml))];
    parts.extend(dripped.map(|(c, n)| (bounded(&c.name, 60), count(n as usize, "drop"), f64::from(n) * c.drop_ul * 1e-3, c.density_g_ml)));
    parts.extend(weighed.map(|(c, g, density)| (bounded(&c.name, 60), format!("{}\u{a0}g", plain(g, 3)), g / density, Some(density))));
    let by_mass = parts.iter().all(|part| part.3.is_some());
    let amount = |part: &(String, String, f64, Option<f64>)| if by_mass { part.2 * part.3.unwrap_or(1.0) } else { part.2 };
    let whole: f64 = parts.iter().map(amount).sum();
    if !(whole > 0.0 && whole.is_finite()) {
        return None;
    }
    let row = |part: &(String, String, f64, Option<f64>)| {
        vec![
            Cell::words(part.0.clone()),
            Cell::number(plain(100.0 * amount(part) / whole, 4)),
            Cell::number(plain(part.2, 3)),
            Cell::words(if part.1.is_empty() { "\u{2013}".into() } else { part.1.clone() }),
        ]
    };
    let kind = if by_mass { "% by mass" } else { "% by volume" };
    let words = if by_mass {
        "Mass fractions of the whole mix; they can be weighed again in two years whatever the drops weigh then.".to_string()
    } else {
        "Mass fractions need the densities of resin and colourants (density_g_ml in job.toml); until then these are parts by volume."
            .to_string()
    };
    Some((table("The best recipe", &["what", kind, "mL", "as dosed"], &[0.36, 0.24, 0.2, 0.2], parts.iter().map(row).collect()), words))
}

fn evidence(document: &Document) -> Table {
    let source =
        |text: &Option<String>| text.as_ref().map_or_else(|| Cell::words("no source given"), |text| Cell::words(bounded(text, LONGEST)));
    let mut rows = Vec::new();
    for known in document.known.iter().take(100) {
        let what = match known.of {
            None | Some(KnownOf::Rod) => "rod",
            Some(KnownOf::OverallLength) => "overall length",
            Some(KnownOf::GreatestDiameter) => "greatest diameter",
            Some(KnownOf::Diameter) => "diameter",
            Some(KnownOf::Stock) => "stock it was made from",
        };
        let sigma = known.sigma.as_ref().map_or_else(String::new, |sigma| format!(" \u{b1} {}", sigma.written));
        rows.push(vec![
            Cell::words(format!("{what} {}", bounded(&known.name, 60))),
            Cell::number(format!("{}{sigma}", bounded(&known.value.written, 40))),
            source(&known.source),
        ]);
    }
    for photo in document.photo.iter().take(100) {
        let kind = photo.made.as_ref().map_or_else(String::new, |part| format!(", made part {}", bounded(part, 40)));
        rows.push(vec![
            Cell::words(format!("photo {}{kind}", bounded(&photo.name, 60))),
            Cell::number(bounded(&photo.file, 80)),
            source(&photo.source),
        ]);
    }
    for reading in document.reading.iter().take(100) {
        rows.push(vec![
            Cell::words(format!("reading {}", bounded(&reading.name, 60))),
            Cell::number(crate::stations::reading_words(reading)),
            source(&reading.source),
        ]);
    }
    if !document.sample.is_empty() {
        rows.push(vec![
            Cell::words("cured chips"),
            Cell::number(document.sample.len().to_string()),
            Cell::words("own bench; listed in job.toml"),
        ]);
    }
    table("What was known, and from where", &["what", "value or file", "source"], &[0.28, 0.3, 0.42], rows)
}

fn sizes(result: &JobResult) -> Table {
    let row = |size: &Dimension| {
        vec![
            Cell::words(bounded(&size.name, 80)),
            Cell::number(doubted(size.value_mm, size.sigma_mm)),
            Cell::number(plain(size.used_mm, 3)),
            Cell::words(size.chosen.as_ref().map_or_else(|| "as measured".into(), |label| bounded(label, 60))),
            Cell::words(bounded(&size.source, 80)),
        ]
    };
    table(
        "Sizes, mm",
        &["size", "photos show", "made to", "which is", "from"],
        &[0.26, 0.2, 0.14, 0.2, 0.2],
        result.dimensions.iter().take(60).map(row).collect(),
    )
}

fn decisions(document: &Document) -> Entry {
    let mut rows = Vec::new();
    for size in document.size.iter().take(100) {
        if let Some(choose) = &size.choose {
            rows.push(vec![Cell::words(bounded(&size.name, 80)), Cell::words(format!("taken as {}", bounded(&choose.written, 40)))]);
        }
        for refused in size.refuse.iter().take(20) {
            rows.push(vec![Cell::words(bounded(&size.name, 80)), Cell::words(format!("not {}", bounded(&refused.written, 40)))]);
        }
        if let Some(reading) = &size.reading {
            rows.push(vec![Cell::words(bounded(&size.name, 80)), Cell::words(format!("read as {}", bounded(&reading.written, 40)))]);
        }
    }
    if let Some(target) = &document.target {
        let what = match (&target.lab, &target.from, &target.age) {
            (Some(wanted), _, _) => lab(*wanted),
            (_, Some(from), _) => format!("as in {}", bounded(from, 80)),
            (_, _, Some(age)) => {
                format!("{} of the way from {} to {}", crate::words::percent(age.share), bounded(&age.new, 60), bounded(&age.now, 60))
            }
            _ => "not said".into(),
        };
        rows.push(vec![Cell::words("colour wanted"), Cell::words(what)]);
    }
    if rows.is_empty() {
        Entry::Words("None: all sizes are those that the evidence makes likeliest.".into())
    } else {
        Entry::Table(table("What a person decided", &["about", "decision"], &[0.4, 0.6], rows))
    }
}

fn assumptions(result: &JobResult) -> Table {
    let row = |one: &result::Assumption| {
        vec![Cell::words(bounded(&one.station, 40)), Cell::words(bounded(&one.text, LONGEST)), Cell::number(bounded(&one.switch, 120))]
    };
    table(
        "Taken for true without evidence, and the line of job.toml that changes each",
        &["station", "taken for true", "changed by"],
        &[0.14, 0.58, 0.28],
        result.assumptions.iter().take(60).map(row).collect(),
    )
}
