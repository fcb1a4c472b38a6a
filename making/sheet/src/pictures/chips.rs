//! Colours beside each other: the wanted one and a predicted one on either side of a diagonal, on neutral grey.

use super::{LETTER_MM, grey_paint, ink_on, screen_paint};
use crate::words::{bounded, lab, plain};
use ink::palette::{GREY, INK, hair};
use ink::{Anchor, Face, Figure, fits_mm};

/// Side of a grey plate, mm.
const PLATE_MM: f64 = 36.0;
/// Side of a chip, mm.
const CHIP_MM: f64 = 22.0;

/// The wanted colour above the diagonal, a recipe's prediction below it; once on a grey of L* 50, once on a grey of its own lightness.
/// `name`: what the prediction is, in a few words; `difference`: CIEDE2000 and its 95 % bound.
pub fn chips(wanted: [f64; 3], predicted: [f64; 3], name: &str, difference: [f64; 2], width_mm: f64) -> Option<Figure> {
    if wanted.iter().chain(&predicted).any(|v| !v.is_finite()) {
        return None;
    }
    let description = format!(
        "Wanted {}; predicted {}; difference {} (CIEDE2000), in 95 of 100 cases below {}.",
        lab(wanted),
        lab(predicted),
        plain(difference[0], 1),
        plain(difference[1], 1)
    );
    let mut figure = Figure::new(width_mm, PLATE_MM + 1.0, format!("Wanted colour against {}", bounded(name, 80)), description);
    for (n, ground) in [50.0, wanted[0]].into_iter().enumerate() {
        let at = [0.5 + n as f64 * (PLATE_MM + 3.0), 0.5];
        plate(&mut figure, at, ground);
        let corner = [at[0] + (PLATE_MM - CHIP_MM) / 2.0, at[1] + 4.0];
        // The wanted colour lies on the predicted one, so that nothing of the plate shines through where they meet.
        figure.rect(corner, [CHIP_MM, CHIP_MM], None, Some(screen_paint(predicted).0));
        figure.polygon(&[corner, [corner[0] + CHIP_MM, corner[1]], [corner[0], corner[1] + CHIP_MM]], screen_paint(wanted).0);
    }
    let (x, y) = if width_mm > 120.0 { (2.0 * PLATE_MM + 10.0, 3.0) } else { (0.5, PLATE_MM + 3.0) };
    let shown = screen_paint(wanted).1 || screen_paint(predicted).1;
    numbers(&mut figure, [x, y], wanted, predicted, name, difference, shown);
    Some(figure)
}

fn numbers(figure: &mut Figure, [x, y]: [f64; 2], wanted: [f64; 3], predicted: [f64; 3], name: &str, difference: [f64; 2], outside: bool) {
    let room = figure.width_mm - x;
    let mut row = y;
    let mut say = |face: Face, paint, text: String| {
        row += 5.0;
        figure.text([x, row], LETTER_MM, face, Anchor::Start, paint, fits_mm(face, LETTER_MM, room, &text));
    };
    for line in ink::wrap_mm(Face::Bold, LETTER_MM, room, &bounded(name, 120)).into_iter().take(3) {
        say(Face::Bold, INK, line);
    }
    say(Face::Figures, INK, format!("wanted  {}", lab(wanted)));
    say(Face::Figures, INK, format!("predicted  {}", lab(predicted)));
    say(Face::Figures, INK, format!("CIEDE2000  {}, in 95 of 100 below {}", plain(difference[0], 1), plain(difference[1], 1)));
    say(Face::Text, GREY, "Upper left wanted, lower right predicted.".into());
    say(Face::Text, GREY, "Light D65, 2\u{b0} observer.".into());
    if outside {
        say(Face::Text, GREY, "A screen can't show this colour; shown with less chroma".into());
    }
    figure.height_mm = figure.height_mm.max(row + 2.0);
}

fn plate(figure: &mut Figure, at: [f64; 2], lightness: f64) {
    figure.rect(at, [PLATE_MM, PLATE_MM], Some(hair(GREY)), Some(grey_paint(lightness)));
    let label = format!("on L* {}", plain(lightness, 0));
    figure.text([at[0] + PLATE_MM / 2.0, at[1] + PLATE_MM - 3.0], LETTER_MM, Face::Figures, Anchor::Middle, ink_on(lightness), label);
}

/// The wanted colour alone, on both greys, with the range of its doubt as four small chips lighter, darker, and one sigma round in a* and b*.
pub fn target_chip(wanted: [f64; 3], sigma: [f64; 3], width_mm: f64) -> Option<Figure> {
    if wanted.iter().chain(&sigma).any(|v| !v.is_finite()) {
        return None;
    }
    let description = format!(
        "The wanted colour, {}, on a grey of L* 50 and on a grey of its own lightness; beside it the colours two sigma away.",
        lab(wanted)
    );
    let mut figure = Figure::new(width_mm, PLATE_MM + 1.0, "The wanted colour", description);
    for (n, ground) in [50.0, wanted[0]].into_iter().enumerate() {
        let at = [0.5 + n as f64 * (PLATE_MM + 3.0), 0.5];
        plate(&mut figure, at, ground);
        figure.rect([at[0] + (PLATE_MM - CHIP_MM) / 2.0, at[1] + 4.0], [CHIP_MM, CHIP_MM], None, Some(screen_paint(wanted).0));
    }
    let wide = width_mm > 120.0;
    let (x, y) = if wide { (2.0 * PLATE_MM + 10.0, 0.5) } else { (0.5, PLATE_MM + 4.0) };
    let (cell, top) = (11.0, y + 5.5);
    figure.text([x, y + 3.2], LETTER_MM, Face::Text, Anchor::Start, GREY, "Two sigma to either side of it:");
    for (row, (name, k)) in [("L*", 0), ("a*", 1), ("b*", 2)].into_iter().enumerate() {
        let cy = top + row as f64 * (cell - 0.6);
        figure.text([x, cy + 6.4], LETTER_MM, Face::Figures, Anchor::Start, INK, name);
        // Each chip reaches a little under the next, so that no ground shows between them.
        for step in 0..3 {
            let mut shade = wanted;
            shade[k] += 2.0 * (f64::from(step) - 1.0) * sigma[k];
            figure.rect(
                [x + 7.0 + f64::from(step) * 18.0, cy],
                [if step < 2 { 18.2 } else { 18.0 }, cell - if row < 2 { 0.3 } else { 0.6 }],
                None,
                Some(screen_paint(shade).0),
            );
        }
    }
    figure.height_mm = figure.height_mm.max(top + 3.0 * (cell - 0.6) + 0.5);
    Some(figure)
}
