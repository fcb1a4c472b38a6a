//! The column that everything flows down, page after page.

use super::set::{BODY, CELL, Setting, cell_setting};
use crate::pictures::WIDE_MM;
use crate::station::{Cell, Table};
use ink::palette::{GREY, INK, RULE, SHADE, hair, outline};
use ink::pdf::{Head, Page, Paper, Piece, Role};
use ink::{Anchor, Face, Figure, Paint, fits_mm, text_width_mm};

/// Width of the title block, mm (ISO 7200).
const BLOCK_MM: f64 = 180.0;
const BLOCK_HEIGHT_MM: f64 = 20.0;
/// Below the title block, mm.
const FOOT_MM: f64 = 10.0;
const TOP_MM: f64 = 16.0;
/// Margin column: station numbers, states, "Doubt".
const MARGIN_MM: f64 = 22.0;
/// Between the margin column and the main one.
const GUTTER_MM: f64 = 4.0;
/// Between a table's columns.
const CELL_GAP_MM: f64 = 3.0;
/// Tallest picture with its caption; what is taller is shown smaller.
const TALLEST_MM: f64 = 190.0;
/// Where a state stands in the folded sheet, from the start of its question.
const CONTENTS_WORD_MM: f64 = 58.0;
/// Height of a row that is to be written in by hand.
const BLANK_ROW_MM: f64 = 9.0;

/// Pages being filled.
pub struct Flow {
    size: [f64; 2],
    left: f64,
    y: f64,
    /// From here down the margin column of this page is free.
    margin_free_y: f64,
    pages: Vec<Page>,
    tables: u32,
}

/// Top left corner of a page's title block.
pub fn block_corner(page: &Page) -> [f64; 2] {
    [left_of(page.width_mm), page.height_mm - FOOT_MM - BLOCK_HEIGHT_MM]
}

/// 20 mm to bind and 10 mm at the right on A4 (ISO 5457); what other widths have more is halved.
fn left_of(width_mm: f64) -> f64 {
    (width_mm - BLOCK_MM) / 2.0 + 5.0
}

/// Whether a picture must be shown smaller than drawn.
pub fn shrinks(figure: &Figure) -> bool {
    fitting(figure) < 1.0
}

fn fitting(figure: &Figure) -> f64 {
    (WIDE_MM / figure.width_mm.max(1.0)).min(TALLEST_MM / figure.height_mm.max(1.0)).min(1.0)
}

impl Flow {
    pub fn new(paper: Paper) -> Flow {
        let size = paper.size_mm();
        let mut flow = Flow { size, left: left_of(size[0]), y: 0.0, margin_free_y: 0.0, pages: Vec::new(), tables: 0 };
        flow.turn();
        flow
    }

    pub fn finish(self) -> Vec<Page> {
        self.pages
    }

    fn bottom(&self) -> f64 {
        self.size[1] - FOOT_MM - BLOCK_HEIGHT_MM - 6.0
    }

    fn main(&self) -> f64 {
        self.left + MARGIN_MM + GUTTER_MM
    }

    /// A new page.
    fn turn(&mut self) {
        self.pages.push(Page { width_mm: self.size[0], height_mm: self.size[1], pieces: Vec::new() });
        self.y = TOP_MM;
        self.margin_free_y = TOP_MM;
    }

    /// Turns the page if less than `height` is left on this one.
    fn need(&mut self, height: f64) {
        if self.y + height > self.bottom() && self.y > TOP_MM {
            self.turn();
        }
    }

    fn put(&mut self, x: f64, y: f64, role: Role, figure: Figure) {
        if let Some(page) = self.pages.last_mut() {
            page.pieces.push(Piece { at: [x, y], role, figure });
        }
    }

    fn rule(&mut self, x: f64, width: f64, paint: Paint) {
        let mut figure = Figure::new(width, 0.1, "", "");
        figure.line([0.0, 0.0], [width, 0.0], hair(paint));
        self.put(x, self.y, Role::Decoration, figure);
    }

    /// Air; none at the head of a page.
    pub fn space(&mut self, height: f64) {
        if self.y > TOP_MM {
            self.y += height;
        }
    }

    pub fn kind(&mut self, text: &str) {
        let width = MARGIN_MM + GUTTER_MM + WIDE_MM;
        let mut bar = Figure::new(width, 0.8, "", "");
        bar.line([0.0, 0.0], [width, 0.0], outline(INK).width(0.8));
        self.put(self.left, self.y, Role::Decoration, bar);
        self.y += 2.5;
        self.put(self.left, self.y, Role::Paragraph, BODY.paint(GREY).figure(60.0, &[text.to_string()], Anchor::Start));
        self.y += 9.0;
    }

