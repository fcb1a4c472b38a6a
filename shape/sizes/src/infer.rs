use crate::answer::{Candidate, CavityOdds, Chooser, Inference, ScalePosterior, ShaftOdds, SizeOdds, SystemOdds};
use crate::common::{COARSE_PITCH, CommonCauses, FINE_PITCH, take_apart, total_covariance};
use crate::echo::{speakers, without_doubles};
use crate::evidence::{Decision, Evidence, SizesError};
use crate::frames::{Frame, frames};
use crate::next::best_measurement;
use crate::notes::notes;
use crate::persize::SizeSums;
use crate::roundness::SAME_MM;
use crate::weigh::{COARSE_STEPS, FINE_STEPS, Question, SizeTable, Weighed, unit_of, weigh};
use nalgebra::{DMatrix, DVector};
use quantity::{Noted, mm_label};
use rayon::prelude::*;

/// Candidates below these odds are not listed.
const LEAST_ODDS: f64 = 1e-3;
/// Candidates listed for one size at most.
const MOST_CANDIDATES: usize = 12;
/// A size is chosen by its odds when it beats everything else together.
const ENOUGH_ODDS: f64 = 0.5;

/// Odds of the round sizes a maker meant, over the whole part at once.
///
/// - **Needs** a covariance with the common scale in it; the shaft's own doubt is part of that.
/// - **Good to** a percent or so of odds: grids over the common causes err by 3e-4, tables by 1e-3, and causes beyond the third are
///   counted as each size's own. How honest the odds are is shown by the test `odds_keep_their_word`.
/// - Same input, same answer: no random numbers.
///
/// # Errors
/// [`SizesError`] when the evidence is unreadable (NaN, sizes outside the trade, unknown names) or the decisions leave no shaft.
pub fn infer(evidence: &Evidence) -> Result<Noted<Inference>, SizesError> {
    evidence.check()?;
    let unique = without_doubles(evidence);
    let mut value = infer_unique(&unique.evidence)?;
    value.sizes = evidence
        .sizes
        .iter()
        .zip(&unique.index)
        .map(|(size, at)| SizeOdds { name: size.name.clone(), ..value.sizes[*at].clone() })
        .collect();
    let notes = notes(&value, evidence);
    Ok(Noted { value, notes })
}

fn infer_unique(evidence: &Evidence) -> Result<Inference, SizesError> {
    let frames = frames(evidence)?;
    let weighed = weigh_all(evidence, &frames);
    let shares = frame_shares(&weighed);
    let odds = frame_odds(&weighed, &shares);
    let mut sizes: Vec<SizeOdds> = (0..evidence.sizes.len()).into_par_iter().map(|i| size_odds(evidence, i, &weighed, &shares)).collect();
    let best_frame = frames.iter().zip(&odds).max_by(|a, b| a.1.total_cmp(b.1));
    set_against(&mut sizes, evidence, best_frame.map_or(1.0, |(frame, _)| frame.scale));
    Ok(Inference {
        system: system_odds(&weighed, &shares),
        scale: scale_posterior(evidence, &weighed, &shares),
        shaft: shaft_odds(&frames, &odds),
        cavity: frames.iter().any(|frame| frame.cavity).then(|| cavity_odds(&frames, &odds)),
        best_measurement: best_measurement(&sizes, &frames, &weighed, &shares),
        sizes,
    })
}

/// All frames coarsely, then those that matter finely.
fn weigh_all(evidence: &Evidence, frames: &[Frame]) -> Vec<Weighed> {
    let total = total_covariance(evidence);
    let plain = take_apart(&total);
    let speaks = speakers(evidence);
    let causes: Vec<CommonCauses> = frames.iter().map(|frame| causes_in(frame, &total, &plain, evidence)).collect();
    let weigh_one = |frame: &Frame, causes: &CommonCauses, pitch: f64, steps: f64| {
        weigh(&evidence.sizes, frame, causes, &causes.grid(pitch), tables(evidence, frame, causes, steps), &speaks)
    };
    // Frames know nothing of each other, and are collected in their order: the same on any number of threads.
    let coarse: Vec<Weighed> =
        frames.par_iter().zip(&causes).map(|(frame, causes)| weigh_one(frame, causes, COARSE_PITCH, COARSE_STEPS)).collect();
    let odds = frame_odds(&coarse, &frame_shares(&coarse));
    let matters: Vec<bool> = odds.into_iter().map(|odds| odds > LIGHT_FRAME).collect();
    frames
        .par_iter()
        .zip(&causes)
        .zip(coarse)
        .zip(matters)
        .map(|(((frame, causes), coarse), matters)| if matters { weigh_one(frame, causes, FINE_PITCH, FINE_STEPS) } else { coarse })
        .collect()
}

