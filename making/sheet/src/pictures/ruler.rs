//! A size on a rule: millimetres along the top edge, inches along the bottom; the measured size stands on it as a bell, round sizes as blades as
//! high as their odds.

use super::{LETTER_MM, SMALL_MM, multiples, places_for, round_step};
use crate::words::{doubted, percent, plain};
use ink::palette::{BLUE, BRICK, GREY, INK, SHADE, hair, outline};
use ink::{Anchor, Face, Figure, Paint, Stroke, polygon_steps, text_width_mm};
use result::{Candidate, Dimension};

/// Height of a blade whose odds are certain, and of the bell, mm.
const FULL_MM: f64 = 14.0;
/// Thickness of the rule, mm.
const RULE_MM: f64 = 10.0;
/// Most labels; the rest of the blades stand without.
const MOST_LABELS: usize = 5;
/// Height of the row of labels with room for its leaders, mm.
const LABEL_ROW_MM: f64 = 8.0;
/// Between two labels, mm.
const LABEL_GAP_MM: f64 = 4.0;

/// The ruler of one size. `decided`: the person chose it, rather than the odds.
pub fn ruler(size: &Dimension, decided: bool, width_mm: f64) -> Option<Figure> {
    if !(size.value_mm.is_finite() && size.sigma_mm.is_finite() && size.value_mm.abs() < 1e6) {
        return None;
    }
    let scale = Scale::around(size, width_mm);
    let labels = place_labels(size, decided, &scale);
    let edge_y = if labels.is_empty() { 0.5 } else { LABEL_ROW_MM } + FULL_MM;
    let mut figure = Figure::new(width_mm, edge_y + RULE_MM + 1.0, format!("{} on a rule", size.name), describe(size));
    graduate(&mut figure, &scale, edge_y);
    bell(&mut figure, size, &scale, edge_y);
    for candidate in round_ones(size).filter(|c| c.odds > 0.002 && scale.holds(c.mm)) {
        blade(&mut figure, candidate, paint_of(size, candidate, decided), &scale, edge_y);
    }
    for label in &labels {
        // A leader from the words down to the blade, bent where the words had to give way.
        let over = label.at.clamp(label.left + 1.0, (label.left + label.wide - 1.0).max(label.left + 1.0));
        let leader = [[over, 4.6], [label.at, 7.4], [label.at, edge_y - label.height - 0.3]];
        figure.polyline(&leader, hair(label.paint).width(0.15));
        figure.text([label.left, 3.4], LETTER_MM, face_of(label.used), Anchor::Start, label.paint, label.text.clone());
    }
    Some(figure)
}

/// From millimetres of the size to millimetres of the sheet.
struct Scale {
    low: f64,
    high: f64,
    width_mm: f64,
}

impl Scale {
    /// Wide enough for the bell, for all likely round sizes, and for one sixteenth of an inch at least.
    fn around(size: &Dimension, width_mm: f64) -> Scale {
        let mut half = (5.0 * size.sigma_mm.abs()).clamp(0.8, 1e5);
        for candidate in
            round_ones(size).filter(|c| c.odds > 0.01).chain(size.candidates.iter().filter(|c| size.chosen.as_ref() == Some(&c.label)))
        {
            half = half.max(((candidate.mm - size.value_mm).abs() * 1.15).min(20.0 * half));
        }
        Scale { low: size.value_mm - half, high: size.value_mm + half, width_mm }
    }

    fn x(&self, mm: f64) -> f64 {
        1.0 + (mm - self.low) / (self.high - self.low) * (self.width_mm - 2.0)
    }

    fn holds(&self, mm: f64) -> bool {
        mm.is_finite() && mm > self.low && mm < self.high
    }
}

/// Candidates that are sizes at all: "not round" has no place on a rule.
fn round_ones(size: &Dimension) -> impl Iterator<Item = &Candidate> {
    size.candidates.iter().take(60).filter(|c| c.mm.is_finite() && c.odds.is_finite() && c.label != "not round")
}

fn describe(size: &Dimension) -> String {
    let mut text = format!("Measured {} mm.", doubted(size.value_mm, size.sigma_mm));
    for candidate in size.candidates.iter().filter(|c| c.odds.is_finite()).take(3) {
        text.push_str(&format!(" {}: {}.", candidate.label, percent(candidate.odds)));
    }
    if let Some(chosen) = &size.chosen {
        text.push_str(&format!(" Taken: {chosen}."));
    }
    text
}

