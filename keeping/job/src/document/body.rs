//! What is made of the profile: the bore and its fit, what is cut into the body, and the way it is made.

use crate::size::Size;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::fmt;

/// What is made of the profile. Places along the axis are distances from the end where the rod enters.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Body {
    /// How it is made; left out: printed.
    #[serde(default)]
    pub route: Option<Route>,
    /// How the bore shall sit on the shaft: "slides", "pushes", "pressed", "glued", or an ISO code such as "H7/g6".
    #[serde(default)]
    pub fit: Option<Fit>,
    /// Added to the shaft's diameter, instead of what `fit` stands for.
    #[serde(default)]
    pub allowance: Option<Size>,
    /// Depth of the bore's full diameter. "none" for no bore is `bore = false`.
    #[serde(default)]
    pub bore_depth: Option<Size>,
    /// Whether there is a bore at all; true if left out.
    #[serde(default)]
    pub bore: Option<bool>,
    /// The bore goes from end to end.
    #[serde(default)]
    pub through: Option<bool>,
    /// Shape of its bottom.
    #[serde(default)]
    pub bottom: Option<Bottom>,
    /// Wider parts of the bore, from its mouth inward, each narrower and deeper than the one before.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub step: Vec<BoreStep>,
    /// Leg of a 45 degree chamfer at the bore's mouth.
    #[serde(default)]
    pub mouth_chamfer: Option<Size>,
    /// Leg of a 45 degree chamfer where a through bore comes out.
    #[serde(default)]
    pub exit_chamfer: Option<Size>,
    /// A thread in the bore, instead of a fit on a plain shaft.
    #[serde(default)]
    pub thread: Option<Thread>,
    /// A D bore: the shaft's size across its flat, from the flat to the round opposite.
    #[serde(default)]
    pub flat: Option<Size>,
    /// A slot along the bore, for a key or a pin.
    #[serde(default)]
    pub slot: Option<Slot>,
    /// A hole across, for a set screw or a pin.
    #[serde(default)]
    pub cross_hole: Option<CrossHole>,
    /// Round grooves along the outside.
    #[serde(default)]
    pub flutes: Option<Flutes>,
    /// A knurl round the outside.
    #[serde(default)]
    pub knurl: Option<Knurl>,
    /// Chamfers and fillets on edges of the outside.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub edge: Vec<Edge>,
    /// A hollow open at the rod end, with a wall left round it.
    #[serde(default)]
    pub hollow: Option<Hollow>,
    /// A maker's mark cut into a face that is not seen.
    #[serde(default)]
    pub mark: Option<Mark>,
    /// A row of bores to try on the shaft, written beside the part.
    #[serde(default)]
    pub fit_test: Option<FitTest>,
    /// What is known of printing it.
    #[serde(default)]
    pub print: Option<Print>,
    /// What is known of casting it.
    #[serde(default)]
    pub cast: Option<Cast>,
    /// What is known of turning it.
    #[serde(default)]
    pub turn: Option<Turn>,
    /// Greatest distance between the mesh and the true surface; 0.005 mm if left out.
    #[serde(default)]
    pub chord: Option<Size>,
}

/// What is known of printing a part.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Print {
    /// How much smaller prints come out, percent, where bench.toml does not tell.
    #[serde(default)]
    pub shrinkage_percent: Option<f64>,
}

/// What is known of casting a part.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Cast {
    /// "polyurethane" (left out: this), "epoxy" or "polyester".
    #[serde(default)]
    pub material: Option<CastMaterial>,
    /// Least and greatest linear shrinkage of the material, percent; left out: from the table.
    #[serde(default)]
    pub shrinkage_percent: Option<[f64; 2]>,
    /// Parts by weight of its two components, as its maker says; [100, 100] if left out.
    #[serde(default)]
    pub mix: Option<[f64; 2]>,
    /// Density of the cured material, g/mL; left out: that of [resin], else 1.1.
    #[serde(default)]
    pub density_g_ml: Option<f64>,
    /// Silicone round the part; 10 mm if left out.
    #[serde(default)]
    pub mould_wall: Option<Size>,
}

/// A casting resin.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum CastMaterial {
    /// Rigid polyurethane.
    #[default]
    Polyurethane,
    /// Epoxy.
    Epoxy,
    /// Polyester.
    Polyester,
}

