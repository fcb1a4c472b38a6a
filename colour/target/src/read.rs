use crate::body::{self, Body, LEAST_GLOSS_SIGMA};
use crate::estimate::{ColourReading, lab_by_ln_rgb, lab_of_linear, total_covariance};
use crate::part_cells::{self, Cell};
use crate::patch;
use crate::pose::{Axis, Facing, TurnedShape};
use crate::{KnownPatch, Light, NeutralPatch, Polygon, TargetError};
use nalgebra::{Matrix3, Vector3};
use photo::Picture;
use quantity::{Note, Noted};

/// A part in a photo, and what is known beside it.
#[derive(Clone, Copy, Debug)]
pub struct PartView<'a> {
    /// The upright picture.
    pub picture: &'a Picture,
    /// Name of the photo, for the reading's source.
    pub name: &'a str,
    /// The part's outline, closed.
    pub outline: &'a Polygon,
    /// Its axis, where known: it tells which way the surface faces. Without it the outline's own symmetry is used.
    pub axis: Option<Axis>,
    /// Focal length, px, where known: it tells how the card lies.
    pub focal_px: Option<f64>,
    /// Where on the part to read; else all of it.
    pub region: Option<&'a Polygon>,
    /// A patch known to be grey, in the same light.
    pub neutral: Option<&'a NeutralPatch>,
    /// Patches of known colour, in the same light.
    pub patches: &'a [KnownPatch],
}

/// What the level of a turned plastic part is uncertain by even when everything is known, one sigma of ln: a plastic scatters 2 to 6 % less
/// in slanting and diffuse light than a card does, and neighbours shade it or throw light on it by some percent.
const LEVEL_SIGMA: f64 = 0.06;

/// What neighbours throw on a spot and how the light's tint varies over the picture: one sigma of each channel, a share. Common practice, no source.
const SPOT_TINT_SIGMA: f64 = 0.005;

/// Reads the colour of the part's body.
///
/// - **Light** from the neutral patch and the known patches ([`Light::find`]); refused when it is burnt out, uneven or mixed.
/// - **Chroma** by the dichromatic model (see `body`): hue and saturation survive shading.
/// - **Lightness** where the part's surface faces as the card does: there it gets the same light. How the card faces is worked out from the
///   corners of the patch, how the part's surface faces from its outline; the fall of light from card to part is measured on the card.
/// - **Doubt**: lightness carries what shading, the card's facing and the fall leave open. Good to: test `renders_are_read_to_their_doubt`.
pub fn read_part(view: &PartView) -> Result<Noted<ColourReading>, TargetError> {
    read_body(view, Shape::Turned)
}

/// Reads a spot on a body whose outline is not known: `view.outline` is then the spot alone (a marked region, or [`Axis::strip`]). Gloss is parted from
/// the body as in [`read_part`]; which way the surface faces is taken for "toward the camera", at the cost of more doubt in lightness.
pub fn read_spot(view: &PartView) -> Result<Noted<ColourReading>, TargetError> {
    read_body(view, Shape::Unknown)
}

/// What is known of the body that a view's outline encloses.
#[derive(Clone, Copy, PartialEq)]
enum Shape {
    /// The outline is that of a turned body.
    Turned,
    /// It is only a piece of its surface.
    Unknown,
}

/// Doubt of the level where the surface may face anywhere toward the camera, one sigma of ln: under a lamp from the side, a turn of 20 degrees to or from it changes
/// the light by a quarter.
const UNKNOWN_SHAPE_SIGMA: f64 = 0.25;

