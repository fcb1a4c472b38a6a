mod pen;

use super::found::{Found, Span, Stretch, found};
use super::scale::{PREFERRED, Scale};
use super::sizes::{DrawnSize, SizeKind};
use super::{letters_mm, reliefs, view};
use ink::{Face, Figure};
use meridian::Point;
use pen::Pen;
use solid::{Body, Feature};

/// Capitals of the chosen and of the measured size (ISO 3098 steps), and the gap between letters and line.
const CHOSEN_MM: f64 = 2.5;
const MEASURED_MM: f64 = 1.8;
const GAP_MM: f64 = 0.9;
/// From one size line to the next, and from the outline to the first.
const PITCH_MM: f64 = 8.0;
const FIRST_MM: f64 = 10.0;
/// Arrowheads, and how extension lines stand off the outline and reach beyond the size line.
const ARROW_MM: f64 = 2.8;
/// Line behind an arrow that points inward from outside.
const TAIL_MM: f64 = 4.6;
const STAND_OFF_MM: f64 = 0.8;
const REACH_MM: f64 = 1.6;
/// From the top of the part to the shelf of the leaders above it; both their lines of letters stand on the shelf.
const SHELF_MM: f64 = 8.0;
const SHELF_LINE_MM: f64 = MEASURED_MM + 1.2;

/// Where the part lies on paper: maps (z, r) to the figure.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Frame {
    /// Where z = 0 on the axis comes to lie.
    pub origin: [f64; 2],
    /// How large it is drawn.
    pub scale: Scale,
}

impl Frame {
    /// A place above (`side` 1) or below (-1) the axis.
    pub fn at(&self, place: Point, side: f64) -> [f64; 2] {
        [self.origin[0] + place.z_mm * self.scale.factor, self.origin[1] - side * place.r_mm * self.scale.factor]
    }
}

/// A rectangle on paper: left, top, right, bottom.
pub(crate) type Box4 = [f64; 4];

/// The sizes in their places at one scale. Coordinates are relative to the place of z = 0 on the axis, so that one plan serves any sheet.
pub(crate) struct Layout<'a> {
    body: &'a Body,
    pub scale: Scale,
    columns: [Vec<Across>; 2],
    leaders: Vec<Leader>,
    rows: Vec<Vec<Along>>,
    remarks: Vec<String>,
    /// Whether the parting line and what holds a mould are marked.
    pub mould: bool,
    /// Half the part's height, and its ends, on paper.
    half_mm: f64,
    ends_mm: [f64; 2],
}

/// A diameter in a column beside the part.
struct Across {
    words: Words,
    r_mm: f64,
    /// Where its extension lines begin.
    from_x: f64,
    /// A bore shows in the lower half only: one arrow, the line ends beyond the axis.
    half: bool,
}

/// A diameter told from above by a leader.
struct Leader {
    words: Words,
    tip: [f64; 2],
    shelf: [f64; 2],
}

/// A length in a row below the part.
#[derive(Clone)]
struct Along {
    words: Words,
    x: [f64; 2],
    from_y: [f64; 2],
    letters: Letters,
}

/// Where the letters of a length stand: between its arrows or beside them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Letters {
    Between,
    Left,
    Right,
}

/// What is written at a size line.
#[derive(Clone)]
struct Words {
    over: String,
    under: String,
    width_mm: f64,
}

impl Words {
    /// What is measured of a bore is a remark on its fit: too long for its short line, it goes into the notes.
    fn of(size: &DrawnSize) -> Words {
        let under = if size.kind == SizeKind::Bore { String::new() } else { size.measured.trim().to_string() };
        let mut words = Words { over: size.over(), under, width_mm: 0.0 };
        let [over, under] = words.widths();
        words.width_mm = over.max(under);
        words
    }

    /// How wide the chosen and the measured size run.
    fn widths(&self) -> [f64; 2] {
        [(CHOSEN_MM, &self.over), (MEASURED_MM, &self.under)]
            .map(|(height, text)| ink::text_width_mm(Face::Figures, letters_mm(height), text))
    }
}

