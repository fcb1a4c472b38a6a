//! The maker's mark: letters set on a face, in a ring round a bore or in a line without one.

use super::super::Says;
use ink::{Face, LetterLines, letter_lines};
use job::document::{self, MarkPlace};
use result::JobResult;
use solid::{Body, Mark};
use std::f64::consts::{FRAC_PI_2, TAU};

/// Capitals of the face that marks are cut in stand 736/1024 em high.
const EM_OF_CAPITALS: f64 = 1024.0 / 736.0;
/// Height and depth where the document does not say, mm: lines 0.4 mm deep (`printing_rules` of the trade tables).
const USUAL_HEIGHT_MM: f64 = 2.0;
const USUAL_DEPTH_MM: f64 = 0.4;
/// Narrowest line that comes out engraved, mm (`printing_rules`).
const LEAST_LINE_MM: f64 = 0.4;
/// Rounds of letters are true to this, mm.
const CHORD_MM: f64 = 0.01;

/// The mark that is wanted, laid out on its face; `None` with a warning where it has none.
pub(super) fn mark(wanted: &document::Body, body: &Body, sheet: &mut JobResult) -> Option<Mark> {
    let mark = wanted.mark.as_ref()?;
    let on = match mark.on.unwrap_or_default() {
        MarkPlace::RodEnd => solid::MarkPlace::RodEnd,
        MarkPlace::FreeEnd => solid::MarkPlace::FreeEnd,
    };
    let mut left_out = |why: String, way_out: &str| {
        sheet.warn("body", None, format!("`mark` was left out: {why}"), way_out);
        None
    };
    let Some((_, inner_mm, outer_mm)) = body.end_face(on) else {
        return left_out("the face is not flat.".into(), "Choose the other end with `on`.");
    };
    let height_mm = mark.height.as_ref().map_or(USUAL_HEIGHT_MM, |height| height.mm);
    let letters: Option<Vec<LetterLines>> =
        letter_lines(Face::Figures, height_mm * EM_OF_CAPITALS, mark.text.trim(), CHORD_MM).into_iter().collect();
    let Some(letters) = letters else {
        return left_out("it has a letter that can't be cut.".into(), "Use plain letters and figures.");
    };
    let outlines_mm = if inner_mm > 0.0 {
        let radius_mm = 0.5 * (inner_mm + outer_mm);
        let width_mm: f64 = letters.iter().map(|letter| letter.advance_mm).sum();
        if width_mm > 0.92 * TAU * radius_mm {
            return left_out(
                format!("its letters run {width_mm:.1} mm, once round the face is {:.1} mm.", TAU * radius_mm),
                "Make it shorter or lower.",
            );
        }
        in_a_ring(&letters, radius_mm, height_mm)
    } else {
        in_a_line(&letters, height_mm)
    };
    let line_mm = line_width_mm(&letters);
    if line_mm < LEAST_LINE_MM {
        let needed = (height_mm * LEAST_LINE_MM / line_mm * 10.0).ceil() / 10.0;
        sheet.warn(
            "body",
            None,
            format!("The mark's lines are {line_mm:.2} mm wide; engraved lines want {LEAST_LINE_MM} mm."),
            format!("Make it {needed:.1} mm high, if the face allows."),
        );
    }
    if mark.depth.is_none() {
        sheet.assume("body", format!("The mark is cut {USUAL_DEPTH_MM} mm deep."), "[body] mark depth");
    }
    Some(Mark { text: mark.text.trim().into(), on, outlines_mm, depth_mm: mark.depth.as_ref().map_or(USUAL_DEPTH_MM, |depth| depth.mm) })
}

/// Letters upright round a circle through their middles, the text's middle at the top.
fn in_a_ring(letters: &[LetterLines], radius_mm: f64, height_mm: f64) -> Vec<Vec<[f64; 2]>> {
    let width_mm: f64 = letters.iter().map(|letter| letter.advance_mm).sum();
    let mut along = -0.5 * width_mm;
    let mut lines = Vec::new();
    for letter in letters {
        let angle = FRAC_PI_2 - (along + 0.5 * letter.advance_mm) / radius_mm;
        let (sin, cos) = angle.sin_cos();
        let place = |[x, y]: [f64; 2]| {
            let (across, out) = (x - 0.5 * letter.advance_mm, radius_mm - 0.5 * height_mm + y);
            [across * sin + out * cos, out * sin - across * cos]
        };
        lines.extend(letter.lines_mm.iter().map(|line| line.iter().map(|&at| place(at)).collect()));
        along += letter.advance_mm;
    }
    lines
}

/// Letters on a straight line through the axis.
fn in_a_line(letters: &[LetterLines], height_mm: f64) -> Vec<Vec<[f64; 2]>> {
    let mut along = -0.5 * letters.iter().map(|letter| letter.advance_mm).sum::<f64>();
    let mut lines = Vec::new();
    for letter in letters {
        lines.extend(letter.lines_mm.iter().map(|line| line.iter().map(|[x, y]| [x + along, y - 0.5 * height_mm]).collect()));
        along += letter.advance_mm;
    }
    lines
}

/// About how wide the lines of letters are: area over half the way round.
fn line_width_mm(letters: &[LetterLines]) -> f64 {
    let (mut twice_area, mut round) = (0.0, 0.0);
    for line in letters.iter().flat_map(|letter| &letter.lines_mm) {
        let next = |i: usize| line[(i + 1) % line.len()];
        twice_area += line.iter().enumerate().map(|(i, a)| a[0] * next(i)[1] - next(i)[0] * a[1]).sum::<f64>();
        round += line.iter().enumerate().map(|(i, a)| (next(i)[0] - a[0]).hypot(next(i)[1] - a[1])).sum::<f64>();
    }
    twice_area.abs() / round.max(1e-9)
}
