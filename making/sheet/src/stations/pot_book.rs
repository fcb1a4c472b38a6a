//! The pot's book: what was done, what to add, the scale-up checked, stocks, shelf and cure.

use super::LONGEST;
use super::pot::{drops, grams};
use crate::station::{Block, Cell, Emphasis, Table};
use crate::words::{bounded, doubted, lab, percent, plain};
use result::{BookTold, CorrectionTold, CureTold, PotResult, ScaleUpTold, ShelfTold, StockTold};

const MOST_ROWS: usize = 40;

/// Whatever of it there is.
pub(super) fn blocks(pot: &PotResult) -> Vec<Block> {
    let tables = [shelf(&pot.shelf), book(&pot.book), corrections(&pot.corrections), scale_up(&pot.scale_up)];
    let mut blocks: Vec<Block> = tables.into_iter().flatten().map(Block::Table).collect();
    blocks.extend(pot.top_up.as_ref().map(|words| Block::Words(bounded(words, LONGEST))));
    blocks.extend(stocks(&pot.stocks));
    blocks.extend(pot.cure.as_ref().map_or(Vec::new(), cure));
    blocks
}

fn table<T>(rows: &[T], caption: &str, columns: &[&str], shares: &[f64], row: impl Fn(&T) -> Vec<Cell>) -> Option<Table> {
    (!rows.is_empty()).then(|| Table {
        caption: caption.into(),
        columns: columns.iter().map(|name| name.to_string()).collect(),
        shares: shares.into(),
        rows: rows.iter().take(MOST_ROWS).map(row).collect(),
    })
}

fn shelf(lines: &[ShelfTold]) -> Option<Table> {
    table(lines, "From the shelf", &["colourant", "started from", "how", "strength by these chips"], &[0.18, 0.22, 0.38, 0.22], |line| {
        let strength = line.ln_strength.map_or_else(
            || "no chip of it yet".into(),
            |ln| format!("{}\u{a0}\u{d7} the shelf's", doubted(ln.value.exp(), ln.value.exp() * ln.sigma)),
        );
        vec![
            Cell::words(bounded(&line.colourant, 60)),
            Cell::words(bounded(&line.from, 80)),
            Cell::words(bounded(&line.how, 200)),
            Cell::number(strength),
        ]
    })
}

fn book(lines: &[BookTold]) -> Option<Table> {
    table(
        lines,
        "The book of pots",
        &["what was done", "pot holds mL", "colourants, % of the total", "colour", "off aim"],
        &[0.28, 0.13, 0.23, 0.26, 0.1],
        |line| {
            let shares: Vec<String> =
                line.percent.iter().take(6).map(|(name, share)| format!("{} {}", bounded(name, 30), plain(*share, 3))).collect();
            vec![
                Cell::words(bounded(&line.what, 160)),
                Cell::number(format!("{}: {}", bounded(&line.pot, 20), plain(line.total_ml, 1))),
                Cell::number(if shares.is_empty() { "none".into() } else { shares.join(", ") }),
                Cell::number(line.lab.map_or_else(|| "\u{2013}".into(), lab)),
                Cell::number(line.de00.map_or_else(|| "\u{2013}".into(), |de00| plain(de00, 1))),
            ]
        },
    )
}

fn corrections(lines: &[CorrectionTold]) -> Option<Table> {
    table(
        lines,
        "To bring the pot nearer: one can only add (each line by itself)",
        &["pot", "bare resin mL", "colourants", "CIEDE2000 then", "95 in 100 below"],
        &[0.12, 0.16, 0.42, 0.15, 0.15],
        |line| {
            vec![
                Cell::words(bounded(&line.pot, 30)),
                Cell::number(plain(line.resin_ml, 1)),
                Cell::number(if line.grams.is_empty() { drops(&line.drops) } else { grams(&line.grams) }),
                Cell::number(plain(line.de00[0], 1)),
                Cell::number(plain(line.de00[1], 1)),
            ]
        },
    )
}

fn scale_up(lines: &[ScaleUpTold]) -> Option<Table> {
    table(
        lines,
        "The scale-up as written down",
        &["colourant", "written mL", "right mL", "what is wrong"],
        &[0.2, 0.17, 0.17, 0.46],
        |line| {
            let (text, emphasis) = match &line.slip {
                None => ("right".to_string(), Emphasis::Plain),
                Some(slip) => (bounded(slip, LONGEST), Emphasis::Contradicted),
            };
            vec![
                Cell::words(bounded(&line.colourant, 60)),
                Cell::number(plain(line.written_ml, 3)).standing(emphasis),
                Cell::number(plain(line.right_ml, 3)),
                Cell::words(text).standing(emphasis),
            ]
        },
    )
}

fn stocks(lines: &[StockTold]) -> Option<Block> {
    let one = |line: &StockTold| {
        let unit = bounded(&line.unit, 4);
        let step = |[take, into, strength, _]: &[f64; 4]| {
            format!(
                "{}\u{a0}{unit} into {}\u{a0}{unit} of bare resin gives {}\u{a0}%",
                plain(*take, 3),
                plain(*into, 3),
                plain(*strength, 3)
            )
        };
        let steps: Vec<String> = line.steps.iter().take(4).map(step).collect();
        format!(
            "{}: too small a dose to measure neat. {}; of that, {}\u{a0}{unit} into the pot ({} of doubt; the pot must be at least {}\u{a0}{unit}).",
            bounded(&line.colourant, 60),
            steps.join("; of that, "),
            plain(line.dose, 3),
            percent(line.error),
            plain(line.least_total, 1)
        )
    };
    (!lines.is_empty()).then(|| Block::List(lines.iter().take(12).map(one).collect()))
}

fn cure(cure: &CureTold) -> Vec<Block> {
    let mut rows = Vec::new();
    let mut say = |what: &str, value: String| rows.push(vec![Cell::words(what), Cell::number(value)]);
    if let Some(depth) = cure.depth_um {
        say("depth of penetration, \u{b5}m", doubted(depth.value, depth.sigma));
    }
    if let Some(critical) = cure.critical {
        say("critical exposure, in the strips' unit", doubted(critical.value, critical.sigma));
    }
    if let Some(exposure) = cure.exposure {
        let what = format!("suggested for a layer of {} mm, after a test strip", plain(cure.layer_mm, 3));
        say(&what, doubted(exposure.value, exposure.sigma));
    }
    if let Some(factor) = cure.factor {
        say("times what bare resin needs", plain(factor, 2));
    }
    let mut blocks = Vec::new();
    if !rows.is_empty() {
        blocks.push(Block::Table(Table {
            caption: if cure.measured { "Exposure, measured".into() } else { "Exposure, estimated: never without a test strip".into() },
            columns: vec!["what".into(), "value".into()],
            shares: vec![0.6, 0.4],
            rows,
        }));
    }
    blocks.push(Block::Words(bounded(&cure.basis, LONGEST)));
    blocks
}
