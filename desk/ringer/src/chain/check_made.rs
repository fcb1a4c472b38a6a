//! Station check: readings and photos of made parts against the design, and what the bench learns from them.

mod lines;

use super::Says;
use super::colour::Wanted;
use super::evidence::Evidence;
use super::memory::Memory;
use super::shape::{self, Shape};
use crate::progress::Progress;
use check::{CALIPER_SIGMA_MM, Class, Limits, PinTry, Side, Verdict};
use cie::Lab;
use job::document::{MadePart, Tolerance, ToleranceClass};
use result::{
    CheckResult, CheckedColour, CheckedPart, CheckedSize, Doubted, JobResult, LaidOver, PairResult, SizeTold, ToldLimits, ToneLotResult,
};

/// Standard uncertainty of a colour reading an axis where none is given (common practice, no source).
const LAB_SIGMA: f64 = 0.3;
/// Standard uncertainty of a gauge pin, mm: pins of class X or ZZ are within 0.001 to 0.005 mm (ASME B89.1.5, from memory).
const PIN_SIGMA_MM: f64 = 0.002;
/// The bore's names on the sheet and in readings.
const BORE: &str = "bore";
const BORE_DEPTH: &str = "bore depth";

/// A size that can be checked.
struct Allowed {
    told: ToldLimits,
    limits: Limits,
    /// As sent to the machine, mm, and whether it is a bore; absent for what says nothing about shrinkage.
    drawn: Option<(f64, check::Kind)>,
}

pub(super) fn work_out(
    evidence: &Evidence,
    shape: Option<&Shape>,
    wanted: Option<&Wanted>,
    sheet: &mut JobResult,
    memory: &mut Memory,
    progress: &Progress,
) {
    let allowed = allowed(evidence, sheet);
    sheet.limits = allowed.iter().map(|one| one.told.clone()).collect();
    let parts = &evidence.document.check;
    if parts.is_empty() {
        return sheet.missing("check", "no made part was read ([[check]])");
    }
    progress.step("checking made parts");
    let mut found = CheckResult {
        parts: parts.iter().map(|part| part_checked(evidence, part, &allowed, wanted, sheet)).collect(),
        ..CheckResult::default()
    };
    found.counts = counts(&found.parts);
    let [good, _, rework, reject] = found.counts;
    let decided = u64::from(good + rework + reject);
    found.bad_share_95 = if decided > 0 { check::bad_share_bounds(u64::from(rework + reject), decided, 0.95).ok() } else { None };
    found.inspect = inspect(evidence, sheet);
    found.sizes = over_all(&found.parts, &allowed);
    tones(evidence, &mut found, sheet);
    found.laid_over = laid_over(evidence, shape, sheet, memory, progress);
    found.bench_lines = lines::bench_lines(evidence, &found, &allowed, sheet);
    found.sample_lines = lines::sample_lines(evidence, &found, sheet);
    sheet.check = Some(found);
}

/// A size before its limits are known: name, nominal, where material can be taken off, limits of the fit, as sent to the machine.
type Checkable = (String, f64, Side, Option<[f64; 2]>, Option<(f64, check::Kind)>);

