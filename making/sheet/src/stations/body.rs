use super::{bare, want, why_missing};
use crate::JobSheet;
use crate::pictures::WIDE_MM;
use crate::station::{Block, Cell, Station, Table};
use crate::words::{bounded, plain};
use result::BodyResult;

/// What do we make? The section drawing, the bore and its fit, volume and surface, the files.
pub fn body(sheet: &JobSheet) -> Station {
    let made = sheet.result.body.as_ref();
    let mut station = bare(sheet, "body", "What do we make?", made.is_some());
    let Some(body) = made else {
        station.blocks = why_missing(sheet, "body");
        station.wants.push(want(
            "A profile with its sizes. How the bore shall sit on the shaft may be said here.",
            "[body]\nfit = \"slides\"        # slides, pushes, pressed or glued\nbore_depth = \"12 mm\"",
        ));
        return station;
    };
    let [low, high] = body.bounds_mm;
    let across = (high[0] - low[0]).max(high[1] - low[1]);
    station.answer = format!("\u{2300}\u{a0}{} \u{d7} {}\u{a0}mm", plain(across, 2), plain(high[2] - low[2], 2));
    if let Some(section) = sheet.section {
        let shrunk = section.width_mm > WIDE_MM;
        let caption = if shrunk { "Section; sizes in mm. Shown smaller than drawn." } else { "Section; sizes in mm." };
        station.blocks.push(Block::Picture { wide: section.clone(), narrow: None, caption: caption.into() });
    }
    station.blocks.push(Block::Table(table(body)));
    if !body.files.is_empty() {
        station.blocks.push(Block::Words("Files made:".into()));
        station.blocks.push(Block::List(body.files.iter().take(40).map(|file| bounded(file, 200)).collect()));
    }
    station
}

fn table(body: &BodyResult) -> Table {
    let mut rows: Vec<[String; 3]> = vec![
        ["volume, bore taken out".into(), format!("{}\u{a0}mm\u{b3}", plain(body.volume_mm3, 1)), "exact for the body as drawn".into()],
        ["whole surface".into(), format!("{}\u{a0}mm\u{b2}", plain(body.area_mm2, 1)), "exact for the body as drawn".into()],
        ["centre of mass".into(), format!("{}\u{a0}mm", plain(body.centre_z_mm, 2)), "on the axis, from the rod end".into()],
    ];
    if let Some(bore) = &body.bore {
        rows.push([
            "bore".into(),
            format!("\u{2300} {}\u{a0}mm", plain(bore.diameter_mm, 3)),
            format!("the shaft and {}\u{a0}mm: {}", plain(bore.allowance_mm, 3), bounded(&bore.fit, 120)),
        ]);
        rows.push([
            "depth of full diameter".into(),
            format!("{}\u{a0}mm", plain(bore.depth_mm, 2)),
            format!("{} bottom", bounded(&bore.bottom, 40)),
        ]);
    }
    Table {
        caption: "The body".into(),
        columns: ["what", "how much", "note"].map(String::from).into(),
        shares: vec![0.3, 0.25, 0.45],
        rows: rows.into_iter().map(|[what, much, note]| vec![Cell::words(what), Cell::number(much), Cell::words(note)]).collect(),
    }
}
