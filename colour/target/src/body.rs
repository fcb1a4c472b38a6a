use crate::part_cells::Cell;
use crate::patch::luminance;
use nalgebra::{Matrix3, Vector3};
use solve::Loss;

/// The body's colour parted from gloss: what the lit surface of one material says.
///
/// A plastic's surface sends back its body colour, more or less of it by shading, and a share of the light itself (gloss). With the light
/// balanced to white, every cell is `shade * colour + gloss * (1, 1, 1)`: a plane from black, held by the colour and by white (Shafer
/// 1985, the dichromatic model). The cells with the least gloss, seen from the front, show the colour's chroma.
#[derive(Clone, Debug)]
pub(crate) struct Body {
    /// Chroma of the body for a luminance of one: linear sRGB less its luminance. Its own luminance is zero.
    pub chroma: Vector3<f64>,
    /// One sigma of the length of `chroma`, as a share.
    pub chroma_share_sigma: f64,
    /// One sigma of `chroma` across its direction, same unit.
    pub across_sigma: f64,
    /// Shade times the body's luminance for each cell: what is left of its light without gloss. NaN where burnt out.
    pub luminance: Vec<f64>,
    /// Share of the light from the front cells that is gloss.
    pub gloss_share: f64,
}

/// The least gloss of a surface seen from the front: index 1.5 sends back 4 % (Fresnel), and the surroundings it mirrors are about 0.35 as
/// bright as a white card (soft surround against lamp and surround together). In reflectance of the card's white.
pub(crate) const LEAST_GLOSS: f64 = 0.014;

/// One sigma of it: the surroundings are 0.2 to 0.5 as bright.
pub(crate) const LEAST_GLOSS_SIGMA: f64 = 0.005;

/// Gloss above the least that a rough surface spreads from the lamp over its front: the lamp gives about 0.65 of the light, 4 % of that
/// is mirrored, and it is spread over all facings, more in the highlight and less beside it.
const SPREAD_GLOSS: f64 = 0.02;

/// One sigma of it: from a smooth surface, none beside the highlight, to a rough one seen near it.
const SPREAD_GLOSS_SIGMA: f64 = 0.03;

/// Among front cells, this quantile of chroma over luminance: gloss only ever lowers it, noise and light thrown between the part's own
/// surfaces raise it a little at the very top.
const LEAST_GLOSSY_QUANTILE: f64 = 0.85;

/// Parts the body from the gloss. `None` when too few cells are usable.
pub(crate) fn separate(cells: &[Cell]) -> Option<Body> {
    let facing = |cell: &Cell, least: f64| !cell.clipped && cell.normal.is_none_or(|n| -n.z > least);
    let mut front: Vec<&Cell> = cells.iter().filter(|cell| facing(cell, 0.7)).collect();
    if front.len() < 20 {
        front = cells.iter().filter(|cell| facing(cell, -1.0)).collect();
    }
    if front.len() < 10 {
        return None;
    }
    let lit = well_lit(&front);
    let direction = chroma_direction(&lit);
    let ratio = |cell: &Cell| chroma_of(cell.rgb).dot(&direction) / (luminance(cell.rgb) - LEAST_GLOSS).max(1e-3);
    let mut ratios: Vec<f64> = lit.iter().map(|cell| ratio(cell)).collect();
    ratios.sort_by(f64::total_cmp);
    let at = |share: f64| ratios[((ratios.len() - 1) as f64 * share).round() as usize];
    let length = at(LEAST_GLOSSY_QUANTILE);
    let near = |cell: &Cell| (-0.5 * ((ratio(cell) - length) / (0.08 * length.abs() + 0.02)).powi(2)).exp();
    let (chroma, across_scatter) = weighted_chroma(&lit, near);
    let brightness = median(lit.iter().map(|cell| luminance(cell.rgb)))?;
    let spread = 0.5 * (at(0.95) - at(0.7)) / length.abs().max(0.02);
    let least_gloss = LEAST_GLOSS_SIGMA / (brightness - LEAST_GLOSS).max(0.2 * brightness);
    let luminance_of_body: Vec<f64> = cells.iter().map(|cell| body_luminance(cell, chroma)).collect();
    let gloss_share = gloss_share(cells, &luminance_of_body);
    Some(Body {
        chroma,
        chroma_share_sigma: (spread.powi(2) + least_gloss.powi(2) + 0.02f64.powi(2)).sqrt(),
        across_sigma: across_scatter / (lit.len() as f64 / 16.0).max(1.0).sqrt() + 0.004,
        luminance: luminance_of_body,
        gloss_share,
    })
}

/// Without the darkest tenth, and without what is hardly lighter than gloss alone.
fn well_lit<'a>(front: &[&'a Cell]) -> Vec<&'a Cell> {
    let mut levels: Vec<f64> = front.iter().map(|cell| luminance(cell.rgb)).collect();
    levels.sort_by(f64::total_cmp);
    let tenth = levels[levels.len() / 10];
    let bright = |least: f64| front.iter().copied().filter(move |cell| luminance(cell.rgb) > least).collect::<Vec<_>>();
    let lit = bright(tenth.max(1.6 * LEAST_GLOSS));
    if lit.len() >= 10 { lit } else { bright(tenth) }
}

fn chroma_of(rgb: [f64; 3]) -> Vector3<f64> {
    Vector3::from(rgb).add_scalar(-luminance(rgb))
}

