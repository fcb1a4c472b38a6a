//! Least squares with covariance, robust losses and seeded sampling, on top of nalgebra.

mod least_squares;
mod robust;
mod sampling;

pub use least_squares::{Fit, Options, Problem, SolveError, levenberg_marquardt, symmetric_inverse};
pub use robust::{Loss, mad_sigma, median};
pub use sampling::Sampler;
