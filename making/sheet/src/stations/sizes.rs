use super::{bare, is_contradicted, picture, want, why_missing};
use crate::JobSheet;
use crate::pictures;
use crate::station::{Block, Cell, Doubt, Emphasis, State, Station, Table};
use crate::words::{and, bounded, capital, doubted, percent, plain};
use result::Dimension;

/// Most sizes in the table.
const MOST_SIZES: usize = 60;
/// Most rulers.
const MOST_RULERS: usize = 24;

/// Which sizes were meant? Measured sizes, and the odds of the round ones their maker may have had in mind.
pub fn sizes(sheet: &JobSheet) -> Station {
    let sizes = &sheet.result.dimensions;
    let mut station = bare(sheet, "sizes", "Which sizes were meant?", !sizes.is_empty());
    if sizes.is_empty() {
        station.blocks = why_missing(sheet, "sizes");
        station.wants.push(want(
            "A profile first. Any size you can read on an original yourself helps as much as another photo.",
            "[[size]]\nname = \"collar diameter\"\nreading = \"12.68 mm\"\nsigma = \"0.02 mm\"",
        ));
        return station;
    }
    station.answer = answer(sheet);
    for size in sizes.iter().take(MOST_RULERS) {
        let source = if size.source.is_empty() { String::new() } else { format!("; {}", bounded(&size.source, 120)) };
        let caption = format!("{}: {}\u{a0}mm measured{source}", capital(&bounded(&size.name, 80)), doubted(size.value_mm, size.sigma_mm));
        station.blocks.extend(picture(|width| pictures::ruler(size, is_decided(sheet, size), width), caption));
    }
    if sizes.len() > MOST_RULERS {
        station.blocks.push(Block::Words(format!("{} more sizes stand in the table only.", sizes.len() - MOST_RULERS)));
    }
    station.blocks.push(Block::Table(table(sheet)));
    let odds: Vec<String> = sheet
        .result
        .system
        .iter()
        .filter(|(_, odds)| odds.is_finite())
        .take(8)
        .map(|(name, odds)| format!("{} {}", bounded(name, 20), percent(*odds)))
        .collect();
    if !odds.is_empty() {
        station.blocks.push(Block::Words(format!("What the maker worked in, by all sizes together: {}.", and(&odds))));
    }
    let against: Vec<&Dimension> = sizes.iter().filter(|size| is_contradicted(size)).collect();
    if !against.is_empty() {
        station.state = State::Contradicted;
    }
    for size in against.into_iter().take(6).rev() {
        let off = size.against_sigmas.unwrap_or(0.0).abs();
        station.doubts.insert(
            0,
            Doubt {
                text: format!(
                    "{}: {} was taken, {} sigma from what the photos say",
                    bounded(&size.name, 80),
                    bounded(size.chosen.as_deref().unwrap_or("a size"), 40),
                    plain(off, 1)
                ),
                settle: "read this size on an original, or take the choice back".into(),
            },
        );
    }
    station
}

/// Whether the person's own line in the document, not the odds, made the choice.
pub(super) fn is_decided(sheet: &JobSheet, size: &Dimension) -> bool {
    sheet.document.size.iter().any(|decision| decision.name == size.name && decision.choose.is_some())
}

fn answer(sheet: &JobSheet) -> String {
    let best = sheet.result.system.iter().filter(|(_, odds)| odds.is_finite()).max_by(|a, b| a.1.total_cmp(b.1));
    match best {
        Some((system, odds)) => {
            format!("{}, {} in 100", bounded(system, 20), plain((odds * 100.0).min(if *odds < 1.0 { 99.0 } else { 100.0 }), 0))
        }
        None => crate::words::count(sheet.result.dimensions.len(), "size"),
    }
}

fn table(sheet: &JobSheet) -> Table {
    let row = |size: &Dimension| {
        let decided = is_decided(sheet, size);
        let (mut taken, mut emphasis) = match &size.chosen {
            Some(label) => (bounded(label, 40), if decided { Emphasis::Decided } else { Emphasis::Used }),
            None => (format!("{}\u{a0}mm, as measured", plain(size.used_mm, 2)), Emphasis::Plain),
        };
        if is_contradicted(size) {
            emphasis = Emphasis::Contradicted;
            taken.push_str(", against the photos");
        } else if decided {
            taken.push_str(", your choice");
        }
        let odds = |label: &str| size.candidates.iter().find(|c| c.label == label).map(|c| percent(c.odds));
        let runner_up = size
            .candidates
            .iter()
            .filter(|c| Some(&c.label) != size.chosen.as_ref() && c.odds >= 0.005)
            .max_by(|a, b| a.odds.total_cmp(&b.odds));
        vec![
            Cell::words(bounded(&size.name, 80)),
            Cell::number(doubted(size.value_mm, size.sigma_mm)),
            Cell::number(taken).standing(emphasis),
            Cell::number(size.chosen.as_deref().and_then(odds).unwrap_or_else(|| "\u{2013}".into())),
            Cell::number(runner_up.map_or_else(|| "\u{2013}".into(), |c| format!("{}  {}", bounded(&c.label, 30), percent(c.odds)))),
        ]
    };
    Table {
        caption: "Sizes, mm".into(),
        columns: ["size", "measured, mm", "taken", "odds", "runner-up"].map(String::from).into(),
        shares: vec![0.24, 0.2, 0.24, 0.11, 0.21],
        rows: sheet.result.dimensions.iter().take(MOST_SIZES).map(row).collect(),
    }
}
