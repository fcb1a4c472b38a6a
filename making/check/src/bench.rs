//! What one bench writes down for the next time: evidence, not conclusions, which [`crate::learn`] works out anew each time.

use serde::{Deserialize, Serialize};

/// The bench file. All lists may be empty; order is that of entry.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Bench {
    /// Sizes of made parts.
    pub size: Vec<SizeRecord>,
    /// Runs.
    pub run: Vec<RunRecord>,
    /// Strengths of colourants as the chips showed them.
    pub strength: Vec<StrengthRecord>,
    /// Colours before and after cure.
    pub cure: Vec<CureRecord>,
    /// Test strips of bare resin and of tinted mixes.
    pub strip: Vec<StripRecord>,
}

/// Inside or outside.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Kind {
    /// A bore.
    Bore,
    /// An outer diameter or a length.
    Outer,
}

/// A size as drawn and as it came out.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SizeRecord {
    /// The resin and route it was made by; records of one process are learnt from together.
    pub process: String,
    /// Inside or outside.
    pub kind: Kind,
    /// As sent to the machine, mm.
    pub drawn_mm: f64,
    /// As read after full cure, mm.
    pub made_mm: f64,
    /// Standard uncertainty of the reading, mm.
    pub sigma_mm: f64,
}

/// A run and what came of it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RunRecord {
    /// The resin and route.
    pub process: String,
    /// Parts of loads that were not lost.
    pub made: u32,
    /// Good ones among them.
    pub good: u32,
    /// Loads run.
    pub loads: u32,
    /// Loads lost as a whole.
    pub lost: u32,
}

/// How strong a lot of a colourant was against the one it was first learnt from.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StrengthRecord {
    /// Colourant.
    pub colourant: String,
    /// Lot, as printed on the bottle.
    pub lot: String,
    /// Natural logarithm of the strength; 0: as first learnt.
    pub ln_strength: f64,
    /// Its standard uncertainty.
    pub sigma: f64,
}

/// One sample's colour before and after cure and rest.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CureRecord {
    /// The resin and cure.
    pub process: String,
    /// Lab before.
    pub before: [f64; 3],
    /// Lab after.
    pub after: [f64; 3],
    /// Standard uncertainty of a reading, an axis.
    pub sigma: f64,
}

/// A test strip: exposure and the depth that it cured.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StripRecord {
    /// The resin and lamp.
    pub process: String,
    /// Exposure, in the unit that all strips of this bench are in.
    pub exposure: f64,
    /// Cured depth, um.
    pub depth_um: f64,
    /// Its standard uncertainty, um.
    pub sigma_um: f64,
    /// Of a tinted mix; only strips of bare resin go from job to job.
    pub tinted: bool,
}
