//! The section drawing: which sizes stand on it, and its title block.

use super::shape::size_label;
use export::{DrawnSize, MouldMarks, SizeKind, TitleBlock};
use ink::Figure;
use job::document::{Document, Route};
use result::{Dimension, JobResult};
use solid::{Body, Plate};

/// The sizes on the drawing.
pub(super) fn drawn_sizes(sheet: &JobResult) -> Vec<DrawnSize> {
    let mut chosen: Vec<&Dimension> = Vec::new();
    for (i, size) in sheet.dimensions.iter().enumerate() {
        if i < 2 || (belongs_on_a_drawing(size) && !chosen.iter().any(|other| is_same(other, size))) {
            chosen.push(size);
        }
    }
    chosen.into_iter().map(drawn).chain(bore_sizes(sheet)).collect()
}

/// The drawing on its own sheet.
pub(super) fn drawing(document: &Document, body: &Body, sheet: &JobResult) -> Figure {
    export::drawing(body, &drawn_sizes(sheet), &title_block(document), mould_marks(document))
}

/// A flat part's outline on its own sheet.
pub(super) fn plate_drawing(document: &Document, plate: &Plate) -> Figure {
    export::drawing_plate(plate, &title_block(document))
}

fn title_block(document: &Document) -> TitleBlock {
    let text = |field: &Option<String>| field.clone().unwrap_or_default();
    TitleBlock {
        title: document.title.clone(),
        maker: text(&document.maker),
        date: text(&document.date),
        revision: text(&document.revision),
        page: "1 / 1".into(),
        material: document.resin.as_ref().map_or(String::new(), |resin| format!("resin, {}", resin.name)),
    }
}

/// A part that is cast shows where its mould parts.
pub(super) fn mould_marks(document: &Document) -> MouldMarks {
    let cast = document.body.as_ref().is_some_and(|body| body.route == Some(Route::Cast));
    if cast { MouldMarks::Drawn } else { MouldMarks::None }
}

/// A drawing says each thing once (ISO 129-1): diameters, and positions from one datum; lengths between positions follow from those, and what is
/// neither chosen nor surely seen is not a size to work to.
fn belongs_on_a_drawing(size: &Dimension) -> bool {
    match size.kind.as_str() {
        "diameter" => true,
        "position" => size.chosen.is_some(),
        _ => false,
    }
}

fn is_same(a: &Dimension, b: &Dimension) -> bool {
    a.kind == b.kind && (a.used_mm - b.used_mm).abs() < 0.02
}

fn drawn(size: &Dimension) -> DrawnSize {
    let (kind, z_mm) = match size.kind.as_str() {
        "diameter" => (SizeKind::Diameter, size.z_mm),
        // A position is a length from the rod end.
        "position" => (SizeKind::Length, [0.0, size.used_mm]),
        _ => (SizeKind::Length, size.z_mm),
    };
    DrawnSize {
        label: size_label(size),
        measured: format!("{:.2} \u{b1} {:.2}", size.value_mm, size.sigma_mm),
        kind,
        z_mm,
        value_mm: size.used_mm,
    }
}

fn bore_sizes(sheet: &JobResult) -> Vec<DrawnSize> {
    let Some(bore) = sheet.body.as_ref().and_then(|body| body.bore.as_ref()) else { return Vec::new() };
    let size = |kind, value_mm| DrawnSize { label: String::new(), measured: String::new(), kind, z_mm: [0.0, bore.depth_mm], value_mm };
    vec![size(SizeKind::Bore, bore.diameter_mm), size(SizeKind::Depth, bore.depth_mm)]
}
