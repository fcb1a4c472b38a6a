//! The photo with what was found on it: outline and its doubt, rod, axis, clicks, and the fitted model thrown back.

use super::{Key, legend, thinned};
use crate::SheetPhoto;
use crate::words::{count, plain};
use ink::palette::{BLUE, INK, PAPER, chain, hair};
use ink::{Figure, Mark, Step, Stroke, circle_steps, polygon_steps, rect_steps};
use result::PhotoResult;

/// Tallest a photo stands on the sheet, mm.
const TALLEST_MM: f64 = 84.0;
/// Radius of the loupe, mm.
const LOUPE_MM: f64 = 12.5;
/// Width of one pixel in the loupe, mm.
const LOUPE_PX_MM: f64 = 2.5;

/// The photo, dimmed outside the part, with everything found drawn over it. `clicks`: the person's own two, px.
pub fn photo(shown: Option<&SheetPhoto>, found: &PhotoResult, clicks: Option<[[f64; 2]; 2]>, width_mm: f64) -> Figure {
    let view = View::fitting(crop_of(shown, found.size_px), width_mm, TALLEST_MM);
    let (width, height) = view.size();
    let mut figure = Figure::new(width_mm, height, format!("Photo {} with what was found on it", found.name), describe(found));
    let mut seen = Vec::new();
    draw_photo(&mut seen, shown, &view);
    draw_found(&mut seen, found, &view);
    figure.marks.push(Mark::Clipped { window: rect_steps([view.left, 0.0], [width, height]), marks: seen });
    if let Some(clicks) = clicks {
        clicks.iter().map(|p| view.place(*p)).for_each(|at| click(&mut figure, at));
    }
    figure.rect([view.left, 0.0], [width, height], Some(hair(INK)), None);
    loupe(&mut figure, shown, found, &view, [width, height]);
    let mut keys =
        vec![(Key::Line(found_line()), "outline found"), (Key::Line(rod_line()), "edges of the rod"), (Key::Line(chain(INK)), "axis")];
    if found.model.is_some() {
        keys.push((Key::Line(model_line()), "model, thrown back"));
    }
    if clicks.is_some() {
        keys.push((Key::Cross(Stroke::full(BLUE, 0.35)), "your clicks"));
    }
    figure.height_mm = height + 1.5 + legend(&mut figure, 0.0, height + 1.5, width_mm, &keys);
    figure
}

/// How much larger than the photo its loupe shows.
pub fn loupe_times(found: &PhotoResult, shown: Option<&SheetPhoto>, width_mm: f64) -> f64 {
    LOUPE_PX_MM / View::fitting(crop_of(shown, found.size_px), width_mm, TALLEST_MM).scale
}

/// From pixels of the upright picture to millimetres on the sheet.
pub(super) struct View {
    /// Left, top, width, height of what is shown, px.
    pub crop: [f64; 4],
    /// Millimetres a pixel.
    pub scale: f64,
    /// Left edge of the photo on the figure, mm.
    pub left: f64,
}

impl View {
    /// As large as fits, in the middle.
    pub fn fitting(crop: [f64; 4], width_mm: f64, tallest_mm: f64) -> View {
        let scale = (width_mm / crop[2]).min(tallest_mm / crop[3]);
        View { crop, scale, left: (width_mm - crop[2] * scale) / 2.0 }
    }

    /// Width and height on the sheet, mm.
    pub fn size(&self) -> (f64, f64) {
        (self.crop[2] * self.scale, self.crop[3] * self.scale)
    }

    pub fn place(&self, px: [f64; 2]) -> [f64; 2] {
        [self.left + (px[0] - self.crop[0]) * self.scale, (px[1] - self.crop[1]) * self.scale]
    }

    pub fn places(&self, px: &[[f64; 2]]) -> Vec<[f64; 2]> {
        thinned(px).into_iter().map(|p| self.place(p)).collect()
    }
}

