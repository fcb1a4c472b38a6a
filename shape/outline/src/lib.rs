//! Picture and clicks to the edges of part and rod, each point with its doubt.
//!
//! [`find`] sees the rod first: two nearly straight lines, the outermost along which the colour departs from the ground nearly everywhere. The part is
//! then the cheapest border, on a reduced picture along the axis, between its colours and the ground's. Both are followed in the full picture to a
//! fraction of a pixel, with a profile that knows how plastic darkens at grazing angles. [`from_trace`] starts from a person's trace instead.
//!
//! Pixel coordinates are continuous: (0, 0) is the corner of the first pixel, its centre is (0.5, 0.5).

mod border;
mod coarse;
mod contour;
mod edge;
mod error;
mod find;
mod frame;
mod joint;
mod light;
mod limb;
mod mirror;
mod notes;
mod palette;
mod rays;
mod refine;
mod rims;
mod rod;
mod rodfit;
mod rodlines;
mod search;

pub use error::OutlineError;
pub use find::{find, from_trace, sketch};

/// Two clicks on the axis, px. Good to about 1 % of the picture's width.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Clicks {
    /// Where the rod enters the part.
    pub rod_entry: [f64; 2],
    /// The part's free end.
    pub free_end: [f64; 2],
}

/// One point of an edge.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct EdgePoint {
    /// Place, px.
    pub at_px: [f64; 2],
    /// Unit normal pointing out of the body.
    pub normal: [f64; 2],
    /// Standard uncertainty along the normal, px: this point's own (noise). Large where the edge is lost.
    pub sigma_px: f64,
}

/// Everything a picture says about where the part and its rod end.
#[derive(Clone, Debug, PartialEq)]
pub struct Outline {
    /// The part's outline where the part borders on background: from beside the rod on the left (seen from the rod entry toward the free
    /// end, with the picture upright: the side of `(dy, -dx)` of the axis direction `(dx, dy)`), round the free end, to beside the rod
    /// on the right. Ordered; gaps are allowed. Excludes the border between part and rod.
    pub part: Vec<EdgePoint>,
    /// The rod's left edge, from the part outward.
    pub rod_left: Vec<EdgePoint>,
    /// The rod's right edge, from the part outward.
    pub rod_right: Vec<EdgePoint>,
    /// The border between the part's rod-side end face and the rod, where seen (it tells z = 0 and the tilt). May be empty.
    pub rod_joint: Vec<EdgePoint>,
    /// Doubt common to all part points (a bias of the edge model, e.g. darkening at grazing angles), px, one sigma.
    pub part_bias_sigma_px: f64,
    /// The same for the rod's edges.
    pub rod_bias_sigma_px: f64,
    /// The two places on the axis that were used: the clicks, refined, or found.
    pub axis: Clicks,
}

/// An outline as it is seen roughly, px.
#[derive(Clone, Debug, PartialEq)]
pub struct Sketch {
    /// Round the part, from beside the rod on the left over the free end to beside it on the right.
    pub part: Vec<[f64; 2]>,
    /// The rod's left and right edge, each from the part to where it leaves the picture.
    pub rod: [[[f64; 2]; 2]; 2],
}
