//! What goes into the pot: recipes, chips, the book, the scale-up, stocks, cure.

use crate::Doubted;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// What goes into the resin.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct PotResult {
    /// Best first.
    pub recipes: Vec<Recipe>,
    /// The sample that would teach most; null when good enough.
    pub next: Option<NextSample>,
    /// How the chips are met by the model: name, read Lab, predicted Lab, difference.
    pub chips: Vec<ChipResult>,
    /// The best recipe scaled to the run's resin.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub scaled: Option<ScaledPot>,
    /// For each colourant, the predicted Lab of the best recipe with 0, 1, 2 ... drops of it.
    pub ladders: Vec<Ladder>,
    /// The best recipe beside the wanted colour under each of the chosen lights.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub lights: Vec<PairUnder>,
    /// What was known of the best recipe after each chip.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub learning: Vec<LearningPoint>,
    /// Colourants that started from the shelf.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub shelf: Vec<ShelfTold>,
    /// This job's chips as lines of shelf.toml; empty where no chip holds a colourant.
    #[serde(skip_serializing_if = "String::is_empty", default)]
    pub shelf_lines: String,
    /// The book of pots, line by line.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub book: Vec<BookTold>,
    /// What to top that pot up with so that it comes back to the recipe's shares, in words.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub top_up: Option<String>,
    /// What to add to the pot of the book's last line so that it comes nearer to the colour wanted; least addition first.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub corrections: Vec<CorrectionTold>,
    /// The scale-up, line by line.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub scale_up: Vec<ScaleUpTold>,
    /// Doses that are too small for the tools, with the stock solutions that make them measurable.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub stocks: Vec<StockTold>,
    /// Exposure of the tinted mix.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub cure: Option<CureTold>,
}

/// A recipe in whole drops, or in grams.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Recipe {
    /// Bare resin the drops go into.
    pub volume_ml: f64,
    /// Drops of each colourant.
    pub drops: BTreeMap<String, u32>,
    /// Grams of each colourant, where recipes are wanted by weight; then `drops` is empty.
    #[serde(skip_serializing_if = "BTreeMap::is_empty", default)]
    pub grams: BTreeMap<String, f64>,
    /// Predicted colour.
    pub lab: [f64; 3],
    /// CIEDE2000 from the target (root mean square over the lights that count).
    pub de00: f64,
    /// Bound that the true difference keeps in 95 of 100 cases.
    pub de00_95: f64,
    /// Whether no better recipe exists under the limits, by exact search.
    pub proven: bool,
    /// Chance to be within the tolerance, 0..1.
    #[serde(default)]
    pub chance: f64,
    /// Why it is listed: "best", "cheaper", "steadier".
    #[serde(skip_serializing_if = "String::is_empty", default)]
    pub merit: String,
}

/// What to mix next.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct NextSample {
    /// Bare resin.
    pub volume_ml: f64,
    /// Drops of each colourant; empty: cure the bare resin.
    pub drops: BTreeMap<String, u32>,
    /// Why this one.
    pub why: String,
}

/// A chip against the model.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ChipResult {
    /// Name.
    pub name: String,
    /// Read.
    pub lab: [f64; 3],
    /// Predicted.
    pub predicted: [f64; 3],
    /// CIEDE2000 between the two.
    pub de00: f64,
}

/// The recipe for the whole run.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ScaledPot {
    /// Bare resin, mL.
    pub resin_ml: f64,
    /// Bare resin, g, where its density is known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub resin_g: Option<f64>,
    /// One line a colourant.
    pub parts: Vec<ScaledPart>,
}

/// One colourant of the run's pot.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ScaledPart {
    /// Name.
    pub colourant: String,
    /// Whole drops.
    pub drops: u32,
    /// Volume.
    pub ml: f64,
    /// Mass, where the density is known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub g: Option<f64>,
}

/// Predicted colours as one colourant grows.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Ladder {
    /// Which colourant.
    pub colourant: String,
    /// Drops of it at each rung.
    pub drops: Vec<u32>,
    /// Lab at each rung.
    pub lab: Vec<[f64; 3]>,
}

