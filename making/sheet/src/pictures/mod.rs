//! The pictures of the sheet: each one file, each an [`ink::Figure`], each bounded in size whatever comes in.

mod chips;
mod furniture;
mod ladders;
mod learning;
mod lights;
mod made;
mod photo;
mod pot;
mod profile;
mod regions;
mod ruler;
mod run;

pub use chips::{chips, target_chip};
pub use furniture::{Cartouche, projection_symbol, state_sign, title_block};
pub use ladders::ladder;
pub use learning::learning;
pub use lights::{LightRow, age_path, under_lights};
pub use made::{MadeChip, made_chips};
pub use photo::{loupe_times, photo};
pub use pot::pot;
pub(crate) use profile::meant_line;
pub use profile::{deviation, profile};
pub use regions::regions;
pub use ruler::ruler;
pub use run::{chance_curve, plate};

use ink::{Anchor, Face, Figure, Paint, Stroke, text_width_mm};

/// Width of a picture on paper and on wide screens, mm.
pub const WIDE_MM: f64 = 150.0;
/// Width of a picture on a screen as narrow as a hand, mm.
pub const NARROW_MM: f64 = 88.0;
/// Size of lettering in pictures, mm (the em; capitals are 0.52 of it high in Bench Figures).
pub(crate) const LETTER_MM: f64 = 3.2;
/// Size of small lettering in pictures, mm.
pub(crate) const SMALL_MM: f64 = 2.8;
/// Most points of one curve that are drawn; at 150 mm that is four a millimetre.
const MOST_POINTS: usize = 600;

/// At most [`MOST_POINTS`] of a list, evenly taken, the last one kept; those that are not finite dropped.
pub(crate) fn thinned(points: &[[f64; 2]]) -> Vec<[f64; 2]> {
    let step = points.len().div_ceil(MOST_POINTS).max(1);
    let mut kept: Vec<[f64; 2]> = points.iter().step_by(step).copied().collect();
    if step > 1 {
        kept.extend(points.last());
    }
    kept.retain(|p| p.iter().all(|v| v.is_finite()));
    kept
}

/// The step of 1, 2 or 5 times a power of ten that gives at most `most` parts of `span`.
pub(crate) fn round_step(span: f64, most: f64) -> f64 {
    let rough = (span / most).max(1e-9);
    let power = 10f64.powf(rough.log10().floor());
    [1.0, 2.0, 5.0, 10.0].into_iter().map(|m| m * power).find(|step| *step >= rough * (1.0 - 1e-9)).unwrap_or(10.0 * power)
}

/// Decimals that a step needs to be written.
pub(crate) fn places_for(step: f64) -> usize {
    (-(step.log10() + 1e-9).floor()).clamp(0.0, 6.0) as usize
}

/// Multiples of `step` from `low` to `high`, at most a thousand.
pub(crate) fn multiples(low: f64, high: f64, step: f64) -> Vec<f64> {
    let first = (low / step - 1e-9).ceil();
    let count = ((high / step + 1e-9).floor() - first + 1.0).clamp(0.0, 1000.0) as usize;
    (0..count).map(|n| (first + n as f64) * step).collect()
}

/// A sample of how something is drawn, for the legend.
pub(crate) enum Key {
    Line(Stroke),
    Patch(Paint),
    Cross(Stroke),
}

/// Line samples with their names, in rows below `top`; returns the height used, mm.
pub(crate) fn legend(figure: &mut Figure, left: f64, top: f64, width: f64, keys: &[(Key, &str)]) -> f64 {
    const SAMPLE: f64 = 7.0;
    const ROW: f64 = 4.6;
    let (mut x, mut y) = (left, top + 3.0);
    for (key, name) in keys {
        let wide = SAMPLE + 1.5 + text_width_mm(Face::Text, LETTER_MM, name) + 4.0;
        if x > left && x + wide - 4.0 > left + width {
            x = left;
            y += ROW;
        }
        let middle = y - 1.1;
        match key {
            Key::Line(stroke) => figure.line([x, middle], [x + SAMPLE, middle], stroke.clone()),
            Key::Patch(paint) => figure.rect([x, middle - 1.2], [SAMPLE, 2.4], None, Some(*paint)),
            Key::Cross(stroke) => figure.cross([x + SAMPLE / 2.0, middle], 1.5, stroke.clone()),
        }
        figure.text([x + SAMPLE + 1.5, y], LETTER_MM, Face::Text, Anchor::Start, ink::palette::GREY, *name);
        x += wide;
    }
    y + 1.6 - top
}

/// What a colour looks like on a screen, and whether the screen can show it.
pub(crate) fn screen_paint(lab: [f64; 3]) -> (Paint, bool) {
    let screen = cie::screen(cie::Lab { l: lab[0], a: lab[1], b: lab[2] });
    (Paint::solid(screen.rgb), screen.out_of_gamut)
}

/// A neutral grey of a lightness.
pub(crate) fn grey_paint(lightness: f64) -> Paint {
    screen_paint([if lightness.is_finite() { lightness.clamp(0.0, 100.0) } else { 50.0 }, 0.0, 0.0]).0
}

/// Black or white, whichever is read better on a ground of that lightness; fixed, as the ground does not change at night either.
pub(crate) fn ink_on(lightness: f64) -> Paint {
    if lightness < 50.0 { Paint::solid([255, 255, 255]) } else { Paint::solid([20, 19, 18]) }
}
