use crate::estimate::{ColourEstimate, total_covariance};
use crate::{ColourReading, TargetError};
use nalgebra::{Matrix3, Vector3};
use quantity::{Note, Noted};

/// Joins readings of one colour: several spots in a photo, several photos.
///
/// Spots of one photo share its light and camera, so their number lessens only what is their own; photos are independent. Weights are the
/// inverse covariances. Where readings scatter more than their doubts allow, the doubt is widened by as much (Birge 1932) and a note says so.
pub fn combine(readings: &[ColourReading]) -> Result<Noted<ColourEstimate>, TargetError> {
    if readings.is_empty() {
        return Err(TargetError::NoReadings);
    }
    let mut sources: Vec<&str> = Vec::new();
    readings.iter().for_each(|r| {
        if !sources.contains(&r.source.as_str()) {
            sources.push(&r.source)
        }
    });
    let mut notes = Vec::new();
    let photos: Vec<ColourEstimate> = sources
        .iter()
        .map(|source| {
            let spots: Vec<&ColourReading> = readings.iter().filter(|r| r.source == *source).collect();
            one_photo(&spots, &mut notes)
        })
        .collect();
    let joined = weighted_mean(&photos, "photos", &mut notes);
    Ok(Noted { value: joined, notes })
}

fn one_photo(spots: &[&ColourReading], notes: &mut Vec<Note>) -> ColourEstimate {
    if let [only] = spots {
        return only.estimate();
    }
    let own: Vec<ColourEstimate> = spots.iter().map(|r| ColourEstimate { lab: r.lab, covariance: r.own_covariance }).collect();
    let mean = weighted_mean(&own, "spots in one photo", notes);
    let rgb = crate::estimate::linear_of_lab(mean.lab).map(|v| v.max(1e-4));
    let camera = spots.iter().map(|r| r.camera_sigma).fold(0.0, f64::max);
    let shared = total_covariance(rgb, Matrix3::from(mean.covariance), Matrix3::from(spots[0].light_covariance), camera);
    ColourEstimate { lab: mean.lab, covariance: shared.into() }
}

/// Inverse-covariance mean of independent estimates; at least one.
fn weighted_mean(estimates: &[ColourEstimate], of: &str, notes: &mut Vec<Note>) -> ColourEstimate {
    if let [only] = estimates {
        return only.clone();
    }
    // 0.02 per axis keeps an "exact" reading from taking all the weight, and the sums invertible.
    let floor = Matrix3::identity() * 0.02f64.powi(2);
    let inverses: Vec<Matrix3<f64>> =
        estimates.iter().map(|e| (Matrix3::from(e.covariance) + floor).try_inverse().unwrap_or_else(Matrix3::identity)).collect();
    let information: Matrix3<f64> = inverses.iter().sum();
    let covariance = information.try_inverse().unwrap_or_else(Matrix3::identity);
    let mean = covariance * estimates.iter().zip(&inverses).map(|(e, inverse)| inverse * Vector3::from(e.lab)).sum::<Vector3<f64>>();
    let misfit: f64 = estimates
        .iter()
        .zip(&inverses)
        .map(|(e, inverse)| {
            let d = Vector3::from(e.lab) - mean;
            (d.transpose() * inverse * d)[0]
        })
        .sum();
    let excess = misfit / (3 * (estimates.len() - 1)) as f64;
    if excess > 2.5 {
        let text = format!("The {of} disagree by {:.1} times what their doubts allow; the doubt of their mean is widened.", excess.sqrt());
        notes.push(Note::new(text, "Look for a spot or photo that shows another colour: a shadow, a stain, another light."));
    }
    ColourEstimate { lab: mean.into(), covariance: (covariance * excess.max(1.0)).into() }
}
