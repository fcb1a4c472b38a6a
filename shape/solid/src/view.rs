use crate::lathe::{Mesh, cross, dot};
use crate::path::{self, NOTHING_MM};
use crate::{Body, SolidError};
use meridian::Piece;
use std::f64::consts::TAU;

/// A surface to look at: corners are split where the surface has a sharp edge, so that each has one true normal.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ViewMesh {
    /// Corners, mm.
    pub vertices_mm: Vec<[f32; 3]>,
    /// Unit normals, pointing out of the material.
    pub normals: Vec<[f32; 3]>,
    /// Three corners each.
    pub triangles: Vec<[u32; 3]>,
}

/// Triangles that meet at less than this are shaded as one surface: a reliefs' mesh keeps its flats and teeth, its rounds look round.
const CREASE_DEG: f64 = 25.0;

impl Body {
    /// The mesh for viewing. A plain turned body gets the exact surface's normals, piece by piece; one with reliefs those of its triangles, split at creases.
    pub fn view_mesh(&self, chord_mm: f64, triangle_limit: usize) -> Result<ViewMesh, SolidError> {
        if !self.is_plain() {
            return Ok(ViewMesh::creased(&self.mesh(chord_mm, triangle_limit)?, CREASE_DEG));
        }
        let sectors = self.sectors(chord_mm)?;
        let pieces = self.boundary();
        let bands: usize = pieces.iter().map(|piece| path::steps_for_chord(piece, 0.5 * chord_mm)).sum();
        let needed = bands.saturating_mul(sectors).saturating_mul(2);
        if needed > triangle_limit {
            let coarser_mm = chord_mm * needed as f64 / triangle_limit.max(1) as f64;
            return Err(SolidError::TooManyTriangles { chord_mm, needed, limit: triangle_limit, coarser_mm });
        }
        let mut view = ViewMesh::default();
        for piece in &pieces {
            view.add_piece(piece, path::steps_for_chord(piece, 0.5 * chord_mm), sectors);
        }
        Ok(view)
    }
}

impl ViewMesh {
    /// A mesh with a normal at each corner: the mean, weighted by area, of the triangles round it that lie within `crease_deg` of the corner's own.
    pub fn creased(mesh: &Mesh, crease_deg: f64) -> ViewMesh {
        let normals: Vec<[f64; 3]> = mesh.triangles.iter().map(|triangle| mesh.corners(triangle).map_or([0.0; 3], area_vector)).collect();
        let mut round: Vec<Vec<usize>> = vec![Vec::new(); mesh.vertices_mm.len()];
        for (index, triangle) in mesh.triangles.iter().enumerate() {
            for &corner in triangle {
                if let Some(list) = round.get_mut(corner as usize) {
                    list.push(index);
                }
            }
        }
        let least = crease_deg.to_radians().cos();
        let mut view = ViewMesh::default();
        for (index, triangle) in mesh.triangles.iter().enumerate() {
            let (Some(corners), own) = (mesh.corners(triangle), unit(normals[index])) else { continue };
            let first = view.vertices_mm.len() as u32;
            for (place, &corner) in corners.iter().zip(triangle) {
                let near =
                    round.get(corner as usize).into_iter().flatten().map(|&other| normals[other]).filter(|&n| dot(unit(n), own) >= least);
                let sum = near.fold([0.0; 3], |sum, n| std::array::from_fn(|i| sum[i] + n[i]));
                view.vertices_mm.push(place.map(|x| x as f32));
                view.normals.push(unit(sum).map(|x| x as f32));
            }
            view.triangles.push([first, first + 1, first + 2]);
        }
        view
    }

    fn add_piece(&mut self, piece: &Piece, steps: usize, sectors: usize) {
        let first = self.vertices_mm.len();
        for step in 0..=steps {
            self.add_ring(piece, step as f64 / steps as f64, sectors);
        }
        let on_axis = |step: usize| path::at(piece, step as f64 / steps as f64).r_mm <= NOTHING_MM;
        for (step, sector) in (0..steps).flat_map(|step| (0..sectors).map(move |sector| (step, sector))) {
            let corner = |step: usize, sector: usize| (first + step * sectors + sector % sectors) as u32;
            let quad = [corner(step, sector), corner(step, sector + 1), corner(step + 1, sector + 1), corner(step + 1, sector)];
            match (on_axis(step), on_axis(step + 1)) {
                (false, true) => self.triangles.push([quad[0], quad[1], quad[3]]),
                (true, _) => self.triangles.push([quad[0], quad[2], quad[3]]),
                (false, false) => self.triangles.extend([[quad[0], quad[1], quad[2]], [quad[0], quad[2], quad[3]]]),
            }
        }
    }

    /// One ring of corners; an apex gets one corner a sector, each with the normal in the middle of its sector, so that a cone shades to its point.
    fn add_ring(&mut self, piece: &Piece, t: f64, sectors: usize) {
        let (ring, [along_z, along_r]) = (path::at(piece, t), path::direction(piece, t));
        let middle = if ring.r_mm <= NOTHING_MM { 0.5 * TAU / sectors as f64 } else { 0.0 };
        for sector in 0..sectors {
            let angle = TAU * sector as f64 / sectors as f64;
            let ((sin, cos), (out_sin, out_cos)) = (angle.sin_cos(), (angle + middle).sin_cos());
            self.vertices_mm.push([(ring.r_mm * cos) as f32, (ring.r_mm * sin) as f32, ring.z_mm as f32]);
            self.normals.push([(along_z * out_cos) as f32, (along_z * out_sin) as f32, -along_r as f32]);
        }
    }
}

fn area_vector([a, b, c]: [[f64; 3]; 3]) -> [f64; 3] {
    let edge = |p: [f64; 3]| [p[0] - a[0], p[1] - a[1], p[2] - a[2]];
    cross(edge(b), edge(c))
}

fn unit(v: [f64; 3]) -> [f64; 3] {
    let length = dot(v, v).sqrt();
    if length > 0.0 { v.map(|x| x / length) } else { [0.0, 0.0, 1.0] }
}
