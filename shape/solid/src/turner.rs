//! Turns a boundary into triangles, ring by ring, round the cross holes and over the marks.

mod bridge;
mod marked;

use crate::SolidError;
use crate::body::Body;
use crate::hole::{CrossHole, trim_rad};
use crate::lathe::Mesh;
use crate::path::{self, NOTHING_MM};
use crate::relief::{Fitted, Surface};
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
        let common = self.common_angles(place);
        if found.iter().all(Option::is_none) {
            return (common, vec![None; found.len()]);
        }
        let within = |angle: f64| {
            self.openings.iter().zip(&found).any(|(opening, trim)| {
                trim.is_some_and(|[_, _, left, right]| {
                    let off = (angle - opening.angle + PI).rem_euclid(TAU) - PI;
                    off > -left - APART_RAD && off < right + APART_RAD
                })
            })
        };
        let mut angles: Vec<f64> = common.into_iter().filter(|&angle| !within(angle)).collect();
        angles.extend(found.iter().flatten().flat_map(|[left, right, ..]| [*left, *right]));
        angles.sort_by(f64::total_cmp);
        angles.dedup();
        let place_of = |angle: f64| angles.partition_point(|&other| other < angle);
        let trims = found.iter().map(|trim| trim.map(|[left, right, ..]| [place_of(left), place_of(right)])).collect();
        (angles, trims)
    }

    /// The angles that all rings share, and those where flats meet this one: on a dome or a groove they wander. All rings of a face or step square to the axis get the same,
    /// so that they share their corners.
    fn common_angles(&self, place: Point) -> Vec<f64> {
        let reaches = |z_mm: [f64; 2]| place.z_mm > z_mm[0] - 1e-9 && place.z_mm < z_mm[1] + 1e-9;
        let flats: Vec<&Fitted> = self.body.reliefs().iter().filter(|fitted| fitted.is_flat() && reaches(fitted.relief.z_mm)).collect();
        if flats.is_empty() {
            return self.angles.to_vec();
        }
        let ends = self.body.inner().iter().chain(self.body.outer()).flat_map(|piece| [path::start(piece), path::end(piece)]);
        let mut bases_mm: Vec<f64> = ends.filter(|end| (end.z_mm - place.z_mm).abs() < 1e-9).map(|end| end.r_mm).collect();
        bases_mm.push(place.r_mm);
        let met = bases_mm.iter().flat_map(|&base| flats.iter().flat_map(move |fitted| fitted.bends(place.z_mm, base)));
        let mut bends: Vec<f64> = met.map(|angle| angle.rem_euclid(TAU)).collect();
        bends.retain(|&angle| {
            let at = self.angles.partition_point(|&other| other < angle);
            let near = |i: usize| self.angles.get(i).is_some_and(|other| (other - angle).abs() < 1e-6);
            angle < TAU - 1e-6 && !near(at) && !(at > 0 && near(at - 1))
        });
        if bends.is_empty() {
            return self.angles.to_vec();
        }
        bends.extend(self.angles);
        bends.sort_by(f64::total_cmp);
        bends.dedup_by(|b, a| *b - *a < 1e-6);
        bends
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
