//! Turns a boundary into triangles, ring by ring, round the cross holes and over the marks.

use crate::body::Body;
use crate::hole::{CrossHole, trim_rad};
use crate::lathe::Mesh;
use crate::path::NOTHING_MM;
use crate::plane::{self, Corner};
use crate::relief::Surface;
use crate::{Mark, MarkPlace, SolidError};
use meridian::Point;
use std::f64::consts::{PI, TAU};

/// A straight step of the boundary, with the reliefs that are cut into it (a bit each) and the mark that is cut into its face.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Span {
    pub from: Point,
    pub to: Point,
    pub surface: Surface,
    pub reliefs: u64,
    pub mark: Option<usize>,
}

/// Builds a mesh ring by ring.
pub(crate) struct Turner<'a> {
    body: &'a Body,
    angles: &'a [f64],
    openings: Vec<Opening>,
    mesh: Mesh,
}

/// One mouth of a cross hole, with the trimmed edges found so far.
struct Opening {
    hole: CrossHole,
    /// Its angle, 0..2 pi, and which side of its hole it is: 0 or 1.
    angle: f64,
    side: usize,
    index: usize,
    passes: Vec<TrimmedPass>,
}

/// Corners with rising angles.
type Row = Vec<(f64, u32)>;

/// The two edges of a hole in one surface, ring by ring.
#[derive(Default)]
struct TrimmedPass {
    left: Vec<u32>,
    right: Vec<u32>,
}

/// The corners of one ring with their angles; one corner if it lies on the axis.
#[derive(Clone, Default)]
struct Ring {
    z_mm: f64,
    angles: Vec<f64>,
    corners: Vec<u32>,
    /// For each opening the places of its left and right trim among the corners.
    trims: Vec<Option<[usize; 2]>>,
}

/// Corners nearer than this round the axis to a trimmed edge are left out, radians.
const APART_RAD: f64 = 1e-5;

