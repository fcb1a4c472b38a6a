//! What is believed before any chip: smooth spectra, weak levels. Every unknown is a standard normal number times a known shape.

use crate::TintError;
use crate::bench::{Backing, Bench, Colourant, within};
use crate::optics::{BANDS, Spectrum};
use crate::words::hint;
use nalgebra::{DMatrix, DVector};

/// Numbers that tell a colourant: 31 of ln absorption (per mm at volume fraction 1), ln scattering, strength loss.
pub(crate) const TRAITS: usize = BANDS + 2;

/// A colourant as learnt before: plain data, to be kept with the job.
#[derive(Clone, Debug, PartialEq)]
pub struct Shelf {
    /// 31 of ln absorption (per mm at volume fraction 1), then ln scattering at 550 nm, then loss of strength per volume fraction.
    pub mean: Vec<f64>,
    /// Their covariance, 33 rows of 33.
    pub covariance: Vec<Vec<f64>>,
    /// Doubt of ln strength from lot to lot: 0 for the same bottle. Between lots of one pigment strengths of 0.4 to 1.3 of the first were
    /// measured, so 0.4 is fair for a new lot ([`Shelf::NEW_LOT`]).
    pub strength_sigma: f64,
}

/// Another lot of a colourant on the same bench: its spectrum, with its own strength.
#[derive(Clone, Debug, PartialEq)]
pub struct Twin {
    /// Name of the first lot on the bench.
    pub of: String,
    /// ln of its strength against the first one's, as believed beforehand: 0 where nothing is known.
    pub ln_strength: f64,
    /// Doubt of that; [`Shelf::NEW_LOT`] where nothing is known.
    pub strength_sigma: f64,
}

impl Shelf {
    /// Doubt of ln strength for another lot.
    pub const NEW_LOT: f64 = 0.4;

    pub(crate) fn check(&self, name: &str) -> Result<(), TintError> {
        let place = format!("colourant `{name}`, shelf");
        if self.mean.len() != TRAITS || self.covariance.len() != TRAITS || self.covariance.iter().any(|row| row.len() != TRAITS) {
            return Err(TintError::SpectrumLength { place, found: self.mean.len() });
        }
        within(&place, self.strength_sigma, 0.0..=5.0, "0 to 5")?;
        self.mean.iter().try_for_each(|&m| within(&place, m, -100.0..=100.0, "a logarithm from -100 to 100"))?;
        self.covariance.iter().flatten().try_for_each(|&v| within(&place, v, -1e4..=1e4, "a covariance within 10000"))
    }
}

/// natural = mean + shape * u, with u standard normal.
#[derive(Clone, Debug)]
pub(crate) struct Block {
    pub mean: DVector<f64>,
    pub shape: DMatrix<f64>,
    /// Where its u start.
    pub first: usize,
    /// Of another lot: where the first lot's u start, and their shape, which this one shares.
    pub twin: Option<(usize, DMatrix<f64>)>,
}

impl Block {
    fn new(mean: DVector<f64>, covariance: DMatrix<f64>) -> Block {
        Block { shape: root(covariance), mean, first: 0, twin: None }
    }

    pub fn count(&self) -> usize {
        self.shape.ncols()
    }

    pub fn natural(&self, u: &DVector<f64>) -> DVector<f64> {
        let own = &self.mean + &self.shape * u.rows(self.first, self.count());
        match &self.twin {
            Some((first, shape)) => own + shape * u.rows(*first, shape.ncols()),
            None => own,
        }
    }

    /// How the naturals move with all `unknowns` of the bench.
    pub fn by_unknowns(&self, unknowns: usize) -> DMatrix<f64> {
        let mut all = DMatrix::zeros(self.mean.len(), unknowns);
        all.columns_mut(self.first, self.count()).copy_from(&self.shape);
        if let Some((first, shape)) = &self.twin {
            let mut shared = all.columns_mut(*first, shape.ncols());
            shared += shape;
        }
        all
    }
}

/// All unknowns of a bench.
#[derive(Clone, Debug)]
pub(crate) struct Prior {
    pub resin_k: Block,
    pub resin_s: Block,
    /// logit of the backing's reflectance.
    pub backing: Block,
    pub colourants: Vec<Block>,
    pub count: usize,
}

pub(crate) fn prior(bench: &Bench) -> Prior {
    let mut prior = Prior {
        resin_k: resin_absorption(),
        resin_s: resin_scattering(),
        backing: backing(bench.resin.backing),
        colourants: bench.colourants.iter().map(colourant).collect(),
        count: 0,
    };
    let Prior { resin_k, resin_s, backing, colourants, count } = &mut prior;
    for block in [resin_k, resin_s, backing].into_iter().chain(colourants) {
        block.first = *count;
        *count += block.count();
    }
    for (i, colourant) in bench.colourants.iter().enumerate() {
        let Some(first) = colourant.twin.as_ref().and_then(|twin| bench.colourants.iter().position(|other| other.name == twin.of)) else {
            continue;
        };
        // [`Bench::check`] saw to it that the first lot is no twin itself.
        let shared = (prior.colourants[first].first, prior.colourants[first].shape.clone());
        let own = prior.colourants[i].mean.clone();
        prior.colourants[i].mean = own + &prior.colourants[first].mean;
        prior.colourants[i].twin = Some(shared);
    }
    prior
}

/// What another lot has of its own: the logarithm of its strength, on absorption and scattering alike.
fn strength(twin: &Twin) -> Block {
    let along = |size: f64| DMatrix::from_fn(TRAITS, 1, |i, _| if i <= BANDS { size } else { 0.0 });
    Block { mean: along(twin.ln_strength).column(0).into_owned(), shape: along(twin.strength_sigma), first: 0, twin: None }
}

