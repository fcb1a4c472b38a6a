//! A flat part: its photo squared up, its outline found or traced, told as lines, arcs and curves, and made a plate.

use super::Says;
use super::evidence::{Evidence, PhotoEvidence};
use crate::progress::Progress;
use flat::{Grey, Plane, Square};
use job::document::{self, DrawnPiece, Pixel};
use meridian::{Piece, Point, Turn};
use result::{BodyResult, DrawnPieceResult, FlatResult, FlatSize, JobResult};
use solid::{Plate, path};

/// How surely a corner is clicked: a pixel, or a thousandth of a large picture (common practice with a loupe, no source).
const CLICK_PX: f64 = 1.0;
const CLICK_SHARE: f64 = 0.001;
/// Relative doubt of a known size where none is given: 0.02 mm in 40, a caliper's.
const SIZE_SIGMA: f64 = 0.0005;
/// How near lines, arcs and curves keep to the outline, px: found by contrast, or traced by hand.
const FOUND_PX: f64 = 0.6;
const TRACED_PX: f64 = 2.0;
/// Standard doubt of where an edge is, px: found by contrast, or traced.
const EDGE_SIGMA_PX: [f64; 2] = [0.3, 1.0];

pub(super) fn work_out(evidence: &Evidence, wanted: &document::Flat, sheet: &mut JobResult, progress: &Progress) -> Option<Plate> {
    for station in ["outline", "profile", "sizes"] {
        sheet.missing(station, "a flat part has none; its outline and sizes stand at the body");
    }
    progress.step("squaring the photo up");
    match told(evidence, wanted, sheet) {
        Ok(plate) => {
            super::route::work_out_flat(evidence, &plate, sheet);
            Some(plate)
        }
        Err(why) => {
            sheet.missing("body", &why);
            None
        }
    }
}

fn told(evidence: &Evidence, wanted: &document::Flat, sheet: &mut JobResult) -> Result<Plate, String> {
    let photo = evidence.photos.iter().find(|photo| evidence.entry(photo).name == wanted.photo).ok_or("its photo is not there")?;
    let entry = evidence.entry(photo);
    let picture = &photo.photo.picture;
    let longer_px = picture.width_px().max(picture.height_px()) as f64;
    let square = entry.square.as_ref().and_then(square).ok_or("nothing in the photo squares it up")?;
    let squared = flat::squared(&square, CLICK_PX.max(CLICK_SHARE * longer_px), SIZE_SIGMA, longer_px).map_err(|e| e.to_string())?;
    sheet.warn_all("body", Some(&entry.name), &squared.notes);
    let plane = squared.value;
    let traced = entry.outline.is_some();
    let lines_px: Vec<Vec<Pixel>> = match (&entry.outline, &wanted.within) {
        (Some(outline), _) => std::iter::once(outline.clone()).chain(wanted.hole.iter().cloned()).collect(),
        (None, Some(within)) => flat::found_outlines(&grey(photo), within).map_err(|e| e.to_string())?,
        (None, None) => return Err("neither a trace nor a polygon says where it is".into()),
    };
    let lines: Vec<Seen> = lines_px
        .iter()
        .map(|line| {
            let usual_px = if traced { TRACED_PX } else { FOUND_PX };
            let middle = line.get(line.len() / 2).copied().unwrap_or_default();
            Seen {
                places_mm: line.iter().map(|&px| plane.place_mm(px)).collect(),
                tolerance_mm: wanted.tolerance.as_ref().map_or(usual_px * plane.scale_mm(middle), |size| size.mm),
            }
        })
        .collect();
    let chains = if wanted.drawn.is_empty() {
        lines.iter().map(|line| flat::pieces(&line.places_mm, line.tolerance_mm).map_err(|e| e.to_string())).collect::<Result<_, _>>()?
    } else {
        written(&wanted.drawn, &lines, sheet)?
    };
    let mut chains = chains.into_iter();
    let outline = chains.next().ok_or("no outline was found")?;
    let sharp = Plate::new(outline, chains.collect(), wanted.thickness.mm).map_err(|e| e.to_string())?;
    let plate = match &wanted.edge_break {
        None => {
            sheet.assume("body", "Edges stay sharp; break them by hand.", "[flat] edge_break");
            sharp
        }
        Some(leg) => sharp.with_edge_break(leg.mm).unwrap_or_else(|error| {
            let way_out = "Give a smaller `edge_break` in [flat], or break the edges by hand.";
            sheet.warn("body", None, format!("Edges stay sharp in the files: {error}"), way_out);
            sharp
        }),
    };
    let sigma_px = EDGE_SIGMA_PX[usize::from(traced)];
    sheet.body = Some(body(evidence, &plate, sizes(&plate, &lines_px, &plane, sigma_px)));
    Ok(plate)
}

