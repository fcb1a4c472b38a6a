//! Photo regions and readings to the colour wanted, with doubt and age.
//!
//! A photo tells a colour only against something known in the same light. [`read_part`] takes a grey patch (or patches of known colour),
//! finds the light and how it falls off across the picture, parts the body's colour from gloss and shading, and reads how light the
//! body is where its surface is turned to the light as the card is. Lightness has more doubt than hue, for shading reaches it first.
//! [`read_spot`] does so on a marked spot where the outline is not known, [`read_patch`] reads a flat chip in the same light; [`difference`] is surer than either reading, for the light's doubt cancels.
//! [`combine`] joins several readings, [`aged`] picks a place between as-new and as-now, [`aim_for`] counts entered drift in.
//!
//! Polygons are px of the upright picture, (0, 0) the corner of the first pixel. Colours are CIELAB, D65, 2 degrees.

mod age;
mod body;
mod combine;
mod correction;
mod error;
mod estimate;
mod light;
mod part_cells;
mod patch;
mod polygon;
mod pose;
mod read;

pub use age::{Drift, aged, aim_for};
pub use combine::combine;
pub use correction::Correction;
pub use error::TargetError;
pub use estimate::{ColourEstimate, ColourReading, Difference, difference};
pub use light::{KnownPatch, Light, NeutralPatch};
pub use polygon::Polygon;
pub use pose::Axis;
pub use read::{PartView, read_part, read_patch, read_spot};
