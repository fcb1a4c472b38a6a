//! One colourant's ladder: what 0, 1, 2 ... drops of it would do to the recipe, the present count marked.

use super::{LETTER_MM, SMALL_MM, grey_paint, ink_on, screen_paint};
use crate::words::{bounded, lab};
use ink::palette::{INK, hair, outline};
use ink::{Anchor, Face, Figure, fits_mm};
use result::Ladder;

/// Smallest width of a rung, mm.
const RUNG_MM: f64 = 11.0;

/// The ladder of one colourant; `present`: its drops in the recipe.
pub fn ladder(ladder: &Ladder, present: u32, width_mm: f64) -> Option<Figure> {
    let rungs: Vec<(u32, [f64; 3])> = ladder
        .drops
        .iter()
        .copied()
        .zip(ladder.lab.iter().copied())
        .filter(|(_, lab)| lab.iter().all(|v| v.is_finite()))
        .take(400)
        .collect();
    if rungs.is_empty() {
        return None;
    }
    let narrow = width_mm < 120.0;
    let (left, top) = if narrow { (0.5, 6.5) } else { (26.0, 1.5) };
    let room = width_mm - left - 0.5;
    let rungs = around(&rungs, present, (room / RUNG_MM).floor().max(1.0) as usize);
    let each = (room / rungs.len().max(6) as f64).min(18.0);
    let mut figure =
        Figure::new(width_mm, top + 22.0, format!("Ladder of {}", bounded(&ladder.colourant, 60)), describe(ladder, &rungs, present));
    let name = fits_mm(Face::Bold, LETTER_MM, if narrow { width_mm } else { 24.0 }, &ladder.colourant);
    figure.text([0.5, if narrow { 4.0 } else { top + 8.5 }], LETTER_MM, Face::Bold, Anchor::Start, INK, name);
    let middle = rungs.get(rungs.len() / 2).map_or(50.0, |(_, lab)| lab[0]);
    figure.rect([left, top], [each * rungs.len() as f64, 20.0], None, Some(grey_paint(50.0)));
    // Each rung reaches a little under the next, so that no ground shows between them.
    for (n, (drops, colour)) in rungs.iter().enumerate() {
        let x = left + n as f64 * each;
        let reach = if n + 1 < rungs.len() { 0.2 } else { 0.0 };
        figure.rect([x, top + 2.5], [each + reach, 10.5], None, Some(screen_paint(*colour).0));
        let face = if *drops == present { Face::Bold } else { Face::Figures };
        figure.text(
            [x + each / 2.0, top + 17.6],
            if *drops == present { LETTER_MM } else { SMALL_MM },
            face,
            Anchor::Middle,
            ink_on(49.0),
            drops.to_string(),
        );
    }
    if let Some(n) = rungs.iter().position(|(drops, _)| *drops == present) {
        let x = left + n as f64 * each;
        figure.rect([x, top + 2.5], [each, 10.5], Some(outline(ink_on(middle)).width(0.7)), None);
        figure.polygon(&[[x + each / 2.0, top + 2.5], [x + each / 2.0 - 1.4, top + 0.2], [x + each / 2.0 + 1.4, top + 0.2]], ink_on(49.0));
    }
    figure.rect([left, top], [each * rungs.len() as f64, 20.0], Some(hair(INK)), None);
    Some(figure)
}

/// As many rungs as there is room for, the present one among them.
fn around(rungs: &[(u32, [f64; 3])], present: u32, room: usize) -> Vec<(u32, [f64; 3])> {
    let at = rungs.iter().position(|(drops, _)| *drops >= present).unwrap_or(rungs.len() - 1);
    let first = at.saturating_sub(room / 2).min(rungs.len().saturating_sub(room));
    rungs.iter().skip(first).take(room).copied().collect()
}

fn describe(ladder: &Ladder, rungs: &[(u32, [f64; 3])], present: u32) -> String {
    let mut text = format!(
        "Predicted colour of the recipe with other numbers of drops of {}; the recipe has {present}.",
        bounded(&ladder.colourant, 60)
    );
    for (drops, colour) in [rungs.first(), rungs.last()].into_iter().flatten() {
        text.push_str(&format!(" With {drops}: {}.", lab(*colour)));
    }
    text
}
