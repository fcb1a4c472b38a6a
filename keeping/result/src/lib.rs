//! What make works out: the result object that `ringer make --json` prints and the sheet shows.
//!
//! Field names are the contract's. What is unknown is left out or null, never 0; every number is finite.

mod colour;
mod made;
mod pot;

pub use colour::{AgePath, AimResult, BesideResult, ColourResult, NamedColour, WantedUnder};
pub use made::{
    BenchResult, CheckResult, CheckedColour, CheckedPart, CheckedSize, LaidOver, PairResult, SizeTold, ToldLimits, ToneLotResult, VatLine,
    VatResult,
};
pub use pot::{
    BookTold, ChipResult, CorrectionTold, CureTold, Ladder, LearningPoint, NextSample, PairUnder, PotResult, Recipe, ScaleUpTold,
    ScaledPart, ScaledPot, ShelfTold, StockTold,
};

use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// A number with its standard uncertainty.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Doubted {
    /// The value.
    pub value: f64,
    /// One sigma, same unit.
    pub sigma: f64,
}

/// Everything one job came to.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct JobResult {
    /// Version of the program.
    pub ringer: String,
    /// Title of the job.
    pub title: String,
    /// Stations without their evidence, each as "station: why".
    pub missing: Vec<String>,
    /// What is doubtful, most important first.
    pub warnings: Vec<Warning>,
    /// Assumptions that were made, each with the line of the document that would change it.
    pub assumptions: Vec<Assumption>,
    /// One entry a photo with a rod.
    pub photos: Vec<PhotoResult>,
    /// The true profile.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub profile: Option<ProfileResult>,
    /// Named sizes; `overall length` and `greatest diameter` first.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub dimensions: Vec<Dimension>,
    /// Odds of the systems: keys `mm`, `inch`, and where they apply `mixed`, `not round`.
    #[serde(skip_serializing_if = "BTreeMap::is_empty", default)]
    pub system: BTreeMap<String, f64>,
    /// The body to make.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub body: Option<BodyResult>,
    /// The colour wanted.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub colour: Option<ColourResult>,
    /// What goes into the resin.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub pot: Option<PotResult>,
    /// The batch.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub run: Option<RunResult>,
    /// What made parts may be, one line a size.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub limits: Vec<ToldLimits>,
    /// Made parts against the design.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub check: Option<CheckResult>,
    /// What the bench has learnt before this batch, from bench.toml.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub bench: Option<BenchResult>,
    /// The vat over the run.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub vat: Option<VatResult>,
}

/// A doubt with its way out.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Warning {
    /// Which station says so: evidence, outline, profile, sizes, body, colour, pot, run, check.
    pub station: String,
    /// Which photo, if one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub photo: Option<String>,
    /// What is doubtful.
    pub text: String,
    /// What would settle it.
    pub settle: String,
}

/// Something taken for true without evidence.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Assumption {
    /// Which station made it.
    pub station: String,
    /// What is assumed.
    pub text: String,
    /// The key of the document that changes it, e.g. `[body] fit`.
    pub switch: String,
}

/// What one photo says.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PhotoResult {
    /// Name in the document.
    pub name: String,
    /// Size of the upright picture, px.
    pub size_px: [usize; 2],
    /// The found edges.
    pub outline: OutlineResult,
    /// Wall-clock seconds; left out of files under out/, present in `--json`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub seconds: Option<f64>,
    /// Tilt of the axis out of the picture plane; > 0: the free end is farther.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub tilt_deg: Option<Doubted>,
    /// From the camera to the part's middle.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub distance_mm: Option<Doubted>,
    /// Focal length.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub focal_px: Option<Doubted>,
    /// Where the focal length came from, in words.
    pub focal_source: String,
    /// The fitted model thrown back into the picture: left and right contour, px.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub model: Option<Contours>,
    /// RMS distance between outline and model, px.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub residual_px: Option<f64>,
    /// Where the part stood before the camera.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub pose: Option<PoseResult>,
}

/// Where the part stood before the camera: a pinhole with its axes right, down and forward, its axis through the picture's middle.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PoseResult {
    /// The middle of the rod-end face, mm.
    pub origin_mm: [f64; 3],
    /// Unit vector along the axis toward the free end.
    pub direction: [f64; 3],
    /// Focal length, px.
    pub focal_px: f64,
}

