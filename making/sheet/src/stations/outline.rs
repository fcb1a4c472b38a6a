use super::{bare, want, why_missing};
use crate::JobSheet;
use crate::pictures::{self, WIDE_MM};
use crate::station::{Block, Cell, Station, Table};
use crate::words::{bounded, count, plain};

/// Most photos that are shown.
const MOST_PHOTOS: usize = 12;

/// Where does the part end? Each photo with the outline that was found on it.
pub fn outline(sheet: &JobSheet) -> Station {
    let photos = &sheet.result.photos;
    let mut station = bare(sheet, "outline", "Where does the part end?", !photos.is_empty());
    if photos.is_empty() {
        station.blocks = why_missing(sheet, "outline");
        station.wants.push(want(
            "Two clicks on a photo: where the rod enters the part, and the part's free end. Everything else is found from there.",
            "[[photo]]\nname = \"front\"\nfile = \"photos/front.jpg\"\nshaft = \"shaft\"\naxis = [[812.0, 1190.5], [430.2, 310.0]]",
        ));
        return station;
    }
    let typical = photos.iter().map(|photo| photo.outline.sigma_px).filter(|s| s.is_finite()).fold(0.0, f64::max);
    station.answer = format!("in {}, to {}\u{a0}px or better", count(photos.len(), "photo"), plain(typical, 2));
    for found in photos.iter().take(MOST_PHOTOS) {
        let shown = sheet.photos.iter().find(|photo| photo.name == found.name);
        let written = sheet.document.photo.iter().find(|photo| photo.name == found.name);
        let wide = pictures::photo(shown, found, written.and_then(|photo| photo.axis), WIDE_MM);
        let narrow = Some(pictures::photo(shown, found, written.and_then(|photo| photo.axis), pictures::NARROW_MM));
        let traced = if written.is_some_and(|photo| photo.outline.is_some()) { " The outline is a person's own trace." } else { "" };
        let loupe = plain(pictures::loupe_times(found, shown, WIDE_MM), 0);
        let caption = format!(
            "Photo {}. In the loupe, {loupe} times larger, the band is the outline's doubt (95 in 100).{traced}",
            bounded(&found.name, 60)
        );
        station.blocks.push(Block::Picture { wide, narrow, caption });
    }
    station.blocks.push(Block::Table(table(sheet)));
    station
}

fn table(sheet: &JobSheet) -> Table {
    let row = |photo: &result::PhotoResult| {
        vec![
            Cell::words(bounded(&photo.name, 60)),
            Cell::number((photo.outline.left.len() + photo.outline.right.len()).to_string()),
            Cell::number(format!("{}\u{a0}px", plain(photo.outline.sigma_px, 2))),
            Cell::number((photo.outline.rod_left.len() + photo.outline.rod_right.len()).to_string()),
            Cell::number(photo.residual_px.map_or_else(|| "\u{2013}".into(), |px| format!("{}\u{a0}px", plain(px, 2)))),
        ]
    };
    Table {
        caption: "Edges found".into(),
        columns: ["photo", "points of the part", "doubt of a point", "points of the rod", "model runs off by"].map(String::from).into(),
        shares: vec![0.2; 5],
        rows: sheet.result.photos.iter().take(40).map(row).collect(),
    }
}
