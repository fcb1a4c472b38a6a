use crate::Outline;
use crate::frame::{minus, norm};
use quantity::Note;

/// Own doubt from which a point counts as lost in the noise, px.
const LOST_PX: f64 = 0.6;

/// What is doubtful about an outline, most important first.
pub(crate) fn notes(outline: &Outline, traced: bool) -> Vec<Note> {
    let mut notes = Vec::new();
    for (points, side) in [(&outline.rod_left, "left"), (&outline.rod_right, "right")] {
        if points.len() < 6 {
            notes.push(Note::new(
                format!("The rod's {side} edge was hardly found ({} short stretches); it sets the scale and the tilt.", points.len()),
                "Take another photo with a plain sheet of paper behind the rod, in a colour unlike the rod's.",
            ));
        }
    }
    if outline.rod_bias_sigma_px > 0.2 {
        notes.push(Note::new(
            format!(
                "The rod's edges are faint: they may all lie {:.1} px further in or out, which moves every size along.",
                outline.rod_bias_sigma_px
            ),
            "Dull the rod with tape or chalk, or put plain paper behind it, and take the photo again.",
        ));
    }
    let (seen, gaps) = lengths(outline);
    if gaps > 0.1 * (seen + gaps) {
        notes.push(Note::new(
            format!(
                "{:.0} % of the part's edge does not stand out from what surrounds it and was left open.",
                100.0 * gaps / (seen + gaps)
            ),
            "Photograph the part before a plain ground of another colour, or trace the edge by hand there.",
        ));
    }
    let weak = outline.part.iter().filter(|p| p.sigma_px > LOST_PX).count();
    if weak * 5 > outline.part.len() {
        let what = if traced { "rests on the trace or on faint edges alone" } else { "is faint" };
        notes.push(Note::new(
            format!("{:.0} % of the part's edge {what}; its points carry large doubts.", 100.0 * weak as f64 / outline.part.len() as f64),
            "Use more light from both sides, or a ground of another colour.",
        ));
    }
    notes
}

/// Length of the part's outline that is covered by points, and that lies in gaps, px.
fn lengths(outline: &Outline) -> (f64, f64) {
    let steps: Vec<f64> = outline.part.windows(2).map(|p| norm(minus(p[1].at_px, p[0].at_px))).collect();
    let mut sorted = steps.clone();
    sorted.sort_by(f64::total_cmp);
    let usual = sorted.get(sorted.len() / 2).copied().unwrap_or(1.0);
    let gap = |s: &&f64| **s > 4.0 * usual;
    (steps.iter().filter(|s| !gap(s)).sum(), steps.iter().filter(gap).sum())
}
