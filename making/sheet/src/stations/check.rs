use super::{LONGEST, bare, want};
use crate::JobSheet;
use crate::pictures::{self, NARROW_MM, WIDE_MM};
use crate::station::{Block, Cell, Emphasis, Station, Table};
use crate::words::{and, bounded, count, doubted, lab, percent, plain, sentence};
use result::{CheckResult, CheckedPart, LaidOver, ProfileResult, ToldLimits};

/// Sizes on the card; more do not fit a calm quarter of an hour with a caliper.
const MOST_SIZES: usize = 14;
/// Most rows of one table; what is more stands in the result.
const MOST_ROWS: usize = 40;

/// Is it right? Readings of made parts with their verdicts; before they are in, a card to write them on.
pub fn check(sheet: &JobSheet) -> Station {
    let found = sheet.result.check.as_ref();
    let mut station = bare(sheet, "check", "Is it right?", found.is_some());
    let Some(found) = found else {
        station.answer = "read the first parts".into();
        if sheet.result.dimensions.is_empty() {
            station.wants.push(want("Sizes to check against come with the profile.", ""));
            return station;
        }
        card(sheet, &mut station);
        station.wants.push(want(
            "Readings of made parts. Until they are in, nothing here is called right.",
            "[[check]]\npart = \"1\"\nreadings = { \"greatest diameter\" = \"22.18 mm\", bore = [6.41, 6.40] }\npins = { enter = \"6.40 mm\", stay_out = \"6.45 mm\" }\nlab = [65.8, -7.7, 8.4]",
        ));
        return station;
    };
    station.answer = answer(found);
    station.blocks.push(Block::Table(verdicts(&found.parts)));
    station.blocks.push(Block::Words(odds(found)));
    if !found.sizes.is_empty() {
        station.blocks.push(Block::Table(sizes(sheet, found)));
    }
    if found.parts.iter().any(|part| part.colour.is_some()) {
        station.blocks.extend(chips(sheet, &found.parts));
        station.blocks.push(Block::Table(colours(&found.parts)));
    }
    tones(found, &mut station.blocks);
    let design = sheet.result.profile.as_ref();
    found.laid_over.iter().take(6).for_each(|over| laid_over(over, design, &mut station.blocks));
    learnt(sheet, found, &mut station.blocks);
    station
}

fn answer(found: &CheckResult) -> String {
    let named: Vec<String> = found
        .counts
        .iter()
        .zip(["accepted", "not decided", "to rework", "rejected"])
        .filter(|(n, _)| **n > 0)
        .map(|(n, word)| format!("{n} {word}"))
        .collect();
    if named.is_empty() { "nothing read".into() } else { named.join(", ") }
}

/// The card: every size that can be checked, with what it may be.
fn card(sheet: &JobSheet, station: &mut Station) {
    let row = |size: &ToldLimits| {
        let blank = || Cell::number("");
        vec![
            Cell::words(bounded(&size.name, 80)),
            Cell::number(plain(size.low_mm, 2)),
            Cell::number(plain(size.high_mm, 2)),
            Cell::words(bounded(&size.rule, 40)),
            blank(),
            blank(),
            blank(),
        ]
    };
    let plain_row = |size: &result::Dimension| {
        let blank = || Cell::number("");
        vec![Cell::words(bounded(&size.name, 80)), Cell::number(plain(size.used_mm, 2)), blank(), blank(), blank()]
    };
    station.blocks.push(Block::Words("Read three parts from different places on the plate, each size twice, at room temperature and after the last cure. Write the mean.".into()));
    let limits = &sheet.result.limits;
    let positions = |name: &str| sheet.result.dimensions.iter().any(|size| size.name == name && size.kind == "position");
    let (columns, shares, rows): (Vec<&str>, Vec<f64>, Vec<_>) = if limits.is_empty() {
        let sizes = sheet.result.dimensions.iter().filter(|size| size.kind != "position");
        (
            vec!["size", "made to", "part 1", "part 2", "part 3"],
            vec![0.32, 0.17, 0.17, 0.17, 0.17],
            sizes.take(MOST_SIZES).map(plain_row).collect(),
        )
    } else {
        let sizes = limits.iter().filter(|size| !positions(&size.name));
        (
            vec!["size", "least", "most", "by", "part 1", "part 2", "part 3"],
            vec![0.26, 0.1, 0.1, 0.15, 0.13, 0.13, 0.13],
            sizes.take(MOST_SIZES).map(row).collect(),
        )
    };
    station.blocks.push(Block::Table(Table {
        caption: "Card for readings, mm".into(),
        columns: columns.into_iter().map(String::from).collect(),
        shares,
        rows,
    }));
}

