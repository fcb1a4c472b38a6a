//! Labels for the bags: what it is, which batch, what it is made of, what it is not.

use super::facts_of;
use crate::words::bounded;
use crate::{JobSheet, SheetError};
use ink::palette::{GREY, INK, RULE, hair};
use ink::pdf::{Page, Paper, Piece, Role};
use ink::{Anchor, Face, Figure, fits_mm, wrap_mm};
use job::Document;
use job::document::{CastMaterial, Route};

/// A label, mm: eight on a sheet of either paper.
pub const LABEL_MM: [f64; 2] = [85.0, 55.0];
const ROWS: usize = 4;

/// A sheet of eight labels to cut as a PDF file; `None` before there is a batch to label.
///
/// # Errors
/// [`SheetError::Ink`] where the PDF library refuses.
pub fn label_pdf(sheet: &JobSheet, paper: Paper) -> Result<Option<Vec<u8>>, SheetError> {
    let Some(page) = label_page(sheet, paper) else { return Ok(None) };
    Ok(Some(ink::pdf::write(&[page], &facts_of(sheet, "labels", "Labels for the bags of one batch"))?))
}

/// Whether there is a batch to label.
pub fn has_label(sheet: &JobSheet) -> bool {
    sheet.result.run.is_some() || sheet.document.batch.is_some()
}

pub(crate) fn label_page(sheet: &JobSheet, paper: Paper) -> Option<Page> {
    if !has_label(sheet) {
        return None;
    }
    let [width, height] = paper.size_mm();
    let label = label(sheet);
    let [wide, tall] = LABEL_MM;
    let (left, top) = ((width - 2.0 * wide) / 2.0, (height - ROWS as f64 * tall) / 2.0);
    let mut page = Page { width_mm: width, height_mm: height, pieces: Vec::new() };
    for n in 0..2 * ROWS {
        let at = [left + wide * (n % 2) as f64, top + tall * (n / 2) as f64];
        // One is read out; the others say the same.
        let role = if n == 0 { Role::Picture } else { Role::Decoration };
        page.pieces.push(Piece { at, role, figure: label.clone() });
    }
    Some(page)
}

/// What the part is of, by its route.
fn material(document: &Document) -> Option<String> {
    let body = document.body.as_ref();
    let resin = document.resin.as_ref().map(|resin| bounded(&resin.name, 40));
    match body.and_then(|body| body.route).unwrap_or_default() {
        Route::Print => resin.map(|resin| format!("light-cured resin, {resin}")),
        Route::Cast => {
            let kind = match body.and_then(|body| body.cast.as_ref()).and_then(|cast| cast.material).unwrap_or_default() {
                CastMaterial::Polyurethane => "polyurethane",
                CastMaterial::Epoxy => "epoxy",
                CastMaterial::Polyester => "polyester",
            };
            Some(resin.map_or_else(|| format!("cast {kind}"), |resin| format!("cast {kind}, {resin}")))
        }
        Route::Turn => None,
    }
}

/// One label.
pub fn label(sheet: &JobSheet) -> Figure {
    let [wide, tall] = LABEL_MM;
    let document = sheet.document;
    let batch = document.batch.clone().unwrap_or_default();
    let said = |text: &Option<String>| text.as_ref().map(|text| bounded(text, 60));
    let material = material(document);
    let lots: Vec<String> = batch.lots.iter().take(4).map(|(what, lot)| format!("{} {}", bounded(what, 20), bounded(lot, 20))).collect();
    let rows = [
        ("batch", said(&batch.number)),
        ("date", said(&batch.date)),
        ("material", material.or_else(|| said(&batch.process))),
        ("lots", (!lots.is_empty()).then(|| lots.join(", "))),
        ("made by", said(&document.maker)),
    ];
    let words = "REPLICA. Remade from photographs and known sizes; not an original. Not for food, not a toy.";
    let mut figure = Figure::new(wide, tall, "Label", format!("{}. {words}", bounded(&document.title, 200)));
    figure.rect([0.0, 0.0], [wide, tall], Some(hair(RULE)), None);
    let titles = wrap_mm(Face::Bold, 5.0, wide - 8.0, &bounded(&document.title, 80));
    let mut y = 7.5;
    for line in titles.iter().take(2) {
        figure.text([4.0, y], 5.0, Face::Bold, Anchor::Start, INK, line.clone());
        y += 5.6;
    }
    y += 0.6;
    for (name, value) in rows {
        figure.text([4.0, y], 3.2, Face::Text, Anchor::Start, GREY, name);
        match value {
            Some(value) => figure.text([21.0, y], 3.6, Face::Figures, Anchor::Start, INK, fits_mm(Face::Figures, 3.6, wide - 25.0, &value)),
            // To be written by hand.
            None => figure.line([21.0, y + 0.6], [wide - 4.0, y + 0.6], hair(RULE)),
        }
        y += 4.9;
    }
    for (n, line) in wrap_mm(Face::Bold, 3.5, wide - 8.0, words).iter().enumerate() {
        figure.text([4.0, tall - 8.6 + 4.4 * n as f64], 3.5, Face::Bold, Anchor::Start, INK, line.clone());
    }
    figure
}
