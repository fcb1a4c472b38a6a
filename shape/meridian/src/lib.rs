//! Half profiles made of what a lathe or a mould makes: lines, arcs and, where nothing simpler fits, smooth curves.
//!
//! A meridian lives in the half plane (z, r): z along the axis in mm, 0 at the end where the rod enters and growing toward the
//! free end; r >= 0 the distance from the axis in mm. It runs from the axis at the rod end, (0, 0), out along the end face, over
//! the body and back to the axis at the free end, (L, 0). Turned about the axis it bounds one solid.

mod check;
mod error;
mod measure;
mod path;

pub use error::MeridianError;

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
///
/// Holds always: numbers are finite, pieces join to 1e-6 mm, r is nowhere negative, the first piece starts at (0, 0), the last ends on the
/// axis at z > 0, and the chain does not cross itself (checked on a polyline of at most 24 pieces a piece).
#[derive(Clone, Debug, PartialEq)]
pub struct Meridian {
    pieces: Vec<Piece>,
}

/// Radii at one height, mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Radii {
    /// The outermost place of the meridian there.
    pub outer_mm: f64,
    /// The innermost; the same as `outer_mm` but at undercuts and faces.
    pub inner_mm: f64,
}

impl Meridian {
    /// Checks a chain and keeps it.
    ///
    /// # Errors
    /// The first thing that is wrong, with the number of the piece (from 0) and what was expected.
    pub fn new(pieces: Vec<Piece>) -> Result<Meridian, MeridianError> {
        check::checked(&pieces)?;
        Ok(Meridian { pieces })
    }

    /// The pieces in order.
    pub fn pieces(&self) -> &[Piece] {
        &self.pieces
    }

    /// Overall length along the axis: from the lowest to the highest place of the chain (a face may be hollow), mm.
    pub fn length_mm(&self) -> f64 {
        let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
        for place in self.pieces.iter().flat_map(path::extremes) {
            (low, high) = (low.min(place.z_mm), high.max(place.z_mm));
        }
        high - low
    }

    /// The place with the greatest radius; of several the first. Exact for lines and arcs, to 1e-12 of the size for curves.
    pub fn greatest_radius_mm(&self) -> Point {
        let start = Point { z_mm: 0.0, r_mm: 0.0 };
        self.pieces.iter().flat_map(path::extremes).fold(start, |best, place| if place.r_mm > best.r_mm { place } else { best })
    }

    /// The outermost and innermost radius at `z_mm`; `None` beyond the ends.
    pub fn radius_at(&self, z_mm: f64) -> Option<Radii> {
        let mut found: Option<Radii> = None;
        for r_mm in self.pieces.iter().flat_map(|piece| path::radii_at(piece, z_mm)) {
            let r_mm = r_mm.max(0.0);
            found = Some(match found {
                None => Radii { outer_mm: r_mm, inner_mm: r_mm },
                Some(radii) => Radii { outer_mm: radii.outer_mm.max(r_mm), inner_mm: radii.inner_mm.min(r_mm) },
            });
        }
        found
    }

    /// The chain as a polyline that stays within `chord_mm` of it (at most 4096 points a piece). Starts and ends are kept exactly;
    /// same input, same points. A `chord_mm` that is no positive number counts as 1e-6.
    pub fn sample(&self, chord_mm: f64) -> Vec<Point> {
        let chord_mm = if chord_mm > 1e-6 { chord_mm } else { 1e-6 };
        let mut points: Vec<Point> = self.pieces.first().map(path::start).into_iter().collect();
        for piece in &self.pieces {
            let parts = path::parts_for_chord(piece, chord_mm);
            points.extend((1..parts).map(|i| path::at(piece, i as f64 / parts as f64)));
            points.push(path::end(piece));
        }
        points
    }

    /// Volume of the solid, mm^3: pi times the integral of r^2 dz. Good to 1e-12 of itself.
    pub fn volume_mm3(&self) -> f64 {
        measure::swept(&self.pieces).volume_mm3
    }

    /// Area of the whole surface, faces included, mm^2: 2 pi times the integral of r ds (Pappus).
    pub fn area_mm2(&self) -> f64 {
        measure::swept(&self.pieces).area_mm2
    }

    /// Area without the faces square to the axis (straight pieces at one z), mm^2.
    pub fn lateral_area_mm2(&self) -> f64 {
        let is_face = |piece: &Piece| matches!(piece, Piece::Line { from, to } if (from.z_mm - to.z_mm).abs() <= 1e-9);
        let pieces: Vec<Piece> = self.pieces.iter().filter(|piece| !is_face(piece)).copied().collect();
        measure::swept(&pieces).area_mm2
    }

    /// Where on the axis the solid balances, mm from z = 0.
    pub fn centroid_z_mm(&self) -> f64 {
        let swept = measure::swept(&self.pieces);
        swept.moment_mm4 / swept.volume_mm3
    }

    /// The same part put on the rod the other way round.
    #[must_use]
    pub fn reversed(&self) -> Meridian {
        let end_mm = self.pieces.last().map_or(0.0, |piece| path::end(piece).z_mm);
        Meridian { pieces: self.pieces.iter().rev().map(|piece| path::reversed(piece, end_mm)).collect() }
    }

    /// Stretched along z and r by two factors (shrinkage made good). Arcs stay arcs where the factors agree to 1e-12; else they turn into
    /// curves, each sixteenth of a turn one cubic, 7e-8 of the radius off at most (2.7e-4 for a quarter, falling with the sixth power).
    ///
    /// # Errors
    /// When a factor is no positive finite number, or the result is no meridian.
    pub fn scaled(&self, factor_z: f64, factor_r: f64) -> Result<Meridian, MeridianError> {
        for factor in [factor_z, factor_r] {
            if !(factor > 0.0 && factor.is_finite()) {
                return Err(MeridianError::NotAFactor { found: factor });
            }
        }
        Meridian::new(self.pieces.iter().flat_map(|piece| path::scaled(piece, factor_z, factor_r)).collect())
    }
}

#[cfg(test)]
mod tests;
