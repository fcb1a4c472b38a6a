use crate::SolidError;
use crate::path::{self, NOTHING_MM, point};
use meridian::{Piece, Point};

/// A round hole on the axis, opening at the rod end.
#[derive(Clone, Debug, PartialEq)]
pub struct Bore {
    /// From the mouth inward, each narrower and deeper than the one before. May be empty for a plain through bore.
    pub steps: Vec<BoreStep>,
    /// How it ends.
    pub end: BoreEnd,
    /// Leg of a 45 degree chamfer at the mouth, mm; 0 for none.
    pub mouth_chamfer_mm: f64,
}

/// One cylinder of a bore.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BoreStep {
    /// Its diameter.
    pub diameter_mm: f64,
    /// How far from z = 0 its full diameter reaches.
    pub depth_mm: f64,
}

/// The inner end of a bore.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum BoreEnd {
    /// Square, as an end mill or a print leaves it.
    Flat,
    /// The cone a drill leaves, beyond the depth of the last step.
    Drilled {
        /// Full angle of the point; 118 degrees for common drills.
        point_angle_deg: f64,
    },
    /// On through the free end.
    Through {
        /// Diameter of the through hole, narrower than every step.
        diameter_mm: f64,
        /// Leg of a 45 degree chamfer at the free end, mm; 0 for none.
        exit_chamfer_mm: f64,
    },
}

/// Point angle of a common twist drill, degrees (DIN 1412 form A and every drill chart; common practice).
pub const COMMON_DRILL_POINT_DEG: f64 = 118.0;

impl Bore {
    /// A blind bore with a square bottom.
    pub fn blind(diameter_mm: f64, depth_mm: f64) -> Bore {
        Bore { steps: vec![BoreStep { diameter_mm, depth_mm }], end: BoreEnd::Flat, mouth_chamfer_mm: 0.0 }
    }

    /// A blind bore as a common drill leaves it; the depth is that of the full diameter.
    pub fn drilled(diameter_mm: f64, depth_mm: f64) -> Bore {
        Bore { end: BoreEnd::Drilled { point_angle_deg: COMMON_DRILL_POINT_DEG }, ..Bore::blind(diameter_mm, depth_mm) }
    }

    /// A plain hole from end to end.
    pub fn through(diameter_mm: f64) -> Bore {
        Bore { steps: Vec::new(), end: BoreEnd::Through { diameter_mm, exit_chamfer_mm: 0.0 }, mouth_chamfer_mm: 0.0 }
    }

    /// The same bore with a chamfered mouth.
    pub fn with_chamfer(self, leg_mm: f64) -> Bore {
        Bore { mouth_chamfer_mm: leg_mm, ..self }
    }
}

/// A boundary with a bore in it: the bore's wall, then the outside, in one chain with the material on the right.
pub(crate) struct Bored {
    /// From the deepest point (or the exit) to the mouth.
    pub inner: Vec<Piece>,
    /// From the mouth to the axis at the free end (or to the exit).
    pub outer: Vec<Piece>,
    /// How many pieces of it are the bore's own; a hollow's follow.
    pub own: usize,
    /// Whether the chain closes on itself.
    pub through: bool,
}

/// Cuts a bore into an outside that runs from axis to axis.
pub(crate) fn cut(outside: &[Piece], bore: &Bore) -> Result<Bored, SolidError> {
    check_sizes(bore)?;
    let length_mm = outside.last().map_or(0.0, |piece| path::end(piece).z_mm);
    let mouth = mouth_of(outside, mouth_radius(bore), bore.mouth_chamfer_mm, "rod")?;
    let (mut wall, outer, through) = match bore.end {
        BoreEnd::Through { diameter_mm, exit_chamfer_mm } => {
            let radius = 0.5 * diameter_mm;
            let backward: Vec<Piece> = mouth.rest.iter().rev().map(path::reversed).collect();
            let exit = mouth_of(&backward, radius + exit_chamfer_mm, exit_chamfer_mm, "free")?;
            let reach_mm = bore.steps.last().map_or(mouth.at.z_mm, |step| step.depth_mm) + exit_chamfer_mm;
            if reach_mm >= exit.at.z_mm {
                return Err(SolidError::BoreTooDeep { reach_mm, length_mm });
            }
            let outer: Vec<Piece> = exit.rest.iter().rev().map(path::reversed).collect();
            (vec![exit.at, point(exit.at.z_mm - exit_chamfer_mm, radius)], outer, true)
        }
        BoreEnd::Flat => (vec![point(last_depth(bore), 0.0)], mouth.rest, false),
        BoreEnd::Drilled { point_angle_deg } => {
            let radius = bore.steps.last().map_or(0.0, |step| 0.5 * step.diameter_mm);
            (vec![point(last_depth(bore) + radius / (0.5 * point_angle_deg.to_radians()).tan(), 0.0)], mouth.rest, false)
        }
    };
    let reach_mm = wall.first().map_or(0.0, |tip| tip.z_mm);
    if !through && reach_mm >= length_mm {
        return Err(SolidError::BoreTooDeep { reach_mm, length_mm });
    }
    let first_depth = bore.steps.first().map_or(f64::INFINITY, |step| step.depth_mm) - mouth.at.z_mm - bore.mouth_chamfer_mm;
    if first_depth <= 0.0 {
        return Err(SolidError::NotASize {
            what: "what the mouth and its chamfer leave of the bore's first depth".into(),
            found: first_depth,
        });
    }
    add_steps(&mut wall, bore, mouth.at);
    let inner = chain_through(&wall);
    Ok(Bored { own: inner.len(), inner, outer, through })
}

