use crate::path::{self, NOTHING_MM};
use crate::relief::{Fitted, Surface};
use crate::{Body, SolidError};
use meridian::{Piece, Point};
use std::f64::consts::TAU;

/// Triangles at most, unless the caller says otherwise: 100 MB of STL, far beyond what a print needs.
pub const DEFAULT_TRIANGLE_LIMIT: usize = 2_000_000;

/// A closed surface of triangles, counter-clockwise seen from outside, every edge shared by exactly two of them.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Mesh {
    /// Corners, mm; x, y across, z along the axis.
    pub vertices_mm: Vec<[f64; 3]>,
    /// Three corners each.
    pub triangles: Vec<[u32; 3]>,
}

impl Body {
    /// Triangles nowhere farther than `chord_mm` from the true surface, by turning the boundary in equal steps.
    ///
    /// Watertight by construction: neighbours share corners by number. Half the tolerance goes to steps along the boundary, half to steps round the axis
    /// (a multiple of four, so that the greatest width is true along x and y). The volume of a plain body's mesh differs from the body's by at most
    /// area x chord. Reliefs get their own steps; a diamond knurl is true to an eighth of its pitch only.
    pub fn mesh(&self, chord_mm: f64, triangle_limit: usize) -> Result<Mesh, SolidError> {
        let angles = self.angles(chord_mm)?;
        let spans = self.spans(chord_mm);
        let needed = spans.len().saturating_mul(angles.len()).saturating_mul(2);
        if needed > triangle_limit {
            // Triangles grow with the square root of the tolerance in either direction.
            let coarser_mm = chord_mm * needed as f64 / triangle_limit.max(1) as f64;
            return Err(SolidError::TooManyTriangles { chord_mm, needed, limit: triangle_limit, coarser_mm });
        }
        Ok(Turner { body: self, angles: &angles, mesh: Mesh::default() }.turned(&spans))
    }

    /// Angles of the corners round the axis, ascending from 0.
    fn angles(&self, chord_mm: f64) -> Result<Vec<f64>, SolidError> {
        let sectors = self.sectors(chord_mm)?;
        let mut angles: Vec<f64> = (0..sectors).map(|sector| TAU * sector as f64 / sectors as f64).collect();
        angles.extend(self.reliefs().iter().flat_map(|fitted| fitted.angles(chord_mm)));
        angles.sort_by(f64::total_cmp);
        // Reliefs come with angles of their own beside even ones: of two nearer than a microradian one is enough.
        angles.dedup_by(|b, a| *b - *a < 1e-6);
        if angles.last().is_some_and(|last| TAU - last < 1e-6) {
            angles.pop();
        }
        Ok(angles)
    }

    /// Even steps round the axis that keep half the tolerance at the greatest radius.
    pub(crate) fn sectors(&self, chord_mm: f64) -> Result<usize, SolidError> {
        if !(chord_mm.is_finite() && chord_mm > 0.0) {
            return Err(SolidError::NotASize { what: "the mesh's chord tolerance".into(), found: chord_mm });
        }
        let radius = self.bounds_mm()[1][0];
        let half = (1.0 - (0.5 * chord_mm / radius).min(0.5)).acos();
        let sectors = (0.5 * TAU / half).min(1e9);
        Ok(((sectors / 4.0).ceil() * 4.0).max(8.0) as usize)
    }

    /// The boundary in straight steps, split where reliefs begin and end.
    fn spans(&self, chord_mm: f64) -> Vec<Span> {
        let mut spans = Vec::new();
        for (surface, chain) in [(Surface::Bore, self.inner()), (Surface::Outside, self.outer())] {
            let own = |fitted: &&(usize, &Fitted)| fitted.1.relief.on == surface;
            let numbered: Vec<(usize, &Fitted)> = self.reliefs().iter().enumerate().collect();
            let own: Vec<(usize, &Fitted)> = numbered.iter().filter(own).copied().collect();
            for piece in chain {
                let stops = stops(piece, chord_mm, &own);
                let places: Vec<Point> = stops.iter().map(|&t| path::at(piece, t)).collect();
                spans.extend(places.windows(2).map(|pair| Span { from: pair[0], to: pair[1], reliefs: active(pair[0], pair[1], &own) }));
            }
        }
        spans
    }
}

/// A straight step of the boundary, with the reliefs that are cut into it (a bit each).
#[derive(Clone, Copy, Debug, PartialEq)]
struct Span {
    from: Point,
    to: Point,
    reliefs: u64,
}

/// Values of `t` that keep the chord and hit the ends of every relief.
fn stops(piece: &Piece, chord_mm: f64, reliefs: &[(usize, &Fitted)]) -> Vec<f64> {
    let run = (path::end(piece).z_mm - path::start(piece).z_mm).abs();
    let along = reliefs.iter().map(|(_, fitted)| (run / fitted.pitch_along_mm()).ceil().min(2000.0) as usize).max().unwrap_or(1);
    let steps = path::steps_for_chord(piece, 0.5 * chord_mm).max(along);
    let mut stops: Vec<f64> = (0..=steps).map(|step| step as f64 / steps as f64).collect();
    stops.extend(reliefs.iter().flat_map(|(_, fitted)| fitted.relief.z_mm).flat_map(|z| path::heights_at(piece, z)));
    stops.sort_by(f64::total_cmp);
    stops.dedup_by(|b, a| *b - *a < 1e-9);
    stops
}

