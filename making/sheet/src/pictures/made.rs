//! Colours of made parts, each against the one they should have, with its number.

use super::{LETTER_MM, SMALL_MM, grey_paint, ink_on, screen_paint};
use crate::words::{bounded, plain};
use ink::palette::{GREY, hair};
use ink::{Anchor, Face, Figure, fits_mm};

/// A chip with its air, mm.
const STEP_MM: f64 = 18.5;
const CHIP_MM: f64 = 15.0;
/// A row with its numbers, mm.
const ROW_MM: f64 = 27.0;
/// Most parts that are shown.
const MOST: usize = 32;

/// A made part: its name, its colour, CIEDE2000 from what it should be.
pub struct MadeChip {
    /// Name.
    pub part: String,
    /// Colour read.
    pub lab: [f64; 3],
    /// Difference.
    pub de00: Option<f64>,
}

/// Each part's colour below the one it should have (`wanted`), on a grey of L* 50; without one, alone.
pub fn made_chips(wanted: Option<[f64; 3]>, parts: &[MadeChip], width_mm: f64) -> Option<Figure> {
    let finite = |lab: &[f64; 3]| lab.iter().all(|v| v.is_finite());
    let parts: Vec<&MadeChip> = parts.iter().filter(|part| finite(&part.lab)).take(MOST).collect();
    if parts.is_empty() {
        return None;
    }
    let said: Vec<String> = parts
        .iter()
        .map(|part| format!("{} {}", bounded(&part.part, 40), part.de00.map_or_else(|| "read".into(), |de00| plain(de00, 2))))
        .collect();
    let across = ((width_mm - 4.0) / STEP_MM).floor().max(1.0) as usize;
    let rows = parts.len().div_ceil(across);
    let height = rows as f64 * ROW_MM + 3.0;
    let mut figure = Figure::new(width_mm, height + 0.5, "Colours of made parts", format!("CIEDE2000 of each part: {}.", said.join(", ")));
    figure.rect([0.25, 0.25], [width_mm - 0.5, height], Some(hair(GREY)), Some(grey_paint(50.0)));
    let ink = ink_on(50.0);
    for (n, part) in parts.iter().enumerate() {
        let (x, y) = (3.0 + STEP_MM * (n % across) as f64, 3.0 + ROW_MM * (n / across) as f64);
        figure.rect([x, y], [CHIP_MM, CHIP_MM], None, Some(screen_paint(part.lab).0));
        if let Some(wanted) = wanted.filter(finite) {
            figure.rect([x, y], [CHIP_MM, CHIP_MM / 2.0], None, Some(screen_paint(wanted).0));
        }
        let middle = x + CHIP_MM / 2.0;
        figure.text(
            [middle, y + CHIP_MM + 4.0],
            LETTER_MM,
            Face::Bold,
            Anchor::Middle,
            ink,
            fits_mm(Face::Bold, LETTER_MM, STEP_MM - 1.0, &bounded(&part.part, 40)),
        );
        let number = part.de00.map_or_else(|| format!("L* {}", plain(part.lab[0], 1)), |de00| plain(de00, 2));
        figure.text([middle, y + CHIP_MM + 8.0], SMALL_MM, Face::Figures, Anchor::Middle, ink, number);
    }
    Some(figure)
}