/// The cut-out; without a picture, or with a cut-out that makes no sense, all of the photo.
pub(super) fn crop_of(shown: Option<&SheetPhoto>, size_px: [usize; 2]) -> [f64; 4] {
    let sensible = |crop: &[f64; 4]| {
        crop.iter().all(|v| v.is_finite() && v.abs() < 1e6)
            && crop[2] >= 1.0
            && crop[3] >= 1.0
            && crop[2] / crop[3] < 50.0
            && crop[3] / crop[2] < 50.0
    };
    let whole = [0.0, 0.0, size_px[0] as f64, size_px[1] as f64];
    shown.map(|photo| photo.crop_px).filter(sensible).or(Some(whole).filter(sensible)).unwrap_or([0.0, 0.0, 400.0, 300.0])
}

fn describe(found: &PhotoResult) -> String {
    let edges = found.outline.left.len() + found.outline.right.len();
    let mut text = format!(
        "The part's outline in {}, good to {} px, drawn as a hairline with its doubt as a band, over the photo dimmed outside the part.",
        count(edges, "point"),
        plain(found.outline.sigma_px, 2)
    );
    if let Some(residual) = found.residual_px {
        text.push_str(&format!(" The fitted model runs {} px from it.", plain(residual, 2)));
    }
    text
}

fn draw_photo(marks: &mut Vec<Mark>, shown: Option<&SheetPhoto>, view: &View) {
    if let Some(photo) = shown.filter(|photo| !photo.jpeg.is_empty()) {
        let size_mm = [view.crop[2] * view.scale, view.crop[3] * view.scale];
        marks.push(Mark::Photo { at: [view.left, 0.0], size_mm, jpeg: photo.jpeg.clone() });
    }
}

fn draw_found(marks: &mut Vec<Mark>, found: &PhotoResult, view: &View) {
    let outline = &found.outline;
    let (left, right) = (view.places(&outline.left), view.places(&outline.right));
    let part: Vec<[f64; 2]> = left.iter().chain(right.iter().rev()).copied().collect();
    dim_outside(marks, &part, view);
    for (points, sigmas) in [(&outline.left, &outline.left_sigma_px), (&outline.right, &outline.right_sigma_px)] {
        marks.push(Mark::Path { steps: band(points, sigmas, view), stroke: None, fill: Some(PAPER.thin(0.65)) });
    }
    for edge in [&left, &right] {
        marks.push(line(edge, Stroke::full(PAPER.thin(0.75), 0.7)));
        marks.push(line(edge, found_line()));
    }
    if let Some(model) = &found.model {
        for edge in [view.places(&model.left), view.places(&model.right)] {
            marks.push(line(&edge, model_line()));
        }
    }
    for edge in [view.places(&outline.rod_left), view.places(&outline.rod_right)] {
        marks.push(line(&edge, Stroke::full(PAPER.thin(0.75), 0.7)));
        marks.push(line(&edge, rod_line()));
    }
    let axis = longer(view.place(outline.axis[0]), view.place(outline.axis[1]), 6.0);
    marks.push(line(&axis, Stroke::full(PAPER.thin(0.6), 0.6)));
    marks.push(line(&axis, chain(INK)));
}

fn found_line() -> Stroke {
    hair(INK)
}

fn model_line() -> Stroke {
    Stroke { paint: BLUE, width_mm: 0.35, dash_mm: vec![0.4, 1.1] }
}

fn rod_line() -> Stroke {
    Stroke { paint: INK, width_mm: 0.25, dash_mm: vec![2.4, 0.7] }
}

fn line(points: &[[f64; 2]], stroke: Stroke) -> Mark {
    Mark::Path { steps: ink::polyline_steps(points), stroke: Some(stroke), fill: None }
}