impl<'a> Layout<'a> {
    /// At the greatest preferred scale whose size stays within `room_mm`; the smallest there is if none does.
    pub fn fitting(body: &'a Body, sizes: &[DrawnSize], room_mm: [f64; 2]) -> Layout<'a> {
        let fits = |layout: &Layout| {
            let [width, height] = layout.size_mm();
            width <= room_mm[0] && height <= room_mm[1]
        };
        let smallest = PREFERRED[PREFERRED.len() - 1];
        let found = found(body, sizes);
        PREFERRED.iter().map(|&scale| Layout::new(body, &found, scale)).find(fits).unwrap_or_else(|| Layout::new(body, &found, smallest))
    }

    fn new(body: &'a Body, sizes: &[Found], scale: Scale) -> Layout<'a> {
        let [low, high] = body.bounds_mm();
        let k = scale.factor;
        let mut layout = Layout {
            body,
            scale,
            columns: [Vec::new(), Vec::new()],
            leaders: Vec::new(),
            rows: Vec::new(),
            remarks: Vec::new(),
            mould: false,
            half_mm: high[0] * k,
            ends_mm: [low[2] * k, high[2] * k],
        };
        let bores = sizes.iter().map(|found| found.size).filter(|size| size.kind == SizeKind::Bore && !size.measured.trim().is_empty());
        layout.remarks = bores.map(|size| format!("Bore {}: {}.", size.over(), size.measured.trim())).collect();
        layout.place_diameters(sizes);
        layout.place_lengths(sizes);
        layout
    }

    fn place_diameters(&mut self, sizes: &[Found]) {
        for found in sizes {
            let size = found.size;
            let words = Words::of(size);
            match size.kind {
                SizeKind::Diameter => self.place_outer(found, words),
                SizeKind::Bore => {
                    let r_mm = 0.5 * size.value_mm * self.scale.factor;
                    self.columns[0].push(Across { words, r_mm, from_x: size.z_mm[0].min(size.z_mm[1]) * self.scale.factor, half: true });
                }
                SizeKind::Length | SizeKind::Depth => {}
            }
        }
        for column in &mut self.columns {
            column.sort_by(|a, b| a.r_mm.total_cmp(&b.r_mm));
        }
        self.spread_leaders();
    }

    /// Beside the part where nothing wider stands between, else by a leader from above.
    fn place_outer(&mut self, found: &Found, words: Words) {
        let Some(Stretch { z_mm: [first, last], r_mm, open }) = found.stretch else { return };
        let [low, high] = self.body.bounds_mm();
        let k = self.scale.factor;
        let roomy = 2.0 * r_mm * k >= words.width_mm + 2.0 && 2.0 * r_mm * k >= 2.0 * ARROW_MM + 2.0;
        let near_left = first - low[2] <= high[2] - last;
        let side = match open {
            [true, true] => usize::from(!near_left),
            [true, false] => 0,
            [false, true] => 1,
            [false, false] => 2,
        };
        if side < 2 && roomy {
            let from_x = if side == 0 { first * k } else { last * k };
            self.columns[side].push(Across { words, r_mm: r_mm * k, from_x, half: false });
        } else {
            let middle = 0.5 * (first + last);
            let tip = [middle * k, -r_mm * k];
            self.leaders.push(Leader { words, tip, shelf: tip });
        }
    }

    /// Shelves side by side in the order of their tips, as near to them as they can stand.
    fn spread_leaders(&mut self) {
        self.leaders.sort_by(|a, b| a.tip[0].total_cmp(&b.tip[0]));
        let y = self.column_reach()[0].min(-self.half_mm) - SHELF_MM;
        let mut places: Vec<f64> = self.leaders.iter().map(|leader| leader.tip[0] + 1.0).collect();
        let widths: Vec<f64> = self.leaders.iter().map(|leader| leader.words.width_mm + 3.0).collect();
        for _ in 0..200 {
            for i in 1..places.len() {
                let overlap = places[i - 1] + widths[i - 1] - places[i];
                if overlap > 0.0 {
                    places[i - 1] -= 0.5 * overlap;
                    places[i] += 0.5 * overlap;
                }
            }
        }
        // What halving has not parted yet is pushed on.
        for i in 1..places.len() {
            places[i] = places[i].max(places[i - 1] + widths[i - 1]);
        }
        for (leader, x) in self.leaders.iter_mut().zip(places) {
            leader.shelf = [x, y];
        }
    }

    /// Short lengths next to the part, longer ones below those they cover; letters that don't fit between the arrows go to the side that keeps the row high.
    fn place_lengths(&mut self, sizes: &[Found]) {
        let mut lengths: Vec<Along> = sizes.iter().filter_map(|found| self.along(found)).collect();
        lengths.sort_by(|a, b| (a.x[1] - a.x[0]).total_cmp(&(b.x[1] - b.x[0])).then(a.x[0].total_cmp(&b.x[0])));
        for mut length in lengths {
            if length.letters != Letters::Between {
                let near_left = length.x[0] - self.ends_mm[0] <= self.ends_mm[1] - length.x[1];
                let sides = if near_left { [Letters::Left, Letters::Right] } else { [Letters::Right, Letters::Left] };
                let rows = sides.map(|side| self.free_row(&length.with(side)));
                length = length.with(if rows[1] < rows[0] { sides[1] } else { sides[0] });
            }
            let row = self.free_row(&length);
            if row == self.rows.len() {
                self.rows.push(Vec::new());
            }
            self.rows[row].push(length);
        }
    }

    /// The row under the last one that this length would run into. Lengths between arrows may meet, arrow to arrow.
    fn free_row(&self, length: &Along) -> usize {
        let plain = |along: &Along| along.letters == Letters::Between && !along.tight();
        let meet = |[a, b]: [f64; 2], [c, d]: [f64; 2], gap: f64| a < d + gap && b > c - gap;
        let runs_into = |other: &Along| {
            let gap = if plain(length) && plain(other) { -0.05 } else { 1.5 };
            meet(length.line_extent(), other.line_extent(), gap) || meet(length.words_extent(), other.words_extent(), 1.2)
        };
        self.rows.iter().rposition(|row| row.iter().any(runs_into)).map_or(0, |row| row + 1)
    }

    fn along(&self, found: &Found) -> Option<Along> {
        let k = self.scale.factor;
        let Span { z_mm: ends, r_mm } = found.span?;
        if (ends[1] - ends[0]) * k < 0.05 {
            return None;
        }
        let from_y = r_mm.map(|r_mm| r_mm * k);
        let words = Words::of(found.size);
        let x = ends.map(|z| z * k);
        // Small letters under the line may stand out a little on both sides; extension lines give way.
        let [over, under] = words.widths();
        let letters = if x[1] - x[0] < (over + 1.0).max(under - 2.0) { Letters::Right } else { Letters::Between };
        Some(Along { words, x, from_y, letters })
    }

    /// Left, top, right, bottom of everything.
    fn bounds(&self) -> Box4 {
        let [left, right] = self.ends_mm;
        let mut all = [left - view::OVERSHOOT_MM, -self.half_mm, right + view::OVERSHOOT_MM, self.half_mm];
        for side in 0..2 {
            if let Some(x) = self.columns[side].len().checked_sub(1).map(|last| self.column_x(side, last)) {
                all = joined(all, [x - CHOSEN_MM - GAP_MM - 0.5, 0.0, x + MEASURED_MM + GAP_MM + 0.5, 0.0]);
            }
        }
        for boxed in self.labels() {
            all = joined(all, boxed);
        }
        if let Some(last) = self.rows.len().checked_sub(1) {
            all[3] = all[3].max(self.row_y(last) + MEASURED_MM + GAP_MM);
        }
        let [up, down] = self.column_reach();
        [all[0] - 1.0, all[1].min(up) - 1.0, all[2] + 1.0, all[3].max(down) + 1.0]
    }

    /// Width and height of everything on paper.
    pub fn size_mm(&self) -> [f64; 2] {
        let [left, top, right, bottom] = self.bounds();
        [right - left, bottom - top]
    }

    /// What the notes beside the title block say.
    pub fn notes(&self) -> Vec<String> {
        let mut notes = vec!["Half view, half section.".to_string()];
        if self.all_words().any(|words| !words.under.is_empty()) {
            notes.push("Over the line: chosen size. Under it: as measured.".into());
        }
        notes.push("Sizes in mm unless marked \"in\".".into());
        notes.extend(self.remarks.iter().cloned());
        notes.extend(self.body.features().iter().filter_map(|feature| match feature {
            Feature::Relief(relief) => Some(reliefs::words(relief)),
            Feature::CrossHole(hole) => Some(format!("{}; turned into the section.", hole.words())),
            Feature::Mark(mark) => Some(format!("Not drawn: {}.", mark.words())),
            _ => None,
        }));
        if self.mould {
            let pull = self.body.pull();
            let mut words = "Double-dash line: parting.".to_string();
            if !pull.undercuts_mm.is_empty() {
                words += " Heavy line: undercut, it holds a rigid mould.";
            }
            if !pull.undrafted_mm.is_empty() {
                words += &format!(" Dashes beside the outline: less than {}\u{b0} of draft.", solid::LEAST_DRAFT_DEG);
            }
            notes.push(words);
        }
        if let Some(wall) = self.body.wall() {
            notes.push(format!("Thinnest wall {:.2} mm.", wall.thickness_mm));
        }
        notes
    }

    fn all_words(&self) -> impl Iterator<Item = &Words> {
        let columns = self.columns.iter().flatten().map(|across| &across.words);
        columns.chain(self.leaders.iter().map(|leader| &leader.words)).chain(self.rows.iter().flatten().map(|along| &along.words))
    }

    /// Where all letters stand, relative to z = 0 on the axis: a box for each chosen and each measured size.
    pub fn labels(&self) -> Vec<Box4> {
        let mut boxes = Vec::new();
        for side in 0..2 {
            for (index, across) in self.columns[side].iter().enumerate() {
                let (x, y) = (self.column_x(side, index), across.middle_y());
                let [over, under] = across.words.widths().map(|width| 0.5 * width);
                boxes.push([x - GAP_MM - CHOSEN_MM, y - over, x - GAP_MM, y + over]);
                boxes.push([x + GAP_MM, y - under, x + GAP_MM + MEASURED_MM, y + under]);
            }
        }
        for leader in &self.leaders {
            let (middle, y) = (leader.shelf[0] + 0.5 * leader.words.width_mm, leader.shelf[1]);
            let [over, under] = leader.words.widths().map(|width| 0.5 * width);
            let base = y - leader.chosen_up();
            boxes.push([middle - over, base - CHOSEN_MM, middle + over, base]);
            boxes.push([middle - under, y - GAP_MM - MEASURED_MM, middle + under, y - GAP_MM]);
        }
        for (index, along) in self.rows.iter().enumerate().flat_map(|(index, row)| row.iter().map(move |along| (index, along))) {
            let (x, y) = (along.words_x(), self.row_y(index));
            let [over, under] = along.words.widths().map(|width| 0.5 * width);
            boxes.push([x - over, y - GAP_MM - CHOSEN_MM, x + over, y - GAP_MM]);
            boxes.push([x - under, y + GAP_MM, x + under, y + GAP_MM + MEASURED_MM]);
        }
        boxes.retain(|[left, top, right, bottom]| right > left && bottom > top);
        boxes
    }

    fn column_x(&self, side: usize, index: usize) -> f64 {
        let out = FIRST_MM + PITCH_MM * index as f64;
        if side == 0 { self.ends_mm[0] - out } else { self.ends_mm[1] + out }
    }

    fn row_y(&self, index: usize) -> f64 {
        self.column_reach()[1].max(self.half_mm) + FIRST_MM + PITCH_MM * index as f64
    }

    /// Highest and lowest place of the columns' letters and lines.
    fn column_reach(&self) -> [f64; 2] {
        let mut reach = [0.0_f64, 0.0];
        for across in self.columns.iter().flatten() {
            let half = 0.5 * across.words.width_mm;
            let top = if across.half { -across.above() } else { -across.r_mm };
            reach = [reach[0].min(top).min(across.middle_y() - half), reach[1].max(across.r_mm).max(across.middle_y() + half)];
        }
        reach
    }

    /// Draws part and sizes with the top left corner of everything at `at`.
    pub fn draw(&self, figure: &mut Figure, at: [f64; 2]) {
        let [left, top, ..] = self.bounds();
        let frame = Frame { origin: [at[0] - left, at[1] - top], scale: self.scale };
        view::draw(figure, self.body, &frame);
        if self.mould {
            view::mould(figure, self.body, &frame);
        }
        let mut pen = Pen { figure, origin: frame.origin, letters: self.labels() };
        for side in 0..2 {
            for (index, across) in self.columns[side].iter().enumerate() {
                pen.across(across, self.column_x(side, index));
            }
        }
        for leader in &self.leaders {
            pen.leader(leader, -self.half_mm);
        }
        for (index, row) in self.rows.iter().enumerate() {
            for along in row {
                pen.along(along, self.row_y(index));
            }
        }
    }
}

impl Leader {
    /// Base line of the chosen size above the shelf.
    fn chosen_up(&self) -> f64 {
        if self.words.under.is_empty() { GAP_MM } else { GAP_MM + SHELF_LINE_MM }
    }
}

impl Across {
    /// How far the line of a half size runs above the axis: far enough for its letters.
    fn above(&self) -> f64 {
        (self.words.width_mm + 2.0 * ARROW_MM - self.r_mm).max(4.0)
    }

    fn middle_y(&self) -> f64 {
        if self.half { 0.5 * (self.r_mm - ARROW_MM - self.above()) } else { 0.0 }
    }
}

impl Along {
    /// Whether the arrows point inward from outside.
    fn tight(&self) -> bool {
        self.x[1] - self.x[0] < 2.0 * ARROW_MM + 0.8
    }

    fn words_x(&self) -> f64 {
        let aside = TAIL_MM + 0.5 * self.words.width_mm;
        match self.letters {
            Letters::Between => 0.5 * (self.x[0] + self.x[1]),
            Letters::Left => self.x[0] - aside,
            Letters::Right => self.x[1] + aside,
        }
    }

    /// From where to where the line and its arrows run, and under letters beside them.
    fn line_extent(&self) -> [f64; 2] {
        let out = if self.tight() { TAIL_MM } else { 0.0 };
        let [left, right] = [self.x[0] - out, self.x[1] + out];
        let [from, to] = self.words_extent();
        if self.letters == Letters::Between { [left, right] } else { [left.min(from), right.max(to)] }
    }

    fn words_extent(&self) -> [f64; 2] {
        let (middle, half) = (self.words_x(), 0.5 * self.words.width_mm);
        [middle - half, middle + half]
    }

    fn with(&self, letters: Letters) -> Along {
        Along { letters, ..self.clone() }
    }
}

fn joined(a: Box4, b: Box4) -> Box4 {
    [a[0].min(b[0]), a[1].min(b[1]), a[2].max(b[2]), a[3].max(b[3])]
}

#[cfg(test)]
mod tests {
    use super::pen::free_parts;
    use super::*;
    use crate::drawing::{MouldMarks, TitleBlock, drawing, section};
    use meridian::Piece;
    use solid::{Bore, Limits};

    /// SplitMix64 (Steele, Lea and Flood 2014): enough for test parts.
    struct Dice(u64);

    impl Dice {
        fn between(&mut self, low: f64, high: f64) -> f64 {
            self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
            let mut z = self.0;
            z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
            z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
            low + (high - low) * (((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64)
        }
    }

    /// A part of up to nine cylinders with every size given: diameters, lengths, overall, and a bore with its depth.
    fn part(dice: &mut Dice) -> (Body, Vec<DrawnSize>) {
        let count = dice.between(1.0, 10.0) as usize;
        let at = |z_mm: f64, r_mm: f64| Point { z_mm, r_mm };
        let (mut pieces, mut sizes, mut here) = (Vec::new(), Vec::new(), at(0.0, 0.0));
        for _ in 0..count {
            let (r, run) = (dice.between(3.0, 15.0), dice.between(0.8, 12.0));
            let (foot, top) = (at(here.z_mm, r), at(here.z_mm + run, r));
            pieces.extend([Piece::Line { from: here, to: foot }, Piece::Line { from: foot, to: top }]);
            let z_mm = [here.z_mm, top.z_mm];
            let measured = format!("{:.2} \u{b1} 0.05", 2.0 * r);
            sizes.push(DrawnSize { label: String::new(), measured, kind: SizeKind::Diameter, z_mm, value_mm: 2.0 * r });
            sizes.push(DrawnSize {
                label: format!("{run:.2}"),
                measured: format!("{run:.2} \u{b1} 0.05"),
                kind: SizeKind::Length,
                z_mm,
                value_mm: run,
            });
            here = top;
        }
        pieces.push(Piece::Line { from: here, to: at(here.z_mm, 0.0) });
        sizes.push(DrawnSize {
            label: "overall".into(),
            measured: String::new(),
            kind: SizeKind::Length,
            z_mm: [0.0, here.z_mm],
            value_mm: here.z_mm,
        });
        let (bore, depth) = (dice.between(1.0, 4.0), 0.5 * here.z_mm);
        sizes.push(DrawnSize {
            label: String::new(),
            measured: "for a shaft".into(),
            kind: SizeKind::Bore,
            z_mm: [0.0, depth],
            value_mm: bore,
        });
        sizes.push(DrawnSize { label: String::new(), measured: String::new(), kind: SizeKind::Depth, z_mm: [0.0, depth], value_mm: depth });
        let limits = Limits { least_wall_mm: 0.0, advised_wall_mm: 0.0 };
        (Body::from_pieces(&pieces, &[Feature::Bore(Bore::blind(bore, depth))], limits).expect("a sound part").value, sizes)
    }

    fn overlap(a: &Box4, b: &Box4) -> bool {
        a[0] < b[2] - 1e-9 && b[0] < a[2] - 1e-9 && a[1] < b[3] - 1e-9 && b[1] < a[3] - 1e-9
    }

    /// Letters never lie on letters, nor on the part, nor outside the drawing, in 150 random parts with up to 21 sizes.
    #[test]
    fn letters_keep_off_letters_and_part() {
        for seed in 0..150 {
            let (body, sizes) = part(&mut Dice(seed));
            let layout = Layout::fitting(&body, &sizes, [263.0, 157.0]);
            let (labels, bounds) = (layout.labels(), layout.bounds());
            let written = layout.all_words().count();
            assert!(written >= sizes.len() - 1, "part {seed}: {written} of {} sizes drawn", sizes.len());
            for (index, label) in labels.iter().enumerate() {
                assert!(labels[index + 1..].iter().all(|other| !overlap(label, other)), "part {seed}: letters on letters");
                assert!(
                    !overlap(label, &[layout.ends_mm[0], -layout.half_mm, layout.ends_mm[1], layout.half_mm]),
                    "part {seed}: letters on the part"
                );
                assert!(
                    label[0] >= bounds[0] && label[1] >= bounds[1] && label[2] <= bounds[2] && label[3] <= bounds[3],
                    "part {seed}: letters outside"
                );
            }
        }
    }

    #[test]
    fn scale_is_the_greatest_that_fits() {
        let (body, sizes) = part(&mut Dice(3));
        let room = [170.0, 120.0];
        let figure = section(&body, &sizes, room, MouldMarks::Drawn);
        assert!(figure.width_mm <= room[0] && figure.height_mm <= room[1]);
        let chosen = Layout::fitting(&body, &sizes, room).scale;
        let next = PREFERRED[PREFERRED.iter().position(|scale| *scale == chosen).expect("preferred") - 1];
        let [width, height] = Layout::new(&body, &found(&body, &sizes), next).size_mm();
        assert!(width > room[0] || height > room[1]);
        assert_eq!([Scale { factor: 5.0 }, Scale { factor: 0.5 }].map(|s| s.to_string()), ["5:1", "1:2"]);
    }

    #[test]
    fn wild_sizes_are_left_out() {
        let (body, mut sizes) = part(&mut Dice(5));
        for wild in [f64::NAN, f64::INFINITY, -3.0, 1e300] {
            for kind in [SizeKind::Length, SizeKind::Diameter, SizeKind::Bore, SizeKind::Depth] {
                sizes.push(DrawnSize { label: "wild".into(), measured: String::new(), kind, z_mm: [wild, -wild], value_mm: wild });
            }
        }
        let svg = drawing(&body, &sizes, &TitleBlock::default(), MouldMarks::None).to_svg();
        assert!(!svg.contains("NaN") && !svg.contains("inf"));
    }

    #[test]
    fn lines_break_at_letters() {
        let parts = free_parts([0.0, 0.0], [10.0, 0.0], &[[4.0, -1.0, 6.0, 1.0]]);
        assert_eq!(parts, vec![[0.0, 0.35], [0.65, 1.0]]);
        assert_eq!(free_parts([0.0, 5.0], [10.0, 5.0], &[[4.0, -1.0, 6.0, 1.0]]), vec![[0.0, 1.0]]);
    }
}