impl<'a> Turner<'a> {
    pub fn new(body: &'a Body, angles: &'a [f64]) -> Turner<'a> {
        let mut openings = Vec::new();
        for (index, crossing) in body.crossings().iter().enumerate() {
            let hole = crossing.hole;
            for side in 0..if hole.both_sides { 2 } else { 1 } {
                let angle = (hole.angle_deg.to_radians() + side as f64 * PI).rem_euclid(TAU);
                openings.push(Opening { hole, angle, side, index, passes: Vec::new() });
            }
        }
        openings.sort_by(|a, b| a.angle.total_cmp(&b.angle));
        Turner { body, angles, openings, mesh: Mesh::default() }
    }

    pub fn turned(mut self, spans: &[Span]) -> Result<Mesh, SolidError> {
        let Some(first_span) = spans.first() else { return Ok(self.mesh) };
        let first = self.ring(first_span.from, first_span, &[]);
        let mut here = first.clone();
        for (index, span) in spans.iter().enumerate() {
            // Where a relief begins or ends the surface steps: a ring of each, joined by a wall.
            let start = self.ring(span.from, span, &[&here]);
            self.strip(&here, &start);
            let last = index + 1 == spans.len() && self.body.is_through();
            let end = if last { self.ring(span.to, span, &[&start, &first]) } else { self.ring(span.to, span, &[&start]) };
            match span.mark.and_then(|mark| self.body.marks().get(mark)) {
                Some(mark) => self.marked(&start, &end, mark)?,
                None => self.strip(&start, &end),
            }
            here = end;
        }
        if self.body.is_through() {
            self.strip(&here, &first);
        }
        for index in 0..self.body.crossings().len() {
            self.bridge(index)?;
        }
        self.drop_idle_corners();
        Ok(self.mesh)
    }

    /// A marked face about the axis leaves the axis' own corner unused.
    fn drop_idle_corners(&mut self) {
        let mut used = vec![false; self.mesh.vertices_mm.len()];
        self.mesh.triangles.iter().flatten().for_each(|&corner| used[corner as usize] = true);
        if used.iter().all(|&used| used) {
            return;
        }
        let mut kept = 0;
        let numbers: Vec<u32> = used
            .iter()
            .map(|&used| {
                if used {
                    kept += 1;
                    kept - 1
                } else {
                    0
                }
            })
            .collect();
        let mut at = 0;
        self.mesh.vertices_mm.retain(|_| {
            at += 1;
            used[at - 1]
        });
        self.mesh.triangles.iter_mut().flatten().for_each(|corner| *corner = numbers[*corner as usize]);
    }

    /// A ring; corners that fall on those of `shared` (rings at the same place of the boundary) are the same corners.
    fn ring(&mut self, place: Point, span: &Span, shared: &[&Ring]) -> Ring {
        if place.r_mm <= NOTHING_MM {
            let shared = shared.iter().find(|ring| ring.corners.len() == 1 && (ring.z_mm - place.z_mm).abs() < 1e-9);
            let corner = shared.and_then(|ring| ring.corners.first().copied()).unwrap_or_else(|| self.corner([0.0, 0.0, place.z_mm]));
            return Ring { z_mm: place.z_mm, angles: vec![0.0], corners: vec![corner], trims: vec![None; self.openings.len()] };
        }
        let (angles, trims) = self.ring_angles(place, span);
        let corners = angles
            .iter()
            .map(|&angle| {
                let radius = self.radius(angle, place, span);
                let [cos, sin] = direction(angle);
                let at = [radius * cos, radius * sin, place.z_mm];
                let same = shared.iter().find_map(|ring| ring.corner_near(angle).filter(|&corner| self.is_at(corner, at)));
                same.unwrap_or_else(|| self.corner(at))
            })
            .collect();
        Ring { z_mm: place.z_mm, angles, corners, trims }
    }

    /// The common angles, without those in a hole, with those of its edges.
    fn ring_angles(&self, place: Point, span: &Span) -> (Vec<f64>, Vec<Option<[usize; 2]>>) {
        let trim = |opening: &Opening| {
            let reach = opening.hole.radius_mm();
            if (place.z_mm - opening.hole.z_mm).abs() > reach + 1e-7 {
                return None;
            }
            let h = opening.hole.half_width_mm(place.z_mm);
            if h == 0.0 {
                return Some([opening.angle, opening.angle, 0.0, 0.0]);
            }
            let off = |side: f64| trim_rad(h, place.r_mm, |off| self.radius(opening.angle + side * off, place, span));
            let (left, right) = (off(-1.0), off(1.0));
            Some([(opening.angle - left).rem_euclid(TAU), (opening.angle + right).rem_euclid(TAU), left, right])
        };
        let found: Vec<Option<[f64; 4]>> = self.openings.iter().map(trim).collect();
        if found.iter().all(Option::is_none) {
            return (self.angles.to_vec(), vec![None; found.len()]);
        }
        let within = |angle: f64| {
            self.openings.iter().zip(&found).any(|(opening, trim)| {
                trim.is_some_and(|[_, _, left, right]| {
                    let off = (angle - opening.angle + PI).rem_euclid(TAU) - PI;
                    off > -left - APART_RAD && off < right + APART_RAD
                })
            })
        };
        let mut angles: Vec<f64> = self.angles.iter().copied().filter(|&angle| !within(angle)).collect();
        angles.extend(found.iter().flatten().flat_map(|[left, right, ..]| [*left, *right]));
        angles.sort_by(f64::total_cmp);
        angles.dedup();
        let place_of = |angle: f64| angles.partition_point(|&other| other < angle);
        let trims = found.iter().map(|trim| trim.map(|[left, right, ..]| [place_of(left), place_of(right)])).collect();
        (angles, trims)
    }

    fn radius(&self, angle: f64, place: Point, span: &Span) -> f64 {
        let own = self.body.reliefs().iter().enumerate().filter(|(index, _)| span.reliefs & (1 << (index % 64)) != 0);
        let (mut narrow, mut wide) = (place.r_mm, 0.0_f64);
        // A face is cut as deep as its rim, not from each of its own rings.
        let square = (span.from.z_mm - span.to.z_mm).abs() <= NOTHING_MM;
        let base_mm = if square { span.from.r_mm.max(span.to.r_mm) } else { place.r_mm };
        for (_, fitted) in own {
            let base_mm = if fitted.widens() { place.r_mm } else { base_mm };
            let radius = fitted.radius_mm(angle, place.z_mm, base_mm);
            match fitted.widens() {
                true if radius > base_mm => wide = wide.max(radius),
                true => {}
                false => narrow = narrow.min(radius),
            }
        }
        narrow.max(wide)
    }

    fn corner(&mut self, at: [f64; 3]) -> u32 {
        self.mesh.vertices_mm.push(at);
        (self.mesh.vertices_mm.len() - 1) as u32
    }

    fn is_at(&self, corner: u32, at: [f64; 3]) -> bool {
        self.mesh.vertices_mm.get(corner as usize).is_some_and(|found| found.iter().zip(at).all(|(a, b)| (a - b).abs() < 1e-9))
    }

    fn triangle(&mut self, a: u32, b: u32, c: u32) {
        if a != b && b != c && c != a {
            self.mesh.triangles.push([a, b, c]);
        }
    }

    /// Triangles between two rings, all round or from hole to hole.
    fn strip(&mut self, from: &Ring, to: &Ring) {
        let middle = 0.5 * (from.z_mm + to.z_mm);
        let active: Vec<usize> = (0..self.openings.len())
            .filter(|&i| self.openings[i].hole.spans(middle))
            .filter(|&i| from.trims.get(i).copied().flatten().is_some() && to.trims.get(i).copied().flatten().is_some())
            .collect();
        if active.is_empty() {
            return self.zip(&from.all_round(), &to.all_round());
        }
        for (place, &opening) in active.iter().enumerate() {
            let next = active[(place + 1) % active.len()];
            let from_rad = self.openings[opening].angle;
            let (lower, upper) = (from.between(opening, next, from_rad), to.between(opening, next, from_rad));
            self.zip(&lower, &upper);
            if let (Some(a), Some(b)) = (lower.first(), upper.first()) {
                let pass = self.openings[opening].pass(a.1, true);
                extend(&mut pass.right, a.1, b.1);
            }
            if let (Some(a), Some(b)) = (lower.last(), upper.last()) {
                let pass = self.openings[next].pass(a.1, false);
                extend(&mut pass.left, a.1, b.1);
            }
        }
    }

    /// Triangles between two rows of corners with rising angles, from their common start to their common end: always on with the row that is behind.
    fn zip(&mut self, from: &[(f64, u32)], to: &[(f64, u32)]) {
        let (mut i, mut j) = (0, 0);
        while i + 1 < from.len() || j + 1 < to.len() {
            let step_from = j + 1 >= to.len() || (i + 1 < from.len() && from[i + 1].0 <= to[j + 1].0);
            if step_from {
                self.triangle(from[i].1, from[i + 1].1, to[j].1);
                i += 1;
            } else {
                self.triangle(from[i].1, to[j + 1].1, to[j].1);
                j += 1;
            }
        }
    }

    /// The wall of a cross hole: from the edge it leaves in one surface to that in the next inward.
    fn bridge(&mut self, index: usize) -> Result<(), SolidError> {
        let Some(crossing) = self.body.crossings().get(index) else { return Ok(()) };
        let broken = || crossing.hole.refused("its edge does not close; move it a little");
        let mut edges: [Vec<(f64, Row)>; 2] = [Vec::new(), Vec::new()];
        for opening in self.openings.iter().filter(|opening| opening.index == index) {
            for pass in &opening.passes {
                let edge = self.edge(opening, pass).ok_or_else(broken)?;
                let far = edge.iter().filter_map(|(_, corner)| self.mesh.vertices_mm.get(*corner as usize)).map(|at| at[0].hypot(at[1]));
                edges[opening.side].push((far.fold(0.0, f64::max), edge));
            }
        }
        for side in &mut edges {
            side.sort_by(|a, b| b.0.total_cmp(&a.0));
        }
        let [near, far] = &edges;
        // Each wall with the way its inner edge opens it: toward the axis, or away from it where that edge lies beyond the axis.
        let mut walls: Vec<(Row, Row, f64)> = Vec::new();
        for side in [near, far] {
            walls.extend(side.chunks_exact(2).map(|pair| (pair[0].1.clone(), pair[1].1.clone(), -1.0)));
        }
        if near.len() % 2 == 1 {
            // Straight through: on the far side across runs the other way.
            let (Some(here), Some(there)) = (near.last(), far.last()) else { return Err(broken()) };
            let full = (TAU * 1e7).round() / 1e7;
            let turned = there.1.iter().rev().map(|&(angle, corner)| (((full - angle) * 1e7).round() / 1e7, corner)).collect();
            walls.push((here.1.clone(), turned, 1.0));
        }
        for (outside, inside, opening) in walls {
            // Seen from within the hole the outer edge runs on, the inner one back.
            self.zip_edges(&outside, &inside, opening);
        }
        Ok(())
    }

    /// As [`Turner::zip`], for two edges of a hole. Where an edge runs along the hole (over a step of the surface) two corners share their angle: a step that opens the wall waits
    /// until the other edge is beyond it, one that closes it comes first; else triangles would fold back.
    fn zip_edges(&mut self, outside: &[(f64, u32)], inside: &[(f64, u32)], opening: f64) {
        let far = |mesh: &Mesh, corner: u32| mesh.vertices_mm.get(corner as usize).map_or(0.0, |at| at[0].hypot(at[1]));
        let opens = |mesh: &Mesh, edge: &[(f64, u32)], i: usize, outward: f64| {
            let pair = edge.get(i).zip(edge.get(i + 1)).filter(|(a, b)| (a.0 - b.0).abs() < 1e-12);
            pair.is_some_and(|(a, b)| (far(mesh, b.1) - far(mesh, a.1)) * outward > 0.0)
        };
        let outside = &self.cut_steps(outside, inside, &opens);
        let (mut i, mut j) = (0, 0);
        while i + 1 < outside.len() || j + 1 < inside.len() {
            let mut step_outside = j + 1 >= inside.len() || (i + 1 < outside.len() && outside[i + 1].0 <= inside[j + 1].0);
            if step_outside && i + 1 < outside.len() && j + 1 < inside.len() {
                let waits = opens(&self.mesh, outside, i, 1.0) && inside[j].0 <= outside[i].0;
                let late = opens(&self.mesh, inside, j, -opening) && outside[i].0 < inside[j].0;
                let ahead = outside[i + 1].0 == inside[j + 1].0 && opens(&self.mesh, inside, j + 1, -opening);
                step_outside = !(waits || late || ahead);
            } else if !step_outside && i + 1 < outside.len() {
                step_outside = opens(&self.mesh, inside, j, opening) && outside[i].0 <= inside[j].0;
            }
            if step_outside {
                self.triangle(outside[i].1, outside[i + 1].1, inside[j].1);
                i += 1;
            } else {
                self.triangle(outside[i].1, inside[j + 1].1, inside[j].1);
                j += 1;
            }
        }
    }

    /// Where both edges step at one angle all four corners lie on one line: the outer edge's step is filled by itself, with its neighbour beyond (or before) it.
    fn cut_steps(
        &mut self,
        outside: &[(f64, u32)],
        inside: &[(f64, u32)],
        opens: &impl Fn(&Mesh, &[(f64, u32)], usize, f64) -> bool,
    ) -> Row {
        let steps_inside = |angle: f64| inside.windows(2).any(|pair| pair[0].0 == angle && pair[1].0 == angle);
        let mut kept: Row = Vec::with_capacity(outside.len());
        let mut i = 0;
        while i < outside.len() {
            let (here, next) = (outside[i], outside.get(i + 1).copied());
            let both = next.is_some_and(|next| next.0 == here.0) && steps_inside(here.0);
            match (both, next, outside.get(i + 2).copied(), kept.last().copied()) {
                (true, Some(next), Some(beyond), _) if opens(&self.mesh, outside, i, 1.0) => {
                    self.triangle(here.1, next.1, beyond.1);
                    kept.push(here);
                    i += 2;
                }
                (true, Some(next), _, Some(before)) if !opens(&self.mesh, outside, i, 1.0) => {
                    self.triangle(before.1, here.1, next.1);
                    i += 1;
                }
                _ => {
                    kept.push(here);
                    i += 1;
                }
            }
        }
        kept
    }

    /// A trimmed edge as corners with their angles about the hole's own axis, 0 to 2 pi: from its lowest place up the right and down the left.
    fn edge(&self, opening: &Opening, pass: &TrimmedPass) -> Option<Vec<(f64, u32)>> {
        let (right, left) = (&pass.right, &pass.left);
        if right.len() < 3 || left.len() < 3 || right.first() != left.first() || right.last() != left.last() {
            return None;
        }
        let about = |corner: u32| {
            let z = self.mesh.vertices_mm.get(corner as usize)?[2];
            let angle = ((opening.hole.z_mm - z) / opening.hole.radius_mm()).clamp(-1.0, 1.0).acos();
            // To a ten-millionth: the two ends of a hole are then in step where their heights are.
            Some((angle * 1e7).round() / 1e7)
        };
        let rising = about(*right.first()?)? < about(*right.last()?)?;
        let upward = |side: &[u32]| -> Vec<u32> { if rising { side.to_vec() } else { side.iter().rev().copied().collect() } };
        let (right, left) = (upward(right), upward(left));
        let full = (TAU * 1e7).round() / 1e7;
        let mut edge: Vec<(f64, u32)> = Vec::new();
        for (place, &corner) in right.iter().enumerate() {
            let angle = if place == 0 { 0.0 } else { about(corner)? };
            edge.push((angle, corner));
        }
        for (place, &corner) in left.iter().rev().enumerate().skip(1) {
            let angle = if place + 1 == left.len() { full } else { ((full - about(corner)?) * 1e7).round() / 1e7 };
            edge.push((angle, corner));
        }
        Some(edge)
    }

    /// A face with letters cut into it: the land round them, the lands in their counters, their walls and floors.
    fn marked(&mut self, from: &Ring, to: &Ring, mark: &Mark) -> Result<(), SolidError> {
        let refused = || SolidError::Mark { why: "its letters come too near the edge of the face; make it lower or shorter".into() };
        let up = if mark.on == MarkPlace::RodEnd { -1.0 } else { 1.0 };
        // The wider ring runs counter-clockwise seen from +z.
        let (wide, narrow) = if up < 0.0 { (to, from) } else { (from, to) };
        let (face_z, floor_z) = (wide.z_mm, wide.z_mm - up * mark.depth_mm);
        let lines = mark.placed();
        let depths = plane::depths(&lines);
        let tops: Vec<Vec<u32>> = lines.iter().map(|line| line.iter().map(|[x, y]| self.corner([*x, *y, face_z])).collect()).collect();
        let floors: Vec<Vec<u32>> = lines.iter().map(|line| line.iter().map(|[x, y]| self.corner([*x, *y, floor_z])).collect()).collect();
        let mut land = vec![wide.corners.clone()];
        if narrow.corners.len() > 1 {
            land.push(narrow.corners.iter().rev().copied().collect());
        }
        let reversed = |line: &Vec<u32>| line.iter().rev().copied().collect::<Vec<u32>>();
        land.extend(tops.iter().zip(&depths).filter(|(_, depth)| **depth == 0).map(|(line, _)| reversed(line)));
        self.flat(&land, up).ok_or_else(refused)?;
        for (index, line) in lines.iter().enumerate() {
            let children = |tops: &[Vec<u32>], depth: usize| -> Vec<Vec<u32>> {
                let own = |j: &usize| depths[*j] == depth + 1 && lines[*j].first().is_some_and(|&at| plane::contains(line, at));
                (0..lines.len()).filter(own).map(|j| tops[j].clone()).collect()
            };
            // Letters have a floor; what lies within them stands at the face's height.
            let depth = depths[index];
            let letter = depth.is_multiple_of(2);
            let level = if letter { &floors } else { &tops };
            let outline = if letter { level[index].clone() } else { reversed(&level[index]) };
            let holes = children(level, depth).into_iter().map(|hole| if letter { hole } else { reversed(&hole) });
            let all: Vec<Vec<u32>> = std::iter::once(outline).chain(holes).collect();
            self.flat(&all, up).ok_or_else(refused)?;
            self.walls(&tops[index], &floors[index], up);
        }
        Ok(())
    }

    /// Walls of a letter, seen from within it; `placed` runs its lines with the letter on their left, seen from +z.
    fn walls(&mut self, top: &[u32], floor: &[u32], up: f64) {
        for i in 0..top.len() {
            let next = (i + 1) % top.len();
            let [a, b, c, d] = [floor[i], floor[next], top[next], top[i]];
            if up > 0.0 {
                self.mesh.triangles.extend([[a, c, b], [a, d, c]]);
            } else {
                self.mesh.triangles.extend([[a, b, c], [a, c, d]]);
            }
        }
    }

    /// A flat piece of face: the first line round it, the others holes, by their corners' numbers; turned to look up (+z) or down.
    fn flat(&mut self, lines: &[Vec<u32>], up: f64) -> Option<()> {
        let places: Vec<Vec<Corner>> = lines
            .iter()
            .map(|line| line.iter().filter_map(|&corner| self.mesh.vertices_mm.get(corner as usize)).map(|at| [at[0], at[1]]).collect())
            .collect();
        if plane::any_meet(&places) {
            return None;
        }
        let (outer, holes) = places.split_first()?;
        let numbers: Vec<u32> = lines.iter().flatten().copied().collect();
        for [a, b, c] in plane::triangles(outer, holes)? {
            let [a, b, c] = [*numbers.get(a)?, *numbers.get(b)?, *numbers.get(c)?];
            self.mesh.triangles.push(if up > 0.0 { [a, b, c] } else { [a, c, b] });
        }
        Some(())
    }
}

