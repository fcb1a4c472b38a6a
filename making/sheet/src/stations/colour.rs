use super::{bare, picture, want, why_missing};
use crate::JobSheet;
use crate::pictures;
use crate::station::{Block, Cell, Station, Table};
use crate::words::{bounded, doubted, lab};

/// What colour is it? The colour wanted, for a stated light, with its doubt.
pub fn colour(sheet: &JobSheet) -> Station {
    let found = sheet.result.colour.as_ref();
    let mut station = bare(sheet, "colour", "What colour is it?", found.is_some());
    let Some(colour) = found else {
        station.blocks = why_missing(sheet, "colour");
        station.wants.push(want("A grey card in the same light as the part, or a reading with an instrument.", "[target]\nlab = [66.0, -8.0, 8.0]\n\n# or, read from a photo with a grey card in it:\n[[photo]]\nneutral = { polygon = [[x, y], [x, y], [x, y], [x, y]], reflectance = 0.18 }"));
        return station;
    };
    station.answer = lab(colour.lab);
    let outside = if colour.out_of_gamut { " A screen can't show this colour; it is shown with less chroma." } else { "" };
    station.blocks.extend(picture(
        |width| pictures::target_chip(colour.lab, colour.sigma, width),
        format!("The colour wanted, under D65 for the 2\u{b0} observer. Print and screen only come near it.{outside}"),
    ));
    for photo in sheet.document.photo.iter().take(12) {
        let Some(shown) = sheet.photos.iter().find(|shown| shown.name == photo.name) else { continue };
        let caption = format!("Photo {}: where colour was read.", bounded(&photo.name, 60));
        station.blocks.extend(picture(|width| pictures::regions(shown, photo, sheet.document, width), caption));
    }
    let row = |name: &str, k: usize| vec![Cell::words(name), Cell::number(doubted(colour.lab[k], colour.sigma[k]))];
    let mut rows = vec![row("L*, dark 0 to light 100", 0), row("a*, green \u{2212} to red +", 1), row("b*, blue \u{2212} to yellow +", 2)];
    rows.push(vec![Cell::words("on a screen (sRGB), nearly"), Cell::number(bounded(&colour.srgb, 20))]);
    rows.push(vec![
        Cell::words("read from"),
        Cell::words(if colour.source.is_empty() { "not said".into() } else { bounded(&colour.source, 200) }),
    ]);
    station.blocks.push(Block::Table(Table {
        caption: "CIELAB, D65, 2\u{b0}".into(),
        columns: vec!["coordinate".into(), "value".into()],
        shares: vec![0.45, 0.55],
        rows,
    }));
    station
}
