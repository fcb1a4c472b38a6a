//! Flat parts: an outline of lines, arcs and curves with holes, as thick everywhere, its edges sharp or broken.

use crate::lathe::Mesh;
use crate::measure::GAUSS_16;
use crate::path::{self, NOTHING_MM};
use crate::plane::{self, Corner};
use crate::rim::Rim;
use crate::{SolidError, ViewMesh};
use meridian::Piece;

/// A plate between z = 0 and its thickness. Pieces lie in the plane: their z is x here, their r is y.
#[derive(Clone, Debug, PartialEq)]
pub struct Plate {
    outline: Vec<Piece>,
    holes: Vec<Vec<Piece>>,
    thickness_mm: f64,
    /// Leg of the edges' break, 0 for none; then a rim for outline and holes each.
    edge_break_mm: f64,
    rims: Vec<Rim>,
}

/// Looks along each piece where lines are checked not to meet.
const CHECK_CHORD_MM: f64 = 0.05;
/// Pieces at most in all.
const MOST_PIECES: usize = 4_000;
/// Steeper edges than this stay sharp when the plate is looked at, degrees.
const CREASE_DEG: f64 = 25.0;

impl Plate {
    /// A plate of closed chains, each piece starting where the one before ended; turned the right way round here.
    ///
    /// # Errors
    /// Chains that are open, cross, lie outside one another, or sizes that are none.
    pub fn new(outline: Vec<Piece>, holes: Vec<Vec<Piece>>, thickness_mm: f64) -> Result<Plate, SolidError> {
        if !(thickness_mm.is_finite() && thickness_mm > 1e-3 && thickness_mm < 1e4) {
            return Err(SolidError::NotASize { what: "the plate's thickness".into(), found: thickness_mm });
        }
        let bad = |what: &str| SolidError::BadMeridian { what: what.into() };
        let pieces = outline.len() + holes.iter().map(Vec::len).sum::<usize>();
        if pieces > MOST_PIECES {
            return Err(bad("the plate's outline has more than 4,000 pieces"));
        }
        for chain in std::iter::once(&outline).chain(&holes) {
            let joined = (0..chain.len()).all(|i| path::distance(path::end(&chain[i]), path::start(&chain[(i + 1) % chain.len()])) < 1e-6);
            let finite = chain.iter().flat_map(path::points).all(|p| p.z_mm.abs() < 1e5 && p.r_mm.abs() < 1e8);
            if chain.is_empty() || !joined || !finite {
                return Err(bad("a line of the plate is not closed or not finite"));
            }
        }
        let outline = turned(outline, true);
        let holes: Vec<Vec<Piece>> = holes.into_iter().map(|hole| turned(hole, false)).collect();
        let plate = Plate { outline, holes, thickness_mm, edge_break_mm: 0.0, rims: Vec::new() };
        let lines = plate.flattened(CHECK_CHORD_MM);
        if plane::any_meet(&lines) {
            return Err(bad("two lines of the plate cross or touch"));
        }
        let inside = lines.split_first().is_some_and(|(outer, holes)| {
            holes.iter().all(|hole| hole.first().is_some_and(|&at| plane::contains(outer, at)))
                && plane::depths(holes).iter().all(|depth| *depth == 0)
        });
        if inside { Ok(plate) } else { Err(bad("a hole of the plate lies outside it or in another hole")) }
    }

    /// The same with all its edges broken at 45 degrees, this far along either side.
    ///
    /// # Errors
    /// A leg without room: two of them thicker than the plate, a round or a piece too short for it, lines that would meet.
    pub fn with_edge_break(&self, leg_mm: f64) -> Result<Plate, SolidError> {
        if !(leg_mm.is_finite() && leg_mm > 1e-3 && 2.0 * leg_mm < self.thickness_mm - 1e-3) {
            return Err(SolidError::NotASize { what: "the edge break (less than half the thickness)".into(), found: leg_mm });
        }
        let rims = self.lines().map(|line| Rim::new(line, leg_mm)).collect::<Result<_, _>>()?;
        let plate = Plate { edge_break_mm: leg_mm, rims, ..self.clone() };
        if plane::any_meet(&plate.flattened_inside(CHECK_CHORD_MM)) {
            let what = format!("edges broken by {leg_mm} mm would meet; make the break smaller");
            return Err(SolidError::BadMeridian { what });
        }
        Ok(plate)
    }

    /// The plate `factor` times as large.
    ///
    /// # Errors
    /// A factor that is none.
    pub fn scaled(&self, factor: f64) -> Result<Plate, SolidError> {
        if !(factor.is_finite() && (1e-3..=1e3).contains(&factor)) {
            return Err(SolidError::NotASize { what: "the scale (0.001 to 1000)".into(), found: factor });
        }
        let grow = |line: &[Piece]| line.iter().map(|piece| path::scaled(piece, factor)).collect::<Vec<_>>();
        let holes = self.holes.iter().map(|hole| grow(hole)).collect();
        let plate = Plate::new(grow(&self.outline), holes, self.thickness_mm * factor)?;
        if self.edge_break_mm > 0.0 { plate.with_edge_break(self.edge_break_mm * factor) } else { Ok(plate) }
    }

