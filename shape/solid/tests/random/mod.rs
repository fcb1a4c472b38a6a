//! Random bodies for tests here and for the proof that other people's readers are asked about (`export`'s example `write_bodies`).

use meridian::{Meridian, Piece, Point, Turn};
use solid::edge::{Edge, EdgeForm, EdgePlace, broken};
use solid::{
    Body, Bore, BoreEnd, BoreStep, CrossHole, Feature, Form, Hollow, Knurl, Limits, Mark, MarkPlace, Relief, SolidError, Surface, Thread,
};

/// The body of a seed: a random outside; three in four have a bore, where it fits.
#[allow(dead_code, reason = "not every user of this file wants plain ones")]
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

/// The body of a seed with edges broken, a bore of any kind and up to five cuts of random kinds and sizes; what does not fit is left out. With the names of what is in it.
#[allow(dead_code, reason = "not every user of this file cuts")]
pub fn random_cut_body(seed: u64) -> (Body, Vec<&'static str>) {
    let mut dice = Dice(seed ^ 0x5eed);
    let mut pieces = random_outside(&mut dice);
    let mut names = Vec::new();
    for place in [EdgePlace::RodEnd, EdgePlace::FreeEnd, EdgePlace::At { z_mm: dice.between(0.0, 20.0), diameter_mm: None }] {
        let size = dice.between(0.1, 0.8);
        let fillet = dice.next() < 0.5;
        let form = if fillet { EdgeForm::Fillet { radius_mm: size } } else { EdgeForm::Chamfer { leg_mm: size } };
        let limits = Limits { least_wall_mm: 0.0, advised_wall_mm: 0.0 };
        let tried = broken(&pieces, &[Edge { place, form }]).ok().filter(|tried| Body::from_pieces(tried, &[], limits).is_ok());
        if let Some(tried) = tried {
            pieces = tried;
            names.push(if fillet { "fillet" } else { "chamfer" });
        }
    }
    let limits = Limits { least_wall_mm: 0.3, advised_wall_mm: 0.3 };
    let length = match pieces.last() {
        Some(Piece::Line { to, .. } | Piece::Arc { to, .. } | Piece::Curve { to, .. }) => to.z_mm,
        None => 0.0,
    };
    let diameter = dice.between(2.0, 5.0);
    let depth = dice.between(0.3, 0.8) * length;
    let (name, bore) = match (dice.next() * 5.0) as usize {
        0 => ("blind", Bore::blind(diameter, depth)),
        1 => ("through", Bore::through(diameter)),
        2 => ("drilled", Bore::drilled(diameter, depth)),
        3 => {
            let steps = vec![BoreStep { diameter_mm: diameter + 1.5, depth_mm: 0.6 * depth }];
            (
                "stepped through",
                Bore { steps, end: BoreEnd::Through { diameter_mm: diameter, exit_chamfer_mm: 0.0 }, mouth_chamfer_mm: 0.0 },
            )
        }
        _ => {
            let steps =
                vec![BoreStep { diameter_mm: diameter + 1.0, depth_mm: 0.4 * depth }, BoreStep { diameter_mm: diameter, depth_mm: depth }];
            ("stepped", Bore { steps, end: BoreEnd::Flat, mouth_chamfer_mm: 0.2 })
        }
    };
    let hollow = Hollow { wall_mm: dice.between(0.6, 1.6), depth_mm: dice.between(0.3, 0.8) * length };
    let features = [Feature::Bore(bore), Feature::Hollow(hollow)];
    // One in three is hollow round its bore, where that fits.
    let hollowed = if seed.is_multiple_of(3) { Body::from_pieces(&pieces, &features, limits).ok() } else { None };
    names.extend(hollowed.is_some().then_some("hollow"));
    let with_bore = hollowed.map_or_else(|| Body::from_pieces(&pieces, &features[..1], limits), Ok);
    let mut body = match with_bore {
        Ok(noted) => {
            names.push(name);
            noted.value
        }
        Err(_) => Body::from_pieces(&pieces, &[], Limits { least_wall_mm: 0.0, advised_wall_mm: 0.0 }).expect("a plain body").value,
    };
    // Where surfaces of the outline or the bore meet: what a hole over a step is put across.
    let chain = body.inner().iter().chain(body.outer()).filter(|_| !body.outer().is_empty());
    let joints: Vec<f64> = chain.map(|piece| solid::path::start(piece).z_mm).filter(|z| *z > 0.05 * length && *z < 0.95 * length).collect();
    for (name, feature) in random_cuts(&mut dice, length, diameter, depth, &joints) {
        let over = matches!(&feature, Feature::CrossHole(hole) if joints.iter().any(|z| (z - hole.z_mm).abs() < 0.45 * hole.diameter_mm));
        if let Ok(cut) = body.with(feature, limits) {
            body = cut;
            names.push(name);
            names.extend(over.then_some("hole over a step"));
        }
    }
    (body, names)
}

