//! What the bench file teaches: shrinkage, bore offset, yield, strengths, cure shift, each with its doubt.

use crate::error::{doubt, length, within};
use crate::{Bench, CheckError, Kind, RunRecord, SizeRecord, bad_share_bounds};
use quantity::{Note, Noted};
use statrs::distribution::{ChiSquared, ContinuousCDF};
use std::collections::BTreeMap;

/// A value with its standard uncertainty.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Estimate {
    /// Value.
    pub value: f64,
    /// Standard uncertainty of the value, for the mean of all to come.
    pub sigma: f64,
    /// How far single lots or parts scatter about it beyond the readings' doubt.
    pub scatter: f64,
    /// Records it rests on.
    pub n: usize,
}

/// What is known of one process.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Learnt {
    /// Linear shrinkage, a share: made = drawn (1 - shrinkage) + offset.
    pub shrinkage: Option<Estimate>,
    /// Added to every outer size by light that strays, mm.
    pub outer_offset_mm: Option<Estimate>,
    /// Added to every bore, mm; bores mostly come out small, so this is mostly negative.
    pub bore_offset_mm: Option<Estimate>,
    /// Yield.
    pub yielded: Option<LearntYield>,
    /// Ln strength by colourant, over its lots.
    pub strength: BTreeMap<String, Estimate>,
    /// Shift of L, a, b by cure.
    pub cure: Option<[Estimate; 3]>,
}

/// How many came out good.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LearntYield {
    /// Made, all runs.
    pub made: u32,
    /// Good among them.
    pub good: u32,
    /// Share bad, flat prior.
    pub bad: Estimate,
    /// Bounds of the share bad, each held at 95 %.
    pub bounds_95: [f64; 2],
    /// Loads run and lost.
    pub loads: [u32; 2],
}

impl Learnt {
    /// What to multiply drawn sizes by so that they come out right: 1 / (1 - shrinkage), with its doubt.
    pub fn scale(&self) -> Option<(f64, f64)> {
        let s = self.shrinkage?;
        let scale = 1.0 / (1.0 - s.value);
        Some((scale, scale * scale * s.sigma))
    }
}

/// Learns about one process.
///
/// # Errors
/// Records that cannot be: sizes that are none, more good than made, colours that are not finite, more than 10,000 records.
pub fn learn(bench: &Bench, process: &str) -> Result<Noted<Learnt>, CheckError> {
    let most = bench.size.len().max(bench.run.len()).max(bench.strength.len()).max(bench.cure.len());
    if most > 10_000 {
        return Err(CheckError::TooMany { what: "records of one kind", found: most, most: 10_000 });
    }
    let mut notes = Vec::new();
    let mut learnt = Learnt::default();
    sizes(bench.size.iter().filter(|r| r.process == process), &mut learnt, &mut notes)?;
    learnt.yielded = yielded(&bench.run.iter().filter(|r| r.process == process).collect::<Vec<_>>(), &mut notes)?;
    learnt.strength = strengths(bench)?;
    learnt.cure = cure(bench, process)?;
    Ok(Noted { value: learnt, notes })
}

/// Shrinkage and offsets by weighted least squares: outer sizes follow drawn (1 - s) + o, bores drawn (1 - s) + b.
///
/// With outer sizes of nearly one value, shrinkage and outer offset cannot be told apart: then the offset is taken for zero and a note
/// says what would tell them apart.
fn sizes<'a>(records: impl Iterator<Item = &'a SizeRecord>, learnt: &mut Learnt, notes: &mut Vec<Note>) -> Result<(), CheckError> {
    let records: Vec<&SizeRecord> = records.collect();
    for record in &records {
        within("a drawn size", record.drawn_mm, 1e-3, 1e5, "0.001 to 100000 mm")?;
        length("a made size", record.made_mm)?;
        doubt("the doubt of a made size", record.sigma_mm)?;
    }
    let of = |kind: Kind| records.iter().filter(|r| r.kind == kind).copied().collect::<Vec<_>>();
    let (outer, bores) = (of(Kind::Outer), of(Kind::Bore));
    if outer.is_empty() {
        if !bores.is_empty() {
            notes.push(Note::new(
                "Only bores were measured; their offset cannot be told from shrinkage.",
                "Measure an outer diameter of the same part too.",
            ));
            learnt.bore_offset_mm = Some(bore_offset(&bores, Estimate { value: 0.0, sigma: 0.005, scatter: 0.0, n: 0 }));
        }
        return Ok(());
    }
    let (shrinkage, offset) = line(&outer);
    if offset.is_none() {
        notes.push(Note::new(
            "All outer sizes are much alike: a fixed offset cannot be told from shrinkage, and none is taken.",
            "Measure a small and a large outer size of the same process.",
        ));
    }
    learnt.bore_offset_mm = (!bores.is_empty()).then(|| bore_offset(&bores, shrinkage));
    (learnt.shrinkage, learnt.outer_offset_mm) = (Some(shrinkage), offset);
    Ok(())
}