impl Ring {
    fn corner_near(&self, angle: f64) -> Option<u32> {
        let at = self.angles.partition_point(|&other| other < angle - 1e-12);
        self.angles.get(at).filter(|&&other| (other - angle).abs() < 1e-9).and_then(|_| self.corners.get(at).copied())
    }

    /// All corners and the first one again.
    fn all_round(&self) -> Vec<(f64, u32)> {
        let mut row: Vec<(f64, u32)> = self.angles.iter().copied().zip(self.corners.iter().copied()).collect();
        if let (Some(&first), true) = (row.first(), row.len() > 1) {
            row.push((first.0 + TAU, first.1));
        }
        row
    }

    /// Corners from the right edge of one opening to the left edge of the next, angles rising.
    fn between(&self, opening: usize, next: usize, from_rad: f64) -> Vec<(f64, u32)> {
        let trim = |i: usize| self.trims.get(i).copied().flatten();
        let (Some([_, first]), Some([last, _])) = (trim(opening), trim(next)) else { return Vec::new() };
        let count = self.corners.len();
        let steps = (last + count - first) % count;
        let steps = if steps == 0 { count } else { steps };
        // Counted from the opening's own angle, so that both rings of a strip count alike wherever they begin.
        let mut before = f64::NEG_INFINITY;
        (0..=steps)
            .map(|step| {
                let i = (first + step) % count;
                let turned = (self.angles[i] - from_rad).rem_euclid(TAU);
                let angle = match step {
                    0 if turned > PI => turned - TAU,
                    _ if turned < before => turned + TAU,
                    _ => turned,
                };
                before = angle;
                (angle, self.corners[i])
            })
            .collect()
    }
}

