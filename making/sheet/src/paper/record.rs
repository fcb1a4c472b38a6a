//! The record of a batch on paper.

use super::flow::Flow;
use super::{facts_of, furnish_as};
use crate::record::{Entry, record};
use crate::words::bounded;
use crate::{JobSheet, SheetError};
use ink::pdf::{Page, Paper};

/// The record as a PDF file.
///
/// # Errors
/// [`SheetError::Ink`] where the PDF library refuses.
pub fn record_pdf(sheet: &JobSheet, paper: Paper) -> Result<Vec<u8>, SheetError> {
    Ok(ink::pdf::write(
        &record_pages(sheet, paper),
        &facts_of(sheet, "record", "What was known, assumed and decided, what went in, what came out, and how alike it is"),
    )?)
}

pub(crate) fn record_pages(sheet: &JobSheet, paper: Paper) -> Vec<Page> {
    let mut flow = Flow::new(paper);
    flow.kind("Record of a batch");
    flow.title(&bounded(&sheet.document.title, 200));
    flow.space(4.0);
    let entries = record(sheet);
    for (n, entry) in entries.iter().enumerate() {
        match entry {
            Entry::Chapter(name) => {
                let follows = match entries.get(n + 1) {
                    Some(Entry::Table(table)) => flow.table_start_height(table),
                    _ => 14.0,
                };
                flow.heading(None, name, "", follows);
            }
            Entry::Words(words) => flow.paragraph(words),
            Entry::Table(table) => flow.table(table),
        }
    }
    let mut pages = flow.finish();
    let of = pages.len();
    for (n, page) in pages.iter_mut().enumerate() {
        furnish_as(page, sheet, "Record", n + 1, of);
    }
    pages
}
