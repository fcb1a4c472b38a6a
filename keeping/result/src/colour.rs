//! The colour wanted: from which evidence, at which age, under which lights.

use serde::{Deserialize, Serialize};

/// The colour wanted.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct ColourResult {
    /// CIELAB, D65, 2 degrees.
    pub lab: [f64; 3],
    /// Standard uncertainty of each.
    pub sigma: [f64; 3],
    /// The nearest screen colour, "#98a492".
    pub srgb: String,
    /// Where it was read: a photo's name, or the document.
    pub source: String,
    /// Whether the screen can't show it.
    pub out_of_gamut: bool,
    /// How far the original's surface itself varies from place to place: one standard deviation of L*, a*, b*; the noise of the photo is in it.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub spread: Option<[f64; 3]>,
    /// Between two evidences: as new and as it is now.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub path: Option<AgePath>,
    /// What the pot aims at, where the made part's colour will still move.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub aim: Option<AimResult>,
    /// The colour under each of the chosen lights.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub lights: Vec<WantedUnder>,
    /// Chips that lie beside the part in one photo, read against it.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub beside: Vec<BesideResult>,
}

/// The way between two evidences, straight in Lab.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct AgePath {
    /// As new.
    pub new: NamedColour,
    /// As it is now.
    pub now: NamedColour,
    /// The person's place on it: 0 as new, 1 as it is now.
    pub share: f64,
    /// CIEDE2000 from one end to the other.
    pub de00: f64,
}

/// A colour by name, with its doubt.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct NamedColour {
    /// Name of the photo or reading.
    pub name: String,
    /// CIELAB, D65, 2 degrees.
    pub lab: [f64; 3],
    /// Standard uncertainty of each.
    pub sigma: [f64; 3],
}

/// The colour that the pot aims at: the wanted one less all entered drift.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct AimResult {
    /// CIELAB, D65, 2 degrees.
    pub lab: [f64; 3],
    /// Standard uncertainty of each, the drifts' counted in.
    pub sigma: [f64; 3],
    /// Each drift: how far L*, a*, b* move, one sigma, what moves it.
    pub drifts: Vec<([f64; 3], f64, String)>,
}

/// The colour wanted under one light.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct WantedUnder {
    /// The light's CIE name.
    pub light: String,
    /// What it stands for, in words.
    pub words: String,
    /// CIELAB under that light, for its own white.
    pub lab: [f64; 3],
    /// Whether it follows from a spectrum; else it is a guess by the smoothest spectrum with this Lab.
    pub known: bool,
    /// As a screen shows it (adapted by CAT16).
    pub srgb: String,
    /// Whether the screen can't show it.
    pub out_of_gamut: bool,
}

/// A chip beside the part in one photo.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct BesideResult {
    /// The photo.
    pub photo: String,
    /// The chip.
    pub chip: String,
    /// Chip less part: L*, a*, b*.
    pub lab: [f64; 3],
    /// Standard uncertainty of each; the light's doubt cancels.
    pub sigma: [f64; 3],
    /// CIEDE2000 between the two.
    pub de00: f64,
    /// Which way the chip is off, in words.
    pub words: String,
    /// Whether the part's colour was taken from the chip's own reading by this difference.
    pub used: bool,
}