    /// The narrowest land between two lines, by looks a twentieth of a millimetre off at most (fewer on large plates); `None` without holes.
    pub fn narrowest_land_mm(&self) -> Option<f64> {
        let lines: Vec<Vec<Corner>> =
            self.lines().map(|line| line.iter().flat_map(|piece| looks(piece, self.land_step_mm())).collect()).collect();
        let mut narrowest = f64::INFINITY;
        for (index, line) in lines.iter().enumerate() {
            for [x, y] in line {
                for [u, v] in lines.iter().skip(index + 1).flatten() {
                    narrowest = narrowest.min((x - u).hypot(y - v));
                }
            }
        }
        narrowest.is_finite().then_some(narrowest)
    }

    /// 2,000 looks at most over all lines.
    fn land_step_mm(&self) -> f64 {
        let length: f64 = self.lines().map(|line| sums(line)[3]).sum();
        (length / 2000.0).max(0.05)
    }

    /// Leg of the edges' break; 0 where they are sharp.
    pub fn edge_break_mm(&self) -> f64 {
        self.edge_break_mm
    }

    /// With broken edges, the lines that border both faces: one for the outline and one a hole. Empty where edges are sharp.
    pub fn rims(&self) -> &[Rim] {
        &self.rims
    }

    /// The outline, counter-clockwise.
    pub fn outline(&self) -> &[Piece] {
        &self.outline
    }

    /// The holes, clockwise.
    pub fn holes(&self) -> &[Vec<Piece>] {
        &self.holes
    }

    /// Its thickness.
    pub fn thickness_mm(&self) -> f64 {
        self.thickness_mm
    }

    /// Outline and holes.
    pub fn lines(&self) -> impl Iterator<Item = &[Piece]> {
        std::iter::once(self.outline.as_slice()).chain(self.holes.iter().map(Vec::as_slice))
    }

    /// Area of one face, by Green's theorem; exact for lines, to 1e-13 for arcs.
    pub fn face_mm2(&self) -> f64 {
        self.lines().map(|line| sums(line)[0]).sum()
    }

    /// Volume: the face times the thickness, less what is broken off (sections between two rims change with the square of the way: Simpson's rule is exact).
    pub fn volume_mm3(&self) -> f64 {
        self.summed()[0]
    }

    /// Volume and its moments about x = 0 and y = 0.
    fn summed(&self) -> [f64; 3] {
        let face = self.lines().map(sums).fold([0.0; 4], |a, b| std::array::from_fn(|i| a[i] + b[i]));
        let straight = self.thickness_mm - 2.0 * self.edge_break_mm;
        let within = |share: f64| self.rims.iter().map(|rim| rim.sums(share)).fold([0.0; 4], |a, b| std::array::from_fn(|i| a[i] + b[i]));
        let (half, whole) = (within(0.5), within(1.0));
        // Two rims, each a leg high; areas are quadratic along them, moments cubic: exact for both.
        std::array::from_fn(|i| face[i] * straight + 2.0 * self.edge_break_mm / 6.0 * (face[i] + 4.0 * half[i] + whole[i]))
    }

    /// Whole surface: both faces, all edges, and what is broken of them.
    pub fn area_mm2(&self) -> f64 {
        let walls = (self.thickness_mm - 2.0 * self.edge_break_mm) * self.lines().map(|line| sums(line)[3]).sum::<f64>();
        if self.rims.is_empty() {
            return 2.0 * self.face_mm2() + walls;
        }
        let faces: f64 = self.rims.iter().map(|rim| rim.sums(1.0)[0]).sum();
        2.0 * faces + walls + 2.0 * self.rims.iter().map(Rim::area_mm2).sum::<f64>()
    }

    /// Where it balances.
    pub fn centre_mm(&self) -> [f64; 3] {
        let [volume, x, y] = self.summed();
        [x / volume, y / volume, 0.5 * self.thickness_mm]
    }

    /// Least and greatest x, y, z.
    pub fn bounds_mm(&self) -> [[f64; 3]; 2] {
        let mut bounds = [[f64::INFINITY, f64::INFINITY, 0.0], [f64::NEG_INFINITY, f64::NEG_INFINITY, self.thickness_mm]];
        for piece in &self.outline {
            for t in path::extremes(piece) {
                let at = path::at(piece, t);
                bounds[0] = [bounds[0][0].min(at.z_mm), bounds[0][1].min(at.r_mm), 0.0];
                bounds[1] = [bounds[1][0].max(at.z_mm), bounds[1][1].max(at.r_mm), self.thickness_mm];
            }
        }
        bounds
    }