/// Every size of the part with its limits: its own, the fit's, or the general tolerance.
fn allowed(evidence: &Evidence, sheet: &mut JobResult) -> Vec<Allowed> {
    let tolerance = evidence.document.tolerance.clone().unwrap_or_default();
    let scale = evidence.document.batch.as_ref().and_then(|batch| batch.scale).unwrap_or(1.0);
    let mut sizes: Vec<Checkable> = Vec::new();
    for size in &sheet.dimensions {
        let drawn = (size.kind != "position").then_some((size.used_mm * scale, check::Kind::Outer));
        let side = if size.kind == "position" { Side::Fixed } else { Side::Outer };
        sizes.push((size.name.clone(), size.used_mm, side, None, drawn));
    }
    if let Some(bore) = sheet.body.as_ref().and_then(|body| body.bore.as_ref()) {
        let fit = bore.limits_mm;
        let nominal_mm = fit.map_or(bore.diameter_mm, |[low, high]| 0.5 * (low + high));
        sizes.push((BORE.into(), nominal_mm, Side::Bore, fit, Some((bore.diameter_mm * scale, check::Kind::Bore))));
        sizes.push((BORE_DEPTH.into(), bore.depth_mm, Side::Bore, None, None));
    }
    for name in tolerance.own.keys().filter(|name| !sizes.is_empty() && !sizes.iter().any(|size| size.0 == **name)) {
        let names: Vec<&str> = sizes.iter().map(|size| size.0.as_str()).collect();
        sheet.warn(
            "check",
            None,
            format!("A tolerance is given for `{name}`, but no such size was found."),
            format!("Name one of these in [tolerance] own: {}.", names.join(", ")),
        );
    }
    let mut general = false;
    let mut allowed = Vec::new();
    for (name, nominal_mm, side, fit, drawn) in sizes {
        let (limits, rule, is_general) = limits(&tolerance, &name, nominal_mm, side, fit);
        general |= is_general;
        if let Ok(limits) = limits {
            let told = ToldLimits { name, nominal_mm, low_mm: limits.low_mm, high_mm: limits.high_mm, rule };
            allowed.push(Allowed { told, limits, drawn });
        }
    }
    if general && tolerance.class.is_none() {
        sheet.assume(
            "check",
            "Sizes without their own tolerance may be off by the general tolerance of ISO 2768-1, class m.",
            "[tolerance] class",
        );
    }
    allowed
}

fn limits(
    tolerance: &Tolerance,
    name: &str,
    nominal_mm: f64,
    side: Side,
    fit: Option<[f64; 2]>,
) -> (Result<Limits, check::CheckError>, String, bool) {
    match (tolerance.own.get(name).map(|own| own.0.as_slice()), fit) {
        (Some([either]), _) => (Limits::about(nominal_mm, -either.mm, either.mm, side), "own".into(), false),
        (Some([low, high]), _) => (Limits::about(nominal_mm, low.mm, high.mm, side), "own".into(), false),
        (_, Some([low_mm, high_mm])) => (Limits::about(0.0, low_mm, high_mm, side), "fit".into(), false),
        _ => {
            let (class, letter) = match tolerance.class.unwrap_or(ToleranceClass::M) {
                ToleranceClass::F => (Class::Fine, 'f'),
                ToleranceClass::M => (Class::Medium, 'm'),
                ToleranceClass::C => (Class::Coarse, 'c'),
                ToleranceClass::V => (Class::VeryCoarse, 'v'),
            };
            (Limits::general(nominal_mm, class, side), format!("ISO 2768-1 {letter}"), true)
        }
    }
}

fn part_checked(evidence: &Evidence, part: &MadePart, allowed: &[Allowed], wanted: Option<&Wanted>, sheet: &mut JobResult) -> CheckedPart {
    let sigma_mm = part.sigma.as_ref().map_or(CALIPER_SIGMA_MM, |sigma| sigma.mm);
    let mut sizes = Vec::new();
    for (name, readings) in &part.readings {
        let Some(one) = allowed.iter().find(|one| one.told.name == *name) else {
            let names: Vec<&str> = allowed.iter().map(|one| one.told.name.as_str()).collect();
            let names = if names.is_empty() { "there are none yet".to_string() } else { names.join(", ") };
            sheet.warn(
                "check",
                None,
                format!("Part {} has a reading of `{name}`, but no such size can be checked.", part.part),
                format!("Name one of these: {names}."),
            );
            continue;
        };
        let values: Vec<f64> = readings.0.iter().map(|size| size.mm).collect();
        let judged = check::mean_reading(&values, sigma_mm).and_then(|reading| Ok((reading, check::judge(reading, one.limits)?)));
        match judged {
            Err(error) => sheet.warn("check", None, format!("Part {}, {name}: {error}", part.part), "Correct the reading."),
            Ok((reading, judged)) => {
                let settle =
                    judged.deciding_sigma_mm.map_or(String::new(), |sigma| format!("; a reading good to {sigma:.3} mm would decide"));
                sizes.push(CheckedSize {
                    name: name.clone(),
                    mm: reading.mm,
                    sigma_mm: reading.sigma_mm,
                    verdict: word(judged.verdict).into(),
                    chances: judged.chances,
                    rule: format!("{}{settle}", judged.rule),
                });
            }
        }
    }
    sizes.extend(by_pins(part, allowed, sheet));
    let (colour, colour_verdict) = colour(evidence, part, wanted, sheet);
    let (verdict, why) = verdict(&sizes, colour_verdict);
    CheckedPart { part: part.part.clone(), verdict: word(verdict).into(), why, sizes, colour }
}

