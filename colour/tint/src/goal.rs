//! The colour wanted, and how near a mix comes to it.

use crate::bench::within;
use crate::forward::Eye;
use crate::optics::BANDS;
use crate::{Prediction, TintError};
use cie::{Lab, Light, Observer, WORKING_NM, Weights, ciede2000};
use nalgebra::{DMatrix, DVector};
use solve::Sampler;

/// What a recipe is wanted for.
#[derive(Clone, Debug, PartialEq)]
pub struct Goal {
    /// The colour, under one light or several. The first is the one that results are told for.
    pub wanted: Vec<Wanted>,
    /// Bare resin of the pot, mL.
    pub volume_ml: f64,
    /// Drops at most, of all colourants together.
    pub max_drops: u32,
    /// Colourants at most, 1 to 4.
    pub most_colourants: usize,
    /// Greatest CIEDE2000 that is good enough.
    pub tolerance_de00: f64,
    /// How things are measured out.
    pub amounts: Amounts,
}

/// How colourants are measured out.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub enum Amounts {
    /// In whole drops.
    #[default]
    Drops,
    /// On a balance, in whole steps of it; needs densities.
    Grams {
        /// Readability, g.
        step_g: f64,
        /// Standard uncertainty of a net weight, g.
        sigma_g: f64,
    },
}

/// The colour wanted under one light.
#[derive(Clone, Debug, PartialEq)]
pub struct Wanted {
    /// The light.
    pub light: Light,
    /// The observer.
    pub observer: Observer,
    /// The colour there.
    pub lab: [f64; 3],
    /// Its doubt.
    pub covariance: [[f64; 3]; 3],
    /// How much it counts beside the other lights.
    pub weight: f64,
}

impl Goal {
    /// One colour under D65 for 2 degrees, known to `sigma` an axis; tolerance 1.0, four colourants.
    pub fn d65(lab: [f64; 3], sigma: f64, volume_ml: f64, max_drops: u32) -> Goal {
        let v = sigma * sigma;
        let covariance = [[v, 0.0, 0.0], [0.0, v, 0.0], [0.0, 0.0, v]];
        let wanted = vec![Wanted { light: Light::D65, observer: Observer::TwoDegree, lab, covariance, weight: 1.0 }];
        Goal { wanted, volume_ml, max_drops, most_colourants: 4, tolerance_de00: 1.0, amounts: Amounts::Drops }
    }
}

/// The goal, checked, with the sums that every mix needs.
pub(crate) struct Aim {
    pub weights: Vec<Weights>,
    pub shares: Vec<f64>,
    pub labs: Vec<Lab>,
    pub covariance: DMatrix<f64>,
    /// Root of the matrix that makes the square of a small step at the target its CIEDE2000 squared; block diagonal.
    pub metric: DMatrix<f64>,
}

impl Aim {
    pub fn new(goal: &Goal) -> Result<Aim, TintError> {
        within("target, volume_ml", goal.volume_ml, 1e-3..=1e6, "0.001 to 1000000 mL")?;
        within("target, max_drops", f64::from(goal.max_drops), 0.0..=10_000.0, "at most 10000 drops")?;
        within("target, tolerance_de00", goal.tolerance_de00, 0.01..=100.0, "0.01 to 100")?;
        within("target, colourants", goal.most_colourants as f64, 1.0..=4.0, "1 to 4 colourants")?;
        within("target, lights", goal.wanted.len() as f64, 1.0..=8.0, "1 to 8 lights")?;
        let rows = 3 * goal.wanted.len();
        let mut aim =
            Aim { weights: vec![], shares: vec![], labs: vec![], covariance: DMatrix::zeros(rows, rows), metric: DMatrix::zeros(0, 0) };
        for (i, wanted) in goal.wanted.iter().enumerate() {
            within("target, L", wanted.lab[0], -1.0..=120.0, "0 to 100")?;
            within("target, a", wanted.lab[1], -200.0..=200.0, "-200 to 200")?;
            within("target, b", wanted.lab[2], -200.0..=200.0, "-200 to 200")?;
            within("target, weight of a light", wanted.weight, 1e-6..=1e6, "more than 0")?;
            aim.weights.push(Weights::new(wanted.light, wanted.observer, &WORKING_NM).map_err(|e| TintError::Fit { why: e.to_string() })?);
            aim.shares.push(wanted.weight);
            aim.labs.push(Lab::from(wanted.lab));
            for (r, row) in wanted.covariance.iter().enumerate() {
                for (c, &value) in row.iter().enumerate() {
                    within("target, covariance", value, -1e4..=1e4, "a covariance within 10000")?;
                    aim.covariance[(3 * i + r, 3 * i + c)] = value;
                }
            }
        }
        let sum: f64 = aim.shares.iter().sum();
        aim.shares.iter_mut().for_each(|s| *s /= sum);
        aim.metric = aim.metric_root();
        debug_assert!(aim.weights.iter().all(|w| w.rows().len() == BANDS));
        Ok(aim)
    }

