//! A first meridian by carving: the largest body that no ray of the outline cuts, as runs of evenly spaced nodes where rays touch it.

use crate::sight::{Sight, Touch};

/// A stretch of meridian that is seen, nodes (z, r) in order of height.
pub(crate) type Run = Vec<[f64; 2]>;

/// Carves with the rays of the part and keeps what is touched. `spacing_mm` is the distance of nodes.
pub(crate) fn carve(sights: &[Sight], spacing_mm: f64) -> Vec<Run> {
    let hull = hull(sights, spacing_mm);
    if hull.len() < 3 {
        return Vec::new();
    }
    let nodes = resample(&hull, spacing_mm);
    seen_runs(&nodes, sights, DEEP * spacing_mm)
}

/// Lower envelope of all rays between the lowest and highest place where a ray passes the axis.
fn hull(sights: &[Sight], spacing_mm: f64) -> Vec<[f64; 2]> {
    let (low, high) = sights.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), s| (a.min(s.z_v), b.max(s.z_v)));
    let count = ((high - low) / (0.15 * spacing_mm)).ceil();
    if !(count > 2.0 && count < 2e5) {
        return Vec::new();
    }
    let step = (high - low) / count;
    let mut envelope = vec![f64::INFINITY; count as usize + 1];
    for sight in sights {
        let (from, by) = ((low - sight.z_v) / sight.along, step / sight.along);
        let least2 = sight.least * sight.least;
        for (i, least) in envelope.iter_mut().enumerate() {
            let w = from + by * i as f64;
            *least = least.min(least2 + sight.g * w * w);
        }
    }
    envelope.iter_mut().for_each(|r| *r = r.sqrt());
    // Between two neighbouring rays that turn back within a step of each other, the rays in between bound the body too (square-on views).
    for pair in sights.windows(2) {
        let ((za, ra), (zb, rb)) = ((pair[0].z_v, pair[0].least), (pair[1].z_v, pair[1].least));
        if (za - zb).hypot(ra - rb) > 3.0 * spacing_mm {
            continue;
        }
        let (first, last) = (((za.min(zb) - low) / step).ceil().max(0.0) as usize, ((za.max(zb) - low) / step).floor().max(0.0) as usize);
        for i in first..=last.min(envelope.len() - 1) {
            let share = if (zb - za).abs() > 1e-12 { (low + step * i as f64 - za) / (zb - za) } else { 0.0 };
            envelope[i] = envelope[i].min(ra + share.clamp(0.0, 1.0) * (rb - ra));
        }
    }
    envelope.iter().enumerate().filter(|(_, r)| r.is_finite()).map(|(i, r)| [low + step * i as f64, *r]).collect()
}

/// Evenly spaced places along a polyline.
pub(crate) fn resample(line: &[[f64; 2]], spacing: f64) -> Vec<[f64; 2]> {
    let mut lengths = vec![0.0];
    for pair in line.windows(2) {
        lengths.push(lengths[lengths.len() - 1] + (pair[1][0] - pair[0][0]).hypot(pair[1][1] - pair[0][1]));
    }
    let total = lengths[lengths.len() - 1];
    let parts = (total / spacing).round().clamp(1.0, 5000.0) as usize;
    let mut at = 0;
    (0..=parts)
        .map(|k| {
            let wanted = total * k as f64 / parts as f64;
            while at + 2 < line.len() && lengths[at + 1] < wanted {
                at += 1;
            }
            let share = ((wanted - lengths[at]) / (lengths[at + 1] - lengths[at]).max(1e-12)).clamp(0.0, 1.0);
            [line[at][0] + share * (line[at + 1][0] - line[at][0]), line[at][1] + share * (line[at + 1][1] - line[at][1])]
        })
        .collect()
}

/// A turn at a node beyond this is cut finer, radians: above what noise makes of evenly spaced nodes.
const TURN_RAD: f64 = 0.15;

/// More nodes where the chain turns fast, on the arc that its turn suggests, down to a quarter of the spacing, so that broken edges get
/// nodes of their own.
pub(crate) fn refined(run: &Run, spacing_mm: f64) -> Run {
    let mut run = run.clone();
    for _ in 0..2 {
        let turns = turns(&run);
        let mut finer = vec![run[0]];
        for i in 0..run.len() - 1 {
            let (a, b) = (run[i], run[i + 1]);
            let length = (b[0] - a[0]).hypot(b[1] - a[1]);
            if turns[i].abs().max(turns[i + 1].abs()) > TURN_RAD && length > 0.4 * spacing_mm {
                finer.push(on_arc(a, b, 0.5 * (turns[i] + turns[i + 1]), 0.5));
            }
            finer.push(b);
        }
        run = finer;
    }
    run
}

