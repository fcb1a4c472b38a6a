//! The few colours of the sheet: paper, ink, and what stands out from it.
//!
//! Contrast on [`PAPER`] by the formula of WCAG 2.2 is tested: text colours at least 4.5 to 1.

use crate::mark::{Paint, Stroke};

/// Off-white paper.
pub const PAPER: Paint = Paint::solid([248, 245, 238]);
/// Paper in shade: bars, grounds of tables.
pub const SHADE: Paint = Paint::solid([236, 231, 220]);
/// Near-black ink.
pub const INK: Paint = Paint::solid([30, 28, 26]);
/// Thinned ink: second voice, still read as text.
pub const GREY: Paint = Paint::solid([95, 90, 82]);
/// Ruling: lines that only part things.
pub const RULE: Paint = Paint::solid([196, 189, 175]);
/// What the user decides.
pub const BLUE: Paint = Paint::solid([33, 68, 130]);
/// Contradictions.
pub const BRICK: Paint = Paint::solid([150, 58, 38]);

/// Width of thin lines, mm.
pub const HAIRLINE_MM: f64 = 0.25;
/// Width of outlines, mm.
pub const OUTLINE_MM: f64 = 0.5;

/// The colours by the names that a style sheet may set (`--ink` and so on), for screens that change them at night.
pub const NAMED: [([u8; 3], &str); 7] = [
    (PAPER.srgb, "--paper"),
    (SHADE.srgb, "--shade"),
    (INK.srgb, "--ink"),
    (GREY.srgb, "--grey"),
    (RULE.srgb, "--rule"),
    (BLUE.srgb, "--blue"),
    (BRICK.srgb, "--brick"),
];

/// A hairline.
pub fn hair(paint: Paint) -> Stroke {
    Stroke::full(paint, HAIRLINE_MM)
}

/// An outline.
pub fn outline(paint: Paint) -> Stroke {
    Stroke::full(paint, OUTLINE_MM)
}

/// A centre line: long dash, short dash, hairline (line type 04.1 of ISO 128-2 in its proportions).
pub fn chain(paint: Paint) -> Stroke {
    Stroke { paint, width_mm: HAIRLINE_MM, dash_mm: vec![6.0, 0.75, 0.12, 0.75] }
}

/// A dashed hairline: what is not seen.
pub fn dashed(paint: Paint) -> Stroke {
    Stroke { paint, width_mm: HAIRLINE_MM, dash_mm: vec![1.5, 0.75] }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Relative luminance and contrast after WCAG 2.2, "relative luminance", "contrast ratio".
    fn contrast(a: Paint, b: Paint) -> f64 {
        let linear = |v: u8| {
            let share = f64::from(v) / 255.0;
            if share <= 0.04045 { share / 12.92 } else { ((share + 0.055) / 1.055).powf(2.4) }
        };
        let luminance = |p: Paint| 0.2126 * linear(p.srgb[0]) + 0.7152 * linear(p.srgb[1]) + 0.0722 * linear(p.srgb[2]);
        let (light, dark) = (luminance(a).max(luminance(b)), luminance(a).min(luminance(b)));
        (light + 0.05) / (dark + 0.05)
    }

    #[test]
    fn text_stands_out_from_paper_and_shade() {
        for ground in [PAPER, SHADE] {
            for text in [INK, GREY, BLUE, BRICK] {
                assert!(contrast(ground, text) >= 4.5, "{text:?} on {ground:?}: {}", contrast(ground, text));
            }
        }
    }
}
