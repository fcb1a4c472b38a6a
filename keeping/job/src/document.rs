//! The types of the job document, field for field as it is written in TOML.
//!
//! Lengths are [`Size`]s: a number of millimetres, or text such as "1/4 in". Pixels are of the upright picture, (0, 0) the corner of
//! the first pixel. Colours are CIELAB under D65 for the 2 degree observer.

mod body;
mod book;
mod flat;
mod made;
mod pot;

pub use body::{
    Body, BoreStep, Bottom, Cast, CastMaterial, CrossHole, Edge, EdgePlace, Feel, Fit, FitTest, Flutes, Hollow, Knurl, KnurlPattern, Mark,
    MarkPlace, Print, Route, Slot, Thread, ThreadMade, Turn,
};
pub use book::{BookLine, Lamp, Pipette, ScaleUp, Strip, Tools};
pub use flat::{DrawnPiece, Flat, Square};
pub use made::{Batch, MadePart, Pins, Tolerance, ToleranceClass};
pub use pot::{Age, Backing, BackingName, Colourant, Drift, NamedReading, Resin, Sample, SampleRegion, Target};

use crate::size::Size;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The only format this version reads and writes.
pub const FORMAT: &str = "ringer-job 1";

/// A corner or click in a picture, px.
pub type Pixel = [f64; 2];

/// A whole job.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Document {
    /// Always "ringer-job 1".
    pub format: String,
    /// What is made, for which machine.
    pub title: String,
    /// Who makes it, for the title block.
    #[serde(default)]
    pub maker: Option<String>,
    /// Date of the sheet as it shall be printed; nothing is read from a clock.
    #[serde(default)]
    pub date: Option<String>,
    /// Revision letter or number of the sheet.
    #[serde(default)]
    pub revision: Option<String>,
    /// Sizes known for sure, with their source.
    #[serde(default)]
    pub known: Vec<Known>,
    /// Photographs.
    #[serde(default)]
    pub photo: Vec<Photo>,
    /// A person's decisions about sizes.
    #[serde(default)]
    pub size: Vec<SizeDecision>,
    /// How the original was made.
    #[serde(default)]
    pub original: Option<Original>,
    /// What is made of the profile.
    #[serde(default)]
    pub body: Option<Body>,
    /// A flat part: a plate, washer, bezel or lever, from one photo squared up.
    #[serde(default)]
    pub flat: Option<Flat>,
    /// Colours read with an instrument or from a chart, by name.
    #[serde(default)]
    pub reading: Vec<NamedReading>,
    /// What the tint goes into.
    #[serde(default)]
    pub resin: Option<Resin>,
    /// What tints it.
    #[serde(default)]
    pub colourant: Vec<Colourant>,
    /// Cured chips.
    #[serde(default)]
    pub sample: Vec<Sample>,
    /// The colour wanted.
    #[serde(default)]
    pub target: Option<Target>,
    /// What doses are measured with.
    #[serde(default)]
    pub tools: Option<Tools>,
    /// The book of pots: what was done, in order.
    #[serde(default)]
    pub book: Vec<BookLine>,
    /// A scale-up as written down, to be checked.
    #[serde(default)]
    pub scale_up: Option<ScaleUp>,
    /// Test strips of cure depth.
    #[serde(default)]
    pub strip: Vec<Strip>,
    /// The lamp that cures.
    #[serde(default)]
    pub lamp: Option<Lamp>,
    /// The batch wanted.
    #[serde(default)]
    pub run: Option<Run>,
    /// How far made parts may be off.
    #[serde(default)]
    pub tolerance: Option<Tolerance>,
    /// The batch as it was made.
    #[serde(default)]
    pub batch: Option<Batch>,
    /// Readings of made parts.
    #[serde(default)]
    pub check: Vec<MadePart>,
}

/// A size known for sure.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Known {
    /// Name by which a photo refers to it.
    pub name: String,
    /// The size: a number of mm, or text: "6 mm", "1/4 in", "0.25 in".
    pub value: Size,
    /// Its standard uncertainty.
    #[serde(default)]
    pub sigma: Option<Size>,
    /// Where it is known from.
    #[serde(default)]
    pub source: Option<String>,
    /// What it is a size of, if not a rod: "overall length", "greatest diameter", a diameter at the place `at`, or the
    /// "stock" that it was made from.
    #[serde(default)]
    pub of: Option<KnownOf>,
    /// With `of = "diameter"`: how far from the rod end the diameter was taken.
    #[serde(default)]
    pub at: Option<Size>,
}

/// What a known size is a size of.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub enum KnownOf {
    /// A rod's diameter.
    #[serde(rename = "rod")]
    Rod,
    /// The part's overall length.
    #[serde(rename = "overall length")]
    OverallLength,
    /// The part's greatest diameter.
    #[serde(rename = "greatest diameter")]
    GreatestDiameter,
    /// A diameter at `at`.
    #[serde(rename = "diameter")]
    Diameter,
    /// The bar or blank that the part was made from: none of its diameters is larger.
    #[serde(rename = "stock")]
    Stock,
}

