use crate::estimate::{lab_of_linear, linear_of_lab};
use nalgebra::{DMatrix, Matrix3xX};

/// How balanced camera values become colours.
#[derive(Clone, Debug, PartialEq)]
pub enum Correction {
    /// The balance alone: each channel by its own factor.
    Balance,
    /// A 3 x 3 matrix after the balance.
    Matrix(Vec<[f64; 3]>),
    /// Root polynomials of degree 2 after the balance: R, G, B, sqrt(RG), sqrt(GB), sqrt(RB), one row of three results each. They keep
    /// a colour the same under more or less light, which plain polynomials do not (Finlayson, Mackiewicz, Hurlbert 2015).
    RootPolynomial(Vec<[f64; 3]>),
}

/// Patches needed before a matrix, or root polynomials, are tried: two for each unknown of a row.
const FEWEST_FOR_MATRIX: usize = 6;
const FEWEST_FOR_ROOTS: usize = 15;

/// A correction with how far it misses patches that it was not fitted to.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Checked {
    pub correction: Correction,
    /// CIEDE2000 of each patch when it is left out of the fit.
    pub left_out_de00: Vec<f64>,
    /// Root mean square of the a and b errors, left out.
    pub chroma_rms: f64,
}

impl Correction {
    /// The colour (linear sRGB) of a balanced value.
    pub fn apply(&self, balanced: [f64; 3]) -> [f64; 3] {
        match self {
            Correction::Balance => balanced,
            Correction::Matrix(rows) | Correction::RootPolynomial(rows) => {
                let terms = self.terms(balanced);
                std::array::from_fn(|i| rows.iter().zip(&terms).map(|(row, term)| row[i] * term).sum())
            }
        }
    }

    /// In words, for the sheet.
    pub fn words(&self) -> &'static str {
        match self {
            Correction::Balance => "balance of the three channels",
            Correction::Matrix(_) => "3 x 3 matrix from the patches",
            Correction::RootPolynomial(_) => "root-polynomial correction from the patches",
        }
    }

    fn terms(&self, v: [f64; 3]) -> Vec<f64> {
        let [r, g, b] = v;
        let root = |p: f64| p.max(0.0).sqrt();
        match self {
            Correction::RootPolynomial(_) => vec![r, g, b, root(r * g), root(g * b), root(r * b)],
            _ => vec![r, g, b],
        }
    }

    /// The kind of correction that best foretells patches it has not seen, among those the number of patches allows. `balanced` and
    /// `known` are linear sRGB, the former with the fall of light taken out.
    pub(crate) fn choose(balanced: &[[f64; 3]], known: &[[f64; 3]]) -> Checked {
        let mut best = check(&Correction::Balance, balanced, known);
        let kinds = [(FEWEST_FOR_MATRIX, Correction::Matrix(Vec::new())), (FEWEST_FOR_ROOTS, Correction::RootPolynomial(Vec::new()))];
        for (fewest, kind) in kinds {
            if balanced.len() < fewest {
                continue;
            }
            let tried = check(&kind, balanced, known);
            // A tenth better, and by more than 8-bit rounding makes: more freedom must earn its keep.
            let (now, before) = (mean(&tried.left_out_de00), mean(&best.left_out_de00));
            if now < 0.9 * before && now < before - 0.2 {
                best = tried;
            }
        }
        best
    }

    /// Least squares, each patch weighted by 1 / (Y + 0.05) as Lab's cube root would, drawn gently to "no change".
    fn fitted(&self, balanced: &[[f64; 3]], known: &[[f64; 3]], skip: Option<usize>) -> Correction {
        let used: Vec<usize> = (0..balanced.len()).filter(|i| Some(*i) != skip).collect();
        let terms: Vec<Vec<f64>> = used.iter().map(|&i| self.terms(balanced[i])).collect();
        let columns = terms.first().map_or(3, Vec::len);
        let weight = |i: usize| 1.0 / (crate::patch::luminance(known[i]).max(0.0) + 0.05);
        let design = DMatrix::from_fn(used.len(), columns, |row, column| terms[row][column] * weight(used[row]));
        let mut normal = design.transpose() * &design;
        // 1e-3 of the mean information: enough to keep 6 patches from swinging, too little to be seen with 24.
        let ridge = 1e-3 * normal.trace() / columns as f64;
        let mut right = design.transpose() * DMatrix::from_fn(used.len(), 3, |row, i| known[used[row]][i] * weight(used[row]));
        for i in 0..columns {
            normal[(i, i)] += ridge;
            if i < 3 {
                right[(i, i)] += ridge;
            }
        }
        let Some(solved) = normal.cholesky().map(|c| c.solve(&right)) else { return Correction::Balance };
        let rows = Matrix3xX::from_fn(columns, |i, term| solved[(term, i)]).column_iter().map(|c| [c[0], c[1], c[2]]).collect();
        match self {
            Correction::RootPolynomial(_) => Correction::RootPolynomial(rows),
            Correction::Matrix(_) => Correction::Matrix(rows),
            Correction::Balance => Correction::Balance,
        }
    }
}

fn check(kind: &Correction, balanced: &[[f64; 3]], known: &[[f64; 3]]) -> Checked {
    let labs: Vec<([f64; 3], [f64; 3])> = (0..balanced.len())
        .map(|i| {
            let correction = kind.fitted(balanced, known, Some(i));
            (lab_of_linear(correction.apply(balanced[i])), lab_of_linear(known[i]))
        })
        .collect();
    let left_out_de00: Vec<f64> = labs.iter().map(|(found, true_lab)| cie::ciede2000(*found, *true_lab)).collect();
    let squares: f64 = labs.iter().map(|(f, t)| (f[1] - t[1]).powi(2) + (f[2] - t[2]).powi(2)).sum();
    let chroma_rms = (squares / (2 * labs.len().max(1)) as f64).sqrt();
    Checked { correction: kind.fitted(balanced, known, None), left_out_de00, chroma_rms }
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len().max(1) as f64
}

/// Linear sRGB of a patch's Lab.
pub(crate) fn known_linear(lab: [f64; 3]) -> [f64; 3] {
    linear_of_lab(lab)
}