    pub fn eyes(&self) -> Vec<Eye<'_>> {
        self.weights.iter().map(Eye::Lab).collect()
    }

    /// Root mean square CIEDE2000 over the lights, by their shares.
    pub fn miss(&self, labs: &[f64]) -> f64 {
        let squares = self.labs.iter().zip(labs.chunks(3)).zip(&self.shares).map(|((want, lab), share)| {
            let difference = ciede2000(Lab::new(lab[0], lab[1], lab[2]), *want);
            share * difference * difference
        });
        squares.sum::<f64>().sqrt()
    }

    /// By differences.
    fn metric_root(&self) -> DMatrix<f64> {
        let rows = 3 * self.labs.len();
        let mut all = DMatrix::zeros(rows, rows);
        for (i, want) in self.labs.iter().enumerate() {
            let half = |d: [f64; 3]| ciede2000(Lab::new(want.l + d[0], want.a + d[1], want.b + d[2]), *want).powi(2) / (STEP * STEP);
            let unit = |j: usize| std::array::from_fn(|m| if m == j { STEP } else { 0.0 });
            let mut g = nalgebra::Matrix3::zeros();
            for j in 0..3 {
                g[(j, j)] = half(unit(j));
            }
            for (j, m) in [(0, 1), (0, 2), (1, 2)] {
                let both = half(std::array::from_fn(|x| if x == j || x == m { STEP } else { 0.0 }));
                g[(j, m)] = 0.5 * (both - g[(j, j)] - g[(m, m)]);
                g[(m, j)] = g[(j, m)];
            }
            let eigen = g.symmetric_eigen();
            let root = nalgebra::Matrix3::from_diagonal(&eigen.eigenvalues.map(|v| (v.max(1e-6) * self.shares[i]).sqrt()))
                * eigen.eigenvectors.transpose();
            all.view_mut((3 * i, 3 * i), (3, 3)).copy_from(&root);
        }
        all
    }

    /// Chance to be within `tolerance`, and the difference kept in 95 of 100 cases, by drawing the colour from its doubt.
    pub fn odds(&self, prediction: &Prediction, tolerance: f64) -> Odds {
        let spread = crate::prior::root(&prediction.covariance + &prediction.dosing + &self.covariance);
        // The seed is fixed: the same recipe has the same odds on every run.
        let mut sampler = Sampler::new(0x7164);
        let mut misses: Vec<f64> = (0..DRAWS)
            .map(|_| {
                let u = DVector::from_fn(spread.ncols(), |_, _| sampler.normal());
                self.miss((&prediction.lab + &spread * u).as_slice())
            })
            .collect();
        misses.sort_by(f64::total_cmp);
        let within = misses.partition_point(|m| *m <= tolerance);
        Odds { chance: within as f64 / DRAWS as f64, de00_95: misses[DRAWS * 95 / 100] }
    }
}

/// Chance to be good enough.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Odds {
    /// Of being within the tolerance, 0..1.
    pub chance: f64,
    /// CIEDE2000 that is kept in 95 of 100 cases.
    pub de00_95: f64,
}

/// 2000 draws put the 95 % point within 0.5 % of rank (one sigma).
const DRAWS: usize = 2000;
/// Small against the curvature of CIEDE2000, large against rounding.
const STEP: f64 = 0.05;
