//! Round parts on a rectangular plate.

use crate::error::within;
use crate::{RunError, shuffle};

/// A build plate, and what stays clear between two parts.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Plate {
    /// Along x.
    pub width_mm: f64,
    /// Along y.
    pub depth_mm: f64,
    /// Between the footprints of neighbours.
    pub gap_mm: f64,
}

/// Where the parts stand.
#[derive(Clone, Debug, PartialEq)]
pub struct Packing {
    /// Centres, by rows from y = 0, (0, 0) a corner of the plate; every footprint lies wholly on the plate.
    pub places_mm: Vec<[f64; 2]>,
    /// The pattern in words.
    pub pattern: &'static str,
    /// No arrangement holds more: Oler's bound for points that keep their distance in a rectangle.
    pub bound: u32,
}

/// More places than this are not planned one by one.
const MOST_PLACES: f64 = 20_000.0;

/// As many round footprints of `diameter_mm` as our patterns bring on the plate.
///
/// Tried are square rows, and staggered rows at every pitch that fills the width (from hexagonal to wide rows that mesh deeper), along x
/// and along y, with any number of rows set straight instead of staggered; the fullest wins, the first tried on a tie. Up to 60 parts,
/// free places are tried too.
/// Same input, same places. **Good to** within 10 % of `bound` from 256 places on (of 128: 12 %), test `close_to_the_bound`; a bound by area and edge
/// can itself not always be met, above all by few parts.
///
/// # Errors
/// Sizes that are no sizes, a part larger than the plate, more than 20,000 places.
pub fn pack(plate: Plate, diameter_mm: f64) -> Result<Packing, RunError> {
    check(plate, diameter_mm)?;
    let room = [plate.width_mm - diameter_mm, plate.depth_mm - diameter_mm];
    if room.iter().any(|&side| side < -SLACK_MM) {
        return Err(RunError::DoesNotFit { diameter_mm, width_mm: plate.width_mm, depth_mm: plate.depth_mm });
    }
    let room = room.map(|side| side.max(0.0));
    let apart = diameter_mm + plate.gap_mm;
    let bound = oler_bound(room, apart);
    if bound > MOST_PLACES {
        return Err(RunError::Number {
            what: "the number of places on the plate",
            found: bound,
            expected: "at most 20000: check the part's diameter and the plate's unit, mm",
        });
    }
    let along_x = Rows::best(room[0], room[1], apart);
    let along_y = Rows::best(room[1], room[0], apart);
    let (rows, turned) = if along_y.count() > along_x.count() { (along_y, true) } else { (along_x, false) };
    let mut places_mm = rows.places(if turned { [room[1], room[0]] } else { room });
    if turned {
        places_mm.iter_mut().for_each(|place| place.swap(0, 1));
    }
    let mut pattern = rows.words();
    if let Some(found) = shuffle::more_than(places_mm.len(), bound as usize, room, apart) {
        (places_mm, pattern) = (found, "free places, more than rows can hold");
    }
    places_mm.iter_mut().flatten().for_each(|centre| *centre += 0.5 * diameter_mm);
    places_mm.sort_by(|p, q| p[1].total_cmp(&q[1]).then(p[0].total_cmp(&q[0])));
    Ok(Packing { places_mm, pattern, bound: bound as u32 })
}

/// Rounding allowed when something fits exactly: a millionth of what a print resolves.
const SLACK_MM: f64 = 1e-9;

fn check(plate: Plate, diameter_mm: f64) -> Result<(), RunError> {
    within("the plate's width", plate.width_mm, 1.0, 5000.0, "1 to 5000 mm: set [run] plate")?;
    within("the plate's depth", plate.depth_mm, 1.0, 5000.0, "1 to 5000 mm: set [run] plate")?;
    within("the gap between parts", plate.gap_mm, 0.0, 1000.0, "0 to 1000 mm: set [run] plate")?;
    within("the part's footprint", diameter_mm, 0.1, 5000.0, "a diameter of 0.1 to 5000 mm").map(|_| ())
}

/// N. Oler, "An inequality in the geometry of numbers" (1961): at most 2/sqrt(3) area / apart^2 + half perimeter / apart + 1 points.
fn oler_bound(room: [f64; 2], apart: f64) -> f64 {
    let (w, d) = (room[0] / apart, room[1] / apart);
    (2.0 / 3f64.sqrt() * w * d + w + d + 1.0 + SLACK_MM).floor()
}

