//! The plan of a run: how many to start, on how many loads, and what that takes.

use crate::outcome::Tails;
use crate::{Belief, Cost, Experience, Extras, LoadLoss, LoadTime, Packing, Plate, Prices, ResinNeed, RunError, Yield, pack, resin_need};
use quantity::{Note, Noted};

/// What is known before a run.
#[derive(Clone, Debug, PartialEq)]
pub struct PlanInput {
    /// Good parts wanted.
    pub wanted: u32,
    /// Chance with which they should come, 0.5..=0.9999; absent: 0.95.
    pub certainty: Option<f64>,
    /// Parts made and good so far, the same part on the same bench; absent or none made: an assumption.
    pub experience: Option<Experience>,
    /// How often a whole load is lost; absent: never, and said so.
    pub load_loss: Option<LoadLoss>,
    /// The plate; absent: all on one load.
    pub plate: Option<Plate>,
    /// Diameter of the circle a part keeps to itself on the plate, mm.
    pub footprint_mm: Option<f64>,
    /// Volume of one part, mL.
    pub part_ml: Option<f64>,
    /// Resin beside the parts; absent: common practice, and said so.
    pub extras: Option<Extras>,
    /// Time of a load.
    pub time: Option<LoadTime>,
    /// Prices.
    pub prices: Option<Prices>,
}

/// The plan.
#[derive(Clone, Debug, PartialEq)]
pub struct Plan {
    /// Good parts wanted.
    pub wanted: u32,
    /// The chance asked for.
    pub certainty: f64,
    /// Parts to start: the fewest that reach it.
    pub start: u32,
    /// Chance of enough good ones with that many.
    pub chance: f64,
    /// What is believed of the yield.
    pub belief: Belief,
    /// How the chance was worked out, in words.
    pub basis: String,
    /// How many go on each load.
    pub per_load: Vec<u32>,
    /// Where they stand on the fullest load, from the middle of the plate outward taken, listed by rows; empty without plate or footprint.
    pub places_mm: Vec<[f64; 2]>,
    /// The full plate: all its places.
    pub packing: Option<Packing>,
    /// Resin, where the part's volume is known.
    pub resin: Option<ResinNeed>,
    /// Minutes of one load and of all.
    pub minutes: Option<[f64; 2]>,
    /// Money, where prices are known.
    pub cost: Option<Cost>,
    /// For the picture: number started, chance of enough good ones.
    pub curve: Vec<(u32, f64)>,
    /// What was taken for true without evidence.
    pub assumptions: Vec<Assumption>,
}

/// Something taken for true, and the line of the document that changes it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Assumption {
    /// What.
    pub text: String,
    /// The key.
    pub switch: &'static str,
}

/// More than one bench makes of one part.
const MOST_WANTED: u32 = 1_000;
/// Where the search for enough starts ends.
const MOST_STARTS: u32 = 20_000;
/// Taken where nothing was made yet: common practice, no source.
const ASSUMED: Experience = Experience { made: 10, good: 8 };

/// Works the plan out.
///
/// Fewest loads first, then fewest starts; parts are spread evenly over the loads. Where a load may be lost as a whole, another load is
/// opened when that saves a fifth of the starts or nothing else reaches the chance.
///
/// # Errors
/// See [`RunError`]; thin evidence is no error but comes as notes and assumptions.
pub fn plan(input: &PlanInput) -> Result<Noted<Plan>, RunError> {
    plan_packed_by(input, pack)
}

/// The same with another's [`pack`], such as one that remembers: the plate is most of the work.
///
/// # Errors
/// As [`plan`].
pub fn plan_packed_by(input: &PlanInput, pack: impl FnOnce(Plate, f64) -> Result<Packing, RunError>) -> Result<Noted<Plan>, RunError> {
    let certainty = input.certainty.unwrap_or(0.95);
    check(input, certainty)?;
    let mut assumptions = Vec::new();
    let share = Yield::Learnt(experience(input, &mut assumptions));
    let loss = load_loss(input, &mut assumptions);
    let packing = packing(input, pack, &mut assumptions)?;
    let capacity = packing.as_ref().map_or(u32::MAX, |p| p.places_mm.len() as u32);

    let mut tails = Tails::new(input.wanted, share);
    let (start, loads, chance) = choose(input.wanted, certainty, capacity, loss, &mut tails)?;
    let per_load = spread(start, loads.min(start));
    let extras = extras(input, &mut assumptions);
    let resin = input.part_ml.map(|part_ml| resin_need(start, part_ml, extras)).transpose()?;
    let minutes = input.time.map(|time| time.minutes()).transpose()?.map(|one| [one, one * per_load.len() as f64]);
    let belief = share.belief();
    let plan = Plan {
        wanted: input.wanted,
        certainty,
        start,
        chance,
        basis: basis(input, share, loss),
        places_mm: packing.as_ref().map_or(Vec::new(), |p| middle_places(p, input.plate, per_load.first().copied().unwrap_or(0))),
        cost: input.prices.map(|prices| cost(input.wanted, start, belief.mean, &prices, resin, minutes, per_load.len())).transpose()?,
        curve: curve(input.wanted, start, loads, capacity, loss, &mut tails),
        belief,
        per_load,
        packing,
        resin,
        minutes,
        assumptions,
    };
    let notes = notes(input, &plan, loss);
    Ok(Noted { value: plan, notes })
}