/// Paper laid thinly over all but the part.
fn dim_outside(marks: &mut Vec<Mark>, part: &[[f64; 2]], view: &View) {
    if part.len() < 3 {
        return;
    }
    let (width, height) = (view.crop[2] * view.scale, view.crop[3] * view.scale);
    let mut steps = rect_steps([view.left, 0.0], [width, height]);
    // The frame turns one way; the part must turn the other to be a hole under the non-zero rule.
    let twice_area: f64 = part.iter().zip(part.iter().cycle().skip(1)).map(|(a, b)| a[0] * b[1] - b[0] * a[1]).sum();
    let mut hole = part.to_vec();
    if twice_area > 0.0 {
        hole.reverse();
    }
    steps.extend(polygon_steps(&hole));
    marks.push(Mark::Path { steps, stroke: None, fill: Some(PAPER.thin(0.5)) });
}

/// Two sigma to each side of an edge.
fn band(points: &[[f64; 2]], sigmas: &[f64], view: &View) -> Vec<Step> {
    let step = points.len().div_ceil(400).max(1);
    let picked: Vec<([f64; 2], f64)> = points
        .iter()
        .zip(sigmas)
        .step_by(step)
        .filter(|(p, s)| p.iter().all(|v| v.is_finite()) && s.is_finite())
        .map(|(p, s)| (view.place(*p), 2.0 * s.clamp(0.0, 50.0) * view.scale))
        .collect();
    let normal = |n: usize| {
        let (a, b) = (picked[n.saturating_sub(1)].0, picked[(n + 1).min(picked.len() - 1)].0);
        let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
        let length = dx.hypot(dy).max(1e-9);
        [-dy / length, dx / length]
    };
    let side = |sign: f64| (0..picked.len()).map(move |n| (n, sign));
    let mut round: Vec<[f64; 2]> = Vec::new();
    for (n, sign) in side(1.0).chain(side(-1.0).rev()) {
        let ((at, half), out) = (picked[n], normal(n));
        round.push([at[0] + sign * half * out[0], at[1] + sign * half * out[1]]);
    }
    polygon_steps(&round)
}

fn longer(from: [f64; 2], to: [f64; 2], by_mm: f64) -> [[f64; 2]; 2] {
    let (dx, dy) = (to[0] - from[0], to[1] - from[1]);
    let share = by_mm / dx.hypot(dy).max(1e-9);
    [[from[0] - dx * share, from[1] - dy * share], [to[0] + dx * share, to[1] + dy * share]]
}

fn click(figure: &mut Figure, at: [f64; 2]) {
    figure.cross(at, 2.2, Stroke::full(PAPER.thin(0.8), 1.0));
    figure.cross(at, 2.0, Stroke::full(BLUE, 0.35));
}

/// A round window on one stretch of the edge, with pixels large enough to see the band of doubt.
fn loupe(figure: &mut Figure, shown: Option<&SheetPhoto>, found: &PhotoResult, view: &View, size: [f64; 2]) {
    let outline = &found.outline;
    let all: Vec<[f64; 2]> =
        [&outline.left, &outline.right, &outline.rod_left, &outline.rod_right].into_iter().flat_map(|edge| view.places(edge)).collect();
    if size[0].min(size[1]) < 4.0 * LOUPE_MM || outline.left.len() + outline.right.len() < 4 {
        return;
    }
    let centre = loneliest_corner(&all, view.left, size);
    let away = |edge: &[[f64; 2]], n: usize| {
        edge.get(n).map_or(f64::INFINITY, |p| (view.place(*p)[0] - centre[0]).hypot(view.place(*p)[1] - centre[1]))
    };
    // A quiet stretch, away from rod and free end.
    let nearest = |edge: &[[f64; 2]]| {
        (edge.len() * 3 / 20..edge.len() * 17 / 20).min_by(|a, b| away(edge, *a).total_cmp(&away(edge, *b))).unwrap_or(0)
    };
    let (l, r) = (nearest(&outline.left), nearest(&outline.right));
    let (edge, sigmas, spot) = if away(&outline.left, l) < away(&outline.right, r) {
        (&outline.left, &outline.left_sigma_px, l)
    } else {
        (&outline.right, &outline.right_sigma_px, r)
    };
    let Some(spot) = edge.get(spot).filter(|p| p.iter().all(|v| v.is_finite())) else { return };
    let near = View {
        crop: [spot[0] - centre[0] / LOUPE_PX_MM, spot[1] - centre[1] / LOUPE_PX_MM, view.crop[2], view.crop[3]],
        scale: LOUPE_PX_MM,
        left: 0.0,
    };
    let marks = loupe_marks(shown, found, edge, sigmas, *spot, &near, view);
    figure.circle(centre, LOUPE_MM, None, Some(PAPER));
    figure.marks.push(Mark::Clipped { window: circle_steps(centre, LOUPE_MM), marks });
    figure.circle(centre, LOUPE_MM, Some(Stroke::full(PAPER, 1.2)), None);
    figure.circle(centre, LOUPE_MM, Some(Stroke::full(INK, 0.5)), None);
    let (from, ring) = (view.place(*spot), LOUPE_MM / LOUPE_PX_MM * view.scale);
    figure.circle(from, ring, Some(Stroke::full(PAPER.thin(0.8), 0.7)), None);
    figure.circle(from, ring, Some(hair(INK)), None);
    let (dx, dy) = (centre[0] - from[0], centre[1] - from[1]);
    let length = dx.hypot(dy).max(1e-9);
    if length > LOUPE_MM + ring {
        let (a, b) = (ring / length, 1.0 - LOUPE_MM / length);
        let ends = [[from[0] + dx * a, from[1] + dy * a], [from[0] + dx * b, from[1] + dy * b]];
        figure.polyline(&ends, Stroke::full(PAPER.thin(0.8), 0.7));
        figure.polyline(&ends, hair(INK));
    }
}

