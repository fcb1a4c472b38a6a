//! Holes across the axis: where they cut the boundary, and what they take away.
//!
//! Seen along its own axis a hole is a circle: a place (z, y) of the boundary, y across both axes, is cut where (z - at)^2 + y^2 < a^2. On a ring of the boundary at height z and radius r
//! that is a stretch of angles about the hole's own, asin(h / r) to either side with h = sqrt(a^2 - (z - at)^2): the trimmed edge is known in closed form.

use crate::body::Body;
use crate::path;
use crate::relief::Fitted;
use crate::{SolidError, Surface};
use meridian::Piece;
use std::f64::consts::{FRAC_PI_2, PI};

/// A round hole square to the axis and through it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CrossHole {
    /// Its middle, from the rod end.
    pub z_mm: f64,
    /// Its diameter.
    pub diameter_mm: f64,
    /// Where round the axis, degrees from +x toward +y.
    pub angle_deg: f64,
    /// On through the other side, or from one side into the bore.
    pub both_sides: bool,
}

impl CrossHole {
    /// What it is, in words for a drawing's notes.
    pub fn words(&self) -> String {
        let sides = if self.both_sides { "through both sides" } else { "from one side into the bore" };
        format!(
            "Cross hole \u{2300}{} mm at {} mm from the rod end, {sides}, {} degrees round",
            short(self.diameter_mm),
            short(self.z_mm),
            short(self.angle_deg)
        )
    }

    pub(crate) fn radius_mm(&self) -> f64 {
        0.5 * self.diameter_mm
    }

    /// Half the width of the hole at a height; 0 at its rim and beyond. A hundredth of a micrometre counts as nothing.
    pub(crate) fn half_width_mm(&self, z_mm: f64) -> f64 {
        let off = z_mm - self.z_mm;
        let half = (self.radius_mm().powi(2) - off * off).max(0.0).sqrt();
        if half < 1e-5 { 0.0 } else { half }
    }

    /// Whether a height lies within the hole, its rim left out.
    pub(crate) fn spans(&self, z_mm: f64) -> bool {
        (z_mm - self.z_mm).abs() < self.radius_mm() - 1e-7
    }

    pub(crate) fn scaled(&self, factor: f64) -> CrossHole {
        CrossHole { z_mm: self.z_mm * factor, diameter_mm: self.diameter_mm * factor, ..*self }
    }

    /// Whether another hole comes within its own width of this one (both seen from the side, whatever their angles).
    pub(crate) fn meets(&self, other: &CrossHole) -> bool {
        (self.z_mm - other.z_mm).abs() < self.radius_mm() + other.radius_mm() + 0.05
    }

    pub(crate) fn refused(&self, why: impl Into<String>) -> SolidError {
        SolidError::CrossHole { z_mm: self.z_mm, diameter_mm: self.diameter_mm, why: why.into() }
    }
}

fn short(mm: f64) -> String {
    let text = format!("{mm:.3}");
    text.trim_end_matches('0').trim_end_matches('.').to_string()
}

/// One stretch of the boundary that a hole passes: pieces by number, with what it is a surface of.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Pass {
    pub pieces: Vec<Piece>,
    pub surface: Surface,
}

/// A hole with the surfaces it passes, from outside to inside.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Crossing {
    pub hole: CrossHole,
    passes: Vec<Pass>,
}

/// Looks along each piece to find passes.
const LOOKS: usize = 256;

impl Crossing {
    /// Checks a hole against the body it is cut into (reliefs already in it).
    ///
    /// # Errors
    /// [`SolidError::CrossHole`] where it breaks an end face or a step that turns back, is as wide as a surface it passes, or finds no bore from one side.
    pub fn new(body: &Body, hole: CrossHole) -> Result<Crossing, SolidError> {
        for (what, found, good) in [
            ("the cross hole's place", hole.z_mm, true),
            ("the cross hole's diameter", hole.diameter_mm, hole.diameter_mm > 0.05),
            ("the cross hole's angle", hole.angle_deg, hole.angle_deg.abs() <= 1e4),
        ] {
            if !(found.is_finite() && good) {
                return Err(SolidError::NotASize { what: what.into(), found });
            }
        }
        let mut passes = passes(body, &hole)?;
        let radius = |pass: &Pass| path::greatest_radius_at(&pass.pieces, hole.z_mm).unwrap_or(0.0);
        passes.sort_by(|a, b| radius(b).total_cmp(&radius(a)));
        if passes.is_empty() {
            return Err(hole.refused("there is no material; move it between the ends"));
        }
        if passes.len() % 2 == 1 && !hole.both_sides {
            return Err(hole.refused(
                "no bore lies all across it, so that it would end nowhere; move it along the bore, or take it through both sides",
            ));
        }
        let crossing = Crossing { hole, passes };
        crossing.check_widths(body)?;
        Ok(crossing)
    }

