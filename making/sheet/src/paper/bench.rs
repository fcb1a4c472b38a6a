//! The bench steps on paper, in type that reads at arm's length.

use super::flow::block_corner;
use super::{facts_of, furnish_as};
use crate::steps::{Step, steps};
use crate::words::bounded;
use crate::{JobSheet, SheetError};
use ink::palette::{BRICK, GREY, INK, RULE, hair, outline};
use ink::pdf::{Page, Paper, Piece, Role};
use ink::{Anchor, Face, Figure, Paint, wrap_mm};

/// Titles: 20 points; capitals of 4 mm read at 1.2 m by an eye that needs 10 minutes of arc.
const TITLE_MM: f64 = 7.0;
/// Lines: 16 points.
const LINE_MM: f64 = 5.6;
const LEAD_MM: f64 = 7.4;
const TOP_MM: f64 = 14.0;
/// Column of the numbers.
const NUMBER_MM: f64 = 17.0;
const WIDTH_MM: f64 = 180.0;
/// Room to write a start and an end.
const PEN_MM: f64 = 68.0;
/// Column of the amounts.
const AMOUNT_MM: f64 = 62.0;

/// The bench steps as a PDF file; `None` where there is nothing to do yet.
///
/// # Errors
/// [`SheetError::Ink`] where the PDF library refuses.
pub fn steps_pdf(sheet: &JobSheet, paper: Paper) -> Result<Option<Vec<u8>>, SheetError> {
    let pages = steps_pages(sheet, paper);
    if pages.is_empty() {
        return Ok(None);
    }
    Ok(Some(ink::pdf::write(&pages, &facts_of(sheet, "bench steps", "What to do at the bench, in order"))?))
}

pub(crate) fn steps_pages(sheet: &JobSheet, paper: Paper) -> Vec<Page> {
    let steps = steps(sheet);
    if steps.is_empty() {
        return Vec::new();
    }
    let size = paper.size_mm();
    let mut column = Column { size, y: TOP_MM, pages: vec![blank(size)] };
    column.head(&bounded(&sheet.document.title, 120));
    for (n, step) in steps.iter().enumerate() {
        column.step(n + 1, step);
    }
    let of = column.pages.len();
    for (n, page) in column.pages.iter_mut().enumerate() {
        furnish_as(page, sheet, "Bench steps", n + 1, of);
    }
    column.pages
}

fn blank(size: [f64; 2]) -> Page {
    Page { width_mm: size[0], height_mm: size[1], pieces: Vec::new() }
}

struct Column {
    size: [f64; 2],
    y: f64,
    pages: Vec<Page>,
}

/// A step laid out: figures by their height above each other.
type Laid = Vec<(f64, f64, Role, Figure)>;

impl Column {
    fn left(&self) -> f64 {
        self.pages.last().map_or(20.0, |page| block_corner(page)[0])
    }

    fn bottom(&self) -> f64 {
        self.pages.last().map_or(self.size[1], |page| block_corner(page)[1]) - 5.0
    }

    fn put(&mut self, x: f64, y: f64, role: Role, figure: Figure) {
        if let Some(page) = self.pages.last_mut() {
            page.pieces.push(Piece { at: [x, y], role, figure });
        }
    }

    fn head(&mut self, title: &str) {
        let lines = wrap_mm(Face::Bold, 9.5, WIDTH_MM, title);
        let left = self.left();
        self.put(left, self.y, Role::Heading(1), type_lines(Face::Bold, 9.5, 11.0, INK, &lines));
        self.y += 11.0 * lines.len() as f64 + 3.0;
    }

    /// A step is never cut, unless it is taller than a page.
    fn step(&mut self, number: usize, step: &Step) {
        let (laid, height) = lay(step);
        if self.y + height > self.bottom() && self.y > TOP_MM {
            self.pages.push(blank(self.size));
            self.y = TOP_MM;
        }
        let left = self.left();
        let mut rule = Figure::new(WIDTH_MM, 0.1, "", "");
        rule.line([0.0, 0.0], [WIDTH_MM, 0.0], hair(INK));
        self.put(left, self.y, Role::Decoration, rule);
        let mut big = Figure::new(NUMBER_MM, 14.0, number.to_string(), number.to_string());
        big.text([0.0, 12.5], 13.0, Face::Bold, Anchor::Start, INK, number.to_string());
        self.put(left, self.y, Role::Paragraph, big);
        for (x, y, role, figure) in laid {
            // What is taller than a page goes on overleaf, line by line.
            if self.y + y + figure.height_mm > self.bottom() && y > 0.0 && self.y > TOP_MM {
                self.pages.push(blank(self.size));
                self.y = TOP_MM - y;
            }
            self.put(left + NUMBER_MM + x, self.y + y, role, figure);
        }
        self.y += height;
    }
}

