use super::{LONGEST, bare, picture, want, why_missing};
use crate::JobSheet;
use crate::pictures;
use crate::station::{Block, Cell, Station, Table};
use crate::words::{and, bounded, count, lab, percent, plain, sentence};
use job::document::Colourant;
use result::{PotResult, Recipe};
use std::collections::BTreeMap;

/// Most recipes that are shown as pictures.
const MOST_RECIPES: usize = 4;

/// What goes into the pot? Recipes in whole drops, their colour beside the wanted one, and the sample that would teach most.
pub fn pot(sheet: &JobSheet) -> Station {
    let found = sheet.result.pot.as_ref();
    let mut station = bare(sheet, "pot", "What goes into the pot?", found.is_some_and(|pot| !pot.recipes.is_empty()));
    let Some(pot) = found else {
        station.blocks = why_missing(sheet, "pot");
        station.wants.push(want("The resin, its colourants with the size of a drop, and a cured chip of each, read.", "[resin]\nname = \"white\"\nthickness_mm = 3.0\nbacking = \"white\"\n\n[[colourant]]\nname = \"black\"\ndrop_ul = 25.0\n\n[[sample]]\nname = \"black 1\"\nvolume_ml = 5.0\ndrops = { black = 1 }\nlab = [69.1, -1.1, -4.8]\nsigma = 0.25"));
        return station;
    };
    if let Some(best) = pot.recipes.first() {
        station.answer = format!("{} in {}\u{a0}mL", drops(&best.drops), plain(best.volume_ml, 1));
        recipes(&mut station, sheet, pot);
        ladders(&mut station, pot, best);
    }
    if let Some(scaled) = &pot.scaled {
        station.blocks.extend(picture(
            |width| pictures::pot(scaled, width),
            "The pot for the whole run; its top, the colourants, larger at the right.",
        ));
    }
    station.blocks.extend(colourant_table(sheet).map(Block::Table));
    station.blocks.extend(chip_table(pot).map(Block::Table));
    if let Some(next) = &pot.next {
        let what = if next.drops.is_empty() {
            "cure the bare resin".to_string()
        } else {
            format!("mix {} into {}\u{a0}mL, cure and read it", drops(&next.drops), plain(next.volume_ml, 1))
        };
        station.blocks.push(Block::Words(format!("Next sample: {what}. {}", sentence(&bounded(&next.why, LONGEST)))));
    }
    station
}

fn drops(drops: &BTreeMap<String, u32>) -> String {
    let parts: Vec<String> =
        drops.iter().filter(|(_, number)| **number > 0).take(8).map(|(name, number)| format!("{number} {}", bounded(name, 40))).collect();
    if parts.is_empty() { "nothing".into() } else { and(&parts) }
}

/// One ladder a colourant; the last one says what they all show.
fn ladders(station: &mut Station, pot: &PotResult, best: &Recipe) {
    let shown = pot.ladders.len().min(8);
    for (n, ladder) in pot.ladders.iter().take(shown).enumerate() {
        let present = best.drops.get(&ladder.colourant).copied().unwrap_or(0);
        let all = format!(
            "Drops of one colourant in {}\u{a0}mL, the rest of the recipe kept. The marked rung is the recipe.",
            plain(best.volume_ml, 1)
        );
        let caption = if n + 1 == shown { all } else { String::new() };
        station.blocks.extend(picture(|width| pictures::ladder(ladder, present, width), caption));
    }
}

fn recipes(station: &mut Station, sheet: &JobSheet, pot: &PotResult) {
    if let Some(colour) = &sheet.result.colour {
        for (n, recipe) in pot.recipes.iter().take(MOST_RECIPES).enumerate() {
            let name = format!("Recipe {}: {} in {}\u{a0}mL", n + 1, drops(&recipe.drops), plain(recipe.volume_ml, 1));
            let draw = |width| pictures::chips(colour.lab, recipe.lab, &name, [recipe.de00, recipe.de00_95], width);
            station.blocks.extend(picture(
                draw,
                if recipe.proven {
                    "No better recipe exists within the limits, by full search."
                } else {
                    "Other recipes may come as near."
                },
            ));
        }
    }
    let row = |(n, recipe): (usize, &Recipe)| {
        vec![
            Cell::number((n + 1).to_string()),
            Cell::number(format!("{} in {}\u{a0}mL", drops(&recipe.drops), plain(recipe.volume_ml, 1))),
            Cell::number(lab(recipe.lab)),
            Cell::number(plain(recipe.de00, 2)),
            Cell::number(plain(recipe.de00_95, 1)),
        ]
    };
    station.blocks.push(Block::Table(Table {
        caption: "Recipes, best first".into(),
        columns: ["no.", "drops into bare resin", "predicted colour", "CIEDE2000", "95 in 100 below"].map(String::from).into(),
        shares: vec![0.06, 0.36, 0.3, 0.13, 0.15],
        rows: pot.recipes.iter().take(8).enumerate().map(row).collect(),
    }));
}

fn colourant_table(sheet: &JobSheet) -> Option<Table> {
    let row = |colourant: &Colourant| {
        vec![
            Cell::words(bounded(&colourant.name, 60)),
            Cell::number(format!("{}\u{a0}\u{b5}L", plain(colourant.drop_ul, 1))),
            Cell::number(colourant.drop_cv.map_or_else(|| "not said".into(), percent)),
            Cell::number(colourant.max_percent.map_or_else(|| "no limit said".into(), |most| format!("{}\u{a0}%", plain(most, 1)))),
        ]
    };
    let colourants = &sheet.document.colourant;
    (!colourants.is_empty()).then(|| Table {
        caption: "Colourants".into(),
        columns: ["colourant", "a drop", "scatter of drops", "most by volume"].map(String::from).into(),
        shares: vec![0.31, 0.23, 0.23, 0.23],
        rows: colourants.iter().take(20).map(row).collect(),
    })
}

fn chip_table(pot: &PotResult) -> Option<Table> {
    let row = |chip: &result::ChipResult| {
        vec![
            Cell::words(bounded(&chip.name, 60)),
            Cell::number(lab(chip.lab)),
            Cell::number(lab(chip.predicted)),
            Cell::number(plain(chip.de00, 2)),
        ]
    };
    (!pot.chips.is_empty()).then(|| Table {
        caption: format!("How the colour model meets {}", count(pot.chips.len(), "chip")),
        columns: ["chip", "read", "by the model", "CIEDE2000"].map(String::from).into(),
        shares: vec![0.19, 0.34, 0.34, 0.13],
        rows: pot.chips.iter().take(40).map(row).collect(),
    })
}
