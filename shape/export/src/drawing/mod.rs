//! The section drawing: half view above the axis, half section below it, with the chosen sizes over the measured ones.
//!
//! Habits of ISO 128 (lines, hatching, half section), ISO 129-1 (sizes), ISO 3098 (lettering heights 1.8, 2.5, 3.5 mm), ISO 5455 (scales), ISO 7200 (title block);
//! all from memory and common practice, no standard was open beside.

mod found;
mod layout;
mod reliefs;
mod scale;
mod sizes;
mod title_block;
mod view;

use ink::{Face, Figure, palette};
use layout::Layout;
use solid::Body;

pub use scale::Scale;
pub use sizes::{DrawnSize, SizeKind};
pub use title_block::TitleBlock;

/// A4 lying, mm (ISO 216).
const PAPER_MM: [f64; 2] = [297.0, 210.0];
/// Margin where the sheet is filed, and the other three (ISO 5457).
const FILING_MARGIN_MM: f64 = 20.0;
const MARGIN_MM: f64 = 10.0;

/// Whether the parting line of a mould and the undercuts that hold it are marked on the section.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum MouldMarks {
    /// A part that is printed or turned has none.
    #[default]
    None,
    /// For casting.
    Drawn,
}

/// The whole drawing sheet: frame, section with its sizes, notes, title block. A4 lying; the greatest preferred scale that fits.
pub fn drawing(body: &Body, sizes: &[DrawnSize], title: &TitleBlock, marks: MouldMarks) -> Figure {
    let inside = [PAPER_MM[0] - FILING_MARGIN_MM - MARGIN_MM, PAPER_MM[1] - 2.0 * MARGIN_MM];
    let room = [inside[0] - 4.0, inside[1] - title_block::HEIGHT_MM - 6.0];
    let mut layout = Layout::fitting(body, sizes, room);
    layout.mould = marks == MouldMarks::Drawn;
    let mut sheet = Figure::new(PAPER_MM[0], PAPER_MM[1], format!("Drawing: {}", title.title), describe(body, sizes, layout.scale));
    title_block::frame(&mut sheet, [FILING_MARGIN_MM, MARGIN_MM], inside);
    let size = layout.size_mm();
    let at = [FILING_MARGIN_MM + 2.0 + 0.5 * (room[0] - size[0]), MARGIN_MM + 2.0 + 0.5 * (room[1] - size[1])];
    layout.draw(&mut sheet, at);
    let corner = [FILING_MARGIN_MM + inside[0] - title_block::WIDTH_MM, MARGIN_MM + inside[1] - title_block::HEIGHT_MM];
    title_block::draw(&mut sheet, corner, title, layout.scale);
    notes(&mut sheet, [FILING_MARGIN_MM + 3.0, corner[1] + 5.0], &layout.notes());
    sheet
}

/// The section alone, no larger than `room_mm`, as the job sheet shows it.
pub fn section(body: &Body, sizes: &[DrawnSize], room_mm: [f64; 2], marks: MouldMarks) -> Figure {
    let mut layout = Layout::fitting(body, sizes, room_mm);
    layout.mould = marks == MouldMarks::Drawn;
    let size = layout.size_mm();
    let mut figure = Figure::new(size[0], size[1], format!("Section, {}", layout.scale), describe(body, sizes, layout.scale));
    layout.draw(&mut figure, [0.0, 0.0]);
    figure
}

/// The greatest preferred scale that fits, or the smallest there is.
pub(crate) fn preferred(fits: impl Fn(&Scale) -> bool) -> Scale {
    scale::PREFERRED.into_iter().find(|scale| fits(scale)).unwrap_or(scale::PREFERRED[scale::PREFERRED.len() - 1])
}

/// A picture on the drawing sheet: frame, title block, notes. `draw` gets the room and gives the picture with its scale.
pub(crate) fn on_sheet(title: &TitleBlock, lines: &[String], draw: impl Fn([f64; 2]) -> (Figure, Scale)) -> Figure {
    let inside = [PAPER_MM[0] - FILING_MARGIN_MM - MARGIN_MM, PAPER_MM[1] - 2.0 * MARGIN_MM];
    let room = [inside[0] - 4.0, inside[1] - title_block::HEIGHT_MM - 6.0];
    let (picture, scale) = draw(room);
    let mut sheet = Figure::new(PAPER_MM[0], PAPER_MM[1], format!("Drawing: {}", title.title), picture.description.clone());
    title_block::frame(&mut sheet, [FILING_MARGIN_MM, MARGIN_MM], inside);
    let at = [FILING_MARGIN_MM + 2.0 + 0.5 * (room[0] - picture.width_mm), MARGIN_MM + 2.0 + 0.5 * (room[1] - picture.height_mm)];
    sheet.put(&picture, at);
    let corner = [FILING_MARGIN_MM + inside[0] - title_block::WIDTH_MM, MARGIN_MM + inside[1] - title_block::HEIGHT_MM];
    title_block::draw(&mut sheet, corner, title, scale);
    notes(&mut sheet, [FILING_MARGIN_MM + 3.0, corner[1] + 5.0], lines);
    sheet
}

/// Beside the title block, the last line at its foot; as wide as the room there.
fn notes(sheet: &mut Figure, at: [f64; 2], lines: &[String]) {
    let width = sheet.width_mm - MARGIN_MM - title_block::WIDTH_MM - at[0] - 3.0;
    let size = letters_mm(1.8);
    let wrapped: Vec<String> = lines.iter().flat_map(|line| ink::wrap_mm(Face::Figures, size, width, line)).collect();
    let pitch = 3.0;
    let foot = at[1] - 5.0 + title_block::HEIGHT_MM - 2.5;
    let first = (at[1]).min(foot - pitch * wrapped.len().saturating_sub(1) as f64);
    for (row, line) in wrapped.into_iter().enumerate() {
        sheet.text([at[0], first + pitch * row as f64], size, Face::Figures, ink::Anchor::Start, palette::INK, line);
    }
}

/// Type size (em) whose capitals are `height_mm` tall: Bench Figures has capitals of 736/1024 em.
fn letters_mm(height_mm: f64) -> f64 {
    height_mm * 1024.0 / 736.0
}

fn describe(body: &Body, sizes: &[DrawnSize], scale: Scale) -> String {
    let [low, high] = body.bounds_mm();
    let mut text = format!(
        "Half view above the axis, half section below, at {scale}. The part is {} long and {} across.",
        quantity_text(high[2] - low[2]),
        quantity_text(2.0 * high[0])
    );
    for size in sizes {
        text.push_str(&format!(" {}.", size.words()));
    }
    text
}

fn quantity_text(mm: f64) -> String {
    let text = format!("{mm:.3}");
    format!("{} mm", text.trim_end_matches('0').trim_end_matches('.'))
}
