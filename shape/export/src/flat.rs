//! Flat parts as files: DXF of the outline, and a drawing.

use crate::Scale;
use crate::drawing::{self, TitleBlock};
use crate::dxf::{entity, pair, place, tables};
use ink::{Anchor, Face, Figure, Step, palette};
use meridian::{Piece, Point};
use solid::Plate;
use solid::path;

/// The outline with its holes as DXF (release 12, ASCII), full size in millimetres. Lines and arcs are exact.
pub fn dxf_plate(plate: &Plate) -> Vec<u8> {
    let [low, high] = plate.bounds_mm();
    let mut text = String::new();
    for (code, value) in [
        ("999", "ringer: outline in millimetres, without broken edges"),
        ("0", "SECTION"),
        ("2", "HEADER"),
        ("9", "$ACADVER"),
        ("1", "AC1009"),
    ] {
        pair(&mut text, code, value);
    }
    for (name, at) in [("$EXTMIN", low), ("$EXTMAX", high)] {
        pair(&mut text, "9", name);
        place(&mut text, 10, at[0], at[1]);
    }
    pair(&mut text, "0", "ENDSEC");
    tables(&mut text);
    pair(&mut text, "0", "SECTION");
    pair(&mut text, "2", "ENTITIES");
    plate.outline().iter().for_each(|piece| entity(&mut text, "OUTSIDE", piece, 1.0));
    plate.holes().iter().flatten().for_each(|piece| entity(&mut text, "BORE", piece, 1.0));
    pair(&mut text, "0", "ENDSEC");
    pair(&mut text, "0", "EOF");
    text.into_bytes()
}

/// Room round the outline for its sizes, mm on paper.
const ROOM_MM: f64 = 16.0;

/// The outline seen from above with its overall sizes, no larger than `room_mm`, at a preferred scale.
pub fn outline_plate(plate: &Plate, room_mm: [f64; 2]) -> Figure {
    scaled_outline(plate, room_mm).0
}

fn scaled_outline(plate: &Plate, room_mm: [f64; 2]) -> (Figure, Scale) {
    let [low, high] = plate.bounds_mm();
    let size = [high[0] - low[0], high[1] - low[1]];
    let fits = |scale: &Scale| (0..2).all(|i| size[i] * scale.factor + 2.0 * ROOM_MM <= room_mm[i]);
    let scale = drawing::preferred(fits);
    let k = scale.factor;
    let words = format!(
        "Seen from above at {scale}: {} by {} mm, {} mm thick, {} holes.",
        short(size[0]),
        short(size[1]),
        short(plate.thickness_mm()),
        plate.holes().len()
    );
    let mut figure = Figure::new(size[0] * k + 2.0 * ROOM_MM, size[1] * k + 2.0 * ROOM_MM, format!("Outline, {scale}"), words);
    let at = |p: Point| [ROOM_MM + (p.z_mm - low[0]) * k, ROOM_MM + (high[1] - p.r_mm) * k];
    let mut window = Vec::new();
    for line in plate.lines() {
        window.extend(steps(line, &at));
    }
    figure.path(window, Some(palette::outline(palette::INK)), None);
    // The inner line of a broken edge, where it stands clear of the outline (ISO 128 asks for 0.7 mm).
    for (line, rim) in plate.lines().zip(plate.rims()).filter(|_| plate.edge_break_mm() * k >= 0.7) {
        let inner = (0..line.len()).flat_map(|index| {
            let count = path::steps_for_chord(&line[index], 0.005);
            (0..count).map(move |i| rim.at(index, i as f64 / count as f64).0)
        });
        let mut places: Vec<[f64; 2]> = inner.map(|[x, y]| at(Point { z_mm: x, r_mm: y })).collect();
        places.extend(places.first().copied());
        figure.path(ink::polyline_steps(&places), Some(palette::outline(palette::INK).width(0.35)), None);
    }
    for hole in plate.holes() {
        if let Some((centre, radius)) = round(hole) {
            let [x, y] = at(centre);
            let reach = radius * k + 2.0;
            figure.line([x - reach, y], [x + reach, y], palette::chain(palette::INK).width(0.18));
            figure.line([x, y - reach], [x, y + reach], palette::chain(palette::INK).width(0.18));
            figure.text(
                [x + 0.75 * reach, y - 0.75 * reach],
                3.4,
                Face::Figures,
                Anchor::Start,
                palette::INK,
                format!("\u{2300}{}", short(2.0 * radius)),
            );
        }
    }
    let (right, below) = (ROOM_MM + size[0] * k, ROOM_MM + size[1] * k);
    let hair = palette::hair(palette::INK);
    figure.line([ROOM_MM, below + 8.0], [right, below + 8.0], hair.clone());
    figure.line([right + 8.0, ROOM_MM], [right + 8.0, below], hair.clone());
    for (from, to) in [
        ([ROOM_MM, below + 1.0], [ROOM_MM, below + 9.5]),
        ([right, below + 1.0], [right, below + 9.5]),
        ([right + 1.0, ROOM_MM], [right + 9.5, ROOM_MM]),
        ([right + 1.0, below], [right + 9.5, below]),
    ] {
        figure.line(from, to, hair.clone());
    }
    // Ticks across the ends, 45 degrees (ISO 129-1 allows oblique strokes).
    for [x, y] in [[ROOM_MM, below + 8.0], [right, below + 8.0], [right + 8.0, ROOM_MM], [right + 8.0, below]] {
        figure.line([x - 1.2, y + 1.2], [x + 1.2, y - 1.2], palette::outline(palette::INK).width(0.35));
    }
    figure.text([0.5 * (ROOM_MM + right), below + 7.0], 3.4, Face::Figures, Anchor::Middle, palette::INK, short(size[0]));
    figure.text([right + 9.0, 0.5 * (ROOM_MM + below) + 1.2], 3.4, Face::Figures, Anchor::Start, palette::INK, short(size[1]));
    (figure, scale)
}

/// The same on a sheet with its title block.
pub fn drawing_plate(plate: &Plate, title: &TitleBlock) -> Figure {
    let mut notes = vec![format!("Seen from above. Thickness {} mm. Sizes in mm.", short(plate.thickness_mm()))];
    if plate.edge_break_mm() > 0.0 {
        notes.push(format!("All edges broken {} mm \u{d7} 45\u{b0}, both sides.", short(plate.edge_break_mm())));
    }
    drawing::on_sheet(title, &notes, |room| scaled_outline(plate, room))
}

/// Centre and radius of a hole that is one circle.
fn round(hole: &[Piece]) -> Option<(Point, f64)> {
    let Piece::Arc { from, centre, .. } = *hole.first()? else { return None };
    let radius = path::distance(from, centre);
    let same = |piece: &Piece| matches!(*piece, Piece::Arc { centre: other, .. } if path::distance(other, centre) < 1e-6);
    hole.iter().all(same).then_some((centre, radius))
}

fn steps(line: &[Piece], at: &impl Fn(Point) -> [f64; 2]) -> Vec<Step> {
    let mut steps: Vec<Step> = line.first().map(|piece| Step::Move(at(path::start(piece)))).into_iter().collect();
    for piece in line {
        let count = path::steps_for_chord(piece, 0.005);
        steps.extend((1..=count).map(|i| Step::Line(at(path::at(piece, i as f64 / count as f64)))));
    }
    steps.push(Step::Close);
    steps
}

fn short(mm: f64) -> String {
    let text = format!("{mm:.2}");
    text.trim_end_matches('0').trim_end_matches('.').to_string()
}