/// Slope and intercept of made - drawn over drawn; the intercept only where sizes differ by a factor of two and there are three.
fn line(records: &[&SizeRecord]) -> (Estimate, Option<Estimate>) {
    let smallest = records.iter().map(|r| r.drawn_mm).fold(f64::INFINITY, f64::min);
    let largest = records.iter().map(|r| r.drawn_mm).fold(0.0, f64::max);
    let with_offset = records.len() >= 3 && largest >= 2.0 * smallest;
    let (mut w, mut wx, mut wy, mut wxx, mut wxy) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for r in records {
        let (weight, x, y) = (r.sigma_mm.powi(-2), r.drawn_mm, r.made_mm - r.drawn_mm);
        w += weight;
        wx += weight * x;
        wy += weight * y;
        wxx += weight * x * x;
        wxy += weight * x * y;
    }
    let (slope, intercept, variances) = if with_offset {
        let det = w * wxx - wx * wx;
        ((w * wxy - wx * wy) / det, (wxx * wy - wx * wxy) / det, [w / det, wxx / det])
    } else {
        (wxy / wxx, 0.0, [1.0 / wxx, 0.0])
    };
    let residuals = records.iter().map(|r| (r.made_mm - r.drawn_mm * (1.0 + slope) - intercept) / r.sigma_mm);
    let chi2: f64 = residuals.map(|u| u * u).sum();
    let freedom = records.len() as f64 - if with_offset { 2.0 } else { 1.0 };
    // Parts scatter more than their readings doubt: widen, never narrow (Birge 1932).
    let birge = if freedom > 0.0 { (chi2 / freedom).sqrt().max(1.0) } else { 1.0 };
    let estimate = |value: f64, variance: f64| Estimate { value, sigma: birge * variance.sqrt(), scatter: 0.0, n: records.len() };
    (estimate(-slope, variances[0]), with_offset.then(|| estimate(intercept, variances[1])))
}

fn bore_offset(bores: &[&SizeRecord], shrinkage: Estimate) -> Estimate {
    let offsets: Vec<(f64, f64)> = bores.iter().map(|r| (r.made_mm - r.drawn_mm * (1.0 - shrinkage.value), r.sigma_mm)).collect();
    let found = combine(&offsets);
    // The doubt of shrinkage is common to all bores.
    let mean_drawn = bores.iter().map(|r| r.drawn_mm).sum::<f64>() / bores.len() as f64;
    Estimate { sigma: found.sigma.hypot(mean_drawn * shrinkage.sigma), ..found }
}

/// The mean of values that scatter beyond their own doubts: the scatter is estimated so that chi squared meets its expectation (Paule and
/// Mandel 1982), weights are 1 / (sigma^2 + scatter^2). Empty input gives a value of 0 with infinite doubt.
pub fn combine(values: &[(f64, f64)]) -> Estimate {
    let n = values.len();
    if n == 0 {
        return Estimate { value: 0.0, sigma: f64::INFINITY, scatter: 0.0, n };
    }
    let mean_at = |between: f64| {
        let (sum, weights) = values.iter().fold((0.0, 0.0), |(s, w), (v, sigma)| {
            let weight = 1.0 / (sigma * sigma + between);
            (s + weight * v, w + weight)
        });
        (sum / weights, weights)
    };
    let excess = |between: f64| {
        let mean = mean_at(between).0;
        values.iter().map(|(v, sigma)| (v - mean).powi(2) / (sigma * sigma + between)).sum::<f64>() - (n as f64 - 1.0)
    };
    let mut between = 0.0;
    if n > 1 && excess(0.0) > 0.0 {
        let mean = mean_at(0.0).0;
        let (mut low, mut high) = (0.0, values.iter().map(|(v, _)| (v - mean).powi(2)).sum::<f64>() + 1e-300);
        for _ in 0..200 {
            between = 0.5 * (low + high);
            if excess(between) > 0.0 { low = between } else { high = between }
        }
    }
    let (value, weights) = mean_at(between);
    Estimate { value, sigma: weights.sqrt().recip(), scatter: between.sqrt(), n }
}

