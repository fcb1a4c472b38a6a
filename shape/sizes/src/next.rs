use crate::answer::{BestMeasurement, SizeOdds};
use crate::evidence::SHAFT;
use crate::frames::Frame;
use crate::roundness::SAME_MM;
use crate::weigh::{RIVALS, Row, SizeTable, Weighed};

/// Outcomes of one size that are told apart; the rest counts with "not round".
const MOST_OUTCOMES: usize = 5;
/// Sizes surer than this don't take part: little is left to learn about them or from them.
const SURE: f64 = 0.995;
/// Sizes at most that take part, the least sure first; keeps the work bounded on parts with very many sizes.
const MOST_SIZES: usize = 30;
/// Places at most that take part, the heaviest.
const MOST_PLACES: usize = 300;
/// Places lighter than this share of the heaviest are passed over.
const LIGHT_PLACE: f64 = 3e-3;
/// A gain below this is not worth a person's walk.
const WORTH_IT: f64 = 0.05;

/// The size that, once known, would raise the expected number of rightly known sizes most.
///
/// Certainty of the part = sum over sizes of the odds of its likeliest outcome = expected number of sizes rightly known. Knowing that
/// size i is c, that of size j becomes max over d of P(j = d | i = c). The joint odds are summed over the places of the common causes,
/// where the sizes are independent: exact for the grid, no simulation. The shaft takes part as one more size.
pub fn best_measurement(sizes: &[SizeOdds], frames: &[Frame], weighed: &[Weighed], shares: &[f64]) -> Option<BestMeasurement> {
    let questions = questions(sizes, frames);
    let joint = joint_odds(&questions, frames, weighed, shares)?;
    let now = |j: usize| joint.alone(j).iter().copied().fold(0.0, f64::max);
    let gain =
        |i: usize| -> f64 { (0..questions.len()).map(|j| if i == j { 1.0 - now(j) } else { joint.known_after(i, j) - now(j) }).sum() };
    let gains: Vec<f64> = (0..questions.len()).map(gain).collect();
    let (best, gain) = gains.iter().enumerate().max_by(|a, b| a.1.total_cmp(b.1))?;
    if *gain < WORTH_IT {
        return None;
    }
    let question = questions.get(best)?;
    Some(BestMeasurement { name: question.name.clone(), expected_gain: *gain, text: words(question, *gain, questions.len()) })
}

/// Something that could be measured, and what may come out.
struct Question {
    name: String,
    /// Index of the size; none for the shaft.
    size: Option<usize>,
    /// Outcomes, mm, likeliest first; everything else is one more outcome.
    outcomes_mm: Vec<f64>,
}

fn questions(sizes: &[SizeOdds], frames: &[Frame]) -> Vec<Question> {
    let sureness = |size: &SizeOdds| size.candidates.first().map_or(0.0, |c| c.odds).max(size.not_round);
    let mut open: Vec<usize> = (0..sizes.len()).filter(|i| sureness(&sizes[*i]) < SURE).collect();
    open.sort_by(|a, b| sureness(&sizes[*a]).total_cmp(&sureness(&sizes[*b])).then(a.cmp(b)));
    open.truncate(MOST_SIZES);
    open.sort_unstable();
    let mut out: Vec<Question> = open
        .into_iter()
        .map(|i| Question {
            name: sizes[i].name.clone(),
            size: Some(i),
            outcomes_mm: sizes[i].candidates.iter().take(MOST_OUTCOMES).map(|c| c.mm).collect(),
        })
        .collect();
    let mut shafts: Vec<f64> = frames.iter().map(|frame| frame.shaft_mm).filter(|mm| *mm > 0.0).collect();
    shafts.dedup();
    if shafts.len() > 1 {
        shafts.truncate(MOST_OUTCOMES);
        out.push(Question { name: SHAFT.into(), size: None, outcomes_mm: shafts });
    }
    out
}

/// Joint odds of the outcomes of every two questions, in one square matrix.
struct Joint {
    /// Where each question's outcomes start.
    starts: Vec<usize>,
    side: usize,
    odds: Vec<f64>,
}

impl Joint {
    fn outcomes(&self, i: usize) -> std::ops::Range<usize> {
        self.starts[i]..self.starts[i + 1]
    }

    fn alone(&self, i: usize) -> Vec<f64> {
        self.outcomes(i).map(|c| self.odds[c * self.side + c]).collect()
    }

    /// Expected odds of the likeliest outcome of j once i is known.
    fn known_after(&self, i: usize, j: usize) -> f64 {
        self.outcomes(i).map(|c| self.outcomes(j).map(|d| self.odds[c * self.side + d]).fold(0.0, f64::max)).sum()
    }
}

