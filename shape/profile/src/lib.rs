//! Edges, known sizes and cameras to axis pose and meridian with covariance.
//!
//! A turned part on a rod of known diameter throws an outline in perspective. The model behind [`fit`]: every outline point is a ray that
//! touches the body; seen from the axis a ray is a hyperbola (height along the axis, distance from it), and the meridian is what all
//! hyperbolas touch. Pose, focal length, distortion, the bias of the edges and the meridian are fitted together, and every size comes with
//! the covariance that follows.

mod carve;
mod chain;
mod close;
mod contours;
mod error;
mod features;
mod fit;
mod joint;
mod judge;
mod known;
mod lens;
mod normal;
mod notes;
mod pose;
mod refit;
mod rivals;
mod segment;
mod sight;
mod single;
mod sizes;
mod trace;
mod trust;
mod types;

pub use error::ProfileError;
pub use fit::fit;
pub use refit::refit;
pub use types::{Camera, FocalGuess, KnownKind, KnownSize, NamedSize, Pose, Profile, ProfilePoint, SizeKind, View};
