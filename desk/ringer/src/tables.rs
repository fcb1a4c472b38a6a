//! `ringer tables`: the trade tables, read at the bench.

use crate::chain::Failure;
use quantity::{mm_label, parse_length_mm};
use sizes::tables;
use std::fmt::Write;

/// What the tables say to a question: nothing (their names), a table's name, a thread ("M6"), a fit with its size ("H7/g6 25 mm"), or a
/// size ("22.2", "7/8 in": what is made near it).
///
/// # Errors
/// A question that no table answers, with what can be asked.
pub fn answer(words: &[String]) -> Result<String, Failure> {
    let question = words.join(" ");
    let question = question.trim();
    if question.is_empty() {
        return Ok(format!(
            "Tables: {}\n\nAsk for one by name, for a thread (\"M6\"), a fit (\"H7/g6 25 mm\"), or what is made near a size (\"7/8 in\").",
            tables::catalogue().join(", ")
        ));
    }
    if let Ok(sheet) = tables::table(question) {
        return Ok(whole(&sheet));
    }
    if let Some(thread) = tables::thread(question) {
        return Ok(format!("{thread:#?}"));
    }
    if let Some((class, size)) =
        question.split_once(' ').filter(|(class, _)| class.contains('/') && class.starts_with(|c: char| c.is_ascii_alphabetic()))
    {
        return fit(class, size);
    }
    match parse_length_mm(question) {
        Ok(mm) => Ok(near(mm)),
        Err(error) => {
            Err(Failure::Ours(format!("error: no table answers `{question}`: {error}\n  hint: `ringer tables` lists what can be asked")))
        }
    }
}

fn whole(sheet: &tables::Sheet) -> String {
    let widths: Vec<usize> = (0..sheet.columns.len())
        .map(|i| {
            sheet.rows.iter().filter_map(|row| row.get(i)).chain(sheet.columns.get(i)).map(|cell| cell.chars().count()).max().unwrap_or(0)
        })
        .collect();
    let line = |cells: &[&str]| {
        cells.iter().zip(&widths).map(|(cell, width)| format!("{cell:<width$}")).collect::<Vec<_>>().join("  ").trim_end().to_string()
    };
    let mut out = String::new();
    for remark in &sheet.remarks {
        let _ = writeln!(out, "# {remark}");
    }
    let _ = writeln!(out, "{}", line(&sheet.columns));
    for row in &sheet.rows {
        let _ = writeln!(out, "{}", line(row));
    }
    out
}

fn fit(class: &str, size: &str) -> Result<String, Failure> {
    let nominal_mm = parse_length_mm(size).map_err(|e| Failure::Ours(format!("error: {e}")))?;
    let fit = tables::fit(class, nominal_mm).map_err(|e| Failure::Ours(format!("error: {e}")))?;
    Ok(format!(
        "{class} at {}: clearance {} to {} um ({:?}); below 0 is interference (ISO 286)",
        mm_label(nominal_mm),
        fit.clearance_min_um,
        fit.clearance_max_um,
        fit.character
    ))
}

fn near(mm: f64) -> String {
    let mut out = format!("Near {}:\n", mm_label(mm));
    for listed in tables::near(mm, 3) {
        let _ = writeln!(out, "  {:<16} {:>9.4} mm  {:+.4}  ({})", listed.label, listed.mm, listed.mm - mm, listed.table);
    }
    out
}
