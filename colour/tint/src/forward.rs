//! From a mix to what is seen, and how it moves with every unknown.

use crate::bench::{Bench, Mix, Reading};
use crate::optics::{BANDS, Spectrum, Surface, film};
use crate::prior::{Block, Prior, TRAITS, nm};
use cie::Weights;
use nalgebra::{DMatrix, DVector};

/// The optics of resin and colourants at one setting of the unknowns.
#[derive(Clone, Debug)]
pub(crate) struct Optics {
    pub resin_k: Spectrum,
    pub resin_s: Spectrum,
    pub backing: f64,
    pub colourants: Vec<Pigment>,
    pub film: FilmKind,
}

#[derive(Clone, Copy, Debug)]
pub(crate) struct FilmKind {
    pub thickness_mm: Option<f64>,
    pub surface: Surface,
}

#[derive(Clone, Debug)]
pub(crate) struct Pigment {
    /// Per mm at volume fraction 1.
    pub k: Spectrum,
    pub s: Spectrum,
    pub loss: f64,
}

impl Pigment {
    /// Beyond a factor of exp(3) the law of loss means nothing.
    pub const MOST_LOST: f64 = 3.0;

    /// Absorption per mm at volume fraction 1 is `k` times this when the load is `c`.
    pub fn strength(&self, c: f64) -> f64 {
        (-self.loss * c).clamp(-Self::MOST_LOST, Self::MOST_LOST).exp()
    }
}

/// e^x kept away from overflow; absorption of 1e13 per mm is beyond anything.
fn safe_exp(x: f64) -> f64 {
    x.clamp(-30.0, 30.0).exp()
}

impl Optics {
    pub fn at(prior: &Prior, u: &DVector<f64>, film: FilmKind) -> Optics {
        let spectrum = |v: &DVector<f64>| std::array::from_fn(|i| safe_exp(v[i]));
        let logit = prior.backing.natural(u)[0];
        let colourants = prior.colourants.iter().map(|block| {
            let traits = block.natural(u);
            // Small particles scatter the short waves more: 1/lambda, between coarse (0) and Rayleigh (4).
            let s = safe_exp(traits[BANDS]);
            Pigment { k: spectrum(&traits), s: std::array::from_fn(|i| s * 550.0 / nm(i)), loss: traits[BANDS + 1] }
        });
        Optics {
            resin_k: spectrum(&prior.resin_k.natural(u)),
            resin_s: spectrum(&prior.resin_s.natural(u)),
            backing: 1.0 / (1.0 + safe_exp(-logit)),
            colourants: colourants.collect(),
            film,
        }
    }

    /// K and S of a mix, per mm.
    pub fn mixed(&self, mix: &Mix) -> (Spectrum, Spectrum) {
        let total = mix.total_ml();
        let mut k: Spectrum = self.resin_k.map(|v| v * mix.resin_ml / total);
        let mut s: Spectrum = self.resin_s.map(|v| v * mix.resin_ml / total);
        for (pigment, ml) in self.colourants.iter().zip(&mix.ml).filter(|(_, ml)| **ml > 0.0) {
            let c = ml / total;
            let strong = c * pigment.strength(c);
            for band in 0..BANDS {
                k[band] += strong * pigment.k[band];
                s[band] += c * pigment.s[band];
            }
        }
        (k, s)
    }

    /// Measured reflectance of a mix.
    pub fn reflectance(&self, mix: &Mix) -> Spectrum {
        let (k, s) = self.mixed(mix);
        std::array::from_fn(|i| self.film.surface.seen(film(k[i], s[i], self.film.thickness_mm, self.backing).r).0)
    }
}

/// One thing seen: a Lab coordinate under a light, or a reflectance; with its slopes by K and S of the mix and by the backing.
#[derive(Clone, Debug)]
pub(crate) struct Seen {
    pub value: Vec<f64>,
    pub by_k: Vec<Spectrum>,
    pub by_s: Vec<Spectrum>,
    pub by_backing: Vec<f64>,
    pub k: Spectrum,
}

/// How a mix is looked at.
#[derive(Clone, Copy)]
pub(crate) enum Eye<'a> {
    Lab(&'a Weights),
    /// Every so many bands, from the first.
    Spectrum(usize),
}

