//! What became of the batch: made parts against the design, what the bench learnt, the vat over the run.

use crate::Doubted;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// Made parts against the design.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct CheckResult {
    /// The parts, in the document's order.
    pub parts: Vec<CheckedPart>,
    /// Sizes over all parts.
    pub sizes: Vec<SizeTold>,
    /// Lots of parts that can lie side by side.
    pub tone_lots: Vec<ToneLotResult>,
    /// Best pairs, closest first.
    pub pairs: Vec<PairResult>,
    /// Photos of made parts laid over the design.
    pub laid_over: Vec<LaidOver>,
    /// Parts accepted, undecided, for rework, rejected.
    pub counts: [u32; 4],
    /// Share bad among all that will be made so: least and greatest, each held at 95 %; of the parts that were decided.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub bad_share_95: Option<[f64; 2]>,
    /// How many of the lot to inspect, in words.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub inspect: Option<String>,
    /// Lines that this batch adds to bench.toml.
    pub bench_lines: String,
    /// The chip that this batch is, as lines for job.toml; empty without colour readings or recipe.
    pub sample_lines: String,
}

/// What one size may be.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ToldLimits {
    /// The size's name.
    pub name: String,
    /// The size itself, mm.
    pub nominal_mm: f64,
    /// Least, mm.
    pub low_mm: f64,
    /// Greatest, mm.
    pub high_mm: f64,
    /// Where the limits come from: "ISO 2768-1 m", "own", "fit".
    pub rule: String,
}

/// A made part.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct CheckedPart {
    /// Its number or mark.
    pub part: String,
    /// "accept", "undecided", "rework", "reject".
    pub verdict: String,
    /// What decided, in words, with the rule.
    pub why: String,
    /// Its sizes.
    pub sizes: Vec<CheckedSize>,
    /// Its colour.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub colour: Option<CheckedColour>,
}

/// One size of a made part.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct CheckedSize {
    /// The size's name.
    pub name: String,
    /// Reading, or the mean of several; of pins, their middle.
    pub mm: f64,
    /// Standard uncertainty.
    pub sigma_mm: f64,
    /// "accept", "undecided", "rework", "reject".
    pub verdict: String,
    /// Chances of too small, within, too large.
    pub chances: [f64; 3],
    /// The rule, or what the pins prove, in words.
    pub rule: String,
}

/// The colour of a made part.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct CheckedColour {
    /// Its reading.
    pub lab: [f64; 3],
    /// CIEDE2000 from the colour wanted.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub to_target: Option<f64>,
    /// CIEDE2000 from the kept master.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub to_master: Option<f64>,
    /// Which way it is off the colour wanted (else the master), in words.
    pub words: String,
}

/// One size over all parts.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SizeTold {
    /// The size's name.
    pub name: String,
    /// Parts read.
    pub n: usize,
    /// Mean, mm.
    pub mean_mm: f64,
    /// Distance of the mean from the nearer limit over three standard deviations, with its standard error.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub cpk: Option<Doubted>,
    /// What may be claimed of it: the lower bound at 95 %.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub cpk_lower_95: Option<f64>,
    /// Why there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub no_cpk: Option<String>,
}

/// Parts that can lie side by side.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ToneLotResult {
    /// Their names.
    pub parts: Vec<String>,
    /// Mean colour.
    pub lab: [f64; 3],
    /// Largest CIEDE2000 between two of them.
    pub widest: f64,
}

/// Two parts for one set.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PairResult {
    /// Their names.
    pub parts: [String; 2],
    /// CIEDE2000 between them.
    pub de00: f64,
}

/// A made part's photo laid over the design.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct LaidOver {
    /// The photo.
    pub photo: String,
    /// The part.
    pub part: String,
    /// The made profile: `[z_mm, r_mm, sigma_mm]` of the places that the photo shows.
    pub points: Vec<[f64; 3]>,
    /// How far each lies outside the design, square to it, mm.
    pub off_mm: Vec<f64>,
    /// The place farthest off in its own doubts: z, distance, doubt; mm.
    pub worst: [f64; 3],
    /// Root mean square of all, mm.
    pub rms_mm: f64,
    /// Sizes as the photo shows them: name, measured, sigma, drawn; mm.
    pub sizes: Vec<(String, f64, f64, f64)>,
}

/// What the bench has learnt of this process.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct BenchResult {
    /// Which process.
    pub process: String,
    /// What to multiply the drawn part by so that it comes out right.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub scale: Option<Doubted>,
    /// Linear shrinkage, a share.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub shrinkage: Option<Doubted>,
    /// Made minus drawn bore after shrinkage, mm; its scatter from part to part.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub bore_offset_mm: Option<Doubted>,
    /// Scatter of bores about that, mm.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub bore_scatter_mm: Option<f64>,
    /// Parts made and good.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub made_good: Option<[u32; 2]>,
    /// Loads run and lost.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub loads_lost: Option<[u32; 2]>,
    /// Natural logarithm of each colourant's strength against the one first learnt.
    #[serde(skip_serializing_if = "BTreeMap::is_empty", default)]
    pub strength: BTreeMap<String, Doubted>,
    /// Shift of L*, a*, b* by the last cure.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub cure_shift: Option<[Doubted; 3]>,
}

/// The vat over the run: what it holds before and after each load, and how its colour moves.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct VatResult {
    /// Step by step.
    pub lines: Vec<VatLine>,
    /// The same if top-ups were bare resin.
    pub untinted: Vec<VatLine>,
    /// First load whose parts would show the drift of bare top-ups beside those of the first.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub seen_from_load: Option<u32>,
    /// What to mix ahead, in words.
    pub advice: String,
}

/// One line of the vat's book.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct VatLine {
    /// What is done.
    pub what: String,
    /// Which load it belongs to, from 1.
    pub load: u32,
    /// What the vat holds after it, mL.
    pub held_ml: f64,
    /// Colourants in it, share of the total by volume.
    pub tint_share: f64,
    /// CIEDE2000 of its colour from that of the first load, by the pot's model.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub de00: Option<f64>,
}
