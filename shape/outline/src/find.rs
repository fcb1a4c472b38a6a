use crate::coarse::{Coarse, coarse};
use crate::contour::{Contour, line_of};
use crate::edge::{EdgeFit, EdgeTables, Expectation, fit, fit_all};
use crate::frame::AxisFrame;
use crate::light::{Light, lab};
use crate::palette::{Bins, Palette};
use crate::rays::Rays;
use crate::rims::outer_rims;
use crate::rod;
use crate::rodfit::rod_edge;
use crate::rodlines::{Line, rod_lines};
use crate::{Clicks, EdgePoint, Outline, OutlineError};
use photo::Picture;
use quantity::{Note, Noted};
use rayon::prelude::*;

/// Least size of a picture each way, px: a part in a smaller one has too few edge points to be measured.
const LEAST_SIDE_PX: usize = 64;
/// Least distance of the two clicks, px.
const LEAST_CLICKS_PX: f64 = 16.0;
/// Beckmann's alpha of a satin plastic's surface; glossy mouldings and turnings lie between 0.05 and 0.3.
const ROUGHNESS: f64 = 0.1;
/// Rod followed at most, in part lengths as seen.
const ROD_LENGTHS: f64 = 2.5;
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
    // A click is good to about 1 % of the picture's width: half of that as one sigma.
    let click_sigma_px = 0.006 * width as f64;
    let lines = rod_lines(picture, frame, click_sigma_px).ok_or(OutlineError::NothingFound { reason: "no rod leaves the part" })?;
    let (frame, lines) = on_rod(frame, lines);
    let rough = coarse(&light, [width as f64, height as f64], frame, lines);
    let notes: Vec<Note> = Vec::new();
    let outline = refined(picture, &rough, lines);
    Ok(Noted { value: outline, notes })
}

