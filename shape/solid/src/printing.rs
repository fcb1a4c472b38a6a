//! How a part stands on the plate: where supports touch it, and what its hollows hold.

use crate::lathe::{Mesh, cross, dot};
use crate::mark::MarkPlace;
use crate::{Body, SolidError, path};

/// Overhangs steeper than this from level print without support, degrees (`printing_rules` of the trade tables).
pub const SELF_SUPPORTING_DEG: f64 = 19.0;
/// A mesh fine enough to weigh surfaces by, mm.
const CHORD_MM: f64 = 0.005;

/// One way to print a part.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stance {
    /// Which end is nearer to the plate.
    pub toward_plate: MarkPlace,
    /// How far the axis leans from upright, degrees; 90 lies.
    pub lean_deg: f64,
    /// Area that needs support on surfaces that are seen in use, mm^2.
    pub seen_mm2: f64,
    /// The same on the rod end's face and in the bore.
    pub hidden_mm2: f64,
    /// Height over the plate without feet, mm.
    pub height_mm: f64,
    /// Diameter of the circle about its middle that it keeps within, seen from above.
    pub footprint_mm: f64,
}

impl Stance {
    /// A mesh of the part as it stands: lowest place at z = 0, its middle over (0, 0).
    pub fn stood(&self, mesh: &Mesh) -> Mesh {
        let (sin, cos) = self.lean_deg.to_radians().sin_cos();
        let side = if self.toward_plate == MarkPlace::RodEnd { 1.0 } else { -1.0 };
        let (across, up) = ([side * cos, 0.0, -sin], [sin, 0.0, side * cos]);
        let mut turned: Vec<[f64; 3]> = mesh.vertices_mm.iter().map(|&at| [dot(at, across), at[1], dot(at, up)]).collect();
        let bounds = |i: usize| turned.iter().fold([f64::INFINITY, f64::NEG_INFINITY], |[a, b], at| [a.min(at[i]), b.max(at[i])]);
        let [x, y, z] = [bounds(0), bounds(1), bounds(2)];
        let middle = [0.5 * (x[0] + x[1]), 0.5 * (y[0] + y[1]), z[0]];
        turned.iter_mut().for_each(|at| (0..3).for_each(|i| at[i] -= middle[i]));
        Mesh { vertices_mm: turned, triangles: mesh.triangles.clone() }
    }
}

impl Body {
    /// Ways to print the part, best first: least support on what is seen, then upright before leaning, then low. A face needs support where it looks at the plate and lies within
    /// [`SELF_SUPPORTING_DEG`] of level.
    ///
    /// # Errors
    /// A part that can't be meshed.
    pub fn stances(&self) -> Result<Vec<Stance>, SolidError> {
        let mesh = self.mesh(CHORD_MM.max(self.bounds_mm()[1][0] * 5e-4), crate::DEFAULT_TRIANGLE_LIMIT)?;
        let faces = self.faces(&mesh);
        let mut stances = Vec::new();
        for toward_plate in [MarkPlace::RodEnd, MarkPlace::FreeEnd] {
            for lean_deg in [0.0, 30.0, 45.0, 90.0] {
                stances.push(stance(&mesh, &faces, toward_plate, lean_deg));
            }
        }
        // A tenth of a square millimetre is a support's own foot.
        let key = |stance: &Stance| {
            ((stance.seen_mm2 * 10.0).round(), stance.lean_deg, (stance.height_mm * 10.0).round(), (stance.hidden_mm2 * 10.0).round())
        };
        stances.sort_by(|a, b| key(a).partial_cmp(&key(b)).unwrap_or(std::cmp::Ordering::Equal));
        Ok(stances)
    }

    /// Normal, area and whether it is hidden, of each triangle.
    fn faces(&self, mesh: &Mesh) -> Vec<([f64; 3], f64, bool)> {
        let rod_face_mm = self.outer().first().map_or(0.0, |piece| path::start(piece).z_mm);
        // Most of a part is wider than its bore: only what is not asks how wide the bore is there.
        let widest_mm = self.inner().iter().flat_map(|piece| path::extremes(piece).into_iter().map(|t| path::at(piece, t).r_mm));
        let widest_mm = 1.02 * widest_mm.fold(0.0, f64::max) + 1e-6;
        let corners = mesh.triangles.iter().filter_map(|triangle| mesh.corners(triangle));
        corners
            .map(|[a, b, c]| {
                let edge = |p: [f64; 3]| [p[0] - a[0], p[1] - a[1], p[2] - a[2]];
                let normal = cross(edge(b), edge(c));
                let twice = dot(normal, normal).sqrt();
                let middle: [f64; 3] = std::array::from_fn(|i| (a[i] + b[i] + c[i]) / 3.0);
                let radius = middle[0].hypot(middle[1]);
                let in_bore = radius <= widest_mm && self.bore_radius_mm(middle[2]).is_some_and(|bore| radius <= 1.02 * bore + 1e-6);
                let hidden = in_bore || (middle[2] - rod_face_mm).abs() < 1e-6;
                (if twice > 0.0 { normal.map(|x| x / twice) } else { [0.0; 3] }, 0.5 * twice, hidden)
            })
            .collect()
    }

