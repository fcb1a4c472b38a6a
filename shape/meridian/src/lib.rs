//! Half profiles made of what a lathe or a mould makes: lines, arcs and, where nothing simpler fits, smooth curves.
//!
//! A meridian lives in the half plane (z, r): z along the axis in mm, 0 at the end where the rod enters and growing toward the
//! free end; r >= 0 the distance from the axis in mm. It runs from the axis at the rod end, (0, 0), out along the end face, over
//! the body and back to the axis at the free end, (L, 0). Turned about the axis it bounds one solid.

/// A place in the half plane, mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Point {
    /// Along the axis from the rod end.
    pub z_mm: f64,
    /// From the axis; never negative.
    pub r_mm: f64,
}

/// Which way an arc turns when z points right and r points up.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Turn {
    /// Clockwise: a bead or dome as the meridian runs toward +z.
    Clockwise,
    /// Counter-clockwise: a cove.
    Counterclockwise,
}

/// One piece of a meridian; each starts where the one before ended.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Piece {
    /// A straight piece: a cylinder, cone, face or step.
    Line {
        /// Start.
        from: Point,
        /// End.
        to: Point,
    },
    /// A circular arc of less than a full turn. `centre.r_mm` may be negative (an arc flatter than the body is round).
    Arc {
        /// Start.
        from: Point,
        /// End.
        to: Point,
        /// Centre; equally far from `from` and `to` to 1e-9 mm.
        centre: Point,
        /// Sense of travel from start to end.
        turn: Turn,
    },
    /// A cubic Bezier curve, where no line or arc fits.
    Curve {
        /// Start.
        from: Point,
        /// First control point.
        control1: Point,
        /// Second control point.
        control2: Point,
        /// End.
        to: Point,
    },
}

/// A checked chain of pieces from (0, 0) to (L, 0).
#[derive(Clone, Debug, PartialEq)]
pub struct Meridian {
    pieces: Vec<Piece>,
}
