use super::{LONGEST, bare, picture, want, why_missing};
use crate::JobSheet;
use crate::pictures::{self, LightRow};
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
        station.answer = format!("{} in {}\u{a0}mL", amounts(best), plain(best.volume_ml, 1));
        recipes(&mut station, sheet, pot);
        station.blocks.extend(lights(pot));
        ladders(&mut station, pot, best);
    }
    let tolerance = sheet.document.target.as_ref().and_then(|target| target.tolerance).unwrap_or(1.0);
    station.blocks.extend(picture(
        |width| pictures::learning(&pot.learning, tolerance, width),
        "What was known of the best recipe after each chip: in 95 of 100 cases its colour lies within the black line of the one wanted.",
    ));
    if let Some(scaled) = &pot.scaled {
        station.blocks.extend(picture(
            |width| pictures::pot(scaled, width),
            "The pot for the whole run; its top, the colourants, larger at the right.",
        ));
    }
    station.blocks.extend(colourant_table(sheet).map(Block::Table));
    station.blocks.extend(chip_table(pot).map(Block::Table));
    station.blocks.extend(super::pot_book::blocks(pot));
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

/// What goes in: drops, or grams where recipes are by weight.
pub(super) fn amounts(recipe: &Recipe) -> String {
    if recipe.grams.is_empty() { drops(&recipe.drops) } else { grams(&recipe.grams) }
}

pub(super) fn grams(grams: &BTreeMap<String, f64>) -> String {
    let part = |(name, g): (&String, &f64)| format!("{}\u{a0}g {}", plain(*g, 3), bounded(name, 40));
    let parts: Vec<String> = grams.iter().filter(|(_, g)| **g > 0.0).take(8).map(part).collect();
    if parts.is_empty() { "nothing".into() } else { and(&parts) }
}

pub(super) fn drops(drops: &BTreeMap<String, u32>) -> String {
    let parts: Vec<String> =
        drops.iter().filter(|(_, number)| **number > 0).take(8).map(|(name, number)| format!("{number} {}", bounded(name, 40))).collect();
    if parts.is_empty() { "nothing".into() } else { and(&parts) }
}

/// One ladder a colourant; the last one says what they all show.
fn ladders(station: &mut Station, pot: &PotResult, best: &Recipe) {
    let shown = pot.ladders.len().min(8);
    for (n, ladder) in pot.ladders.iter().take(shown).enumerate() {
        let present = present(pot, best, ladder);
        let all = format!(
            "Drops of one colourant in {}\u{a0}mL, the rest of the recipe kept. The marked rung is the recipe.",
            plain(best.volume_ml, 1)
        );
        let caption = if n + 1 == shown { all } else { String::new() };
        station.blocks.extend(picture(|width| pictures::ladder(ladder, present, width), caption));
    }
}

/// Drops of the recipe; of one by weight, the rung that stands for it: the ladder reaches to twice its drops, or to four.
fn present(pot: &PotResult, best: &Recipe, ladder: &result::Ladder) -> u32 {
    if best.grams.is_empty() {
        return best.drops.get(&ladder.colourant).copied().unwrap_or(0);
    }
    let lab = pot.recipes.first().map_or([f64::NAN; 3], |recipe| recipe.lab);
    let off = |rung: &[f64; 3]| rung.iter().zip(&lab).map(|(a, b)| (a - b).powi(2)).sum::<f64>();
    let nearest = ladder.drops.iter().zip(&ladder.lab).min_by(|a, b| off(a.1).total_cmp(&off(b.1)));
    nearest.map_or(0, |(drops, _)| *drops)
}

/// The best recipe beside the wanted colour under each light.
fn lights(pot: &PotResult) -> Option<Block> {
    let row = |pair: &result::PairUnder| {
        let gamut = if pair.out_of_gamut { " Shown with less chroma than it has." } else { "" };
        let says = match (pair.de00, pair.metamerism) {
            (Some(de00), Some(index)) => {
                format!("CIEDE2000 {}; through the light alone {} (metamerism index, CIE 15).{gamut}", plain(de00, 1), plain(index, 1))
            }
            (Some(de00), None) => format!("CIEDE2000 {}.{gamut}", plain(de00, 1)),
            (None, _) => format!("Metamerism is unknown: of the wanted colour only the Lab under D65 is known, not its spectrum.{gamut}"),
        };
        LightRow {
            light: format!("{}: {}", pair.light, pair.words),
            wanted: (pair.wanted, pair.srgb[0].clone()),
            predicted: Some((pair.predicted, pair.srgb[1].clone())),
            says,
        }
    };
    let rows: Vec<LightRow> = pot.lights.iter().map(row).collect();
    if rows.len() < 2 {
        return None;
    }
    picture(
        |width| pictures::under_lights(&rows, width),
        "The first recipe (lower right) beside the wanted colour (upper left) under each light, as an eye used to that light sees them.",
    )
}

fn recipes(station: &mut Station, sheet: &JobSheet, pot: &PotResult) {
    if let Some(colour) = &sheet.result.colour {
        for (n, recipe) in pot.recipes.iter().take(MOST_RECIPES).enumerate() {
            let name = format!("Recipe {}: {} in {}\u{a0}mL", n + 1, amounts(recipe), plain(recipe.volume_ml, 1));
            // What the pot aims at differs from the colour wanted where drift is reckoned with.
            let aim = colour.aim.as_ref().map_or(colour.lab, |aim| aim.lab);
            let draw = |width| pictures::chips(aim, recipe.lab, &name, [recipe.de00, recipe.de00_95], width);
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
            Cell::number(format!("{} in {}\u{a0}mL", amounts(recipe), plain(recipe.volume_ml, 1))),
            Cell::number(lab(recipe.lab)),
            Cell::number(plain(recipe.de00, 2)),
            Cell::number(plain(recipe.de00_95, 1)),
            Cell::number(percent(recipe.chance)),
            Cell::words(bounded(&recipe.merit, 20)),
        ]
    };
    station.blocks.push(Block::Table(Table {
        caption: "Recipes, best first".into(),
        columns: ["no.", "into bare resin", "predicted colour", "CIEDE2000", "95 in 100 below", "chance", "listed as"]
            .map(String::from)
            .into(),
        shares: vec![0.05, 0.25, 0.25, 0.13, 0.11, 0.09, 0.12],
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
