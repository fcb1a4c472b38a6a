//! The part's outline at full size, to lay a made part on, with a scale that shows whether the printer kept its word.

use super::{facts_of, furnish_as};
use crate::pictures::meant_line;
use crate::words::{bounded, plain};
use crate::{JobSheet, SheetError};
use ink::palette::{GREY, INK, chain, hair};
use ink::pdf::{Page, Paper, Piece, Role};
use ink::{Anchor, Face, Figure, wrap_mm};

/// Lines of the gauge are this wide; a size runs from middle to middle of its lines.
const LINE_MM: f64 = 0.18;
/// Length of the scale that shows whether the print is true, mm.
pub const CHECK_MM: f64 = 100.0;
/// Largest part that fits on the sheet with its scales, mm: length, diameter.
const LARGEST_MM: [f64; 2] = [165.0, 120.0];
/// Diameters that get a gap of their own.
const MOST_GAPS: usize = 10;

/// The gauge as a PDF file; `None` without a profile, or for a part larger than the paper.
///
/// # Errors
/// [`SheetError::Ink`] where the PDF library refuses.
pub fn gauge_pdf(sheet: &JobSheet, paper: Paper) -> Result<Option<Vec<u8>>, SheetError> {
    let Some(page) = gauge_page(sheet, paper) else { return Ok(None) };
    Ok(Some(ink::pdf::write(
        &[page],
        &facts_of(sheet, "gauge at full size", "The part's outline at 1:1, with a scale to check the print"),
    )?))
}

pub(crate) fn gauge_page(sheet: &JobSheet, paper: Paper) -> Option<Page> {
    let figure = gauge(sheet)?;
    let size = paper.size_mm();
    let mut page = Page { width_mm: size[0], height_mm: size[1], pieces: Vec::new() };
    furnish_as(&mut page, sheet, "Gauge 1:1", 1, 1);
    let left = super::flow::block_corner(&page)[0];
    let title = Figure { title: "Gauge at full size".into(), ..heading("Gauge at full size, 1:1") };
    page.pieces.insert(0, Piece { at: [left, 14.0], role: Role::Heading(1), figure: title });
    page.pieces.insert(1, Piece { at: [left, 26.0], role: Role::Picture, figure });
    Some(page)
}

fn heading(text: &str) -> Figure {
    let mut figure = Figure::new(180.0, 10.0, text, text);
    figure.text([0.0, 8.0], 8.0, Face::Bold, Anchor::Start, INK, text);
    figure
}

/// The drawing itself, every millimetre a millimetre.
pub fn gauge(sheet: &JobSheet) -> Option<Figure> {
    let chain_points: Vec<[f64; 2]> = meant_line(&sheet.result.profile.as_ref()?.pieces);
    let length = chain_points.iter().map(|p| p[0]).fold(0.0, f64::max);
    let radius = chain_points.iter().map(|p| p[1]).fold(0.0, f64::max);
    if !(1.0..=LARGEST_MM[0]).contains(&length) || !(0.5..=LARGEST_MM[1] / 2.0).contains(&radius) {
        return None;
    }
    let mut figure = Figure::new(
        180.0,
        14.0 + 2.0 * radius.max(10.0) + 100.0,
        "Gauge at full size",
        format!(
            "The part's outline at full size, {} mm long and {} mm across, with a scale of {CHECK_MM} mm.",
            plain(length, 2),
            plain(2.0 * radius, 2)
        ),
    );
    let mut y = check_scale(&mut figure);
    y = outline_at(&mut figure, &chain_points, length, radius, y + 9.0);
    y = gaps(&mut figure, sheet, y + 9.0);
    figure.height_mm = y + 4.0;
    Some(figure)
}

