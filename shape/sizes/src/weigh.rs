use crate::common::{CommonCauses, Grid};
use crate::evidence::{Decision, Kind, Measured, Process, Role};
use crate::frames::Frame;
use crate::roundness::{Near, RoundSize, SAME_MM, round_sizes, weights_at};
use crate::zone::{Zone, normal_density, reading_density};

/// Rival readings of the part as a whole: three units, each with three shares of sizes that were never designed, and "not round".
pub const RIVALS: usize = 10;
/// Share of sizes of a profile that were never round (fillet ends, blended arcs): unknown, so all three are tried. Common practice,
/// no source.
const STRAY_SHARES: [f64; 3] = [0.08, 0.25, 0.55];
const STRAY_PRIORS: [f64; 3] = [0.45, 0.40, 0.15];
/// Before looking: mm, inch, mixed, not round. Common practice, no source; most parts keep to one unit.
const UNIT_PRIORS: [f64; 4] = [0.475, 0.475, 0.02, 0.03];
/// Even a maker in one unit makes an odd size in the other.
const ODD_SIZE: f64 = 0.02;
/// Table steps within one own sigma of a size; straight lines between are then good to 1/8 (1/6)^2 = 0.4 % of the peak.
pub const FINE_STEPS: f64 = 6.0;
/// Enough to see which frames matter: good to 2 % of the peak.
pub const COARSE_STEPS: f64 = 2.5;
/// Table entries at most for one size; the common causes are kept coarse enough for it (see `common`).
const MOST_STEPS: usize = 4000;
/// A grid is listed when its sizes lie at least this many own sigmas apart.
const TELLS_APART: f64 = 0.5;

/// Density (per mm) of a measured value under a person's word that it contradicts: one measured size in a thousand is a blunder (a
/// shadow taken for an edge), and lies anywhere within some 10 mm. Common practice, no source; what matters is that it is not 0.
const BLUNDER: f64 = 1e-4;

/// A value for each rival.
pub type Row = [f64; RIVALS];

/// Which unit a rival holds: 0 mm, 1 inch, 2 mixed, 3 not round.
pub fn unit_of(rival: usize) -> usize {
    rival / STRAY_SHARES.len()
}

/// Probability of a rival before looking.
pub fn prior_of(rival: usize) -> f64 {
    let unit = unit_of(rival);
    let stray = if unit == 3 { 1.0 } else { STRAY_PRIORS.get(rival % 3).copied().unwrap_or(0.0) };
    UNIT_PRIORS.get(unit).copied().unwrap_or(0.0) * stray
}

/// A candidate of one size under each rival.
#[derive(Clone, Debug)]
pub struct Choice {
    /// The round size.
    pub size: RoundSize,
    /// Its probability under each rival, over the density of sizes at large.
    pub prior: Row,
}

/// How well any place of the causes explains one size, worked out beforehand: the size's likelihood as a function of its shifted value.
#[derive(Clone, Debug)]
pub struct SizeTable {
    /// What it may be.
    pub choices: Vec<Choice>,
    low_mm: f64,
    step_mm: f64,
    /// Likelihoods, one row a step, over `peak`.
    rows: Vec<Row>,
    /// What the rows were divided by, per mm.
    pub peak: f64,
    own_mm: f64,
    readings: Vec<(f64, f64)>,
    zones: Vec<Zone>,
    stray: Row,
    /// Least density of the measured value under a choice: greater than 0 only for a size that a person chose.
    floor: f64,
}

/// What is asked about one size in one frame.
pub struct Question<'a> {
    /// The size as measured.
    pub size: &'a Measured,
    /// In which frame.
    pub frame: &'a Frame,
    /// Its own error in that frame, mm.
    pub own_mm: f64,
    /// How far the common causes may move it, mm.
    pub reach_mm: f64,
    /// How it was made.
    pub process: Process,
    /// What a person said about it.
    pub decisions: &'a [&'a Decision],
    /// Table steps within one own sigma.
    pub steps_per_sigma: f64,
}

impl SizeTable {
    /// Works the table out.
    pub fn new(question: &Question) -> SizeTable {
        let (own, reach) = (question.own_mm, question.reach_mm);
        let middle = question.size.value_mm * question.frame.scale;
        let readings = readings(question.decisions);
        let (choices, stray) = decided(round_near(question, &readings), question);
        let zones = choices.iter().map(|choice| zone_of(choice.size.mm, question)).collect();
        let steps = ((2.0 * reach / own * question.steps_per_sigma).ceil() as usize).clamp(2, MOST_STEPS);
        let step_mm = (2.0 * reach / steps as f64).max(1e-9);
        let by_person = question.decisions.iter().any(|decision| matches!(decision, Decision::Choose { .. }));
        let mut table = SizeTable {
            choices,
            low_mm: middle - reach,
            step_mm,
            rows: Vec::new(),
            peak: 1.0,
            own_mm: own,
            readings,
            zones,
            stray,
            floor: if by_person { BLUNDER } else { 0.0 },
        };
        table.rows = (0..=steps).map(|k| table.likelihoods(table.low_mm + k as f64 * table.step_mm)).collect();
        let peak = table.rows.iter().flatten().fold(0.0f64, |a, b| a.max(*b));
        table.peak = if peak > 0.0 { peak } else { 1.0 };
        table.rows.iter_mut().flatten().for_each(|value| *value /= peak.max(f64::MIN_POSITIVE));
        table
    }

