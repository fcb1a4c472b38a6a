//! What the outline does not show: the last bit of the ends up to the axis, and stretches hidden between seen ones.

use crate::carve::Run;

/// How the ends are closed, heights in the fit's own frame.
#[derive(Clone, Debug)]
pub(crate) struct Closed {
    /// Height of the rod-end face and of the free end.
    pub(crate) ends_mm: [f64; 2],
    /// One-sigma doubt of the completion at each end.
    pub(crate) ends_sigma_mm: [f64; 2],
    /// Whether an end was closed as a dome (else as a flat face).
    pub(crate) dome: [bool; 2],
}

/// Closes both ends: a dome where the last nodes lie on an arc about the axis, else a flat face right after the broken edge.
pub(crate) fn close(runs: &[Run], spacing_mm: f64) -> Option<Closed> {
    let (first, last) = (runs.first()?, runs.last()?);
    let low: Vec<[f64; 2]> = first.iter().map(|p| [-p[0], p[1]]).collect();
    let high: Vec<[f64; 2]> = last.iter().rev().copied().collect();
    let (low, high) = (end_of(&low, spacing_mm), end_of(&high, spacing_mm));
    Some(Closed {
        ends_mm: [first.first()?[0] - low.reach_mm, last.last()?[0] + high.reach_mm],
        ends_sigma_mm: [low.sigma_mm, high.sigma_mm],
        dome: [low.dome, high.dome],
    })
}

struct End {
    reach_mm: f64,
    sigma_mm: f64,
    dome: bool,
}

/// `inward`: nodes from the end inward, heights growing toward the end.
fn end_of(inward: &[[f64; 2]], spacing_mm: f64) -> End {
    if let Some(dome) = dome(inward, spacing_mm) {
        return dome;
    }
    let flat = |reach_mm: f64| End { reach_mm, sigma_mm: 0.1 * spacing_mm + 0.5 * reach_mm, dome: false };
    let [Some(a), Some(b), Some(c)] = [inward.first(), inward.get(1), inward.get(2)] else { return flat(0.0) };
    // Angle of the outward normal from the axis, over the last two segments: the rest of the broken edge's turn, at its own radius.
    let lean = |from: &[f64; 2], to: &[f64; 2]| (to[0] - from[0]).atan2(from[1] - to[1]);
    let (near, far) = (lean(b, a), lean(c, b));
    let turn = far - near;
    if near <= 0.0 || near > 1.2 || turn <= 0.05 {
        return flat(0.0);
    }
    let at_end = (near - 0.5 * turn).max(0.0);
    let step = 0.5 * (length(a, b) + length(b, c));
    let radius = (step / turn).min(3.0 * spacing_mm);
    flat(radius * (1.0 - at_end.cos()))
}

/// An arc about the axis through the last nodes: r^2 + z^2 = 2 z0 z + c is linear in z0 and c.
fn dome(inward: &[[f64; 2]], spacing_mm: f64) -> Option<End> {
    let arc = |reach: f64| -> Option<(f64, f64, f64)> {
        let mut way = 0.0;
        let count = inward
            .windows(2)
            .take_while(|p| {
                way += length(&p[0], &p[1]);
                way <= reach * spacing_mm
            })
            .count()
            + 1;
        let nodes = inward.get(..count).filter(|_| count >= 6)?;
        let n = count as f64;
        let (mz, my) = nodes.iter().fold((0.0, 0.0), |(a, b), p| (a + p[0] / n, b + (p[0] * p[0] + p[1] * p[1]) / n));
        let (mut zz, mut zy) = (0.0, 0.0);
        for p in nodes {
            zz += (p[0] - mz) * (p[0] - mz);
            zy += (p[0] - mz) * (p[0] * p[0] + p[1] * p[1] - my);
        }
        let centre = 0.5 * zy / zz;
        let radius2 = my - 2.0 * centre * mz + centre * centre;
        if !(radius2 > 0.0 && centre.is_finite()) {
            return None;
        }
        let radius = radius2.sqrt();
        let rms = (nodes.iter().map(|p| ((p[0] - centre).hypot(p[1]) - radius).powi(2)).sum::<f64>() / n).sqrt();
        Some((centre, radius, rms))
    };
    let (centre, radius, rms) = arc(10.0)?;
    let end = inward.first()?;
    let lean = (end[1] / radius).clamp(0.0, 1.0).asin();
    if rms > 0.12 * spacing_mm || centre > end[0] || lean > 1.0 {
        return None;
    }
    let reach_mm = centre + radius - end[0];
    let other = arc(20.0).map_or(reach_mm, |(c, r, _)| c + r - end[0]);
    (reach_mm >= 0.0 && reach_mm < end[1].max(spacing_mm)).then_some(End {
        reach_mm,
        sigma_mm: 0.5 * (reach_mm - other).abs() + 0.05 * reach_mm + 0.03 * spacing_mm,
        dome: true,
    })
}

fn length(a: &[f64; 2], b: &[f64; 2]) -> f64 {
    (b[0] - a[0]).hypot(b[1] - a[1])
}

/// The chain with its hidden stretches filled: (z, r, seen). A hidden step is taken square to the axis at the outer rim, the inner side carried
/// on at the level where it is next seen: what a turner would make, and inside what the rays leave free.
pub(crate) fn filled(runs: &[Run], closed: &Closed, spacing_mm: f64) -> Vec<([f64; 2], bool)> {
    let mut chain: Vec<([f64; 2], bool)> = Vec::new();
    for run in runs {
        if let (Some((from, _)), Some(to)) = (chain.last().copied(), run.first()) {
            let corner = if from[1] >= to[1] { [from[0], to[1]] } else { [to[0], from[1]] };
            push_line(&mut chain, from, corner, spacing_mm);
            push_line(&mut chain, corner, *to, spacing_mm);
        }
        chain.extend(run.iter().map(|p| (*p, true)));
    }
    // No node may stand beyond the faces, nor the chain run back in height: noise of a hundredth of a px would make it cross itself.
    let mut least = closed.ends_mm[0];
    for (p, _) in chain.iter_mut() {
        p[0] = p[0].clamp(least, closed.ends_mm[1].max(least));
        least = p[0];
    }
    chain
}

fn push_line(chain: &mut Vec<([f64; 2], bool)>, from: [f64; 2], to: [f64; 2], spacing_mm: f64) {
    let length = (to[0] - from[0]).hypot(to[1] - from[1]);
    let parts = (length / spacing_mm).ceil().clamp(1.0, 2000.0) as usize;
    for k in 1..parts {
        let share = k as f64 / parts as f64;
        chain.push(([from[0] + share * (to[0] - from[0]), from[1] + share * (to[1] - from[1])], false));
    }
    if length > 0.3 * spacing_mm {
        chain.push((to, false));
    }
}
