//! Colours judged with their doubt, and outlines laid over the design.

use check::{Verdict, judge_colour, laid_over};
use cie::Lab;

const SAGE: Lab = Lab { l: 66.0, a: -8.0, b: 8.0 };

#[test]
fn a_colour_is_only_decided_when_its_doubt_allows() {
    let verdict = |l: f64, sigma: f64| judge_colour(Lab { l, ..SAGE }, sigma, SAGE, 1.0).map(|j| j.verdict);
    assert_eq!(verdict(66.3, 0.1), Ok(Verdict::Accept));
    assert_eq!(verdict(67.2, 0.3), Ok(Verdict::Undecided));
    assert_eq!(verdict(70.0, 0.3), Ok(Verdict::Reject));
    // A doubt as large as the limit decides nothing near it.
    assert_eq!(verdict(66.0, 1.5), Ok(Verdict::Undecided));
    assert!(judge_colour(Lab { l: f64::NAN, ..SAGE }, 0.3, SAGE, 1.0).is_err());
}

/// Along L* alone the chance is that of a normal spread between two limits; a and b widen it only in second order.
#[test]
fn the_chance_is_that_of_a_normal_spread() {
    // dE00 = dL / S_L; for a mean L of 66.5, S_L = 1 + 0.015 (16.5)^2 / sqrt(20 + 16.5^2) = 1.2390: the limit lies at dL = 2.478 for dE 2.
    let sigma = 1.0;
    let found = judge_colour(Lab { l: 66.0 + 2.0, ..SAGE }, sigma, SAGE, 2.0).map(|j| j.within).unwrap_or(0.0);
    // Phi(0.478) = 0.684 is the chance for L* alone; a* and b* use part of the limit up. proof/batch_second_opinion.py has the full chance by
    // sampling: 0.491 in 400,000 draws.
    assert!((found - 0.491).abs() < 0.015, "{found}");
}

/// A cylinder of 10 x 20 made 0.1 too large lies 0.1 outside, and longer by 0.2 as much beyond its end.
#[test]
fn a_larger_part_lies_outside_by_as_much() -> Result<(), check::CheckError> {
    let design = [[0.0, 0.0], [0.0, 10.0], [20.0, 10.0], [20.0, 0.0]];
    let off = laid_over(&design, &[[5.0, 10.1, 0.02], [15.0, 9.9, 0.02], [20.2, 5.0, 0.02], [-0.3, 5.0, 0.02], [20.3, 10.4, 0.02]])?;
    let found: Vec<f64> = off.iter().map(|o| (o.off_mm * 1e6).round() / 1e6).collect();
    assert_eq!(found, [0.1, -0.1, 0.2, 0.3, 0.5]);
    assert!(laid_over(&design[..1], &[]).is_err());
    assert!(laid_over(&design, &[[f64::NAN, 0.0, 0.0]]).is_err());
    Ok(())
}