    /// Outline and holes as corners within `chord_mm` of the true lines.
    fn flattened(&self, chord_mm: f64) -> Vec<Vec<Corner>> {
        let corners = |piece: &Piece| {
            let steps = path::steps_for_chord(piece, chord_mm);
            (0..steps).map(|step| path::at(piece, step as f64 / steps as f64)).map(|p| [p.z_mm, p.r_mm]).collect::<Vec<Corner>>()
        };
        self.lines().map(|line| line.iter().flat_map(corners).collect()).collect()
    }

    /// The lines that border both faces, step for step beside those of [`Plate::flattened`].
    fn flattened_inside(&self, chord_mm: f64) -> Vec<Vec<Corner>> {
        let own = |(line, rim): (&[Piece], &Rim)| {
            let corners = |(index, piece): (usize, &Piece)| {
                let steps = path::steps_for_chord(piece, chord_mm);
                (0..steps).map(|step| rim.at(index, step as f64 / steps as f64).0).collect::<Vec<Corner>>()
            };
            line.iter().enumerate().flat_map(corners).collect()
        };
        self.lines().zip(&self.rims).map(own).collect()
    }

    /// Triangles within `chord_mm` of the true surface; closed and turned outward.
    ///
    /// # Errors
    /// A chord that is none or too fine.
    pub fn mesh(&self, chord_mm: f64) -> Result<Mesh, SolidError> {
        if !(chord_mm.is_finite() && chord_mm > 1e-5) {
            return Err(SolidError::NotASize { what: "the mesh's chord tolerance".into(), found: chord_mm });
        }
        let leg = self.edge_break_mm;
        // The outer of two lines with the same steps is a little coarser.
        let asked_mm = chord_mm;
        let chord_mm = if leg > 0.0 { 0.5 * chord_mm } else { chord_mm };
        let walls = self.flattened(chord_mm);
        let inside = if self.rims.is_empty() { walls.clone() } else { self.flattened_inside(chord_mm) };
        let count: usize = walls.iter().map(Vec::len).sum();
        let (outer, holes) = inside.split_first().ok_or_else(|| SolidError::BadMeridian { what: "no outline".into() })?;
        let face = plane::triangles(outer, holes).ok_or(SolidError::TooManyTriangles {
            chord_mm: asked_mm,
            needed: 4 * count,
            limit: 4 * plane::MOST_CORNERS,
            coarser_mm: 4.0 * asked_mm,
        })?;
        // Rings of corners from below: a face, with broken edges both ends of the wall, the other face.
        let high = self.thickness_mm;
        let mut rings: Vec<(&Vec<Vec<Corner>>, f64)> = vec![(&inside, 0.0), (&inside, high)];
        if leg > 0.0 {
            rings.splice(1..1, [(&walls, leg), (&walls, high - leg)]);
        }
        let mut mesh = Mesh::default();
        for (lines, z) in &rings {
            mesh.vertices_mm.extend(lines.iter().flatten().map(|[x, y]| [*x, *y, *z]));
        }
        let ring = count as u32;
        let top = ring * (rings.len() as u32 - 1);
        for [a, b, c] in face.into_iter().map(|t| t.map(|corner| corner as u32)) {
            mesh.triangles.extend([[a, c, b], [top + a, top + b, top + c]]);
        }
        let mut first = 0;
        for line in &walls {
            for (i, level) in (0..line.len()).flat_map(|i| (0..rings.len() as u32 - 1).map(move |level| (i, level * ring))) {
                let (a, b) = (level + (first + i) as u32, level + (first + (i + 1) % line.len()) as u32);
                mesh.triangles.extend([[a, b, ring + b], [a, ring + b, ring + a]]);
            }
            first += line.len();
        }
        Ok(mesh)
    }

    /// The mesh for viewing.
    ///
    /// # Errors
    /// As [`Plate::mesh`].
    pub fn view_mesh(&self, chord_mm: f64) -> Result<ViewMesh, SolidError> {
        Ok(ViewMesh::creased(&self.mesh(chord_mm)?, CREASE_DEG))
    }
}

fn looks(piece: &Piece, step_mm: f64) -> Vec<Corner> {
    let [dx, dy] = path::velocity(piece, 0.5);
    let count = ((dx.hypot(dy) / step_mm).ceil().clamp(1.0, 2000.0)) as usize;
    (0..count).map(|i| path::at(piece, i as f64 / count as f64)).map(|at| [at.z_mm, at.r_mm]).collect()
}

