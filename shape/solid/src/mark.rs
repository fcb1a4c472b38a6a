//! A maker's mark: letters cut square into an end face.

use crate::SolidError;
use crate::body::Body;
use crate::plane::{self, Corner};
use crate::relief::Surface;

/// Letters as closed lines, cut to one depth into the face of one end.
#[derive(Clone, Debug, PartialEq)]
pub struct Mark {
    /// What it says, for a drawing's notes.
    pub text: String,
    /// Which face.
    pub on: MarkPlace,
    /// Outlines of the letters as they are read: x to the right, y up, (0, 0) on the axis. No two may meet; rounds are short straight steps.
    pub outlines_mm: Vec<Vec<Corner>>,
    /// How deep.
    pub depth_mm: f64,
}

/// The face that a mark is cut into; it must be flat from the axis or the bore's mouth outward.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum MarkPlace {
    /// Where the rod enters.
    RodEnd,
    /// The other end.
    FreeEnd,
}

/// Least land left between a letter and the edges of its face (common practice: half a line's width).
const LAND_MM: f64 = 0.2;
/// Outlines at most; a line of text has a few dozen.
const MOST_OUTLINES: usize = 400;

impl Mark {
    /// What it is, in words for a drawing's notes.
    pub fn words(&self) -> String {
        let face = if self.on == MarkPlace::RodEnd { "rod end" } else { "free end" };
        format!("\u{201c}{}\u{201d} cut {} mm deep into the face at the {face}", self.text, (self.depth_mm * 1e3).round() / 1e3)
    }

    /// The outlines as places of the body, x across the axis, counter-clockwise about +z on the outside of letters. A mark at the rod end is read against +z, so x turns over there.
    pub(crate) fn placed(&self) -> Vec<Vec<Corner>> {
        let side = if self.on == MarkPlace::RodEnd { -1.0 } else { 1.0 };
        let depths = plane::depths(&self.outlines_mm);
        let place = |(line, depth): (&Vec<Corner>, usize)| {
            let mut line: Vec<Corner> = line.iter().map(|[x, y]| [side * x, *y]).collect();
            let counter_clockwise = plane::twice_area(&line) > 0.0;
            if counter_clockwise != (depth % 2 == 0) {
                line.reverse();
            }
            line
        };
        self.outlines_mm.iter().zip(depths).map(place).collect()
    }

    /// Area of the letters, counters left out.
    pub(crate) fn area_mm2(&self) -> f64 {
        self.placed().iter().map(|line| 0.5 * plane::twice_area(line)).sum()
    }

    /// Checks a mark against its body.
    pub(crate) fn check(&self, body: &Body, least_wall_mm: f64) -> Result<(), SolidError> {
        let refused = |why: String| Err(SolidError::Mark { why });
        if !(self.depth_mm.is_finite() && self.depth_mm > 1e-3) {
            return Err(SolidError::NotASize { what: "the mark's depth".into(), found: self.depth_mm });
        }
        let corners: usize = self.outlines_mm.iter().map(Vec::len).sum();
        if self.outlines_mm.is_empty() || self.outlines_mm.len() > MOST_OUTLINES || corners > plane::MOST_CORNERS / 2 {
            return refused(format!(
                "it has {} outlines with {corners} corners; a short line of letters was expected",
                self.outlines_mm.len()
            ));
        }
        if self.outlines_mm.iter().any(|line| line.len() < 3 || !line.iter().flatten().all(|x| x.is_finite())) {
            return refused("an outline is no closed line of finite corners".into());
        }
        if plane::any_meet(&self.outlines_mm) {
            return refused("its letters touch; space them wider or choose others".into());
        }
        let Some((face_z_mm, inner_mm, outer_mm)) = body.end_face(self.on) else {
            return refused("the end is not flat; choose the other end".into());
        };
        let radii: Vec<f64> = self.outlines_mm.iter().flatten().map(|at| at[0].hypot(at[1])).collect();
        let (least, most) = radii.iter().fold((f64::INFINITY, 0.0_f64), |(low, high), r| (low.min(*r), high.max(*r)));
        if most > outer_mm - LAND_MM || (inner_mm > 0.0 && least < inner_mm + LAND_MM) {
            return refused(format!(
                "its letters reach from {least:.2} to {most:.2} mm from the axis, but the face is flat from {inner_mm:.2} to {outer_mm:.2} mm only; make it lower or shorter"
            ));
        }
        let across = body
            .crossings()
            .iter()
            .map(|crossing| crossing.hole)
            .find(|hole| (face_z_mm - hole.z_mm).abs() - hole.radius_mm() < self.depth_mm + least_wall_mm);
        if let Some(hole) = across {
            return refused(format!(
                "it would come too near to the cross hole at {:.2} mm; make it shallower, or move the hole",
                hole.z_mm
            ));
        }
        let inward = if self.on == MarkPlace::RodEnd { 1.0 } else { -1.0 };
        // Also just where flats and slots begin under the face.
        let reach_mm = self.depth_mm + least_wall_mm;
        let even = (1..=16).map(|look| face_z_mm + inward * reach_mm * f64::from(look) / 16.0);
        let begun = body.cut_reliefs().flat_map(|relief| relief.z_mm).map(|z| z + inward * 1e-6);
        for z in even.chain(begun.filter(|z| ((z - face_z_mm) * inward > 0.0) && (z - face_z_mm).abs() <= reach_mm)) {
            let (plain, bored) = (body.outer_radius_mm(z).unwrap_or(0.0), body.bore_radius_mm(z).unwrap_or(0.0));
            let round =
                |on, base| (0..720).map(move |i| body.relieved_radius_mm(on, f64::from(i) * std::f64::consts::TAU / 720.0, z, base));
            let (outside, bore) = (round(Surface::Outside, plain).fold(plain, f64::min), round(Surface::Bore, bored).fold(bored, f64::max));
            if outside < most + least_wall_mm.min(LAND_MM) || (bore > 0.0 && bore > least - least_wall_mm.min(LAND_MM)) {
                return refused(format!(
                    "it would come out of the material {:.2} mm under its face; make it shallower",
                    (z - face_z_mm).abs()
                ));
            }
        }
        Ok(())
    }

    pub(crate) fn scaled(&self, factor: f64) -> Mark {
        let grow = |line: &Vec<Corner>| line.iter().map(|at| at.map(|x| x * factor)).collect();
        Mark { outlines_mm: self.outlines_mm.iter().map(grow).collect(), depth_mm: self.depth_mm * factor, ..self.clone() }
    }
}