pub(crate) fn see(optics: &Optics, mix: &Mix, eye: Eye) -> Seen {
    let (k, s) = optics.mixed(mix);
    let (mut r, mut by_k, mut by_s, mut by_backing) = ([0.0; BANDS], [0.0; BANDS], [0.0; BANDS], [0.0; BANDS]);
    for i in 0..BANDS {
        let inner = film(k[i], s[i], optics.film.thickness_mm, optics.backing);
        let (seen, slope) = optics.film.surface.seen(inner.r);
        (r[i], by_k[i], by_s[i], by_backing[i]) = (seen, slope * inner.by_k, slope * inner.by_s, slope * inner.by_backing);
    }
    match eye {
        Eye::Spectrum(every) => spectral(every, r, by_k, by_s, by_backing, k),
        Eye::Lab(weights) => {
            let (lab, slopes) = lab_and_slopes(weights, &r);
            let times = |d: &Spectrum| slopes.iter().map(|row| std::array::from_fn(|i| row[i] * d[i])).collect();
            let dot = |d: &Spectrum| slopes.iter().map(|row| row.iter().zip(d).map(|(a, b)| a * b).sum()).collect();
            Seen { value: lab.to_vec(), by_k: times(&by_k), by_s: times(&by_s), by_backing: dot(&by_backing), k }
        }
    }
}

fn spectral(every: usize, r: Spectrum, by_k: Spectrum, by_s: Spectrum, by_backing: Spectrum, k: Spectrum) -> Seen {
    let bands = || (0..BANDS).step_by(every.max(1));
    let diagonal = |d: Spectrum| bands().map(|row| std::array::from_fn(|i| if i == row { d[i] } else { 0.0 })).collect();
    let picked = |d: Spectrum| bands().map(|i| d[i]).collect();
    Seen { value: picked(r), by_k: diagonal(by_k), by_s: diagonal(by_s), by_backing: picked(by_backing), k }
}

/// Lab of a reflectance and its slope by every band.
pub(crate) fn lab_and_slopes(weights: &Weights, r: &Spectrum) -> ([f64; 3], [Spectrum; 3]) {
    let white = weights.white().array();
    let mut t = [0.0; 3];
    for (row, r) in weights.rows().iter().zip(r) {
        for j in 0..3 {
            t[j] += row[j] * r / white[j];
        }
    }
    const HAND_OVER: f64 = 6.0 / 29.0;
    let root = |t: f64| if t > HAND_OVER.powi(3) { t.cbrt() } else { t / (3.0 * HAND_OVER * HAND_OVER) + 4.0 / 29.0 };
    let f = t.map(root);
    let slope = f.map(|f| if f > HAND_OVER { 1.0 / (3.0 * f * f) } else { 1.0 / (3.0 * HAND_OVER * HAND_OVER) });
    let lab = [116.0 * f[1] - 16.0, 500.0 * (f[0] - f[1]), 200.0 * (f[1] - f[2])];
    let mut slopes = [[0.0; BANDS]; 3];
    for (i, row) in weights.rows().iter().enumerate().take(BANDS) {
        let d: [f64; 3] = std::array::from_fn(|j| slope[j] * row[j] / white[j]);
        (slopes[0][i], slopes[1][i], slopes[2][i]) = (116.0 * d[1], 500.0 * (d[0] - d[1]), 200.0 * (d[1] - d[2]));
    }
    (lab, slopes)
}

impl Seen {
    pub fn rows(&self) -> usize {
        self.value.len()
    }

    /// Slopes by every unknown u.
    pub fn by_unknowns(&self, optics: &Optics, mix: &Mix, prior: &Prior) -> DMatrix<f64> {
        let rows = self.rows();
        let mut jacobian = DMatrix::zeros(rows, prior.count);
        let total = mix.total_ml();
        let bare = mix.resin_ml / total;
        let mut put = |block: &Block, natural: DMatrix<f64>| {
            jacobian.columns_mut(block.first, block.count()).gemm(1.0, &natural, &block.shape, 1.0);
            if let Some((first, shape)) = &block.twin {
                jacobian.columns_mut(*first, shape.ncols()).gemm(1.0, &natural, shape, 1.0);
            }
        };
        put(&prior.resin_k, DMatrix::from_fn(rows, BANDS, |row, i| self.by_k[row][i] * bare * optics.resin_k[i]));
        put(&prior.resin_s, DMatrix::from_fn(rows, BANDS, |row, i| self.by_s[row][i] * bare * optics.resin_s[i]));
        put(&prior.backing, DMatrix::from_fn(rows, 1, |row, _| self.by_backing[row] * optics.backing * (1.0 - optics.backing)));
        for ((block, pigment), ml) in prior.colourants.iter().zip(&optics.colourants).zip(&mix.ml).filter(|(_, ml)| **ml > 0.0) {
            let c = ml / total;
            let strong = c * pigment.strength(c);
            let mut natural = DMatrix::zeros(rows, TRAITS);
            for row in 0..rows {
                for i in 0..BANDS {
                    let by_ln_k = self.by_k[row][i] * strong * pigment.k[i];
                    natural[(row, i)] = by_ln_k;
                    natural[(row, BANDS)] += self.by_s[row][i] * c * pigment.s[i];
                    natural[(row, BANDS + 1)] -= by_ln_k * c;
                }
            }
            put(block, natural);
        }
        jacobian
    }

