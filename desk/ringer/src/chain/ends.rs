//! A second look at the part's ends: the two places on the axis (clicks, or found) against where the fitted body begins and ends. A body that
//! stops short of them has lost a piece of its outline, and its own covariance can't know.

use super::Says;
use profile::{Pose, Profile, SizeKind, View};
use result::JobResult;

/// Clicks are good to about 1 % of the picture's width; an end that is off by more than this share of it is another end.
const FAR_OFF: f64 = 0.025;

/// Widens the doubt of lengths and positions where every view says that an end lies elsewhere, and says so. Where a person `marked` the ends, the
/// greatest diameter is doubted as well; ends that were only guessed say too little for that.
pub(super) fn widen(profile: &mut Profile, views: &[View], marked: bool, sheet: &mut JobResult) {
    let Some(length_mm) = profile.dimensions.first().map(|size| size.value_mm) else { return };
    let off = |end: usize| {
        let of_view = |(pose, view): (&Pose, &View)| off_mm(pose, view, length_mm, end);
        profile.poses.iter().zip(views).filter_map(of_view).reduce(f64::min).unwrap_or(0.0)
    };
    let (rod_mm, free_mm) = (off(0), off(1));
    let whole_mm = rod_mm.hypot(free_mm);
    if whole_mm == 0.0 {
        return;
    }
    let end = if rod_mm >= free_mm { "where the rod enters" } else { "at the free end" };
    sheet.warn(
        "profile",
        None,
        format!("The fitted body ends {:.1} mm from where its end was marked, {end}: a piece of the outline was lost. Lengths and positions are told with that much doubt; the greatest diameter may lie there.", rod_mm.max(free_mm)),
        "Look at the outline over the photo, and trace it by hand there (`outline` in [[photo]]).",
    );
    // What is lost may be wider than all that was found: by how much nobody can say; by the piece's own length is a fair guess.
    let greatest_mm = profile.dimensions.get(1).map_or(0.0, |size| if marked { whole_mm.min(0.5 * size.value_mm) } else { 0.0 });
    let shift = |kind: SizeKind, index: usize| match kind {
        SizeKind::Diameter if index == 1 => greatest_mm,
        SizeKind::Diameter => 0.0,
        SizeKind::Length if index == 0 => whole_mm,
        SizeKind::Length => 0.0,
        SizeKind::Position => rod_mm,
    };
    let shifts: Vec<f64> = profile.dimensions.iter().enumerate().map(|(i, size)| shift(size.kind, i)).collect();
    for (i, size) in profile.dimensions.iter_mut().enumerate() {
        size.sigma_mm = size.sigma_mm.hypot(shifts[i]);
        for (j, other) in shifts.iter().enumerate() {
            if let Some(entry) = profile.covariance.get_mut((i, j)) {
                *entry += shifts[i] * other;
            }
        }
    }
}

/// How far the fitted end lies from the marked one along the axis, mm; 0 where they agree as clicks do. Perspective along the part is left out:
/// this is a coarse look.
fn off_mm(pose: &Pose, view: &View, length_mm: f64, end: usize) -> Option<f64> {
    let at = |z_mm: f64| {
        let place: Vec<f64> = (0..3).map(|i| pose.axis_origin_mm[i] + z_mm * pose.axis_direction[i]).collect();
        let middle = [0.5 * view.camera.width_px as f64, 0.5 * view.camera.height_px as f64];
        (place[2] > 0.0).then(|| [pose.focal_px.0 * place[0] / place[2] + middle[0], pose.focal_px.0 * place[1] / place[2] + middle[1]])
    };
    let ends = [at(0.0)?, at(length_mm)?];
    let marked = [view.outline.axis.rod_entry, view.outline.axis.free_end][end];
    let along = [ends[1][0] - ends[0][0], ends[1][1] - ends[0][1]];
    let length_px = along[0].hypot(along[1]).max(1.0);
    let off_px = ((marked[0] - ends[end][0]) * along[0] + (marked[1] - ends[end][1]) * along[1]).abs() / length_px;
    Some(if off_px > FAR_OFF * view.camera.width_px as f64 { off_px / length_px * length_mm } else { 0.0 })
}
