//! Where on a photo colour was read: the grey patch, patches of known colour, the region on the part, sample chips.

use super::photo::{View, crop_of};
use super::{Key, legend};
use crate::SheetPhoto;
use crate::words::bounded;
use ink::palette::{BLUE, INK, PAPER, hair};
use ink::{Figure, Mark, Stroke, polygon_steps, rect_steps};
use job::document::{Document, Photo};

/// Most outlines of one kind.
const MOST: usize = 200;
/// Tallest such a photo stands on the sheet, mm.
const TALLEST_MM: f64 = 70.0;

/// The photo with the regions that the document names in it. `None` where it names none, or none of them is in the cut-out.
pub fn regions(shown: &SheetPhoto, photo: &Photo, document: &Document, width_mm: f64) -> Option<Figure> {
    let samples = document.sample.iter().filter_map(|sample| sample.region.as_ref()).filter(|region| region.photo == photo.name);
    let kinds = [
        ("grey patch", grey_line(), photo.neutral.iter().map(|patch| &patch.polygon).collect::<Vec<_>>()),
        ("patches of known colour", patch_line(), photo.patch.iter().map(|patch| &patch.polygon).take(MOST).collect()),
        ("colour of the part", part_line(), photo.colour_region.iter().collect()),
        ("sample chips", hair(INK), samples.map(|region| &region.polygon).take(MOST).collect()),
    ];
    let all: Vec<[f64; 2]> = kinds.iter().flat_map(|(_, _, polygons)| polygons).flat_map(|polygon| polygon.iter().copied()).collect();
    let whole = View::fitting(crop_of(Some(shown), [0, 0]), width_mm, TALLEST_MM);
    let view = View::fitting(part_of(whole.crop, &all)?, width_mm, TALLEST_MM);
    let (width, height) = view.size();
    let named: Vec<&str> = kinds.iter().filter(|(_, _, polygons)| !polygons.is_empty()).map(|(name, _, _)| *name).collect();
    let words = format!("The photo with these regions drawn on it: {}.", named.join(", "));
    let mut figure = Figure::new(width_mm, height, format!("Where colour was read in photo {}", bounded(&photo.name, 60)), words);
    let mut marks = Vec::new();
    if !shown.jpeg.is_empty() {
        let size_mm = [whole.crop[2] * view.scale, whole.crop[3] * view.scale];
        marks.push(Mark::Photo { at: view.place([whole.crop[0], whole.crop[1]]), size_mm, jpeg: shown.jpeg.clone() });
    }
    for (_, stroke, polygons) in &kinds {
        for polygon in polygons {
            let steps = polygon_steps(&view.places(polygon));
            marks.push(Mark::Path { steps: steps.clone(), stroke: Some(Stroke::full(PAPER, stroke.width_mm + 0.7)), fill: None });
            marks.push(Mark::Path { steps, stroke: Some(stroke.clone()), fill: None });
        }
    }
    figure.marks.push(Mark::Clipped { window: rect_steps([view.left, 0.0], [width, height]), marks });
    figure.rect([view.left, 0.0], [width, height], Some(hair(INK)), None);
    let keys: Vec<(Key, &str)> =
        kinds.into_iter().filter(|(_, _, polygons)| !polygons.is_empty()).map(|(name, stroke, _)| (Key::Line(stroke), name)).collect();
    figure.height_mm = height + 1.5 + legend(&mut figure, 0.0, height + 1.5, width_mm, &keys);
    Some(figure)
}

/// The part of a cut-out that holds all points, with ground round them. `None` where none of them is in it.
fn part_of(crop: [f64; 4], points: &[[f64; 2]]) -> Option<[f64; 4]> {
    let inside = |p: &&[f64; 2]| p[0] >= crop[0] && p[1] >= crop[1] && p[0] <= crop[0] + crop[2] && p[1] <= crop[1] + crop[3];
    let held: Vec<&[f64; 2]> = points.iter().filter(inside).collect();
    let range = |k: usize| held.iter().map(|p| p[k]).fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), v| (low.min(v), high.max(v)));
    let ((x0, x1), (y0, y1)) = (range(0), range(1));
    if held.is_empty() {
        return None;
    }
    let ground = (0.2 * (x1 - x0).max(y1 - y0)).max(0.05 * crop[2]);
    let (left, top) = ((x0 - ground).max(crop[0]), (y0 - ground).max(crop[1]));
    let (right, bottom) = ((x1 + ground).min(crop[0] + crop[2]), (y1 + ground).min(crop[1] + crop[3]));
    Some([left, top, (right - left).max(1.0), (bottom - top).max(1.0)])
}

fn grey_line() -> Stroke {
    Stroke { paint: INK, width_mm: 0.35, dash_mm: vec![1.6, 0.8] }
}

fn patch_line() -> Stroke {
    Stroke { paint: INK, width_mm: 0.35, dash_mm: vec![0.4, 0.8] }
}

fn part_line() -> Stroke {
    Stroke::full(BLUE, 0.5)
}
