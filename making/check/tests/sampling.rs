//! What a few parts say of the rest.

use check::*;
use solve::Sampler;

/// The bound holds the truth in at least 95 of 100 (Clopper and Pearson never promise too much).
#[test]
fn bounds_hold() {
    let mut dice = Sampler::new(5);
    for p in [0.02, 0.1, 0.4] {
        let held = (0..4000)
            .filter(|_| {
                let bad = (0..30).filter(|_| dice.uniform() < p).count() as u64;
                bad_share_bounds(bad, 30, 0.95).expect("fine")[1] >= p
            })
            .count();
        assert!(held >= 3760, "{p}: {held} of 4000");
    }
    // Two published bounds (Clopper and Pearson's chart by exact beta quantiles): 2 of 10 at 95 % one-sided is 0.5069, 10 of 10 is 0.7411 below.
    assert!((bad_share_bounds(2, 10, 0.95).expect("fine")[1] - 0.50690).abs() < 1e-4);
    assert!((bad_share_bounds(10, 10, 0.95).expect("fine")[0] - 0.05f64.powf(0.1)).abs() < 1e-9);
}

#[test]
fn a_lot_counted_out() {
    // Drawn by hand: 4 parts, 1 bad, 2 inspected: 3 of 6 draws miss it.
    assert!((accept_chance_of_lot(4, 1, 2, 0).expect("fine") - 0.5).abs() < 1e-12);
    assert!((accept_chance_of_lot(4, 4, 2, 2).expect("fine") - 1.0).abs() < 1e-12);
    assert_eq!(inspect_for(20, 2, 0.12), Ok(13), "13 of 20 pass two bad with 0.1105");
    assert_eq!(inspect_for(20, 1, 0.001), Ok(20));
    assert_eq!(bad_in_lot_bound(20, 20, 1, 0.95), Ok(1));
    let bound = bad_in_lot_bound(20, 5, 0, 0.95).expect("fine");
    assert!(
        accept_chance_of_lot(20, bound, 5, 0).expect("fine") > 0.05 && accept_chance_of_lot(20, bound + 1, 5, 0).expect("fine") <= 0.05
    );
}

/// Every cell of the table leads to a plan or says that there is none, and the arrows end where two texts say.
#[test]
fn every_cell_of_the_table() {
    for lot in 2..=500 {
        for aql in [0.65, 1.0, 1.5, 2.5, 4.0, 6.5, 10.0, 15.0] {
            let plan = small_lot(lot, aql);
            assert!(plan.as_ref().is_ok_and(|p| p.inspect <= lot.max(2) && p.accept < p.inspect) || plan.is_err(), "{lot} {aql} {plan:?}");
        }
    }
    let numbers = |lot, aql| small_lot(lot, aql).map(|p| (p.inspect, p.accept));
    assert_eq!(numbers(80, 2.5), Ok((20, 1)), "not 13 with 1, as a public copy has it");
    assert_eq!(numbers(40, 2.5), Ok((5, 0)));
    assert_eq!(numbers(2, 0.65), Ok((2, 0)), "the arrow leads to 20 with 0, more than the lot: all");
    assert!(small_lot(1, 2.5).is_err() && small_lot(501, 2.5).is_err() && small_lot(20, 3.0).is_err() && small_lot(20, f64::NAN).is_err());
}

#[test]
fn counts_that_cannot_be() {
    assert!(bad_share_bounds(3, 2, 0.95).is_err() && zero_failure_bound(0, 0.95).is_err() && zero_failure_bound(5, f64::NAN).is_err());
    assert!(accept_chance_of_lot(u64::MAX, 1, 1, 0).is_err() && accept_chance_of_lot(5, 6, 1, 0).is_err());
    assert!(accept_chance_binomial(5, 0, -0.1).is_err());
}