fn check(input: &PlanInput, certainty: f64) -> Result<(), RunError> {
    if !(1..=MOST_WANTED).contains(&input.wanted) {
        return Err(RunError::Wanted { found: input.wanted, most: MOST_WANTED });
    }
    if !(0.5..=0.9999).contains(&certainty) {
        return Err(RunError::Certainty { found: certainty });
    }
    if let Some(experience) = input.experience {
        Yield::Learnt(experience).check()?;
    }
    input.load_loss.map_or(Ok(()), |loss| loss.check())
}

fn experience(input: &PlanInput, assumptions: &mut Vec<Assumption>) -> Experience {
    if let Some(experience) = input.experience.filter(|e| e.made > 0) {
        return experience;
    }
    let Experience { made, good } = ASSUMED;
    assumptions.push(Assumption {
        text: format!(
            "Nothing is known of this part's yield; it is taken as if {good} of {made} had come out good (common practice, no source)."
        ),
        switch: "[run] made, good",
    });
    ASSUMED
}

fn load_loss(input: &PlanInput, assumptions: &mut Vec<Assumption>) -> LoadLoss {
    input.load_loss.unwrap_or_else(|| {
        let text = "No load is lost as a whole: parts fail one by one.".to_string();
        assumptions.push(Assumption { text, switch: "[run] load_loss" });
        LoadLoss::Known(0.0)
    })
}

fn packing(
    input: &PlanInput,
    pack: impl FnOnce(Plate, f64) -> Result<Packing, RunError>,
    assumptions: &mut Vec<Assumption>,
) -> Result<Option<Packing>, RunError> {
    if let (Some(plate), Some(footprint_mm)) = (input.plate, input.footprint_mm) {
        return pack(plate, footprint_mm).map(Some);
    }
    assumptions.push(Assumption { text: "All parts fit on one load: plate or footprint is not known.".to_string(), switch: "[run] plate" });
    Ok(None)
}

fn extras(input: &PlanInput, assumptions: &mut Vec<Assumption>) -> Extras {
    let extras = input.extras.unwrap_or_default();
    if input.extras.is_none() && input.part_ml.is_some() {
        let text = format!(
            "Supports take {:.0} % of the parts' volume and {:.0} % sticks to surfaces (common practice, no source); the vat may run empty.",
            100.0 * extras.supports_share,
            100.0 * extras.loss_share
        );
        assumptions.push(Assumption { text, switch: "[run] supports, loss, vat_least_ml" });
    }
    extras
}

/// Starts, loads and chance: the fewest loads with which the chance can be reached, on them the fewest starts. One more load is taken
/// as long as it saves a fifth of the starts, which it does where a single lost load would be the end of the run.
fn choose(wanted: u32, certainty: f64, capacity: u32, loss: LoadLoss, tails: &mut Tails) -> Result<(u32, u32, f64), RunError> {
    let mut best: Option<(u32, u32, f64)> = None;
    for loads in wanted.div_ceil(capacity)..=MOST_STARTS {
        let found = fewest_starts(wanted, certainty, loads, loads.saturating_mul(capacity).min(MOST_STARTS), loss, tails);
        match (found, best) {
            (Some((start, chance)), None) => best = Some((start, loads, chance)),
            (Some((start, chance)), Some((before, ..))) if f64::from(start) < 0.8 * f64::from(before) => {
                best = Some((start, loads, chance))
            }
            (None, None) if loads.saturating_mul(capacity) < MOST_STARTS || loads < 8 => {}
            _ => break,
        }
        if loss == LoadLoss::Known(0.0) && best.is_some() {
            break;
        }
    }
    best.ok_or(RunError::OutOfReach { wanted, most: MOST_STARTS })
}

/// The fewest starts on so many loads. One more part on any load never lowers the chance, so halving finds them.
fn fewest_starts(wanted: u32, certainty: f64, loads: u32, most: u32, loss: LoadLoss, tails: &mut Tails) -> Option<(u32, f64)> {
    let (mut low, mut high) = (wanted, most);
    if most < wanted || tails.at(most) < certainty || tails.chance(most, loads, loss) < certainty {
        return None;
    }
    while low < high {
        let middle = low + (high - low) / 2;
        // Losing loads can only lower the chance, so most numbers need no mixture.
        if tails.at(middle) >= certainty && tails.chance(middle, loads, loss) >= certainty { high = middle } else { low = middle + 1 }
    }
    Some((low, tails.chance(low, loads, loss)))
}

