//! From a rough contour to edge points: nearer borders first, then fits to a fraction of a pixel, then what belongs to the rod.

use crate::contour::Contour;
use crate::edge::{EdgeFit, EdgeTables, Expectation, fit, fit_all};
use crate::frame::{AxisFrame, dot};
use crate::joint::rod_joint;
use crate::light::lab;
use crate::mirror::Mirror;
use crate::palette::{Bins, Palette};
use crate::rays::Rays;
use crate::rims::outer_rims;
use crate::rod;
use crate::rodfit::{RodEdge, rod_edges};
use crate::rodlines::{Known, Line, rod_lines};
use crate::{EdgePoint, Outline};
use photo::Picture;
use rayon::prelude::*;

/// Beckmann's alpha of a satin plastic's surface, and what glossy and dull ones differ by (0.03 polished moulding, 0.2 turned or printed and rubbed).
const ROUGHNESS: f64 = 0.1;
pub(crate) const ROUGHNESS_RANGE: [f64; 2] = [0.03, 0.2];
/// Rod followed at most, in part lengths as seen.
const ROD_LENGTHS: f64 = 2.5;
/// Gain from which an edge is plain enough to be fitted over a short length.
const PLAIN_NATS: f64 = 8.0;

/// Where along the rod, in part lengths as seen, its edges are held against the part's sides, and how far off the middle one of them must be
/// another thing's: less than that the fit of the profile weighs better than an eye for lines can.
const UNEVEN_AT: f64 = 0.36;
const UNEVEN_PX: f64 = 1.0;
const UNEVEN_SIGMAS: f64 = 3.0;

/// A contour to be refined, and how far off it may be.
pub(crate) struct Rough {
    pub frame: AxisFrame,
    pub lines: [Line; 2],
    pub contour: Contour,
    pub doubt_px: f64,
    /// Where no edge is found the contour itself stands, with this doubt: a person's trace. `None` leaves a gap.
    pub stands_px: Option<f64>,
}

pub(crate) fn refined(picture: &Picture, rough: Rough) -> Outline {
    let (frame, spacing) = (rough.frame, rough.contour.spacing_px);
    let mut contour = rough.contour;
    for (reach, step, smooth) in [(rough.doubt_px, 1.0, 2.0), (6.0, 0.5, 1.5)] {
        contour = Contour::along(&contour.moved(&border(picture, &contour, reach, step)), spacing, smooth);
    }
    let tables = sharpest(&Rays::cast(picture, &contour, 9.0, 0.5), &radii(frame, &contour));
    let outward = outer_rims(picture, frame, &contour, &radii(frame, &contour), &tables);
    if outward.iter().any(|&o| o != 0.0) {
        contour = Contour::along(&contour.moved(&outward), spacing, 1.5);
        contour = Contour::along(&contour.moved(&border(picture, &contour, 3.0, 0.5)), spacing, 1.5);
    }
    let size_px = [picture.width_px() as f64, picture.height_px() as f64];
    let radii = radii(frame, &contour);
    let mut fits = steady(&contour, fit_outline(picture, &contour, &radii, &tables));
    let mirror = Mirror::of(size_px, frame, &contour, &fits);
    if let Some(sigma_px) = rough.stands_px {
        let trace = EdgeFit { offset_px: 0.0, sigma_px, gain: 0.0 };
        fits.iter_mut().for_each(|fit| *fit = fit.or(Some(trace)));
    }
    let room = frame.room_behind_px(picture.width_px() as f64, picture.height_px() as f64).min(ROD_LENGTHS * frame.length_px);
    let range = [-0.1 * frame.length_px, -room];
    let mut edges = rod_edges(picture, frame, rough.lines, range, &tables, None);
    if let Some(mirror) = mirror.filter(|mirror| uneven(mirror, frame, &edges)) {
        let lines = rod_lines(picture, frame, Known::Sides(&mirror)).unwrap_or(rough.lines);
        edges = rod_edges(picture, frame, lines, range, &tables, Some(&mirror));
    }
    let biases = [part_bias(picture, &contour, &radii, &tables), rod_bias(&edges)];
    let (mut outline, ends) = rod::split(frame, &contour, &fits, edges, biases);
    outline.rod_joint = rod_joint(picture, frame, ends, &tables);
    outline
}

/// Whether the rod's edges lie so unevenly about the middle between the part's sides that one of them must be another thing's.
fn uneven(mirror: &Mirror, frame: AxisFrame, edges: &[RodEdge; 2]) -> bool {
    let t = -UNEVEN_AT * frame.length_px;
    let expected = mirror.middle(t);
    let [left, right] = [0, 1].map(|k| edges[k].line.at(t));
    expected.off_px(left, right).abs() > UNEVEN_PX.max(UNEVEN_SIGMAS * expected.sigma_px)
}

