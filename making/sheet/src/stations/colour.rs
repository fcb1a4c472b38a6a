use super::{LONGEST, bare, picture, want, why_missing};
use crate::JobSheet;
use crate::pictures::{self, LightRow};
use crate::station::{Block, Cell, Station, Table};
use crate::words::{bounded, doubted, lab, plain};
use cie::{ACCEPTED_DE00, SEEN_DE00};
use result::{BesideResult, ColourResult};

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
    if let Some(path) = &colour.path {
        station.blocks.extend(picture(
            |width| pictures::age_path(path, width),
            format!(
                "From {} as new to {} as it is now, {} CIEDE2000 apart; the mark is your place on the way ([target] age, share).",
                bounded(&path.new.name, 60),
                bounded(&path.now.name, 60),
                plain(path.de00, 1)
            ),
        ));
    }
    station.blocks.extend(lights(colour));
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
    if let Some(spread) = colour.spread {
        let axes: Vec<String> = spread.iter().map(|v| plain(*v, 1)).collect();
        rows.push(vec![
            Cell::words("varies over the original by (one standard deviation)"),
            Cell::number(format!("L* {}  a* {}  b* {}; the mean is wanted", axes[0], axes[1], axes[2])),
        ]);
    }
    if let Some(aim) = &colour.aim {
        for (shift, sigma, source) in aim.drifts.iter().take(12) {
            let shift =
                format!("L* {}  a* {}  b* {}, \u{b1} {}", plain(shift[0], 1), plain(shift[1], 1), plain(shift[2], 1), plain(*sigma, 1));
            rows.push(vec![Cell::words(format!("will drift: {}", bounded(source, 120))), Cell::number(shift)]);
        }
        rows.push(vec![Cell::words("so the pot aims at"), Cell::number(lab(aim.lab)).standing(crate::station::Emphasis::Used)]);
    }
    rows.push(tolerance(sheet, colour));
    station.blocks.push(Block::Table(Table {
        caption: "CIELAB, D65, 2\u{b0}".into(),
        columns: vec!["coordinate".into(), "value".into()],
        shares: vec![0.45, 0.55],
        rows,
    }));
    station.blocks.extend(beside(&colour.beside).map(Block::Table));
    station.blocks.push(Block::Words(format!(
        "Half of all viewers see a difference of {SEEN_DE00} CIEDE2000 side by side, and half still accept {ACCEPTED_DE00} (dental shades: Am J Dent 2023;36(5):227\u{2013}232)."
    )));
    station
}

fn tolerance(sheet: &JobSheet, colour: &ColourResult) -> Vec<Cell> {
    let target = sheet.document.target.as_ref();
    let (tolerance, said) = match target.and_then(|target| target.tolerance) {
        Some(tolerance) => (tolerance, "[target] tolerance"),
        None => (1.0, "assumed; [target] tolerance changes it"),
    };
    // A light counts where the colour under it is known, and only where it was chosen.
    let chosen = target.is_some_and(|target| !target.lights.is_empty());
    let known = |light: &&result::WantedUnder| light.light == "D65" || (chosen && light.known);
    let lights: Vec<&str> = colour.lights.iter().filter(known).map(|light| light.light.as_str()).collect();
    let lights = if lights.is_empty() { "D65".to_string() } else { lights.join(", ") };
    vec![
        Cell::words("good enough within"),
        Cell::number(format!("CIEDE2000 {} under {} ({said})", plain(tolerance, 2), bounded(&lights, 80))),
    ]
}

/// The wanted colour under each light.
fn lights(colour: &ColourResult) -> Option<Block> {
    if colour.lights.len() < 2 {
        return None;
    }
    let row = |light: &result::WantedUnder| LightRow {
        light: format!("{}: {}", light.light, light.words),
        wanted: (light.lab, light.srgb.clone()),
        predicted: None,
        says: match (light.known, light.out_of_gamut) {
            (true, false) => String::new(),
            (true, true) => "A screen can't show it; shown with less chroma.".into(),
            (false, false) => "A guess: only its Lab under D65 is known, not its spectrum.".into(),
            (false, true) => "A guess: its spectrum is not known. A screen can't show it; shown with less chroma.".into(),
        },
    };
    let rows: Vec<LightRow> = colour.lights.iter().map(row).collect();
    picture(
        |width| pictures::under_lights(&rows, width),
        "The wanted colour under each light, shown as an eye used to that light sees it (adapted by CAT16).",
    )
}

/// Chips read beside the part, the recommended way.
fn beside(chips: &[BesideResult]) -> Option<Table> {
    let row = |chip: &BesideResult| {
        let axis = |k: usize| doubted(chip.lab[k], chip.sigma[k]);
        let used = if chip.used { "; the part's colour is taken from this chip's own reading" } else { "" };
        vec![
            Cell::words(format!("{}, photo {}", bounded(&chip.chip, 60), bounded(&chip.photo, 60))),
            Cell::number(format!("{}  {}  {}", axis(0), axis(1), axis(2))),
            Cell::number(plain(chip.de00, 1)),
            Cell::words(bounded(&format!("{}{used}", chip.words), LONGEST)),
        ]
    };
    (!chips.is_empty()).then(|| Table {
        caption: "Chip against part, read in one photo: the light's doubt cancels".into(),
        columns: ["chip", "chip less part: L*, a*, b*", "CIEDE2000", "the chip is"].map(String::from).into(),
        shares: vec![0.24, 0.32, 0.13, 0.31],
        rows: chips.iter().take(24).map(row).collect(),
    })
}
