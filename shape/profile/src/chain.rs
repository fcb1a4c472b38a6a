//! The fitted chain with its covariance: ends trimmed to what is fixed by evidence, hidden stretches filled, heights counted from the face.

use crate::carve::Run;
use crate::close::{Closed, close, filled};
use crate::joint::{Fitted, normals};
use nalgebra::DMatrix;

/// A sparse linear form of the fit's parameters.
pub(crate) type Form = Vec<(usize, f64)>;

/// One place of the chain, height from the rod-end face.
#[derive(Clone, Debug)]
pub(crate) struct Node {
    pub(crate) at: [f64; 2],
    pub(crate) seen: bool,
    /// One sigma across the chain against its neighbours (pose, scale and biases held), mm.
    pub(crate) sigma_mm: f64,
    /// One sigma across the chain, pose, scale and biases included, mm.
    pub(crate) whole_sigma_mm: f64,
    /// Index of the parameter that moves it along its normal, and along the chain where it ends a run.
    slots: Option<(usize, Option<usize>)>,
    pub(crate) normal: [f64; 2],
}

/// The whole chain.
#[derive(Clone, Debug)]
pub(crate) struct Chain {
    pub(crate) nodes: Vec<Node>,
    pub(crate) closed: Closed,
    /// Height of the rod-end face in the fit's frame.
    pub(crate) zero_mm: f64,
    pub(crate) length_mm: f64,
    pub(crate) spacing_mm: f64,
}

impl Node {
    /// Change of the node in a direction (z, r), by the parameters.
    pub(crate) fn form(&self, direction: [f64; 2], factor: f64, form: &mut Form) {
        let Some((normal, along)) = self.slots else { return };
        form.push((normal, factor * (direction[0] * self.normal[0] + direction[1] * self.normal[1])));
        if let Some(along) = along {
            form.push((along, factor * (direction[0] * self.normal[1] - direction[1] * self.normal[0])));
        }
    }
}

/// Ends of runs surer than this many spacings are kept; a spacing is about 3 px.
const SURE: f64 = 0.15;

/// The chain of a fit; `None` when nothing sure is left.
pub(crate) fn chain_of(fitted: &Fitted, spacing_mm: f64) -> Option<Chain> {
    let locals = local_sigmas(fitted)?;
    let mut runs: Vec<Run> = Vec::new();
    let mut known: Vec<Node> = Vec::new();
    for (r, run) in fitted.state.runs.iter().enumerate() {
        let normals = normals(run);
        let from = fitted.layout.nodes_from[r];
        let sigma = |i: usize| locals[from + i];
        let (mut first, mut last) = (0, run.len() - 1);
        while first < last && sigma(first) > SURE * spacing_mm {
            first += 1;
        }
        while last > first && sigma(last) > SURE * spacing_mm {
            last -= 1;
        }
        if last - first < 3 {
            continue;
        }
        runs.push(run[first..=last].to_vec());
        known.extend((first..=last).map(|i| {
            let along = if i == 0 {
                Some(fitted.layout.ends_from + 2 * r)
            } else if i + 1 == run.len() {
                Some(fitted.layout.ends_from + 2 * r + 1)
            } else {
                None
            };
            Node {
                at: run[i],
                seen: true,
                sigma_mm: sigma(i),
                whole_sigma_mm: fitted.covariance[(from + i, from + i)].max(0.0).sqrt(),
                slots: Some((from + i, along)),
                normal: normals[i],
            }
        }));
    }
    drop_fragments(&mut runs, &mut known, spacing_mm);
    let closed = close(&runs, spacing_mm)?;
    let zero_mm = closed.ends_mm[0];
    let mut known = known.into_iter();
    let nodes = filled(&runs, &closed, spacing_mm).into_iter().map(|(at, seen)| {
        let place = [at[0] - zero_mm, at[1]];
        match if seen { known.next() } else { None } {
            Some(node) => Node { at: place, ..node },
            None => Node {
                at: place,
                seen: false,
                sigma_mm: 3.0 * spacing_mm,
                whole_sigma_mm: 3.0 * spacing_mm,
                slots: None,
                normal: [0.0, 1.0],
            },
        }
    });
    let nodes: Vec<Node> = nodes.collect();
    let length_mm = closed.ends_mm[1] - zero_mm;
    (length_mm > spacing_mm && nodes.iter().any(|n| n.seen)).then_some(Chain { nodes, closed, zero_mm, length_mm, spacing_mm })
}

/// Short runs at the ends, far from their neighbours, are scraps of shadow or of the rod taken for the part.
fn drop_fragments(runs: &mut Vec<Run>, known: &mut Vec<Node>, spacing_mm: f64) {
    let way = |run: &Run| run.windows(2).map(|p| (p[1][0] - p[0][0]).hypot(p[1][1] - p[0][1])).sum::<f64>();
    while runs.len() > 1 && way(&runs[0]) < FRAGMENT * spacing_mm && way(&runs[1]) > 2.0 * way(&runs[0]) {
        known.drain(..runs[0].len());
        runs.remove(0);
    }
    while runs.len() > 1
        && way(&runs[runs.len() - 1]) < FRAGMENT * spacing_mm
        && way(&runs[runs.len() - 2]) > 2.0 * way(&runs[runs.len() - 1])
    {
        let short = runs.pop().map_or(0, |run| run.len());
        known.truncate(known.len() - short);
    }
}

/// End runs shorter than this many spacings (24 px) are scraps.
const FRAGMENT: f64 = 8.0;

/// Sigmas with the common parameters held: C_nn - C_np C_pp^-1 C_pn, its diagonal.
fn local_sigmas(fitted: &Fitted) -> Option<Vec<f64>> {
    let c = &fitted.covariance;
    let common = fitted.layout.nodes_from.first().copied()?;
    let inverse = c.view((0, 0), (common, common)).into_owned().cholesky()?.inverse();
    let local = |i: usize| {
        let cross = c.view((i, 0), (1, common));
        (c[(i, i)] - (cross * &inverse * cross.transpose())[(0, 0)]).max(0.0).sqrt()
    };
    Some((0..fitted.layout.count).map(|i| if i < common { 0.0 } else { local(i) }).collect())
}

/// Covariance of linear forms under the fit's covariance.
pub(crate) fn covariance_of(forms: &[Form], covariance: &DMatrix<f64>) -> DMatrix<f64> {
    let n = forms.len();
    let mut result = DMatrix::zeros(n, n);
    for i in 0..n {
        for j in 0..=i {
            let mut sum = 0.0;
            for &(a, x) in &forms[i] {
                for &(b, y) in &forms[j] {
                    sum += x * y * covariance[(a, b)];
                }
            }
            (result[(i, j)], result[(j, i)]) = (sum, sum);
        }
    }
    result
}