/// Rows along x: `straight` steps between full rows set straight above each other, then `staggered` steps.
#[derive(Clone, Copy, Debug)]
struct Rows {
    full: u32,
    /// Parts in a shifted row: as many as in a full one, or one fewer.
    shifted: u32,
    pitch_mm: f64,
    straight: u32,
    staggered: u32,
    straight_step_mm: f64,
    staggered_step_mm: f64,
}

impl Rows {
    fn best(width: f64, depth: f64, apart: f64) -> Rows {
        let most = whole(width / apart) + 1;
        let mut best = Rows::square(width, depth, apart, most);
        // Rows with a pitch above 2 apart only repeat what fewer, straight rows do.
        for full in (most / 2).max(1)..=most {
            for shifted in [full, full - 1] {
                let spaces = f64::from(full - 1) + if shifted == full { 0.5 } else { 0.0 };
                let pitch = if full == 1 && shifted == 0 { 0.0 } else { width / spaces };
                if shifted == 0 || pitch + SLACK_MM < apart && full > 1 {
                    continue;
                }
                best = Rows::staggered(full, shifted, pitch, depth, apart, best);
            }
        }
        best
    }

    fn square(width: f64, depth: f64, apart: f64, full: u32) -> Rows {
        let pitch_mm = if full > 1 { width / f64::from(full - 1) } else { 0.0 };
        let straight = whole(depth / apart);
        Rows { full, shifted: full, pitch_mm, straight, staggered: 0, straight_step_mm: apart, staggered_step_mm: apart }
    }

    /// The best mix of straight and staggered steps at this pitch, or `best` if that holds more.
    fn staggered(full: u32, shifted: u32, pitch_mm: f64, depth: f64, apart: f64, mut best: Rows) -> Rows {
        // Neighbours in the next row stand half a pitch aside; the row after next stands straight above and must be `apart` away.
        let step = (apart * apart - 0.25 * pitch_mm * pitch_mm).max(0.0).sqrt().max(0.5 * apart);
        for straight in 0..=whole(depth / apart) {
            let left = depth - f64::from(straight) * apart;
            let rows =
                Rows { full, shifted, pitch_mm, straight, staggered: whole(left / step), straight_step_mm: apart, staggered_step_mm: step };
            if rows.count() > best.count() {
                best = rows;
            }
        }
        best
    }

    fn count(&self) -> u32 {
        let shifted_rows = self.staggered.div_ceil(2);
        self.full * (self.straight + self.staggered + 1 - shifted_rows) + self.shifted * shifted_rows
    }

    fn words(&self) -> &'static str {
        match (self.staggered, self.straight) {
            (0, _) => "straight rows",
            (_, 0) => "staggered rows",
            _ => "staggered rows, some straight",
        }
    }

    /// Centres within the room, the whole pattern in its middle.
    fn places(&self, room: [f64; 2]) -> Vec<[f64; 2]> {
        let height = f64::from(self.straight) * self.straight_step_mm + f64::from(self.staggered) * self.staggered_step_mm;
        let mut y = 0.5 * (room[1] - height).max(0.0);
        let mut places = Vec::with_capacity(self.count() as usize);
        for row in 0..=self.straight + self.staggered {
            if row > 0 {
                y += if row <= self.straight { self.straight_step_mm } else { self.staggered_step_mm };
            }
            let is_shifted = row > self.straight && (row - self.straight) % 2 == 1;
            let (count, x0) = if is_shifted { (self.shifted, 0.5 * self.pitch_mm) } else { (self.full, 0.0) };
            let alone = self.full == 1 && self.shifted == 1 && self.staggered == 0;
            let x0 = if alone { 0.5 * room[0] } else { x0 };
            places.extend((0..count).map(|i| [(x0 + f64::from(i) * self.pitch_mm).min(room[0]), y.min(room[1])]));
        }
        places
    }
}

/// Whole steps in `ratio`, a rounding error below the next counted as there.
fn whole(ratio: f64) -> u32 {
    (ratio + SLACK_MM).floor().max(0.0) as u32
}
