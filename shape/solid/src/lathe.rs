use crate::path::{self, NOTHING_MM};
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

/// A surface to look at: corners are split where the surface has a sharp edge, so that each has one true normal.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ViewMesh {
    /// Corners, mm.
    pub vertices_mm: Vec<[f32; 3]>,
    /// Unit normals, pointing out of the material; the exact surface's, not the triangles'.
    pub normals: Vec<[f32; 3]>,
    /// Three corners each.
    pub triangles: Vec<[u32; 3]>,
}

impl Body {
    /// Triangles nowhere farther than `chord_mm` from the true surface, by turning the boundary in equal steps.
    ///
    /// Watertight by construction: neighbours share corners by number. Half the tolerance goes to steps along the boundary, half to steps round the axis
    /// (a multiple of four, so that the greatest width is true along x and y). Its volume differs from the body's by at most area x chord.
    pub fn mesh(&self, chord_mm: f64, triangle_limit: usize) -> Result<Mesh, SolidError> {
        let sectors = self.sectors(chord_mm, triangle_limit)?;
        let rings = self.rings(chord_mm);
        let mut mesh = Mesh::default();
        let turns = turns(sectors);
        let mut first_corner = Vec::with_capacity(rings.len());
        for ring in &rings {
            first_corner.push(mesh.vertices_mm.len() as u32);
            let corners = if on_axis(ring) { &turns[..1] } else { &turns[..] };
            mesh.vertices_mm.extend(corners.iter().map(|&[cos, sin]| [ring.r_mm * cos, ring.r_mm * sin, ring.z_mm]));
        }
        let corner = |ring: usize, sector: usize| {
            let offset = if on_axis(&rings[ring]) { 0 } else { sector % sectors };
            first_corner[ring] + offset as u32
        };
        let bands = if self.is_through() { rings.len() } else { rings.len() - 1 };
        for band in 0..bands {
            let next = (band + 1) % rings.len();
            for sector in 0..sectors {
                let quad = [corner(band, sector), corner(band, sector + 1), corner(next, sector + 1), corner(next, sector)];
                push_quad(&mut mesh.triangles, quad);
            }
        }
        Ok(mesh)
    }

    /// The same steps for viewing, piece by piece with its own exact normals.
    pub fn view_mesh(&self, chord_mm: f64, triangle_limit: usize) -> Result<ViewMesh, SolidError> {
        let sectors = self.sectors(chord_mm, triangle_limit)?;
        let turns = turns(sectors);
        let mut view = ViewMesh::default();
        for piece in self.boundary() {
            let steps = path::steps_for_chord(&piece, 0.5 * chord_mm);
            let first = view.vertices_mm.len();
            for step in 0..=steps {
                let t = step as f64 / steps as f64;
                add_view_ring(&mut view, &piece, t, &turns);
            }
            for (step, sector) in (0..steps).flat_map(|step| (0..sectors).map(move |sector| (step, sector))) {
                let corner = |step: usize, sector: usize| (first + step * sectors + sector % sectors) as u32;
                let quad = [corner(step, sector), corner(step, sector + 1), corner(step + 1, sector + 1), corner(step + 1, sector)];
                let (from_axis, to_axis) = (on_axis(&place(&piece, step, steps)), on_axis(&place(&piece, step + 1, steps)));
                match (from_axis, to_axis) {
                    (false, true) => view.triangles.push([quad[0], quad[1], quad[3]]),
                    (true, _) => view.triangles.push([quad[0], quad[2], quad[3]]),
                    (false, false) => view.triangles.extend([[quad[0], quad[1], quad[2]], [quad[0], quad[2], quad[3]]]),
                }
            }
        }
        Ok(view)
    }

    /// Corners of the boundary within half the tolerance, each once.
    fn rings(&self, chord_mm: f64) -> Vec<Point> {
        let pieces = self.boundary();
        let mut rings: Vec<Point> = pieces.first().map(path::start).into_iter().collect();
        for piece in &pieces {
            let steps = path::steps_for_chord(piece, 0.5 * chord_mm);
            rings.extend((1..=steps).map(|step| place(piece, step, steps)));
        }
        if self.is_through() {
            rings.pop();
        }
        rings
    }

    /// Steps round the axis that keep half the tolerance at the greatest radius; refuses what would be too many triangles.
    fn sectors(&self, chord_mm: f64, triangle_limit: usize) -> Result<usize, SolidError> {
        if !(chord_mm.is_finite() && chord_mm > 0.0) {
            return Err(SolidError::NotASize { what: "the mesh's chord tolerance".into(), found: chord_mm });
        }
        let radius = self.bounds_mm()[1][0];
        let half = (1.0 - (0.5 * chord_mm / radius).min(0.5)).acos();
        let sectors = (0.5 * TAU / half).min(1e9);
        let sectors = ((sectors / 4.0).ceil() * 4.0).max(8.0) as usize;
        let bands: usize = self.boundary().iter().map(|piece| path::steps_for_chord(piece, 0.5 * chord_mm)).sum();
        let needed = bands.saturating_mul(sectors).saturating_mul(2);
        if needed > triangle_limit {
            // Triangles grow with the square root of the tolerance in either direction.
            let coarser_mm = chord_mm * needed as f64 / triangle_limit.max(1) as f64;
            return Err(SolidError::TooManyTriangles { chord_mm, needed, limit: triangle_limit, coarser_mm });
        }
        Ok(sectors)
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

fn place(piece: &Piece, step: usize, steps: usize) -> Point {
    path::at(piece, step as f64 / steps as f64)
}

fn on_axis(ring: &Point) -> bool {
    ring.r_mm <= NOTHING_MM
}

/// Cosine and sine of each step round the axis, true at the quarters.
fn turns(sectors: usize) -> Vec<[f64; 2]> {
    (0..sectors)
        .map(|sector| match sector * 4 / sectors {
            quarter if quarter * sectors == sector * 4 => [[1.0, 0.0], [0.0, 1.0], [-1.0, 0.0], [0.0, -1.0]][quarter % 4],
            _ => {
                let (sin, cos) = (TAU * sector as f64 / sectors as f64).sin_cos();
                [cos, sin]
            }
        })
        .collect()
}

/// A quad as two triangles; one where two corners are the same apex.
fn push_quad(triangles: &mut Vec<[u32; 3]>, [a, b, c, d]: [u32; 4]) {
    triangles.extend((a != b).then_some([a, b, c]));
    triangles.extend((c != d).then_some([a, c, d]));
}

/// One ring of corners; an apex gets one corner a sector, each with the normal in the middle of its sector, so that a cone shades to its point.
fn add_view_ring(view: &mut ViewMesh, piece: &Piece, t: f64, turns: &[[f64; 2]]) {
    let (ring, [along_z, along_r]) = (path::at(piece, t), path::direction(piece, t));
    let middle = if on_axis(&ring) { 0.5 * TAU / turns.len() as f64 } else { 0.0 };
    let (sin_middle, cos_middle) = middle.sin_cos();
    for &[cos, sin] in turns {
        view.vertices_mm.push([(ring.r_mm * cos) as f32, (ring.r_mm * sin) as f32, ring.z_mm as f32]);
        let (out_cos, out_sin) = (cos * cos_middle - sin * sin_middle, sin * cos_middle + cos * sin_middle);
        view.normals.push([(along_z * out_cos) as f32, (along_z * out_sin) as f32, -along_r as f32]);
    }
}

fn cross(a: [f64; 3], b: [f64; 3]) -> [f64; 3] {
    [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]]
}

fn dot(a: [f64; 3], b: [f64; 3]) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}
