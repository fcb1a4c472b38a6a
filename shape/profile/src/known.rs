//! Sizes known otherwise: they tighten the answer through its covariance, or are named as contradictions.

use crate::refit::bent;
use crate::types::{KnownKind, KnownSize, Profile, SizeKind};
use nalgebra::{DMatrix, DVector};
use quantity::Note;

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
        let doubt = d.sigma_mm.hypot(size.value.sigma_mm);
        let off = (size.value.mm - d.value_mm).abs() / doubt.max(1e-9);
        if off > CONTRADICTS {
            notes.push(Note::new(
                format!("The known size `{}` of {:.3} mm contradicts the photos, which say {:.3} +/- {:.3} mm ({}); it is {:.1} sigmas off and is not used.", size.name, size.value.mm, d.value_mm, d.sigma_mm, d.name, off),
                "Measure it again, and check the rod's diameter and its edges in the photos.",
            ));
            continue;
        }
        rows.push((i, size.value.mm, size.value.sigma_mm));
    }
    if rows.is_empty() {
        return (profile, notes);
    }
    let updated = update(&profile, &rows);
    (updated.unwrap_or(profile), notes)
}

fn dimension_of(profile: &Profile, size: &KnownSize) -> Option<usize> {
    let length = profile.dimensions.first().map_or(0.0, |d| d.value_mm);
    match (size.kind, size.at_z_mm) {
        (KnownKind::OverallLength, _) => Some(0),
        (KnownKind::GreatestDiameter, _) | (KnownKind::Diameter, None) => Some(1),
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