fn read_body(view: &PartView, shape: Shape) -> Result<Noted<ColourReading>, TargetError> {
    let Noted { value: light, mut notes } = Light::find(view.picture, view.neutral, view.patches)?;
    let (mut cells, pixels) = part_cells::cut(view.picture, view.outline, view.region, &light)?;
    let clipped_share = cells.iter().filter(|cell| cell.clipped).count() as f64 / cells.len() as f64;
    if clipped_share > 0.5 {
        return Err(TargetError::Clipped { what: "the part".into(), percent: 100.0 * clipped_share });
    }
    let inside: Vec<[f64; 2]> = cells.iter().map(|cell| cell.at).collect();
    let turned = if shape == Shape::Turned { TurnedShape::new(view.outline, view.axis, &inside) } else { None };
    if let Some(turned) = &turned {
        cells.iter_mut().for_each(|cell| cell.normal = turned.normal(cell.at));
    }
    let dark = || TargetError::TooDark { what: "the part".into() };
    let body = body::separate(&cells).ok_or_else(dark)?;
    refuse_mixed(&cells, &body, &mut notes)?;
    let level = Level::find(&cells, &body, facing(view), turned.as_ref().is_some_and(|s| s.tilt_known)).ok_or_else(dark)?;
    let linear_rgb = capped(level.luminance, &body, &mut notes);
    let middle = middle_of(&cells);
    let level_sigma = level.sigma.hypot(light.fall_sigma(middle)).hypot(if turned.is_some() { 0.0 } else { UNKNOWN_SHAPE_SIGMA });
    let own = own_covariance(linear_rgb, level_sigma, &body);
    level.tell(level_sigma, light.fall_to(middle), clipped_share, &mut notes);
    let mottle = mottle(&cells, &body, linear_rgb);
    if mottle[0].hypot(mottle[1].hypot(mottle[2])) > 4.0 {
        let text = format!(
            "The surface varies in colour by {:.1}, {:.1}, {:.1} (L*, a*, b*) from place to place; its mean is given.",
            mottle[0], mottle[1], mottle[2]
        );
        notes.push(Note::new(text, "If one spot is meant, mark it as the region to read."));
    }
    let reading = finish(&light, view.name, linear_rgb, own, pixels);
    let reading = ColourReading { clipped_share, gloss_share: body.gloss_share, shading_ratio: level.shading_ratio, mottle, ..reading };
    add_light_notes(&light, &mut notes);
    Ok(Noted { value: reading, notes })
}

/// Reads a flat chip or spot lying as the card does, in the same light: no gloss is taken off, no shading reckoned with. `what` names it in errors.
pub fn read_patch(view: &PartView, polygon: &Polygon, what: &str) -> Result<Noted<ColourReading>, TargetError> {
    let Noted { value: light, mut notes } = Light::find(view.picture, view.neutral, view.patches)?;
    let pixels = patch::pixels(view.picture, polygon, what)?;
    if pixels.clipped > 0.05 {
        return Err(TargetError::Clipped { what: what.into(), percent: 100.0 * pixels.clipped });
    }
    let linear_rgb = light.reflectance(pixels.mean, pixels.at).map(|v| v.max(1e-4));
    // A glossy chip adds up to the least gloss; slanting light takes some percent. They pull in opposite senses and are left as doubt.
    let level = FLAT_LEVEL_SIGMA.hypot(light.fall_sigma(pixels.at));
    let rgb = Vector3::from(linear_rgb);
    let noise = Vector3::from(pixels.relative_error).map(|s| s.hypot(SPOT_TINT_SIGMA)).component_mul(&rgb);
    let gloss = Vector3::repeat(0.5 * LEAST_GLOSS_SIGMA);
    let in_rgb = rgb * rgb.transpose() * (level * level) + gloss * gloss.transpose() + Matrix3::from_diagonal(&noise.map(|s| s * s));
    let own = to_lab(linear_rgb, in_rgb);
    let reading = finish(&light, view.name, linear_rgb, own, pixels.count);
    let spread = lab_by_ln_rgb(linear_rgb) * Vector3::repeat(pixels.scatter);
    add_light_notes(&light, &mut notes);
    let flat_level_sigma = SHARED_LEVEL * level;
    let value = ColourReading { clipped_share: pixels.clipped, mottle: spread.abs().into(), flat_level_sigma, ..reading };
    Ok(Noted { value, notes })
}

/// What gloss and slanting light leave open of a flat chip's level against the card, one sigma of ln; and the share of a chip's whole doubt of level, that of the light's fall from the card
/// with it, that all flat chips of a photo have in common: test
/// `chips_in_one_photo_are_read_and_their_differences_are_surer`.
const FLAT_LEVEL_SIGMA: f64 = 0.03;
const SHARED_LEVEL: f64 = 0.9;

