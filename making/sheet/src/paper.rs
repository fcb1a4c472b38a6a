//! The sheet as pages: headings, paragraphs, tables and pictures flow down a column; a heading never stands alone at the foot, rows and
//! pictures are never cut, the title block and "2 of 5" stand on every page.

mod bench;
mod flow;
mod gauge;
mod label;
mod record;
mod set;

pub use bench::steps_pdf;
pub use gauge::{CHECK_MM, gauge, gauge_pdf};
pub use label::{LABEL_MM, has_label, label, label_pdf};
pub use record::record_pdf;

use crate::cautions::GOVERNS;
use crate::pictures::{Cartouche, state_sign, title_block};
use crate::station::{Block, Cell, Doubt, Emphasis, Station, Table, Want};
use crate::stations::{LONGEST, all};
use crate::words::{bounded, sentence};
use crate::{JobSheet, SheetError};
use flow::Flow;
use ink::pdf::{Facts, Page, Paper, Piece, Role};
use ink::{Figure, palette};

/// The sheet on paper, as a PDF file. Same sheet, same bytes.
///
/// # Errors
/// [`SheetError::Ink`] where a photo can't be read as JPEG or the PDF library refuses.
pub fn pdf(sheet: &JobSheet, paper: Paper) -> Result<Vec<u8>, SheetError> {
    Ok(ink::pdf::write(&pages(sheet, paper), &facts(sheet))?)
}

/// The pages themselves, for the PDF writer and for tests.
pub(crate) fn pages(sheet: &JobSheet, paper: Paper) -> Vec<Page> {
    let stations = all(sheet);
    let mut flow = Flow::new(paper);
    masthead(&mut flow, sheet);
    contents(&mut flow, &stations);
    for station in &stations {
        section(&mut flow, station);
    }
    assumptions(&mut flow, sheet);
    cautions(&mut flow, sheet);
    let mut pages = flow.finish();
    let of = pages.len() + usize::from(shrunk_section(sheet).is_some());
    for (n, page) in pages.iter_mut().enumerate() {
        furnish(page, sheet, n + 1, of);
    }
    pages.extend(shrunk_section(sheet).map(section_page));
    pages
}

fn facts(sheet: &JobSheet) -> Facts {
    let document = sheet.document;
    Facts {
        title: format!("{} \u{2013} job sheet", bounded(&document.title, 200)),
        author: document.maker.as_ref().map_or_else(String::new, |maker| bounded(maker, 100)),
        subject: "How a part is remade from photographs: its shape, sizes, colour, and the batch".into(),
        language: "en".into(),
        date: document.date.as_deref().and_then(calendar_date),
    }
}

/// The same for a paper that goes with the sheet.
fn facts_of(sheet: &JobSheet, what: &str, subject: &str) -> Facts {
    Facts { title: format!("{} \u{2013} {what}", bounded(&sheet.document.title, 200)), subject: subject.into(), ..facts(sheet) }
}

/// Year, month, day from "2026-11-25" (ISO 8601); anything else is left as text on the sheet only.
fn calendar_date(text: &str) -> Option<(u16, u8, u8)> {
    let mut parts = text.trim().splitn(3, '-');
    let date = (parts.next()?.parse().ok()?, parts.next()?.parse().ok()?, parts.next()?.parse().ok()?);
    ((1..=12).contains(&date.1) && (1..=31).contains(&date.2)).then_some(date)
}

fn masthead(flow: &mut Flow, sheet: &JobSheet) {
    let document = sheet.document;
    flow.kind("Job sheet");
    flow.title(&bounded(&document.title, 200));
    let said = |text: &Option<String>, before: &str| text.as_ref().map(|text| format!("{before}{}", bounded(text, 100)));
    let facts: Vec<String> = [said(&document.maker, "made by "), said(&document.date, ""), said(&document.revision, "revision ")]
        .into_iter()
        .flatten()
        .collect();
    if !facts.is_empty() {
        flow.quiet(&facts.join(", "));
    }
    flow.space(5.0);
}

/// The folded sheet: every question with its answer.
fn contents(flow: &mut Flow, stations: &[Station]) {
    for station in stations {
        flow.contents_line(station.number, &state_sign(station.state), [station.question, station.state.word(), &station.answer]);
    }
    flow.space(7.0);
}

fn section(flow: &mut Flow, station: &Station) {
    flow.heading(
        Some((station.number, &state_sign(station.state), station.state.word())),
        station.question,
        &station.answer,
        first_height(flow, station),
    );
    for block in &station.blocks {
        self::block(flow, block);
    }
    for want in &station.wants {
        self::want(flow, want);
    }
    for [text, switch] in &station.assumed {
        let change = if switch.is_empty() { String::new() } else { format!(" To change it: {switch} in job.toml.") };
        flow.marginal("Assumed", &format!("{}{change}", sentence(text)));
    }
    for Doubt { text, settle } in &station.doubts {
        let settle = if settle.is_empty() { String::new() } else { format!(" To settle it: {}", sentence(settle)) };
        flow.marginal("Doubt", &format!("{}{settle}", sentence(text)));
    }
    flow.space(6.0);
}

