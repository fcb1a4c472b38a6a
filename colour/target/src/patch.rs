use crate::{Polygon, TargetError};
use nalgebra::{Matrix2, Vector2};
use photo::Picture;

/// What the pixels of one patch say, in linear light as the camera gave it.
#[derive(Clone, Debug)]
pub(crate) struct PatchPixels {
    /// Pixels used.
    pub count: usize,
    /// Mean of each channel.
    pub mean: [f64; 3],
    /// Standard error of each channel's mean, relative.
    pub relative_error: [f64; 3],
    /// Middle of the pixels, px.
    pub at: [f64; 2],
    /// Share of pixels with a channel at the camera's limit.
    pub clipped: f64,
    /// Fall of light within it, normal equations of d ln Y per px: `matrix * fall = right`, in units of 1 / variance.
    pub fall_matrix: Matrix2<f64>,
    /// See `fall_matrix`.
    pub fall_right: Vector2<f64>,
    /// Scatter left after a smooth fall is taken out, relative.
    pub scatter: f64,
    /// Change of ln(R / B) from end to end, and its standard error.
    pub tint_change: (f64, f64),
}

/// Linear value from which a channel counts as burnt out: code 250 of 255.
pub(crate) const CLIPPED: f32 = 0.955;

/// Linear luminance below which 8-bit codes (3 and less) say nothing.
pub(crate) const DARKEST: f64 = 0.001;

/// Pixels needed in a patch.
const FEWEST: usize = 40;

/// A JPEG's 8 x 8 blocks and the chroma's 2 x 2 tie neighbouring pixels together: about this many make one independent one.
const PIXELS_PER_INDEPENDENT: f64 = 16.0;

/// Reads a patch a little inside its outline, where neither blur nor the pixels' edges reach. `what` names it in errors.
pub(crate) fn pixels(picture: &Picture, polygon: &Polygon, what: &str) -> Result<PatchPixels, TargetError> {
    let samples = samples(picture, &polygon.shrunk(0.94));
    if samples.len() < FEWEST {
        return Err(TargetError::TooSmall { what: what.into(), pixels: samples.len(), needed: FEWEST });
    }
    let n = samples.len() as f64;
    let at = [0, 1].map(|i| samples.iter().map(|s| s.at[i]).sum::<f64>() / n);
    let mean = [0, 1, 2].map(|i| samples.iter().map(|s| f64::from(s.rgb[i])).sum::<f64>() / n);
    if luminance(mean) < DARKEST {
        return Err(TargetError::TooDark { what: what.into() });
    }
    let clipped = samples.iter().filter(|s| s.rgb.iter().any(|&v| v >= CLIPPED)).count() as f64 / n;
    let independent = (n / PIXELS_PER_INDEPENDENT).max(1.0);
    let relative_error = [0, 1, 2].map(|i| {
        let variance = samples.iter().map(|s| (f64::from(s.rgb[i]) / mean[i].max(1e-4) - 1.0).powi(2)).sum::<f64>() / n;
        (variance / independent).sqrt()
    });
    let light = Plane::fit(&samples, at, |rgb| luminance(rgb) / luminance(mean) - 1.0);
    let tint = Plane::fit(&samples, at, |rgb| rgb[0] / mean[0].max(1e-4) - rgb[2] / mean[2].max(1e-4));
    let weight = 1.0 / light.residual.powi(2).max(1e-6) / PIXELS_PER_INDEPENDENT;
    // From end to end of a flat patch: its extent is sqrt(12) standard deviations.
    let extent = |m: &Matrix2<f64>| Vector2::new((12.0 * m[(0, 0)] / n).sqrt(), (12.0 * m[(1, 1)] / n).sqrt());
    let across = extent(&tint.matrix);
    let tint_change = (tint.slope.component_mul(&across).norm(), tint.residual * (12.0 / independent).sqrt());
    Ok(PatchPixels {
        count: samples.len(),
        mean,
        relative_error,
        at,
        clipped,
        fall_matrix: light.matrix * weight,
        fall_right: light.right * weight,
        scatter: light.residual,
        tint_change,
    })
}

struct Sample {
    at: [f64; 2],
    rgb: [f32; 3],
}

/// Pixels inside; of very large regions every second, third ... row and column, so that a whole-picture patch costs no more than a card.
fn samples(picture: &Picture, polygon: &Polygon) -> Vec<Sample> {
    let spans = polygon.spans(picture.width_px(), picture.height_px());
    let count: usize = spans.iter().map(|(_, first, end)| end - first).sum();
    let step = ((count as f64 / 200_000.0).sqrt().ceil() as usize).max(1);
    let rows = spans.iter().filter(|(row, ..)| row.is_multiple_of(step));
    rows.flat_map(|&(row, first, end)| {
        (first..end).step_by(step).map(move |column| Sample {
            at: [column as f64 + 0.5, row as f64 + 0.5],
            rgb: picture.linear_at(column as isize, row as isize),
        })
    })
    .collect()
}

/// A plane through values at places, and what it leaves.
struct Plane {
    matrix: Matrix2<f64>,
    right: Vector2<f64>,
    slope: Vector2<f64>,
    residual: f64,
}

impl Plane {
    fn fit(samples: &[Sample], at: [f64; 2], value: impl Fn([f64; 3]) -> f64) -> Plane {
        let (mut matrix, mut right, mut square) = (Matrix2::zeros(), Vector2::zeros(), 0.0);
        for sample in samples {
            let place = Vector2::new(sample.at[0] - at[0], sample.at[1] - at[1]);
            let v = value(sample.rgb.map(f64::from));
            matrix += place * place.transpose();
            right += place * v;
            square += v * v;
        }
        let slope = (matrix + Matrix2::identity() * 1e-9).try_inverse().map_or(Vector2::zeros(), |inverse| inverse * right);
        let residual = ((square - slope.dot(&right)).max(0.0) / samples.len() as f64).sqrt();
        Plane { matrix, right, slope, residual }
    }
}

/// Y of linear sRGB, 0..1 (IEC 61966-2-1, rounded: used for weights and falls only, never for a colour).
pub(crate) fn luminance(rgb: [f64; 3]) -> f64 {
    0.2126 * rgb[0] + 0.7152 * rgb[1] + 0.0722 * rgb[2]
}