fn finish(light: &Light, name: &str, linear_rgb: [f64; 3], own: Matrix3<f64>, pixels: usize) -> ColourReading {
    let lab = lab_of_linear(linear_rgb);
    let camera_sigma = light.camera_sigma(lab[1].hypot(lab[2]));
    let covariance = total_covariance(linear_rgb, own, Matrix3::from(light.covariance), camera_sigma);
    ColourReading {
        lab,
        covariance: covariance.into(),
        sigma: std::array::from_fn(|i| covariance[(i, i)].max(0.0).sqrt()),
        linear_rgb,
        own_covariance: own.into(),
        light_covariance: light.covariance,
        camera_sigma,
        source: format!("photo {name}, by {}", light.source),
        pixels,
        clipped_share: 0.0,
        gloss_share: 0.0,
        shading_ratio: 1.0,
        mottle: [0.0; 3],
        flat_level_sigma: 0.0,
    }
}

fn add_light_notes(light: &Light, notes: &mut Vec<Note>) {
    match light.residual_de00 {
        Some(de00) => {
            let text =
                format!("The patches of known colour are met to {de00:.1} (CIEDE2000) on average, by a {}.", light.correction.words());
            notes.push(Note::new(text, ""));
        }
        None => notes.push(Note::new(
            "The camera's colours rest on one grey patch, so strong colours may be off by some percent of their chroma.",
            "A chart of known patches, or a chip of nearly the wanted colour, beside the part would settle it.",
        )),
    }
}

/// A change of tint with facing that is told, and one that is refused: see [`body::tint_by_facing`].
const TINT_TOLD: f64 = 0.25;
const TINT_REFUSED: f64 = 0.5;

fn refuse_mixed(cells: &[Cell], body: &Body, notes: &mut Vec<Note>) -> Result<(), TargetError> {
    let Some(change) = body::tint_by_facing(cells, body) else { return Ok(()) };
    if change > TINT_REFUSED {
        let place = "from one side of the part to the other".into();
        return Err(TargetError::MixedLight { percent: 100.0 * change, place });
    }
    if change > TINT_TOLD {
        let text = format!("The tint of the part changes by {:.0} % from side to side: the light may be mixed.", 100.0 * change);
        notes.push(Note::new(text, "Take the photo in one light only, away from coloured things."));
    }
    Ok(())
}

fn facing(view: &PartView) -> Facing {
    let patch = view.neutral.map(|n| &n.polygon).or(view.patches.first().map(|p| &p.polygon));
    patch.map_or_else(Facing::camera, |p| Facing::of_patch(p, view.focal_px, view.picture.width_px(), view.picture.height_px()))
}

fn middle_of(cells: &[Cell]) -> [f64; 2] {
    [0, 1].map(|i| cells.iter().map(|cell| cell.at[i]).sum::<f64>() / cells.len() as f64)
}

/// The body's luminance in the card's light.
struct Level {
    luminance: f64,
    /// One sigma of ln.
    sigma: f64,
    /// See [`ColourReading::shading_ratio`].
    shading_ratio: f64,
    /// Share of the doubt that comes from not knowing which way card and surface face.
    facing_sigma: f64,
}

impl Level {
    /// Weighted median of the body's luminance over cells that face as the card does, within 12 degrees or as many more as it takes.
    fn find(cells: &[Cell], body: &Body, card: Facing, tilt_known: bool) -> Option<Level> {
        let usable: Vec<(f64, Vector3<f64>)> = cells
            .iter()
            .zip(&body.luminance)
            .filter(|(_, l)| l.is_finite())
            .map(|(cell, l)| (*l, cell.normal.unwrap_or(-Vector3::z())))
            .collect();
        let angle_deg = |n: &Vector3<f64>| n.dot(&card.normal).clamp(-1.0, 1.0).acos().to_degrees();
        let mut reach_deg = 12.0;
        let weights = loop {
            let weights: Vec<f64> = usable.iter().map(|(_, n)| (-0.5 * (angle_deg(n) / reach_deg).powi(2)).exp()).collect();
            if weights.iter().sum::<f64>() >= 25.0 || reach_deg > 60.0 {
                break weights;
            }
            reach_deg *= 1.3;
        };
        let luminance = weighted_median(&usable, &weights)?;
        let (slope, scatter) = slope_and_scatter(&usable, &weights, card.normal, luminance);
        // The cells are on average `reach` from the card's facing, in all directions: a third of it is left as doubt beside the facing's own.
        let tilt_deg: f64 = if tilt_known { 2.0 } else { 10.0 };
        let off_deg = (card.sigma_deg.powi(2) + tilt_deg.powi(2) + (reach_deg / 3.0).powi(2)).sqrt();
        let facing_sigma = (slope * off_deg.to_radians()).min(0.5);
        let gloss_sigma = (LEAST_GLOSS_SIGMA / luminance).min(0.5);
        let independent = (weights.iter().sum::<f64>() / 16.0).max(1.0);
        let own =
            LEVEL_SIGMA.powi(2) + facing_sigma.powi(2) + gloss_sigma.powi(2) + (0.3 * scatter).powi(2) + scatter.powi(2) / independent;
        Some(Level { luminance, sigma: own.sqrt(), shading_ratio: shading_ratio(&usable), facing_sigma })
    }