fn graduate(figure: &mut Figure, scale: &Scale, edge_y: f64) {
    let (left, right) = (scale.x(scale.low), scale.x(scale.high));
    figure.rect([left, edge_y], [right - left, RULE_MM], None, Some(SHADE));
    figure.line([left, edge_y], [right, edge_y], outline(INK).width(0.35));
    figure.line([left, edge_y + RULE_MM], [right, edge_y + RULE_MM], outline(INK).width(0.35));
    let span = scale.high - scale.low;
    let step = round_step(span, (right - left) / 14.0);
    for mm in multiples(scale.low, scale.high, step / 10.0) {
        let tenth = (mm / step * 10.0).round() as i64;
        let length = if tenth % 10 == 0 {
            1.7
        } else if tenth % 5 == 0 {
            1.3
        } else {
            0.8
        };
        figure.line([scale.x(mm), edge_y], [scale.x(mm), edge_y + length], hair(INK).width(0.18));
        let text = plain(mm, places_for(step));
        let half = text_width_mm(Face::Figures, SMALL_MM, &text) / 2.0;
        if tenth % 10 == 0 && scale.x(mm) - half > left + 7.5 && scale.x(mm) + half < right - 0.5 {
            figure.text([scale.x(mm), edge_y + 4.1], SMALL_MM, Face::Figures, Anchor::Middle, INK, text);
        }
    }
    inches(figure, scale, edge_y + RULE_MM, [left, right]);
    figure.text([left + 0.8, edge_y + 4.1], SMALL_MM, Face::Text, Anchor::Start, GREY, "mm");
    figure.text([left + 0.8, edge_y + RULE_MM - 2.4], SMALL_MM, Face::Text, Anchor::Start, GREY, "in");
}

/// Inch graduations by halving: labelled as finely as labels fit, ticked two halvings finer.
fn inches(figure: &mut Figure, scale: &Scale, edge_y: f64, [left, right]: [f64; 2]) {
    const MM_PER_INCH: f64 = 25.4;
    let span = (scale.high - scale.low) / MM_PER_INCH;
    // A rule has no finer labels than sixty-fourths.
    let mut parts = 1u32;
    while parts < 64 && f64::from(parts * 2) * span < (right - left) / 17.0 {
        parts *= 2;
    }
    let labelled = 1.0 / f64::from(parts);
    let step = if span * f64::from(parts) > 20.0 { round_step(span, 8.0) } else { labelled };
    for inch in multiples(scale.low / MM_PER_INCH, scale.high / MM_PER_INCH, step / 4.0) {
        let x = scale.x(inch * MM_PER_INCH);
        let quarter = (inch / step * 4.0).round() as i64;
        let length = if quarter % 4 == 0 {
            1.7
        } else if quarter % 2 == 0 {
            1.3
        } else {
            0.8
        };
        figure.line([x, edge_y], [x, edge_y - length], hair(INK).width(0.18));
        let text = inch_words(inch, parts);
        let half = text_width_mm(Face::Figures, SMALL_MM, &text) / 2.0;
        if quarter % 4 == 0 && x - half > left + 7.5 && x + half < right - 0.5 {
            figure.text([x, edge_y - 2.4], SMALL_MM, Face::Figures, Anchor::Middle, INK, text);
        }
    }
}

/// "1 1/4" from 1.25 in parts of a power of two.
fn inch_words(inch: f64, parts: u32) -> String {
    let sign = if inch < -1e-9 { "\u{2212}" } else { "" };
    let count = (inch.abs() * f64::from(parts)).round() as u64;
    let (whole, mut part, mut of) = (count / u64::from(parts), count % u64::from(parts), u64::from(parts));
    while part > 0 && part % 2 == 0 {
        part /= 2;
        of /= 2;
    }
    match (whole, part) {
        (whole, 0) => format!("{sign}{whole}"),
        (0, part) => format!("{sign}{part}/{of}"),
        (whole, part) => format!("{sign}{whole} {part}/{of}"),
    }
}

