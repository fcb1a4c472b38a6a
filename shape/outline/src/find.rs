use crate::coarse::{Coarse, coarse};
use crate::contour::{Contour, line_of};
use crate::edge::{EdgeFit, fit_all};
use crate::frame::AxisFrame;
use crate::light::{Light, lab};
use crate::limb::LimbTable;
use crate::palette::Palette;
use crate::rays::Rays;
use crate::rod;
use crate::{Clicks, EdgePoint, Outline, OutlineError};
use photo::Picture;
use quantity::{Note, Noted};

/// Least size of a picture each way, px: a part in a smaller one has too few edge points to be measured.
const LEAST_SIDE_PX: usize = 64;
/// Least distance of the two clicks, px.
const LEAST_CLICKS_PX: f64 = 16.0;
/// Most points of an outline; beyond that neighbours tell nothing new.
const MOST_POINTS: f64 = 3000.0;

/// Finds the outline of a part and of its rod from two clicks.
pub fn find(picture: &Picture, clicks: Option<Clicks>) -> Result<Noted<Outline>, OutlineError> {
    let (width, height) = (picture.width_px(), picture.height_px());
    if width < LEAST_SIDE_PX || height < LEAST_SIDE_PX {
        return Err(OutlineError::TooSmall { width_px: width, height_px: height, least_px: LEAST_SIDE_PX });
    }
    let clicks = checked(picture, clicks.ok_or(OutlineError::NothingFound { reason: "no clicks were given" })?)?;
    let frame = AxisFrame::new(clicks);
    let light = Light::reduced(picture, (frame.length_px / 160.0).floor().clamp(1.0, 64.0) as usize);
    let rough = coarse(&light, [width as f64, height as f64], frame);
    let notes: Vec<Note> = Vec::new();
    let outline = refined(picture, &rough);
    Ok(Noted { value: outline, notes })
}

fn checked(picture: &Picture, clicks: Clicks) -> Result<Clicks, OutlineError> {
    for [x, y] in [clicks.rod_entry, clicks.free_end] {
        let inside = (0.0..=picture.width_px() as f64).contains(&x) && (0.0..=picture.height_px() as f64).contains(&y);
        if !inside {
            return Err(OutlineError::ClickOutside { x, y, width_px: picture.width_px(), height_px: picture.height_px() });
        }
    }
    let distance_px = AxisFrame::new(clicks).length_px;
    if distance_px < LEAST_CLICKS_PX {
        return Err(OutlineError::ClicksTooNear { distance_px, least_px: LEAST_CLICKS_PX });
    }
    Ok(clicks)
}

fn refined(picture: &Picture, rough: &Coarse) -> Outline {
    let frame = rough.frame;
    let line = line_of(rough);
    let length: f64 = line.windows(2).map(|p| crate::frame::norm(crate::frame::minus(p[1], p[0]))).sum();
    let spacing = (length / MOST_POINTS).max(1.0);
    let mut contour = Contour::along(&line, spacing, rough.step_px);
    for (reach, step, smooth) in [(4.5 * rough.step_px, 1.0, 2.0), (6.0, 0.5, 1.5)] {
        let rays = Rays::cast(picture, &contour, reach, step);
        let palettes = side_palettes(&rays);
        let offsets = rays.border(spacing, &palettes);
        contour = Contour::along(&contour.moved(&offsets), spacing, smooth);
    }
    let rays = Rays::cast(picture, &contour, 9.0, 0.5);
    let starts = vec![0.0; contour.points.len()];
    let radii: Vec<f64> = (0..contour.points.len()).map(|i| curvature_radius(frame, &contour, i)).collect();
    let table = LimbTable::new(1.0);
    let fits = fit_all(&rays, &starts, &radii, &table);
    rod::split(picture, frame, &contour, &fits)
}

/// Colours inside and outside of the contour now held, near it.
fn side_palettes(rays: &Rays) -> [Palette; 2] {
    let cells = |from: f64, to: f64| {
        Palette::of((0..rays.light.len()).filter_map(|at| {
            let o = ((at % rays.cells) as f64 + 0.5) * rays.step_px - rays.reach_px;
            (from * rays.reach_px..to * rays.reach_px).contains(&o).then(|| lab(rays.light[at]))
        }))
    };
    [cells(-1.0, -0.4), cells(0.4, 1.0)]
}

/// Radius of curvature along the line of sight of a body of revolution: the distance from the edge to the axis along its normal
/// (Meusnier's theorem; exact square-on, near enough at a tilt).
fn curvature_radius(frame: AxisFrame, contour: &Contour, i: usize) -> f64 {
    let w = frame.from_px(contour.points[i])[1];
    let slope = crate::frame::dot(contour.normals[i], frame.left);
    (w / if slope.abs() < 0.02 { 0.02f64.copysign(w) } else { slope }).abs().clamp(2.0, frame.length_px)
}

pub(crate) fn edge_points(contour: &Contour, fits: &[Option<EdgeFit>], range: std::ops::Range<usize>) -> Vec<EdgePoint> {
    range
        .filter_map(|i| {
            let fit = fits[i]?;
            let (p, n) = (contour.points[i], contour.normals[i]);
            let at_px = [p[0] + fit.offset_px * n[0], p[1] + fit.offset_px * n[1]];
            (fit.sigma_px.is_finite()).then_some(EdgePoint { at_px, normal: n, sigma_px: fit.sigma_px.max(0.05) })
        })
        .collect()
}
