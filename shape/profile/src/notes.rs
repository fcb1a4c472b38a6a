//! What the photos could not tell, in words, with what would settle it.

use crate::chain::Chain;
use crate::joint::Border;
use crate::single::{LEAST_ROD, Solved};
use crate::trust::Trust;
use crate::types::{Profile, View};
use quantity::Note;

pub(crate) fn view_left_out(name: &str, why: &str) -> Note {
    Note::new(
        format!("Photo `{name}` is left out of the profile: {why}."),
        "Check its rod, its two clicks and its outline, or take the photo out.",
    )
}

/// Notes on the whole profile, then on each view.
pub(crate) fn notes_of(views: &[&View], solved: &Solved, profile: &Profile, chain: &Chain) -> Vec<Note> {
    let mut notes: Vec<Note> = [wide(profile), hidden(chain), dome(chain)].into_iter().flatten().collect();
    for (v, view) in views.iter().enumerate() {
        notes.extend([focal(view, profile, v), misfit(view, solved, profile, v), rod(view, solved, v)].into_iter().flatten());
    }
    notes
}

fn wide(profile: &Profile) -> Option<Note> {
    let d = profile.dimensions.iter().take(2).find(|d| 1.96 * d.sigma_mm > 0.05 * d.value_mm)?;
    Some(Note::new(
        format!(
            "The {} is known to {:.1} % only: the rod's edges and the tilt do not fix it better.",
            d.name,
            196.0 * d.sigma_mm / d.value_mm
        ),
        "A caliper reading of one size of the part, or a photo with more of the rod, sharp edges on both its sides and the axis square to the line of sight.",
    ))
}

fn hidden(chain: &Chain) -> Option<Note> {
    let unseen = |p: &&[crate::chain::Node]| !p[0].seen || !p[1].seen;
    let mm: f64 = chain.nodes.windows(2).filter(unseen).map(|p| (p[1].at[0] - p[0].at[0]).abs()).sum();
    let (from, to) =
        chain.nodes.iter().filter(|n| !n.seen).fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), n| (a.min(n.at[0]), b.max(n.at[0])));
    (mm > 0.04 * chain.length_mm).then(|| {
        Note::new(
            format!("{mm:.1} mm of the length, between z = {from:.1} and {to:.1} mm, show no outline (behind a flange, in a hollow or at a lost edge); the profile is completed there with square steps."),
            "A photo from the other end, or square to the axis, would show it.",
        )
    })
}

fn dome(chain: &Chain) -> Option<Note> {
    let last = chain.nodes.iter().rev().find(|n| n.seen)?;
    let reach = chain.length_mm - last.at[0];
    (chain.closed.dome[1] && reach > 0.01 * chain.length_mm).then(|| {
        Note::new(
            format!("The last {reach:.2} mm of the dome at the free end are hidden by the tilt and completed by its curvature."),
            "A photo square to the axis, or a caliper reading of the overall length, would settle the length.",
        )
    })
}

fn focal(view: &View, profile: &Profile, v: usize) -> Option<Note> {
    let pose = profile.poses.get(v)?;
    view.camera.focal.is_empty().then(|| {
        Note::new(
            format!("Photo `{}` says nothing of its lens; its outline gives a focal length of {:.0} +/- {:.0} px, and sizes are as sure as that allows.", view.name, pose.focal_px.0, pose.focal_px.1),
            "Give the lens' 35 mm equivalent (`focal_35mm`), or a photo as the camera wrote it.",
        )
    })
}

fn misfit(view: &View, solved: &Solved, profile: &Profile, v: usize) -> Option<Note> {
    let weights = solved.fitted.weights.get(v)?;
    let part: Vec<f64> =
        weights.iter().zip(&solved.task.views[v].marks).filter(|(_, m)| m.border == Border::Part).map(|(w, _)| *w).collect();
    let doubted = part.iter().filter(|w| **w < 0.2).count() as f64 / part.len().max(1) as f64;
    let residual = profile.poses.get(v)?.residual_px;
    (doubted > 0.08 || residual > 0.6).then(|| {
        Note::new(
            match (100.0 * doubted).round() {
                share if share < 1.0 => format!("Photo `{}`: its outline keeps to a turned body on this axis within {residual:.2} px only.", view.name),
                share => format!(
                    "Photo `{}`: {share:.0} % of its outline's points lie on no turned body round this axis and do not count; the others keep to one within {residual:.2} px.",
                    view.name
                ),
            },
            "Look where the model's outline leaves the found one: a shadow, a highlight or a lost edge; trace the outline there.",
        )
    })
}

fn rod(view: &View, solved: &Solved, v: usize) -> Option<Note> {
    const SETTLE: &str =
        "Check the rod's edges in the photo: a polished rod mirrors the ground. A known size of the part would settle the scale.";
    let (given, biases) = (solved.task.views.get(v)?, solved.fitted.state.views.get(v)?.biases_px);
    let side = |off_px: f64| if off_px > 0.0 { "outside" } else { "inside" };
    if given.trust != Trust::Both {
        let (name, off_px) = if given.trust.left() { ("right", biases[4]) } else { ("left", biases[2]) };
        let text = if given.rod_marks[usize::from(given.trust.left())] < LEAST_ROD {
            format!(
                "Photo `{}`: the rod's {name} edge was not found; the scale rests on the other edge and on the part's two sides.",
                view.name
            )
        } else {
            format!(
                "Photo `{}`: the rod's {name} edge lies {:.1} px {} of where the part and the other edge put it, and is left out.",
                view.name,
                off_px.abs(),
                side(off_px)
            )
        };
        return Some(Note::new(text, SETTLE));
    }
    let worst = [("left", biases[2]), ("right", biases[4])].into_iter().max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()))?;
    let open = solved.rivals.iter().any(|r| r.odds > 0.05 && r.ln_diameter.abs() > 0.003);
    (open || (worst.1.abs() > 2.0 * given.rod_bias_sigma_px && worst.1.abs() > 0.3)).then(|| {
        let text = format!(
            "Photo `{}`: the rod's {} edge seems to have been found {:.1} px {} of where part and other edge put it.",
            view.name,
            worst.0,
            worst.1.abs(),
            side(worst.1)
        );
        Note::new(text, SETTLE)
    })
}