fn verdicts(parts: &[CheckedPart]) -> Table {
    let row = |part: &CheckedPart| {
        let emphasis = if matches!(part.verdict.as_str(), "reject" | "rework") { Emphasis::Contradicted } else { Emphasis::Plain };
        vec![
            Cell::words(bounded(&part.part, 40)),
            Cell::words(part.verdict.clone()).standing(emphasis),
            Cell::words(sentence(&bounded(&part.why, LONGEST))),
        ]
    };
    Table {
        caption: "Made parts".into(),
        columns: ["part", "verdict", "what decided"].map(String::from).into(),
        shares: vec![0.14, 0.16, 0.7],
        rows: parts.iter().take(MOST_ROWS).map(row).collect(),
    }
}

fn odds(found: &CheckResult) -> String {
    let mut words = match found.bad_share_95 {
        None => "No part is decided yet.".to_string(),
        Some([low, high]) => {
            let [good, _, rework, reject] = found.counts;
            let decided = good + rework + reject;
            let least = if low > 0.0 { format!("at least {} and ", percent(low)) } else { String::new() };
            format!(
                "Of {} decided, {} not right as made. Of all that is made so, {least}at most {} will not be right, each said with 95 % certainty.",
                count(decided as usize, "part"),
                rework + reject,
                percent(high)
            )
        }
    };
    if let Some(inspect) = &found.inspect {
        words += " ";
        words += &sentence(&bounded(inspect, LONGEST));
    }
    words
}

fn sizes(sheet: &JobSheet, found: &CheckResult) -> Table {
    let row = |size: &result::SizeTold| {
        let limits = sheet.result.limits.iter().find(|limits| limits.name == size.name);
        let capability = match (size.cpk, size.cpk_lower_95) {
            (Some(cpk), Some(lower)) => format!("{}; at least {}", doubted(cpk.value, cpk.sigma), plain(lower, 2)),
            _ => "three parts or more are needed".to_string(),
        };
        vec![
            Cell::words(bounded(&size.name, 80)),
            Cell::number(limits.map_or_else(String::new, |l| format!("{} to {}", plain(l.low_mm, 2), plain(l.high_mm, 2)))),
            Cell::words(limits.map_or_else(String::new, |l| bounded(&l.rule, 40))),
            Cell::number(format!("{} ({})", plain(size.mean_mm, 3), size.n)),
            Cell::number(capability),
        ]
    };
    Table {
        caption: "Sizes over all parts, mm; of Cpk the 95 % lower bound may be claimed".into(),
        columns: ["size", "limits", "by", "mean (parts)", "Cpk"].map(String::from).into(),
        shares: vec![0.2, 0.21, 0.15, 0.17, 0.27],
        rows: found.sizes.iter().take(MOST_ROWS).map(row).collect(),
    }
}

/// The parts' colours in a row, each below the colour wanted, else the master's.
fn chips(sheet: &JobSheet, parts: &[CheckedPart]) -> Option<Block> {
    let master = sheet.document.batch.as_ref().and_then(|batch| batch.master);
    let wanted = sheet.result.colour.as_ref().map(|colour| colour.lab);
    let chip = |part: &CheckedPart| {
        let colour = part.colour.as_ref()?;
        Some(pictures::MadeChip { part: part.part.clone(), lab: colour.lab, de00: colour.to_target.or(colour.to_master) })
    };
    let read: Vec<pictures::MadeChip> = parts.iter().filter_map(chip).collect();
    let caption = match (wanted, master) {
        (Some(_), _) => "Each made part below the colour wanted, with its CIEDE2000; on a grey of L* 50.",
        (None, Some(_)) => "Each made part below the kept master, with its CIEDE2000; on a grey of L* 50.",
        _ => "The made parts; on a grey of L* 50.",
    };
    super::picture(|width| pictures::made_chips(wanted.or(master), &read, width), caption)
}

fn colours(parts: &[CheckedPart]) -> Table {
    let off = |de00: Option<f64>| Cell::number(de00.map_or_else(|| "\u{2013}".to_string(), |de00| plain(de00, 2)));
    let row = |part: &CheckedPart| {
        let colour = part.colour.as_ref()?;
        Some(vec![
            Cell::words(bounded(&part.part, 40)),
            Cell::number(lab(colour.lab)),
            off(colour.to_target),
            off(colour.to_master),
            Cell::words(bounded(&colour.words, 120)),
        ])
    };
    Table {
        caption: "Colours, and CIEDE2000 from the colour wanted and from the kept master".into(),
        columns: ["part", "read", "wanted", "master", "it is"].map(String::from).into(),
        shares: vec![0.12, 0.34, 0.11, 0.11, 0.32],
        rows: parts.iter().filter_map(row).take(MOST_ROWS).collect(),
    }
}

