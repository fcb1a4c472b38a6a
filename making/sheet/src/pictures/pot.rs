//! What is in the pot, as a column by volume, with its top, where the colourants are, drawn larger beside it.

use super::{LETTER_MM, SMALL_MM};
use crate::words::{bounded, count, plain};
use ink::palette::{GREY, INK, SHADE, hair, outline};
use ink::{Anchor, Face, Figure, fits_mm, rect_steps};
use result::ScaledPot;

const COLUMN_MM: f64 = 46.0;
const MOST_PARTS: usize = 12;

/// The column of a pot, its labels beside it.
pub fn pot(pot: &ScaledPot, width_mm: f64) -> Option<Figure> {
    let parts: Vec<_> = pot.parts.iter().filter(|part| part.ml.is_finite() && part.ml > 0.0 && part.ml < 1e9).take(MOST_PARTS).collect();
    if !(pot.resin_ml.is_finite() && pot.resin_ml > 0.0 && pot.resin_ml < 1e9) || parts.is_empty() {
        return None;
    }
    let tint: f64 = parts.iter().map(|part| part.ml).sum();
    let (top, width) = (3.0, 20.0);
    let share = (tint / (tint + pot.resin_ml) * COLUMN_MM).clamp(0.4, COLUMN_MM);
    let description =
        format!("Bare resin {} mL; {} mL of colourants on top, shown larger at the right.", plain(pot.resin_ml, 1), plain(tint, 2));
    let rows = (parts.len() as f64 * 9.0).max(COLUMN_MM);
    let mut figure = Figure::new(width_mm, top + rows + 4.0, "What goes into the pot", description);
    figure.rect([1.0, top + share], [width, COLUMN_MM - share], None, Some(SHADE));
    figure.rect([1.0, top], [width, share], None, Some(INK));
    figure.rect([1.0, top], [width, COLUMN_MM], Some(outline(INK)), None);
    let grams = |g: Option<f64>| g.filter(|g| g.is_finite()).map_or_else(String::new, |g| format!(", {} g", plain(g, 1)));
    figure.text(
        [1.0 + width / 2.0, top + COLUMN_MM - 7.0],
        LETTER_MM,
        Face::Figures,
        Anchor::Middle,
        INK,
        format!("{} mL", plain(pot.resin_ml, 1)),
    );
    figure.text([1.0 + width / 2.0, top + COLUMN_MM - 2.5], SMALL_MM, Face::Text, Anchor::Middle, GREY, "bare resin");
    let (x, wide) = (30.0, if width_mm > 120.0 { 14.0 } else { 10.0 });
    figure.line([1.0 + width, top], [x, top], hair(GREY));
    figure.line([1.0 + width, top + share], [x, top + rows], hair(GREY));
    let each = rows / parts.len() as f64;
    let least = 8.6f64.min(each);
    let spare = rows - least * parts.len() as f64;
    let mut y = top;
    for (n, part) in parts.iter().enumerate() {
        let height = least + spare * part.ml / tint;
        // Patterns, not tints: what a colourant looks like in its bottle is not known here.
        let window = rect_steps([x, y], [wide, height]);
        figure.rect([x, y], [wide, height], Some(hair(INK)), None);
        figure.hatch(window, [45.0, -45.0, 90.0, 0.0][n % 4], 1.2 + 0.5 * (n / 4) as f64, hair(INK).width(0.18));
        let room = width_mm - x - wide - 3.0;
        let name = fits_mm(Face::Bold, LETTER_MM, room, &bounded(&part.colourant, 60));
        let much = format!("{}, {} mL{}", count(part.drops as usize, "drop"), plain(part.ml, 2), grams(part.g));
        let middle = y + height / 2.0;
        figure.text([x + wide + 3.0, middle - 0.4], LETTER_MM, Face::Bold, Anchor::Start, INK, name);
        let much = fits_mm(Face::Figures, LETTER_MM, room, &much);
        figure.text([x + wide + 3.0, middle + 3.6], LETTER_MM, Face::Figures, Anchor::Start, INK, much);
        y += height;
    }
    Some(figure)
}
