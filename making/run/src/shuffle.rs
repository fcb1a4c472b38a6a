//! One more part than rows can hold: push overlapping parts apart until none overlaps, or give up.

/// Most parts this is tried for: beyond, it almost never finds more than rows do (measured on random plates), and takes long.
const MOST_PARTS: usize = 60;
/// Pushes a trial gets; successful ones mostly need a few hundred.
const MOST_ROUNDS: u32 = 600;

/// Centres in the room, all at least `apart_mm` from each other, for more parts than `held`: as many as pushing finds, up to `bound`.
///
/// Starts from evenly scattered points (Halton's sequence, another stretch of it a trial), so that the same input gives the same places.
/// Whatever comes back was checked pair by pair; a failed search only means that rows are kept.
pub(crate) fn more_than(held: usize, bound: usize, room: [f64; 2], apart_mm: f64) -> Option<Vec<[f64; 2]>> {
    let mut best = None;
    for count in held + 1..=bound.min(MOST_PARTS) {
        // Small numbers are cheap to try and gain most from one more.
        let trials = (600 / count as u32).clamp(12, 80);
        let found = (0..trials).find_map(|trial| push_apart(scattered(count, trial, room), room, apart_mm));
        if found.is_none() {
            break;
        }
        best = found;
    }
    best
}

fn scattered(count: usize, trial: u32, room: [f64; 2]) -> Vec<[f64; 2]> {
    let first = 1 + trial as usize * 137;
    (first..first + count).map(|i| [room[0] * radical_inverse(i, 2), room[1] * radical_inverse(i, 3)]).collect()
}

/// The digits of `index` mirrored at the point (Halton 1960).
fn radical_inverse(mut index: usize, base: usize) -> f64 {
    let (mut value, mut place) = (0.0, 1.0 / base as f64);
    while index > 0 {
        value += place * (index % base) as f64;
        index /= base;
        place /= base as f64;
    }
    value
}

/// Moves each overlapping pair half the overlap each way, the room's edge holding, until no overlap is left.
fn push_apart(mut points: Vec<[f64; 2]>, room: [f64; 2], apart_mm: f64) -> Option<Vec<[f64; 2]>> {
    // Pushing stops just beyond the goal, so that what is kept is truly apart.
    let goal = apart_mm * (1.0 + 1e-6);
    let mut near = Vec::new();
    for round in 0..MOST_ROUNDS {
        if round % 10 == 0 {
            near = neighbours(&points, 1.6 * apart_mm);
        }
        let mut worst = 0.0f64;
        for &(i, j) in &near {
            let (p, q) = (points[i], points[j]);
            let (dx, dy) = (q[0] - p[0], q[1] - p[1]);
            let square = dx * dx + dy * dy;
            if square >= goal * goal {
                continue;
            }
            let distance = square.sqrt();
            worst = worst.max(goal - distance);
            let (ux, uy) = if distance > 1e-12 { (dx / distance, dy / distance) } else { (1.0, 0.0) };
            // A little more than needed speeds the settling of long chains.
            let push = 0.55 * (goal - distance);
            points[i] = [(p[0] - push * ux).clamp(0.0, room[0]), (p[1] - push * uy).clamp(0.0, room[1])];
            points[j] = [(q[0] + push * ux).clamp(0.0, room[0]), (q[1] + push * uy).clamp(0.0, room[1])];
        }
        if worst < 1e-7 * apart_mm && are_apart(&points, apart_mm) {
            return Some(points);
        }
        // A jam shows early: what still overlaps by a twentieth after half the rounds never comes loose.
        if round == MOST_ROUNDS / 2 && worst > 0.05 * apart_mm {
            return None;
        }
    }
    None
}

fn neighbours(points: &[[f64; 2]], reach: f64) -> Vec<(usize, usize)> {
    let is_near = |p: &[f64; 2], q: &[f64; 2]| (p[0] - q[0]).powi(2) + (p[1] - q[1]).powi(2) < reach * reach;
    let pairs = (0..points.len()).flat_map(|j| (0..j).map(move |i| (i, j)));
    pairs.filter(|&(i, j)| is_near(&points[i], &points[j])).collect()
}

fn are_apart(points: &[[f64; 2]], apart_mm: f64) -> bool {
    let far = |p: &[f64; 2], q: &[f64; 2]| (p[0] - q[0]).hypot(p[1] - q[1]) >= apart_mm;
    (0..points.len()).all(|j| (0..j).all(|i| far(&points[i], &points[j])))
}
