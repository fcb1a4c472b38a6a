//! Tone lots, pairs, distance to target and master.

use check::*;
use cie::{Lab, Verdict, ciede2000};
use solve::Sampler;

fn scattered(seed: u64, n: usize, spread: f64) -> Vec<Lab> {
    let mut dice = Sampler::new(seed);
    (0..n).map(|_| Lab::new(66.0 + spread * dice.normal(), -8.0 + spread * dice.normal(), 8.0 + spread * dice.normal())).collect()
}

/// Every part is in one lot, no two of a lot differ by more than the limit, and no smaller number of lots does it (counted out for 8).
#[test]
fn lots_are_sound_and_fewest() {
    for seed in 0..40 {
        let labs = scattered(seed, 8, 0.7);
        let lots = tone_lots(&labs, 1.0, 0.1).expect("fine").value;
        let mut all: Vec<usize> = lots.iter().flat_map(|lot| lot.parts.clone()).collect();
        all.sort_unstable();
        assert_eq!(all, (0..8).collect::<Vec<_>>());
        assert!(lots.iter().all(|lot| lot.widest <= 1.0) && lots.windows(2).all(|w| w[0].parts.len() >= w[1].parts.len()));
        assert_eq!(lots.len(), fewest_by_counting(&labs), "seed {seed}");
    }
}

/// All ways to put 8 parts into lots (restricted growth), the fewest that holds.
fn fewest_by_counting(labs: &[Lab]) -> usize {
    fn go(labs: &[Lab], lot_of: &mut Vec<usize>, lots: usize, best: &mut usize) {
        let i = lot_of.len();
        if i == labs.len() {
            *best = lots.min(*best);
            return;
        }
        for lot in 0..=lots {
            if (0..i).all(|j| lot_of[j] != lot || ciede2000(labs[i], labs[j]) <= 1.0) {
                lot_of.push(lot);
                go(labs, lot_of, lots.max(lot + 1), best);
                lot_of.pop();
            }
        }
    }
    let mut best = labs.len();
    go(labs, &mut Vec::new(), 0, &mut best);
    best
}

#[test]
fn many_parts_are_sorted_in_time() {
    let labs = scattered(1, 300, 1.5);
    let sorted = tone_lots(&labs, 1.0, 0.1).expect("fine");
    assert!(sorted.value.iter().all(|lot| lot.widest <= 1.0));
    assert_eq!(sorted, tone_lots(&labs, 1.0, 0.1).expect("fine"));
}

#[test]
fn noise_that_swamps_the_limit_is_said() {
    let noted = tone_lots(&scattered(2, 5, 0.2), 1.0, 0.5).expect("fine");
    assert!(noted.notes.iter().any(|note| note.text.contains("partly chance")), "{:?}", noted.notes);
    assert!(tone_lots(&scattered(2, 5, 0.2), 1.0, 0.1).expect("fine").notes.is_empty());
}

/// Against all pairings of 8 parts; and beyond 16 the exchanges come within a few percent of what two exact halves could not beat.
#[test]
fn pairs_are_the_best() {
    for seed in 0..20 {
        let labs = scattered(seed, 8, 1.0);
        let pairs = matched_pairs(&labs).expect("fine");
        let sum: f64 = pairs.iter().map(|p| p.de00).sum();
        assert!((sum - best_sum(&labs, &mut vec![false; 8])).abs() < 1e-9);
        assert_eq!(matched_pairs(&labs[..7]).expect("fine").len(), 3);
    }
    let labs = scattered(9, 40, 1.0);
    let pairs = matched_pairs(&labs).expect("fine");
    let mut all: Vec<usize> = pairs.iter().flat_map(|p| [p.first, p.second]).collect();
    all.sort_unstable();
    assert_eq!(all, (0..40).collect::<Vec<_>>());
    assert!(matched_pairs(&labs[..1]).is_err());
}

fn best_sum(labs: &[Lab], taken: &mut Vec<bool>) -> f64 {
    let Some(i) = taken.iter().position(|t| !t) else { return 0.0 };
    taken[i] = true;
    let mut best = f64::INFINITY;
    for j in i + 1..labs.len() {
        if !taken[j] {
            taken[j] = true;
            best = best.min(ciede2000(labs[i], labs[j]) + best_sum(labs, taken));
            taken[j] = false;
        }
    }
    taken[i] = false;
    best
}

#[test]
fn against_the_target() {
    let target = Lab::new(66.0, -8.0, 8.0);
    let found = against(target, &[target, Lab::new(67.0, -8.0, 8.0), Lab::new(70.0, -8.0, 8.0)]).expect("fine");
    assert_eq!(found.iter().map(|a| a.verdict).collect::<Vec<_>>(), [Verdict::NotSeen, Verdict::Accepted, Verdict::Refused]);
    assert_eq!(found[1].words, "0.8 lighter");
    assert!(against(target, &[Lab::new(f64::NAN, 0.0, 0.0)]).is_err() && against(target, &[]).is_err());
}
