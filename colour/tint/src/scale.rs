//! From the chip's recipe to the batch: each line checked, and a slip named with the right figure.

use crate::TintError;
use crate::bench::within;
use crate::dosing::OfTotal;
use std::collections::BTreeMap;

/// A sample and the batch written down from it.
#[derive(Clone, Debug, PartialEq)]
pub struct Batch {
    /// Bare resin of the sample, in any unit of volume or mass.
    pub sample_resin: f64,
    /// Colourants of the sample, same unit.
    pub sample: BTreeMap<String, f64>,
    /// Bare resin of the batch, same unit.
    pub batch_resin: f64,
    /// Colourants written down for the batch, same unit.
    pub batch: BTreeMap<String, f64>,
    /// Strength of the stock that a colourant was dosed as, where it was thinned.
    pub stocks: BTreeMap<String, OfTotal>,
    /// Drop of the tip used in the sample over drops of other tips on the bench: 25 uL over 50 uL is 0.5.
    pub tips: BTreeMap<String, Vec<f64>>,
}

/// One colourant of the batch.
#[derive(Clone, Debug, PartialEq)]
pub struct ScaleLine {
    /// Its name.
    pub colourant: String,
    /// What the batch needs.
    pub right: f64,
    /// What was written down.
    pub written: f64,
    /// What went wrong, if it did.
    pub slip: Option<Slip>,
}

/// A slip between sample and batch.
#[derive(Clone, Debug, PartialEq)]
pub enum Slip {
    /// So many powers of ten too much (or too little, below 0).
    TimesTen(i32),
    /// The share of the total was taken of the resin: a little too little.
    ShareOfTotalOfResin,
    /// The share on the resin was taken of the total: a little too much.
    ShareOnResinOfTotal,
    /// The stock's strength was forgotten: the neat amount was written.
    DilutionForgotten,
    /// The stock's strength was counted twice.
    DilutionTwice,
    /// The drops were counted for another tip.
    OtherTip,
    /// The sample's own amount was copied.
    NotScaled,
    /// All colourants together are right for another amount of bare resin, this one.
    OtherResin(f64),
    /// Left out.
    LeftOut,
    /// In the batch but not in the sample.
    NotInSample,
    /// Wrong, in no way known here: by this factor.
    Factor(f64),
}

/// Rounding to half of the last digit of three: what is nearer than that to the right figure is right.
const RIGHT: f64 = 0.002;
/// How near a slip's figure must be to name it.
const NAMED: f64 = 0.004;

/// Checks every line of the batch against the sample.
///
/// # Errors
/// Amounts that cannot be.
pub fn check_scale(batch: &Batch) -> Result<Vec<ScaleLine>, TintError> {
    within("scale-up, sample resin", batch.sample_resin, 1e-9..=1e9, "more than 0")?;
    within("scale-up, batch resin", batch.batch_resin, 1e-9..=1e9, "more than 0")?;
    for (name, amount) in batch.sample.iter().chain(&batch.batch) {
        within(&format!("scale-up, `{name}`"), *amount, 0.0..=1e9, "0 or more")?;
    }
    let names: std::collections::BTreeSet<&String> = batch.sample.keys().chain(batch.batch.keys()).collect();
    let mut lines: Vec<ScaleLine> = names.into_iter().map(|name| batch.line(name)).collect();
    if let Some(factor) = one_factor(&lines) {
        lines.iter_mut().for_each(|line| line.slip = Some(Slip::OtherResin(factor * batch.batch_resin)));
    }
    Ok(lines)
}

/// The factor by which all of two or more lines are off alike, where no slip with a name of its own explains it: then not each of them slipped, but
/// the resin that they were reckoned for.
fn one_factor(lines: &[ScaleLine]) -> Option<f64> {
    let unexplained = |line: &ScaleLine| matches!(line.slip, Some(Slip::TimesTen(_) | Slip::Factor(_)));
    let first = lines.first()?;
    let factor = first.written / first.right;
    let alike = |line: &ScaleLine| (line.written / line.right / factor).ln().abs() <= 2.0 * RIGHT;
    (lines.len() > 1 && lines.iter().all(|line| unexplained(line) && alike(line))).then_some(factor)
}

impl Batch {
    fn line(&self, name: &str) -> ScaleLine {
        let sample = self.sample.get(name).copied().unwrap_or(0.0);
        let written = self.batch.get(name).copied().unwrap_or(0.0);
        let right = sample / self.sample_resin * self.batch_resin;
        let slip = match (right > 0.0, written > 0.0) {
            (false, false) => None,
            (false, true) => Some(Slip::NotInSample),
            (true, false) => Some(Slip::LeftOut),
            (true, true) => self.slip(name, right, written),
        };
        ScaleLine { colourant: name.into(), right, written, slip }
    }

    /// The slip whose figure lies nearest to what was written, if any lies near and the right one does not.
    fn slip(&self, name: &str, right: f64, written: f64) -> Option<Slip> {
        let off = |factor: f64| (written / right / factor).ln().abs();
        if off(1.0) <= RIGHT && self.base_slips().iter().all(|(_, factor)| off(1.0) <= off(*factor)) {
            return None;
        }
        let mut slips: Vec<(Slip, f64)> = self.base_slips().into();
        if let Some(stock) = self.stocks.get(name) {
            slips.extend([(Slip::DilutionForgotten, stock.0), (Slip::DilutionTwice, 1.0 / stock.0)]);
        }
        slips.extend(self.tips.get(name).into_iter().flatten().map(|tip| (Slip::OtherTip, 1.0 / tip)));
        slips.push((Slip::NotScaled, self.sample_resin / self.batch_resin));
        // After the stocks and the copy: a forgotten stock of 1 % looks like two powers of ten, and says more.
        slips.extend((-4..=4).filter(|power| *power != 0).map(|power| (Slip::TimesTen(power), 10f64.powi(power))));
        let nearest = slips
            .into_iter()
            .filter(|(_, factor)| *factor > 0.0 && (factor - 1.0).abs() > 1e-9)
            .min_by(|a, b| off(a.1).total_cmp(&off(b.1)));
        match nearest {
            Some((slip, factor)) if off(factor) <= NAMED => Some(slip),
            _ if off(1.0) <= RIGHT => None,
            _ => Some(Slip::Factor(written / right)),
        }
    }

    /// Shares of the total and on the resin mixed up: all colourants together make the difference.
    fn base_slips(&self) -> [(Slip, f64); 2] {
        let swell = 1.0 + self.sample.values().sum::<f64>() / self.sample_resin;
        [(Slip::ShareOfTotalOfResin, 1.0 / swell), (Slip::ShareOnResinOfTotal, swell)]
    }
}