    /// Slopes by ln of the mixture's own absorption, band by band: where the model's error is thought to sit.
    pub fn by_ln_k(&self) -> DMatrix<f64> {
        DMatrix::from_fn(self.rows(), BANDS, |row, i| self.by_k[row][i] * self.k[i])
    }

    /// Slopes by the volume of each of `columns`, per mL; those of the others are left at 0.
    pub fn by_ml(&self, optics: &Optics, mix: &Mix, columns: &[usize]) -> DMatrix<f64> {
        let total = mix.total_ml();
        // What the mix holds on average moves K and S the other way, for its share falls.
        let bare = mix.resin_ml / total;
        let (mut k_lost, mut s_lost) = (optics.resin_k.map(|k| bare * k), optics.resin_s.map(|s| bare * s));
        let factor = |pigment: &Pigment, c: f64| pigment.strength(c) * (1.0 - pigment.loss * c);
        for (pigment, ml) in optics.colourants.iter().zip(&mix.ml).filter(|(_, ml)| **ml > 0.0) {
            let c = ml / total;
            let f = c * factor(pigment, c);
            for i in 0..BANDS {
                k_lost[i] += f * pigment.k[i];
                s_lost[i] += c * pigment.s[i];
            }
        }
        let mut all = DMatrix::zeros(self.rows(), optics.colourants.len());
        for &j in columns {
            let (Some(pigment), Some(ml)) = (optics.colourants.get(j), mix.ml.get(j)) else { continue };
            let f = factor(pigment, ml / total);
            for row in 0..self.rows() {
                let (by_k, by_s) = (&self.by_k[row], &self.by_s[row]);
                let sum: f64 = (0..BANDS).map(|i| by_k[i] * (f * pigment.k[i] - k_lost[i]) + by_s[i] * (pigment.s[i] - s_lost[i])).sum();
                all[(row, j)] = sum / total;
            }
        }
        all
    }
}

/// Reading noise is never believed to be below this in Lab, or this in reflectance (repeatability of placing a chip; common practice).
const LEAST_LAB_SIGMA: f64 = 0.05;
const LEAST_REFLECTANCE_SIGMA: f64 = 0.0005;

/// A reading as rows: how it is looked at, the values, their sigmas.
pub(crate) fn seen_as(reading: &Reading, every: usize) -> (Eye<'static>, DVector<f64>, Vec<f64>) {
    match reading {
        Reading::Lab { lab, sigma } => {
            (Eye::Lab(cie::working()), DVector::from_row_slice(lab), sigma.map(|s| s.max(LEAST_LAB_SIGMA)).to_vec())
        }
        Reading::Spectrum { reflectance, sigma } => {
            let picked: Vec<f64> = reflectance.iter().copied().step_by(every).collect();
            let sigmas = vec![sigma.max(LEAST_REFLECTANCE_SIGMA); picked.len()];
            (Eye::Spectrum(every), DVector::from_vec(picked), sigmas)
        }
    }
}

/// With many spectra only every second, third or sixth band is looked at: neighbours say nearly the same, and the work goes as the cube of the rows.
pub(crate) fn bands_apart(bench: &Bench) -> usize {
    let spectra = bench.chips.iter().filter(|c| matches!(c.reading, Reading::Spectrum { .. })).count();
    match spectra {
        0..=6 => 1,
        7..=20 => 2,
        21..=60 => 3,
        _ => 6,
    }
}