fn yielded(runs: &[&RunRecord], notes: &mut Vec<Note>) -> Result<Option<LearntYield>, CheckError> {
    for run in runs {
        if run.good > run.made || run.lost > run.loads {
            let (what, part, whole) = if run.good > run.made { ("parts", run.good, run.made) } else { ("loads", run.lost, run.loads) };
            return Err(CheckError::Count { what, part: part.into(), whole: whole.into() });
        }
    }
    let sum = |f: fn(&RunRecord) -> u32| runs.iter().fold(0u32, |total, run| total.saturating_add(f(run)));
    let (made, good) = (sum(|r| r.made), sum(|r| r.good).min(sum(|r| r.made)));
    if made == 0 {
        return Ok(None);
    }
    if runs_differ(runs, f64::from(good) / f64::from(made)) {
        notes.push(Note::new(
            "The yield differs from run to run by more than chance.",
            "See what was different in the bad runs; plan by the worst until it is known.",
        ));
    }
    let (a, b) = (f64::from(made - good) + 1.0, f64::from(good) + 1.0);
    let sigma = (a * b / ((a + b).powi(2) * (a + b + 1.0))).sqrt();
    Ok(Some(LearntYield {
        made,
        good,
        bad: Estimate { value: a / (a + b), sigma, scatter: 0.0, n: runs.len() },
        bounds_95: bad_share_bounds(u64::from(made - good), u64::from(made), 0.95)?,
        loads: [sum(|r| r.loads), sum(|r| r.lost)],
    }))
}

/// Chi squared of the runs against their common yield, refused at 1 %; needs two runs and some of each kind.
fn runs_differ(runs: &[&RunRecord], good_share: f64) -> bool {
    let tried: Vec<&&RunRecord> = runs.iter().filter(|run| run.made > 0).collect();
    if tried.len() < 2 || good_share <= 0.0 || good_share >= 1.0 {
        return false;
    }
    let term = |run: &RunRecord| {
        (f64::from(run.good) - f64::from(run.made) * good_share).powi(2) / (f64::from(run.made) * good_share * (1.0 - good_share))
    };
    let chi2: f64 = tried.iter().map(|run| term(run)).sum();
    ChiSquared::new(tried.len() as f64 - 1.0).is_ok_and(|law| law.sf(chi2) < 0.01)
}

fn strengths(bench: &Bench) -> Result<BTreeMap<String, Estimate>, CheckError> {
    let mut by_colourant: BTreeMap<String, Vec<(f64, f64)>> = BTreeMap::new();
    for record in &bench.strength {
        within("a strength's logarithm", record.ln_strength, -10.0, 10.0, "-10 to 10; 0 is as first learnt")?;
        within("a strength's doubt", record.sigma, 1e-6, 10.0, "above 0, at most 10")?;
        by_colourant.entry(record.colourant.clone()).or_default().push((record.ln_strength, record.sigma));
    }
    Ok(by_colourant.into_iter().map(|(name, values)| (name, combine(&values))).collect())
}

fn cure(bench: &Bench, process: &str) -> Result<Option<[Estimate; 3]>, CheckError> {
    let mut shifts: [Vec<(f64, f64)>; 3] = Default::default();
    for record in bench.cure.iter().filter(|r| r.process == process) {
        within("the doubt of a colour reading", record.sigma, 1e-6, 50.0, "above 0, at most 50")?;
        for (axis, shift) in shifts.iter_mut().enumerate() {
            let both = [record.before[axis], record.after[axis]];
            both.iter().try_for_each(|&v| within("a Lab coordinate", v, -1000.0, 1000.0, "Lab, each below 1000").map(|_| ()))?;
            // Two readings, each with its doubt.
            shift.push((both[1] - both[0], record.sigma * std::f64::consts::SQRT_2));
        }
    }
    Ok((!shifts[0].is_empty()).then(|| shifts.map(|axis| combine(&axis))))
}
