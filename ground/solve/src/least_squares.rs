use nalgebra::{DMatrix, DVector};
use thiserror::Error;

/// A least-squares problem: residuals already divided by their sigmas, so that a covariance follows.
pub trait Problem {
    /// Residuals at `x`; always the same number of them. A non-finite residual makes the step be refused.
    fn residuals(&self, x: &DVector<f64>) -> DVector<f64>;

    /// Derivatives, one row a residual. Default: central differences with steps `1e-6 max(|x|, 1)`.
    fn jacobian(&self, x: &DVector<f64>) -> DMatrix<f64> {
        let mut columns = Vec::with_capacity(x.len());
        for i in 0..x.len() {
            let step = 1e-6 * x[i].abs().max(1.0);
            let (mut ahead, mut behind) = (x.clone(), x.clone());
            ahead[i] += step;
            behind[i] -= step;
            columns.push((self.residuals(&ahead) - self.residuals(&behind)) / (2.0 * step));
        }
        DMatrix::from_columns(&columns)
    }
}

/// When to stop.
#[derive(Clone, Copy, Debug)]
pub struct Options {
    /// Steps at most.
    pub max_iterations: usize,
    /// Stop when a step improves the cost by less than this share.
    pub relative_tolerance: f64,
}

impl Default for Options {
    fn default() -> Self {
        Options { max_iterations: 100, relative_tolerance: 1e-10 }
    }
}

/// What a fit found.
#[derive(Clone, Debug)]
pub struct Fit {
    /// The best parameters.
    pub x: DVector<f64>,
    /// Inverse of J'J at the best parameters: their covariance when residuals were in sigmas. Directions that the data do not
    /// fix come out with huge, finite variance.
    pub covariance: DMatrix<f64>,
    /// Sum of squared residuals there.
    pub cost: f64,
    /// Steps taken.
    pub iterations: usize,
    /// Whether it stopped by the tolerance rather than by the count.
    pub converged: bool,
}

/// Why a fit could not be made.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum SolveError {
    /// The start gives non-finite residuals.
    #[error("the fit cannot start: a residual at the starting point is not finite")]
    BadStart,
    /// Nothing to fit, or fewer than no parameters.
    #[error("the fit has no residuals or no parameters")]
    Empty,
}

/// Minimises the sum of squares by Levenberg-Marquardt with Marquardt's diagonal scaling (Marquardt 1963; damping after
/// Nielsen 1999). Deterministic.
pub fn levenberg_marquardt(problem: &impl Problem, start: DVector<f64>, options: Options) -> Result<Fit, SolveError> {
    let mut x = start;
    let mut r = problem.residuals(&x);
    if r.is_empty() || x.is_empty() {
        return Err(SolveError::Empty);
    }
    let mut cost = r.norm_squared();
    if !cost.is_finite() {
        return Err(SolveError::BadStart);
    }
    let (mut lambda, mut growth, mut iterations, mut converged) = (1e-4, 2.0, 0, false);
    let mut jacobian = problem.jacobian(&x);
    while iterations < options.max_iterations && !converged {
        iterations += 1;
        let normal = jacobian.transpose() * &jacobian;
        let gradient = jacobian.transpose() * &r;
        let mut damped = normal.clone();
        for i in 0..damped.nrows() {
            damped[(i, i)] += lambda * normal[(i, i)].max(1e-12);
        }
        let Some(step) = damped.cholesky().map(|c| c.solve(&gradient)) else {
            lambda *= growth;
            growth *= 2.0;
            if lambda > 1e14 {
                break;
            }
            continue;
        };
        let trial = &x - &step;
        let trial_r = problem.residuals(&trial);
        let trial_cost = trial_r.norm_squared();
        if trial_cost.is_finite() && trial_cost <= cost {
            converged = cost - trial_cost <= options.relative_tolerance * cost.max(f64::MIN_POSITIVE);
            (x, r, cost) = (trial, trial_r, trial_cost);
            lambda = (lambda / 3.0).max(1e-14);
            growth = 2.0;
            jacobian = problem.jacobian(&x);
        } else {
            converged = step.norm() <= 1e-13 * (x.norm() + 1e-13);
            lambda *= growth;
            growth *= 2.0;
            if lambda > 1e14 {
                break;
            }
        }
    }
    let covariance = symmetric_inverse(&(jacobian.transpose() * &jacobian));
    Ok(Fit { x, covariance, cost, iterations, converged })
}

/// Inverse of a symmetric positive semi-definite matrix by its eigenvalues; directions without information get the variance that
/// 1e-14 of the largest eigenvalue stands for, after scaling to a unit diagonal, instead of infinity.
pub fn symmetric_inverse(matrix: &DMatrix<f64>) -> DMatrix<f64> {
    let n = matrix.nrows();
    let scale = DVector::from_fn(n, |i, _| 1.0 / matrix[(i, i)].max(1e-300).sqrt());
    let scaled = DMatrix::from_fn(n, n, |i, j| matrix[(i, j)] * scale[i] * scale[j]);
    let eigen = scaled.symmetric_eigen();
    let floor = eigen.eigenvalues.max().max(1e-300) * 1e-14;
    let inverse = DMatrix::from_diagonal(&eigen.eigenvalues.map(|value| 1.0 / value.max(floor)));
    let unscaled = &eigen.eigenvectors * inverse * eigen.eigenvectors.transpose();
    DMatrix::from_fn(n, n, |i, j| unscaled[(i, j)] * scale[i] * scale[j])
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Sampler;

    struct Decay {
        data: Vec<(f64, f64)>,
        sigma: f64,
    }

    impl Problem for Decay {
        fn residuals(&self, x: &DVector<f64>) -> DVector<f64> {
            DVector::from_iterator(self.data.len(), self.data.iter().map(|(t, y)| (x[0] * (-x[1] * t).exp() - y) / self.sigma))
        }
    }

    /// A made-up truth is found again, and the stated sigmas hold it about as often as they claim.
    #[test]
    fn decay_is_found_and_its_bars_are_honest() {
        let mut held = 0;
        for seed in 0..300 {
            let mut sampler = Sampler::new(seed);
            let data = (0..40)
                .map(|i| {
                    let t = f64::from(i) * 0.1;
                    (t, 2.5 * (-0.7 * t).exp() + 0.05 * sampler.normal())
                })
                .collect();
            let fit =
                levenberg_marquardt(&Decay { data, sigma: 0.05 }, DVector::from_vec(vec![1.0, 0.1]), Options::default()).expect("starts");
            assert!(fit.converged);
            held += usize::from((fit.x[1] - 0.7).abs() <= 1.96 * fit.covariance[(1, 1)].sqrt());
        }
        // 95 % of 300 is 285; three binomial sigmas are 11.
        assert!((274..=296).contains(&held), "95 % bars held the truth {held} times in 300");
    }

    #[test]
    fn unfixed_direction_has_huge_variance() {
        let matrix = DMatrix::from_row_slice(2, 2, &[1.0, 1.0, 1.0, 1.0]);
        let inverse = symmetric_inverse(&matrix);
        assert!(inverse[(0, 0)] > 1e10 && inverse[(0, 0)].is_finite());
    }

    #[test]
    fn bad_start_is_an_error() {
        let problem = Decay { data: vec![(0.0, f64::NAN)], sigma: 1.0 };
        assert!(matches!(levenberg_marquardt(&problem, DVector::from_vec(vec![1.0, 1.0]), Options::default()), Err(SolveError::BadStart)));
    }
}