/// Wavelength of a band, nm.
pub(crate) fn nm(band: usize) -> f64 {
    400.0 + 10.0 * band as f64
}

/// A white or clear resin absorbs little, more toward the violet. Level: 0.01 per mm within a factor 4 (1.5 in ln), rising 2 in ln from
/// 550 to 400 nm as yellowish binders and rutile do (from memory); each band free by 0.7, smooth over 50 nm.
fn resin_absorption() -> Block {
    let mean = DVector::from_fn(BANDS, |i, _| 0.01f64.ln() + 2.0 / (1.0 + ((nm(i) - 430.0) / 15.0).exp()));
    Block::new(mean, level_and_shape(1.5, 0.7, 50.0))
}

/// Scattering of a filled resin falls smoothly with wavelength, as a power of 0 (coarse) to 2 (fine). Level: 3 per mm within a factor 4.5;
/// a clear resin lies three sigmas down, and its chip says so at once.
fn resin_scattering() -> Block {
    let mean = DVector::from_fn(BANDS, |i, _| 3f64.ln() - 0.6 * (nm(i) / 550.0).ln());
    let slope = DVector::from_fn(BANDS, |i, _| 0.6 * (nm(i) / 550.0).ln());
    Block::new(mean, level_and_shape(1.5, 0.1, 80.0) + &slope * slope.transpose())
}

fn backing(backing: Backing) -> Block {
    let (mean, sigma): (f64, f64) = match backing {
        Backing::White => (0.85, 0.04),
        Backing::Black => (0.05, 0.02),
        Backing::Reflectance(r) => (r.clamp(0.005, 0.995), 0.01),
    };
    let slope = 1.0 / (mean * (1.0 - mean));
    Block::new(DVector::from_element(1, (mean / (1.0 - mean)).ln()), DMatrix::from_element(1, 1, (sigma * slope) * (sigma * slope)))
}

fn colourant(colourant: &Colourant) -> Block {
    if let Some(twin) = &colourant.twin {
        return strength(twin);
    }
    if let Some(shelf) = &colourant.shelf {
        let covariance = DMatrix::from_fn(TRAITS, TRAITS, |i, j| {
            let strength = if i <= BANDS && j <= BANDS { shelf.strength_sigma * shelf.strength_sigma } else { 0.0 };
            0.5 * (shelf.covariance[i][j] + shelf.covariance[j][i]) + strength
        });
        return Block::new(DVector::from_vec(shelf.mean.clone()), covariance);
    }
    let hint = hint(&colourant.name);
    // What is sold to be dosed in drops colours a few mm of resin at 0.1 to 5 %: absorption of about 20 per mm at volume fraction 1,
    // within a factor 4.5. Absorption ranges over two or three decades along the visible: 1.5 in ln, smooth over 45 nm.
    let white = hint.is_some_and(|h| h.white);
    let (level, shape): (f64, Spectrum) = hint.map_or((0.0, [-0.7; BANDS]), |h| (h.level, h.shape));
    let ln_k = if white { 0.3f64.ln() } else { 20f64.ln() + level };
    // Coloured pigments and dyes scatter from nothing to about as much as they absorb; whites a thousand times more (2 in ln is a wide net).
    let ln_s = if white { 500f64.ln() } else { 1.0 };
    let mean = DVector::from_fn(TRAITS, |i, _| match i {
        i if i < BANDS => ln_k + if white { 0.0 } else { shape[i] },
        BANDS => ln_s,
        _ => LOSS,
    });
    let mut covariance = DMatrix::zeros(TRAITS, TRAITS);
    covariance.view_mut((0, 0), (BANDS, BANDS)).copy_from(&level_and_shape(1.5, 1.3, 45.0));
    covariance[(BANDS, BANDS)] = 4.0;
    covariance[(BANDS + 1, BANDS + 1)] = LOSS_SIGMA * LOSS_SIGMA;
    Block::new(mean, covariance)
}

/// Crowding takes strength as the load grows (flocculation): about 3 % at 2 % load, give or take as much again. Strength is
/// exp(-loss c) of a thin mix's. From memory of paint practice, no source; it is wide on purpose.
const LOSS: f64 = 1.5;
const LOSS_SIGMA: f64 = 2.0;

/// Covariance of a level common to all bands and of a smooth shape (Matern 5/2, so that slopes and bends exist but no ringing).
fn level_and_shape(level: f64, shape: f64, length_nm: f64) -> DMatrix<f64> {
    DMatrix::from_fn(BANDS, BANDS, |i, j| level * level + shape * shape * matern((nm(i) - nm(j)).abs() / length_nm))
}

/// Matern 5/2 correlation at a distance in lengths.
pub(crate) fn matern(distance: f64) -> f64 {
    let z = 5f64.sqrt() * distance;
    (1.0 + z + z * z / 3.0) * (-z).exp()
}

/// A matrix whose product with its transpose is the covariance but for directions of less than a hundred-thousandth of its mean variance.
pub(crate) fn root(covariance: DMatrix<f64>) -> DMatrix<f64> {
    let n = covariance.nrows();
    let eigen = covariance.symmetric_eigen();
    let mut order: Vec<usize> = (0..n).collect();
    order.sort_by(|&a, &b| eigen.eigenvalues[b].total_cmp(&eigen.eigenvalues[a]).then(a.cmp(&b)));
    let floor = 1e-5 * eigen.eigenvalues.iter().map(|v| v.max(0.0)).sum::<f64>() / n as f64;
    let kept: Vec<usize> = order.into_iter().filter(|&i| eigen.eigenvalues[i] > floor).collect();
    DMatrix::from_fn(n, kept.len(), |row, column| eigen.eigenvectors[(row, kept[column])] * eigen.eigenvalues[kept[column]].sqrt())
}