    /// Every surface must be clearly wider than the hole, and each line along the hole may meet it once.
    fn check_widths(&self, body: &Body) -> Result<(), SolidError> {
        let (hole, a) = (&self.hole, self.hole.radius_mm());
        for pass in &self.passes {
            for look in 0..=48 {
                let z = hole.z_mm + a * (f64::from(look) / 24.0 - 1.0).clamp(-1.0 + 1e-9, 1.0 - 1e-9);
                let Some(base) = path::greatest_radius_at(&pass.pieces, z) else { continue };
                let h = hole.half_width_mm(z);
                let radius = |off: f64| body.relieved_radius_mm(pass.surface, hole.angle_deg.to_radians() + off, z, base);
                if base < 1.02 * h || radius(0.0) < 0.2 * a {
                    return Err(self
                        .hole
                        .refused(format!("the surface it passes is only {:.2} mm in diameter there; make it narrower", 2.0 * base)));
                }
                for side in [0.0, PI] {
                    let across = |i: u32| {
                        let off = (h / base).min(1.0).asin() * f64::from(i) / 24.0;
                        [off, -off].map(|off| radius(side + off) * off.sin().abs())
                    };
                    let turns = (1..=24).any(|i| (0..2).any(|k| across(i)[k] + 1e-9 < across(i - 1)[k]));
                    if turns && (side == 0.0 || self.hole.both_sides) {
                        return Err(self
                            .hole
                            .refused("it cuts the steep side of a flute, tooth or slot; turn it by a few degrees, or move it"));
                    }
                }
            }
        }
        Ok(())
    }

    /// Heights where the trimmed edge wants a corner, for its chords to stay within `chord_mm`.
    pub fn heights_mm(&self, chord_mm: f64) -> Vec<f64> {
        let a = self.hole.radius_mm();
        let half = (1.0 - (chord_mm / a).min(0.5)).acos();
        let steps = (PI / (2.0 * half)).ceil().clamp(8.0, 512.0) as u32;
        (0..=steps).map(|i| self.hole.z_mm - a * (PI * f64::from(i) / f64::from(steps)).cos()).collect()
    }

    /// The surfaces it passes, from outside to inside.
    pub fn passes(&self) -> &[Pass] {
        &self.passes
    }

    pub fn scaled(&self, factor: f64) -> Crossing {
        let grown =
            |pass: &Pass| Pass { pieces: pass.pieces.iter().map(|piece| path::scaled(piece, factor)).collect(), surface: pass.surface };
        Crossing { hole: self.hole.scaled(factor), passes: self.passes.iter().map(grown).collect() }
    }
}

/// How far from the hole's own angle a ring is cut at half width `h`: closed form on a plain ring, else by halving on r sin = h.
pub(crate) fn trim_rad(h_mm: f64, base_mm: f64, radius_mm: impl Fn(f64) -> f64) -> f64 {
    let plain = (h_mm / base_mm).clamp(-1.0, 1.0).asin();
    if (radius_mm(plain) - base_mm).abs() < 1e-12 {
        return plain;
    }
    let (mut low, mut high) = (0.0, FRAC_PI_2);
    for _ in 0..48 {
        let middle: f64 = 0.5 * (low + high);
        if radius_mm(middle) * middle.sin() < h_mm { low = middle } else { high = middle }
    }
    0.5 * (low + high)
}

/// Stretches of the boundary within the hole's reach; each must come in at one side of it and go out at the other without turning back.
fn passes(body: &Body, hole: &CrossHole) -> Result<Vec<Pass>, SolidError> {
    let (low, high) = (hole.z_mm - hole.radius_mm(), hole.z_mm + hole.radius_mm());
    let mut found = Vec::new();
    for (surface, chain) in body.surfaces() {
        let mut open: Option<(Pass, f64, f64)> = None;
        for piece in chain {
            for look in 0..LOOKS {
                let (a, b) = (path::at(piece, look as f64 / LOOKS as f64).z_mm, path::at(piece, (look + 1) as f64 / LOOKS as f64).z_mm);
                let within = a.min(b) < high - 1e-9 && a.max(b) > low + 1e-9;
                if !within {
                    found.extend(open.take().map(|pass| closed(hole, pass)).transpose()?);
                    continue;
                }
                let (pass, first, last) = open.get_or_insert((Pass { pieces: Vec::new(), surface }, a, a));
                if (b - *last) * (*last - *first) < -1e-12 {
                    return Err(hole.refused("the surface turns back within it; keep it clear of undercuts"));
                }
                *last = b;
                if pass.pieces.last() != Some(piece) {
                    pass.pieces.push(*piece);
                }
            }
        }
        found.extend(open.take().map(|pass| closed(hole, pass)).transpose()?);
    }
    Ok(found)
}

fn closed(hole: &CrossHole, (pass, first, last): (Pass, f64, f64)) -> Result<Pass, SolidError> {
    let (low, high) = (hole.z_mm - hole.radius_mm(), hole.z_mm + hole.radius_mm());
    if first.min(last) > low + 1e-9 || first.max(last) < high - 1e-9 {
        return Err(hole.refused("it breaks an end face, a bottom or the end of a bore; keep it a wall away from them"));
    }
    Ok(pass)
}

/// Radius at an angle of a surface with its reliefs, those that reach `z_mm`.
pub(crate) fn relieved(reliefs: &[Fitted], on: Surface, angle: f64, z_mm: f64, base_mm: f64) -> f64 {
    let own = |fitted: &&Fitted| fitted.relief.on == on && (fitted.relief.z_mm[0]..=fitted.relief.z_mm[1]).contains(&z_mm);
    relieved_by(reliefs.iter().filter(own), angle, z_mm, base_mm)
}

/// The same by those that reach there.
pub(crate) fn relieved_by<'a>(reliefs: impl Iterator<Item = &'a Fitted> + Clone, angle: f64, z_mm: f64, base_mm: f64) -> f64 {
    let narrowed = reliefs.clone().filter(|fitted| !fitted.widens()).fold(base_mm, |r, f| r.min(f.radius_mm(angle, z_mm, base_mm)));
    let open = |fitted: &Fitted| Some(fitted.radius_mm(angle, z_mm, base_mm)).filter(|radius| *radius > base_mm);
    reliefs.filter(|fitted| fitted.widens()).filter_map(open).fold(narrowed, f64::max)
}