/// Edges in a photo, px of the upright picture, (0,0) the corner of the first pixel.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct OutlineResult {
    /// The part's left edge (seen from rod entry to free end), from the rod to the free end.
    pub left: Vec<[f64; 2]>,
    /// The part's right edge, from the rod to the free end.
    pub right: Vec<[f64; 2]>,
    /// Doubt of each left point, px.
    pub left_sigma_px: Vec<f64>,
    /// Doubt of each right point, px.
    pub right_sigma_px: Vec<f64>,
    /// Typical doubt of a point, px.
    pub sigma_px: f64,
    /// The rod's left edge.
    pub rod_left: Vec<[f64; 2]>,
    /// The rod's right edge.
    pub rod_right: Vec<[f64; 2]>,
    /// The axis as used: rod entry, free end.
    pub axis: [[f64; 2]; 2],
}

/// Two curves in a picture.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Contours {
    /// Left.
    pub left: Vec<[f64; 2]>,
    /// Right.
    pub right: Vec<[f64; 2]>,
}

/// The measured meridian.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct ProfileResult {
    /// `[z_mm, r_mm, sigma_r_mm]` from the rod end to the free end.
    pub points: Vec<[f64; 3]>,
    /// Whether each point was seen in some photo.
    pub seen: Vec<bool>,
    /// The meridian as lines, arcs and curves, with the chosen sizes put back.
    pub pieces: Vec<PieceResult>,
}

/// A piece of the meridian.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PieceResult {
    /// `line`, `arc` or `curve`.
    pub kind: String,
    /// Start, `[z, r]` mm.
    pub from: [f64; 2],
    /// End.
    pub to: [f64; 2],
    /// Arc's centre.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub centre: Option<[f64; 2]>,
    /// Arc's sense: true when clockwise with z to the right and r up.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub clockwise: Option<bool>,
    /// Curve's control points.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub controls: Option<[[f64; 2]; 2]>,
}

/// A named size.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Dimension {
    /// "overall length", "greatest diameter", "collar diameter" ...
    pub name: String,
    /// `length`, `diameter` or `position` (distance from the rod end).
    pub kind: String,
    /// Where along the axis: from, to.
    pub z_mm: [f64; 2],
    /// Measured.
    pub value_mm: f64,
    /// Its standard uncertainty.
    pub sigma_mm: f64,
    /// Round sizes that could have been meant, best first.
    pub candidates: Vec<Candidate>,
    /// Label of the size that goes into the body; absent: the measured one goes in.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub chosen: Option<String>,
    /// The size that goes into the body, mm.
    pub used_mm: f64,
    /// How far the choice is from what the photos say, in sigmas.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub against_sigmas: Option<f64>,
    /// Where the size came from: photos, or a decision in the document.
    pub source: String,
}

/// A round size with its odds.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Candidate {
    /// "1 1/4 in", "31.5 mm", "not round".
    pub label: String,
    /// The size.
    pub mm: f64,
    /// 0..1.
    pub odds: f64,
}

/// The body to make.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct BodyResult {
    /// Volume, bore taken out.
    pub volume_mm3: f64,
    /// Whole surface.
    pub area_mm2: f64,
    /// Centre of mass on the axis, from the rod end.
    pub centre_z_mm: f64,
    /// Least and greatest x, y, z.
    pub bounds_mm: [[f64; 3]; 2],
    /// The bore, if any.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub bore: Option<BoreResult>,
    /// What else is cut, in words, and whether the exact files hold it.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub features: Vec<FeatureResult>,
    /// Volume of what STEP holds, where some features are in the meshes alone.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub step_volume_mm3: Option<f64>,
    /// Mass, g, where the material's density is known.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub mass_g: Option<f64>,
    /// Centre of mass, x, y, z, where cuts put it off the axis.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub centre_mm: Option<[f64; 3]>,
    /// A flat part's own sizes; `bounds_mm` are then x, y and thickness.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub flat: Option<FlatResult>,
    /// How it is made, and what that asks for.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub route: Option<RouteResult>,
    /// Files written, relative to the job folder.
    pub files: Vec<String>,
}

/// A flat part.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct FlatResult {
    /// Its thickness, as given.
    pub thickness_mm: f64,
    /// How far its edges are broken, in the files too.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub edge_break_mm: Option<f64>,
    /// Straight pieces of outline and holes.
    pub lines: u32,
    /// Round pieces; a hole that is a circle has two.
    pub arcs: u32,
    /// Free curves: cubics where no line or arc keeps near.
    #[serde(default)]
    pub curves: u32,
    /// Overall sizes and round holes.
    pub sizes: Vec<FlatSize>,
    /// Outline and holes piece by piece, mm, in the form of `drawn` under `[flat]`.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub drawn: Vec<Vec<DrawnPieceResult>>,
}