/// A line as the photo shows it, and how near pieces keep to it.
struct Seen {
    places_mm: Vec<[f64; 2]>,
    tolerance_mm: f64,
}

/// How much farther than told pieces a person's own may be off before it is said.
const STRAY: f64 = 3.0;

/// A person's own pieces, held against what the photo shows.
fn written(drawn: &[Vec<DrawnPiece>], lines: &[Seen], sheet: &mut JobResult) -> Result<Vec<Vec<Piece>>, String> {
    if drawn.len() != lines.len() {
        let (has, shows) = (drawn.len(), lines.len());
        return Err(format!("`drawn` in [flat] has {has} closed lines, the photo shows {shows} (the outline first, then the holes)"));
    }
    let chains: Vec<Vec<Piece>> = drawn.iter().map(|line| chain_of(line)).collect();
    for (index, (chain, seen)) in chains.iter().zip(lines).enumerate() {
        let looks: Vec<Point> = chain
            .iter()
            .flat_map(|piece| {
                let steps = path::steps_for_chord(piece, 0.1 * seen.tolerance_mm).clamp(1, 512);
                (0..steps).map(move |i| path::at(piece, i as f64 / steps as f64))
            })
            .collect();
        let step = |i: usize| (looks[i], looks[(i + 1) % looks.len()]);
        let off = |p: &[f64; 2]| (0..looks.len()).map(|i| off_step(step(i), *p)).fold(f64::INFINITY, f64::min);
        let every = seen.places_mm.len().div_ceil(400);
        let farthest = seen.places_mm.iter().step_by(every).map(off).fold(0.0, f64::max);
        if farthest > STRAY * seen.tolerance_mm {
            let which = if index == 0 { "The outline".to_string() } else { format!("Hole {index}") };
            let text = format!("{which} as drawn in the document is up to {farthest:.2} mm off what the photo shows.");
            sheet.warn("body", None, text, "Correct `drawn` in [flat], or leave it out: the outline is then told from the photo.");
        }
    }
    Ok(chains)
}

/// How far a place is off a straight step.
fn off_step((a, b): (Point, Point), p: [f64; 2]) -> f64 {
    let (dx, dy) = (b.z_mm - a.z_mm, b.r_mm - a.r_mm);
    let (x, y) = (p[0] - a.z_mm, p[1] - a.r_mm);
    let share = ((x * dx + y * dy) / (dx * dx + dy * dy).max(1e-18)).clamp(0.0, 1.0);
    (x - share * dx).hypot(y - share * dy)
}

fn chain_of(line: &[DrawnPiece]) -> Vec<Piece> {
    let point = |p: [f64; 2]| Point { z_mm: p[0], r_mm: p[1] };
    let piece = |(i, piece): (usize, &DrawnPiece)| {
        let (from, to) = (point(line[(i + line.len() - 1) % line.len()].to), point(piece.to));
        match (piece.centre, piece.controls) {
            (_, Some([a, b])) => Piece::Curve { from, control1: point(a), control2: point(b), to },
            (Some(centre), None) => {
                let turn = if piece.clockwise == Some(true) { Turn::Clockwise } else { Turn::Counterclockwise };
                Piece::Arc { from, to, centre: even(from, to, point(centre)), turn }
            }
            (None, None) => Piece::Line { from, to },
        }
    };
    line.iter().enumerate().map(piece).collect()
}

/// A centre as far from both ends: moved by half the digits that were left out.
fn even(from: Point, to: Point, centre: Point) -> Point {
    let (dx, dy) = (to.z_mm - from.z_mm, to.r_mm - from.r_mm);
    let square = dx * dx + dy * dy;
    let (mx, my) = (centre.z_mm - 0.5 * (from.z_mm + to.z_mm), centre.r_mm - 0.5 * (from.r_mm + to.r_mm));
    let share = if square > 0.0 { (mx * dx + my * dy) / square } else { 0.0 };
    Point { z_mm: centre.z_mm - share * dx, r_mm: centre.r_mm - share * dy }
}