/// The causes as they look in a frame: everything grows with its scale; a doubt of that scale is one more common cause.
fn causes_in(frame: &Frame, total: &DMatrix<f64>, plain: &CommonCauses, evidence: &Evidence) -> CommonCauses {
    let base = if frame.scale_sigma > 0.0 {
        let values = DVector::from_iterator(total.nrows(), evidence.sizes.iter().map(|size| size.value_mm * frame.scale_sigma));
        take_apart(&(total + &values * values.transpose()))
    } else {
        plain.clone()
    };
    let factor = frame.scale * frame.noise;
    CommonCauses { loadings: base.loadings * factor, own_mm: base.own_mm.iter().map(|own| own * factor).collect() }.bearable()
}

fn tables(evidence: &Evidence, frame: &Frame, causes: &CommonCauses, steps_per_sigma: f64) -> Vec<SizeTable> {
    let table = |(i, size): (usize, &crate::Measured)| {
        let decisions: Vec<&Decision> = evidence.decisions.iter().filter(|decision| decision.name() == size.name).collect();
        let own_mm = causes.own_mm.get(i).copied().unwrap_or(1.0);
        let (process, reach_mm) = (evidence.process, causes.reach_mm(i));
        SizeTable::new(&Question { size, frame, own_mm, reach_mm, process, decisions: &decisions, steps_per_sigma })
    };
    evidence.sizes.iter().enumerate().map(table).collect()
}

/// Frames that carry less than this share of the odds are left out of the sizes' answers; they are still counted for the shaft.
const LIGHT_FRAME: f64 = 1e-3;

/// Factor that brings each frame's weights to a common total of 1. If nothing explains anything (all weights vanish), all frames keep
/// the share they had before looking; their weights are zero anyway.
fn frame_shares(weighed: &[Weighed]) -> Vec<f64> {
    let top = weighed.iter().filter(|w| w.rivals.iter().sum::<f64>() > 0.0).map(|w| w.log_scale).fold(f64::NEG_INFINITY, f64::max);
    let factors: Vec<f64> = weighed.iter().map(|w| if top.is_finite() { (w.log_scale - top).exp() } else { 0.0 }).collect();
    let sum: f64 = weighed.iter().zip(&factors).map(|(w, factor)| factor * w.rivals.iter().sum::<f64>()).sum();
    if sum > 0.0 && sum.is_finite() { factors.iter().map(|factor| factor / sum).collect() } else { vec![0.0; weighed.len()] }
}

fn system_odds(weighed: &[Weighed], shares: &[f64]) -> SystemOdds {
    let mut units = [0.0; 4];
    for (one, share) in weighed.iter().zip(shares) {
        for (rival, weight) in one.rivals.iter().enumerate() {
            if let Some(unit) = units.get_mut(unit_of(rival)) {
                *unit += share * weight;
            }
        }
    }
    if units.iter().sum::<f64>() <= 0.0 {
        units = [0.0, 0.0, 0.0, 1.0];
    }
    SystemOdds { mm: units[0], inch: units[1], mixed: units[2], not_round: units[3] }
}

fn size_odds(evidence: &Evidence, i: usize, weighed: &[Weighed], shares: &[f64]) -> SizeOdds {
    let mut sums = SizeSums::default();
    for (one, share) in weighed.iter().zip(shares).filter(|(one, share)| *share * one.rivals.iter().sum::<f64>() > LIGHT_FRAME) {
        if let (Some(table), Some(rows)) = (one.tables.get(i), one.steps.get(i)) {
            sums.add(table, rows, *share);
        }
    }
    let (size, variance) = (&evidence.sizes[i], evidence.covariance[(i, i)]);
    let (mut candidates, not_round) = sums.odds(LEAST_ODDS);
    let decision = evidence.decisions.iter().rev().find_map(|d| match d {
        Decision::Choose { name, mm } if *name == size.name => Some(*mm),
        _ => None,
    });
    let (chosen, chooser) = chosen(&candidates, decision);
    candidates.truncate(MOST_CANDIDATES);
    let (refined_mm, refined_sigma_mm) = sums.refined().unwrap_or((size.value_mm, variance.sqrt()));
    SizeOdds {
        name: size.name.clone(),
        measured_mm: size.value_mm,
        measured_sigma_mm: variance.sqrt(),
        candidates,
        not_round,
        refined_mm,
        refined_sigma_mm,
        chosen,
        chooser,
        against_sigmas: None,
    }
}