/// A piece of a closed line; it begins where the one before it ends, the first where the last one ends.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct DrawnPieceResult {
    /// Where it ends, `[x, y]` mm.
    pub to: [f64; 2],
    /// An arc's centre.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub centre: Option<[f64; 2]>,
    /// An arc's sense.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub clockwise: Option<bool>,
    /// A curve's two control points.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub controls: Option<[[f64; 2]; 2]>,
}

/// A size of a flat part.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct FlatSize {
    /// "width", "height", "hole 1 diameter" ...
    pub what: String,
    /// Measured.
    pub value_mm: f64,
    /// Its standard uncertainty.
    pub sigma_mm: f64,
    /// Of a hole: its middle from the lower left corner of the bounds.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub at_mm: Option<[f64; 2]>,
}

/// Something cut into the body.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct FeatureResult {
    /// In words: "12 flutes, radius 1.5 mm, 0.5 mm deep, from 2 to 10 mm".
    pub what: String,
    /// Whether STEP holds it exactly; else it is in the meshes alone.
    pub exact: bool,
    /// Why it does not, where another place or size would change that.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub why_not: Option<String>,
    /// Whether it is turned with the body, so that DXF and the section hold it too.
    #[serde(default)]
    pub turned: bool,
}

/// A way of making, as a table of what to know.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct RouteResult {
    /// `print`, `cast` or `turn`.
    pub name: String,
    /// What to know, how much, and where that comes from.
    pub facts: Vec<RouteFact>,
    /// Printed: how it stands on the plate.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub stance: Option<StanceResult>,
    /// Turned: place along the axis, diameter, whether it is a joint of the profile; mm.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub diameters_mm: Vec<(f64, f64, bool)>,
}

/// How a part stands on the plate.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct StanceResult {
    /// Whether the rod end is nearer to the plate.
    pub rod_end_down: bool,
    /// How far the axis leans from upright; 90 lies.
    pub lean_deg: f64,
    /// Height without feet.
    pub height_mm: f64,
    /// Diameter of the circle that it keeps within, seen from above.
    pub footprint_mm: f64,
}

/// One thing to know for making.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct RouteFact {
    /// "bar", "parting line", "drain" ...
    pub what: String,
    /// The answer.
    pub value: String,
    /// Its basis and doubt.
    pub note: String,
}

/// A bore.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct BoreResult {
    /// Diameter to make.
    pub diameter_mm: f64,
    /// Added to the shaft's diameter for the fit.
    pub allowance_mm: f64,
    /// Depth of the full diameter.
    pub depth_mm: f64,
    /// `flat` or `conical`.
    pub bottom: String,
    /// What fit is meant, in words.
    pub fit: String,
    /// Least and greatest diameter that gives this fit.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub limits_mm: Option<[f64; 2]>,
    /// Whether it goes from end to end; its depth is then the part's length.
    #[serde(skip_serializing_if = "std::ops::Not::not", default)]
    pub through: bool,
    /// The thread that goes into it.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub thread: Option<String>,
    /// Chance that it fits as wanted, 0..1.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub chance: Option<f64>,
    /// Pressed: hoop stress at the expected and at the tightest bore of 20, and what the material bears for long, MPa.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub hoop_mpa: Option<[f64; 3]>,
}

/// The batch.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct RunResult {
    /// Parts wanted.
    pub wanted: u32,
    /// Parts to start.
    pub start: u32,
    /// Plates.
    pub loads: u32,
    /// How many go on each.
    pub per_load: Vec<u32>,
    /// Tinted resin for all of it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub resin_ml: Option<f64>,
    /// Chance of enough good ones.
    pub chance: f64,
    /// For the picture: number started, chance of enough good ones.
    pub curve: Vec<(u32, f64)>,
    /// Places on the plate: centre x, y of each part of the fullest load, mm.
    pub places_mm: Vec<[f64; 2]>,
    /// Diameter that each place keeps clear, mm.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub footprint_mm: Option<f64>,
    /// Plate, mm.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub plate_mm: Option<[f64; 2]>,
    /// How the chance was worked out, in words.
    pub basis: String,
    /// Minutes of one load, and of all.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub minutes: Option<[f64; 2]>,
    /// Money for the whole run, in the document's currency.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub cost_total: Option<f64>,
    /// Money per good part, spares counted as worth something.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub cost_per_good: Option<f64>,
}