    /// Step of the table and the share of the next one, for a value.
    fn locate(&self, value_mm: f64) -> (usize, f64) {
        let at = ((value_mm - self.low_mm) / self.step_mm).clamp(0.0, (self.rows.len() - 1) as f64);
        let step = (at as usize).min(self.rows.len().saturating_sub(2));
        (step, (at - step as f64).clamp(0.0, 1.0))
    }

    /// The size's own error, mm.
    pub fn own_mm(&self) -> f64 {
        self.own_mm
    }

    /// Steps of the table.
    pub fn len(&self) -> usize {
        self.rows.len()
    }

    /// Value that a step stands for, mm.
    pub fn value_at(&self, step: usize) -> f64 {
        self.low_mm + step as f64 * self.step_mm
    }

    /// Likelihoods at a place that [`SizeTable::locate`] found, over `peak`, by straight lines between the steps.
    fn at(&self, (step, share): (usize, f64)) -> Row {
        let Some([a, b]) = self.rows.get(step..step + 2) else { return [0.0; RIVALS] };
        std::array::from_fn(|h| a[h] + share * (b[h] - a[h]))
    }

    /// Adds a weight to the two steps that a place lies between.
    fn spread(rows: &mut [Row], (step, share): (usize, f64), weight: Row) {
        for (offset, part) in [(0, 1.0 - share), (1, share)] {
            if let Some(row) = rows.get_mut(step + offset) {
                row.iter_mut().zip(weight).for_each(|(sum, w)| *sum += part * w);
            }
        }
    }

    /// Likelihood of a value under each rival, per mm.
    pub fn likelihoods(&self, value_mm: f64) -> Row {
        let mut sum = self.stray_likelihoods(value_mm);
        for (choice, density) in self.near(value_mm) {
            if let Some(choice) = self.choices.get(choice) {
                sum.iter_mut().zip(choice.prior).for_each(|(total, prior)| *total += prior * density);
            }
        }
        sum
    }

    /// Choices that a shifted value (with readings, if any) may stand for, by index, with its density under each.
    ///
    /// Seven sigmas away a choice carries 1e-11 of its peak: nothing, unless a person chose it.
    pub fn near(&self, value_mm: f64) -> impl Iterator<Item = (usize, f64)> {
        let (mean, sigma, agreement) = self.with_readings(value_mm);
        let (first, last) = if self.floor > 0.0 {
            (0, self.zones.len())
        } else {
            // Zones ascend with their choices.
            let first = self.zones.partition_point(|zone| zone.high_mm() < mean - 7.0 * sigma);
            (first, self.zones.partition_point(|zone| zone.low_mm() <= mean + 7.0 * sigma).max(first))
        };
        let zones = self.zones.get(first..last).unwrap_or_default();
        let floor = self.floor;
        zones.iter().enumerate().map(move |(k, zone)| (first + k, agreement * reading_density(mean, sigma, *zone).max(floor)))
    }

    /// The same for "never designed", under each rival.
    pub fn stray_likelihoods(&self, value_mm: f64) -> Row {
        let (_, _, agreement) = self.with_readings(value_mm);
        self.stray.map(|share| share * agreement)
    }

    /// Shifted value and readings as one measurement of the made size: mean and sigma in mm, and how well they agree. Where they
    /// don't agree at all, one was a blunder: the later one is believed, a reading over the photographs.
    pub fn with_readings(&self, value_mm: f64) -> (f64, f64, f64) {
        self.readings.iter().fold((value_mm, self.own_mm, 1.0), |(mean, sigma, agreement), (read, read_sigma)| {
            let (v, w) = (sigma * sigma, read_sigma * read_sigma);
            let meeting = normal_density(mean - read, (v + w).sqrt());
            if meeting < BLUNDER {
                return (*read, *read_sigma, agreement * BLUNDER);
            }
            ((mean * w + read * v) / (v + w), (v * w / (v + w)).sqrt(), agreement * meeting)
        })
    }
}