    pub fn title(&mut self, text: &str) {
        let setting = BODY.face(Face::Bold).size(9.5, 10.5);
        let width = MARGIN_MM + GUTTER_MM + WIDE_MM;
        let mut lines = setting.lines(width, text);
        lines.truncate(4);
        self.put(self.left, self.y, Role::Heading(1), setting.figure(width, &lines, Anchor::Start));
        self.y += setting.lead_mm * lines.len() as f64 + 2.0;
    }

    pub fn quiet(&mut self, text: &str) {
        let width = MARGIN_MM + GUTTER_MM + WIDE_MM;
        let line = fits_mm(BODY.face, BODY.size_mm, width, text);
        self.put(self.left, self.y, Role::Paragraph, BODY.paint(GREY).figure(width, &[line], Anchor::Start));
        self.y += BODY.lead_mm;
    }

    /// One line of the folded sheet.
    pub fn contents_line(&mut self, number: usize, sign: &Figure, [question, word, answer]: [&str; 3]) {
        const ROW: f64 = 7.2;
        self.need(ROW);
        let width = MARGIN_MM + GUTTER_MM + WIDE_MM;
        self.rule(self.left, width, RULE);
        let top = self.y + 1.3;
        self.put(self.left, top, Role::Decoration, BODY.paint(GREY).figure(5.0, &[number.to_string()], Anchor::End));
        self.put(self.left + 8.0, top + 0.4, Role::Decoration, sign.scaled(0.86));
        let mut line = BODY.figure(width - 15.0, &[question.to_string()], Anchor::Start);
        line.text([CONTENTS_WORD_MM, BODY.size_mm], 3.3, Face::Text, Anchor::Start, GREY, word);
        let room = width - 15.0 - CONTENTS_WORD_MM - text_width_mm(Face::Text, 3.3, word) - 5.0;
        let answer = fits_mm(Face::Figures, BODY.size_mm, room, answer);
        line.text([width - 15.0, BODY.size_mm], BODY.size_mm, Face::Figures, Anchor::End, INK, answer);
        self.put(self.left + 15.0, top, Role::Paragraph, line);
        self.y += ROW;
    }

    /// A section's heading, with its number and state in the margin and its answer at the right; `follows` must fit below it.
    pub fn heading(&mut self, station: Option<(usize, &Figure, &str)>, question: &str, answer: &str, follows: f64) {
        let setting = BODY.face(Face::Bold).size(5.6, 7.0);
        let answering = BODY.face(Face::Figures).size(4.2, 5.6);
        let beside =
            text_width_mm(setting.face, setting.size_mm, question) + text_width_mm(answering.face, answering.size_mm, answer) + 6.0
                <= WIDE_MM;
        let below = if answer.is_empty() || beside { Vec::new() } else { answering.lines(WIDE_MM, answer) };
        let height = 3.0 + setting.lead_mm + answering.lead_mm * below.len() as f64 + 3.0;
        self.need(height.max(15.0) + follows.min(self.bottom() - TOP_MM - height));
        self.rule(self.left, MARGIN_MM + GUTTER_MM + WIDE_MM, INK);
        let top = self.y + 3.0;
        let main = self.main();
        self.put(main, top, Role::Heading(2), setting.figure(WIDE_MM, &[question.to_string()], Anchor::Start));
        if let Some((number, sign, word)) = station {
            self.put(
                self.left,
                top - 0.6,
                Role::Decoration,
                BODY.face(Face::Bold).size(8.4, 9.0).figure(10.0, &[number.to_string()], Anchor::Start),
            );
            self.put(self.left + 9.5, top + 1.7, Role::Decoration, sign.clone());
            let small = BODY.paint(GREY).size(3.2, 3.9);
            let lines = small.lines(MARGIN_MM, word);
            self.margin_free_y = top + 8.2 + small.lead_mm * lines.len() as f64 + 1.0;
            self.put(self.left, top + 8.2, Role::Paragraph, small.figure(MARGIN_MM, &lines, Anchor::Start));
        }
        if !answer.is_empty() && beside {
            self.put(
                main,
                top + setting.size_mm - answering.size_mm,
                Role::Paragraph,
                answering.figure(WIDE_MM, &[answer.to_string()], Anchor::End),
            );
        } else if !below.is_empty() {
            self.put(main, top + setting.lead_mm, Role::Paragraph, answering.figure(WIDE_MM, &below, Anchor::Start));
        }
        self.y += height;
    }