impl Opening {
    /// The pass that an edge goes on with at a corner, or a new one.
    fn pass(&mut self, corner: u32, right: bool) -> &mut TrimmedPass {
        let ends = |pass: &TrimmedPass| {
            let (own, other) = if right { (&pass.right, &pass.left) } else { (&pass.left, &pass.right) };
            own.last() == Some(&corner) || (own.is_empty() && other.first() == Some(&corner))
        };
        let at = self.passes.iter().position(ends).unwrap_or_else(|| {
            self.passes.push(TrimmedPass::default());
            self.passes.len() - 1
        });
        &mut self.passes[at]
    }
}

fn extend(edge: &mut Vec<u32>, from: u32, to: u32) {
    if edge.is_empty() {
        edge.push(from);
    }
    if edge.last() != Some(&to) {
        edge.push(to);
    }
}

/// Cosine and sine, true at the quarters.
fn direction(angle: f64) -> [f64; 2] {
    let quarters = angle / (0.25 * TAU);
    match quarters.round() {
        quarter if (quarters - quarter).abs() < 1e-12 => [[1.0, 0.0], [0.0, 1.0], [-1.0, 0.0], [0.0, -1.0]][quarter as usize % 4],
        _ => {
            let (sin, cos) = angle.sin_cos();
            [cos, sin]
        }
    }
}