/// A photograph.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Photo {
    /// Name of the photo; no two alike.
    pub name: String,
    /// File, relative to the job folder.
    pub file: String,
    /// The rod that leaves the part coaxially, by the name of its known size.
    #[serde(default)]
    pub shaft: Option<String>,
    /// Two clicks: where the rod enters the part, then the free end.
    #[serde(default)]
    pub axis: Option<[Pixel; 2]>,
    /// A person's own trace of the part's outline, instead of the found one.
    #[serde(default)]
    pub outline: Option<Vec<Pixel>>,
    /// Focal length as 35 mm equivalent; overrides EXIF.
    #[serde(default)]
    pub focal_35mm: Option<f64>,
    /// A patch known to be grey.
    #[serde(default)]
    pub neutral: Option<Neutral>,
    /// Patches of known colour.
    #[serde(default)]
    pub patch: Vec<Patch>,
    /// Where on the part to read its colour.
    #[serde(default)]
    pub colour_region: Option<Vec<Pixel>>,
    /// Where the photo comes from.
    #[serde(default)]
    pub source: Option<String>,
    /// Something of known size in a flat part's plane, to square the photo up by.
    #[serde(default)]
    pub square: Option<Square>,
    /// The photo shows not the original but a made part, by its name in [[check]]; it is laid over the design.
    #[serde(default)]
    pub made: Option<String>,
}

/// A patch known to be grey.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Neutral {
    /// Its corners.
    pub polygon: Vec<Pixel>,
    /// Its reflectance, 0..1.
    pub reflectance: f64,
}

/// A patch of known colour.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Patch {
    /// Its corners.
    pub polygon: Vec<Pixel>,
    /// Its colour.
    pub lab: [f64; 3],
}

/// A decision about one size, by the name the sheet gives it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SizeDecision {
    /// The size's name on the sheet, e.g. "greatest diameter".
    pub name: String,
    /// Take this size.
    #[serde(default)]
    pub choose: Option<Size>,
    /// Never take these.
    #[serde(default)]
    pub refuse: Vec<Size>,
    /// A reading by caliper on an original.
    #[serde(default)]
    pub reading: Option<Size>,
    /// Its standard uncertainty; 0.02 mm if left out (common practice for a 0.01 mm caliper on plastic).
    #[serde(default)]
    pub sigma: Option<Size>,
}

/// How the original was made: it says how far its sizes stray from those its maker meant.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Original {
    /// "turned" (left out: this), "bar" (its greatest diameter is the skin of bought bar) or "moulded".
    pub made: OriginalMade,
    /// Moulded: least and greatest shrinkage, percent; 0.3 to 0.8 if left out.
    #[serde(default)]
    pub shrinkage_percent: Option<[f64; 2]>,
    /// Moulded: greatest draft per side, degrees; 1 if left out.
    #[serde(default)]
    pub draft_deg: Option<f64>,
}

/// How the original was made.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum OriginalMade {
    /// Turned to size.
    Turned,
    /// Turned from bar whose skin is left as it was bought.
    Bar,
    /// Moulded.
    Moulded,
}

/// The batch wanted.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Run {
    /// Good parts wanted.
    pub wanted: u32,
    /// The plate that parts are made on.
    #[serde(default)]
    pub plate: Option<Plate>,
    /// Experience so far: parts made.
    #[serde(default)]
    pub made: Option<u32>,
    /// Experience so far: good ones among them.
    #[serde(default)]
    pub good: Option<u32>,
    /// Certainty of enough good parts, 0..1; 0.95 if left out.
    #[serde(default)]
    pub certainty: Option<f64>,
    /// Supports and feet, as a share of the parts' volume; 0.3 if left out.
    #[serde(default)]
    pub supports: Option<f64>,
    /// What sticks to parts, vat and cups, as a share; 0.1 if left out.
    #[serde(default)]
    pub loss: Option<f64>,
    /// Least filling of the vat, mL.
    #[serde(default)]
    pub vat_least_ml: Option<f64>,
    /// Chance that a whole load is lost, 0..1.
    #[serde(default)]
    pub load_loss: Option<f64>,
    /// How long a load takes.
    #[serde(default)]
    pub load_time: Option<LoadTime>,
    /// What things cost, in one currency.
    #[serde(default)]
    pub prices: Option<Prices>,
}

/// How long a load takes.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct LoadTime {
    /// Layer, mm.
    pub layer_mm: f64,
    /// Seconds a layer: light, lift and settle.
    pub layer_s: f64,
    /// Filling, levelling, washing and curing of one load, minutes.
    pub handling_min: f64,
}

/// Prices, in any one currency.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Prices {
    /// Tinted resin, a mL.
    #[serde(default)]
    pub resin_per_ml: f64,
    /// The bench, an hour of load time.
    #[serde(default)]
    pub bench_per_hour: f64,
    /// Whatever each load costs besides: gloves, solvent, film.
    #[serde(default)]
    pub per_load: f64,
    /// Whatever each start costs besides: insert, finishing.
    #[serde(default)]
    pub per_start: f64,
}

/// A plate.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Plate {
    /// Width, mm.
    pub width_mm: f64,
    /// Depth, mm.
    pub depth_mm: f64,
    /// Left free between parts, mm.
    pub gap_mm: f64,
}
