//! Flat parts: what squares their photo up, and what is made of the outline.

use super::Pixel;
use crate::size::Size;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Something of known size that lies in the part's plane; one of rectangle, circle and ruler.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Square {
    /// Four corners, clockwise as they are seen, from the top left one; with `width` and `height`.
    #[serde(default)]
    pub rectangle: Option<[Pixel; 4]>,
    /// Along the rectangle's first side.
    #[serde(default)]
    pub width: Option<Size>,
    /// Along its second side.
    #[serde(default)]
    pub height: Option<Size>,
    /// Five or more clicks round a circle; with `diameter`.
    #[serde(default)]
    pub circle: Option<Vec<Pixel>>,
    /// The circle's diameter.
    #[serde(default)]
    pub diameter: Option<Size>,
    /// Two clicks on a ruler; with `length`.
    #[serde(default)]
    pub ruler: Option<[Pixel; 2]>,
    /// How far the ruler's clicks are apart.
    #[serde(default)]
    pub length: Option<Size>,
}

/// A flat part.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Flat {
    /// The photo it is taken from, by name; it must have a `square`. Its own `outline` is a person's trace.
    pub photo: String,
    /// How thick it is.
    pub thickness: Size,
    /// Without a trace: a polygon on plain ground round the part, within which its outline and holes are found by contrast.
    #[serde(default)]
    pub within: Option<Vec<Pixel>>,
    /// With a trace: traces of its holes.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub hole: Vec<Vec<Pixel>>,
    /// How far edges are broken, at 45 degrees, on both sides of outline and holes.
    #[serde(default)]
    pub edge_break: Option<Size>,
    /// How near lines, arcs and curves keep to what was seen; six tenths of a pixel (a trace: two pixels) if left out.
    #[serde(default)]
    pub tolerance: Option<Size>,
    /// Outline and holes in mm, as a person drew them: instead of the lines, arcs and curves told from the photo, which still gives each size its doubt. The result's `flat.drawn` is written so.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub drawn: Vec<Vec<DrawnPiece>>,
}

/// A piece of a closed line; it begins where the one before it ends, the first where the last one ends. A line; with `centre` an arc; with `controls` a cubic curve.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct DrawnPiece {
    /// Where it ends, `[x, y]` mm in the squared plane, y up.
    pub to: [f64; 2],
    /// An arc's centre, mm.
    #[serde(default)]
    pub centre: Option<[f64; 2]>,
    /// An arc's sense; anticlockwise if left out.
    #[serde(default)]
    pub clockwise: Option<bool>,
    /// A curve's two control points, mm.
    #[serde(default)]
    pub controls: Option<[[f64; 2]; 2]>,
}