/// Area, its two moments, and length of a closed chain.
fn sums(line: &[Piece]) -> [f64; 4] {
    let mut sum = [0.0; 4];
    for piece in line {
        let parts = if path::is_line(piece) { 1 } else { 8 };
        for part in 0..parts {
            for (x, w) in GAUSS_16.iter().flat_map(|&(x, w)| [(x, w), (-x, w)]) {
                let t = (f64::from(part) + 0.5 + 0.5 * x) / f64::from(parts);
                let weight = 0.5 * w / f64::from(parts);
                let (at, [dx, dy]) = (path::at(piece, t), path::velocity(piece, t));
                let (x, y) = (at.z_mm, at.r_mm);
                sum[0] += weight * 0.5 * (x * dy - y * dx);
                sum[1] += weight * 0.5 * x * x * dy;
                sum[2] -= weight * 0.5 * y * y * dx;
                sum[3] += weight * dx.hypot(dy);
            }
        }
    }
    sum
}

/// The chain run so that it goes round counter-clockwise, or the other way; pieces without length left out, joints made to meet exactly.
fn turned(line: Vec<Piece>, counter_clockwise: bool) -> Vec<Piece> {
    let forward = (sums(&line)[0] > 0.0) == counter_clockwise;
    let line: Vec<Piece> = if forward { line } else { line.iter().rev().map(path::reversed).collect() };
    let kept: Vec<Piece> = line
        .into_iter()
        .filter(|piece| !path::is_line(piece) || path::distance(path::start(piece), path::end(piece)) > NOTHING_MM)
        .collect();
    (0..kept.len()).map(|i| path::with_start(&kept[i], path::end(&kept[(i + kept.len() - 1) % kept.len()]))).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::path::point;
    use meridian::Turn;
    use std::f64::consts::PI;

    fn circle(x: f64, y: f64, r: f64) -> Vec<Piece> {
        let half =
            |s: f64| Piece::Arc { from: point(x + s * r, y), to: point(x - s * r, y), centre: point(x, y), turn: Turn::Counterclockwise };
        vec![half(1.0), half(-1.0)]
    }

    /// A stadium 30 x 10 with a hole of 4 off its middle: area 200 + 25 pi - 4 pi; balance by moments.
    #[test]
    fn stadium_by_school_formula() {
        let outline = vec![
            Piece::Line { from: point(-10.0, -5.0), to: point(10.0, -5.0) },
            Piece::Arc { from: point(10.0, -5.0), to: point(10.0, 5.0), centre: point(10.0, 0.0), turn: Turn::Counterclockwise },
            Piece::Line { from: point(10.0, 5.0), to: point(-10.0, 5.0) },
            Piece::Arc { from: point(-10.0, 5.0), to: point(-10.0, -5.0), centre: point(-10.0, 0.0), turn: Turn::Counterclockwise },
        ];
        let plate = Plate::new(outline, vec![circle(6.0, 0.0, 2.0)], 2.0).expect("sound");
        let area = 200.0 + 25.0 * PI - 4.0 * PI;
        assert!((plate.face_mm2() - area).abs() < 1e-10 && (plate.volume_mm3() - 2.0 * area).abs() < 1e-10);
        assert!((plate.centre_mm()[0] + 6.0 * 4.0 * PI / area).abs() < 1e-10);
        assert!((plate.area_mm2() - (2.0 * area + 2.0 * (40.0 + 10.0 * PI + 4.0 * PI))).abs() < 1e-9);
        assert_eq!(plate.bounds_mm(), [[-15.0, -5.0, 0.0], [15.0, 5.0, 2.0]]);
        let mesh = plate.mesh(0.005).expect("few");
        assert!((mesh.volume_mm3() / plate.volume_mm3() - 1.0).abs() < 2e-3 && (mesh.area_mm2() / plate.area_mm2() - 1.0).abs() < 2e-3);
        let mut edges: Vec<[u32; 2]> = mesh.triangles.iter().flat_map(|t| [[t[0], t[1]], [t[1], t[2]], [t[2], t[0]]]).collect();
        let mut back: Vec<[u32; 2]> = edges.iter().map(|[a, b]| [*b, *a]).collect();
        edges.sort_unstable();
        back.sort_unstable();
        assert_eq!(edges, back);
    }

    #[test]
    fn what_is_no_plate_is_told() {
        let disc = || circle(0.0, 0.0, 10.0);
        assert!(Plate::new(disc(), vec![circle(9.0, 0.0, 3.0)], 2.0).is_err(), "a hole over the edge");
        assert!(Plate::new(disc(), vec![circle(30.0, 0.0, 3.0)], 2.0).is_err(), "a hole beside it");
        assert!(Plate::new(disc(), vec![], f64::NAN).is_err() && Plate::new(Vec::new(), vec![], 2.0).is_err());
        assert!(Plate::new(disc()[..1].to_vec(), vec![], 2.0).is_err(), "open");
    }
}
