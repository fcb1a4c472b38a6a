use super::{LONGEST, bare, want};
use crate::JobSheet;
use crate::station::{Block, Cell, Station, Table};
use crate::words::{bounded, count, doubted, lab, plain};
use job::document::{Document, Known, NamedReading};

/// What do we know? Photos, known sizes, readings: from where, how surely.
pub fn evidence(sheet: &JobSheet) -> Station {
    let document = sheet.document;
    let kinds = [
        (document.photo.len(), "photo"),
        (document.known.len(), "known size"),
        (document.sample.len(), "sample chip"),
        (document.reading.len(), "colour reading"),
    ];
    let has: Vec<String> = kinds.iter().filter(|(number, _)| *number > 0).map(|(number, name)| count(*number, name)).collect();
    let mut station = bare(sheet, "evidence", "What do we know?", !has.is_empty());
    if !has.is_empty() {
        station.answer = has.join(", ");
    }
    station.blocks.extend(known_table(&document.known).map(Block::Table));
    station.blocks.extend(photo_table(sheet).map(Block::Table));
    station.blocks.extend(reading_table(document).map(Block::Table));
    if document.known.is_empty() {
        station.wants.push(want(
            "A size known for sure, best the rod that the part sits on: every other size hangs on it.",
            "[[known]]\nname = \"shaft\"\nvalue = \"1/4 in\"\nsigma = \"0.02 mm\"\nsource = \"where it is known from\"",
        ));
    }
    if document.photo.is_empty() {
        station.wants.push(want(
            "A photo of the part with its rod, from the side, from as far as the lens allows.",
            "[[photo]]\nname = \"front\"\nfile = \"photos/front.jpg\"\nshaft = \"shaft\"",
        ));
    }
    station
}

fn known_table(known: &[Known]) -> Option<Table> {
    let row = |known: &Known| {
        let size = if known.value.written.parse::<f64>().is_ok() {
            format!("{}\u{a0}mm", known.value.written)
        } else {
            known.value.written.clone()
        };
        let mm = known.sigma.as_ref().map_or_else(|| plain(known.value.mm, 3), |sigma| doubted(known.value.mm, sigma.mm));
        vec![
            Cell::words(bounded(&known.name, 60)),
            Cell::number(bounded(&size, 40)),
            Cell::number(mm),
            Cell::words(known.source.as_ref().map_or_else(|| "not said".into(), |source| bounded(source, LONGEST))),
        ]
    };
    (!known.is_empty()).then(|| Table {
        caption: "Sizes known for sure".into(),
        columns: ["size", "as given", "mm", "known from"].map(String::from).into(),
        shares: vec![0.2, 0.16, 0.22, 0.42],
        rows: known.iter().take(40).map(row).collect(),
    })
}

fn reading_table(document: &Document) -> Option<Table> {
    let row = |reading: &NamedReading| {
        vec![
            Cell::words(bounded(&reading.name, 60)),
            Cell::number(reading_words(reading)),
            Cell::number(reading.sigma.map_or_else(|| "not said".into(), |sigma| format!("\u{b1}\u{a0}{}", plain(sigma, 2)))),
            Cell::words(reading.source.as_ref().map_or_else(|| "not said".into(), |source| bounded(source, LONGEST))),
        ]
    };
    (!document.reading.is_empty()).then(|| Table {
        caption: "Colours read".into(),
        columns: ["reading", "CIELAB, or its file", "doubt of each", "read from"].map(String::from).into(),
        shares: vec![0.2, 0.3, 0.16, 0.34],
        rows: document.reading.iter().take(40).map(row).collect(),
    })
}

/// A reading's colour with its light and observer, or the file that holds it.
pub(crate) fn reading_words(reading: &NamedReading) -> String {
    match (&reading.lab, &reading.spectrum) {
        (Some(colour), _) => {
            let light = reading.light.as_deref().map_or("D65".to_string(), |light| bounded(light, 20));
            format!("{} ({light}, {}\u{b0})", lab(*colour), reading.observer.unwrap_or(2))
        }
        (None, Some(file)) => bounded(file, 80),
        (None, None) => "none".into(),
    }
}

fn photo_table(sheet: &JobSheet) -> Option<Table> {
    let found = |name: &str| sheet.result.photos.iter().find(|photo| photo.name == name);
    let row = |photo: &job::document::Photo| {
        let (size, focal) = found(&photo.name).map_or_else(
            || (String::from("\u{2013}"), String::from("not used for shape")),
            |f| {
                let size = format!("{}\u{a0}\u{d7}\u{a0}{}", f.size_px[0], f.size_px[1]);
                let focal = f
                    .focal_px
                    .map_or_else(|| "focal length not known".into(), |px| format!("focal length {}\u{a0}px", doubted(px.value, px.sigma)));
                (size, if f.focal_source.is_empty() { focal } else { format!("{focal}, {}", bounded(&f.focal_source, 120)) })
            },
        );
        vec![
            Cell::words(bounded(&photo.name, 60)),
            Cell::number(size),
            Cell::words(focal),
            Cell::words(photo.source.as_ref().map_or_else(|| "not said".into(), |source| bounded(source, LONGEST))),
        ]
    };
    (!sheet.document.photo.is_empty()).then(|| Table {
        caption: "Photos".into(),
        columns: ["photo", "px", "camera", "from"].map(String::from).into(),
        shares: vec![0.11, 0.19, 0.38, 0.32],
        rows: sheet.document.photo.iter().take(40).map(row).collect(),
    })
}
