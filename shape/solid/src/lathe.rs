use crate::mark::MarkPlace;
use crate::path::{self, NOTHING_MM};
use crate::relief::{Fitted, Surface};
use crate::turner::{Span, Turner};
use crate::{Body, SolidError};
use meridian::{Piece, Point};
use std::f64::consts::TAU;

/// Triangles at most, unless the caller says otherwise: 100 MB of STL, far beyond what a print needs.
pub const DEFAULT_TRIANGLE_LIMIT: usize = 2_000_000;

/// Rings that could as well be left out keep as far from others, mm.
const APART_MM: f64 = 1e-5;

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
    /// area x chord. Reliefs get their own steps; a diamond knurl is true to an eighth of its pitch only, a thread to a 16th. Cross holes are trimmed on rings of
    /// their own, marks cut into the face between two rings: all of it stays one closed surface without a general boolean.
    pub fn mesh(&self, chord_mm: f64, triangle_limit: usize) -> Result<Mesh, SolidError> {
        let angles = self.angles(chord_mm)?;
        let spans = self.spans(chord_mm);
        let needed = spans.len().saturating_mul(angles.len()).saturating_mul(2);
        if needed > triangle_limit {
            // Triangles grow with the square root of the tolerance in either direction.
            let coarser_mm = chord_mm * needed as f64 / triangle_limit.max(1) as f64;
            return Err(SolidError::TooManyTriangles { chord_mm, needed, limit: triangle_limit, coarser_mm });
        }
        Turner::new(self, &angles).turned(&spans)
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

    /// The boundary in straight steps, split where reliefs and cross holes begin and end.
    fn spans(&self, chord_mm: f64) -> Vec<Span> {
        let heights: Vec<f64> = self.crossings().iter().flat_map(|crossing| crossing.heights_mm(0.5 * chord_mm)).collect();
        let numbered: Vec<(usize, &Fitted)> = self.reliefs().iter().enumerate().collect();
        let mut spans = Vec::new();
        for (surface, chain) in self.surfaces() {
            let own: Vec<(usize, &Fitted)> = numbered.iter().filter(|(_, fitted)| fitted.relief.on == surface).copied().collect();
            for (index, piece) in chain.iter().enumerate() {
                let places: Vec<Point> = stops(piece, chord_mm, &own, &heights).iter().map(|&t| path::at(piece, t)).collect();
                let is_end = [index == 0, index + 1 == chain.len()];
                spans.extend(places.windows(2).map(|pair| {
                    let square = (pair[0].z_mm - pair[1].z_mm).abs() <= NOTHING_MM;
                    let mut reliefs = active(pair[0], pair[1], &own);
                    let opens = match surface {
                        Surface::Outside => is_end[0] || is_end[1],
                        Surface::Hollow => is_end[0],
                        Surface::Bore => false,
                    };
                    if opens && square {
                        // A slot opens in the end face too, or in that of the boss.
                        let slots: Vec<(usize, &Fitted)> = numbered.iter().filter(|(_, fitted)| fitted.widens()).copied().collect();
                        reliefs |= active(pair[0], pair[1], &slots);
                    }
                    let face = |place: MarkPlace| (place == MarkPlace::RodEnd && is_end[0]) || (place == MarkPlace::FreeEnd && is_end[1]);
                    let mark = self.marks().iter().position(|mark| surface == Surface::Outside && square && face(mark.on));
                    Span { from: pair[0], to: pair[1], surface, reliefs, mark }
                }));
            }
        }
        spans
    }
}

/// Values of `t` that keep the chord and hit the ends of every relief.
fn stops(piece: &Piece, chord_mm: f64, reliefs: &[(usize, &Fitted)], heights: &[f64]) -> Vec<f64> {
    let steps = path::steps_for_chord(piece, 0.5 * chord_mm);
    let mut stops: Vec<f64> = (0..=steps).map(|step| step as f64 / steps as f64).collect();
    let (low, high) = (path::start(piece).z_mm.min(path::end(piece).z_mm), path::start(piece).z_mm.max(path::end(piece).z_mm));
    let own = reliefs.iter().flat_map(|(_, fitted)| fitted.heights_mm(low, high));
    let ends = reliefs.iter().flat_map(|(_, fitted)| fitted.relief.z_mm).chain(heights.iter().copied()).chain(own);
    stops.extend(ends.flat_map(|z| path::heights_at(piece, z)));
    let wandering = reliefs.iter().flat_map(|(_, fitted)| fitted.radii_mm(piece, 0.5 * chord_mm));
    let wandering: Vec<f64> = wandering.flat_map(|r| path::radii_at(piece, r)).collect();
    stops.sort_by(f64::total_cmp);
    stops.dedup_by(|b, a| *b - *a < 1e-9);
    // What is only wanted keeps clear of what must be: single precision, as STL has it, tells corners apart from a micrometre on.
    let alone = |t: &f64| stops.iter().all(|other| path::distance(path::at(piece, *t), path::at(piece, *other)) > APART_MM);
    let alone: Vec<f64> = wandering.into_iter().filter(alone).collect();
    stops.extend(alone);
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

impl Mesh {
    /// Area of all triangles.
    pub fn area_mm2(&self) -> f64 {
        self.triangles
            .iter()
            .filter_map(|triangle| self.corners(triangle))
            .map(|[a, b, c]| 0.5 * norm(cross(minus(b, a), minus(c, a))))
            .sum()
    }

    /// Where the enclosed solid balances; not finite if it encloses nothing.
    pub fn centre_mm(&self) -> [f64; 3] {
        let (mut moment, mut volume) = ([0.0; 3], 0.0);
        for [a, b, c] in self.triangles.iter().filter_map(|triangle| self.corners(triangle)) {
            let part = dot(a, cross(b, c)) / 6.0;
            volume += part;
            for (i, sum) in moment.iter_mut().enumerate() {
                *sum += part * 0.25 * (a[i] + b[i] + c[i]);
            }
        }
        moment.map(|sum| sum / volume)
    }

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

fn minus(a: [f64; 3], b: [f64; 3]) -> [f64; 3] {
    [a[0] - b[0], a[1] - b[1], a[2] - b[2]]
}

fn norm(a: [f64; 3]) -> f64 {
    dot(a, a).sqrt()
}