/// The frame with its axis moved onto the middle of the rod where it enters the part; the free end stays.
fn on_rod(frame: AxisFrame, lines: [Line; 2]) -> (AxisFrame, [Line; 2]) {
    let middle = 0.5 * (lines[0].at_joint_px + lines[1].at_joint_px);
    let moved = AxisFrame::new(Clicks { rod_entry: frame.to_px(0.0, middle), free_end: frame.to_px(frame.length_px, 0.0) });
    let lines = lines.map(|line| {
        let (a, b) = (frame.to_px(0.0, line.at(0.0)), frame.to_px(-frame.length_px, line.at(-frame.length_px)));
        let ([ta, wa], [tb, wb]) = (moved.from_px(a), moved.from_px(b));
        let slope = (wa - wb) / (ta - tb);
        Line { at_joint_px: wa - slope * ta, slope, evidence: line.evidence }
    });
    (moved, lines)
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

fn refined(picture: &Picture, rough: &Coarse, lines: [Line; 2]) -> Outline {
    let frame = rough.frame;
    let line = line_of(rough);
    let length: f64 = line.windows(2).map(|p| crate::frame::norm(crate::frame::minus(p[1], p[0]))).sum();
    let spacing = (length / MOST_POINTS).max(1.0);
    let mut contour = Contour::along(&line, spacing, rough.step_px);
    for (reach, step, smooth) in [(2.5 * rough.step_px + 2.0, 1.0, 2.0), (6.0, 0.5, 1.5)] {
        let rays = Rays::cast(picture, &contour, reach, step);
        let colours: Vec<[f32; 3]> = rays.light.par_iter().map(|&rgb| lab(rgb)).collect();
        let palettes = side_palettes(&rays, &colours);
        let offsets = rays.border(spacing, &colours, &palettes);
        contour = Contour::along(&contour.moved(&offsets), spacing, smooth);
    }
    let radii = |contour: &Contour| -> Vec<f64> { (0..contour.points.len()).map(|i| curvature_radius(frame, contour, i)).collect() };
    let tables = sharpest(&Rays::cast(picture, &contour, 9.0, 0.5), &radii(&contour));
    let outward = outer_rims(picture, frame, &contour, &radii(&contour), &tables);
    if outward.iter().any(|&o| o != 0.0) {
        contour = Contour::along(&contour.moved(&outward), spacing, 1.5);
        let rays = Rays::cast(picture, &contour, 3.0, 0.5);
        let colours: Vec<[f32; 3]> = rays.light.par_iter().map(|&rgb| lab(rgb)).collect();
        let offsets = rays.border(spacing, &colours, &side_palettes(&rays, &colours));
        contour = Contour::along(&contour.moved(&offsets), spacing, 1.5);
    }
    let fits = steady(&contour, fit_outline(picture, &contour, &radii(&contour), &tables));
    let half = 0.5 * (lines[0].at_joint_px - lines[1].at_joint_px).abs();
    let room = frame.room_behind_px(picture.width_px() as f64, picture.height_px() as f64).min(ROD_LENGTHS * frame.length_px);
    let edges = [(0, 1.0), (1, -1.0)].map(|(k, side)| rod_edge(picture, frame, lines[k], side, half, [-0.1 * frame.length_px, -room], &tables));
    rod::split(frame, &contour, &fits, edges)
}

/// Fits all along the contour: rays averaged over three pixels of its length, over nine where that tells little.
fn fit_outline(picture: &Picture, contour: &Contour, radii: &[f64], tables: &EdgeTables) -> Vec<Option<EdgeFit>> {
    let rays = Rays::cast(picture, contour, 9.0, 0.5);
    let starts = vec![0.0; rays.count];
    let close = fit_all(&rays.averaged_over(1), &starts, radii, tables);
    let wide = rays.averaged_over(4);
    (0..rays.count)
        .into_par_iter()
        .map(|i| match close[i] {
            Some(fit) if fit.gain >= PLAIN_NATS => Some(fit),
            _ => fit(&wide, i, 0.0, radii[i], tables, Expectation::PART),
        })
        .collect()
}

/// Gain from which an edge is plain enough to be fitted over a short length.
const PLAIN_NATS: f64 = 8.0;

/// Fits that neighbours do not bear out get the doubt that shows in their scatter; lone strays go.
fn steady(contour: &Contour, fits: Vec<Option<EdgeFit>>) -> Vec<Option<EdgeFit>> {
    let reach = (8.0 / contour.spacing_px).ceil() as usize;
    (0..fits.len())
        .map(|i| {
            let mut fit = fits[i]?;
            let near: Vec<f64> = fits[i.saturating_sub(reach)..(i + reach + 1).min(fits.len())].iter().flatten().map(|f| f.offset_px).collect();
            let mut sorted = near.clone();
            sorted.sort_by(f64::total_cmp);
            let middle = sorted[sorted.len() / 2];
            let scatter = solve::mad_sigma(&near);
            let stray = (fit.offset_px - middle).abs();
            if stray > 4.0 * scatter + 0.5 || near.len() <= reach {
                return None;
            }
            fit.sigma_px = fit.sigma_px.hypot(scatter);
            Some(fit)
        })
        .collect()
}

/// Profiles with the blur that suits this picture's plain edges best: one lens and one sensor made them all.
fn sharpest(rays: &Rays, radii: &[f64]) -> EdgeTables {
    let sampled: Vec<usize> = (0..rays.count).step_by((rays.count / 150).max(1)).collect();
    let suits = |tables: &EdgeTables| -> f64 {
        let fits: Vec<Option<EdgeFit>> = sampled.par_iter().map(|&i| fit(rays, i, 0.0, radii[i], tables, Expectation::PART)).collect();
        fits.iter().flatten().filter(|f| f.gain > 10.0).map(|f| f.fit).sum()
    };
    let mut best: Option<(f64, f64, EdgeTables)> = None;
    for blur_px in [0.6, 0.75, 0.9, 1.05, 1.25, 1.5, 1.8, 2.2] {
        let tables = EdgeTables::new(blur_px, ROUGHNESS);
        let suits = suits(&tables);
        if best.as_ref().is_none_or(|b| suits > b.0) {
            best = Some((suits, blur_px, tables));
        }
    }
    best.map_or_else(|| EdgeTables::new(1.0, ROUGHNESS), |b| b.2)
}

/// Colours inside and outside of the contour now held, near it.
fn side_palettes(rays: &Rays, colours: &[[f32; 3]]) -> [Palette; 2] {
    let bins = Bins::over(colours);
    let cells = |from: f64, to: f64| {
        let wanted = colours.iter().enumerate().filter(|(at, _)| {
            let o = ((at % rays.cells) as f64 + 0.5) * rays.step_px - rays.reach_px;
            (from * rays.reach_px..to * rays.reach_px).contains(&o)
        });
        Palette::of(bins, wanted.map(|(_, &lab)| (lab, 1.0)))
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