/// The measured size: a bell over +-4 sigma, its full height however narrow.
fn bell(figure: &mut Figure, size: &Dimension, scale: &Scale, edge_y: f64) {
    let sigma = size.sigma_mm.abs();
    let height = FULL_MM * 0.8;
    if sigma * 8.0 / (scale.high - scale.low) * scale.width_mm < 0.5 {
        figure.line([scale.x(size.value_mm), edge_y], [scale.x(size.value_mm), edge_y - height], outline(GREY));
        return;
    }
    let points: Vec<[f64; 2]> = (-40..=40)
        .map(|n| f64::from(n) / 10.0)
        .map(|t| [scale.x(size.value_mm + t * sigma), edge_y - height * (-0.5 * t * t).exp()])
        .filter(|p| p[0] >= scale.x(scale.low) && p[0] <= scale.x(scale.high))
        .collect();
    let (Some(first), Some(last)) = (points.first(), points.last()) else { return };
    let closed: Vec<[f64; 2]> = [[first[0], edge_y]].into_iter().chain(points.iter().copied()).chain([[last[0], edge_y]]).collect();
    figure.path(polygon_steps(&closed), None, Some(INK.thin(0.13)));
    figure.polyline(&points, hair(GREY));
}

fn blade(figure: &mut Figure, candidate: &Candidate, paint: Paint, scale: &Scale, edge_y: f64) {
    let x = scale.x(candidate.mm);
    figure.line([x, edge_y], [x, edge_y - blade_height(candidate)], Stroke::full(paint, 0.9));
}

fn blade_height(candidate: &Candidate) -> f64 {
    (FULL_MM * candidate.odds.clamp(0.0, 1.0)).max(0.4)
}

fn is_used(size: &Dimension, candidate: &Candidate) -> bool {
    size.chosen.as_ref() == Some(&candidate.label)
}

fn paint_of(size: &Dimension, candidate: &Candidate, decided: bool) -> Paint {
    match (is_used(size, candidate), decided) {
        (true, _) if crate::stations::is_contradicted(size) => BRICK,
        (true, true) => BLUE,
        (true, false) => INK,
        (false, _) => GREY,
    }
}

struct Label {
    /// Where its blade stands, mm.
    at: f64,
    /// Where its words start, and how wide they run.
    left: f64,
    wide: f64,
    height: f64,
    used: bool,
    paint: Paint,
    text: String,
}

/// Labels in one row in the order of their sizes, each as near its blade as its neighbours let it; the likeliest first where not all have room.
fn place_labels(size: &Dimension, decided: bool, scale: &Scale) -> Vec<Label> {
    let mut shown: Vec<&Candidate> = round_ones(size).filter(|c| scale.holds(c.mm) && (c.odds >= 0.01 || is_used(size, c))).collect();
    shown.sort_by(|a, b| is_used(size, b).cmp(&is_used(size, a)).then(b.odds.total_cmp(&a.odds)));
    let mut labels: Vec<Label> = Vec::new();
    let mut room = scale.width_mm;
    for candidate in shown.into_iter().take(MOST_LABELS) {
        let label = label_of(size, candidate, decided, scale);
        room -= label.wide + LABEL_GAP_MM;
        if room < 0.0 && !labels.is_empty() {
            break;
        }
        labels.push(label);
    }
    labels.sort_by(|a, b| a.at.total_cmp(&b.at));
    spread(&mut labels, scale.width_mm);
    labels
}

fn label_of(size: &Dimension, candidate: &Candidate, decided: bool, scale: &Scale) -> Label {
    let used = is_used(size, candidate);
    let role = match (used, decided) {
        (true, _) if crate::stations::is_contradicted(size) => ", against the photos",
        (true, true) => ", your choice",
        (true, false) => ", taken",
        (false, _) => "",
    };
    let text = format!("{}  {}{role}", crate::words::bounded(&candidate.label, 24), percent(candidate.odds));
    let wide = text_width_mm(face_of(used), LETTER_MM, &text);
    let at = scale.x(candidate.mm);
    Label { at, left: at - wide / 2.0, wide, height: blade_height(candidate), used, paint: paint_of(size, candidate, decided), text }
}

fn face_of(used: bool) -> Face {
    if used { Face::Bold } else { Face::Figures }
}