    fn tell(&self, level_sigma: f64, fall: f64, clipped_share: f64, notes: &mut Vec<Note>) {
        let text = format!(
            "Lightness is known to {:.0} % of the reflected light only, for it rests on how the part is shaded; hue and chroma are surer.",
            100.0 * level_sigma
        );
        notes.push(Note::new(text, "A flat chip beside the part, or a card held right against it and facing as it does, would settle it."));
        if fall.abs() > 0.2 {
            let text =
                format!("The light at the part is {:.0} % of that at the card, by the fall of light across the card.", 100.0 * fall.exp());
            notes.push(Note::new(text, "Lay the card next to the part."));
        }
        if self.facing_sigma > 0.12 {
            let text =
                "The part's shading is steep where it faces as the card does, so a small error in the card's lie moves the lightness.";
            notes.push(Note::new(text, "Use softer light, or lay the card flat, facing the camera."));
        }
        if clipped_share > 0.03 {
            let text = format!("{:.0} % of the part is burnt out and was left aside.", 100.0 * clipped_share);
            notes.push(Note::new(text, "Expose less."));
        }
    }
}

fn weighted_median(values: &[(f64, Vector3<f64>)], weights: &[f64]) -> Option<f64> {
    let mut order: Vec<usize> = (0..values.len()).collect();
    order.sort_by(|&i, &j| values[i].0.total_cmp(&values[j].0));
    let half = 0.5 * weights.iter().sum::<f64>();
    let mut sum = 0.0;
    let found = order.into_iter().find(|&i| {
        sum += weights[i];
        sum >= half
    });
    found.map(|i| values[i].0)
}

/// Change of ln luminance per radian of facing around the card's, and the scatter left (both from a plane fitted by weighted least squares).
fn slope_and_scatter(values: &[(f64, Vector3<f64>)], weights: &[f64], facing: Vector3<f64>, level: f64) -> (f64, f64) {
    let side = facing.cross(&Vector3::y()).try_normalize(1e-6).unwrap_or_else(Vector3::x);
    let up = facing.cross(&side);
    let row = |n: &Vector3<f64>| Vector3::new(1.0, n.dot(&side), n.dot(&up));
    let (mut normal, mut right) = (Matrix3::zeros(), Vector3::zeros());
    let total: f64 = weights.iter().sum();
    for ((value, n), w) in values.iter().zip(weights) {
        let r = row(n);
        normal += r * r.transpose() * *w;
        right += r * (*w * (value / level).min(3.0));
    }
    // Where the facings lie along one line (a plain cylinder) the other direction stays unknown: drawn to zero.
    normal += Matrix3::from_diagonal(&Vector3::new(0.0, 1.0, 1.0)) * (0.003 * total);
    let plane = normal.try_inverse().map_or(Vector3::new(1.0, 0.0, 0.0), |inverse| inverse * right);
    let deviation =
        values.iter().zip(weights).map(|((value, n), w)| w * ((value / level).min(3.0) - row(n).dot(&plane)).abs()).sum::<f64>();
    // A mean deviation times 1.25 is a standard one for normal errors.
    (plane.yz().norm() / plane.x.max(0.2), 1.25 * deviation / total)
}

