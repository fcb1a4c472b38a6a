//! Flat parts: printed lying, cast from a master, or cut from sheet.

use super::super::evidence::Evidence;
use super::{cast, fact, print, short};
use job::document::Route;
use meridian::{Piece, Turn};
use result::{JobResult, RouteFact, RouteResult, StanceResult};
use solid::path;
use solid::{Limits, Plate};

/// Sheet left round the part for clamping and sawing, mm (common practice, no source).
const ALLOWANCE_MM: f64 = 5.0;

/// Works out the facts of the route and lays them beside the body.
pub fn work_out(evidence: &Evidence, plate: &Plate, sheet: &mut JobResult) {
    let body = evidence.document.body.as_ref();
    let route = body.and_then(|body| body.route).unwrap_or_default();
    let told = match route {
        Route::Print => printed(evidence, plate, sheet),
        Route::Cast => {
            let cast = body.and_then(|body| body.cast.as_ref());
            let mut facts = vec![
                fact(
                    "mould",
                    "open, one piece",
                    "the master lies with its hidden face on the base of the box; that face of the cast is the open one, dress it flat",
                ),
                cast::larger(evidence, cast, sheet),
            ];
            facts.extend(cast::amounts(evidence, cast, plate.bounds_mm(), [plate.volume_mm3(); 2], sheet));
            RouteResult { name: "cast".into(), facts, ..RouteResult::default() }
        }
        Route::Turn => RouteResult { name: "turn".into(), facts: cut(plate), ..RouteResult::default() },
    };
    if let Some(result) = &mut sheet.body {
        result.route = Some(told);
    }
}

fn printed(evidence: &Evidence, plate: &Plate, sheet: &JobResult) -> RouteResult {
    let [low, high] = plate.bounds_mm();
    let [width, height] = [high[0] - low[0], high[1] - low[1]];
    let limits = Limits::default();
    let note = format!("{} mm at least, {} mm advised (service-bureau guides)", limits.least_wall_mm, limits.advised_wall_mm);
    let mut facts = vec![
        print::larger(evidence, sheet),
        fact(
            "stands",
            "lying, its lower face to the plate",
            format!(
                "{} mm\u{b2} lie on the plate or on supports: turn the face that is seen upward; squashed first layers widen that edge, {}",
                short(plate.face_mm2(), 0),
                if plate.edge_break_mm() > 0.0 { "the broken edge takes that up" } else { "a broken edge takes that up" }
            ),
        ),
        fact("thickness", format!("{} mm", short(plate.thickness_mm(), 2)), note),
    ];
    facts.extend(
        plate
            .narrowest_land_mm()
            .map(|land| fact("narrowest land", format!("{} mm", short(land, 2)), "between two lines of outline and holes; as for walls")),
    );
    facts.push(fact("held inside", "nothing", "a plate has no cup that holds resin"));
    let stance = StanceResult { rod_end_down: true, lean_deg: 0.0, height_mm: plate.thickness_mm(), footprint_mm: width.hypot(height) };
    RouteResult { name: "print".into(), facts, stance: Some(stance), ..RouteResult::default() }
}

fn cut(plate: &Plate) -> Vec<RouteFact> {
    let [low, high] = plate.bounds_mm();
    let blank = [0, 1].map(|i| high[i] - low[i] + 2.0 * ALLOWANCE_MM);
    let blank_ml = blank[0] * blank[1] * plate.thickness_mm() * 1e-3;
    let waste = 100.0 * (1.0 - plate.volume_mm3() * 1e-3 / blank_ml);
    let mut facts = vec![
        fact(
            "sheet",
            format!("{} mm thick", short(plate.thickness_mm(), 3)),
            "the thickness as given; ask your stockholder for the nearest and measure it",
        ),
        fact(
            "blank",
            format!("{} \u{d7} {} mm", short(blank[0], 1), short(blank[1], 1)),
            format!("{ALLOWANCE_MM} mm all round to clamp and saw (common practice)"),
        ),
        fact("material", format!("{} mL a part", short(blank_ml, 2)), format!("of which {waste:.0} % is cut away")),
    ];
    facts.push(match inside_radius_mm(plate) {
        None => fact("cutter", "any", "the outline is nowhere hollow and has no holes"),
        Some(radius) if radius < 1e-6 => {
            fact("cutter", "file the corners", "an inside corner is sharp: a cutter leaves its own radius there")
        }
        Some(radius) => fact("cutter", format!("\u{2300} {} mm at most", short(2.0 * radius, 2)), "the tightest hollow or hole"),
    });
    facts
}

/// Tightest round that a cutter must reach into; 0 at a sharp inside corner. Material lies on the left of travel, so that hollows turn right.
fn inside_radius_mm(plate: &Plate) -> Option<f64> {
    let mut least = f64::INFINITY;
    for line in plate.lines() {
        for (index, piece) in line.iter().enumerate() {
            let next = &line[(index + 1) % line.len()];
            let (u, v) = (path::direction(piece, 1.0), path::direction(next, 0.0));
            let bend = (u[0] * v[1] - u[1] * v[0]).atan2(u[0] * v[0] + u[1] * v[1]);
            if bend < -0.14 {
                return Some(0.0);
            }
            match *piece {
                Piece::Arc { from, centre, turn: Turn::Clockwise, .. } => least = least.min(path::distance(from, centre)),
                Piece::Curve { .. } => least = least.min(hollow_mm(piece)),
                _ => {}
            }
        }
    }
    least.is_finite().then_some(least)
}

/// Tightest turn to the right of a curve, by 256 looks.
fn hollow_mm(piece: &Piece) -> f64 {
    let looks = 256;
    let radius = |i: i32| {
        let t = f64::from(i) / f64::from(looks);
        let (a, b) = (path::direction(piece, t - 0.5 / f64::from(looks)), path::direction(piece, t + 0.5 / f64::from(looks)));
        let turn = (a[0] * b[1] - a[1] * b[0]).asin();
        let [dx, dy] = path::velocity(piece, t);
        if turn < -1e-9 { dx.hypot(dy) / f64::from(looks) / -turn } else { f64::INFINITY }
    };
    (1..looks).map(radius).fold(f64::INFINITY, f64::min)
}