/// Which reliefs a step lies in: by its middle; a step square to the axis also when it lies on a relief's end.
fn active(from: Point, to: Point, reliefs: &[(usize, &Fitted)]) -> u64 {
    let (middle, square) = (0.5 * (from.z_mm + to.z_mm), (from.z_mm - to.z_mm).abs() <= NOTHING_MM);
    let reach = if square { 1e-6 } else { 0.0 };
    reliefs
        .iter()
        .filter(|(_, fitted)| middle >= fitted.relief.z_mm[0] - reach && middle <= fitted.relief.z_mm[1] + reach)
        .fold(0, |bits, (index, _)| bits | 1 << (index % 64))
}

/// Builds a mesh ring by ring.
struct Turner<'a> {
    body: &'a Body,
    angles: &'a [f64],
    mesh: Mesh,
}

/// The corners of one ring: one on the axis, else one an angle.
#[derive(Clone)]
struct Ring {
    corners: Vec<u32>,
}

impl Turner<'_> {
    fn turned(mut self, spans: &[Span]) -> Mesh {
        let Some(first_span) = spans.first() else { return self.mesh };
        let first = self.ring(first_span.from, first_span.reliefs, None);
        let mut here = first.clone();
        for (index, span) in spans.iter().enumerate() {
            // Where a relief begins or ends the surface steps: a ring of each, joined by a wall.
            let start = self.ring(span.from, span.reliefs, Some(&here));
            self.band(&here, &start);
            let last = index + 1 == spans.len() && self.body.is_through();
            let end = self.ring(span.to, span.reliefs, last.then_some(&first));
            self.band(&start, &end);
            here = end;
        }
        if self.body.is_through() {
            self.band(&here, &first);
        }
        self.mesh
    }

    /// A ring; corners that fall on those of `shared` (a ring at the same place of the boundary) are the same corners.
    fn ring(&mut self, place: Point, reliefs: u64, shared: Option<&Ring>) -> Ring {
        if place.r_mm <= NOTHING_MM {
            let corner = shared.and_then(|ring| ring.corners.first().copied()).unwrap_or_else(|| self.corner([0.0, 0.0, place.z_mm]));
            return Ring { corners: vec![corner] };
        }
        let corners = (0..self.angles.len())
            .map(|index| {
                let radius = self.radius(self.angles[index], place, reliefs);
                let [cos, sin] = direction(self.angles[index]);
                let at = [radius * cos, radius * sin, place.z_mm];
                let same = shared.and_then(|ring| ring.corners.get(index).copied()).filter(|&corner| self.is_at(corner, at));
                same.unwrap_or_else(|| self.corner(at))
            })
            .collect();
        Ring { corners }
    }

    fn radius(&self, angle: f64, place: Point, reliefs: u64) -> f64 {
        let mut radius = place.r_mm;
        for (index, fitted) in self.body.reliefs().iter().enumerate() {
            if reliefs & (1 << (index % 64)) != 0 {
                radius = radius.min(fitted.radius_mm(angle, place.z_mm, place.r_mm));
            }
        }
        radius
    }

    fn corner(&mut self, at: [f64; 3]) -> u32 {
        self.mesh.vertices_mm.push(at);
        (self.mesh.vertices_mm.len() - 1) as u32
    }

    fn is_at(&self, corner: u32, at: [f64; 3]) -> bool {
        self.mesh.vertices_mm.get(corner as usize).is_some_and(|found| found.iter().zip(at).all(|(a, b)| (a - b).abs() < 1e-9))
    }

    /// Two triangles an angle between two rings; fewer where corners are the same.
    fn band(&mut self, from: &Ring, to: &Ring) {
        let count = self.angles.len();
        let pick = |ring: &Ring, index: usize| ring.corners.get(index % ring.corners.len().max(1)).copied();
        for index in 0..count {
            let next = (index + 1) % count;
            let (Some(a), Some(b), Some(c), Some(d)) = (pick(from, index), pick(from, next), pick(to, next), pick(to, index)) else {
                continue;
            };
            if a != b && b != c && c != a {
                self.mesh.triangles.push([a, b, c]);
            }
            if a != c && c != d && d != a {
                self.mesh.triangles.push([a, c, d]);
            }
        }
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

impl Mesh {
    /// Volume by signed tetrahedra (divergence theorem); negative if the surface is inside out.
    pub fn volume_mm3(&self) -> f64 {
        self.triangles.iter().filter_map(|triangle| self.corners(triangle)).map(|[a, b, c]| dot(a, cross(b, c)) / 6.0).sum()
    }

    /// The places of a triangle's corners; `None` if it names one that is not there.
    pub fn corners(&self, triangle: &[u32; 3]) -> Option<[[f64; 3]; 3]> {
        let at = |corner: u32| self.vertices_mm.get(corner as usize).copied();
        Some([at(triangle[0])?, at(triangle[1])?, at(triangle[2])?])
    }
}

pub(crate) fn cross(a: [f64; 3], b: [f64; 3]) -> [f64; 3] {
    [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]]
}

pub(crate) fn dot(a: [f64; 3], b: [f64; 3]) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}