fn readings(decisions: &[&Decision]) -> Vec<(f64, f64)> {
    decisions
        .iter()
        .filter_map(|decision| match decision {
            // A caliper's last digit: no reading is better than 2 um.
            Decision::Reading { mm, sigma_mm, .. } => Some((*mm, sigma_mm.max(0.002))),
            _ => None,
        })
        .collect()
}

/// Round sizes near the shifted value, and near each reading, however far that is.
fn round_near(question: &Question, readings: &[(f64, f64)]) -> Near {
    let size = question.size;
    let middle = size.value_mm * question.frame.scale;
    let finest = readings.iter().fold(question.own_mm, |finest, (_, sigma)| finest.min(*sigma)) * TELLS_APART;
    let around = |mm: f64, margin: f64| round_sizes((mm - margin).max(0.0), mm + margin, size.kind, size.role, finest);
    let mut near = around(middle, question.reach_mm + 5.0 * question.own_mm + 0.2);
    for (mm, sigma) in readings {
        near.sizes.extend(around(*mm, 5.0 * sigma + 0.2).sizes);
    }
    near.sizes.sort_by(|a, b| a.mm.total_cmp(&b.mm));
    near.sizes.dedup_by(|a, b| (a.mm - b.mm).abs() < 0.5 * SAME_MM);
    near
}

/// Candidates and stray shares after a person's choices and refusals.
fn decided(near: Near, question: &Question) -> (Vec<Choice>, Row) {
    let role = question.size.role;
    let unit_share = |rival: usize, mm: f64, inch: f64| match unit_of(rival) {
        0 => (1.0 - ODD_SIZE) * mm + ODD_SIZE * inch,
        1 => (1.0 - ODD_SIZE) * inch + ODD_SIZE * mm,
        2 => 0.5 * (mm + inch),
        _ => 0.0,
    };
    let prior = |size: &RoundSize| -> Row {
        std::array::from_fn(|rival| (1.0 - stray_share(rival, role)) * unit_share(rival, size.weight_mm, size.weight_inch))
    };
    let mut stray: Row = std::array::from_fn(|rival| {
        let share = stray_share(rival, role);
        share + (1.0 - share) * unit_share(rival, near.haze_mm, near.haze_inch)
    });
    let mut choices: Vec<Choice> = near.sizes.into_iter().map(|size| Choice { prior: prior(&size), size }).collect();
    for decision in question.decisions {
        match decision {
            Decision::Refuse { mm, .. } => choices.retain(|choice| (choice.size.mm - mm).abs() > SAME_MM),
            Decision::Choose { mm, .. } => {
                let (weight_mm, weight_inch) = weights_at(*mm, question.size.kind, role);
                let size = RoundSize { mm: *mm, weight_mm, weight_inch };
                // Chosen, but round in no unit: it is as if it had strayed to just there.
                let prior =
                    if weight_mm + weight_inch > 0.0 { prior(&size) } else { std::array::from_fn(|rival| stray_share(rival, role)) };
                choices = vec![Choice { size, prior }];
                stray = [0.0; RIVALS];
            }
            Decision::Reading { .. } => {}
        }
    }
    (choices, stray)
}

fn stray_share(rival: usize, role: Role) -> f64 {
    if unit_of(rival) == 3 {
        return 1.0;
    }
    let share = STRAY_SHARES.get(rival % 3).copied().unwrap_or(1.0);
    match role {
        // Overall sizes are on every drawing: a third of the strays.
        Role::Overall => share / 3.0,
        Role::Feature | Role::Bore => share,
        // As many strays again among the rest.
        Role::Doubtful => 1.0 - (1.0 - share) * 0.5,
    }
}

/// Where a size made for a nominal lies.
fn zone_of(nominal_mm: f64, question: &Question) -> Zone {
    let size = question.size;
    let outer = size.kind == Kind::Diameter && size.role != Role::Bore;
    match question.process {
        Process::Bar if outer => crate::zone::h_zone(nominal_mm, it_mm(11, nominal_mm)),
        Process::Moulded { draft_deg, .. } if size.kind == Kind::Diameter => {
            // A diameter taken in the middle of a drafted face differs from both ends by half the face's length times tan(draft), per side.
            let half = (size.z_mm[1] - size.z_mm[0]).abs().min(200.0) * draft_deg.to_radians().tan() + 0.5 * it_mm(11, nominal_mm);
            Zone::new(nominal_mm - half, nominal_mm + half)
        }
        Process::Moulded { .. } => centred(nominal_mm, it_mm(11, nominal_mm)),
        Process::Bar | Process::Turned => centred(nominal_mm, it_mm(10, nominal_mm)),
    }
}

fn centred(nominal_mm: f64, width_mm: f64) -> Zone {
    Zone::new(nominal_mm - 0.5 * width_mm, nominal_mm + 0.5 * width_mm)
}

