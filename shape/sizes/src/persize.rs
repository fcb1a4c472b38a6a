use crate::answer::Candidate;
use crate::roundness::{RoundSize, SAME_MM};
use crate::weigh::{Row, SizeTable};

/// Steps that carry less than this share of their frame's weight are passed over.
const LIGHT_STEP: f64 = 1e-5;

/// What all frames say about one size.
#[derive(Default)]
pub struct SizeSums {
    choices: Vec<(RoundSize, f64)>,
    stray: f64,
    weight: f64,
    mean: f64,
    square: f64,
}

impl SizeSums {
    /// Splits each step's weight among the size's candidates.
    pub fn add(&mut self, table: &SizeTable, rows: &[Row], share: f64) {
        let heaviest = rows.iter().map(|row| row.iter().sum::<f64>()).fold(0.0, f64::max);
        let mut odds = vec![0.0; table.choices.len()];
        for (step, row) in rows.iter().enumerate().filter(|(_, row)| row.iter().sum::<f64>() > LIGHT_STEP * heaviest) {
            let value = table.value_at(step);
            let per_likelihood = share_of_likelihood(table, value, row, share);
            for (choice, density) in table.near(value) {
                if let (Some(odd), Some(choice)) = (odds.get_mut(choice), table.choices.get(choice)) {
                    *odd += density * choice.prior.iter().zip(per_likelihood).map(|(p, w)| p * w).sum::<f64>();
                }
            }
            self.stray += table.stray_likelihoods(value).iter().zip(per_likelihood).map(|(l, w)| l * w).sum::<f64>();
            let weight = share * row.iter().sum::<f64>();
            let (mean, sigma, _) = table.with_readings(value);
            self.weight += weight;
            self.mean += weight * mean;
            self.square += weight * (mean * mean + sigma * sigma);
        }
        for (choice, odd) in table.choices.iter().zip(odds) {
            match self.choices.iter_mut().find(|(size, _)| (size.mm - choice.size.mm).abs() < 0.5 * SAME_MM) {
                Some((_, sum)) => *sum += odd,
                None => self.choices.push((choice.size, odd)),
            }
        }
    }

    /// Candidates, best first, and the odds of "not round".
    pub fn odds(&self, least: f64) -> (Vec<Candidate>, f64) {
        let sum = self.stray + self.choices.iter().map(|(_, odds)| odds).sum::<f64>();
        if sum <= 0.0 || !sum.is_finite() {
            return (Vec::new(), 1.0);
        }
        let listed = self.choices.iter().filter(|(_, odds)| odds / sum >= least);
        let mut candidates: Vec<Candidate> =
            listed.map(|(size, odds)| Candidate { label: size.label(), mm: size.mm, odds: odds / sum }).collect();
        candidates.sort_by(|a, b| b.odds.total_cmp(&a.odds).then(a.mm.total_cmp(&b.mm)));
        (candidates, self.stray / sum)
    }

    /// Mean and standard deviation of the made size, whatever was meant, mm.
    pub fn refined(&self) -> Option<(f64, f64)> {
        if self.weight <= 0.0 {
            return None;
        }
        let mean = self.mean / self.weight;
        Some((mean, (self.square / self.weight - mean * mean).max(0.0).sqrt()))
    }
}

/// A step's weight under each rival over its likelihood there: times a candidate's part of the likelihood, it is the candidate's weight.
fn share_of_likelihood(table: &SizeTable, value: f64, row: &Row, share: f64) -> Row {
    let likelihood = table.likelihoods(value);
    std::array::from_fn(|h| if likelihood[h] > 0.0 { share * row[h] / likelihood[h] } else { 0.0 })
}
