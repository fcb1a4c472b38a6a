//! Colours under several lights, on neutral grey, as a screen shows them to an eye that is used to its white.

use super::{LETTER_MM, SMALL_MM, grey_paint, ink_on};
use crate::words::{bounded, lab, plain};
use ink::palette::{GREY, INK, hair};
use ink::{Anchor, Face, Figure, Paint, fits_mm};

const PLATE_MM: [f64; 2] = [24.0, 19.0];
const CHIP_MM: [f64; 2] = [18.0, 13.0];
/// Least height of a row.
const ROW_MM: f64 = 21.5;
const LINE_MM: f64 = 4.5;
/// Most lights in one picture.
const MOST: usize = 8;

/// One row: a light, the wanted colour under it, a predicted one if there is one, and what is to be said.
pub struct LightRow {
    /// "A: Incandescent lamp, 2856 K".
    pub light: String,
    /// Wanted, CIELAB under that light, and as the screen shows it, "#98a492".
    pub wanted: ([f64; 3], String),
    /// Predicted, likewise.
    pub predicted: Option<([f64; 3], String)>,
    /// What is known of the two, in one line.
    pub says: String,
}

/// The rows below each other; where there is a prediction it lies below the diagonal.
pub fn under_lights(rows: &[LightRow], width_mm: f64) -> Option<Figure> {
    let finite = |lab: &[f64; 3]| lab.iter().all(|v| v.is_finite());
    let rows: Vec<&LightRow> = rows.iter().filter(|row| finite(&row.wanted.0)).take(MOST).collect();
    if rows.is_empty() {
        return None;
    }
    let said: Vec<String> = rows.iter().map(|row| format!("{}: {}. {}", row.light, lab(row.wanted.0), row.says)).collect();
    let (left, room) = (0.5 + PLATE_MM[0] + 4.0, width_mm - PLATE_MM[0] - 5.5);
    let lines: Vec<Vec<Line>> = rows.iter().map(|row| lines(row, room)).collect();
    let heights: Vec<f64> = lines.iter().map(|lines| ROW_MM.max(LINE_MM * lines.len() as f64 + 3.0)).collect();
    let mut figure = Figure::new(width_mm, heights.iter().sum(), "Colours under several lights", said.join(" "));
    let mut y = 0.5;
    for ((row, lines), height) in rows.iter().zip(&lines).zip(&heights) {
        let x = 0.5;
        figure.rect([x, y], PLATE_MM, Some(hair(GREY)), Some(grey_paint(50.0)));
        let corner = [x + (PLATE_MM[0] - CHIP_MM[0]) / 2.0, y + (PLATE_MM[1] - CHIP_MM[1]) / 2.0];
        let wanted = paint(&row.wanted.1);
        match &row.predicted {
            None => figure.rect(corner, CHIP_MM, None, Some(wanted)),
            Some((_, hex)) => {
                figure.rect(corner, CHIP_MM, None, Some(paint(hex)));
                figure.polygon(&[corner, [corner[0] + CHIP_MM[0], corner[1]], [corner[0], corner[1] + CHIP_MM[1]]], wanted);
            }
        }
        for (n, (face, size, paint, text)) in lines.iter().enumerate() {
            figure.text([left, y + 4.0 + LINE_MM * n as f64], *size, *face, Anchor::Start, *paint, fits_mm(*face, *size, room, text));
        }
        y += height;
    }
    Some(figure)
}

/// A line beside a chip: face, size in mm, ink, text.
type Line = (Face, f64, Paint, String);

/// What stands beside a chip, broken where there is no room for it.
fn lines(row: &LightRow, room: f64) -> Vec<Line> {
    let broken = |face: Face, size: f64, paint: Paint, text: &str, most: usize| {
        ink::wrap_mm(face, size, room, text).into_iter().take(most).map(move |line| (face, size, paint, line)).collect::<Vec<_>>()
    };
    let mut lines = broken(Face::Bold, LETTER_MM, INK, &bounded(&row.light, 120), 2);
    lines.push((Face::Figures, LETTER_MM, INK, format!("wanted  {}", lab(row.wanted.0))));
    if let Some((predicted, _)) = row.predicted.as_ref().filter(|(predicted, _)| predicted.iter().all(|v| v.is_finite())) {
        lines.push((Face::Figures, LETTER_MM, INK, format!("recipe  {}", lab(*predicted))));
    }
    lines.extend(broken(Face::Text, SMALL_MM, GREY, &row.says, 4));
    lines
}

/// "#98a492" as paint; grey for anything else.
fn paint(hex: &str) -> Paint {
    cie::parse_hex(hex).map_or_else(|_| grey_paint(50.0), Paint::solid)
}

/// The way from the colour as new to the colour as it is now, in nine steps, with the person's place on it.
pub fn age_path(path: &result::AgePath, width_mm: f64) -> Option<Figure> {
    const STEPS: usize = 9;
    let finite = |lab: &[f64; 3]| lab.iter().all(|v| v.is_finite());
    if !(finite(&path.new.lab) && finite(&path.now.lab) && (0.0..=1.0).contains(&path.share)) {
        return None;
    }
    let description = format!(
        "From {} ({}) to {} ({}), {} CIEDE2000 apart; the colour wanted lies {} % of the way.",
        bounded(&path.new.name, 60),
        lab(path.new.lab),
        bounded(&path.now.name, 60),
        lab(path.now.lab),
        plain(path.de00, 1),
        plain(100.0 * path.share, 0)
    );
    let mut figure = Figure::new(width_mm, 34.0, "From as new to as it is now", description);
    let (left, top) = (0.5, 6.5);
    let each = ((width_mm - 1.0) / STEPS as f64).min(15.0);
    figure.rect([left, top], [each * STEPS as f64, 19.0], Some(hair(INK)), Some(grey_paint(50.0)));
    for n in 0..STEPS {
        let t = n as f64 / (STEPS - 1) as f64;
        let colour = std::array::from_fn(|axis| (1.0 - t) * path.new.lab[axis] + t * path.now.lab[axis]);
        // Each chip reaches a little under the next, so that no ground shows between them.
        let reach = if n + 1 < STEPS { 0.2 } else { 0.0 };
        figure.rect([left + n as f64 * each, top + 3.0], [each + reach, 13.0], None, Some(super::screen_paint(colour).0));
    }
    // Steps stand for their middle.
    let x = left + each * (0.5 + path.share * (STEPS - 1) as f64);
    figure.polygon(&[[x, top + 2.9], [x - 1.6, top + 0.1], [x + 1.6, top + 0.1]], ink_on(49.0));
    figure.line([x, top + 3.0], [x, top + 16.0], ink::palette::outline(ink_on(path.new.lab[0])).width(0.35));
    let place = format!("{} %", plain(100.0 * path.share, 0));
    let right = left + each * STEPS as f64;
    figure.text([x.clamp(left + 5.0, right - 5.0), 4.5], LETTER_MM, Face::Bold, Anchor::Middle, INK, place);
    for (at, anchor, what, end) in [(left, Anchor::Start, "as new", &path.new), (right, Anchor::End, "as it is now", &path.now)] {
        let name = fits_mm(Face::Text, SMALL_MM, each * 4.4, &format!("{what}: {}", bounded(&end.name, 60)));
        figure.text([at, top + 22.5], SMALL_MM, Face::Text, anchor, GREY, name);
        figure.text([at, top + 26.3], SMALL_MM, Face::Figures, anchor, INK, lab(end.lab));
    }
    Some(figure)
}