#[allow(dead_code, reason = "not every user of this file cuts")]
fn random_cuts(dice: &mut Dice, length: f64, diameter: f64, depth: f64, joints: &[f64]) -> Vec<(&'static str, Feature)> {
    let mut cuts = Vec::new();
    let relief = |on, z_mm, form| Feature::Relief(Relief { on, z_mm, form });
    let (from, to) = (dice.between(-1.0, 0.5 * length), dice.between(0.5 * length, length + 1.0));
    match (dice.next() * 4.0) as usize {
        0 => cuts.push((
            "flutes",
            relief(Surface::Outside, [from, to], Form::Flutes { count: 6, radius_mm: 1.5, depth_mm: dice.between(0.2, 1.0) }),
        )),
        1 => cuts.push((
            "straight",
            relief(Surface::Outside, [from, to], Form::Knurl { pitch_mm: 1.5, depth_mm: 0.3, pattern: Knurl::Straight }),
        )),
        2 => cuts
            .push(("diamond", relief(Surface::Outside, [from, to], Form::Knurl { pitch_mm: 2.5, depth_mm: 0.3, pattern: Knurl::Diamond }))),
        _ => {
            let count = 2 + (dice.next() * 5.0) as u32;
            cuts.push(("flats", relief(Surface::Outside, [from, to], Form::Flats { count, from_axis_mm: dice.between(3.0, 8.0) })));
        }
    }
    match (dice.next() * 4.0) as usize {
        // Nothing along the bore: room for holes across it.
        3 => {}
        0 => cuts.push(("d bore", relief(Surface::Bore, [-1.0, depth], Form::Flats { count: 1, from_axis_mm: 0.38 * diameter }))),
        1 => cuts
            .push(("slot", relief(Surface::Bore, [-1.0, depth], Form::Slot { width_mm: 0.4 * diameter, floor_mm: 0.5 * diameter + 1.2 }))),
        _ => {
            let thread = Thread::named("M4").expect("listed");
            let form = Form::Thread { pitch_mm: thread.pitch_mm, crest_mm: 0.42 * diameter, flats: thread.flats() };
            cuts.push(("thread", relief(Surface::Bore, [0.4 * depth + 0.1, (0.4 * depth + 1.6).min(0.9 * depth)], form)));
        }
    }
    let hole = CrossHole {
        z_mm: dice.between(0.1, 0.9) * length,
        diameter_mm: dice.between(0.8, 2.0),
        angle_deg: dice.between(0.0, 360.0),
        both_sides: dice.next() < 0.5,
    };
    cuts.push((if hole.both_sides { "hole both sides" } else { "hole" }, Feature::CrossHole(hole)));
    if let Some(joint) = joints.get((dice.next() * joints.len() as f64) as usize) {
        let diameter_mm = dice.between(0.8, 3.0);
        let over =
            CrossHole { z_mm: joint + dice.between(-0.4, 0.4) * diameter_mm, diameter_mm, angle_deg: dice.between(0.0, 360.0), ..hole };
        cuts.push(("hole", Feature::CrossHole(over)));
    }
    for on in [MarkPlace::RodEnd, MarkPlace::FreeEnd] {
        let (x, side) = (dice.between(1.0, 6.0), dice.between(0.5, 1.5));
        let square = |x: f64, y: f64, side: f64| vec![[x, y], [x + side, y], [x + side, y + side], [x, y + side]];
        let outlines_mm =
            vec![square(x, -0.5 * side, side), square(x + 0.25 * side, -0.25 * side, 0.5 * side), square(-x - side, 0.0, side)];
        cuts.push(("mark", Feature::Mark(Mark { text: "o".into(), on, outlines_mm, depth_mm: 0.3 })));
    }
    cuts
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
