use crate::evidence::{Evidence, Kind};
use nalgebra::{DMatrix, DVector};

/// Causes at most that are integrated on the grid: scale, tilt, edge bias. What is left over counts as each size's own error.
const MOST_CAUSES: usize = 3;
/// Least own error of a size, mm: no measurement is better than its model.
const LEAST_OWN_MM: f64 = 0.005;
/// Variances beyond 10 m say no more than 10 m does, and would overflow further on.
const KNOWS_NOTHING_MM2: f64 = 1e8;
/// A cause is kept when it moves some size by more than this many of its own sigmas.
const WORTH_KEEPING: f64 = 0.3;

/// A covariance taken apart: what moves sizes together, and what each has for itself.
#[derive(Clone, Debug)]
pub struct CommonCauses {
    /// One row a size, one column a cause: mm moved by one sigma of the cause.
    pub loadings: DMatrix<f64>,
    /// Sigma of each size's own error, mm.
    pub own_mm: Vec<f64>,
}

/// The given covariance with the systematic doubts added.
pub fn total_covariance(evidence: &Evidence) -> DMatrix<f64> {
    let sizes = &evidence.sizes;
    let doubts = evidence.systematics;
    let given = evidence.covariance.map(|c| c.clamp(-KNOWS_NOTHING_MM2, KNOWS_NOTHING_MM2));
    let mut total = 0.5 * (&given + given.transpose());
    let column = |of: &dyn Fn(&crate::Measured) -> f64| DVector::from_iterator(sizes.len(), sizes.iter().map(of));
    let all = column(&|size| size.value_mm * doubts.scale);
    let along = column(&|size| if size.kind == Kind::Diameter { 0.0 } else { size.value_mm * doubts.length_scale });
    let across = column(&|size| if size.kind == Kind::Diameter { doubts.diameter_offset_mm } else { 0.0 });
    for cause in [all, along, across] {
        total += &cause * cause.transpose();
    }
    for i in 0..sizes.len() {
        total[(i, i)] += doubts.own_mm.max(LEAST_OWN_MM).powi(2);
    }
    total
}

/// Principal-axis factor analysis (Thomson 1934; Harman, Modern Factor Analysis): `total` is split into at most three common causes
/// and own errors, starting from each size's variance given all others. Diagonals are kept exactly.
pub fn take_apart(total: &DMatrix<f64>) -> CommonCauses {
    let n = total.nrows();
    if n == 0 {
        return CommonCauses { loadings: DMatrix::zeros(0, 0), own_mm: Vec::new() };
    }
    let inverse = solve::symmetric_inverse(total);
    let mut own = DVector::from_fn(n, |i, _| bounded_own(1.0 / inverse[(i, i)], total[(i, i)]));
    let mut loadings = DMatrix::zeros(n, 0);
    for _ in 0..20 {
        loadings = leading_axes(total, &own);
        own = DVector::from_fn(n, |i, _| bounded_own(total[(i, i)] - loadings.row(i).norm_squared(), total[(i, i)]));
    }
    CommonCauses { own_mm: own.iter().map(|v| v.sqrt()).collect(), loadings }
}

fn bounded_own(variance: f64, total: f64) -> f64 {
    let least = (LEAST_OWN_MM * LEAST_OWN_MM).min(total.max(1e-12));
    if variance.is_finite() { variance.clamp(least, total.max(least)) } else { total.max(least) }
}

/// Leading eigenvectors of the common part, measured in own sigmas so that a fine size counts as much as a coarse one.
fn leading_axes(total: &DMatrix<f64>, own: &DVector<f64>) -> DMatrix<f64> {
    let n = total.nrows();
    let scaled = DMatrix::from_fn(n, n, |i, j| {
        let common = total[(i, j)] - if i == j { own[i] } else { 0.0 };
        common / (own[i] * own[j]).sqrt()
    });
    let eigen = scaled.symmetric_eigen();
    let mut order: Vec<usize> = (0..n).collect();
    order.sort_by(|a, b| eigen.eigenvalues[*b].total_cmp(&eigen.eigenvalues[*a]));
    let columns: Vec<DVector<f64>> = order
        .into_iter()
        .take(MOST_CAUSES)
        .filter(|k| eigen.eigenvalues[*k] > 0.0)
        .map(|k| eigen.eigenvectors.column(k) * eigen.eigenvalues[k].sqrt())
        .filter(|axis| axis.amax() > WORTH_KEEPING)
        .map(|axis| with_settled_sign(DVector::from_fn(n, |i, _| axis[i] * own[i].sqrt())))
        .collect();
    if columns.is_empty() { DMatrix::zeros(n, 0) } else { DMatrix::from_columns(&columns) }
}

/// An eigenvector's sign is arbitrary; the same input must give the same bytes everywhere.
fn with_settled_sign(axis: DVector<f64>) -> DVector<f64> {
    if axis.sum() < 0.0 { -axis } else { axis }
}

