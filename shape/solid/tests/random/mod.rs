//! Random bodies for tests here and for the proof that other people's readers are asked about (`export`'s example `write_bodies`).

use meridian::{Meridian, Piece, Point, Turn};
use solid::{Body, Bore, Feature, Limits, SolidError};

/// The body of a seed: a random outside; three in four have a bore, where it fits.
pub fn random_body(seed: u64) -> Body {
    let mut dice = Dice(seed);
    let meridian = Meridian::new(random_outside(&mut dice)).expect("a sound profile");
    let wanted = match seed % 4 {
        0 => None,
        1 => Some(Bore::blind(dice.between(1.0, 4.0), dice.between(0.5, 4.0))),
        2 => Some(Bore::drilled(dice.between(1.0, 4.0), dice.between(0.5, 4.0)).with_chamfer(0.2)),
        _ => Some(Bore::through(dice.between(1.0, 4.0))),
    };
    let limits = Limits { least_wall_mm: 0.0, advised_wall_mm: 0.0 };
    let features: Vec<Feature> = wanted.into_iter().map(Feature::Bore).collect();
    match Body::new(&meridian, &features, limits) {
        Ok(noted) => noted.value,
        // A drill may come out of a short part; anything else would be a fault.
        Err(SolidError::BoreTooDeep { .. } | SolidError::BreaksThrough { .. } | SolidError::NotASize { .. }) => {
            Body::new(&meridian, &[], limits).expect("a plain body").value
        }
        Err(other) => panic!("body {seed}: {other}"),
    }
}

fn p(z_mm: f64, r_mm: f64) -> Point {
    Point { z_mm, r_mm }
}

/// SplitMix64 (Steele, Lea and Flood 2014): enough for test bodies.
pub struct Dice(u64);

impl Dice {
    fn next(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64
    }
    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.next()
    }
}

/// Cylinders, cones, beads, coves, curves and faces in random order, closed by a face, a cone or a dome.
pub fn random_outside(dice: &mut Dice) -> Vec<Piece> {
    let (mut at, mut pieces) = (p(0.0, dice.between(3.0, 12.0)), Vec::new());
    pieces.push(Piece::Line { from: p(0.0, 0.0), to: at });
    for _ in 0..(1 + (dice.next() * 7.0) as usize) {
        let run = dice.between(0.5, 8.0);
        let to = p(at.z_mm + run, dice.between(3.0, 12.0));
        let level = p(to.z_mm, at.r_mm);
        let piece = match (dice.next() * 5.0) as usize {
            0 => Piece::Line { from: at, to: level },
            1 => Piece::Line { from: at, to },
            2 | 3 => {
                // An arc of height h over the chord: centre at the side away from the bulge.
                let h = dice.between(0.1, 0.45) * run.min(4.0);
                let radius = (run * run / 4.0 + h * h) / (2.0 * h);
                let (side, turn) = if dice.next() < 0.5 { (-1.0, Turn::Clockwise) } else { (1.0, Turn::Counterclockwise) };
                Piece::Arc { from: at, to: level, centre: p(at.z_mm + run / 2.0, at.r_mm + side * (radius - h)), turn }
            }
            _ => Piece::Curve {
                from: at,
                control1: p(at.z_mm + run / 3.0, dice.between(3.0, 12.0)),
                control2: p(at.z_mm + run / 1.5, dice.between(3.0, 12.0)),
                to,
            },
        };
        at = match piece {
            Piece::Line { to, .. } | Piece::Arc { to, .. } | Piece::Curve { to, .. } => to,
        };
        pieces.push(piece);
    }
    pieces.push(match (dice.next() * 3.0) as usize {
        0 => Piece::Line { from: at, to: p(at.z_mm, 0.0) },
        1 => Piece::Line { from: at, to: p(at.z_mm + dice.between(1.0, 9.0), 0.0) },
        _ => Piece::Arc { from: at, to: p(at.z_mm + at.r_mm, 0.0), centre: p(at.z_mm, 0.0), turn: Turn::Clockwise },
    });
    pieces
}