fn by_pins(part: &MadePart, allowed: &[Allowed], sheet: &mut JobResult) -> Option<CheckedSize> {
    let (pins, bore) = (part.pins.as_ref()?, allowed.iter().find(|one| one.told.name == BORE));
    let Some(bore) = bore else {
        sheet.warn(
            "check",
            None,
            format!("Part {} was tried with pins, but no bore can be checked.", part.part),
            "Give the job a bore, or leave `pins` out.",
        );
        return None;
    };
    let tries = |sizes: &Option<job::Sizes>, enters| {
        sizes.iter().flat_map(|sizes| &sizes.0).map(|size| PinTry { mm: size.mm, enters }).collect::<Vec<_>>()
    };
    let tries: Vec<PinTry> = tries(&pins.enter, true).into_iter().chain(tries(&pins.stay_out, false)).collect();
    let sigma_mm = pins.sigma.as_ref().map_or(PIN_SIGMA_MM, |sigma| sigma.mm);
    match check::judge_by_pins(&tries, sigma_mm, bore.limits) {
        Err(error) => {
            sheet.warn("check", None, format!("Part {}, pins: {error}", part.part), "Correct the pins.");
            None
        }
        Ok(judged) => {
            let known = judged.bore.or_else(|| judged.go_mm.or(judged.no_go_mm).map(|mm| check::Reading { mm, sigma_mm }))?;
            Some(CheckedSize {
                name: format!("{BORE}, by pins"),
                mm: known.mm,
                sigma_mm: known.sigma_mm,
                verdict: word(judged.verdict).into(),
                chances: judged.chances.unwrap_or([0.0; 3]),
                rule: judged.words,
            })
        }
    }
}

fn colour(
    evidence: &Evidence,
    part: &MadePart,
    wanted: Option<&Wanted>,
    sheet: &mut JobResult,
) -> (Option<CheckedColour>, Option<(Verdict, String)>) {
    let Some(lab) = part.lab else { return (None, None) };
    let document = &evidence.document;
    let sigma = part.lab_sigma.unwrap_or(LAB_SIGMA);
    let limit = document.tolerance.as_ref().and_then(|t| t.de00).or(document.target.as_ref().and_then(|t| t.tolerance)).unwrap_or(1.0);
    let master = document.batch.as_ref().and_then(|batch| batch.master);
    let reference = wanted.map(|wanted| wanted.lab).or(master);
    let judged = reference.and_then(|reference| match check::judge_colour(Lab::from(lab), sigma, Lab::from(reference), limit) {
        Ok(judged) => Some(judged),
        Err(error) => {
            sheet.warn("check", None, format!("Part {}, colour: {error}", part.part), "Correct the reading.");
            None
        }
    });
    let told = CheckedColour {
        lab,
        to_target: wanted.map(|wanted| cie::ciede2000(lab, wanted.lab)),
        to_master: master.map(|master| cie::ciede2000(lab, master)),
        words: reference.map_or_else(String::new, |reference| cie::direction(reference, lab)),
    };
    (Some(told), judged.map(|judged| (judged.verdict, judged.rule)))
}