fn tones(found: &CheckResult, blocks: &mut Vec<Block>) {
    if !found.tone_lots.is_empty() {
        let row = |(n, lot): (usize, &result::ToneLotResult)| {
            let parts: Vec<String> = lot.parts.iter().take(60).map(|part| bounded(part, 40)).collect();
            vec![
                Cell::words(format!("lot {}", n + 1)),
                Cell::words(and(&parts)),
                Cell::number(lab(lot.lab)),
                Cell::number(plain(lot.widest, 2)),
            ]
        };
        blocks.push(Block::Table(Table {
            caption: "Tone lots: parts of one lot can lie side by side".into(),
            columns: ["lot", "parts", "mean", "widest"].map(String::from).into(),
            shares: vec![0.11, 0.43, 0.34, 0.12],
            rows: found.tone_lots.iter().enumerate().take(MOST_ROWS).map(row).collect(),
        }));
    }
    if !found.pairs.is_empty() {
        let pairs = found
            .pairs
            .iter()
            .take(12)
            .map(|pair| format!("{} and {}, {} apart", bounded(&pair.parts[0], 40), bounded(&pair.parts[1], 40), plain(pair.de00, 2)));
        blocks.push(Block::Words(format!("Best pairs, CIEDE2000: {}.", pairs.collect::<Vec<_>>().join("; "))));
    }
}

/// The made profile over the design, and how far it is off along the axis.
fn laid_over(over: &LaidOver, design: Option<&ProfileResult>, blocks: &mut Vec<Block>) {
    let Some(design) = design else { return };
    let made = ProfileResult { points: over.points.clone(), seen: vec![true; over.points.len()], pieces: design.pieces.clone() };
    let (part, photo) = (bounded(&over.part, 40), bounded(&over.photo, 60));
    if let Some(wide) = pictures::deviation(&made, WIDE_MM) {
        let caption =
            format!("Part {part} from photo {photo}: made less designed, square to the design; above the line material is too much.");
        blocks.push(Block::Picture { wide, narrow: pictures::deviation(&made, NARROW_MM), caption });
    }
    let [z, off, sigma] = over.worst;
    let sizes: Vec<String> = over
        .sizes
        .iter()
        .map(|(name, value, sigma, drawn)| format!("{} {}\u{a0}mm, drawn {}", bounded(name, 60), doubted(*value, *sigma), plain(*drawn, 2)))
        .collect();
    blocks.push(Block::Words(format!(
        "Part {part} is {}\u{a0}mm off the design in the root mean square; most surely off at {}\u{a0}mm from the rod end: {}\u{a0}mm. {}.",
        plain(over.rms_mm, 3),
        plain(z, 1),
        doubted(off, sigma),
        sentence(&sizes.join("; ")).trim_end_matches('.')
    )));
}

fn learnt(sheet: &JobSheet, found: &CheckResult, blocks: &mut Vec<Block>) {
    if let Some(bench) = &sheet.result.bench {
        let mut known = Vec::new();
        if let Some(scale) = bench.scale {
            known.push(format!("enlarge by {}", doubted(scale.value, scale.sigma)));
        }
        if let Some(offset) = bench.bore_offset_mm {
            known.push(format!("bores come out {}\u{a0}mm off", doubted(offset.value, offset.sigma)));
        }
        if let Some([made, good]) = bench.made_good {
            known.push(format!("{good} good of {made} made"));
        }
        if let Some([run, lost]) = bench.loads_lost.filter(|loads| loads[0] > 0) {
            known.push(format!("{lost} of {} lost", count(run as usize, "load")));
        }
        if let Some(shift) = bench.cure_shift {
            let shift: Vec<String> =
                shift.iter().zip(["L*", "a*", "b*"]).map(|(d, axis)| format!("{axis} {}", doubted(d.value, d.sigma))).collect();
            known.push(format!("the last cure moves colour by {}", shift.join(", ")));
        }
        if !known.is_empty() {
            blocks.push(Block::Words(format!("This bench, process {}: {}.", bounded(&bench.process, 80), known.join("; "))));
        }
    }
    if !found.bench_lines.is_empty() || !found.sample_lines.is_empty() {
        blocks.push(Block::Words(
            "What this batch teaches is in out/learnt.toml: copy the lines into bench.toml and job.toml, and the next plan goes by them."
                .into(),
        ));
    }
}