/// Offsets of the border that colours and their steps make out near a contour, px.
fn border(picture: &Picture, contour: &Contour, reach: f64, step: f64) -> Vec<f64> {
    let rays = Rays::cast(picture, contour, reach, step);
    let colours: Vec<[f32; 3]> = rays.light.par_iter().map(|&rgb| lab(rgb)).collect();
    rays.border(contour.spacing_px, &colours, &side_palettes(&rays, &colours))
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

/// Fits that neighbours do not bear out get the doubt that shows in their scatter; lone strays go.
fn steady(contour: &Contour, fits: Vec<Option<EdgeFit>>) -> Vec<Option<EdgeFit>> {
    let reach = (8.0 / contour.spacing_px).ceil() as usize;
    (0..fits.len())
        .map(|i| {
            let mut fit = fits[i]?;
            let near: Vec<f64> =
                fits[i.saturating_sub(reach)..(i + reach + 1).min(fits.len())].iter().flatten().map(|f| f.offset_px).collect();
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

/// Profiles with the blur that sets the edges apart from smooth changes best: one lens and one sensor made them all.
fn sharpest(rays: &Rays, radii: &[f64]) -> EdgeTables {
    let sampled: Vec<usize> = (0..rays.count).step_by((rays.count / 150).max(1)).collect();
    let suits = |tables: &EdgeTables| -> f64 {
        let fits: Vec<Option<EdgeFit>> = sampled.par_iter().map(|&i| fit(rays, i, 0.0, radii[i], tables, Expectation::PART)).collect();
        fits.iter().flatten().map(|f| f.gain.max(0.0)).sum()
    };
    let mut best: Option<(f64, EdgeTables)> = None;
    for blur_px in [0.6, 0.75, 0.9, 1.05, 1.25, 1.5, 1.8, 2.2] {
        let tables = EdgeTables::new(blur_px, ROUGHNESS);
        let suits = suits(&tables);
        if best.as_ref().is_none_or(|b| suits > b.0) {
            best = Some((suits, tables));
        }
    }
    best.map_or_else(|| EdgeTables::new(1.0, ROUGHNESS), |b| b.1)
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

/// Radii of curvature along the line of sight of a body of revolution, px: the distance from the edge to the axis along its normal
/// (Meusnier's theorem; exact square-on, near enough at a tilt).
fn radii(frame: AxisFrame, contour: &Contour) -> Vec<f64> {
    (0..contour.points.len())
        .map(|i| {
            let w = frame.place(contour.points[i])[1];
            let slope = dot(contour.normals[i], frame.left);
            (w / if slope.abs() < 0.02 { 0.02f64.copysign(w) } else { slope }).abs().clamp(2.0, frame.length_px)
        })
        .collect()
}

/// Doubt about the edge model, px: half of what the outline moves by between a polished and a dull surface, in the middle of all plain points.
/// 0.03 px stands for what else the profile leaves out (the fitted blur, JPEG).
fn part_bias(picture: &Picture, contour: &Contour, radii: &[f64], tables: &EdgeTables) -> f64 {
    let rays = Rays::cast(picture, contour, 9.0, 0.5);
    let [smooth, dull] = ROUGHNESS_RANGE.map(|alpha| EdgeTables::new(tables.blur_px, alpha));
    let mut moves: Vec<f64> = (0..rays.count)
        .step_by((rays.count / 150).max(1))
        .filter_map(|i| {
            let at = |tables: &EdgeTables| fit(&rays, i, 0.0, radii[i], tables, Expectation::PART).filter(|f| f.gain > PLAIN_NATS);
            Some((at(&smooth)?.offset_px - at(&dull)?.offset_px).abs())
        })
        .collect();
    moves.sort_by(f64::total_cmp);
    let middle = moves.get(moves.len() / 2).copied().unwrap_or(0.5);
    (0.5 * middle).hypot(0.03)
}

/// The same for the rod, px. A faint edge is one whose profile is hardly seen, and a polished rod mirrors what lies beside it:
/// from 0.05 px where the edges are plain to 0.4 px where they are a nat apart from none, by judgement, not by measurement.
fn rod_bias(edges: &[RodEdge; 2]) -> f64 {
    let seen: Vec<&RodEdge> = edges.iter().filter(|e| !e.points.is_empty()).collect();
    let weaker = seen.iter().map(|e| e.line.evidence).fold(f64::INFINITY, f64::min).max(1.0);
    let limb = seen.iter().map(|e| e.limb_px).sum::<f64>() / seen.len().max(1) as f64;
    (0.4 / weaker.sqrt()).clamp(0.05, 0.4).hypot(limb)
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
