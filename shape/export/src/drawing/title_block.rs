use super::letters_mm;
use super::scale::Scale;
use ink::{Anchor, Face, Figure, fits_mm, palette};

/// Fields of the title block (ISO 7200).
#[derive(Clone, Debug, Default, PartialEq)]
pub struct TitleBlock {
    /// Title of the part.
    pub title: String,
    /// Who makes it and answers for it.
    pub maker: String,
    /// Date of issue, as it is to be read.
    pub date: String,
    /// Revision.
    pub revision: String,
    /// Page, as "1/1".
    pub page: String,
    /// What it is made of; may be empty.
    pub material: String,
}

/// Width of the block; the standard allows at most this.
pub(crate) const WIDTH_MM: f64 = 180.0;
/// Height of the block.
pub(crate) const HEIGHT_MM: f64 = 27.0;
const UPPER_MM: f64 = 15.0;

/// The border of the sheet with its centring marks.
pub(crate) fn frame(sheet: &mut Figure, at: [f64; 2], size: [f64; 2]) {
    sheet.rect(at, size, Some(palette::outline(palette::INK).width(0.7)), None);
    let (paper, mark) = ([sheet.width_mm, sheet.height_mm], palette::outline(palette::INK));
    let middle = [0.5 * paper[0], 0.5 * paper[1]];
    let inward = 5.0;
    sheet.line([5.0, middle[1]], [at[0] + inward, middle[1]], mark.clone());
    sheet.line([paper[0] - 5.0, middle[1]], [at[0] + size[0] - inward, middle[1]], mark.clone());
    sheet.line([middle[0], 5.0], [middle[0], at[1] + inward], mark.clone());
    sheet.line([middle[0], paper[1] - 5.0], [middle[0], at[1] + size[1]], mark);
}

/// The block with its top left corner at `at`.
pub(crate) fn draw(sheet: &mut Figure, at: [f64; 2], block: &TitleBlock, scale: Scale) {
    sheet.rect(at, [WIDTH_MM, HEIGHT_MM], Some(palette::outline(palette::INK)), Some(ink::Paint::solid([255, 255, 255]).thin(0.0)));
    sheet.line([at[0], at[1] + UPPER_MM], [at[0] + WIDTH_MM, at[1] + UPPER_MM], palette::hair(palette::INK));
    let scale = scale.to_string();
    let upper = [("Maker", block.maker.as_str(), 50.0, 2.5), ("Title", &block.title, 110.0, 3.5), ("Page", &block.page, 20.0, 2.5)];
    row(sheet, at, UPPER_MM, &upper);
    let lower = [
        ("Projection", "", 28.0, 2.5),
        ("Scale", &scale, 22.0, 2.5),
        ("Units", "mm", 20.0, 2.5),
        ("Material", &block.material, 58.0, 2.5),
        ("Date", &block.date, 32.0, 2.5),
        ("Revision", &block.revision, 20.0, 2.5),
    ];
    row(sheet, [at[0], at[1] + UPPER_MM], HEIGHT_MM - UPPER_MM, &lower);
    projection_symbol(sheet, [at[0] + 17.5, at[1] + UPPER_MM + 0.5 * (HEIGHT_MM - UPPER_MM)]);
}

/// Cells from left to right: caption, value, width, height of the value's capitals.
fn row(sheet: &mut Figure, at: [f64; 2], height: f64, cells: &[(&str, &str, f64, f64)]) {
    let mut x = at[0];
    for (index, &(caption, value, width, capitals)) in cells.iter().enumerate() {
        if index > 0 {
            sheet.line([x, at[1]], [x, at[1] + height], palette::hair(palette::INK));
        }
        sheet.text([x + 1.5, at[1] + 3.0], letters_mm(1.5), Face::Figures, Anchor::Start, palette::GREY, caption);
        let size = letters_mm(capitals);
        let value = fits_mm(Face::Figures, size, width - 3.0, value);
        sheet.text([x + 1.5, at[1] + height - 2.6], size, Face::Figures, Anchor::Start, palette::INK, value);
        x += width;
    }
}

/// First angle: a truncated cone and its end view on the side away from what is seen (ISO 5456-2).
fn projection_symbol(sheet: &mut Figure, at: [f64; 2]) {
    let (line, axis) =
        (palette::hair(palette::INK), ink::Stroke { dash_mm: vec![2.0, 0.5, 0.2, 0.5], ..palette::hair(palette::INK).width(0.15) });
    let (large, small, length) = (2.6, 1.3, 5.2);
    let cone = [at[0] - 7.2, at[1]];
    let circle = [at[0] + 5.0, at[1]];
    let corners =
        [[cone[0], at[1] - small], [cone[0] + length, at[1] - large], [cone[0] + length, at[1] + large], [cone[0], at[1] + small]];
    sheet.path(ink::polygon_steps(&corners), Some(line.clone()), None);
    sheet.circle(circle, large, Some(line.clone()), None);
    sheet.circle(circle, small, Some(line), None);
    sheet.line([cone[0] - 1.2, at[1]], [cone[0] + length + 1.2, at[1]], axis.clone());
    sheet.line([circle[0] - large - 1.2, at[1]], [circle[0] + large + 1.2, at[1]], axis.clone());
    sheet.line([circle[0], at[1] - large - 1.2], [circle[0], at[1] + large + 1.2], axis);
}