/// What is known of turning a part.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Turn {
    /// From row to row of the table of diameters; 1 mm if left out.
    #[serde(default)]
    pub step: Option<Size>,
    /// Radius of the tool's nose; 0.4 mm if left out.
    #[serde(default)]
    pub nose: Option<Size>,
}

/// The way a part is made.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Route {
    /// Printed in resin.
    #[default]
    Print,
    /// Cast in a mould taken from a master.
    Cast,
    /// Turned from bar.
    Turn,
}

/// How a bore sits on its shaft.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(try_from = "String", into = "String")]
#[schemars(with = "String")]
pub enum Fit {
    /// By feel.
    Feel(Feel),
    /// By a code of ISO 286, hole before shaft: "H7/g6".
    Iso(String),
}

impl TryFrom<String> for Fit {
    type Error = String;

    fn try_from(text: String) -> Result<Fit, String> {
        let feel = match text.as_str() {
            "slides" => Feel::Slides,
            "pushes" => Feel::Pushes,
            "pressed" => Feel::Pressed,
            "glued" => Feel::Glued,
            _ => {
                let class = |part: &str, letter: fn(&char) -> bool| {
                    let letters = part.chars().take_while(char::is_ascii_alphabetic).count();
                    let (head, digits) = part.split_at(letters);
                    (1..=2).contains(&letters)
                        && head.chars().all(|c| letter(&c))
                        && (1..=2).contains(&digits.len())
                        && digits.bytes().all(|b| b.is_ascii_digit())
                };
                let is_code = text.split_once('/').is_some_and(|(hole, shaft)| {
                    class(hole.trim(), char::is_ascii_uppercase) && class(shaft.trim(), char::is_ascii_lowercase)
                });
                if is_code {
                    return Ok(Fit::Iso(text));
                }
                return Err(format!(
                    "`{text}` is no fit: \"slides\", \"pushes\", \"pressed\", \"glued\" or an ISO code with the hole in capitals, such as \"H7/g6\", was expected"
                ));
            }
        };
        Ok(Fit::Feel(feel))
    }
}

impl From<Fit> for String {
    fn from(fit: Fit) -> String {
        fit.to_string()
    }
}

impl fmt::Display for Fit {
    fn fmt(&self, out: &mut fmt::Formatter) -> fmt::Result {
        out.write_str(match self {
            Fit::Feel(Feel::Slides) => "slides",
            Fit::Feel(Feel::Pushes) => "pushes",
            Fit::Feel(Feel::Pressed) => "pressed",
            Fit::Feel(Feel::Glued) => "glued",
            Fit::Iso(code) => code,
        })
    }
}

/// How a bore feels on its shaft.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Feel {
    /// Goes on by itself.
    Slides,
    /// Goes on by hand, stays.
    Pushes,
    /// Needs a press.
    Pressed,
    /// With room for glue.
    Glued,
}

/// Shape of a bore's bottom.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Bottom {
    /// Flat.
    Flat,
    /// The cone that a 118 degree drill leaves.
    Conical,
}

/// A wider part of a bore.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BoreStep {
    /// Its diameter.
    pub diameter: Size,
    /// How deep it goes.
    pub depth: Size,
}

/// A thread in a bore.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Thread {
    /// "M6", "M8x1", "1/4-20 UNC", "10-32 UNF", "2BA", "1/4 BSW".
    pub size: String,
    /// How it comes in: "tap" (left out: this), "cut" or "insert".
    #[serde(default)]
    pub made: Option<ThreadMade>,
    /// With `made = "insert"`: the hole that the insert's maker asks for.
    #[serde(default)]
    pub hole: Option<Size>,
}

/// How a thread comes in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum ThreadMade {
    /// A pilot hole; the thread is tapped by hand.
    Tap,
    /// The thread itself is made, in STEP and in the meshes.
    Cut,
    /// A plain hole for a threaded insert.
    Insert,
}

/// A slot along the bore.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Slot {
    /// Across.
    pub width: Size,
    /// How far it goes beyond the bore's wall.
    pub depth: Size,
    /// How far it reaches from the rod end; left out: as deep as the bore.
    #[serde(default)]
    pub length: Option<Size>,
}

