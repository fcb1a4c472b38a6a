//! A made outline laid over the design.

use crate::CheckError;

/// How far a place lies from the design.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Off {
    /// Place along the axis, mm.
    pub z_mm: f64,
    /// Distance square to the design, mm; above 0 outside, where material is too much.
    pub off_mm: f64,
    /// Its standard uncertainty, mm.
    pub sigma_mm: f64,
}

/// Made places `[z, r, sigma]` against the design's meridian, a chain of `[z, r]` from the rod end over the outside to the free end.
///
/// # Errors
/// A chain of fewer than two places, more than 20,000 places of either, numbers that are not finite.
pub fn laid_over(design: &[[f64; 2]], made: &[[f64; 3]]) -> Result<Vec<Off>, CheckError> {
    const MOST: usize = 20_000;
    if design.len() < 2 {
        return Err(CheckError::TooFew { what: "places of the design", least: 2 });
    }
    if let Some(found) = [design.len(), made.len()].into_iter().find(|n| *n > MOST) {
        return Err(CheckError::TooMany { what: "places of an outline", found, most: MOST });
    }
    let wild = design.iter().flatten().chain(made.iter().flatten()).find(|v| !(v.is_finite() && v.abs() < 1e6));
    if let Some(&found) = wild {
        return Err(CheckError::Number { what: "a place of an outline", found, expected: "mm" });
    }
    Ok(made.iter().map(|&[z, r, sigma]| Off { z_mm: z, off_mm: distance([z, r], design), sigma_mm: sigma }).collect())
}

/// Distance to the nearest stretch; its sign from the side of that stretch.
fn distance(p: [f64; 2], chain: &[[f64; 2]]) -> f64 {
    let mut best = (f64::INFINITY, 0.0);
    for pair in chain.windows(2) {
        let (a, along) = (pair[0], [pair[1][0] - pair[0][0], pair[1][1] - pair[0][1]]);
        let length2 = along[0] * along[0] + along[1] * along[1];
        if length2 <= 0.0 {
            continue;
        }
        let off = [p[0] - a[0], p[1] - a[1]];
        let share = ((off[0] * along[0] + off[1] * along[1]) / length2).clamp(0.0, 1.0);
        let apart = (off[0] - share * along[0]).hypot(off[1] - share * along[1]);
        let side = (along[0] * off[1] - along[1] * off[0]) / length2.sqrt();
        // At a corner two stretches are equally near; the one that the place lies more square to tells the side.
        if apart < best.0 - 1e-12 || (apart < best.0 + 1e-12 && side.abs() > f64::abs(best.1)) {
            best = (apart, side);
        }
    }
    best.0.copysign(best.1)
}
