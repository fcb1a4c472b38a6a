//! The colour wanted and what makes it: readings, resin, colourants, chips.

use super::Pixel;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// A colour that was read, by name: a Lab, or a spectrum in a file.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct NamedReading {
    /// Name by which the target refers to it.
    pub name: String,
    /// The colour.
    #[serde(default)]
    pub lab: Option<[f64; 3]>,
    /// Or its spectrum (or Lab) as an instrument wrote it: a file of comma-separated values, or of CGATS.17 / ISO 28178 text.
    #[serde(default)]
    pub spectrum: Option<String>,
    /// Which sample of that file, by its name there, if it holds several.
    #[serde(default)]
    pub sample: Option<String>,
    /// Observer of `lab`, degrees: 2 (left out: this) or 10.
    #[serde(default)]
    pub observer: Option<u32>,
    /// Light of `lab` by its CIE name; "D65" if left out.
    #[serde(default)]
    pub light: Option<String>,
    /// Standard uncertainty of each coordinate.
    #[serde(default)]
    pub sigma: Option<f64>,
    /// What was read, with what.
    #[serde(default)]
    pub source: Option<String>,
}

/// What the tint goes into.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Resin {
    /// Its name.
    pub name: String,
    /// Thickness of the sample chips, mm; left out: chips are opaque.
    #[serde(default)]
    pub thickness_mm: Option<f64>,
    /// What is behind the chips: "white", "black" or a reflectance.
    #[serde(default)]
    pub backing: Option<Backing>,
    /// Density, g/mL: lets amounts be given in grams.
    #[serde(default)]
    pub density_g_ml: Option<f64>,
}

/// What is behind a chip.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(untagged)]
pub enum Backing {
    /// A reflectance, 0..1.
    Reflectance(f64),
    /// "white" or "black".
    Named(BackingName),
}

/// A backing by name.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum BackingName {
    /// White card.
    White,
    /// Black card.
    Black,
}

/// A colourant as it drips from its bottle.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Colourant {
    /// Its name.
    pub name: String,
    /// Volume of one drop, uL.
    pub drop_ul: f64,
    /// Relative scatter of a drop; 0.05 if left out.
    #[serde(default)]
    pub drop_cv: Option<f64>,
    /// Most of it by volume, percent of the total: a limit of the cure.
    #[serde(default)]
    pub max_percent: Option<f64>,
    /// Density, g/mL.
    #[serde(default)]
    pub density_g_ml: Option<f64>,
    /// What is left in the bottle, mL.
    #[serde(default)]
    pub stock_ml: Option<f64>,
    /// Smallest dose that makes sense, drops; 1 if left out.
    #[serde(default)]
    pub least_drops: Option<u32>,
    /// Lot, as printed on the bottle: shelf.toml and bench.toml tell lots apart by it.
    #[serde(default)]
    pub lot: Option<String>,
    /// Its name in shelf.toml and bench.toml, if it has another one here.
    #[serde(default)]
    pub shelf: Option<String>,
}

/// A cured chip.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Sample {
    /// Its name.
    pub name: String,
    /// Bare resin that the drops went into, mL.
    pub volume_ml: f64,
    /// Drops of each colourant; none: bare resin.
    #[serde(default)]
    pub drops: BTreeMap<String, u32>,
    /// Grams of each colourant that was weighed in instead; needs its density.
    #[serde(default)]
    pub grams: BTreeMap<String, f64>,
    /// Standard uncertainty of those weights, g; 0.41 steps of [tools] balance_g if left out, else 0.005 g.
    #[serde(default)]
    pub grams_sigma: Option<f64>,
    /// Its colour, read.
    #[serde(default)]
    pub lab: Option<[f64; 3]>,
    /// Its spectrum: a file of comma-separated values (nm, reflectance), or of CGATS.17 / ISO 28178 text.
    #[serde(default)]
    pub spectrum: Option<String>,
    /// Its place in a photo. Beside `lab` or `spectrum` it lets the part in that photo be read against this chip.
    #[serde(default)]
    pub region: Option<SampleRegion>,
    /// Standard uncertainty of each Lab coordinate.
    #[serde(default)]
    pub sigma: Option<f64>,
    /// Read before the last cure: what bench.toml knows of that cure is added.
    #[serde(default)]
    pub before_cure: bool,
}

/// A chip in a photo.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SampleRegion {
    /// The photo's name.
    pub photo: String,
    /// The chip's outline.
    pub polygon: Vec<Pixel>,
}

/// The colour wanted.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Target {
    /// The colour itself.
    #[serde(default)]
    pub lab: Option<[f64; 3]>,
    /// Or where it is read: a photo's name, "photo" for all that can tell, or a named reading.
    #[serde(default)]
    pub from: Option<String>,
    /// Standard uncertainty of each coordinate. A `lab` without it is wanted as written: the pot counts no doubt of it.
    #[serde(default)]
    pub sigma: Option<f64>,
    /// Bare resin that a recipe is wanted for, mL.
    #[serde(default)]
    pub sample_ml: Option<f64>,
    /// Drops at most.
    #[serde(default)]
    pub max_drops: Option<u32>,
    /// Colourants in one recipe at most, 1 to 4; 4 if left out.
    #[serde(default)]
    pub max_colourants: Option<u32>,
    /// Greatest CIEDE2000 difference that is good enough; 1.0 if left out.
    #[serde(default)]
    pub tolerance: Option<f64>,
    /// A place between two readings: the part as new and as it is now.
    #[serde(default)]
    pub age: Option<Age>,
    /// How the made part's colour will still move, measured: by its cure, by months on a shelf.
    #[serde(default)]
    pub drift: Vec<Drift>,
    /// Lights that it shall be right under, by their CIE names; D65 always counts first. Left out: D65, A and LED-B3 are shown, D65 counts.
    #[serde(default)]
    pub lights: Vec<String>,
    /// Recipes in grams on the balance of [tools] instead of whole drops.
    #[serde(default)]
    pub by_weight: bool,
}

/// A place between two readings.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Age {
    /// Name of the reading or photo of the colour as new.
    pub new: String,
    /// Name of the reading or photo of the colour as it is now.
    pub now: String,
    /// 0 as new .. 1 as it is now.
    pub share: f64,
}

/// A measured shift of the made part's colour after its chip is read.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Drift {
    /// How far L*, a*, b* move.
    pub lab: [f64; 3],
    /// Standard uncertainty of each.
    pub sigma: f64,
    /// What moves it, over which time, and who measured it.
    pub source: String,
}