/// Moves labels apart, then back onto the picture: once to the right, once to the left.
fn spread(labels: &mut [Label], width_mm: f64) {
    // A crowd gives way to both sides: where a label overlaps the one before, both move by half.
    for _ in 0..40 {
        for n in 1..labels.len() {
            let overlap = labels[n - 1].left + labels[n - 1].wide + LABEL_GAP_MM - labels[n].left;
            if overlap > 0.0 {
                labels[n - 1].left -= overlap / 2.0;
                labels[n].left += overlap / 2.0;
            }
        }
    }
    let mut free = 0.0f64;
    for label in labels.iter_mut() {
        label.left = label.left.max(free);
        free = label.left + label.wide + LABEL_GAP_MM;
    }
    let mut free = width_mm;
    for label in labels.iter_mut().rev() {
        label.left = label.left.min(free - label.wide);
        free = label.left - LABEL_GAP_MM;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use ink::Mark;

    fn size(candidates: &[(&str, f64, f64)], value: f64, sigma: f64) -> Dimension {
        Dimension {
            name: "overall length".into(),
            kind: "length".into(),
            z_mm: [0.0, value],
            value_mm: value,
            sigma_mm: sigma,
            candidates: candidates.iter().map(|(label, mm, odds)| Candidate { label: (*label).into(), mm: *mm, odds: *odds }).collect(),
            chosen: candidates.first().map(|c| c.0.to_string()),
            used_mm: value,
            against_sigmas: None,
            source: "photos".into(),
        }
    }

    /// Left, right, top and bottom of every line of type.
    fn boxes(figure: &Figure) -> Vec<[f64; 4]> {
        figure
            .marks
            .iter()
            .filter_map(|mark| match mark {
                Mark::Text { at, size_mm, anchor, face, text, .. } => {
                    let wide = text_width_mm(*face, *size_mm, text);
                    let left = match anchor {
                        Anchor::Start => at[0],
                        Anchor::Middle => at[0] - wide / 2.0,
                        Anchor::End => at[0] - wide,
                    };
                    Some([left, left + wide, at[1] - 0.6 * size_mm, at[1]])
                }
                _ => None,
            })
            .collect()
    }

    #[test]
    fn no_two_words_overlap_and_all_stay_on_the_picture() {
        let crowds = [
            size(
                &[
                    ("31.7 mm", 31.7, 0.3),
                    ("31.75 mm", 31.75, 0.25),
                    ("1 1/4 in", 31.75, 0.2),
                    ("31.8 mm", 31.8, 0.15),
                    ("31.6 mm", 31.6, 0.05),
                    ("31.5 mm", 31.5, 0.04),
                ],
                31.7,
                0.06,
            ),
            size(&[("6 mm", 6.0, 0.5), ("1/4 in", 6.35, 0.4)], 6.2, 0.2),
            size(&[("1000 mm", 1000.0, 0.9)], 1000.2, 0.4),
            size(&[], 3.0, 0.01),
            size(&[("0.5 mm", 0.5, 1.0)], 0.5, 0.0),
        ];
        for crowd in &crowds {
            for width in [super::super::WIDE_MM, super::super::NARROW_MM] {
                let figure = ruler(crowd, false, width).unwrap_or_else(|| panic!("{} can be drawn", crowd.value_mm));
                let boxes = boxes(&figure);
                for (n, a) in boxes.iter().enumerate() {
                    assert!(a[0] >= -0.01 && a[1] <= width + 0.01 && a[2] >= 0.0 && a[3] <= figure.height_mm, "{a:?} on {width}");
                    for b in &boxes[n + 1..] {
                        assert!(
                            a[1] <= b[0] || b[1] <= a[0] || a[3] <= b[2] || b[3] <= a[2],
                            "{a:?} {b:?} at {} on {width}",
                            crowd.value_mm
                        );
                    }
                }
            }
        }
    }

    #[test]
    fn inch_labels_are_in_lowest_terms() {
        assert_eq!(inch_words(1.25, 64), "1 1/4");
        assert_eq!(inch_words(0.875, 8), "7/8");
        assert_eq!(inch_words(2.0, 16), "2");
    }

    #[test]
    fn nonsense_draws_nothing() {
        assert!(ruler(&size(&[], f64::NAN, 0.1), false, 150.0).is_none());
        assert!(ruler(&size(&[("x", f64::INFINITY, f64::NAN)], 3.0, 1e300), false, 150.0).is_some());
    }
}