fn shading_ratio(values: &[(f64, Vector3<f64>)]) -> f64 {
    let mut sorted: Vec<f64> = values.iter().map(|v| v.0).collect();
    sorted.sort_by(f64::total_cmp);
    let at = |share: f64| sorted.get(((sorted.len().max(1) - 1) as f64 * share) as usize).copied().unwrap_or(1.0);
    at(0.9) / at(0.1).max(1e-4)
}

/// Linear sRGB of the body; nothing reflects more than it gets.
fn capped(luminance: f64, body: &Body, notes: &mut Vec<Note>) -> [f64; 3] {
    let rgb = (body.chroma.add_scalar(1.0) * luminance).map(|v| v.max(0.02 * luminance).max(1e-4));
    let most = rgb.max();
    if most <= 0.97 {
        return rgb.into();
    }
    let text = format!(
        "The part reads as reflecting {:.0} % of the light in one channel; more than 97 % is not possible, so it stands nearer the light than the card.",
        100.0 * most
    );
    notes.push(Note::new(text, "Lay the card next to the part."));
    (rgb * (0.97 / most)).into()
}

fn own_covariance(linear_rgb: [f64; 3], level_sigma: f64, body: &Body) -> Matrix3<f64> {
    let rgb = Vector3::from(linear_rgb);
    let luminance = patch::luminance(linear_rgb);
    let weights = Vector3::new(0.2126, 0.7152, 0.0722);
    let across = weights.cross(&body.chroma).try_normalize(1e-9).unwrap_or_else(Vector3::zeros);
    let vectors = [rgb * level_sigma, body.chroma * (luminance * body.chroma_share_sigma), across * (luminance * body.across_sigma)];
    to_lab(linear_rgb, vectors.iter().map(|v| v * v.transpose()).sum())
}

/// A covariance of linear RGB as one of Lab.
fn to_lab(linear_rgb: [f64; 3], covariance: Matrix3<f64>) -> Matrix3<f64> {
    let jacobian = lab_by_ln_rgb(linear_rgb) * Matrix3::from_diagonal(&Vector3::from(linear_rgb).map(|v| 1.0 / v));
    jacobian * covariance * jacobian.transpose()
}

/// Variation of the surface itself: each cell against the mean of the four that lie three cells away, where shading, being smooth, cancels. Only cells that
/// face the camera; one standard deviation of L*, a*, b*, by the median.
fn mottle(cells: &[Cell], body: &Body, linear_rgb: [f64; 3]) -> [f64; 3] {
    const AWAY: usize = 3;
    let Some((columns, rows)) = cells.iter().map(|c| (c.column, c.row)).reduce(|a, b| (a.0.max(b.0), a.1.max(b.1))) else {
        return [0.0; 3];
    };
    let width = columns + AWAY + 1;
    let mut index = vec![usize::MAX; width * (rows + AWAY + 1)];
    cells.iter().enumerate().for_each(|(i, cell)| index[cell.row * width + cell.column] = i);
    let usable = |i: usize| i != usize::MAX && body.luminance[i].is_finite() && cells[i].normal.is_none_or(|n| -n.z > 0.6);
    let mut deviations: [Vec<f64>; 3] = Default::default();
    for (i, cell) in cells.iter().enumerate().filter(|(i, cell)| usable(*i) && cell.column >= AWAY && cell.row >= AWAY) {
        let around = [(0, AWAY), (2 * AWAY, AWAY), (AWAY, 0), (AWAY, 2 * AWAY)]
            .map(|(dx, dy)| index.get((cell.row + dy - AWAY) * width + cell.column + dx - AWAY).copied().unwrap_or(usize::MAX));
        if !around.iter().all(|&j| usable(j)) {
            continue;
        }
        let ln = |i: usize| Vector3::from(cells[i].rgb).map(|v| v.max(1e-4).ln());
        let mean = around.iter().map(|&j| ln(j)).sum::<Vector3<f64>>() / 4.0;
        // sqrt(4/5): the difference of one from the mean of four has 5/4 of its variance.
        let lab = lab_by_ln_rgb(linear_rgb) * (ln(i) - mean) * 0.8f64.sqrt();
        deviations.iter_mut().zip(lab.iter()).for_each(|(list, v)| list.push(*v));
    }
    deviations.map(|list| solve::mad_sigma(&list))
}