fn lay(step: &Step) -> (Laid, f64) {
    let room = WIDTH_MM - NUMBER_MM;
    let (mut laid, mut y): (Laid, f64) = (Vec::new(), 3.5);
    let titles = wrap_mm(Face::Bold, TITLE_MM, room, &step.title);
    laid.push((0.0, y, Role::Heading(2), type_lines(Face::Bold, TITLE_MM, 8.6, INK, &titles)));
    y += 8.6 * titles.len() as f64 + 1.5;
    for [much, what] in &step.amounts {
        let wheres = wrap_mm(Face::Text, LINE_MM, room - 9.0 - AMOUNT_MM, what);
        let muchs = wrap_mm(Face::Bold, LINE_MM, AMOUNT_MM - 3.0, much);
        let mut tick = Figure::new(5.2, 5.2, "to tick", "A box to tick off.");
        tick.rect([0.25, 0.25], [4.7, 4.7], Some(outline(INK).width(0.4)), None);
        laid.push((0.0, y + 0.4, Role::Decoration, tick));
        laid.push((9.0, y, Role::Paragraph, type_lines(Face::Bold, LINE_MM, LEAD_MM, INK, &muchs)));
        laid.push((9.0 + AMOUNT_MM, y, Role::Paragraph, type_lines(Face::Text, LINE_MM, LEAD_MM, INK, &wheres)));
        y += LEAD_MM * wheres.len().max(muchs.len()) as f64 + 1.0;
    }
    for line in &step.lines {
        let lines = wrap_mm(Face::Text, LINE_MM, room, line);
        laid.push((0.0, y, Role::Paragraph, type_lines(Face::Text, LINE_MM, LEAD_MM, INK, &lines)));
        y += LEAD_MM * lines.len() as f64 + 1.0;
    }
    if let Some(timer) = &step.timer {
        laid.push((0.0, y + 0.3, Role::Decoration, clock()));
        let lines = wrap_mm(Face::Bold, LINE_MM, room - 8.0, timer);
        laid.push((8.0, y, Role::Paragraph, type_lines(Face::Bold, LINE_MM, LEAD_MM, INK, &lines)));
        // Start and end are written beside a short time, below a long one.
        let widest = lines.iter().map(|line| ink::text_width_mm(Face::Bold, LINE_MM, line)).fold(0.0, f64::max);
        let beside = lines.len() == 1 && 8.0 + widest + 4.0 < room - PEN_MM;
        y += LEAD_MM * (lines.len() - usize::from(beside)) as f64;
        let mut pen = Figure::new(PEN_MM, LEAD_MM, "to write in", "Room to write start and end.");
        pen.text([0.0, LINE_MM], 3.4, Face::Text, Anchor::Start, GREY, "from");
        pen.line([9.0, LINE_MM + 0.6], [33.0, LINE_MM + 0.6], hair(RULE));
        pen.text([36.0, LINE_MM], 3.4, Face::Text, Anchor::Start, GREY, "to");
        pen.line([41.0, LINE_MM + 0.6], [65.0, LINE_MM + 0.6], hair(RULE));
        laid.push((room - PEN_MM, y, Role::Decoration, pen));
        y += LEAD_MM + 1.0;
    }
    if let Some(caution) = &step.caution {
        let lines = wrap_mm(Face::Bold, 4.6, room - 9.0, caution);
        laid.push((0.0, y + 0.2, Role::Decoration, warning_sign()));
        laid.push((9.0, y, Role::Paragraph, type_lines(Face::Bold, 4.6, 6.2, BRICK, &lines)));
        y += 6.2 * lines.len() as f64 + 1.0;
    }
    (laid, y + 3.0)
}

fn type_lines(face: Face, size_mm: f64, lead_mm: f64, paint: Paint, lines: &[String]) -> Figure {
    let whole = lines.join(" ");
    let mut figure = Figure::new(WIDTH_MM, lead_mm * lines.len() as f64, whole.clone(), whole);
    for (n, line) in lines.iter().enumerate() {
        figure.text([0.0, size_mm + lead_mm * n as f64], size_mm, face, Anchor::Start, paint, line.clone());
    }
    figure
}

fn clock() -> Figure {
    let mut figure = Figure::new(6.0, 6.0, "time", "A clock: how long it takes.");
    figure.circle([3.0, 3.0], 2.5, Some(outline(INK).width(0.4)), None);
    figure.line([3.0, 3.0], [3.0, 1.3], outline(INK).width(0.4));
    figure.line([3.0, 3.0], [4.3, 3.7], outline(INK).width(0.4));
    figure
}

fn warning_sign() -> Figure {
    let mut figure = Figure::new(6.4, 6.0, "caution", "A warning triangle.");
    figure.path(ink::polygon_steps(&[[3.2, 0.4], [6.1, 5.5], [0.3, 5.5]]), Some(outline(BRICK).width(0.5)), None);
    figure.text([3.2, 4.9], 3.8, Face::Bold, Anchor::Middle, BRICK, "!");
    figure
}
