//! Volume, area and balance of the turned solid.

use crate::path;
use crate::{Piece, Point};
use std::f64::consts::PI;

#[derive(Clone, Copy, Default)]
pub(crate) struct Swept {
    pub(crate) volume_mm3: f64,
    pub(crate) area_mm2: f64,
    pub(crate) moment_mm4: f64,
}

/// Sums over a chain: lines by the frustum's closed forms (Pappus); arcs and curves by 10-point Gauss-Legendre quadrature on short parts.
/// An arc has closed forms too, but they lose all digits on flat arcs with far centres; quadrature on eighths of a turn is good to 1e-13
/// (tests against ball, cone and bead).
pub(crate) fn swept(pieces: &[Piece]) -> Swept {
    let mut sum = Swept::default();
    for piece in pieces {
        match *piece {
            Piece::Line { from, to } => add_frustum(&mut sum, from, to),
            Piece::Arc { from, to, centre, turn } => {
                let sweep = path::Sweep::new(from, to, centre, turn);
                add_quadrature(&mut sum, piece, (sweep.sweep_rad.abs() / (PI / 4.0)).ceil().clamp(1.0, 8.0) as usize);
            }
            Piece::Curve { .. } => add_quadrature(&mut sum, piece, 8),
        }
    }
    sum
}

fn add_frustum(sum: &mut Swept, from: Point, to: Point) {
    let (z0, r0, r1, dz) = (from.z_mm, from.r_mm, to.r_mm, to.z_mm - from.z_mm);
    let squares = r0 * r0 + r0 * r1 + r1 * r1;
    sum.volume_mm3 += PI * dz * squares / 3.0;
    sum.area_mm2 += PI * (r0 + r1) * dz.hypot(r1 - r0);
    sum.moment_mm4 += PI * dz * (z0 * squares / 3.0 + dz * (r0 * r0 + 2.0 * r0 * r1 + 3.0 * r1 * r1) / 12.0);
}

fn add_quadrature(sum: &mut Swept, piece: &Piece, parts: usize) {
    for part in 0..parts {
        for (x, w) in GAUSS_10.iter().flat_map(|&(x, w)| [(x, w), (-x, w)]) {
            let t = (part as f64 + 0.5 + 0.5 * x) / parts as f64;
            let (place, [dz, dr]) = (path::at(piece, t), path::velocity(piece, t));
            let weight = 0.5 * w / parts as f64;
            sum.volume_mm3 += weight * PI * place.r_mm * place.r_mm * dz;
            sum.area_mm2 += weight * 2.0 * PI * place.r_mm * dz.hypot(dr);
            sum.moment_mm4 += weight * PI * place.z_mm * place.r_mm * place.r_mm * dz;
        }
    }
}

/// Positive half of the 10-point Gauss-Legendre rule (Abramowitz and Stegun, table 25.4).
const GAUSS_10: [(f64, f64); 5] = [
    (0.148_874_338_981_631_2, 0.295_524_224_714_752_9),
    (0.433_395_394_129_247_2, 0.269_266_719_309_996_4),
    (0.679_409_568_299_024_4, 0.219_086_362_515_982_04),
    (0.865_063_366_688_984_5, 0.149_451_349_150_580_6),
    (0.973_906_528_517_171_7, 0.066_671_344_308_688_14),
];
