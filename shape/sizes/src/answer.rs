/// Odds of the unit that the maker worked in.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SystemOdds {
    /// Millimetres throughout, but for an odd size.
    pub mm: f64,
    /// Inches throughout, but for an odd size.
    pub inch: f64,
    /// Some of each.
    pub mixed: f64,
    /// No size was meant to be round.
    pub not_round: f64,
}

/// What was inferred about a whole part.
#[derive(Clone, Debug, PartialEq)]
pub struct Inference {
    /// Odds of the unit.
    pub system: SystemOdds,
    /// One a measured size, in their order.
    pub sizes: Vec<SizeOdds>,
    /// The common scale, as the sizes show it.
    pub scale: ScalePosterior,
    /// What the shaft may be, best first; empty without a shaft.
    pub shaft: Vec<ShaftOdds>,
    /// For a moulded part: was it dimensioned, or its cavity?
    pub cavity: Option<CavityOdds>,
    /// The measurement that would help the whole part most; none when nothing would help noticeably.
    pub best_measurement: Option<BestMeasurement>,
}

/// What a size may have been meant to be.
#[derive(Clone, Debug, PartialEq)]
pub struct SizeOdds {
    /// Name as measured.
    pub name: String,
    /// As measured, mm.
    pub measured_mm: f64,
    /// Its standard uncertainty as given, mm.
    pub measured_sigma_mm: f64,
    /// Round sizes, best first; those under 0.1 % are left out, and at most [`crate::infer`]'s limit are kept.
    pub candidates: Vec<Candidate>,
    /// Odds that no round size was meant.
    pub not_round: f64,
    /// Best estimate when no round size is taken: the measured value after what the other sizes say about scale and bias, mm.
    pub refined_mm: f64,
    /// Its standard uncertainty, mm.
    pub refined_sigma_mm: f64,
    /// The size to build with, if one stands out or a person chose one.
    pub chosen: Option<Candidate>,
    /// Who chose it.
    pub chooser: Option<Chooser>,
    /// How far the photographs are from the chosen size, in their sigmas, given what the other chosen sizes say about scale and bias;
    /// positive when they say larger.
    pub against_sigmas: Option<f64>,
}

impl SizeOdds {
    /// The likeliest round size other than the chosen one (or than the first, when none is chosen).
    pub fn runner_up(&self) -> Option<&Candidate> {
        let first = self.chosen.as_ref().or(self.candidates.first())?;
        self.candidates.iter().find(|candidate| candidate.mm != first.mm)
    }

    /// Doubt a reading may have to decide between the two, mm: a quarter of the gap, so that each lies two sigmas from the middle.
    pub fn deciding_sigma_mm(&self) -> Option<f64> {
        let first = self.chosen.as_ref().or(self.candidates.first())?;
        self.runner_up().map(|other| 0.25 * (other.mm - first.mm).abs())
    }
}

/// A round size with its odds.
#[derive(Clone, Debug, PartialEq)]
pub struct Candidate {
    /// "1 1/4 in", "22 mm".
    pub label: String,
    /// The size, mm.
    pub mm: f64,
    /// 0..1.
    pub odds: f64,
}

/// Who chose a size.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Chooser {
    /// A decision of a person.
    Person,
    /// It is more likely than everything else together.
    Odds,
}

/// What the shaft may be.
#[derive(Clone, Debug, PartialEq)]
pub struct ShaftOdds {
    /// "5/16 in".
    pub label: String,
    /// mm.
    pub mm: f64,
    /// 0..1.
    pub odds: f64,
}

/// Which of the two was dimensioned.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CavityOdds {
    /// The part was round.
    pub part_was_round: f64,
    /// The cavity was round; the part is smaller by the shrinkage.
    pub cavity_was_round: f64,
}

/// The common scale: true size over measured size, mistaken shaft included.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ScalePosterior {
    /// Mean.
    pub value: f64,
    /// Standard deviation.
    pub sigma: f64,
}

/// The one measurement worth making on the original.
#[derive(Clone, Debug, PartialEq)]
pub struct BestMeasurement {
    /// Which size; "shaft" for the shaft.
    pub name: String,
    /// By how much the expected number of rightly known sizes rises.
    pub expected_gain: f64,
    /// The same in words.
    pub text: String,
}
