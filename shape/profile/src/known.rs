//! Sizes known otherwise: they tighten the answer through its covariance, or are named as contradictions.

use crate::refit::bent;
use crate::types::{KnownKind, KnownSize, NamedSize, Profile, SizeKind};
use nalgebra::{DMatrix, DVector};
use quantity::{Length, Note};
use statrs::distribution::{Continuous, ContinuousCDF, Normal};

/// Further off than this many sigmas, a known size contradicts the photos.
const CONTRADICTS: f64 = 4.0;

/// The profile given the known sizes (normal distributions all round); the poses stay those of the photos alone.
pub(crate) fn with_known(profile: Profile, known: &[KnownSize]) -> (Profile, Vec<Note>) {
    let mut notes = Vec::new();
    let mut rows: Vec<(usize, f64, f64)> = Vec::new();
    for size in known {
        let Some(i) = dimension_of(&profile, size) else {
            notes.push(Note::new(
                format!(
                    "The known size `{}` of {:.3} mm fits no diameter that was found near its place, and is not used.",
                    size.name, size.value.mm
                ),
                "Check where along the axis it was measured.",
            ));
            continue;
        };
        let d = &profile.dimensions[i];
        if size.kind == KnownKind::Stock && size.value.mm > d.value_mm {
            rows.extend(under_stock(d, &size.value).map(|(mm, sigma_mm)| (i, mm, sigma_mm)));
            continue;
        }
        let doubt = d.sigma_mm.hypot(size.value.sigma_mm);
        let off = (size.value.mm - d.value_mm).abs() / doubt.max(1e-9);
        if off > CONTRADICTS {
            notes.push(Note::new(
                format!("The known size `{}` of {:.3} mm contradicts the photos, which say {:.3} +/- {:.3} mm ({}); it is {:.1} sigmas off and is not used.", size.name, size.value.mm, d.value_mm, d.sigma_mm, d.name, off),
                "Measure it again, and check the rod's diameter and its edges in the photos.",
            ));
            continue;
        }
        if size.kind == KnownKind::Stock {
            rows.extend(under_stock(d, &size.value).map(|(mm, sigma_mm)| (i, mm, sigma_mm)));
        } else {
            rows.push((i, size.value.mm, size.value.sigma_mm));
        }
    }
    if rows.is_empty() {
        return (profile, notes);
    }
    let updated = update(&profile, &rows);
    (updated.unwrap_or(profile), notes)
}

/// What "no larger than the stock" says of the greatest diameter, as a reading and its sigma, mm: the normal distribution with the mean and variance
/// of the photos' one cut off at the stock (moments of the truncated normal: Johnson, Kotz and Balakrishnan, Continuous Univariate Distributions
/// vol. 1, ch. 13). `None` where the stock is so much larger that it says nothing.
fn under_stock(photos: &NamedSize, stock: &Length) -> Option<(f64, f64)> {
    let variance = photos.sigma_mm.powi(2);
    let whole = variance + stock.sigma_mm.powi(2);
    let above = (stock.mm - photos.value_mm) / whole.sqrt().max(1e-12);
    let normal = Normal::standard();
    let pull = normal.pdf(above) / normal.cdf(above).max(1e-300);
    let mean = photos.value_mm - variance / whole.sqrt().max(1e-12) * pull;
    let left = variance * (1.0 - variance / whole * pull * (pull + above));
    let gained = 1.0 / left - 1.0 / variance;
    let reading = (mean / left - photos.value_mm / variance) / gained;
    (pull > 1e-3 && gained > 0.0 && reading.is_finite()).then_some((reading, gained.sqrt().recip()))
}

fn dimension_of(profile: &Profile, size: &KnownSize) -> Option<usize> {
    let length = profile.dimensions.first().map_or(0.0, |d| d.value_mm);
    match (size.kind, size.at_z_mm) {
        (KnownKind::OverallLength, _) => Some(0),
        (KnownKind::GreatestDiameter | KnownKind::Stock, _) | (KnownKind::Diameter, None) => Some(1),
        (KnownKind::Diameter, Some(z)) => {
            let away = |i: usize| (profile.dimensions[i].z_mm[0] - z).max(z - profile.dimensions[i].z_mm[1]).max(0.0);
            let near = |i: &usize| {
                let d = &profile.dimensions[*i];
                d.kind == SizeKind::Diameter && away(*i) <= 0.05 * length && (d.value_mm / size.value.mm - 1.0).abs() < 0.15
            };
            (1..profile.dimensions.len()).filter(near).min_by(|&a, &b| away(a).total_cmp(&away(b)))
        }
    }
}

fn update(profile: &Profile, rows: &[(usize, f64, f64)]) -> Option<Profile> {
    let (n, k) = (profile.dimensions.len(), rows.len());
    let c = &profile.covariance;
    let cross = DMatrix::from_fn(n, k, |i, b| c[(i, rows[b].0)]);
    let own = DMatrix::from_fn(k, k, |a, b| c[(rows[a].0, rows[b].0)] + if a == b { rows[a].2.powi(2) + 1e-12 } else { 0.0 });
    let off = DVector::from_iterator(k, rows.iter().map(|&(i, mm, _)| mm - profile.dimensions[i].value_mm));
    let gain = &cross * own.try_inverse()?;
    let values = DVector::from_iterator(n, profile.dimensions.iter().map(|d| d.value_mm)) + &gain * off;
    bent(profile, &values, c - &gain * cross.transpose())
}
