//! What residuals say of a fit: how far sigmas must grow, and which of rival fits explains more.

use crate::joint::{Border, Fitted, Given, Task};
use crate::trust::disbelief;
use solve::{Loss, mad_sigma};

/// How much the sigmas of one border must grow over the finder's own: the middle deviation of the residuals, times the root of the number of
/// neighbours that err alike (edges wave; a hundred points along one wave are one piece of evidence).
pub(crate) fn growth(given: &Given, residuals_px: &[f64], border: Border) -> f64 {
    let over: Vec<f64> =
        given.marks.iter().zip(residuals_px).filter(|(m, r)| m.border == border && r.is_finite()).map(|(m, r)| r / m.own_px).collect();
    if over.len() < 8 {
        return 1.0;
    }
    let scale = mad_sigma(&over).max(1e-3);
    let held: Vec<f64> = over.iter().map(|r| r.clamp(-3.0 * scale, 3.0 * scale)).collect();
    let power = held.iter().map(|r| r * r).sum::<f64>() / held.len() as f64;
    let mut alike = 1.0;
    for lag in 1..ALIKE_MOST.min(held.len() / 4) {
        let correlation = held.windows(lag + 1).map(|w| w[0] * w[lag]).sum::<f64>() / (held.len() - lag) as f64 / power.max(1e-12);
        if correlation < 0.1 {
            break;
        }
        alike += 2.0 * correlation;
    }
    scale.max(1.0) * alike.sqrt()
}

/// Neighbours beyond this many are taken to err on their own.
const ALIKE_MOST: usize = 40;

/// A yardstick for rival fits of one task: robust cost with sigmas that do not depend on the fit, and the priors.
pub(crate) fn yardstick(task: &Task, fitted: &Fitted) -> f64 {
    let [marks, priors] = misfit(task, fitted);
    marks + priors
}

/// The yardstick's two parts: what the marks say, and what was expected of lenses and edges.
pub(crate) fn misfit(task: &Task, fitted: &Fitted) -> [f64; 2] {
    let (mut marks, mut priors) = (0.0, 0.0);
    for ((given, residuals), view) in task.views.iter().zip(&fitted.residuals_px).zip(&fitted.state.views) {
        for (mark, r) in given.marks.iter().zip(residuals).filter(|(_, r)| r.is_finite()) {
            // Neighbours err alike: three sigmas, as if every ninth point counted.
            marks += Loss::Cauchy(2.385).cost(r / (3.0 * mark.own_px.max(0.07)));
        }
        let prior = |off: f64, sigma: f64| (off / sigma.max(1e-6)).powi(2);
        priors += prior(view.lens.focal_px.ln() - given.ln_focal.0, given.ln_focal.1) + prior(view.lens.k1 - given.k1.0, given.k1.1);
        priors += view.biases_px.iter().zip(given.bias_sigmas_px()).map(|(bias, sigma)| prior(*bias, sigma)).sum::<f64>();
        priors += disbelief(given, view);
    }
    [marks, priors]
}