/// The worst of its sizes and its colour.
fn verdict(sizes: &[CheckedSize], colour: Option<(Verdict, String)>) -> (Verdict, String) {
    let of_size = sizes.iter().map(|size| (verdict_of(&size.verdict), format!("{} {:.2} mm: {}", size.name, size.mm, size.rule)));
    let all: Vec<(Verdict, String)> = of_size.chain(colour.map(|(verdict, rule)| (verdict, format!("colour: {rule}")))).collect();
    match all.iter().max_by_key(|(verdict, _)| rank(*verdict)) {
        None => (Verdict::Undecided, "nothing of it was read yet".into()),
        Some((Verdict::Accept, _)) => {
            (Verdict::Accept, format!("all {} readings within their limits, each with at least 95 % (ISO 14253-1)", all.len()))
        }
        Some((worst, _)) => {
            let why: Vec<String> = all.iter().filter(|(verdict, _)| verdict == worst).map(|(_, why)| why.clone()).collect();
            (*worst, why.join("; "))
        }
    }
}

fn rank(verdict: Verdict) -> u8 {
    match verdict {
        Verdict::Accept => 0,
        Verdict::Undecided => 1,
        Verdict::Rework => 2,
        Verdict::Reject => 3,
    }
}

fn word(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Accept => "accept",
        Verdict::Undecided => "undecided",
        Verdict::Rework => "rework",
        Verdict::Reject => "reject",
    }
}

fn verdict_of(word: &str) -> Verdict {
    match word {
        "accept" => Verdict::Accept,
        "rework" => Verdict::Rework,
        "reject" => Verdict::Reject,
        _ => Verdict::Undecided,
    }
}

fn counts(parts: &[CheckedPart]) -> [u32; 4] {
    ["accept", "undecided", "rework", "reject"].map(|word| parts.iter().filter(|part| part.verdict == word).count() as u32)
}

/// How many of this lot to inspect; AQL 2.5 is what the trade takes where nothing is agreed (common practice, no source).
fn inspect(evidence: &Evidence, sheet: &JobResult) -> Option<String> {
    let lot = evidence.document.batch.as_ref().and_then(|batch| batch.made).or(sheet.run.as_ref().map(|run| run.start))?;
    check::small_lot(lot, 2.5).ok().map(|plan| plan.advice)
}

/// Each size over all parts: mean, and how much of the limits the scatter takes.
fn over_all(parts: &[CheckedPart], allowed: &[Allowed]) -> Vec<SizeTold> {
    let one = |one: &Allowed| {
        let values: Vec<f64> =
            parts.iter().flat_map(|part| &part.sizes).filter(|size| size.name == one.told.name).map(|size| size.mm).collect();
        if values.is_empty() {
            return None;
        }
        let told = SizeTold {
            name: one.told.name.clone(),
            n: values.len(),
            mean_mm: values.iter().sum::<f64>() / values.len() as f64,
            cpk: None,
            cpk_lower_95: None,
            no_cpk: None,
        };
        Some(match check::capability_of(&values, one.limits) {
            Ok(found) => SizeTold {
                cpk: Some(Doubted { value: found.cpk, sigma: found.standard_error }),
                cpk_lower_95: Some(found.lower_95),
                ..told
            },
            Err(why) => SizeTold { no_cpk: Some(why.to_string()), ..told },
        })
    };
    allowed.iter().filter_map(one).collect()
}

