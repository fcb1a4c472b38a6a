//! Flat pieces of surface: polygons with holes cut into triangles, and how closed lines lie in one another.

/// A corner in the plane, mm.
pub type Corner = [f64; 2];

/// Corners at most in one polygon with its holes: ears are looked for one by one.
pub const MOST_CORNERS: usize = 20_000;

/// Twice the signed area, counter-clockwise positive.
pub fn twice_area(loop_: &[Corner]) -> f64 {
    let next = |i: usize| loop_[(i + 1) % loop_.len()];
    loop_.iter().enumerate().map(|(i, a)| a[0] * next(i)[1] - next(i)[0] * a[1]).sum()
}

/// Twice the signed area of a triangle; above 0 where `c` lies on the left of `a` to `b`.
fn turn(a: Corner, b: Corner, c: Corner) -> f64 {
    (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
}

/// Whether a place lies inside a closed line (even-odd; on the line itself either).
pub fn contains(loop_: &[Corner], at: Corner) -> bool {
    let mut inside = false;
    for (i, a) in loop_.iter().enumerate() {
        let b = loop_[(i + 1) % loop_.len()];
        if (a[1] > at[1]) != (b[1] > at[1]) && a[0] + (at[1] - a[1]) / (b[1] - a[1]) * (b[0] - a[0]) > at[0] {
            inside = !inside;
        }
    }
    inside
}

/// Whether two straight pieces meet anywhere but at a common end.
fn meet(a: Corner, b: Corner, c: Corner, d: Corner) -> bool {
    let common = [a, b].into_iter().find(|p| *p == c || *p == d);
    let apart = |p: &Corner, q: &Corner| p[0] != q[0] || p[1] != q[1];
    if let Some(at) = common {
        // They lie on one another only if they leave their common end the same way.
        let (p, q) = (if apart(&a, &at) { a } else { b }, if apart(&c, &at) { c } else { d });
        let along = (p[0] - at[0]) * (q[0] - at[0]) + (p[1] - at[1]) * (q[1] - at[1]);
        return turn(at, p, q) == 0.0 && along > 0.0;
    }
    let boxes = |i: usize| a[i].min(b[i]) <= c[i].max(d[i]) && c[i].min(d[i]) <= a[i].max(b[i]);
    boxes(0) && boxes(1) && turn(a, b, c) * turn(a, b, d) <= 0.0 && turn(c, d, a) * turn(c, d, b) <= 0.0
}

/// Whether any two closed lines of a set cross or touch, themselves included.
pub fn any_meet(loops: &[Vec<Corner>]) -> bool {
    let mut edges: Vec<(Corner, Corner)> =
        loops.iter().flat_map(|line| (0..line.len()).map(move |i| (line[i], line[(i + 1) % line.len()]))).collect();
    let low = |edge: &(Corner, Corner)| edge.0[0].min(edge.1[0]);
    edges.sort_by(|a, b| low(a).total_cmp(&low(b)));
    edges.iter().enumerate().any(|(i, one)| {
        let reach = one.0[0].max(one.1[0]);
        edges.iter().skip(i + 1).take_while(|two| low(two) <= reach).any(|two| meet(one.0, one.1, two.0, two.1))
    })
}

/// How deep each closed line lies inside others: 0 outermost, 1 in one, and so on. The lines must not cross.
pub fn depths(loops: &[Vec<Corner>]) -> Vec<usize> {
    let depth = |i: usize| {
        let Some(&at) = loops[i].first() else { return 0 };
        loops.iter().enumerate().filter(|(j, other)| *j != i && contains(other, at)).count()
    };
    (0..loops.len()).map(depth).collect()
}

/// Triangles, counter-clockwise, that fill what lies within `outer` (counter-clockwise) and outside all `holes` (clockwise). Corners are numbered through: first those of
/// `outer`, then those of each hole. Every corner is used and none is added, so that neighbours that share the lines share the corners too.
///
/// By cutting ears off one after another (Meisters 1975), holes joined to the outside by a bridge first (Eberly). The lines must not meet ([`any_meet`] tells); `None` where
/// they are too many or nothing can be cut.
pub fn triangles(outer: &[Corner], holes: &[Vec<Corner>]) -> Option<Vec<[usize; 3]>> {
    let places: Vec<Corner> = outer.iter().chain(holes.iter().flatten()).copied().collect();
    if outer.len() < 3 || places.len() > MOST_CORNERS || !places.iter().flatten().all(|x| x.is_finite()) {
        return None;
    }
    let ring = bridged(outer, holes, &places)?;
    clipped(&places, ring)
}

/// One closed line through all corners: holes from the one that reaches farthest to the right, each joined to its nearest corner in sight.
fn bridged(outer: &[Corner], holes: &[Vec<Corner>], places: &[Corner]) -> Option<Vec<usize>> {
    let mut ring: Vec<usize> = (0..outer.len()).collect();
    let mut rings: Vec<Vec<usize>> = Vec::new();
    let mut first = outer.len();
    for hole in holes {
        if hole.len() < 3 {
            return None;
        }
        // Begin at the corner farthest to the right.
        let far = (0..hole.len()).max_by(|&a, &b| hole[a][0].total_cmp(&hole[b][0]).then(hole[b][1].total_cmp(&hole[a][1])))?;
        rings.push((0..hole.len()).map(|i| first + (far + i) % hole.len()).collect());
        first += hole.len();
    }
    rings.sort_by(|a, b| places[b[0]][0].total_cmp(&places[a[0]][0]).then(a[0].cmp(&b[0])));
    for index in 0..rings.len() {
        let from = places[rings[index][0]];
        let distance = |i: usize| (places[ring[i]][0] - from[0]).hypot(places[ring[i]][1] - from[1]);
        let mut near: Vec<usize> = (0..ring.len()).collect();
        near.sort_by(|&a, &b| distance(a).total_cmp(&distance(b)).then(a.cmp(&b)));
        let seen = |&i: &usize| {
            let (before, at, after) = (ring[(i + ring.len() - 1) % ring.len()], ring[i], ring[(i + 1) % ring.len()]);
            in_wedge(places[before], places[at], places[after], from)
                && std::iter::once(&ring).chain(&rings[index..]).all(|line| free(line, places, from, places[at]))
        };
        let at = near.into_iter().find(seen)?;
        let hole = &rings[index];
        let joined: Vec<usize> = ring[..=at].iter().chain(hole).chain(&hole[..1]).chain(&ring[at..]).copied().collect();
        ring = joined;
    }
    Some(ring)
}

/// Whether a place is seen from a corner into the inside of a counter-clockwise line.
fn in_wedge(before: Corner, at: Corner, after: Corner, seen: Corner) -> bool {
    if turn(before, at, after) >= 0.0 {
        turn(before, at, seen) > 0.0 && turn(at, after, seen) > 0.0
    } else {
        !(turn(before, at, seen) <= 0.0 && turn(at, after, seen) <= 0.0)
    }
}

fn free(line: &[usize], places: &[Corner], from: Corner, to: Corner) -> bool {
    (0..line.len()).all(|i| !meet(from, to, places[line[i]], places[line[(i + 1) % line.len()]]))
}

/// Cuts ears off a counter-clockwise line until a triangle is left.
fn clipped(places: &[Corner], ring: Vec<usize>) -> Option<Vec<[usize; 3]>> {
    let count = ring.len();
    let (mut before, mut after): (Vec<usize>, Vec<usize>) =
        ((0..count).map(|i| (i + count - 1) % count).collect(), (0..count).map(|i| (i + 1) % count).collect());
    let at = |i: usize| places[ring[i]];
    let (mut found, mut left, mut here, mut passed) = (Vec::with_capacity(count), count, 0, 0);
    while left > 3 {
        let (b, a) = (before[here], after[here]);
        if is_ear(&at, &after, [b, here, a]) {
            found.push([ring[b], ring[here], ring[a]]);
            (after[b], before[a]) = (a, b);
            left -= 1;
            // Going on beyond the next corner keeps ears from forming a fan of slivers.
            (here, passed) = (after[a], 0);
        } else {
            (here, passed) = (a, passed + 1);
            if passed > left {
                return None;
            }
        }
    }
    found.push([ring[before[here]], ring[here], ring[after[here]]]);
    found.iter().all(|t| turn(places[t[0]], places[t[1]], places[t[2]]) > 0.0).then_some(found)
}

/// Whether the triangle of three neighbours bends outward and holds no other corner, not even on its sides.
fn is_ear(at: &impl Fn(usize) -> Corner, after: &[usize], [b, here, a]: [usize; 3]) -> bool {
    let [p, q, r] = [at(b), at(here), at(a)];
    if turn(p, q, r) <= 0.0 {
        return false;
    }
    let mut i = after[a];
    while i != b {
        let x = at(i);
        if x != p && x != q && x != r && turn(p, q, x) >= 0.0 && turn(q, r, x) >= 0.0 && turn(r, p, x) >= 0.0 {
            return false;
        }
        i = after[i];
    }
    true
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::TAU;

    fn circle(centre: Corner, radius: f64, count: usize, clockwise: bool) -> Vec<Corner> {
        let turn = if clockwise { -TAU } else { TAU };
        (0..count)
            .map(|i| (turn * i as f64 / count as f64).sin_cos())
            .map(|(s, c)| [centre[0] + radius * c, centre[1] + radius * s])
            .collect()
    }

    /// The triangles' areas are all above 0 and sum to the outside less the holes: then they overlap nowhere.
    fn check(outer: &[Corner], holes: &[Vec<Corner>]) {
        let all: Vec<Corner> = outer.iter().chain(holes.iter().flatten()).copied().collect();
        let found = triangles(outer, holes).expect("filled");
        let area: f64 = found.iter().map(|t| turn(all[t[0]], all[t[1]], all[t[2]])).sum();
        let meant = twice_area(outer) + holes.iter().map(|hole| twice_area(hole)).sum::<f64>();
        assert!((area - meant).abs() < 1e-9 * twice_area(outer), "{area} instead of {meant}");
        assert_eq!(found.len(), all.len() + 2 * holes.len() - 2);
    }

    #[test]
    fn rings_and_rows_of_holes_are_filled() {
        check(&circle([0.0; 2], 10.0, 64, false), &[circle([0.0; 2], 3.0, 40, true)]);
        // Squares in one row: their sides lie in line, which ears must not run over.
        let square = |x: f64| vec![[x, 0.0], [x, 1.0], [x + 1.0, 1.0], [x + 1.0, 0.0]];
        let row: Vec<Vec<Corner>> = (0..12).map(|i| square(2.0 * f64::from(i))).collect();
        check(&[[-1.0, -1.0], [24.0, -1.0], [24.0, 2.0], [-1.0, 2.0]], &row);
        let column: Vec<Vec<Corner>> = (0..6)
            .flat_map(|i| (0..6).map(move |j| (i, j)))
            .map(|(i, j)| circle([3.0 * f64::from(i), 3.0 * f64::from(j)], 1.0, 12, true))
            .collect();
        check(&[[-2.0, -2.0], [20.0, -2.0], [20.0, 20.0], [-2.0, 20.0]], &column);
    }

    #[test]
    fn what_can_not_be_filled_is_refused() {
        let big = circle([0.0; 2], 10.0, 16, false);
        assert_eq!(triangles(&big[..2], &[]), None);
        assert_eq!(triangles(&[[0.0, 0.0], [f64::NAN, 1.0], [1.0, 1.0]], &[]), None);
        assert!(
            any_meet(&[big.clone(), circle([9.0, 0.0], 3.0, 16, true)]) && !any_meet(&[big.clone(), circle([2.0, 0.0], 3.0, 16, true)])
        );
        assert_eq!(depths(&[big, circle([0.0; 2], 5.0, 8, true), circle([0.0; 2], 2.0, 8, false)]), [0, 1, 2]);
    }
}