    /// Height that a picture takes with its caption.
    pub fn picture_height(&self, figure: &Figure, caption: &str) -> f64 {
        let lines = CAPTION.lines(WIDE_MM, caption).len() as f64;
        figure.height_mm.max(0.0) * fitting(figure) + 1.0 + lines * CAPTION.lead_mm + if caption.is_empty() { 1.0 } else { 4.0 }
    }

    pub fn picture(&mut self, figure: &Figure, caption: &str) {
        let height = self.picture_height(figure, caption);
        self.need(height);
        let times = fitting(figure);
        let shown = if times < 1.0 { figure.scaled(times) } else { figure.clone() };
        let below = self.y + shown.height_mm + 1.0;
        let main = self.main();
        self.put(main, self.y, Role::Picture, shown);
        let lines = CAPTION.lines(WIDE_MM, caption);
        if !lines.is_empty() {
            self.put(main, below, Role::Paragraph, CAPTION.figure(WIDE_MM, &lines, Anchor::Start));
        }
        self.y += height;
    }

    pub fn paragraph(&mut self, text: &str) {
        self.lines(BODY, self.main(), WIDE_MM, text);
        self.y += 2.2;
    }

    pub fn strong(&mut self, text: &str) {
        self.lines(BODY.face(Face::Bold), self.main(), WIDE_MM, text);
        self.y += 2.2;
    }

    pub fn item(&mut self, text: &str) {
        self.lines(BODY.face(Face::Figures).size(3.6, 4.9), self.main() + 4.0, WIDE_MM - 4.0, text);
    }

    /// A paragraph with its name in the margin.
    pub fn marginal(&mut self, name: &str, text: &str) {
        let setting = BODY.face(Face::Bold);
        let names = setting.lines(MARGIN_MM, name);
        self.space(1.5);
        self.y = self.y.max(self.margin_free_y);
        self.need(BODY.lead_mm * names.len().max(2) as f64);
        self.margin_free_y = self.y + BODY.lead_mm * names.len() as f64;
        self.put(self.left, self.y, Role::Paragraph, setting.figure(MARGIN_MM, &names, Anchor::End));
        self.lines(BODY, self.main(), WIDE_MM, text);
        self.y += 2.2;
    }

    /// Lines of a document, kept together.
    pub fn example(&mut self, name: &str, text: &str) {
        let setting = BODY.face(Face::Figures).size(3.5, 4.7);
        let lines: Vec<String> = text.lines().map(|line| fits_mm(setting.face, setting.size_mm, WIDE_MM - 8.0, line)).collect();
        let height = lines.len() as f64 * setting.lead_mm + 4.0;
        self.need(BODY.lead_mm + height + 3.0);
        let main = self.main();
        self.put(main, self.y, Role::Paragraph, BODY.paint(GREY).figure(WIDE_MM, &[name.to_string()], Anchor::Start));
        self.y += BODY.lead_mm + 0.5;
        let mut ground = Figure::new(WIDE_MM, height, "", "");
        ground.rect([0.0, 0.0], [WIDE_MM, height], None, Some(SHADE));
        self.put(main, self.y, Role::Decoration, ground);
        self.put(main + 4.0, self.y + 2.0, Role::Paragraph, setting.figure(WIDE_MM - 8.0, &lines, Anchor::Start));
        self.y += height + 3.0;
    }

    /// Text broken into lines and over pages, never one line alone at either side of a page's turn.
    fn lines(&mut self, setting: Setting, x: f64, width: f64, text: &str) {
        let lines = setting.lines(width, text);
        let mut rest = lines.as_slice();
        while !rest.is_empty() {
            let room = ((self.bottom() - self.y) / setting.lead_mm).floor().max(0.0) as usize;
            let mut take = rest.len().min(room);
            if take < rest.len() && rest.len() - take == 1 {
                take = take.saturating_sub(1);
            }
            if take < rest.len() && take < 2 {
                if self.y > TOP_MM {
                    self.turn();
                    continue;
                }
                take = rest.len().min(room.max(1));
            }
            let (now, later) = rest.split_at(take);
            self.put(x, self.y, Role::Paragraph, setting.figure(width, now, Anchor::Start));
            self.y += now.len() as f64 * setting.lead_mm;
            rest = later;
        }
    }

    /// Height of a table's caption, head and first two rows, which stay together.
    pub fn table_start_height(&self, table: &Table) -> f64 {
        let widths = column_widths(table);
        let first = table.rows.iter().take(2).map(|row| Row::of(row, &widths).height).sum::<f64>();
        TABLE_CAPTION.lead_mm + Row::head(table, &widths).height + first
    }

