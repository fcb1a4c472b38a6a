//! Places never overlap, stay on the plate, and come close to what can be had.

use run::{Packing, Plate, RunError, pack};
use solve::Sampler;

fn random_case(seed: u64, least_mm: f64, most_mm: f64) -> (Plate, f64, Packing) {
    let mut s = Sampler::new(seed);
    let plate = Plate { width_mm: s.between(40.0, 260.0), depth_mm: s.between(40.0, 180.0), gap_mm: s.between(0.0, 6.0) };
    let diameter = s.between(least_mm, most_mm);
    let packing = pack(plate, diameter).expect("fits");
    (plate, diameter, packing)
}

#[test]
fn never_overlap_never_leave_the_plate() {
    for seed in 0..200 {
        let (plate, diameter, packing) = random_case(seed, 3.0, 40.0);
        let (r, places) = (0.5 * diameter - 1e-6, &packing.places_mm);
        assert!(!places.is_empty() && places.len() <= packing.bound as usize, "seed {seed}");
        for (i, p) in places.iter().enumerate() {
            assert!(p[0] >= r && p[1] >= r && p[0] <= plate.width_mm - r && p[1] <= plate.depth_mm - r, "seed {seed} {p:?}");
            for q in &places[..i] {
                let apart = (p[0] - q[0]).hypot(p[1] - q[1]);
                assert!(apart >= diameter + plate.gap_mm - 1e-6, "seed {seed}: {p:?} {q:?} {apart}");
            }
        }
        assert!(seed % 10 != 0 || packing == random_case(seed, 3.0, 40.0).2, "seed {seed}");
    }
}

#[test]
fn close_to_the_bound() {
    let (mut worst, mut sum, mut n) = (1.0f64, 0.0, 0.0);
    for seed in 0..400 {
        let (_, _, packing) = random_case(seed, 3.0, 9.0);
        if packing.bound >= 256 {
            let share = packing.places_mm.len() as f64 / f64::from(packing.bound);
            worst = worst.min(share);
            sum += share;
            n += 1.0;
        }
    }
    assert!(worst >= 0.9, "worst {worst:.3} mean {:.3} of {n}", sum / n);
}

/// Packings known to be best: points apart by 1 in a square (Croft, Falconer and Guy, "Unsolved problems in geometry", D1).
#[test]
fn small_squares() {
    let count = |side: f64| {
        pack(Plate { width_mm: side * 10.0 + 10.0, depth_mm: side * 10.0 + 10.0, gap_mm: 0.0 }, 10.0).map(|p| p.places_mm.len())
    };
    assert_eq!(count(0.8), Ok(2));
    assert_eq!(count(1.0), Ok(4));
    // Side over least distance for 5, 6, 7, 8, 10 and 13 points; 6, 10 and 13 are no lattice. Half a percent of slack.
    for (points, side) in [(5, 2f64.sqrt()), (6, 1.6641), (7, 1.8660), (8, 1.9319), (10, 2.3737), (13, 2.7315)] {
        assert_eq!(count(side * 1.005), Ok(points), "side {side}");
    }
    assert_eq!(count(2.0), Ok(9));
    assert_eq!(count(3.0), Ok(16));
}

#[test]
fn one_row_and_one_part() {
    let strip = pack(Plate { width_mm: 100.0, depth_mm: 20.0, gap_mm: 5.0 }, 20.0).expect("fits");
    assert_eq!(strip.places_mm.len(), 4);
    assert!((strip.places_mm[1][0] - (10.0 + 80.0 / 3.0)).abs() < 1e-9);
    let one = pack(Plate { width_mm: 30.0, depth_mm: 24.0, gap_mm: 5.0 }, 20.0).expect("fits");
    assert_eq!(one.places_mm, vec![[15.0, 12.0]]);
}

#[test]
fn refuses_what_does_not_fit_or_is_no_size() {
    let plate = Plate { width_mm: 100.0, depth_mm: 20.0, gap_mm: 5.0 };
    assert!(matches!(pack(plate, 20.1), Err(RunError::DoesNotFit { .. })));
    assert!(pack(plate, f64::NAN).is_err() && pack(Plate { gap_mm: f64::INFINITY, ..plate }, 3.0).is_err());
    assert!(pack(Plate { width_mm: 5000.0, depth_mm: 5000.0, gap_mm: 0.0 }, 0.1).is_err());
}