fn drawn(line: &[Piece]) -> Vec<DrawnPieceResult> {
    let pair = |p: Point| [p.z_mm, p.r_mm];
    let plain = |to: Point| DrawnPieceResult { to: pair(to), centre: None, clockwise: None, controls: None };
    line.iter()
        .map(|piece| match *piece {
            Piece::Line { to, .. } => plain(to),
            Piece::Arc { to, centre, turn, .. } => {
                DrawnPieceResult { centre: Some(pair(centre)), clockwise: Some(turn == Turn::Clockwise), ..plain(to) }
            }
            Piece::Curve { control1, control2, to, .. } => {
                DrawnPieceResult { controls: Some([pair(control1), pair(control2)]), ..plain(to) }
            }
        })
        .collect()
}

fn square(square: &document::Square) -> Option<Square> {
    if let Some(corners_px) = square.rectangle {
        return Some(Square::Rectangle { corners_px, width_mm: square.width.as_ref()?.mm, height_mm: square.height.as_ref()?.mm });
    }
    if let Some(places_px) = &square.circle {
        return Some(Square::Circle { places_px: places_px.clone(), diameter_mm: square.diameter.as_ref()?.mm });
    }
    Some(Square::Ruler { ends_px: square.ruler?, length_mm: square.length.as_ref()?.mm })
}

/// Brightness in linear light, the eye's weights (ITU-R BT.709).
fn grey(photo: &PhotoEvidence) -> Grey {
    let picture = &photo.photo.picture;
    let (width, height) = (picture.width_px(), picture.height_px());
    let at = |i: usize| {
        let [r, g, b] = picture.linear_at((i % width) as isize, (i / width) as isize);
        0.2126 * r + 0.7152 * g + 0.0722 * b
    };
    Grey { width, height, values: (0..width * height).map(at).collect() }
}

/// Overall sizes and round holes, each with its doubt: clicks, known sizes, the edge itself.
fn sizes(plate: &Plate, lines_px: &[Vec<Pixel>], plane: &Plane, edge_sigma_px: f64) -> Vec<FlatSize> {
    let doubted = |what: String, value_mm: f64, line: &[Pixel], axis: usize, at_mm: Option<[f64; 2]>| {
        let place = |px: &Pixel| plane.place_mm(*px)[axis];
        let low = line.iter().min_by(|a, b| place(a).total_cmp(&place(b)));
        let high = line.iter().max_by(|a, b| place(a).total_cmp(&place(b)));
        let sigma_mm = low.zip(high).map_or(f64::INFINITY, |(low, high)| {
            let edge = edge_sigma_px * plane.scale_mm(*low) * std::f64::consts::SQRT_2;
            plane.length_sigma_mm(*low, *high).hypot(edge)
        });
        FlatSize { what, value_mm, sigma_mm, at_mm }
    };
    let [low, high] = plate.bounds_mm();
    let Some(outer) = lines_px.first() else { return Vec::new() };
    let mut sizes =
        vec![doubted("width".into(), high[0] - low[0], outer, 0, None), doubted("height".into(), high[1] - low[1], outer, 1, None)];
    for (index, (hole, line)) in plate.holes().iter().zip(lines_px.iter().skip(1)).enumerate() {
        if let Some(Piece::Arc { from, centre, .. }) = hole.first().filter(|_| hole.len() == 2) {
            let at = Some([centre.z_mm - low[0], centre.r_mm - low[1]]);
            sizes.push(doubted(format!("hole {} diameter", index + 1), 2.0 * path::distance(*from, *centre), line, 0, at));
        }
    }
    sizes
}

fn body(evidence: &Evidence, plate: &Plate, sizes: Vec<FlatSize>) -> BodyResult {
    let density_g_ml = evidence.document.resin.as_ref().and_then(|resin| resin.density_g_ml);
    let count = |kind: fn(&Piece) -> bool| plate.lines().flatten().filter(|piece| kind(piece)).count() as u32;
    let centre = plate.centre_mm();
    BodyResult {
        volume_mm3: plate.volume_mm3(),
        area_mm2: plate.area_mm2(),
        centre_z_mm: centre[2],
        centre_mm: Some(centre),
        bounds_mm: plate.bounds_mm(),
        mass_g: density_g_ml.map(|density| density * plate.volume_mm3() * 1e-3),
        flat: Some(FlatResult {
            thickness_mm: plate.thickness_mm(),
            edge_break_mm: Some(plate.edge_break_mm()).filter(|leg| *leg > 0.0),
            lines: count(path::is_line),
            arcs: count(|piece| matches!(piece, Piece::Arc { .. })),
            curves: count(|piece| matches!(piece, Piece::Curve { .. })),
            sizes,
            drawn: plate.lines().map(drawn).collect(),
        }),
        ..BodyResult::default()
    }
}