/// Turn of the chain at each node, radians, clockwise (convex) positive; ends take their neighbour's.
fn turns(run: &Run) -> Vec<f64> {
    let last = run.len() - 1;
    let inner = |i: usize| {
        let (a, b) = ([run[i][0] - run[i - 1][0], run[i][1] - run[i - 1][1]], [run[i + 1][0] - run[i][0], run[i + 1][1] - run[i][1]]);
        (a[1] * b[0] - a[0] * b[1]).atan2(a[0] * b[0] + a[1] * b[1])
    };
    (0..=last).map(|i| if last < 2 { 0.0 } else { inner(i.clamp(1, last - 1)) }).collect()
}

/// The place at a share of the arc from `a` to `b` that turns by `turn` in all: it bulges by length turn / 8 in the middle.
fn on_arc(a: [f64; 2], b: [f64; 2], turn: f64, share: f64) -> [f64; 2] {
    let bulge = 0.5 * share * (1.0 - share) * turn.clamp(-1.5, 1.5);
    [a[0] + share * (b[0] - a[0]) - bulge * (b[1] - a[1]), a[1] + share * (b[1] - a[1]) + bulge * (b[0] - a[0])]
}

/// Places per segment of the smooth curve through a chain.
const SUB: usize = 4;

/// The smooth curve through a chain as a finer polyline: `SUB` places a segment. Chords alone would lie inside a bead by up to some tenths of
/// a pixel, which shifts the tilt by several times its noise.
pub(crate) fn smoothed(run: &Run) -> Run {
    let turns = turns(run);
    let mut fine = Vec::with_capacity(SUB * run.len());
    for i in 0..run.len() - 1 {
        // An arc turns as much as its ends agree on; a lone corner leaves its sides straight.
        let (p, q) = (turns[i], turns[i + 1]);
        let turn = if p * q <= 0.0 { 0.0 } else { p.abs().min(q.abs()).copysign(p) };
        fine.extend((0..SUB).map(|k| on_arc(run[i], run[i + 1], turn, k as f64 / SUB as f64)));
    }
    fine.push(run[run.len() - 1]);
    fine
}

/// The touch with the smooth curve near where the chain is touched; shares count on the chain's own segment.
pub(crate) fn touch_smooth(sight: &Sight, fine: &Run, at: At, deep_mm: f64) -> (At, Touch) {
    let (first, last) = ((SUB * at.node).saturating_sub(SUB), (SUB * (at.node + 2)).min(fine.len() - 1));
    let better = |a: f64, b: f64| if b < -deep_mm { a > b } else { a < b && a >= -deep_mm };
    let mut place = (first, f64::INFINITY);
    let mut best: Option<(usize, Touch)> = None;
    for i in first..=last {
        let rough = rough_gap(sight, fine[i]);
        if i == first || better(rough, place.1) {
            place = (i, rough);
        }
        if i < last
            && let Some(touch) = sight.touch_inside(fine[i], fine[i + 1])
            && best.is_none_or(|(_, b)| better(touch.gap, b.gap))
        {
            best = Some((i, touch));
        }
    }
    let near = place.0.saturating_sub(1).max(first)..=(place.0 + 1).min(last);
    for (i, place) in fine.iter().enumerate().filter(|(i, _)| near.contains(i)) {
        let touch = sight.touch_place(*place);
        if best.is_none_or(|(_, b)| better(touch.gap, b.gap)) {
            best = Some((i, touch));
        }
    }
    let (i, mut touch) = best.unwrap_or_else(|| (place.0, sight.touch_place(fine[place.0])));
    touch.share = ((i % SUB) as f64 + touch.share) / SUB as f64;
    (At { run: at.run, node: i / SUB }, touch)
}

/// Cuts a chain to the stretches that rays touch; gaps up to `JOINED` nodes stay.
///
/// A ray that runs along many nodes says nothing of which of them is there: beyond a flat face the carved body ends in a cone along the lines
/// of sight, and every ray on that cone also passes the face's rim. Only rays that single out a short stretch count.
fn seen_runs(nodes: &[[f64; 2]], sights: &[Sight], deep_mm: f64) -> Vec<Run> {
    let runs = vec![nodes.to_vec()];
    let mut touched = vec![0u32; nodes.len()];
    let near_mm = NEAR * deep_mm / DEEP;
    for sight in sights {
        let Some((at, touch)) = nearest(sight, &runs, deep_mm) else { continue };
        let near = |i: usize| rough_gap(sight, nodes[i]) < touch.gap + near_mm;
        let (mut first, mut last) = (at.node, at.node);
        while first > 0 && near(first - 1) && last - first <= LONG {
            first -= 1;
        }
        while last + 1 < nodes.len() && near(last + 1) && last - first <= LONG {
            last += 1;
        }
        if last - first > LONG {
            continue;
        }
        touched[at.node] += 1;
        if touch.share > 0.5 && at.node + 1 < touched.len() {
            touched[at.node + 1] += 1;
        }
    }
    split(nodes, &touched)
}