fn chosen(candidates: &[Candidate], decision: Option<f64>) -> (Option<Candidate>, Option<Chooser>) {
    if let Some(mm) = decision {
        let known = candidates.iter().find(|candidate| (candidate.mm - mm).abs() <= SAME_MM).cloned();
        return (known.or(Some(Candidate { label: mm_label(mm), mm, odds: 1.0 })), Some(Chooser::Person));
    }
    match candidates.first() {
        Some(first) if first.odds > ENOUGH_ODDS => (Some(first.clone()), Some(Chooser::Odds)),
        _ => (None, None),
    }
}

/// Deviation of each chosen size from what was measured, given the others, in sigmas: u_i = (K^-1 r)_i / sqrt((K^-1)_ii), the
/// leave-one-out residual of a normal model (Rasmussen and Williams 2006, eq. 5.12). Chosen sizes that are out by more than four of
/// their own sigmas don't speak about the others.
fn set_against(sizes: &mut [SizeOdds], evidence: &Evidence, scale: f64) {
    let total = total_covariance(evidence);
    let residual = |i: usize, sizes: &[SizeOdds]| sizes[i].chosen.as_ref().map(|c| sizes[i].measured_mm * scale - c.mm);
    let with_choice: Vec<usize> = (0..sizes.len()).filter(|i| sizes[*i].chosen.is_some()).collect();
    let sound: Vec<usize> = with_choice
        .iter()
        .copied()
        .filter(|i| residual(*i, sizes).is_some_and(|r| r.abs() <= 4.0 * scale * total[(*i, *i)].sqrt()))
        .collect();
    for i in with_choice {
        let among: Vec<usize> = sound.iter().copied().filter(|j| *j != i).chain([i]).collect();
        let k = DMatrix::from_fn(among.len(), among.len(), |a, b| scale * scale * total[(among[a], among[b])]);
        let r = DVector::from_iterator(among.len(), among.iter().map(|j| residual(*j, sizes).unwrap_or(0.0)));
        let inverse = solve::symmetric_inverse(&k);
        let last = among.len() - 1;
        let precision = inverse[(last, last)];
        let pull: f64 = inverse.row(last).iter().zip(r.iter()).map(|(p, r)| p * r).sum();
        sizes[i].against_sigmas = Some(pull / precision.max(f64::MIN_POSITIVE).sqrt()).filter(|u| u.is_finite());
    }
}

/// Odds of each frame.
fn frame_odds(weighed: &[Weighed], shares: &[f64]) -> Vec<f64> {
    weighed.iter().zip(shares).map(|(one, share)| share * one.rivals.iter().sum::<f64>()).collect()
}

fn shaft_odds(frames: &[Frame], odds: &[f64]) -> Vec<ShaftOdds> {
    let mut out: Vec<ShaftOdds> = Vec::new();
    for (frame, odds) in frames.iter().zip(odds).filter(|(frame, _)| frame.shaft_mm > 0.0) {
        match out.iter_mut().find(|shaft| shaft.mm == frame.shaft_mm) {
            Some(shaft) => shaft.odds += odds,
            None => out.push(ShaftOdds { label: frame.shaft_label.clone(), mm: frame.shaft_mm, odds: *odds }),
        }
    }
    out.sort_by(|a, b| b.odds.total_cmp(&a.odds));
    out.retain(|shaft| shaft.odds >= LEAST_ODDS);
    out
}

fn cavity_odds(frames: &[Frame], odds: &[f64]) -> CavityOdds {
    let sum = |cavity: bool| frames.iter().zip(odds).filter(|(frame, _)| frame.cavity == cavity).map(|(_, odds)| odds).sum();
    CavityOdds { part_was_round: sum(false), cavity_was_round: sum(true) }
}

/// Scale that best carries the measured sizes to the true ones at each place (least squares in own sigmas), averaged over the places.
fn scale_posterior(evidence: &Evidence, weighed: &[Weighed], shares: &[f64]) -> ScalePosterior {
    let (mut sum, mut mean, mut square) = (0.0, 0.0, 0.0);
    for (one, share) in weighed.iter().zip(shares) {
        let precision = || one.tables.iter().map(|table| 1.0 / (table.own_mm() * table.own_mm()));
        let bottom: f64 = evidence.sizes.iter().zip(precision()).map(|(size, p)| p * size.value_mm * size.value_mm).sum();
        for place in one.places.iter().filter(|_| bottom > 0.0) {
            let top: f64 = evidence.sizes.iter().zip(precision()).zip(&place.values_mm).map(|((size, p), v)| p * size.value_mm * v).sum();
            let (weight, scale) = (share * place.weight.iter().sum::<f64>(), top / bottom);
            sum += weight;
            mean += weight * scale;
            square += weight * scale * scale;
        }
    }
    if sum <= 0.0 {
        return ScalePosterior { value: 1.0, sigma: evidence.systematics.scale };
    }
    ScalePosterior { value: mean / sum, sigma: (square / sum - (mean / sum).powi(2)).max(0.0).sqrt() }
}
