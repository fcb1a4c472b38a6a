//! What the bench has learnt, from bench.toml in the job folder: into the bore, the run and the sheet.

use super::Says;
use super::evidence::Evidence;
use check::{Estimate, Learnt};
use quantity::{Length, Noted, Source};
use result::{BenchResult, Doubted, JobResult};

/// A bench file larger than this is none.
pub(super) const MAX_BENCH_BYTES: u64 = 1 << 20;

/// The process that this job is made by: what the batch says, else the resin's name.
pub(super) fn process(evidence: &Evidence) -> String {
    let document = &evidence.document;
    let said = document.batch.as_ref().and_then(|batch| batch.process.clone());
    said.or_else(|| document.resin.as_ref().map(|resin| resin.name.clone())).unwrap_or_else(|| "printed".into())
}

/// What is learnt of this job's process; `None` without a bench file.
pub(super) fn learnt(evidence: &Evidence) -> Option<Result<Noted<Learnt>, String>> {
    let bench = evidence.bench.as_ref()?;
    Some(check::learn(bench, &process(evidence)).map_err(|e| e.to_string()))
}

pub(super) fn work_out(evidence: &Evidence, sheet: &mut JobResult) {
    match learnt(evidence) {
        None => {}
        Some(Err(why)) => sheet.warn("check", None, format!("bench.toml was left out: {why}"), "Correct the record in bench.toml."),
        Some(Ok(learnt)) => {
            sheet.warn_all("check", None, &learnt.notes);
            let learnt = learnt.value;
            if learnt == Learnt::default() {
                let process = process(evidence);
                sheet.warn(
                    "check",
                    None,
                    format!("bench.toml has no records of the process `{process}`."),
                    "Name the process as the records do, with `process` in [batch].",
                );
            }
            if learnt.shrinkage.is_some() {
                sheet.assume(
                    "body",
                    "The part is enlarged by this bench's shrinkage when it is sent to the machine.",
                    "bench.toml [[size]]",
                );
            }
            sheet.bench = Some(told(evidence, learnt));
        }
    }
}

fn told(evidence: &Evidence, learnt: Learnt) -> BenchResult {
    let doubted = |estimate: Estimate| Doubted { value: estimate.value, sigma: estimate.sigma };
    BenchResult {
        process: process(evidence),
        scale: learnt.scale().map(|(value, sigma)| Doubted { value, sigma }),
        shrinkage: learnt.shrinkage.map(doubted),
        bore_offset_mm: learnt.bore_offset_mm.map(doubted),
        bore_scatter_mm: learnt.bore_offset_mm.map(|estimate| estimate.scatter),
        made_good: learnt.yielded.map(|y| [y.made, y.good]),
        loads_lost: learnt.yielded.map(|y| y.loads),
        strength: learnt.strength.into_iter().map(|(name, estimate)| (name, doubted(estimate))).collect(),
        cure_shift: learnt.cure.map(|shift| shift.map(doubted)),
    }
}

/// How bores come out of this process, and whether that was measured.
pub(super) fn bore_process(evidence: &Evidence) -> (solid::Process, bool) {
    let usual = solid::Process::printed_unmeasured();
    let Some(Ok(learnt)) = learnt(evidence) else { return (usual, false) };
    let Some(offset) = learnt.value.bore_offset_mm.filter(|offset| offset.value.is_finite() && offset.sigma.is_finite()) else {
        return (usual, false);
    };
    // Too few bores hide their scatter: until four are in, the usual one is kept as the least.
    let spread_mm = if offset.n < 4 { offset.scatter.max(usual.spread_mm) } else { offset.scatter.max(0.005) };
    let source = Source(format!("{} bores in bench.toml", offset.n));
    (solid::Process { offset: Length { mm: offset.value, sigma_mm: offset.sigma, source }, spread_mm, ..usual }, true)
}

/// Parts made and good, and loads run and lost, of this process.
pub(super) fn experience(evidence: &Evidence) -> Option<(run::Experience, Option<run::LoadLoss>)> {
    let yielded = learnt(evidence)?.ok()?.value.yielded?;
    let [run, lost] = yielded.loads;
    let experience = run::Experience { made: yielded.made, good: yielded.good };
    // A few loads of which none was lost say next to nothing: to presume nothing would then ask for a second load of spares. Until ten are in or
    // one is lost, it stays the assumption that none is.
    Some((experience, (lost > 0 || run >= 10).then_some(run::LoadLoss::Learnt { run, lost })))
}