/// The best recipe beside the wanted colour under one light.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct PairUnder {
    /// The light's CIE name.
    pub light: String,
    /// What it stands for, in words.
    pub words: String,
    /// The wanted colour under it; a guess unless `metamerism` is known.
    pub wanted: [f64; 3],
    /// The recipe's colour under it.
    pub predicted: [f64; 3],
    /// CIEDE2000 between the two; absent where the wanted one is a guess.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub de00: Option<f64>,
    /// What of it comes from the change of light (special metamerism index, CIE 15); absent: the wanted colour's spectrum is not known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub metamerism: Option<f64>,
    /// Both as a screen shows them (adapted by CAT16).
    pub srgb: [String; 2],
    /// Whether the screen can't show one of them.
    pub out_of_gamut: bool,
}

/// What was known of the best recipe after so many chips.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct LearningPoint {
    /// Chips cured.
    pub chips: usize,
    /// The last of them.
    pub name: String,
    /// CIEDE2000 of the recipe's predicted colour from the target.
    pub de00: f64,
    /// Bound kept in 95 of 100 cases.
    pub de00_95: f64,
}

/// A colourant that started from the shelf.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ShelfTold {
    /// Its name here.
    pub colourant: String,
    /// Its name and lot on the shelf.
    pub from: String,
    /// In words: the same bottle, another lot with its strength open, another lot whose strength was learnt.
    pub how: String,
    /// ln of its strength against the shelf's, as this job's chips show it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub ln_strength: Option<Doubted>,
}

/// A line of the book.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct BookTold {
    /// What was done, in words.
    pub what: String,
    /// The pot that it changed.
    pub pot: String,
    /// What that pot then holds, mL.
    pub total_ml: f64,
    /// Percent of the total of each colourant in it.
    pub percent: BTreeMap<String, f64>,
    /// Its colour by the model; absent where it holds no resin.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub lab: Option<[f64; 3]>,
    /// CIEDE2000 from what the pot aims at.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub de00: Option<f64>,
}

/// What to add to a mixed pot.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct CorrectionTold {
    /// The pot.
    pub pot: String,
    /// Bare resin to add, mL.
    pub resin_ml: f64,
    /// Drops to add.
    pub drops: BTreeMap<String, u32>,
    /// Grams to add, where recipes are by weight.
    #[serde(skip_serializing_if = "BTreeMap::is_empty", default)]
    pub grams: BTreeMap<String, f64>,
    /// CIEDE2000 from the target after it, and its bound at 95 %.
    pub de00: [f64; 2],
}

/// A line of the scale-up.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ScaleUpTold {
    /// Colourant.
    pub colourant: String,
    /// As written down, mL.
    pub written_ml: f64,
    /// What is right, mL.
    pub right_ml: f64,
    /// The slip by name, in words; absent: the line is right.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub slip: Option<String>,
}

/// Stock solutions of one colourant.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct StockTold {
    /// Colourant.
    pub colourant: String,
    /// "g" or "mL".
    pub unit: String,
    /// Thinnings, strongest first: take, into so much bare resin, strength percent of the total, relative doubt.
    pub steps: Vec<[f64; 4]>,
    /// Dose of the last stock into the pot.
    pub dose: f64,
    /// Relative standard uncertainty of the colourant in the pot.
    pub error: f64,
    /// Smallest pot in which this dose is still measured well enough, same unit.
    pub least_total: f64,
}

/// Exposure of the tinted mix.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct CureTold {
    /// Whether strips of the tinted mix were measured; else it is an estimate.
    pub measured: bool,
    /// Depth of penetration of the tinted mix, um.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub depth_um: Option<Doubted>,
    /// Critical exposure.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub critical: Option<Doubted>,
    /// Suggested exposure for a layer, in the strips' unit; never without a test strip.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub exposure: Option<Doubted>,
    /// How many times longer than bare resin.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub factor: Option<f64>,
    /// Layer, mm.
    pub layer_mm: f64,
    /// How it was worked out, in words.
    pub basis: String,
    /// Strips: exposure, depth um, sigma um; 1 tinted or 0 bare.
    pub strips: Vec<[f64; 4]>,
}