/// Evenly over the loads, fuller ones first.
fn spread(start: u32, loads: u32) -> Vec<u32> {
    (0..loads).map(|load| start / loads + u32::from(load < start % loads)).collect()
}

/// From the number wanted to well past the number started, at most 202 points, on the plan's loads and more where they are full.
fn curve(wanted: u32, start: u32, loads: u32, capacity: u32, loss: LoadLoss, tails: &mut Tails) -> Vec<(u32, f64)> {
    let last = start + (start - wanted).max(4) / 2 + 2;
    let step = (last - wanted).div_ceil(200).max(1);
    let mut numbers: Vec<u32> = (wanted..=last).step_by(step as usize).collect();
    if let Err(place) = numbers.binary_search(&start) {
        numbers.insert(place, start);
    }
    numbers.into_iter().map(|n| (n, tails.chance(n, n.div_ceil(capacity).max(loads), loss))).collect()
}

fn middle_places(packing: &Packing, plate: Option<Plate>, count: u32) -> Vec<[f64; 2]> {
    let Some(plate) = plate else { return Vec::new() };
    let off = |p: &[f64; 2]| (p[0] - 0.5 * plate.width_mm).hypot(p[1] - 0.5 * plate.depth_mm);
    let mut places = packing.places_mm.clone();
    // Equal distances differ in their last bits from one pattern to the next: compare to the micrometre, then by place.
    places.sort_by(|p, q| {
        ((off(p) * 1e3).round().total_cmp(&(off(q) * 1e3).round())).then(p[1].total_cmp(&q[1])).then(p[0].total_cmp(&q[0]))
    });
    places.truncate(count as usize);
    places.sort_by(|p, q| p[1].total_cmp(&q[1]).then(p[0].total_cmp(&q[0])));
    places
}

fn cost(
    wanted: u32,
    start: u32,
    mean: f64,
    prices: &Prices,
    resin: Option<ResinNeed>,
    minutes: Option<[f64; 2]>,
    loads: usize,
) -> Result<Cost, RunError> {
    for price in [prices.resin_per_ml, prices.bench_per_hour, prices.per_load, prices.per_start] {
        crate::error::within("a price", price, 0.0, 1e9, "0 to 1e9")?;
    }
    let total = resin.map_or(0.0, |r| r.total_ml) * prices.resin_per_ml
        + minutes.map_or(0.0, |m| m[1]) / 60.0 * prices.bench_per_hour
        + loads as f64 * prices.per_load
        + f64::from(start) * prices.per_start;
    Ok(Cost::of(total, start, wanted, mean))
}

fn basis(input: &PlanInput, share: Yield, loss: LoadLoss) -> String {
    let parts = match (share, input.experience.filter(|e| e.made > 0)) {
        (Yield::Learnt(e), Some(_)) => format!("{} good of {} made, nothing else presumed (beta-binomial, flat prior)", e.good, e.made),
        _ => "no experience yet; an assumed yield (beta-binomial)".to_string(),
    };
    match loss {
        LoadLoss::Known(q) if q > 0.0 => format!("{parts}; each load is lost as a whole with a chance of {:.1} %", 100.0 * q),
        LoadLoss::Learnt { run, lost } => format!("{parts}; {lost} of {run} loads were lost as a whole"),
        LoadLoss::Known(_) => parts,
    }
}

fn notes(input: &PlanInput, plan: &Plan, loss: LoadLoss) -> Vec<Note> {
    let mut notes = Vec::new();
    let [low, high] = plan.belief.middle_90;
    let made = input.experience.map_or(0, |e| e.made);
    // Below 20 made the middle 90 % of the yield is wider than about 0.25, and it, not chance, drives the spares.
    if made < 20 {
        let before = if made == 0 { "without experience".to_string() } else { format!("from {made} made") };
        notes.push(Note::new(
            format!(
                "The yield is known poorly {before}: {:.0} to {:.0} % at 90 %. That asks for {} spares.",
                100.0 * low,
                100.0 * high,
                plan.start - plan.wanted
            ),
            "Make one load, count the good ones, enter made and good, and plan the rest anew.",
        ));
    }
    if loss == LoadLoss::Known(0.0) && plan.per_load.len() == 1 && plan.start > 1 {
        notes.push(Note::new(
            format!("All {} parts stand on one load: one failure of the plate or the resin would take them all.", plan.start),
            "Split the run over two loads, or enter how often a load is lost ([run] load_loss).",
        ));
    }
    notes
}
