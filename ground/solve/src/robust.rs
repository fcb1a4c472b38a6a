/// How a residual counts, as a weight on its square: `weight(u)` multiplies `u^2` in iteratively reweighted least squares,
/// where u is the residual over its sigma.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Loss {
    /// Plain least squares.
    Square,
    /// Huber (1964): linear beyond `k` sigmas; k = 1.345 keeps 95 % efficiency under normal errors.
    Huber(f64),
    /// Tukey's biweight: nothing beyond `c` sigmas; c = 4.685 keeps 95 % efficiency.
    Tukey(f64),
    /// Cauchy: heavy tails; c = 2.385 keeps 95 % efficiency.
    Cauchy(f64),
}

impl Loss {
    /// Weight in 0..=1 for a residual of `u` sigmas.
    pub fn weight(self, u: f64) -> f64 {
        match self {
            Loss::Square => 1.0,
            Loss::Huber(k) => {
                if u.abs() <= k {
                    1.0
                } else {
                    k / u.abs()
                }
            }
            Loss::Tukey(c) => {
                let x = 1.0 - (u / c) * (u / c);
                if x <= 0.0 { 0.0 } else { x * x }
            }
            Loss::Cauchy(c) => 1.0 / (1.0 + (u / c) * (u / c)),
        }
    }

    /// The loss itself, scaled so that it equals u^2 near zero: what a robust fit really minimises.
    pub fn cost(self, u: f64) -> f64 {
        match self {
            Loss::Square => u * u,
            Loss::Huber(k) => {
                if u.abs() <= k {
                    u * u
                } else {
                    2.0 * k * u.abs() - k * k
                }
            }
            Loss::Tukey(c) => {
                let x = (1.0 - (u / c) * (u / c)).max(0.0);
                c * c / 3.0 * (1.0 - x * x * x)
            }
            Loss::Cauchy(c) => c * c * (1.0 + (u / c) * (u / c)).ln(),
        }
    }
}

/// Standard deviation from the median absolute deviation, 1.4826 MAD: holds for normal errors with up to half of them wild.
/// Empty input gives 0.
pub fn mad_sigma(values: &[f64]) -> f64 {
    let Some(middle) = median(values) else { return 0.0 };
    let deviations: Vec<f64> = values.iter().map(|v| (v - middle).abs()).collect();
    1.4826 * median(&deviations).unwrap_or(0.0)
}

/// The middle of the finite values; the mean of the two middle ones where their number is even. `None` of none.
pub fn median(values: &[f64]) -> Option<f64> {
    let mut sorted: Vec<f64> = values.iter().copied().filter(|v| v.is_finite()).collect();
    sorted.sort_by(f64::total_cmp);
    let n = sorted.len();
    match n {
        0 => None,
        _ if n % 2 == 1 => Some(sorted[n / 2]),
        _ => Some(0.5 * (sorted[n / 2 - 1] + sorted[n / 2])),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The weight must be cost'(u) / 2u for iteratively reweighted least squares to minimise the cost (checked by differences).
    #[test]
    fn weights_are_the_slopes_of_their_costs() {
        for loss in [Loss::Square, Loss::Huber(1.345), Loss::Tukey(4.685), Loss::Cauchy(2.385)] {
            for u in [0.01, 0.5, 1.2, 2.0, 4.0, 6.0] {
                let slope = (loss.cost(u + 1e-6) - loss.cost(u - 1e-6)) / 2e-6;
                assert!((slope / (2.0 * u) - loss.weight(u)).abs() < 1e-6, "{loss:?} at {u}");
            }
        }
    }

    #[test]
    fn mad_ignores_wild_values() {
        let values: Vec<f64> = (-50..=50).map(f64::from).chain([1e9, -1e9]).collect();
        assert!((mad_sigma(&values) - 1.4826 * 26.0).abs() < 1.0);
        assert_eq!(mad_sigma(&[]), 0.0);
    }
}
