//! Figures for proof/batch_second_opinion.py: one line a figure, `what arguments = value`.

#![allow(clippy::print_stdout)] // a script reads them

use check::*;
use cie::Lab;

fn main() -> Result<(), CheckError> {
    for (n, c, p) in [(5, 0, 0.025), (8, 1, 0.1), (20, 2, 0.08), (33, 3, 0.15), (500, 14, 0.02), (100_000, 90, 0.001)] {
        println!("binomial_cdf {n} {c} {p} = {:?}", accept_chance_binomial(n, c, p)?);
    }
    for (lot, bad, n, c) in [(24, 3, 5, 0), (50, 5, 8, 1), (33, 4, 13, 2), (500, 25, 50, 3), (10_000, 130, 200, 4)] {
        println!("hypergeometric_cdf {lot} {bad} {n} {c} = {:?}", accept_chance_of_lot(lot, bad, n, c)?);
    }
    for (bad, n) in [(0, 5), (0, 30), (1, 10), (2, 24), (7, 33), (33, 33), (200, 10_000)] {
        let [low, high] = bad_share_bounds(bad, n, 0.95)?;
        println!("clopper_low {bad} {n} 0.95 = {low:?}");
        println!("clopper_high {bad} {n} 0.95 = {high:?}");
    }
    for (lot, n, found) in [(24, 5, 0), (50, 8, 1), (500, 50, 3)] {
        println!("bad_in_lot {lot} {n} {found} 0.95 = {}", bad_in_lot_bound(lot, n, found, 0.95)?);
    }
    let limits = Limits::about(22.225, -0.1, 0.1, Side::Outer)?;
    for mm in [22.10, 22.14, 22.30, 22.34, 22.40] {
        let judged = judge(Reading { mm, sigma_mm: 0.02 }, limits)?;
        println!("normal_within {mm} 0.02 22.125 22.325 = {:?}", judged.chances[1]);
    }
    let sage = Lab { l: 66.0, a: -8.0, b: 8.0 };
    for (l, a, b, sigma, limit) in [(68.0, -8.0, 8.0, 1.0, 2.0), (66.3, -7.7, 8.4, 0.3, 1.0), (66.8, -8.6, 7.2, 0.4, 1.0)] {
        let judged = judge_colour(Lab { l, a, b }, sigma, sage, limit)?;
        println!("colour_within {l} {a} {b} {sigma} {limit} = {:?}", judged.within);
    }
    Ok(())
}