fn tones(evidence: &Evidence, found: &mut CheckResult, sheet: &mut JobResult) {
    let read: Vec<(&str, Lab)> =
        found.parts.iter().filter_map(|part| Some((part.part.as_str(), Lab::from(part.colour.as_ref()?.lab)))).collect();
    if read.len() < 2 {
        return;
    }
    let name = |i: usize| read.get(i).map_or_else(String::new, |(name, _)| name.to_string());
    let labs: Vec<Lab> = read.iter().map(|(_, lab)| *lab).collect();
    let limit = evidence.document.tolerance.as_ref().and_then(|t| t.lot_de00).unwrap_or(cie::SET_DE00);
    let sigma = evidence
        .document
        .check
        .iter()
        .filter(|part| part.lab.is_some())
        .map(|part| part.lab_sigma.unwrap_or(LAB_SIGMA))
        .fold(0.0, f64::max);
    match check::tone_lots(&labs, limit, sigma) {
        Err(error) => sheet.warn("check", None, format!("Parts were not sorted by tone: {error}"), "Correct the colour readings."),
        Ok(lots) => {
            sheet.warn_all("check", None, &lots.notes);
            found.tone_lots = lots
                .value
                .iter()
                .map(|lot| ToneLotResult { parts: lot.parts.iter().map(|i| name(*i)).collect(), lab: lot.mean.array(), widest: lot.widest })
                .collect();
        }
    }
    if let Ok(pairs) = check::matched_pairs(&labs) {
        found.pairs = pairs.iter().map(|pair| PairResult { parts: [name(pair.first), name(pair.second)], de00: pair.de00 }).collect();
    }
}

/// Photos of made parts go through outline and profile like those of the original, each alone, and are laid over the design.
fn laid_over(evidence: &Evidence, shape: Option<&Shape>, sheet: &mut JobResult, memory: &mut Memory, progress: &Progress) -> Vec<LaidOver> {
    let design: Vec<[f64; 2]> = shape
        .and_then(|shape| shape.meridian.as_ref())
        .map(|meridian| meridian.sample(0.002).iter().map(|p| [p.z_mm, p.r_mm]).collect())
        .unwrap_or_default();
    let mut all = Vec::new();
    for photo in &evidence.photos {
        let entry = evidence.entry(photo);
        let Some(part) = &entry.made else { continue };
        progress.step(&format!("{}: laying the made part over the design", entry.name));
        let found = shape::made_profile(evidence, photo, sheet, memory);
        let over = match found.as_ref() {
            Err(why) => Err(why.clone()),
            Ok(profile) => {
                sheet.warn_all("check", Some(&entry.name), &profile.notes);
                let points: Vec<[f64; 3]> =
                    profile.value.points.iter().filter(|p| p.seen).map(|p| [p.z_mm, p.r_mm, p.sigma_r_mm]).collect();
                check::laid_over(&design, &points)
                    .map_err(|e| e.to_string())
                    .map(|off| one_laid_over(&entry.name, part, points, &off, &profile.value.dimensions, sheet))
            }
        };
        match over {
            Ok(over) => all.push(over),
            Err(why) => sheet.warn(
                "check",
                Some(&entry.name),
                format!("The made part could not be laid over the design: {why}"),
                "Photograph it as the original: on its shaft, before an even ground, from some distance.",
            ),
        }
    }
    all
}

fn one_laid_over(
    photo: &str,
    part: &str,
    points: Vec<[f64; 3]>,
    off: &[check::Off],
    sizes: &[profile::NamedSize],
    sheet: &JobResult,
) -> LaidOver {
    let in_doubts = |off: &&check::Off| (off.off_mm / off.sigma_mm.max(1e-6)).abs();
    let worst =
        off.iter().max_by(|a, b| in_doubts(a).total_cmp(&in_doubts(b))).map_or([0.0; 3], |off| [off.z_mm, off.off_mm, off.sigma_mm]);
    let drawn = |name: &str| sheet.dimensions.iter().find(|size| size.name == name).map(|size| size.used_mm);
    LaidOver {
        photo: photo.into(),
        part: part.into(),
        off_mm: off.iter().map(|off| off.off_mm).collect(),
        worst,
        rms_mm: (off.iter().map(|off| off.off_mm * off.off_mm).sum::<f64>() / off.len().max(1) as f64).sqrt(),
        // Names further down depend on what was recognised; these two every part has.
        sizes: sizes
            .iter()
            .take(2)
            .filter_map(|size| Some((size.name.clone(), size.value_mm, size.sigma_mm, drawn(&size.name)?)))
            .collect(),
        points,
    }
}