/// What is seen in the loupe: pixels, the band, the edge, the model.
fn loupe_marks(
    shown: Option<&SheetPhoto>,
    found: &PhotoResult,
    edge: &[[f64; 2]],
    sigmas: &[f64],
    spot: [f64; 2],
    near: &View,
    view: &View,
) -> Vec<Mark> {
    let mut marks = Vec::new();
    if let Some(photo) = shown.filter(|photo| !photo.jpeg.is_empty()) {
        let at = near.place([view.crop[0], view.crop[1]]);
        marks.push(Mark::Photo { at, size_mm: [view.crop[2] * LOUPE_PX_MM, view.crop[3] * LOUPE_PX_MM], jpeg: photo.jpeg.clone() });
    }
    let reach = 3.0 * LOUPE_MM / LOUPE_PX_MM;
    let is_close = |p: &[f64; 2]| (p[0] - spot[0]).hypot(p[1] - spot[1]) < reach;
    let around = |side: &[[f64; 2]]| {
        let from = side.iter().position(is_close).unwrap_or(0).saturating_sub(1);
        from..side.iter().rposition(is_close).map_or(from, |n| (n + 2).min(side.len()))
    };
    let close = around(edge);
    let points = edge.get(close.clone()).unwrap_or(&[]);
    let doubts: Vec<f64> = close.map(|n| sigmas.get(n).copied().unwrap_or(found.outline.sigma_px)).collect();
    marks.push(Mark::Path { steps: band(points, &doubts, near), stroke: None, fill: Some(PAPER.thin(0.65)) });
    marks.push(line(&near.places(points), Stroke::full(INK, 0.3)));
    for side in found.model.iter().flat_map(|model| [&model.left, &model.right]) {
        marks.push(line(&near.places(side.get(around(side)).unwrap_or(&[])), model_line().width(0.5)));
    }
    marks
}

/// The corner of the photo that is farthest from everything found.
fn loneliest_corner(points: &[[f64; 2]], left: f64, size: [f64; 2]) -> [f64; 2] {
    let inset = LOUPE_MM + 2.5;
    let corners = [
        [left + inset, inset],
        [left + size[0] - inset, inset],
        [left + size[0] - inset, size[1] - inset],
        [left + inset, size[1] - inset],
    ];
    let room = |corner: &[f64; 2]| points.iter().map(|p| (p[0] - corner[0]).hypot(p[1] - corner[1])).fold(f64::INFINITY, f64::min);
    corners.into_iter().max_by(|a, b| room(a).total_cmp(&room(b))).unwrap_or(corners[0])
}
