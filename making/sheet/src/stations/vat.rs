//! The vat over the run, below the run's own numbers.

use super::LONGEST;
use crate::station::{Block, Cell, Table};
use crate::words::{bounded, plain};
use result::{VatLine, VatResult};

/// Most lines of the vat's book on the sheet; the rest stands in the result.
const MOST_LINES: usize = 24;

/// The book of the vat beside what bare top-ups would do, and what to mix ahead.
pub(super) fn vat(vat: &VatResult) -> Vec<Block> {
    let advice = Block::Words(bounded(&vat.advice, LONGEST));
    if vat.lines.len() < 3 {
        return vec![advice];
    }
    let off = |line: Option<&VatLine>| {
        Cell::number(line.and_then(|line| line.de00).map_or_else(|| "\u{2013}".to_string(), |de00| plain(de00, 1)))
    };
    let row = |(n, line): (usize, &VatLine)| {
        let bare = vat.untinted.get(n);
        vec![
            Cell::words(bounded(&line.what, 60)),
            Cell::number(plain(line.held_ml, 0)),
            Cell::number(plain(100.0 * line.tint_share, 2)),
            off(Some(line)),
            Cell::number(bare.map_or_else(|| "\u{2013}".into(), |bare| plain(100.0 * bare.tint_share, 2))),
            off(bare),
        ]
    };
    let table = Table {
        caption: "The vat: topped up with the same mix, and with bare resin".into(),
        columns: ["what is done", "holds mL", "tint %", "CIEDE2000", "bare: tint %", "CIEDE2000"].map(String::from).into(),
        shares: vec![0.28, 0.13, 0.13, 0.15, 0.16, 0.15],
        rows: vat.lines.iter().enumerate().take(MOST_LINES).map(row).collect(),
    };
    vec![advice, Block::Table(table)]
}