/// A ray is near a node within this many spacings (a spacing is about 3 px: 0.45 px).
const NEAR: f64 = 0.15;
/// Near more nodes in a row than this, a ray singles out none.
const LONG: usize = 12;

/// Untouched nodes in a row that do not yet break a run.
const JOINED: usize = 6;

fn split(nodes: &[[f64; 2]], touched: &[u32]) -> Vec<Run> {
    let mut runs: Vec<Run> = Vec::new();
    let mut last: Option<usize> = None;
    let firm = firm(touched);
    for (i, firm) in firm.iter().enumerate() {
        if !firm {
            continue;
        }
        match last {
            Some(previous) if i - previous <= JOINED + 1 => {
                if let Some(run) = runs.last_mut() {
                    run.extend_from_slice(&nodes[previous + 1..=i]);
                }
            }
            _ => runs.push(vec![nodes[i]]),
        }
        last = Some(i);
    }
    runs.retain(|run| run.len() >= 2);
    runs
}

/// Nodes that enough rays touch: the cones in which the carved body ends beyond its faces are touched by stray rays only.
fn firm(touched: &[u32]) -> Vec<bool> {
    let mut counts: Vec<u32> = touched.iter().copied().filter(|c| *c > 0).collect();
    counts.sort_unstable();
    let Some(middle) = counts.get(counts.len() / 2) else { return Vec::new() };
    let around = |i: usize| touched[i.saturating_sub(1)..(i + 2).min(touched.len())].iter().sum::<u32>();
    (0..touched.len()).map(|i| touched[i] > 0 && f64::from(around(i)) >= 0.75 * f64::from(*middle)).collect()
}

/// Cuts deeper than this many spacings are wild.
pub(crate) const DEEP: f64 = 6.0;

/// Which run and which of its nodes starts the touched segment (or is the touched node, with share 0).
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct At {
    pub(crate) run: usize,
    pub(crate) node: usize,
}

/// The touch with the least gap between a ray and the runs. Cuts deeper than `deep_mm` count only where there is no other touch: a ray that
/// far inside is wild, and far from tangency the closed form's "depth" can belong to a part of the chain that the ray never meets.
pub(crate) fn nearest(sight: &Sight, runs: &[Run], deep_mm: f64) -> Option<(At, Touch)> {
    let better = |a: f64, b: f64| if b < -deep_mm { a > b } else { a < b && a >= -deep_mm };
    let mut roughs: Vec<f64> = Vec::with_capacity(runs.iter().map(Vec::len).sum());
    let mut place: Option<(At, f64)> = None;
    for (r, run) in runs.iter().enumerate() {
        for (i, node) in run.iter().enumerate() {
            let rough = rough_gap(sight, *node);
            if place.is_none_or(|(_, least)| better(rough, least)) {
                place = Some((At { run: r, node: i }, rough));
            }
            roughs.push(rough);
        }
    }
    let (at, _) = place?;
    let mut best: Option<(At, Touch)> = None;
    let first = at.node.saturating_sub(1);
    for (node, place) in runs[at.run].iter().enumerate().skip(first).take(at.node + 2 - first) {
        let touch = sight.touch_place(*place);
        if best.is_none_or(|(_, b)| better(touch.gap, b.gap)) {
            best = Some((At { run: at.run, node }, touch));
        }
    }
    // A hyperbola bends away from the axis, so a place is never nearer than its first-order distance, and a segment's touch is never nearer than
    // that of an end by more than the segment's length: most segments need no closer look. Where a segment is cut, the depth is measured square
    // to it and may be more.
    let mut from = 0;
    for (r, run) in runs.iter().enumerate() {
        for (i, (ends, rough)) in run.windows(2).zip(roughs[from..].windows(2)).enumerate() {
            let wild = best.is_none_or(|(_, b)| b.gap < -deep_mm);
            let reach = (ends[1][0] - ends[0][0]).abs() + (ends[1][1] - ends[0][1]).abs();
            let bound = rough[0].min(rough[1]) - reach;
            if (wild || bound < 0.0 || best.is_some_and(|(_, b)| bound < b.gap))
                && let Some(touch) = sight.touch_inside(ends[0], ends[1])
                && best.is_none_or(|(_, b)| better(touch.gap, b.gap))
            {
                best = Some((At { run: r, node: i }, touch));
            }
        }
        from += run.len();
    }
    best
}

/// First-order distance of a place below the ray.
fn rough_gap(sight: &Sight, p: [f64; 2]) -> f64 {
    let w = (p[0] - sight.z_v) / sight.along;
    let d2 = sight.least * sight.least + sight.g * w * w;
    if !d2.is_finite() || d2 > 1e18 {
        return (p[0] - sight.z_v).abs().hypot((sight.least - p[1]).max(0.0));
    }
    let d = d2.sqrt();
    let slope = sight.g * w / (d * sight.along);
    (d - p[1]) / (1.0 + slope * slope).sqrt()
}