/// A scale of 100 mm along and one of 50 mm down: a printer may stretch either way.
fn check_scale(figure: &mut Figure) -> f64 {
    let (x, y) = (2.0, 10.0);
    let says = "Print at 100 %, never fitted to the page. Lay a steel rule on both scales: only if they are 100.0 and 50.0 mm long is this gauge true.";
    for (n, line) in wrap_mm(Face::Text, 3.9, 112.0, says).iter().enumerate() {
        figure.text([x, y + 16.0 + 5.3 * n as f64], 3.9, Face::Text, Anchor::Start, INK, line.clone());
    }
    figure.line([x, y], [x + CHECK_MM, y], hair(INK).width(LINE_MM));
    for mm in 0..=100u32 {
        let tall = if mm % 10 == 0 {
            5.0
        } else if mm % 5 == 0 {
            3.4
        } else {
            2.2
        };
        let at = x + f64::from(mm);
        figure.line([at, y], [at, y - tall], hair(INK).width(LINE_MM));
        if mm % 10 == 0 {
            figure.text([at, y + 4.4], 3.2, Face::Figures, Anchor::Middle, INK, mm.to_string());
        }
    }
    let (x, top) = (150.0, 4.0);
    figure.line([x, top], [x, top + 50.0], hair(INK).width(LINE_MM));
    for mm in 0..=50u32 {
        let wide = if mm % 10 == 0 {
            5.0
        } else if mm % 5 == 0 {
            3.4
        } else {
            2.2
        };
        let at = top + f64::from(mm);
        figure.line([x, at], [x + wide, at], hair(INK).width(LINE_MM));
        if mm % 10 == 0 {
            figure.text([x - 1.5, at + 1.0], 3.2, Face::Figures, Anchor::End, INK, mm.to_string());
        }
    }
    top + 50.0
}

/// Both halves of the outline about its axis, from the rod end at the left.
fn outline_at(figure: &mut Figure, chain_points: &[[f64; 2]], length: f64, radius: f64, top: f64) -> f64 {
    let (left, axis) = (6.0, top + radius);
    let half = |sign: f64| chain_points.iter().map(|p| [left + p[0], axis - sign * p[1]]).collect::<Vec<_>>();
    figure.polyline(&half(1.0), hair(INK).width(LINE_MM));
    figure.polyline(&half(-1.0), hair(INK).width(LINE_MM));
    figure.line([left - 5.0, axis], [left + length + 5.0, axis], chain(GREY).width(LINE_MM));
    let foot = axis + radius + 5.0;
    for z in [0.0, length] {
        figure.line([left + z, axis + radius + 1.0], [left + z, foot + 1.5], hair(GREY).width(LINE_MM));
    }
    figure.line([left, foot], [left + length, foot], hair(GREY).width(LINE_MM));
    figure.text([left + length / 2.0, foot + 4.6], 3.4, Face::Figures, Anchor::Middle, INK, format!("{} mm", plain(length, 2)));
    figure.text([left, top - 2.5], 3.4, Face::Text, Anchor::Start, GREY, "rod end at the left; lay the part on it, eye straight above");
    foot + 5.0
}

/// A gap for each diameter: the part's place held between two lines must cover the paper and no more.
fn gaps(figure: &mut Figure, sheet: &JobSheet, top: f64) -> f64 {
    let mut sizes: Vec<(&str, f64)> =
        sheet.result.dimensions.iter().filter(|size| size.kind == "diameter").map(|size| (size.name.as_str(), size.used_mm)).collect();
    sizes.retain(|(_, mm)| (0.5..=LARGEST_MM[1]).contains(mm));
    sizes.truncate(MOST_GAPS);
    if sizes.is_empty() {
        return top;
    }
    figure.text([2.0, top + 3.0], 3.4, Face::Text, Anchor::Start, GREY, "Diameters, from middle to middle of the lines:");
    let (mut x, mut y, mut row) = (4.0, top + 7.0, 0.0f64);
    for (name, mm) in sizes {
        let named = wrap_mm(Face::Text, 3.2, mm.max(24.0), &bounded(name, 40));
        let wide = mm.max(26.0) + 5.0;
        if x + wide > 176.0 {
            (x, y, row) = (4.0, y + row + 4.0, 0.0);
        }
        for side in [0.0, mm] {
            figure.line([x + side, y], [x + side, y + 12.0], hair(INK).width(LINE_MM));
        }
        figure.text([x, y + 16.0], 3.2, Face::Figures, Anchor::Start, INK, plain(mm, 2));
        for (n, line) in named.iter().enumerate() {
            figure.text([x, y + 20.2 + 4.0 * n as f64], 3.2, Face::Text, Anchor::Start, GREY, line.clone());
        }
        row = row.max(18.0 + 4.0 * named.len() as f64);
        x += wide;
    }
    y + row
}
