//! The learning curve: how well the best recipe was known after each chip.

use super::{LETTER_MM, SMALL_MM, multiples, places_for, round_step};
use crate::words::{bounded, plain};
use ink::palette::{BLUE, GREY, INK, RULE, dashed, hair, outline};
use ink::{Anchor, Face, Figure, fits_mm};
use result::LearningPoint;

const HEIGHT_MM: f64 = 42.0;
/// Most chips that are drawn, the last ones.
const MOST: usize = 40;

/// Bound at 95 % and predicted difference of the recipe over the chips, with the tolerance as a line.
pub fn learning(points: &[LearningPoint], tolerance: f64, width_mm: f64) -> Option<Figure> {
    let finite = |point: &&LearningPoint| point.de00.is_finite() && point.de00_95.is_finite();
    let points: Vec<&LearningPoint> = points.iter().filter(finite).collect();
    let points = &points[points.len().saturating_sub(MOST)..];
    let (first, last) = (points.first()?, points.last()?);
    if points.len() < 2 || !(tolerance.is_finite() && tolerance > 0.0) {
        return None;
    }
    let description = format!(
        "After {} chips the best recipe was known to be within {} CIEDE2000 of the target (95 in 100), after {} within {}. Tolerance {}.",
        first.chips,
        plain(first.de00_95, 1),
        last.chips,
        plain(last.de00_95, 1),
        plain(tolerance, 1)
    );
    let mut figure = Figure::new(width_mm, HEIGHT_MM + 17.0, "What each chip taught", description);
    let (left, top, right) = (12.0, 10.5, width_mm - 4.0);
    // Early bounds may be tens of units; what lies above the frame is cut at it, and said by its number.
    let most = points.iter().map(|p| p.de00_95).fold(0.0, f64::max).min(12.0 * tolerance).max(2.0 * tolerance);
    let y = |de00: f64| top + HEIGHT_MM * (1.0 - (de00 / most).clamp(0.0, 1.0));
    let x = |n: usize| left + (right - left) * (n as f64 + 0.5) / points.len() as f64;
    let step = round_step(most, 5.0);
    for level in multiples(0.0, most, step) {
        figure.line([left, y(level)], [right, y(level)], hair(RULE));
        figure.text([left - 1.5, y(level) + 1.0], SMALL_MM, Face::Figures, Anchor::End, GREY, plain(level, places_for(step)));
    }
    figure.line([left, y(tolerance)], [right, y(tolerance)], dashed(INK));
    figure.text([right, y(tolerance) - 1.0], SMALL_MM, Face::Text, Anchor::End, INK, format!("tolerance {}", plain(tolerance, 1)));
    for pair in 0..points.len() - 1 {
        let (a, b) = (points[pair], points[pair + 1]);
        figure.line([x(pair), y(a.de00_95)], [x(pair + 1), y(b.de00_95)], outline(INK));
        figure.line([x(pair), y(a.de00)], [x(pair + 1), y(b.de00)], hair(BLUE));
    }
    let room = (right - left) / points.len() as f64 - 1.0;
    for (n, point) in points.iter().enumerate() {
        figure.circle([x(n), y(point.de00_95)], 0.9, None, Some(INK));
        let at = y(point.de00_95) - 1.8;
        figure.text([x(n), at], SMALL_MM, Face::Figures, Anchor::Middle, INK, plain(point.de00_95, 1));
        let name = fits_mm(Face::Text, SMALL_MM, room.max(3.0), &bounded(&point.name, 40));
        figure.text([x(n), top + HEIGHT_MM + 4.0], SMALL_MM, Face::Text, Anchor::Middle, GREY, name);
    }
    figure.line([left, top + HEIGHT_MM], [right, top + HEIGHT_MM], hair(INK));
    figure.text([left, top - 7.0], LETTER_MM, Face::Text, Anchor::Start, GREY, "CIEDE2000: bound in 95 of 100 (black), predicted (blue)");
    Some(figure)
}