/// How much must follow a heading on its page.
fn first_height(flow: &Flow, station: &Station) -> f64 {
    match station.blocks.first() {
        Some(Block::Picture { wide, caption, .. }) => flow.picture_height(wide, caption),
        Some(Block::Table(table)) => flow.table_start_height(table),
        _ => 14.0,
    }
}

fn block(flow: &mut Flow, block: &Block) {
    match block {
        Block::Picture { wide, caption, .. } => flow.picture(wide, caption),
        Block::Table(table) => flow.table(table),
        Block::Words(words) => flow.paragraph(words),
        Block::List(lines) => lines.iter().for_each(|line| flow.item(line)),
    }
}

fn want(flow: &mut Flow, want: &Want) {
    flow.marginal("Wanted", &want.text);
    if !want.example.is_empty() {
        flow.example("In job.toml:", &want.example);
    }
}

fn assumptions(flow: &mut Flow, sheet: &JobSheet) {
    let list = &sheet.result.assumptions;
    if list.is_empty() {
        return;
    }
    let row = |assumption: &result::Assumption| {
        vec![
            Cell::words(bounded(&assumption.station, 40)),
            Cell::words(sentence(&bounded(&assumption.text, LONGEST))),
            Cell::number(bounded(&assumption.switch, 120)).standing(Emphasis::Decided),
        ]
    };
    let table = Table {
        caption: "Assumptions, and the line of job.toml that changes each".into(),
        columns: ["station", "taken for true", "changed by"].map(String::from).into(),
        shares: vec![0.14, 0.58, 0.28],
        rows: list.iter().take(60).map(row).collect(),
    };
    flow.heading(None, "What was taken for true", "", flow.table_start_height(&table));
    flow.table(&table);
    flow.space(6.0);
}

fn cautions(flow: &mut Flow, sheet: &JobSheet) {
    if sheet.materials.is_empty() {
        return;
    }
    let row = |material: &crate::Material| material.reminder().map(Cell::words).to_vec();
    let table = Table {
        caption: "By material".into(),
        columns: ["what", "what it does", "what to do"].map(String::from).into(),
        shares: vec![0.16, 0.42, 0.42],
        rows: sheet.materials.iter().take(12).map(row).collect(),
    };
    flow.heading(None, "What to beware of", "", 12.0 + flow.table_start_height(&table));
    flow.strong(GOVERNS);
    flow.table(&table);
}

/// Title block and, on sample sheets, the notice.
fn furnish(page: &mut Page, sheet: &JobSheet, number: usize, of: usize) {
    furnish_as(page, sheet, "Job sheet", number, of);
}

fn furnish_as(page: &mut Page, sheet: &JobSheet, what: &'static str, number: usize, of: usize) {
    let document = sheet.document;
    let said = |text: &Option<String>| text.as_ref().map_or_else(String::new, |text| bounded(text, 100));
    let notice = if sheet.sample { "Sample data: the numbers are invented" } else { "" };
    let block = title_block(&Cartouche {
        document: what,
        title: bounded(&document.title, 200),
        maker: said(&document.maker),
        date: said(&document.date),
        revision: said(&document.revision),
        page: format!("{number} of {of}"),
        made_with: bounded(&sheet.result.ringer, 20),
    });
    let at = flow::block_corner(page);
    page.pieces.push(Piece { at, role: Role::Decoration, figure: block });
    if sheet.sample {
        let mut figure = Figure::new(100.0, 5.0, notice, notice);
        figure.text([100.0, 3.5], 3.4, ink::Face::Bold, ink::Anchor::End, palette::BRICK, notice);
        page.pieces.push(Piece { at: [at[0] + 74.0, 8.0], role: Role::Decoration, figure });
    }
}

/// The section drawing, where it had to be shown smaller than drawn.
fn shrunk_section<'a>(sheet: &JobSheet<'a>) -> Option<&'a Figure> {
    let sensible = |figure: &&Figure| (20.0..=1200.0).contains(&figure.width_mm) && (20.0..=1200.0).contains(&figure.height_mm);
    sheet.section.filter(|figure| flow::shrinks(figure)).filter(sensible).filter(|_| sheet.result.body.is_some())
}

/// A page of its own for it, true to scale.
fn section_page(section: &Figure) -> Page {
    Page {
        width_mm: section.width_mm,
        height_mm: section.height_mm,
        pieces: vec![Piece { at: [0.0, 0.0], role: Role::Picture, figure: section.clone() }],
    }
}

#[cfg(test)]
mod made_tests;
#[cfg(test)]
mod tests;
