//! The pots of the bench: tools, the book of what went into which pot, the scale-up as written down, cure strips.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// What doses are measured with.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Tools {
    /// Smallest step of the balance, g.
    #[serde(default)]
    pub balance_g: Option<f64>,
    /// Its repeatability, g; 0.41 steps if left out (USP general chapter 41).
    #[serde(default)]
    pub balance_sigma_g: Option<f64>,
    /// A pipette, if doses are measured by volume.
    #[serde(default)]
    pub pipette: Option<Pipette>,
    /// Relative standard uncertainty that a dose may have; 0.02 if left out.
    #[serde(default)]
    pub dose_error: Option<f64>,
}

/// A pipette.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Pipette {
    /// Nominal volume, uL.
    pub nominal_ul: f64,
    /// Smallest setting, uL.
    pub least_ul: f64,
    /// Greatest systematic error, uL.
    pub bias_ul: f64,
    /// Random error, uL.
    pub random_ul: f64,
}

/// One line of the book of pots, in the order in which things were done: something added, poured across, or taken.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BookLine {
    /// Which pot; each starts empty.
    pub pot: String,
    /// Added, mL: "resin" is the bare resin, the others are colourants.
    #[serde(default)]
    pub add: BTreeMap<String, f64>,
    /// Added, whole drops of colourants.
    #[serde(default)]
    pub drops: BTreeMap<String, u32>,
    /// Poured from `pot`, well stirred, into this one; `ml` says how much.
    #[serde(default)]
    pub pour_into: Option<String>,
    /// Taken for good, and what for: "load 1"; `ml` says how much.
    #[serde(default)]
    pub take: Option<String>,
    /// How much is poured or taken, mL.
    #[serde(default)]
    pub ml: Option<f64>,
}

/// A scale-up as it was written down, to be checked before it is mixed.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ScaleUp {
    /// The chip it was scaled up from, by its name; left out: the best recipe.
    #[serde(default)]
    pub from: Option<String>,
    /// Bare resin of the large pot, mL.
    pub resin_ml: f64,
    /// Colourants as written down, mL (of the stock, where one is used).
    #[serde(default)]
    pub ml: BTreeMap<String, f64>,
    /// Colourants as written down, whole drops.
    #[serde(default)]
    pub drops: BTreeMap<String, u32>,
    /// Colourants that go in as a thinned stock: its strength, percent of the total.
    #[serde(default)]
    pub stock_percent: BTreeMap<String, f64>,
    /// Drops of other tips that lie on the bench, uL.
    #[serde(default)]
    pub other_drop_ul: BTreeMap<String, Vec<f64>>,
}

/// A test strip of this job's mix, or of the bare resin.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Strip {
    /// Exposure: mJ/cm2, or seconds if every strip is in seconds of one lamp.
    pub exposure: f64,
    /// Cured depth, um.
    pub depth_um: f64,
    /// Its standard uncertainty, um; 10 if left out.
    #[serde(default)]
    pub sigma_um: Option<f64>,
    /// Of the tinted mix; false: of the bare resin. True if left out.
    #[serde(default = "yes")]
    pub tinted: bool,
}

fn yes() -> bool {
    true
}

/// The lamp that cures layer by layer.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Lamp {
    /// Its wavelength, nm; 405 if left out.
    #[serde(default)]
    pub nm: Option<f64>,
    /// Layer, mm; that of [run] load_time, else 0.05.
    #[serde(default)]
    pub layer_mm: Option<f64>,
}
