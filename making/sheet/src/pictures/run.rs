//! The run: the plate from above, and the chance of enough good parts against the number started.

use super::{LETTER_MM, SMALL_MM, multiples, round_step};
use crate::words::{count, percent, plain};
use ink::palette::{GREY, INK, RULE, SHADE, chain, dashed, hair, outline};
use ink::{Anchor, Face, Figure};
use result::RunResult;

/// Most places that are drawn.
const MOST_PLACES: usize = 500;

/// The fullest plate seen from above. `None` without a plate or places on it.
pub fn plate(run: &RunResult, width_mm: f64) -> Option<Figure> {
    if run.places_mm.is_empty() {
        return None;
    }
    let size = run.plate_mm.filter(|size| size.iter().all(|v| v.is_finite() && *v > 0.1 && *v < 1e5))?;
    let scale = ((width_mm - 12.0) / size[0]).min(70.0 / size[1]);
    let at = [10.0, 1.0];
    let text = format!(
        "The plate, {} by {} mm, seen from above with {} in place.",
        plain(size[0], 0),
        plain(size[1], 0),
        count(run.places_mm.len(), "part")
    );
    let mut figure = Figure::new(width_mm, size[1] * scale + 8.0, "The plate from above", text);
    figure.rect(at, [size[0] * scale, size[1] * scale], Some(outline(INK)), Some(SHADE));
    let radius = run.footprint_mm.filter(|d| d.is_finite() && *d > 0.0).unwrap_or(2.0) / 2.0 * scale;
    let places = run.places_mm.iter().filter(|p| p.iter().all(|v| v.is_finite())).take(MOST_PLACES);
    for (n, place) in places.enumerate() {
        let centre = [at[0] + place[0] * scale, at[1] + (size[1] - place[1]) * scale];
        figure.circle(centre, radius, Some(hair(INK)), Some(ink::palette::PAPER));
        if radius > 2.2 {
            figure.text([centre[0], centre[1] + 1.0], SMALL_MM, Face::Figures, Anchor::Middle, GREY, (n + 1).to_string());
        } else {
            figure.cross(centre, (radius * 0.5).min(0.8), hair(GREY).width(0.15));
        }
    }
    figure.text(
        [at[0] + size[0] * scale / 2.0, size[1] * scale + 5.6],
        LETTER_MM,
        Face::Figures,
        Anchor::Middle,
        GREY,
        format!("{} mm", plain(size[0], 0)),
    );
    figure.turned_text(
        [6.5, at[1] + size[1] * scale / 2.0],
        -90.0,
        LETTER_MM,
        Face::Figures,
        Anchor::Middle,
        GREY,
        format!("{} mm", plain(size[1], 0)),
    );
    Some(figure)
}

/// Steps: the chance of at least as many good parts as wanted, for each number started.
pub fn chance_curve(run: &RunResult, width_mm: f64) -> Option<Figure> {
    let curve: Vec<(u32, f64)> = run.curve.iter().copied().filter(|(_, chance)| chance.is_finite()).take(600).collect();
    let ((first, _), (last, _)) = (curve.first()?, curve.last()?);
    let span = f64::from(last.saturating_sub(*first)) + 1.0;
    let (left, top, height) = (13.0, 3.0, 44.0);
    let room = width_mm - left - 3.0;
    let x = |started: f64| left + (started - f64::from(*first)) / span * room;
    let y = |chance: f64| top + (1.0 - chance.clamp(0.0, 1.0)) * height;
    let text = format!("Starting {} gives enough good parts with a chance of {}.", run.start, percent(run.chance));
    let mut figure = Figure::new(width_mm, top + height + 9.5, "Chance of enough good parts", text);
    for chance in [0.0, 0.25, 0.5, 0.75, 1.0] {
        figure.line([left, y(chance)], [left + room, y(chance)], if chance == 0.0 { hair(INK) } else { hair(RULE).width(0.15) });
        figure.text([left - 1.5, y(chance) + 1.0], SMALL_MM, Face::Columns, Anchor::End, GREY, format!("{} %", plain(chance * 100.0, 0)));
    }
    let mut steps = Vec::new();
    for (started, chance) in &curve {
        steps.push([x(f64::from(*started)), y(*chance)]);
        steps.push([x(f64::from(*started) + 1.0), y(*chance)]);
    }
    figure.polyline(&steps, outline(INK));
    for started in multiples(f64::from(*first), f64::from(*last), round_step(span, room / 12.0).max(1.0)) {
        figure.text([x(started + 0.5), top + height + 4.0], SMALL_MM, Face::Figures, Anchor::Middle, GREY, plain(started, 0));
    }
    if run.start >= *first && run.start <= *last {
        let (at, chance) = (x(f64::from(run.start) + 0.5), y(run.chance));
        figure.line([at, top + height], [at, chance], chain(INK));
        figure.line([left, chance], [at, chance], dashed(INK));
        figure.circle([at, chance], 1.2, Some(outline(INK)), Some(ink::palette::PAPER));
        // Right of the line and at its foot the steps never come; where there is no room, left of it they seldom do.
        let words = format!("start {}: {}", run.start, percent(run.chance));
        let roomy = at + 2.4 + ink::text_width_mm(Face::Figures, LETTER_MM, &words) < left + room;
        let (anchor, shift) = if roomy { (Anchor::Start, 2.4) } else { (Anchor::End, -2.4) };
        figure.text([at + shift, top + height - 2.5], LETTER_MM, Face::Figures, anchor, INK, words);
    }
    figure.text([left + room, top + height + 8.4], LETTER_MM, Face::Text, Anchor::End, GREY, "parts started");
    Some(figure)
}