/// Direction of the middle chroma; zero for a perfect grey.
fn chroma_direction(cells: &[&Cell]) -> Vector3<f64> {
    let middle = |i: usize| median(cells.iter().map(|cell| chroma_of(cell.rgb)[i])).unwrap_or(0.0);
    Vector3::new(middle(0), middle(1), middle(2)).try_normalize(1e-9).unwrap_or_else(Vector3::zeros)
}

/// Weighted mean chroma for luminance one, and the scatter across its direction.
fn weighted_chroma(cells: &[&Cell], weight: impl Fn(&Cell) -> f64) -> (Vector3<f64>, f64) {
    let unit = |cell: &Cell| chroma_of(cell.rgb) / (luminance(cell.rgb) - LEAST_GLOSS).max(1e-3);
    let total: f64 = cells.iter().map(|cell| weight(cell)).sum();
    let mean = cells.iter().map(|cell| unit(cell) * weight(cell)).sum::<Vector3<f64>>() / total.max(1e-12);
    let along = mean.try_normalize(1e-9).unwrap_or_else(Vector3::zeros);
    let off = |cell: &Cell| {
        let d = unit(cell) - mean;
        (d - along * along.dot(&d)).norm_squared()
    };
    let variance = cells.iter().map(|cell| weight(cell) * off(cell)).sum::<f64>() / total.max(1e-12);
    (mean, variance.sqrt())
}

/// The cell's luminance without gloss, from two sides: its chroma over the body's (good for strong colours, whatever the gloss), and its
/// luminance less the usual gloss (good for pale ones). Where the second is far above the first the cell lies in a highlight.
fn body_luminance(cell: &Cell, chroma: Vector3<f64>) -> f64 {
    if cell.clipped {
        return f64::NAN;
    }
    let whole = luminance(cell.rgb);
    let by_gloss = whole - LEAST_GLOSS - SPREAD_GLOSS;
    let gloss_variance = SPREAD_GLOSS_SIGMA.powi(2);
    let length = chroma.norm();
    if length < 0.01 {
        return by_gloss.max(0.1 * whole);
    }
    let by_chroma = chroma_of(cell.rgb).dot(&chroma) / (length * length);
    // 7 %: what the quantile, light thrown between the part's surfaces and the camera do to chroma. Then the noise of a cell.
    let noise = (0.004 * whole.max(0.02).sqrt() + 0.0005) / length;
    let chroma_variance = (0.07 * by_chroma.max(0.003)).powi(2) + noise * noise;
    if by_gloss - by_chroma > 3.0 * (chroma_variance + gloss_variance).sqrt() {
        return by_chroma.max(1e-4);
    }
    let joined = (by_chroma / chroma_variance + by_gloss / gloss_variance) / (1.0 / chroma_variance + 1.0 / gloss_variance);
    joined.max(1e-4)
}

/// How the tint of the body's light changes with the way its surface faces: ln(R / B) for a turn of one radian, the greatest of all senses of
/// turning. One light gives next to none (at most 0.15 by light thrown up from a coloured bench, in path-traced photos); a window on one side and a
/// lamp on the other give 0.5 and more. `None` for dark and strong colours, where gloss and light thrown between surfaces change the tint too.
pub(crate) fn tint_by_facing(cells: &[Cell], body: &Body) -> Option<f64> {
    let lit = |cell: &&Cell| !cell.clipped && luminance(cell.rgb) > 0.12 && cell.rgb[0].min(cell.rgb[2]) > 4.0 * LEAST_GLOSS;
    let points: Vec<(Vector3<f64>, f64)> = cells
        .iter()
        .filter(lit)
        .filter_map(|cell| {
            let n = cell.normal.filter(|n| -n.z > 0.5)?;
            Some((Vector3::new(1.0, n.x, n.y), ((cell.rgb[0] - LEAST_GLOSS) / (cell.rgb[2] - LEAST_GLOSS)).ln()))
        })
        .collect();
    if points.len() < 100 || body.chroma.norm() > 0.7 {
        return None;
    }
    let mut plane = Vector3::zeros();
    let mut scale = f64::INFINITY;
    for _ in 0..6 {
        let (mut normal, mut right) = (Matrix3::identity() * 1e-6, Vector3::zeros());
        for (row, tint) in &points {
            let weight = Loss::Cauchy(2.385).weight((tint - row.dot(&plane)) / scale);
            normal += row * row.transpose() * weight;
            right += row * (weight * tint);
        }
        plane = normal.try_inverse()? * right;
        scale = median(points.iter().map(|(row, tint)| (tint - row.dot(&plane)).abs()))?.max(1e-4) * 1.4826;
    }
    Some(plane.yz().norm())
}

fn gloss_share(cells: &[Cell], body: &[f64]) -> f64 {
    let usable = cells.iter().zip(body).filter(|(_, b)| b.is_finite());
    let (all, of_body) = usable.fold((0.0, 0.0), |sum, (cell, b)| (sum.0 + luminance(cell.rgb), sum.1 + b));
    (1.0 - of_body / all.max(1e-9)).clamp(0.0, 1.0)
}

pub(crate) fn median(values: impl Iterator<Item = f64>) -> Option<f64> {
    let mut sorted: Vec<f64> = values.filter(|v| v.is_finite()).collect();
    sorted.sort_by(f64::total_cmp);
    sorted.get(sorted.len() / 2).copied()
}