    /// Resin that a blind bore or hollow holds when its mouth looks up, and the diameter of its mouth; `None` where everything drains by itself.
    pub fn held_mm3(&self) -> Option<(f64, f64)> {
        let mouth = self.inner().last().map(path::end).filter(|_| !self.is_through())?;
        let swept = crate::swept(self.inner()).volume_mm3;
        // A bore's wall runs against its outside: what it sweeps is counted below 0; a ring-shaped mouth round a boss counts whole.
        Some((swept.abs(), 2.0 * mouth.r_mm))
    }
}

fn stance(mesh: &Mesh, faces: &[([f64; 3], f64, bool)], toward_plate: MarkPlace, lean_deg: f64) -> Stance {
    let (sin, cos) = lean_deg.to_radians().sin_cos();
    let up = if toward_plate == MarkPlace::RodEnd { [sin, 0.0, cos] } else { [sin, 0.0, -cos] };
    let least = SELF_SUPPORTING_DEG.to_radians().cos();
    let (mut seen_mm2, mut hidden_mm2) = (0.0, 0.0);
    for (normal, area, hidden) in faces {
        if -dot(*normal, up) > least {
            if *hidden { hidden_mm2 += area } else { seen_mm2 += area }
        }
    }
    let heights = mesh.vertices_mm.iter().map(|&at| dot(at, up));
    let (low, high) = heights.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), h| (low.min(h), high.max(h)));
    let stance = Stance { toward_plate, lean_deg, seen_mm2, hidden_mm2, height_mm: high - low, footprint_mm: 0.0 };
    let reach = stance.stood(mesh).vertices_mm.iter().map(|at| at[0].hypot(at[1])).fold(0.0, f64::max);
    Stance { footprint_mm: 2.0 * reach, ..stance }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::path::point;
    use crate::{Bore, Feature, Limits};
    use meridian::{Piece, Turn};
    use std::f64::consts::PI;

    /// A drum with a domed free end stands best on its rod end: its support is the ring of its face, nothing that is seen.
    #[test]
    fn a_domed_drum_stands_on_its_rod_end() {
        let line = |a, b| Piece::Line { from: a, to: b };
        let dome = Piece::Arc { from: point(20.0, 10.0), to: point(30.0, 0.0), centre: point(20.0, 0.0), turn: Turn::Clockwise };
        let pieces = [line(point(0.0, 0.0), point(0.0, 10.0)), line(point(0.0, 10.0), point(20.0, 10.0)), dome];
        let body = Body::from_pieces(&pieces, &[Feature::Bore(Bore::blind(6.0, 12.0))], Limits::default()).expect("sound").value;
        let best = body.stances().expect("meshed")[0];
        assert_eq!((best.toward_plate, best.lean_deg, best.seen_mm2), (MarkPlace::RodEnd, 0.0, 0.0));
        // The ring 100 pi - 9 pi and the bore's flat bottom 9 pi.
        assert!((best.hidden_mm2 / (100.0 * PI) - 1.0).abs() < 0.01 && (best.height_mm - 30.0).abs() < 1e-6, "{best:?}");
        let on_dome =
            body.stances().expect("meshed").into_iter().find(|s| s.toward_plate == MarkPlace::FreeEnd && s.lean_deg == 0.0).expect("there");
        // A cap of 19 degrees: 2 pi R^2 (1 - cos 19).
        let cap = 2.0 * PI * 100.0 * (1.0 - 19f64.to_radians().cos());
        assert!((on_dome.seen_mm2 / cap - 1.0).abs() < 0.15, "{} {cap}", on_dome.seen_mm2);
        let (held, mouth) = body.held_mm3().expect("blind");
        assert!((held - 108.0 * PI).abs() < 1e-9 && mouth == 6.0);
        // As it stands: upright as drawn, turned over with its dome at the plate, lying 20 mm high; the volume stays above 0, so nothing is mirrored.
        let mesh = body.mesh(0.02, 1_000_000).expect("meshed");
        for stance in body.stances().expect("meshed") {
            let stood = stance.stood(&mesh);
            let z = stood.vertices_mm.iter().map(|at| at[2]).fold((f64::INFINITY, 0.0_f64), |(a, b), z| (a.min(z), b.max(z)));
            assert!(z.0.abs() < 1e-9 && (z.1 - stance.height_mm).abs() < 0.02, "{stance:?} {z:?}");
            assert!((stood.volume_mm3() / mesh.volume_mm3() - 1.0).abs() < 1e-9);
            let meant = if stance.lean_deg == 0.0 {
                20.0
            } else if stance.lean_deg == 90.0 {
                1000f64.sqrt()
            } else {
                continue;
            };
            assert!(stance.footprint_mm >= meant - 0.02 && stance.footprint_mm < meant + 4.5, "{stance:?}");
        }
    }
}