/// A hole across the axis.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CrossHole {
    /// Where its middle is.
    pub at: Size,
    /// Its diameter, if it is plain.
    #[serde(default)]
    pub diameter: Option<Size>,
    /// Or the thread it is to be tapped with: "M3".
    #[serde(default)]
    pub thread: Option<String>,
    /// Where round the axis, degrees from the flat, the slot or the first flute; 0 if left out.
    #[serde(default)]
    pub angle_deg: Option<f64>,
    /// Whether it goes on through the other side.
    #[serde(default)]
    pub both_sides: Option<bool>,
}

/// Round grooves along the outside.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Flutes {
    /// How many round the body.
    pub count: u32,
    /// Radius of each groove's round.
    pub radius: Size,
    /// How deep each goes into the surface.
    pub depth: Size,
    /// Where they begin.
    pub from: Size,
    /// Where they end.
    pub to: Size,
}

/// A knurl round the outside.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Knurl {
    /// "straight" or "diamond".
    pub pattern: KnurlPattern,
    /// From tooth to tooth.
    pub pitch: Size,
    /// How deep the grooves are.
    pub depth: Size,
    /// Where it begins.
    pub from: Size,
    /// Where it ends.
    pub to: Size,
}

/// Pattern of a knurl.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum KnurlPattern {
    /// Grooves along the axis.
    Straight,
    /// Two sets of grooves, crossed.
    Diamond,
}

/// A chamfer or a fillet on an edge of the outside.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Edge {
    /// "rod end", "free end", or how far from the rod end the edge stands: "12 mm".
    pub at: EdgePlace,
    /// Its diameter, where two edges stand at one place.
    #[serde(default)]
    pub diameter: Option<Size>,
    /// Leg of a chamfer, along each side.
    #[serde(default)]
    pub chamfer: Option<Size>,
    /// Or the radius of a fillet.
    #[serde(default)]
    pub fillet: Option<Size>,
}

/// Where an edge stands.
#[derive(Clone, Debug, PartialEq, JsonSchema)]
#[schemars(with = "Size")]
pub enum EdgePlace {
    /// The outermost edge of the face at the rod end.
    RodEnd,
    /// The outermost edge of the face at the free end.
    FreeEnd,
    /// So far from the rod end.
    At(Size),
}

impl<'de> Deserialize<'de> for EdgePlace {
    fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<EdgePlace, D::Error> {
        let value = toml::Value::deserialize(deserializer)?;
        match value.as_str() {
            Some("rod end") => Ok(EdgePlace::RodEnd),
            Some("free end") => Ok(EdgePlace::FreeEnd),
            _ => value.try_into().map(EdgePlace::At).map_err(|error: toml::de::Error| {
                serde::de::Error::custom(format!(
                    "\"rod end\", \"free end\" or a distance from the rod end was expected: {}",
                    error.message()
                ))
            }),
        }
    }
}

impl Serialize for EdgePlace {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        match self {
            EdgePlace::RodEnd => serializer.serialize_str("rod end"),
            EdgePlace::FreeEnd => serializer.serialize_str("free end"),
            EdgePlace::At(size) => size.serialize(serializer),
        }
    }
}

/// A hollow open at the rod end.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Hollow {
    /// Least wall to the outside, and round the bore.
    pub wall: Size,
    /// How deep it goes.
    pub depth: Size,
}

/// A maker's mark.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Mark {
    /// What it says.
    pub text: String,
    /// "rod end" (left out: this) or "free end".
    #[serde(default)]
    pub on: Option<MarkPlace>,
    /// Height of its capitals; 2 mm if left out.
    #[serde(default)]
    pub height: Option<Size>,
    /// How deep it is cut; 0.4 mm if left out.
    #[serde(default)]
    pub depth: Option<Size>,
}

/// The face that a mark is cut into.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub enum MarkPlace {
    /// The face where the rod enters.
    #[default]
    #[serde(rename = "rod end")]
    RodEnd,
    /// The face at the free end.
    #[serde(rename = "free end")]
    FreeEnd,
}

/// A bar with a row of bores about the one that is drawn.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct FitTest {
    /// From each bore to the next; 0.05 mm if left out.
    #[serde(default)]
    pub step: Option<Size>,
    /// How many bores, 2 to 12; 7 if left out.
    #[serde(default)]
    pub count: Option<u32>,
}