/// Standard tolerance IT10 or IT11 by the formula of ISO 286-1: 64 i or 100 i with i = 0.45 D^(1/3) + 0.001 D um, D the nominal. The
/// table's steps are not needed here: a zone that jumps at 18 mm would favour 18 over 18.5.
fn it_mm(grade: u32, nominal_mm: f64) -> f64 {
    let factor = if grade == 10 { 64.0 } else { 100.0 };
    factor * (0.45 * nominal_mm.max(1.0).cbrt() + 0.001 * nominal_mm) * 1e-3
}

/// One frame weighed: what the causes are, what each size may be.
pub struct Weighed {
    /// Natural logarithm of what the weights below were divided by.
    pub log_scale: f64,
    /// Weight of each rival.
    pub rivals: Row,
    /// For each size, weight of each step of its table under each rival.
    pub steps: Vec<Vec<Row>>,
    /// Places of the grid that count, with their weights and the shifted values of all sizes there.
    pub places: Vec<Place>,
    /// The tables.
    pub tables: Vec<SizeTable>,
}

/// A place of the grid that counts.
#[derive(Clone, Debug)]
pub struct Place {
    /// Weight under each rival.
    pub weight: Row,
    /// Every size's value there, mm.
    pub values_mm: Vec<f64>,
}

/// Places lighter than this share of the heaviest are left out of `places` (not out of the sums).
const LIGHT: f64 = 3e-4;

/// Sums over the grid of the common causes; given a place on it, the sizes are independent of each other.
pub fn weigh(sizes: &[Measured], frame: &Frame, causes: &CommonCauses, grid: &Grid, tables: Vec<SizeTable>, speaks: &[bool]) -> Weighed {
    let prior: Row = std::array::from_fn(|rival| prior_of(rival) * frame.suits.get(unit_of(rival)).copied().unwrap_or(1.0));
    let mut steps: Vec<Vec<Row>> = tables.iter().map(|table| vec![[0.0; RIVALS]; table.len()]).collect();
    let (mut rivals, mut places) = ([0.0; RIVALS], Vec::new());
    let loadings = causes.by_size();
    let middles: Vec<f64> = sizes.iter().map(|size| size.value_mm * frame.scale).collect();
    let mut values_mm = middles.clone();
    let mut located = vec![(0, 0.0); sizes.len()];
    let mut density_sum = 0.0;
    let mut heaviest = 0.0f64;
    for at in grid.iter() {
        let density = (-0.5 * at.iter().map(|z| z * z).sum::<f64>()).exp();
        density_sum += density;
        // The causes move what was measured; the true size is on the other side.
        for ((value, middle), loadings) in values_mm.iter_mut().zip(&middles).zip(&loadings) {
            *value = middle - loadings.iter().zip(at).map(|(l, z)| l * z).sum::<f64>();
        }
        for ((place, table), value) in located.iter_mut().zip(&tables).zip(&values_mm) {
            *place = table.locate(*value);
        }
        let mut weight = prior.map(|p| p * density);
        // Likelihoods are shares of a peak: a weight never grows again, so what is too light already need not be weighed to the end.
        let too_light = LIGHT * 1e-6 * heaviest;
        for ((table, place), _) in tables.iter().zip(&located).zip(speaks).filter(|(_, speaks)| **speaks) {
            let row = table.at(*place);
            weight.iter_mut().zip(row).for_each(|(w, l)| *w *= l);
            if weight.iter().all(|w| *w <= 0.1 * too_light) {
                break;
            }
        }
        let total: f64 = weight.iter().sum();
        if total <= too_light {
            continue;
        }
        heaviest = heaviest.max(total);
        rivals.iter_mut().zip(weight).for_each(|(sum, w)| *sum += w);
        for (((table, rows), place), speaks) in tables.iter().zip(&mut steps).zip(&located).zip(speaks) {
            if *speaks {
                SizeTable::spread(rows, *place, weight);
            } else {
                // One that doesn't speak for all still speaks for itself; its peak differs from frame to frame and is put back.
                let own = table.at(*place);
                SizeTable::spread(rows, *place, std::array::from_fn(|h| weight[h] * own[h] * table.peak));
            }
        }
        if total > LIGHT * heaviest {
            places.push(Place { weight, values_mm: values_mm.clone() });
        }
    }
    places.retain(|place| place.weight.iter().sum::<f64>() > LIGHT * heaviest);
    let log_scale = tables.iter().zip(speaks).filter(|(_, speaks)| **speaks).map(|(table, _)| table.peak.ln()).sum::<f64>()
        + frame.prior.ln()
        - density_sum.max(f64::MIN_POSITIVE).ln();
    Weighed { log_scale, rivals, steps, places, tables }
}
