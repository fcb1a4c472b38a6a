//! Several views of one part: each is fitted by itself, then their sizes are joined with their full covariances, and the meridian of the view
//! that says most is moved onto the joined sizes.
//!
//! What all views share (the rod's own doubt) is taken out before joining and put back after: photos don't make a rod surer.

use crate::error::ProfileError;
use crate::fit::fit;
use crate::refit::refit;
use crate::types::{KnownSize, Profile, View};
use nalgebra::{DMatrix, DVector};
use quantity::{Note, Noted};
use solve::symmetric_inverse;

/// Sizes of two views are one size when they lie within this share of the part's length of each other along the axis ...
const SAME_PLACE: f64 = 0.06;
/// ... and differ by less than this share.
const SAME_SIZE: f64 = 0.08;
/// A view disagrees when its sizes are off by more than this many sigmas, root mean square.
const DISAGREES: f64 = 3.0;

/// Fits one profile to all views.
///
/// # Errors
/// As [`fit`] where no view at all can be fitted; a view that can't is named in a note and left out.
pub fn fit_all(views: &[View], known: &[KnownSize]) -> Result<Noted<Profile>, ProfileError> {
    if views.len() < 2 {
        return fit(views, known);
    }
    let mut fitted = Vec::new();
    let mut notes = Vec::new();
    let mut why = ProfileError::NoViews;
    for view in views {
        match fit(std::slice::from_ref(view), known) {
            Ok(found) => {
                notes.extend(found.notes.into_iter().map(|note| Note::new(format!("Photo {}: {}", view.name, note.text), note.settle)));
                fitted.push((view, found.value));
            }
            Err(error) => {
                notes.push(Note::new(format!("Photo {} could not be fitted and is left out: {error}.", view.name), "Check its clicks and its outline."));
                why = error;
            }
        }
    }
    let Some(base) = (0..fitted.len()).min_by(|&a, &b| doubt(&fitted[a].1).total_cmp(&doubt(&fitted[b].1))) else { return Err(why) };
    let joined = join(&fitted, base, &mut notes);
    Ok(Noted { value: joined, notes })
}

/// Relative doubt of a view's two overall sizes together.
fn doubt(profile: &Profile) -> f64 {
    profile.dimensions.iter().take(2).map(|d| (d.sigma_mm / d.value_mm).powi(2)).sum()
}

fn join(fitted: &[(&View, Profile)], base: usize, notes: &mut Vec<Note>) -> Profile {
    let (own_view, own) = &fitted[base];
    let n = own.dimensions.len();
    let rod = |view: &View| view.rod_diameter.sigma_mm / view.rod_diameter.mm;
    let values = DVector::from_iterator(n, own.dimensions.iter().map(|d| d.value_mm));
    let own_covariance = without_rod(&own.covariance, &values, rod(own_view));
    let mut information = symmetric_inverse(&own_covariance);
    let mut pulled = &information * &values;
    for (i, (view, other)) in fitted.iter().enumerate().filter(|(i, _)| *i != base) {
        let pairs = matches(own, other);
        if pairs.is_empty() {
            notes.push(Note::new(format!("Photo {} shows no size that the others show.", view.name), "Check its outline."));
            continue;
        }
        let theirs = DVector::from_iterator(pairs.len(), pairs.iter().map(|&(_, j)| other.dimensions[j].value_mm));
        let mine = DVector::from_iterator(pairs.len(), pairs.iter().map(|&(a, _)| values[a]));
        let covariance = DMatrix::from_fn(pairs.len(), pairs.len(), |a, b| other.covariance[(pairs[a].1, pairs[b].1)]);
        let covariance = without_rod(&covariance, &theirs, rod(view));
        let base_covariance = DMatrix::from_fn(pairs.len(), pairs.len(), |a, b| own_covariance[(pairs[a].0, pairs[b].0)]);
        let off = &theirs - &mine;
        let misfit = (off.dot(&(symmetric_inverse(&(&covariance + base_covariance)) * &off)) / pairs.len() as f64).sqrt();
        if misfit > DISAGREES {
            notes.insert(0, Note::new(
                format!("Photo {} disagrees with photo {}: their sizes differ by {misfit:.1} times their doubt.", view.name, own_view.name),
                "Look at both outlines; take the one out that left the part.",
            ));
        }
        // A view that disagrees more than its doubt allows is believed less, by as much (Birge 1932).
        let their_information = symmetric_inverse(&(covariance * misfit.max(1.0).powi(2)));
        for (a, &(p, _)) in pairs.iter().enumerate() {
            pulled[p] += their_information.row(a).dot(&theirs.transpose());
            for (b, &(q, _)) in pairs.iter().enumerate() {
                information[(p, q)] += their_information[(a, b)];
            }
        }
        let _ = i;
    }
    let covariance = symmetric_inverse(&information);
    let best = &covariance * pulled;
    moved(fitted, base, &best, with_rod(covariance, &best, rod(own_view)))
}

