//! Size lines, arrows, extension lines and letters, on paper.

use super::{ARROW_MM, Across, Along, Box4, CHOSEN_MM, GAP_MM, Leader, MEASURED_MM, REACH_MM, STAND_OFF_MM, Words};
use crate::drawing::letters_mm;
use ink::{Anchor, Face, Figure, palette};

/// Draws the sizes of one layout.
pub(super) struct Pen<'f> {
    pub(super) figure: &'f mut Figure,
    pub(super) origin: [f64; 2],
    /// Where letters stand: extension lines are broken there.
    pub(super) letters: Vec<Box4>,
}

impl Pen<'_> {
    fn line(&mut self, from: [f64; 2], to: [f64; 2]) {
        let [x, y] = self.origin;
        self.figure.line([x + from[0], y + from[1]], [x + to[0], y + to[1]], palette::hair(palette::INK));
    }

    /// A line that keeps off all letters.
    fn broken_line(&mut self, from: [f64; 2], to: [f64; 2]) {
        for [start, end] in free_parts(from, to, &self.letters) {
            let at = |t: f64| [from[0] + t * (to[0] - from[0]), from[1] + t * (to[1] - from[1])];
            self.line(at(start), at(end));
        }
    }

    fn arrow(&mut self, tip: [f64; 2], direction: [f64; 2]) {
        let [x, y] = self.origin;
        self.figure.arrow([x + tip[0], y + tip[1]], direction, ARROW_MM, palette::INK);
    }

    /// Chosen over, measured under the point `at` of a line; `turned` for lines that run upward.
    fn words(&mut self, words: &Words, at: [f64; 2], turned: bool) {
        let turn_deg = if turned { -90.0 } else { 0.0 };
        let beside = |off: f64| if turned { [at[0] + off, at[1]] } else { [at[0], at[1] + off] };
        self.letters_at(words.over.clone(), beside(-GAP_MM), turn_deg, CHOSEN_MM, palette::INK);
        self.letters_at(words.under.clone(), beside(GAP_MM + MEASURED_MM), turn_deg, MEASURED_MM, palette::GREY);
    }

    pub(super) fn across(&mut self, across: &Across, x: f64) {
        let outward = (x - across.from_x).signum();
        let (start, end) = (across.from_x + outward * STAND_OFF_MM, x + outward * REACH_MM);
        self.broken_line([start, across.r_mm], [end, across.r_mm]);
        self.arrow([x, across.r_mm], [0.0, 1.0]);
        if across.half {
            self.line([x, across.r_mm], [x, -across.above()]);
        } else {
            self.broken_line([start, -across.r_mm], [end, -across.r_mm]);
            self.line([x, across.r_mm], [x, -across.r_mm]);
            self.arrow([x, -across.r_mm], [0.0, -1.0]);
        }
        self.words(&across.words, [x, across.middle_y()], true);
    }

    pub(super) fn leader(&mut self, leader: &Leader, top_y: f64) {
        let ([tip_x, tip_y], [left, y]) = (leader.tip, leader.shelf);
        let right = left + leader.words.width_mm;
        // Straight up out of the part first, so that a leader from a neck does not cross its flanges; then to the shelf's nearer end.
        let knee = [tip_x, (top_y - 2.5).min(tip_y - ARROW_MM)];
        self.broken_line(leader.tip, knee);
        self.broken_line(knee, [if (tip_x - left).abs() <= (tip_x - right).abs() { left } else { right }, y]);
        self.line([left, y], [right, y]);
        self.arrow([tip_x, tip_y], [0.0, 1.0]);
        let middle = 0.5 * (left + right);
        let (chosen, measured) = (leader.words.over.clone(), leader.words.under.clone());
        self.letters_at(chosen, [middle, y - leader.chosen_up()], 0.0, CHOSEN_MM, palette::INK);
        self.letters_at(measured, [middle, y - GAP_MM], 0.0, MEASURED_MM, palette::GREY);
    }

    fn letters_at(&mut self, text: String, at: [f64; 2], turn_deg: f64, capitals_mm: f64, paint: ink::Paint) {
        if !text.is_empty() {
            let at = [self.origin[0] + at[0], self.origin[1] + at[1]];
            self.figure.turned_text(at, turn_deg, letters_mm(capitals_mm), Face::Figures, Anchor::Middle, paint, text);
        }
    }

    pub(super) fn along(&mut self, along: &Along, y: f64) {
        for (x, from_y) in along.x.into_iter().zip(along.from_y) {
            self.broken_line([x, from_y + STAND_OFF_MM], [x, y + REACH_MM]);
        }
        let [left, right] = along.x;
        let inward = if along.tight() { 1.0 } else { -1.0 };
        self.arrow([left, y], [inward, 0.0]);
        self.arrow([right, y], [-inward, 0.0]);
        let [from, to] = along.line_extent();
        self.line([from.min(left), y], [to.max(right), y]);
        self.words(&along.words, [along.words_x(), y], false);
    }
}

/// The parts of a line, as shares of its length, that lie outside all boxes with half a millimetre of air; scraps under a tenth of a millimetre are left out.
pub(super) fn free_parts(from: [f64; 2], to: [f64; 2], boxes: &[Box4]) -> Vec<[f64; 2]> {
    let length = (to[0] - from[0]).hypot(to[1] - from[1]).max(1e-9);
    let mut hidden: Vec<[f64; 2]> = boxes.iter().filter_map(|boxed| inside_share(from, to, boxed, 0.5)).collect();
    hidden.sort_by(|a, b| a[0].total_cmp(&b[0]));
    let (mut free, mut reached) = (Vec::new(), 0.0);
    for [start, end] in hidden.into_iter().chain([[1.0, 1.0]]) {
        if (start - reached) * length > 0.1 {
            free.push([reached, start]);
        }
        reached = end.max(reached);
    }
    free
}

/// From where to where a line runs inside a box widened by `air` (Liang and Barsky's clipping).
fn inside_share(from: [f64; 2], to: [f64; 2], [left, top, right, bottom]: &Box4, air: f64) -> Option<[f64; 2]> {
    let (mut enter, mut leave) = (0.0_f64, 1.0_f64);
    for (start, run, low, high) in
        [(from[0], to[0] - from[0], left - air, right + air), (from[1], to[1] - from[1], top - air, bottom + air)]
    {
        if run.abs() < 1e-12 {
            if start < low || start > high {
                return None;
            }
            continue;
        }
        let (a, b) = ((low - start) / run, (high - start) / run);
        (enter, leave) = (enter.max(a.min(b)), leave.min(a.max(b)));
    }
    (enter < leave).then_some([enter, leave])
}
