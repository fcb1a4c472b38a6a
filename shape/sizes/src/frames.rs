use crate::evidence::{Decision, Evidence, Kind, Process, Role, SHAFT, Shaft, SizesError};
use crate::roundness::{RoundSize, SAME_MM, round_sizes, weights_at};
use crate::zone::normal_density;
use quantity::mm_label;

/// One way to read all measurements at once: this shaft, and the part or its cavity as the thing that was dimensioned.
#[derive(Clone, Debug, PartialEq)]
pub struct Frame {
    /// What the shaft is called in this frame.
    pub shaft_label: String,
    /// Its diameter, mm; 0 when there is no shaft.
    pub shaft_mm: f64,
    /// Whether the sizes were meant for the mould's cavity.
    pub cavity: bool,
    /// What every measured size is multiplied by.
    pub scale: f64,
    /// Relative sigma of that factor, on top of the common causes.
    pub scale_sigma: f64,
    /// What every stated sigma is multiplied by.
    pub noise: f64,
    /// Probability before the sizes are looked at.
    pub prior: f64,
    /// How well the shaft suits a maker in mm, in inches, in both, in neither; about 1.
    pub suits: [f64; 4],
}

/// A stated shaft is wrong once in so many jobs (common practice, no source: a nominal read off a ruler or guessed from a catalogue).
const MISTAKEN: f64 = 0.04;
/// Of the mistaken ones, this share is off by more than a slip between neighbouring sizes.
const FAR_OFF: f64 = 0.15;
/// A maker's shaft is round in the maker's own unit in so many cases, for mostly one maker made both; common
/// practice, no source. The rest sit on a shaft from elsewhere.
const SHAFT_IN_OWN_UNIT: f64 = 0.93;
/// True errors over stated ones, and how often (common practice, no source: stated sigmas seldom hold all that goes wrong).
const NOISES: [(f64, f64); 3] = [(1.0, 0.65), (2.0, 0.27), (4.0, 0.08)];
/// Frames less likely than this before looking are left out.
const LEAST_PRIOR: f64 = 5e-4;
/// Frames at most, the likeliest; a shaft stated so vaguely that this cuts any has no size worth the name.
const MOST_FRAMES: usize = 24;

/// All frames worth weighing, most likely first.
pub fn frames(evidence: &Evidence) -> Result<Vec<Frame>, SizesError> {
    let shafts = match &evidence.shaft {
        Some(shaft) => shaft_frames(shaft, &evidence.decisions)?,
        None => vec![no_shaft()],
    };
    let mut all: Vec<Frame> = shafts.into_iter().flat_map(|frame| with_cavity(frame, evidence.process)).flat_map(with_noise).collect();
    let sum: f64 = all.iter().map(|frame| frame.prior).sum();
    all.iter_mut().for_each(|frame| frame.prior /= sum);
    all.sort_by(|a, b| b.prior.total_cmp(&a.prior));
    let best = all.first().map_or(0.0, |frame| frame.prior);
    all.retain(|frame| frame.prior >= LEAST_PRIOR * best);
    all.truncate(MOST_FRAMES);
    Ok(all)
}

fn no_shaft() -> Frame {
    Frame {
        shaft_label: String::new(),
        shaft_mm: 0.0,
        cavity: false,
        scale: 1.0,
        scale_sigma: 0.0,
        noise: 1.0,
        prior: 1.0,
        suits: [1.0; 4],
    }
}

fn shaft_frames(shaft: &Shaft, decisions: &[Decision]) -> Result<Vec<Frame>, SizesError> {
    let stated = shaft.stated.mm;
    let mut rivals: Vec<(RoundSize, f64)> = rivals_of(shaft);
    let sum: f64 = rivals.iter().map(|(_, weight)| weight).sum();
    let (weight_mm, weight_inch) = weights_at(stated, Kind::Diameter, Role::Bore);
    // A stated size that nobody sells was measured, not named: then a round neighbour is as likely as not.
    let mistaken = if weight_mm + weight_inch > 0.0 { MISTAKEN } else { 0.5 };
    if sum > 0.0 {
        rivals.iter_mut().for_each(|(_, weight)| *weight *= mistaken / sum);
    }
    rivals.insert(0, (RoundSize { mm: stated, weight_mm, weight_inch }, 1.0 - mistaken));
    for decision in decisions.iter().filter(|decision| decision.name() == SHAFT) {
        decide(&mut rivals, decision);
    }
    let frames: Vec<Frame> =
        rivals.into_iter().filter(|(_, prior)| *prior > 0.0).map(|(size, prior)| frame_of(size, prior, shaft)).collect();
    if frames.is_empty() { Err(SizesError::NothingLeft) } else { Ok(frames) }
}