fn check_sizes(bore: &Bore) -> Result<(), SolidError> {
    let size = |what: &str, found: f64, least: f64| {
        if found.is_finite() && found >= least { Ok(()) } else { Err(SolidError::NotASize { what: what.into(), found }) }
    };
    size("the bore's mouth chamfer", bore.mouth_chamfer_mm, 0.0)?;
    let (mut narrowest, mut deepest) = (f64::INFINITY, 0.0);
    for (index, step) in bore.steps.iter().enumerate() {
        size("a bore's diameter", step.diameter_mm, 10.0 * NOTHING_MM)?;
        size("a bore's depth", step.depth_mm, 10.0 * NOTHING_MM)?;
        if step.diameter_mm >= narrowest || step.depth_mm <= deepest {
            return Err(SolidError::StepOutOfOrder { step: index + 1, diameter_mm: step.diameter_mm, depth_mm: step.depth_mm });
        }
        (narrowest, deepest) = (step.diameter_mm, step.depth_mm);
    }
    match bore.end {
        BoreEnd::Through { diameter_mm, exit_chamfer_mm } => {
            size("the through bore's diameter", diameter_mm, 10.0 * NOTHING_MM)?;
            size("the bore's exit chamfer", exit_chamfer_mm, 0.0)?;
            if diameter_mm >= narrowest {
                return Err(SolidError::StepOutOfOrder { step: bore.steps.len() + 1, diameter_mm, depth_mm: f64::INFINITY });
            }
            Ok(())
        }
        BoreEnd::Drilled { point_angle_deg } if !(1.0..180.0).contains(&point_angle_deg) => {
            Err(SolidError::NotASize { what: "the drill's point angle (1 to 180 degrees)".into(), found: point_angle_deg })
        }
        _ if bore.steps.is_empty() => Err(SolidError::NotASize { what: "the depth of a blind bore without steps".into(), found: 0.0 }),
        _ => Ok(()),
    }
}

fn last_depth(bore: &Bore) -> f64 {
    bore.steps.last().map_or(0.0, |step| step.depth_mm)
}

fn mouth_radius(bore: &Bore) -> f64 {
    let through = match bore.end {
        BoreEnd::Through { diameter_mm, .. } => diameter_mm,
        _ => 0.0,
    };
    0.5 * bore.steps.first().map_or(through, |step| step.diameter_mm) + bore.mouth_chamfer_mm
}

struct Mouth {
    at: Point,
    rest: Vec<Piece>,
}

/// Where a chain from the axis first reaches the mouth's radius, and what remains of it.
fn mouth_of(outside: &[Piece], radius_mm: f64, chamfer_mm: f64, which: &'static str) -> Result<Mouth, SolidError> {
    let part_mm = 2.0 * outside.iter().map(|piece| path::start(piece).r_mm).fold(0.0, f64::max);
    let found = outside.iter().enumerate().find_map(|(index, piece)| path::first_crossing(piece, radius_mm).map(|t| (index, piece, t)));
    let Some((index, piece, t)) = found else {
        return Err(SolidError::BoreTooWide { diameter_mm: 2.0 * radius_mm, part_mm, which });
    };
    let flat = matches!(piece, Piece::Line { from, to } if (from.z_mm - to.z_mm).abs() <= NOTHING_MM);
    if chamfer_mm > 0.0 && !flat {
        return Err(SolidError::ChamferOnSlope { chamfer_mm, which });
    }
    // The mouth's radius is set, not taken from the split: the wall behind it must be a true cylinder, not a cone by a rounding error.
    let (_, kept) = path::split(piece, t);
    let at = point(path::start(&kept).z_mm, radius_mm);
    let whole = path::distance(at, path::end(&kept)) > NOTHING_MM;
    let mut rest: Vec<Piece> = whole.then_some(kept).into_iter().chain(outside.iter().skip(index + 1).copied()).collect();
    let Some(first) = rest.first_mut() else {
        return Err(SolidError::BoreTooWide { diameter_mm: 2.0 * radius_mm, part_mm, which });
    };
    *first = path::with_start(first, at);
    Ok(Mouth { at, rest })
}

/// The corners of the bore's wall from its inner end to the mouth.
fn add_steps(wall: &mut Vec<Point>, bore: &Bore, mouth: Point) {
    let through = match bore.end {
        BoreEnd::Through { diameter_mm, .. } => Some(0.5 * diameter_mm),
        _ => None,
    };
    let mut radius = through.unwrap_or(0.0);
    for step in bore.steps.iter().rev() {
        // A blind bore's innermost step starts from its tip, which is there already.
        if radius > 0.0 {
            wall.push(point(step.depth_mm, radius));
        }
        radius = 0.5 * step.diameter_mm;
        wall.push(point(step.depth_mm, radius));
    }
    wall.push(point(mouth.z_mm + bore.mouth_chamfer_mm, radius));
    wall.push(mouth);
}

fn chain_through(corners: &[Point]) -> Vec<Piece> {
    let mut pieces = Vec::new();
    let Some((&first, others)) = corners.split_first() else { return pieces };
    let mut from = first;
    for &to in others {
        if path::distance(from, to) > NOTHING_MM {
            pieces.push(Piece::Line { from, to });
            from = to;
        }
    }
    pieces
}
