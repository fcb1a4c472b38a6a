//! shelf.toml: the colourants of earlier jobs, as the chips that were cured of them. Evidence, not conclusions: what it teaches is worked out anew
//! each time.

use crate::document::Resin;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// The shelf, oldest bench first.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Shelf {
    /// One entry a resin and the chips cured in it.
    #[serde(default)]
    pub bench: Vec<ShelfBench>,
}

/// The chips of one job.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ShelfBench {
    /// Which job it was.
    #[serde(default)]
    pub source: String,
    /// What the tint went into.
    pub resin: Resin,
    /// The bottles.
    pub colourant: Vec<ShelfColourant>,
    /// The cured chips.
    pub chip: Vec<ShelfChip>,
}

/// A bottle as it was.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ShelfColourant {
    /// Its name among the chips of this bench.
    pub name: String,
    /// The name that jobs refer to it by; `name` if left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub shelf: Option<String>,
    /// Lot, as printed on the bottle; empty: not known.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub lot: String,
    /// Volume of one drop, uL.
    pub drop_ul: f64,
    /// Relative scatter of a drop.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub drop_cv: Option<f64>,
    /// Density, g/mL.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub density_g_ml: Option<f64>,
}

/// A cured chip.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ShelfChip {
    /// Name.
    pub name: String,
    /// Bare resin, mL.
    pub volume_ml: f64,
    /// Drops of each colourant.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub drops: BTreeMap<String, u32>,
    /// Grams of each colourant that was weighed in.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub grams: BTreeMap<String, f64>,
    /// Its Lab, D65, 2 degrees.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lab: Option<[f64; 3]>,
    /// Or its reflectance at 400 to 700 nm by 10 nm, 0..1.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reflectance: Option<Vec<f64>>,
    /// Standard uncertainty of each Lab coordinate (or of each reflectance).
    pub sigma: f64,
}