fn joint_odds(questions: &[Question], frames: &[Frame], weighed: &[Weighed], shares: &[f64]) -> Option<Joint> {
    let mut starts = vec![0];
    for question in questions {
        starts.push(starts.last().copied().unwrap_or(0) + question.outcomes_mm.len() + 1);
    }
    let side = starts.last().copied().unwrap_or(0);
    let mut odds = vec![0.0; side * side];
    let mut sum = 0.0;
    for (frame, place) in heaviest(weighed, shares) {
        let one = &weighed[frame];
        let place = &one.places[place];
        let parts: Vec<Row> =
            questions.iter().flat_map(|question| parts(question, &frames[frame], &one.tables, &place.values_mm)).collect();
        for h in 0..RIVALS {
            let weight = shares[frame] * place.weight[h];
            if weight <= 0.0 {
                continue;
            }
            sum += weight;
            for (c, part) in parts.iter().enumerate().filter(|(_, part)| part[h] > 1e-9) {
                let row = &mut odds[c * side..(c + 1) * side];
                row.iter_mut().zip(&parts).for_each(|(cell, other)| *cell += weight * part[h] * other[h]);
                // On its own diagonal an outcome is itself, not a pair of draws.
                row[c] += weight * part[h] * (1.0 - part[h]);
            }
        }
    }
    if sum <= 0.0 {
        return None;
    }
    odds.iter_mut().for_each(|cell| *cell /= sum);
    Some(Joint { starts, side, odds })
}

/// Frame and place of the heaviest places of all frames.
fn heaviest(weighed: &[Weighed], shares: &[f64]) -> Vec<(usize, usize)> {
    let mut all: Vec<(f64, usize, usize)> = Vec::new();
    for (f, (one, share)) in weighed.iter().zip(shares).enumerate() {
        all.extend(one.places.iter().enumerate().map(|(p, place)| (share * place.weight.iter().sum::<f64>(), f, p)));
    }
    let least = all.iter().fold(0.0, |least: f64, (weight, _, _)| least.max(*weight)) * LIGHT_PLACE;
    all.retain(|(weight, _, _)| *weight > least);
    // Most places are far from the heaviest: they are set apart before the rest is put in order.
    let order = |a: &(f64, usize, usize), b: &(f64, usize, usize)| b.0.total_cmp(&a.0).then((a.1, a.2).cmp(&(b.1, b.2)));
    if all.len() > MOST_PLACES {
        all.select_nth_unstable_by(MOST_PLACES, order);
        all.truncate(MOST_PLACES);
    }
    all.sort_by(order);
    all.into_iter().map(|(_, f, p)| (f, p)).collect()
}

/// Probability of each outcome of a question at a place, under each rival; the last is everything else.
fn parts(question: &Question, frame: &Frame, tables: &[SizeTable], values_mm: &[f64]) -> Vec<Row> {
    let mut out = vec![[0.0; RIVALS]; question.outcomes_mm.len() + 1];
    let rest = question.outcomes_mm.len();
    let place_of = |mm: f64| question.outcomes_mm.iter().position(|o| (o - mm).abs() < SAME_MM).unwrap_or(rest);
    let Some(i) = question.size else {
        out[place_of(frame.shaft_mm)] = [1.0; RIVALS];
        return out;
    };
    let (table, value) = (&tables[i], values_mm[i]);
    let mut sum = table.stray_likelihoods(value);
    out[rest] = sum;
    for (choice, density) in table.near(value) {
        let Some(choice) = table.choices.get(choice) else { continue };
        let outcome = &mut out[place_of(choice.size.mm)];
        for h in 0..RIVALS {
            outcome[h] += choice.prior[h] * density;
            sum[h] += choice.prior[h] * density;
        }
    }
    out.iter_mut().for_each(|row| row.iter_mut().zip(sum).for_each(|(part, total)| *part = if total > 0.0 { *part / total } else { 0.0 }));
    out
}

fn words(question: &Question, gain: f64, open: usize) -> String {
    // Two rivals are told apart when they lie four sigmas from each other: each is then two sigmas from the middle.
    let needed = match question.outcomes_mm.as_slice() {
        [a, b, ..] => format!(" to {:.3} mm or better", ((a - b).abs() / 4.0).clamp(0.005, 0.1)),
        _ => String::new(),
    };
    format!(
        "Measure the {} on the original{needed}: of {open} open sizes, {gain:.1} more would be rightly known on average.",
        question.name
    )
}