/// Round sizes that a shaft of this stated size may really be: near ones by a slip of name or gauge, and a few far ones.
fn rivals_of(shaft: &Shaft) -> Vec<(RoundSize, f64)> {
    let stated = shaft.stated.mm;
    // Misread by a vernier tenth, or by 0.4 % of a worn scale (common practice, no source), on top of the stated doubt.
    let near = (shaft.stated.sigma_mm.powi(2) + 0.03f64.powi(2) + (0.004 * stated).powi(2)).sqrt();
    let far = 0.04 * stated;
    let mistake = |mm: f64| (1.0 - FAR_OFF) * normal_density(mm - stated, near) + FAR_OFF * normal_density(mm - stated, near.max(far));
    let reach = (4.0 * near).max(2.0 * far);
    round_sizes((stated - reach).max(0.1), stated + reach, Kind::Diameter, Role::Bore, 0.2 * near)
        .sizes
        .into_iter()
        .filter(|size| (size.mm - stated).abs() > SAME_MM)
        .map(|size| (size, (size.weight_mm + size.weight_inch) * mistake(size.mm)))
        .collect()
}

fn decide(rivals: &mut Vec<(RoundSize, f64)>, decision: &Decision) {
    match decision {
        Decision::Choose { mm, .. } => {
            rivals.iter_mut().filter(|(size, _)| (size.mm - mm).abs() > SAME_MM).for_each(|(_, prior)| *prior = 0.0);
            if rivals.iter().all(|(_, prior)| *prior == 0.0) {
                let (weight_mm, weight_inch) = weights_at(*mm, Kind::Diameter, Role::Bore);
                rivals.push((RoundSize { mm: *mm, weight_mm, weight_inch }, 1.0));
            }
        }
        Decision::Refuse { mm, .. } => {
            rivals.iter_mut().filter(|(size, _)| (size.mm - mm).abs() <= SAME_MM).for_each(|(_, prior)| *prior = 0.0);
        }
        Decision::Reading { mm, sigma_mm, .. } => {
            // A shaft is at or under nominal by a few hundredths: the reading is widened by 0.02 mm for it.
            let sigma = sigma_mm.hypot(0.02);
            rivals.iter_mut().for_each(|(size, prior)| *prior *= normal_density(mm - size.mm, sigma).max(1e-300));
        }
    }
}

fn frame_of(size: RoundSize, prior: f64, shaft: &Shaft) -> Frame {
    let label = if size.weight_mm + size.weight_inch > 0.0 { size.label() } else { mm_label(size.mm) };
    // The stated doubt is no doubt of this frame's own: the covariance carries it already.
    let scale = size.mm / shaft.stated.mm;
    Frame { shaft_label: label, shaft_mm: size.mm, cavity: false, scale, scale_sigma: 0.0, noise: 1.0, prior, suits: suits(size) }
}

/// How likely the shaft is for each kind of maker, relative to a maker who works in both.
fn suits(size: RoundSize) -> [f64; 4] {
    let sum = size.weight_mm + size.weight_inch;
    if sum <= 0.0 {
        return [1.0; 4];
    }
    let (mm, inch) = (size.weight_mm / sum, size.weight_inch / sum);
    let other = 1.0 - SHAFT_IN_OWN_UNIT;
    [2.0 * (SHAFT_IN_OWN_UNIT * mm + other * inch), 2.0 * (SHAFT_IN_OWN_UNIT * inch + other * mm), 1.0, 1.0]
}

/// The measuring step may have been too sure of itself; the sizes tell, when they fit nothing at its word but do at a multiple of its
/// sigmas.
fn with_noise(frame: Frame) -> Vec<Frame> {
    NOISES.iter().map(|(noise, share)| Frame { noise: *noise, prior: frame.prior * share, ..frame.clone() }).collect()
}

/// A moulded part is a rival to its cavity: the cavity is larger by 1 / (1 - shrinkage).
fn with_cavity(frame: Frame, process: Process) -> Vec<Frame> {
    let Process::Moulded { shrink_low, shrink_high, .. } = process else { return vec![frame] };
    let half = Frame { prior: 0.5 * frame.prior, ..frame };
    let (large, small) = (1.0 / (1.0 - shrink_high), 1.0 / (1.0 - shrink_low));
    let spread = (large - small) / 12f64.sqrt();
    let cavity =
        Frame { cavity: true, scale: half.scale * 0.5 * (large + small), scale_sigma: half.scale_sigma.hypot(spread), ..half.clone() };
    vec![half, cavity]
}
