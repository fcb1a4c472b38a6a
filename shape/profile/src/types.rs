use meridian::Meridian;
use nalgebra::DMatrix;
use outline::Outline;
use quantity::Length;

/// What may be known of a focal length.
#[derive(Clone, Debug, PartialEq)]
pub struct FocalGuess {
    /// Focal length, px.
    pub focal_px: f64,
    /// One sigma, px.
    pub sigma_px: f64,
    /// Odds of this guess among its rivals.
    pub odds: f64,
    /// Where it came from.
    pub source: String,
}

/// What is known of the camera. The principal point is taken at the picture's middle.
#[derive(Clone, Debug, PartialEq)]
pub struct Camera {
    /// Picture's width, px.
    pub width_px: usize,
    /// Picture's height, px.
    pub height_px: usize,
    /// Guesses of the focal length; empty = unknown: a broad prior over lenses is used.
    pub focal: Vec<FocalGuess>,
    /// Prior mean and sigma of radial distortion: x_d = x_u (1 + k1 r_u^2), coordinates divided by the focal length.
    pub k1: (f64, f64),
}

/// One photo's evidence.
#[derive(Clone, Debug, PartialEq)]
pub struct View {
    /// The photo's name.
    pub name: String,
    /// Edges of part and rod.
    pub outline: Outline,
    /// The camera.
    pub camera: Camera,
    /// Diameter of the rod, with its doubt.
    pub rod_diameter: Length,
}

/// What a known size is the size of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum KnownKind {
    /// From the rod-end face to the free end.
    OverallLength,
    /// The greatest diameter.
    GreatestDiameter,
    /// The diameter at a height.
    Diameter,
    /// The bar or blank it was made from: no diameter of the part is larger.
    Stock,
}

/// A size of the part that was measured otherwise.
#[derive(Clone, Debug, PartialEq)]
pub struct KnownSize {
    /// Its name in the document.
    pub name: String,
    /// What it measures.
    pub kind: KnownKind,
    /// Where a diameter was measured, mm from the rod-end face; without it a `Diameter` counts as the greatest.
    pub at_z_mm: Option<f64>,
    /// The reading.
    pub value: Length,
}

/// A place of the profile.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ProfilePoint {
    /// From the rod-end face, mm.
    pub z_mm: f64,
    /// From the axis, mm.
    pub r_mm: f64,
    /// One sigma of `r_mm`, common scale and tilt included, mm.
    pub sigma_r_mm: f64,
    /// Whether the outline of any view touches the part here; else it is a completion.
    pub seen: bool,
}

/// Kind of a size.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SizeKind {
    /// A distance between two places along the axis.
    Length,
    /// A diameter.
    Diameter,
    /// A distance from the rod-end face.
    Position,
}

/// A size a maker would put on the drawing.
#[derive(Clone, Debug, PartialEq)]
pub struct NamedSize {
    /// In trade words; unique within a profile.
    pub name: String,
    /// Kind.
    pub kind: SizeKind,
    /// Where along the axis it holds, from-to, mm; the same twice for a single place.
    pub z_mm: [f64; 2],
    /// Value, mm.
    pub value_mm: f64,
    /// One sigma, mm.
    pub sigma_mm: f64,
}

/// How a photo saw the part. Camera frame: origin at the pinhole, x right, y down, z forward, mm.
#[derive(Clone, Debug, PartialEq)]
pub struct Pose {
    /// The view's name.
    pub name: String,
    /// The middle of the rod-end face.
    pub axis_origin_mm: [f64; 3],
    /// Unit vector toward the free end.
    pub axis_direction: [f64; 3],
    /// Focal length and its sigma, px.
    pub focal_px: (f64, f64),
    /// Radial distortion and its sigma.
    pub k1: (f64, f64),
    /// Axis out of the picture plane, degrees, and its sigma; positive: the free end is farther.
    pub tilt_deg: (f64, f64),
    /// From the pinhole to the part's middle, mm, and its sigma.
    pub distance_mm: (f64, f64),
    /// Root mean square of the part's residuals that were believed, px.
    pub residual_px: f64,
    /// The fitted model's outline over the photo, rod end to free end, on the left of the axis direction, px.
    pub contour_left: Vec<[f64; 2]>,
    /// The same on the right.
    pub contour_right: Vec<[f64; 2]>,
}

/// What was found.
#[derive(Clone, Debug, PartialEq)]
pub struct Profile {
    /// Places along the meridian from the rod-end face to the free end, in order.
    pub points: Vec<ProfilePoint>,
    /// The same as few lines, arcs and curves.
    pub meridian: Meridian,
    /// Overall length, greatest diameter, then what was found along the axis.
    pub dimensions: Vec<NamedSize>,
    /// Covariance of the dimensions' values, mm^2, common scale and tilt included.
    pub covariance: DMatrix<f64>,
    /// One a view, in their order.
    pub poses: Vec<Pose>,
}