/// The base view's profile with the joined sizes, and every view's pose in the order of the views.
fn moved(fitted: &[(&View, Profile)], base: usize, sizes: &DVector<f64>, covariance: DMatrix<f64>) -> Profile {
    let own = &fitted[base].1;
    let wanted: Vec<(usize, f64)> = sizes.iter().copied().enumerate().filter(|(i, mm)| mm.is_finite() && (mm / own.dimensions[*i].value_mm - 1.0).abs() < 0.2).collect();
    let mut profile = refit(own, &wanted);
    for (i, size) in profile.dimensions.iter_mut().enumerate() {
        if let Some((_, mm)) = wanted.iter().find(|(k, _)| *k == i) {
            size.value_mm = *mm;
        }
        size.sigma_mm = covariance[(i, i)].max(0.0).sqrt();
    }
    profile.covariance = covariance;
    profile.poses = fitted.iter().flat_map(|(_, one)| one.poses.clone()).collect();
    profile
}

/// Pairs (size of `own`, size of `other`) that are one and the same: of one kind, at one place, of nearly one size; each used once.
fn matches(own: &Profile, other: &Profile) -> Vec<(usize, usize)> {
    let length = own.dimensions.first().map_or(1.0, |d| d.value_mm);
    let middle = |z: [f64; 2]| 0.5 * (z[0] + z[1]);
    let mut pairs = Vec::new();
    for (a, mine) in own.dimensions.iter().enumerate() {
        let off = |theirs: &crate::types::NamedSize| (middle(theirs.z_mm) - middle(mine.z_mm)).abs() / length + (theirs.value_mm / mine.value_mm - 1.0).abs();
        let near = other.dimensions.iter().enumerate().filter(|(b, theirs)| {
            // The two overall sizes go by their place in the list, whatever their value.
            let overall = a < 2 || *b < 2;
            let alike = (middle(theirs.z_mm) - middle(mine.z_mm)).abs() < SAME_PLACE * length && (theirs.value_mm / mine.value_mm - 1.0).abs() < SAME_SIZE;
            theirs.kind == mine.kind && if overall { a == *b } else { alike }
        });
        let free = near.filter(|(b, _)| !pairs.iter().any(|&(_, used)| used == *b));
        if let Some((b, _)) = free.min_by(|x, y| off(x.1).total_cmp(&off(y.1))) {
            pairs.push((a, b));
        }
    }
    pairs
}

/// Takes the rod's relative variance out of a covariance; no more than nine tenths of any variance, so that what is left is one.
fn without_rod(covariance: &DMatrix<f64>, values: &DVector<f64>, relative: f64) -> DMatrix<f64> {
    let most = (0..values.len()).map(|i| 0.9 * covariance[(i, i)] / values[i].powi(2).max(1e-12)).fold(f64::INFINITY, f64::min);
    covariance - values * values.transpose() * relative.powi(2).min(most.max(0.0))
}

fn with_rod(covariance: DMatrix<f64>, values: &DVector<f64>, relative: f64) -> DMatrix<f64> {
    covariance + values * values.transpose() * relative.powi(2)
}