impl CommonCauses {
    /// Every place of the grid over the causes, in their sigmas, out to 3.5 sigmas.
    ///
    /// Given the other causes, a cause is known no better than p = 1 / sqrt(1 + sum of (loading / own)^2); with steps of `pitch` p the
    /// trapezoid rule errs by 2 exp(-2 pi^2 / pitch^2) (Poisson summation): 3e-4 at [`FINE_PITCH`], 4 % at [`COARSE_PITCH`].
    pub fn grid(&self, pitch: f64) -> Grid {
        let mut grid = Grid { causes: 0, count: 1, places: Vec::new() };
        for half in self.half_steps(pitch) {
            let half = half as i64;
            let (mut count, mut places) = (0, Vec::new());
            for place in grid.iter() {
                let square: f64 = place.iter().map(|x| x * x).sum();
                for step in (-half..=half).map(|k| k as f64 * REACH / half as f64).filter(|step| square + step * step <= REACH * REACH) {
                    places.extend_from_slice(place);
                    places.push(step);
                    count += 1;
                }
            }
            grid = Grid { causes: grid.causes + 1, count, places };
        }
        grid
    }

    /// Steps on each side of 0 for each cause.
    fn half_steps(&self, pitch: f64) -> Vec<f64> {
        self.loadings
            .column_iter()
            .map(|column| {
                let information: f64 = column.iter().zip(&self.own_mm).map(|(l, own)| (l / own).powi(2)).sum();
                (REACH * (1.0 + information).sqrt() / pitch).ceil()
            })
            .collect()
    }

    /// The same causes with own errors widened until the grid is of a bearable size. Sizes measured hundreds of times better than their
    /// common scale are rare and lose some sharpness; they are never made sharper than they are.
    pub fn bearable(mut self) -> Self {
        let widest = 1e6;
        for _ in 0..200 {
            let steps = self.half_steps(FINE_PITCH);
            let places: f64 = steps.iter().map(|half| 2.0 * half + 1.0).product();
            if places <= MOST_PLACES && steps.iter().all(|half| *half <= MOST_HALF_STEPS) {
                break;
            }
            self.own_mm.iter_mut().for_each(|own| *own = (*own * 1.25).min(widest));
        }
        self
    }

    /// How far one sigma of each cause moves each size, mm: a list for each size.
    pub fn by_size(&self) -> Vec<Vec<f64>> {
        self.loadings.row_iter().map(|row| row.iter().copied().collect()).collect()
    }

    /// Greatest shift of a size anywhere on the grid, mm.
    pub fn reach_mm(&self, size: usize) -> f64 {
        REACH * self.loadings.row(size).norm()
    }
}

/// Places over the causes, one after another in one list.
pub struct Grid {
    causes: usize,
    count: usize,
    places: Vec<f64>,
}

impl Grid {
    /// Each place: its offset along each cause, in sigmas of the cause.
    pub fn iter(&self) -> impl Iterator<Item = &[f64]> {
        (0..self.count).map(|k| self.places.get(k * self.causes..(k + 1) * self.causes).unwrap_or_default())
    }

    /// How many places there are.
    #[cfg(test)]
    fn len(&self) -> usize {
        self.count
    }
}

/// Steps of the grid, in what a cause is known by: for the odds, and to see which frames matter.
pub const FINE_PITCH: f64 = 1.5;
pub const COARSE_PITCH: f64 = 2.25;
/// How far out the grid goes, in sigmas of a cause.
const REACH: f64 = 3.5;
/// Places of the grid at most, corners included.
const MOST_PLACES: f64 = 15_000.0;
/// Steps at most on each side of 0 along one cause; keeps the sizes' tables short, too.
const MOST_HALF_STEPS: f64 = 120.0;

#[cfg(test)]
mod tests {
    use super::*;

    fn rebuilt(causes: &CommonCauses) -> DMatrix<f64> {
        let own = DVector::from_iterator(causes.own_mm.len(), causes.own_mm.iter().map(|s| s * s));
        &causes.loadings * causes.loadings.transpose() + DMatrix::from_diagonal(&own)
    }

    /// A covariance made of two causes and own errors is found again.
    #[test]
    fn two_causes_are_found_again() {
        let values = [10.0, 14.0, 22.0, 31.0, 8.0, 40.0, 5.0];
        let scale = DVector::from_iterator(7, values.iter().map(|v| v * 0.004));
        let across = DVector::from_fn(7, |i, _| if i < 4 { 0.08 } else { 0.0 });
        let own = DMatrix::from_diagonal(&DVector::from_element(7, 0.05f64.powi(2)));
        let total = &scale * scale.transpose() + &across * across.transpose() + own;
        let apart = rebuilt(&take_apart(&total));
        assert!((&apart - &total).amax() < 0.02 * total.amax(), "{apart} against {total}");
    }

    #[test]
    fn a_single_size_and_none_at_all_have_no_common_cause() {
        assert_eq!(take_apart(&DMatrix::from_element(1, 1, 0.01)).loadings.ncols(), 0);
        let alone = take_apart(&DMatrix::zeros(0, 0)).grid(FINE_PITCH);
        assert_eq!((alone.len(), alone.iter().next()), (1, Some([].as_slice())));
    }
}
