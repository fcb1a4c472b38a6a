//! What was made and how it was found: tolerances, readings of made parts, the batch.

use crate::size::{Size, Sizes};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// How far a made part may be off.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Tolerance {
    /// Class of the general tolerances of ISO 2768-1, for sizes without their own; m if left out.
    #[serde(default)]
    pub class: Option<ToleranceClass>,
    /// Own tolerances by the size's name on the sheet: "0.05 mm" is either way, ["-0.1 mm", "0 mm"] are lower and upper deviation.
    #[serde(default)]
    pub own: BTreeMap<String, Sizes>,
    /// Greatest CIEDE2000 difference of a made part from the colour wanted; that of the target if left out.
    #[serde(default)]
    pub de00: Option<f64>,
    /// Greatest CIEDE2000 difference between two parts of one lot that lie side by side; 1.0 if left out.
    #[serde(default)]
    pub lot_de00: Option<f64>,
}

/// A class of ISO 2768-1.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum ToleranceClass {
    /// Fine.
    F,
    /// Medium.
    M,
    /// Coarse.
    C,
    /// Very coarse.
    V,
}

/// What was read of one made part.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct MadePart {
    /// Its number or mark; no two alike.
    pub part: String,
    /// Caliper readings by the size's name on the sheet ("bore" and "bore depth" are the bore's); several of one size in a list.
    #[serde(default)]
    pub readings: BTreeMap<String, Sizes>,
    /// Standard uncertainty of one reading; 0.02 mm if left out.
    #[serde(default)]
    pub sigma: Option<Size>,
    /// Its colour, after the last cure and a day's rest.
    #[serde(default)]
    pub lab: Option<[f64; 3]>,
    /// Standard uncertainty of each coordinate; 0.3 if left out.
    #[serde(default)]
    pub lab_sigma: Option<f64>,
    /// Gauge pins tried in the bore.
    #[serde(default)]
    pub pins: Option<Pins>,
}

/// Gauge pins tried in a bore.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Pins {
    /// These enter by their own weight.
    #[serde(default)]
    pub enter: Option<Sizes>,
    /// These do not.
    #[serde(default)]
    pub stay_out: Option<Sizes>,
    /// Standard uncertainty of a pin; 0.002 mm if left out.
    #[serde(default)]
    pub sigma: Option<Size>,
}

/// The batch as it was made.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Batch {
    /// Number or name, for the label.
    #[serde(default)]
    pub number: Option<String>,
    /// Date as it shall be printed.
    #[serde(default)]
    pub date: Option<String>,
    /// Resin and route by which bench.toml tells processes apart; the resin's name if left out.
    #[serde(default)]
    pub process: Option<String>,
    /// Lot numbers by material: resin, colourants, insert.
    #[serde(default)]
    pub lots: BTreeMap<String, String>,
    /// Exposure and layer, in words: "2.4 s a layer of 0.05 mm".
    #[serde(default)]
    pub exposure: Option<String>,
    /// Wash and cure, in words.
    #[serde(default)]
    pub cure: Option<String>,
    /// What the drawn part was multiplied by when it was sent to the machine; 1 if left out.
    #[serde(default)]
    pub scale: Option<f64>,
    /// Parts started on loads that were not lost.
    #[serde(default)]
    pub made: Option<u32>,
    /// Good ones among them.
    #[serde(default)]
    pub good: Option<u32>,
    /// Loads run.
    #[serde(default)]
    pub loads: Option<u32>,
    /// Loads lost as a whole.
    #[serde(default)]
    pub lost: Option<u32>,
    /// Colour of the kept master part.
    #[serde(default)]
    pub master: Option<[f64; 3]>,
    /// Colour of a part before the last cure.
    #[serde(default)]
    pub before_cure: Option<[f64; 3]>,
    /// Anything else that someone will want to know in two years.
    #[serde(default)]
    pub note: Option<String>,
}