    /// A table; its head comes again on every page.
    pub fn table(&mut self, table: &Table) {
        self.need(self.table_start_height(table));
        let caption = fits_mm(TABLE_CAPTION.face, TABLE_CAPTION.size_mm, WIDE_MM, &table.caption);
        self.put(self.main(), self.y, Role::Paragraph, TABLE_CAPTION.figure(WIDE_MM, &[caption], Anchor::Start));
        self.y += TABLE_CAPTION.lead_mm;
        self.tables += 1;
        let widths = column_widths(table);
        let head = Row::head(table, &widths);
        self.row(&head, &widths, RowKind::Head);
        for (n, row) in table.rows.iter().map(|row| Row::of(row, &widths)).enumerate() {
            if self.y + row.height > self.bottom() {
                self.turn();
                self.row(&head, &widths, RowKind::HeadAgain);
            }
            self.row(&row, &widths, RowKind::Data(n as u32 + 1));
        }
        self.y += 6.0;
    }

    fn row(&mut self, row: &Row, widths: &[f64], kind: RowKind) {
        let is_head = !matches!(kind, RowKind::Data(_));
        let mut x = self.main();
        for (n, ((setting, lines), width)) in row.cells.iter().zip(widths).enumerate() {
            let setting = if is_head { setting.paint(GREY) } else { *setting };
            let cell = |row, head| Role::Cell { table: self.tables, row, head };
            let role = match kind {
                RowKind::Head => cell(0, Head::Column),
                RowKind::HeadAgain => Role::Decoration,
                RowKind::Data(row) => cell(row, if n == 0 { Head::Row } else { Head::No }),
            };
            // Heads stand at the foot of their row, data at its head.
            let lower = if is_head { row.height - 2.6 - lines.len() as f64 * setting.lead_mm } else { 0.0 };
            self.put(x, self.y + 1.1 + lower.max(0.0), role, setting.figure(width - CELL_GAP_MM, lines, Anchor::Start));
            x += width;
        }
        self.y += row.height;
        let main = self.main();
        if row.blank {
            let mut x = main;
            for width in widths {
                self.rule(x, width - CELL_GAP_MM, INK);
                x += width;
            }
        } else {
            self.rule(main, WIDE_MM, if is_head { INK } else { RULE });
        }
    }
}

const CAPTION: Setting = BODY.paint(GREY).size(3.5, 4.7);

const TABLE_CAPTION: Setting = BODY.face(Face::Bold).size(3.9, 5.6);

/// What a row is to someone who hears the table read out: a head that comes again on the next page is not read again.
#[derive(Clone, Copy)]
enum RowKind {
    Head,
    HeadAgain,
    Data(u32),
}

/// A row with its cells broken into lines.
struct Row {
    cells: Vec<(Setting, Vec<String>)>,
    height: f64,
    /// To be written in by hand.
    blank: bool,
}

impl Row {
    fn head(table: &Table, widths: &[f64]) -> Row {
        let names: Vec<Cell> = table.columns.iter().map(|name| Cell::words(name.clone())).collect();
        Row::of(&names, widths)
    }

    fn of(row: &[Cell], widths: &[f64]) -> Row {
        let set = |(cell, width): (&Cell, &f64)| {
            let setting = cell_setting(cell);
            (setting, setting.lines(width - CELL_GAP_MM, &cell.text))
        };
        let cells: Vec<(Setting, Vec<String>)> = row.iter().zip(widths).map(set).collect();
        let most = cells.iter().map(|(_, lines)| lines.len()).max().unwrap_or(1).max(1);
        let blank = row.iter().any(|cell| cell.text.is_empty());
        let height = most as f64 * CELL.lead_mm + 2.0;
        Row { cells, height: if blank { height.max(BLANK_ROW_MM) } else { height }, blank }
    }
}

/// Column widths that fill the main column; equal where the table does not say.
fn column_widths(table: &Table) -> Vec<f64> {
    let count = table.columns.len().max(1);
    let given = table.shares.len() == count && table.shares.iter().all(|share| share.is_finite() && *share > 0.0);
    let shares = if given { table.shares.clone() } else { vec![1.0; count] };
    let sum: f64 = shares.iter().sum();
    shares.iter().map(|share| (share / sum * (WIDE_MM + CELL_GAP_MM)).max(CELL_GAP_MM + 6.0)).collect()
}
