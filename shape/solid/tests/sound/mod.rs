//! What every mesh must hold: closed, turned outward, nowhere through itself.
#![allow(dead_code, reason = "each test file uses its part")]

use solid::Mesh;

type V = [f64; 3];

/// Every edge of a closed, consistently turned surface is used once each way; its volume is then above 0 only if it is turned outward.
#[track_caller]
pub fn assert_closed_outward(mesh: &Mesh, what: &str) {
    let mut edges: Vec<(u32, u32)> = Vec::with_capacity(mesh.triangles.len() * 3);
    let mut used = vec![false; mesh.vertices_mm.len()];
    for t in &mesh.triangles {
        assert!(t[0] != t[1] && t[1] != t[2] && t[2] != t[0], "{what}: a triangle without three corners");
        edges.extend([(t[0], t[1]), (t[1], t[2]), (t[2], t[0])]);
        t.iter().for_each(|&corner| used[corner as usize] = true);
    }
    assert!(used.iter().all(|&used| used), "{what}: a corner that no triangle uses");
    let mut backward: Vec<(u32, u32)> = edges.iter().map(|&(a, b)| (b, a)).collect();
    edges.sort_unstable();
    backward.sort_unstable();
    if let Some(pair) = edges.windows(2).find(|pair| pair[0] == pair[1]) {
        panic!(
            "{what}: an edge is used twice the same way: {:?} {:?}",
            mesh.vertices_mm[pair[0].0 as usize], mesh.vertices_mm[pair[0].1 as usize]
        );
    }
    if let Some((a, _)) = edges.iter().zip(&backward).find(|(a, b)| a != b) {
        panic!("{what}: an edge is not shared by two: {:?} {:?}", mesh.vertices_mm[a.0 as usize], mesh.vertices_mm[a.1 as usize]);
    }
    assert!(mesh.volume_mm3() > 0.0, "{what}: inside out");
}

/// No triangle passes through another, and no two that share a side lie folded on one another. Crossings shallower than a nanometre are rounding.
#[track_caller]
pub fn assert_nowhere_through_itself(mesh: &Mesh, what: &str) {
    let corners: Vec<[V; 3]> = mesh.triangles.iter().map(|t| mesh.corners(t).expect("corners")).collect();
    let bound = |t: &[V; 3], i: usize| (t[0][i].min(t[1][i]).min(t[2][i]), t[0][i].max(t[1][i]).max(t[2][i]));
    let boxes: Vec<[(f64, f64); 3]> = corners.iter().map(|t| [bound(t, 0), bound(t, 1), bound(t, 2)]).collect();
    // Cells as wide as triangles are on the mean; each pair is looked at in the lowest cell that both touch.
    let mean = boxes.iter().map(|b| (0..3).map(|i| b[i].1 - b[i].0).fold(0.0, f64::max)).sum::<f64>() / boxes.len() as f64;
    let cell = |x: f64| (x / mean).floor() as i32;
    let mut cells: Vec<([i32; 3], u32)> = Vec::with_capacity(4 * boxes.len());
    for (index, b) in boxes.iter().enumerate() {
        let range = |i: usize| cell(b[i].0)..=cell(b[i].1);
        cells.extend(
            range(0)
                .flat_map(|x| range(1).flat_map(move |y| range(2).map(move |z| [x, y, z])))
                .map(|key| (key, u32::try_from(index).expect("few"))),
        );
    }
    cells.sort_unstable();
    for list in cells.chunk_by(|a, b| a.0 == b.0) {
        for (place, &(key, here)) in list.iter().enumerate() {
            for &(_, other) in &list[..place] {
                let (here, other) = (here as usize, other as usize);
                let low: [f64; 3] = std::array::from_fn(|i| boxes[other][i].0.max(boxes[here][i].0));
                let apart = (0..3).any(|i| low[i] > boxes[here][i].1 || low[i] > boxes[other][i].1);
                if !apart && low.map(cell) == key {
                    check_pair(mesh, &corners, here, other, what);
                }
            }
        }
    }
}

fn check_pair(mesh: &Mesh, corners: &[[V; 3]], a: usize, b: usize, what: &str) {
    let (ta, tb) = (mesh.triangles[a], mesh.triangles[b]);
    let shared: Vec<u32> = ta.iter().filter(|corner| tb.contains(corner)).copied().collect();
    match shared.len() {
        0 | 1 => {
            let edges = |t: &[u32; 3], v: &[V; 3]| -> Vec<(V, V)> {
                (0..3).filter(|&i| !shared.contains(&t[i]) && !shared.contains(&t[(i + 1) % 3])).map(|i| (v[i], v[(i + 1) % 3])).collect()
            };
            let through = edges(&ta, &corners[a]).iter().any(|&(p, q)| pierces(p, q, &corners[b]))
                || edges(&tb, &corners[b]).iter().any(|&(p, q)| pierces(p, q, &corners[a]));
            assert!(!through, "{what}: triangles {:?} and {:?} cross", corners[a], corners[b]);
        }
        2 => {
            let (n, m) = (normal(&corners[a]), normal(&corners[b]));
            let cosine = dot(n, m) / (dot(n, n) * dot(m, m)).sqrt();
            assert!(cosine.is_nan() || cosine >= -1.0 + 1e-12, "{what}: triangles {:?} and {:?} are folded", corners[a], corners[b]);
        }
        _ => panic!("{what}: a triangle twice"),
    }
}

fn pierces(p: V, q: V, t: &[V; 3]) -> bool {
    let n = normal(t);
    let size = dot(n, n).sqrt();
    let (dp, dq) = (dot(n, minus(p, t[0])) / size, dot(n, minus(q, t[0])) / size);
    if !(dp * dq < 0.0 && dp.abs() > 1e-6 && dq.abs() > 1e-6) {
        return false;
    }
    let s = dp / (dp - dq);
    let at: V = std::array::from_fn(|i| p[i] + s * (q[i] - p[i]));
    (0..3).all(|i| {
        let (a, b) = (t[i], t[(i + 1) % 3]);
        let along = minus(b, a);
        dot(cross(along, minus(at, a)), n) / size / dot(along, along).sqrt() > 1e-6
    })
}

fn normal(t: &[V; 3]) -> V {
    cross(minus(t[1], t[0]), minus(t[2], t[0]))
}

fn minus(a: V, b: V) -> V {
    [a[0] - b[0], a[1] - b[1], a[2] - b[2]]
}

fn cross(a: V, b: V) -> V {
    [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]]
}

fn dot(a: V, b: V) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}
