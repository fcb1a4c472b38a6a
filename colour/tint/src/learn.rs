//! Learning a pot from its chips, and predicting any mix with its doubt.

use crate::bench::{Bench, Mix};
use crate::forward::{Eye, FilmKind, Optics, Seen, bands_apart, see, seen_as};
use crate::law_error::usual_and_likeliest;
use crate::optics::{BANDS, Spectrum};
use crate::prior::{Prior, matern, nm, prior, root};
use crate::{Note, Noted, TintError};
use cie::Weights;
use nalgebra::{Cholesky, DMatrix, DVector, Dyn};

/// What the chips taught. Clone it freely; it holds no more than a few thousand numbers.
#[derive(Clone, Debug)]
pub struct Model {
    pub(crate) bench: Bench,
    pub(crate) prior: Prior,
    pub(crate) optics: Optics,
    pub(crate) u: DVector<f64>,
    model_sigma: f64,
    chips: Vec<Evidence>,
    /// Covariance of all readings as the prior sees them, factored; none without chips.
    pub(crate) spread: Option<Cholesky<f64, Dyn>>,
    /// spread^-1 times the readings' misses.
    pull: DVector<f64>,
    /// ln of the readings' density as the prior sees them, but for a constant.
    evidence: f64,
    /// Slopes of all readings by the unknowns and by the law's error, one column a reading: what every prediction is held against.
    pub(crate) by_unknowns: DMatrix<f64>,
    by_error: DMatrix<f64>,
    /// What each chip says of ln K's error where it stands, band by band, one column a chip.
    taught: DMatrix<f64>,
}

/// One chip, ready for the algebra.
#[derive(Clone, Debug)]
struct Evidence {
    mix: Mix,
    probe: Probe,
    read: DVector<f64>,
    noise: DMatrix<f64>,
    first: usize,
    /// For a spectrum, every which band is looked at; none for Lab.
    every: Option<usize>,
}

/// Absorption and scattering at 400 to 700 nm by 10 nm, per mm at volume fraction 1.
#[derive(Clone, Debug, PartialEq)]
pub struct Spectra {
    /// Absorption K.
    pub k: Spectrum,
    /// Scattering S.
    pub s: Spectrum,
    /// Absorption at volume fraction c is k c exp(-loss c).
    pub loss: f64,
}

/// A mix seen, with what is needed to know how it goes together with every other.
#[derive(Clone, Debug)]
pub(crate) struct Probe {
    pub seen: DVector<f64>,
    by_unknowns: DMatrix<f64>,
    by_error: DMatrix<f64>,
    /// Slopes by ln of the mixture's own absorption, band by band.
    by_ln_k: DMatrix<f64>,
    loads: Vec<f64>,
    /// Slopes by the volume of each colourant, per mL.
    pub by_ml: DMatrix<f64>,
}

/// A colour foretold. `covariance` holds all that is not known of the pot; `dosing` what the hand adds in mixing this one.
#[derive(Clone, Debug, PartialEq)]
pub struct Prediction {
    /// Lab under each light in turn (three rows a light).
    pub lab: DVector<f64>,
    /// Covariance of `lab` from what is not known of the pot.
    pub covariance: DMatrix<f64>,
    /// Covariance of `lab` from the scatter of the doses.
    pub dosing: DMatrix<f64>,
}

/// Learns the optics of resin and colourants from the chips. Without chips the model is what is believed beforehand, and says so by its doubt.
///
/// - **Method** Kubelka-Munk with surface reflection; ln k of each colourant, K and S of the resin are smooth random curves; the most
///   probable curves by Gauss-Newton in the space of readings, with their covariance (Laplace). Drop scatter counts as noise of the
///   mix, carried to the reading by its slope. Beyond the law itself, ln K of every mixture may be off by a smooth error
///   (`model_sigma`, learnt too) that near mixtures share, so that a chip at the recipe corrects the recipe whatever the law's fault.
/// - **Good to** tests `made_up_bench_is_learnt` and `bounds_hold`.
///
/// # Errors
/// A value of the bench that cannot be; a fit that breaks down.
pub fn learn(bench: &Bench) -> Result<Noted<Model>, TintError> {
    bench.check()?;
    let (usual, likeliest) = usual_and_likeliest(bench)?;
    // Wrong chips are looked for with the usual error of the law: with one learnt from them they would excuse themselves.
    let notes = usual.notes();
    Ok(Noted { value: likeliest, notes })
}

/// How far along the spectrum such an error keeps its sign, nm.
const ERROR_LENGTH_NM: f64 = 80.0;
/// The bench learnt with a given error of the law; `start`: unknowns to begin from.
pub(crate) fn fit(bench: &Bench, prior: Prior, model_sigma: f64, start: Option<&DVector<f64>>) -> Result<Model, TintError> {
    let film = FilmKind { thickness_mm: bench.resin.thickness_mm, surface: bench.resin.surface };
    let u = start.cloned().unwrap_or_else(|| DVector::zeros(prior.count));
    let mut model = Model {
        bench: bench.clone(),
        optics: Optics::at(&prior, &u, film),
        prior,
        u,
        model_sigma,
        chips: vec![],
        spread: None,
        pull: DVector::zeros(0),
        evidence: 0.0,
        by_unknowns: DMatrix::zeros(0, 0),
        by_error: DMatrix::zeros(0, 0),
        taught: DMatrix::zeros(0, 0),
    };
    let mixes = bench.chips.iter().map(|chip| bench.mix(chip)).collect::<Result<Vec<_>, _>>()?;
    if mixes.is_empty() {
        return Ok(model);
    }
    for _ in 0..MOST_STEPS {
        model.look_at_chips(&mixes);
        let u = model.most_probable()?;
        let step = u - &model.u;
        let size = step.amax();
        model.advance(&mixes, &step);
        if size < STILL {
            break;
        }
    }
    model.look_at_chips(&mixes);
    model.most_probable()?;
    Ok(model)
}

/// A step below this share of what was not known beforehand changes no reading that anyone could tell: some 1e-3 in Lab at most.
const STILL: f64 = 1e-4;
/// Gauss-Newton converges in 5 to 15 steps here; the rest is for odd readings.
const MOST_STEPS: usize = 60;

impl Model {
    /// Expands every chip around the present unknowns.
    fn look_at_chips(&mut self, mixes: &[Mix]) {
        let mut first = 0;
        let every = bands_apart(&self.bench);
        let mut chips = Vec::with_capacity(mixes.len());
        for (chip, mix) in self.bench.chips.iter().zip(mixes) {
            let (eye, read, sigma) = seen_as(&chip.reading, every);
            let probe = self.probe(mix, &[eye]);
            let noise = DMatrix::from_diagonal(&DVector::from_vec(sigma.iter().map(|s| s * s).collect())) + probe.dosing(mix);
            let rows = read.len();
            let every = if let Eye::Spectrum(every) = eye { Some(every) } else { None };
            chips.push(Evidence { mix: mix.clone(), probe, read, noise, first, every });
            first += rows;
        }
        self.chips = chips;
    }

    /// The most probable unknowns if the expansion were exact: u = J' (J J' + R)^-1 (y - f + J u).
    fn most_probable(&mut self) -> Result<DVector<f64>, TintError> {
        let rows = self.chips.last().map_or(0, |c| c.first + c.read.len());
        self.by_unknowns = DMatrix::zeros(self.prior.count, rows);
        self.by_error = DMatrix::zeros(error_root().ncols(), rows);
        for chip in &self.chips {
            self.by_unknowns.columns_mut(chip.first, chip.read.len()).copy_from(&chip.probe.by_unknowns.transpose());
            self.by_error.columns_mut(chip.first, chip.read.len()).copy_from(&chip.probe.by_error.transpose());
        }
        let mut spread = self.noise();
        spread.gemm(1.0, &self.by_unknowns.transpose(), &self.by_unknowns, 1.0);
        let mut misses = DVector::zeros(rows);
        for chip in &self.chips {
            misses.rows_mut(chip.first, chip.read.len()).copy_from(&(&chip.read - &chip.probe.seen + &chip.probe.by_unknowns * &self.u));
        }
        let broken = |why: &str| TintError::Fit { why: why.into() };
        let factor = Cholesky::new(spread).ok_or_else(|| broken("their covariance broke down"))?;
        let pull = factor.solve(&misses);
        if pull.iter().any(|v| !v.is_finite()) {
            return Err(broken("the readings lead to no finite answer"));
        }
        self.evidence = -0.5 * (misses.dot(&pull) + factor.ln_determinant());
        self.spread = Some(factor);
        self.pull = pull;
        self.taught = DMatrix::zeros(BANDS, self.chips.len());
        for (i, chip) in self.chips.iter().enumerate() {
            let pull = self.pull.rows(chip.first, chip.read.len());
            self.taught.set_column(i, &(error_root() * (chip.probe.by_error.transpose() * pull)));
        }
        let mut u = DVector::zeros(self.prior.count);
        for chip in &self.chips {
            u += chip.probe.by_unknowns.transpose() * self.pull.rows(chip.first, chip.read.len());
        }
        Ok(u)
    }

    /// Covariance of all readings from noise, doses and the law's error, as they are now.
    fn noise(&self) -> DMatrix<f64> {
        let mut all = self.by_error.transpose() * &self.by_error;
        for a in &self.chips {
            for b in &self.chips {
                all.view_mut((a.first, b.first), (a.read.len(), b.read.len())).scale_mut(self.likeness(&a.probe, &b.probe));
            }
            let mut own = all.view_mut((a.first, a.first), a.noise.shape());
            own += &a.noise;
        }
        all
    }

    /// Goes along the step as far as the odds improve.
    fn advance(&mut self, mixes: &[Mix], step: &DVector<f64>) {
        let start = self.u.clone();
        let Some(judge) = self.judge() else { return };
        let cost = |model: &Model| model.u.norm_squared() + judge(model, mixes);
        let before = cost(self);
        let mut share = 1.0;
        for _ in 0..12 {
            self.go_to(&start + step * share);
            if cost(self) <= before {
                return;
            }
            share *= 0.5;
        }
        self.go_to(start);
    }

    fn go_to(&mut self, u: DVector<f64>) {
        self.optics = Optics::at(&self.prior, &u, self.optics.film);
        self.u = u;
    }

    /// The readings' part of the cost with noise and model error as they are now.
    fn judge(&self) -> Option<impl Fn(&Model, &[Mix]) -> f64 + use<>> {
        let rows = self.pull.len();
        let factor = Cholesky::new(self.noise())?;
        Some(move |model: &Model, mixes: &[Mix]| {
            let mut misses = DVector::zeros(rows);
            for (chip, mix) in model.chips.iter().zip(mixes) {
                let r = model.optics.reflectance(mix);
                let seen = match chip.every {
                    None => DVector::from_row_slice(&crate::forward::lab_and_slopes(cie::working(), &r).0),
                    Some(every) => DVector::from_iterator(chip.read.len(), r.into_iter().step_by(every)),
                };
                misses.rows_mut(chip.first, chip.read.len()).copy_from(&(&chip.read - seen));
            }
            let cost = misses.dot(&factor.solve(&misses));
            if cost.is_finite() { cost } else { f64::INFINITY }
        })
    }

    /// A mix as seen by each eye, one under the other, without the slopes by the unknowns (most of the work of [`Model::probe`]); by volume, only the
    /// slopes of `columns`.
    pub(crate) fn glance(&self, mix: &Mix, eyes: &[Eye], columns: &[usize]) -> Probe {
        self.look(mix, eyes, false, columns)
    }

    /// A mix as seen by each eye, one under the other.
    pub(crate) fn probe(&self, mix: &Mix, eyes: &[Eye]) -> Probe {
        // A colourant that is not in the mix scatters nothing.
        let used: Vec<usize> = (0..mix.ml.len()).filter(|&i| mix.ml[i] > 0.0).collect();
        self.look(mix, eyes, true, &used)
    }

    fn look(&self, mix: &Mix, eyes: &[Eye], unknowns: bool, columns: &[usize]) -> Probe {
        let parts: Vec<Seen> = eyes.iter().map(|eye| see(&self.optics, mix, *eye)).collect();
        let stack = |of: &dyn Fn(&Seen) -> DMatrix<f64>| {
            let blocks: Vec<DMatrix<f64>> = parts.iter().map(of).collect();
            let (rows, columns) = (blocks.iter().map(DMatrix::nrows).sum(), blocks.first().map_or(0, DMatrix::ncols));
            let mut all = DMatrix::zeros(rows, columns);
            let mut first = 0;
            for block in blocks {
                all.view_mut((first, 0), block.shape()).copy_from(&block);
                first += block.nrows();
            }
            all
        };
        let by_ln_k = stack(&Seen::by_ln_k);
        Probe {
            seen: DVector::from_iterator(parts.iter().map(Seen::rows).sum(), parts.iter().flat_map(|p| p.value.iter().copied())),
            by_unknowns: if unknowns { stack(&|p| p.by_unknowns(&self.optics, mix, &self.prior)) } else { DMatrix::zeros(0, 0) },
            by_error: if unknowns { &by_ln_k * error_root() } else { DMatrix::zeros(0, 0) },
            by_ln_k,
            by_ml: stack(&|p| p.by_ml(&self.optics, mix, columns)),
            loads: self.loads(mix),
        }
    }

    /// Where a mixture stands among mixtures: ln of one plus its optical loads, a load being absorption over a twentieth of scattering
    /// (there an opaque layer has lost a quarter of its light). Near mixtures, within a factor e of each load, share the model's error.
    fn loads(&self, mix: &Mix) -> Vec<f64> {
        let mean = |v: &[f64]| v.iter().sum::<f64>() / BANDS as f64;
        let total = mix.total_ml();
        let unit = 0.05 * mean(&self.optics.resin_s).max(0.05);
        self.optics.colourants.iter().zip(&mix.ml).map(|(p, ml)| (1.0 + ml / total * mean(&p.k) / unit).ln()).collect()
    }

    /// The volume fraction at which colourant `i` alone has the optical load `k / s` in the resin.
    pub(crate) fn fraction_for_load(&self, i: usize, load: f64) -> f64 {
        // The darkest fifth of the spectrum counts: a yellow is judged by the blue that it takes.
        let mut ratio: Vec<f64> = self.optics.colourants[i].k.iter().zip(&self.optics.resin_s).map(|(k, s)| k / s.max(0.05)).collect();
        ratio.sort_by(|a, b| b.total_cmp(a));
        let strong = ratio.iter().take(BANDS / 5).sum::<f64>() / (BANDS / 5) as f64;
        (load / strong.max(1e-6)).clamp(1e-5, 0.2)
    }

    fn shared_error(&self, a: &Probe, b: &Probe) -> DMatrix<f64> {
        &a.by_error * b.by_error.transpose() * self.likeness(a, b)
    }

    /// Variance of ln K's error that two mixtures share.
    fn likeness(&self, a: &Probe, b: &Probe) -> f64 {
        let apart: f64 = a.loads.iter().zip(&b.loads).map(|(x, y)| (x - y) * (x - y)).sum();
        self.model_sigma * self.model_sigma * matern(apart.sqrt() / ERROR_REACH)
    }

    fn covariance_before(&self, a: &Probe, b: &Probe) -> DMatrix<f64> {
        &a.by_unknowns * b.by_unknowns.transpose() + self.shared_error(a, b)
    }

    /// Covariance of all readings with a probe, one column a value of the probe. Written as products of columns with columns, which lie
    /// in a row in memory.
    fn with_readings(&self, probe: &Probe) -> DMatrix<f64> {
        let mut all = self.by_error.tr_mul(&probe.by_error.transpose());
        for chip in &self.chips {
            all.rows_mut(chip.first, chip.read.len()).scale_mut(self.likeness(probe, &chip.probe));
        }
        // Colourants that are not in the mix move nothing, and that is most of them.
        let moves = |column: usize| probe.by_unknowns.column(column).iter().any(|slope| *slope != 0.0);
        let mut first = 0;
        while first < self.prior.count {
            let end = (first..self.prior.count).find(|c| moves(*c) != moves(first)).unwrap_or(self.prior.count);
            if moves(first) {
                let part = probe.by_unknowns.columns(first, end - first).transpose();
                all += self.by_unknowns.rows(first, end - first).tr_mul(&part);
            }
            first = end;
        }
        all
    }

    /// What the mixtures near by teach beyond the law.
    pub(crate) fn correction(&self, probe: &Probe) -> DVector<f64> {
        if self.chips.is_empty() {
            return DVector::zeros(probe.seen.len());
        }
        // The error's part of with_readings(probe)' * pull, the chips' side of it summed once and for all.
        let near = DVector::from_iterator(self.chips.len(), self.chips.iter().map(|chip| self.likeness(probe, &chip.probe)));
        &probe.by_ln_k * (&self.taught * near)
    }

    /// Covariance between two probes after the chips.
    pub(crate) fn covariance_after(&self, a: &Probe, b: &Probe) -> DMatrix<f64> {
        let before = self.covariance_before(a, b);
        match &self.spread {
            // spread = L L', so one triangle is enough when both probes are one.
            Some(factor) if std::ptr::eq(a, b) => {
                let seen = factor.l_dirty().solve_lower_triangular(&self.with_readings(a));
                seen.map_or(before.clone(), |seen| before - seen.tr_mul(&seen))
            }
            Some(factor) => before - self.with_readings(a).tr_mul(&factor.solve(&self.with_readings(b))),
            None => before,
        }
    }

    pub(crate) fn foretell(&self, mix: &Mix, eyes: &[Eye]) -> Prediction {
        let probe = self.probe(mix, eyes);
        let covariance = self.covariance_after(&probe, &probe);
        Prediction {
            lab: &probe.seen + self.correction(&probe),
            covariance: 0.5 * (&covariance + covariance.transpose()),
            dosing: probe.dosing(mix),
        }
    }

    /// How badly the colour of a mix is known, the scatter of its doses included: root mean square, in CIEDE2000 at the aim.
    pub(crate) fn doubt(&self, mix: &Mix, aim: &crate::goal::Aim) -> f64 {
        let probe = self.probe(mix, &aim.eyes());
        let covariance = self.covariance_after(&probe, &probe) + probe.dosing(mix);
        (&aim.metric * covariance * aim.metric.transpose()).trace().max(0.0).sqrt()
    }

    /// The colour of `drops` (in the order of the bench's colourants) in `volume_ml` of bare resin, under each of `lights`.
    pub fn predict(&self, volume_ml: f64, drops: &[u32], lights: &[&Weights]) -> Prediction {
        let eyes: Vec<Eye> = lights.iter().map(|w| Eye::Lab(w)).collect();
        self.foretell(&Mix::of_drops(&self.bench.colourants, volume_ml, drops), &eyes)
    }

    /// The model with one more bottle, of usual optics for a colour word, in front of which nothing was learnt; `None` for no colour word or
    /// when the bench is full.
    pub(crate) fn with_usual(&self, word: &str) -> Option<Model> {
        crate::words::hint(word)?;
        let mut bench = self.bench.clone();
        let drop_ul = bench.colourants.first().map_or(25.0, |c| c.drop_ul);
        bench.colourants.push(crate::Colourant::new(format!("a usual {word}"), drop_ul));
        bench.chips.clear();
        let usual = prior(&bench);
        let zeros = DVector::zeros(usual.count);
        let pigment = Optics::at(&usual, &zeros, self.optics.film).colourants.pop()?;
        let mut model = Model {
            bench,
            chips: vec![],
            spread: None,
            pull: DVector::zeros(0),
            by_error: DMatrix::zeros(0, 0),
            by_unknowns: DMatrix::zeros(0, 0),
            taught: DMatrix::zeros(0, 0),
            ..self.clone()
        };
        model.optics.colourants.push(pigment);
        Some(model)
    }

    /// The optics as learnt: of the resin, then of each colourant in the order of the bench.
    pub fn spectra(&self) -> (Spectra, Vec<Spectra>) {
        let resin = Spectra { k: self.optics.resin_k, s: self.optics.resin_s, loss: 0.0 };
        (resin, self.optics.colourants.iter().map(|p| Spectra { k: p.k, s: p.s, loss: p.loss }).collect())
    }

    /// ln of the readings' density as the prior sees them, but for a constant; 0 without chips.
    pub(crate) fn evidence(&self) -> f64 {
        self.evidence
    }

    /// Relative error of a mixture's absorption beyond what the law tells.
    pub(crate) fn law_error(&self) -> f64 {
        self.model_sigma
    }

    /// The bench it was learnt from.
    pub fn bench(&self) -> &Bench {
        &self.bench
    }

    /// How each chip is met: its name, the predicted Lab (D65, 2 degrees), after having seen it.
    pub fn chips(&self) -> Vec<(String, [f64; 3])> {
        let lab = |chip: &Evidence| {
            let p = self.foretell(&chip.mix, &[Eye::Lab(cie::working())]).lab;
            [p[0], p[1], p[2]]
        };
        self.bench.chips.iter().zip(&self.chips).map(|(chip, evidence)| (chip.name.clone(), lab(evidence))).collect()
    }

    /// Chips that the others do not believe.
    fn notes(&self) -> Vec<Note> {
        let Some(factor) = &self.spread else { return vec![] };
        let inverse = factor.inverse();
        let mut notes = vec![];
        for (chip, evidence) in self.bench.chips.iter().zip(&self.chips) {
            let n = evidence.read.len();
            // The miss of a chip as foretold by all others, in its own covariance: e = B^-1 p, cov = B^-1 with B its block of the inverse.
            let pull = self.pull.rows(evidence.first, n).into_owned();
            let block = inverse.view((evidence.first, evidence.first), (n, n)).into_owned();
            let Some(solved) = Cholesky::new(block).map(|b| b.solve(&pull)) else { continue };
            let surprise = pull.dot(&solved) / n as f64;
            if surprise > SURPRISE {
                notes.push(Note {
                    text: format!(
                        "chip `{}` is {:.1} times further off than its doubt and the other chips allow",
                        chip.name,
                        surprise.sqrt()
                    ),
                    settle: "check its drops and volume against the bench book, and read it again".into(),
                });
            }
        }
        notes
    }
}

/// Mean square of three standard normals exceeds 7 once in 20000 chips.
const SURPRISE: f64 = 7.0;
/// In units of ln load.
const ERROR_REACH: f64 = 1.0;

impl Probe {
    /// Covariance from the scatter of the doses.
    pub(crate) fn dosing(&self, mix: &Mix) -> DMatrix<f64> {
        let sigma_ml = DVector::from_iterator(mix.ml.len(), mix.ml.iter().zip(&mix.scatter).map(|(ml, s)| ml * s));
        let scaled = &self.by_ml * DMatrix::from_diagonal(&sigma_ml);
        &scaled * scaled.transpose()
    }
}

fn error_root() -> &'static DMatrix<f64> {
    static ROOT: std::sync::LazyLock<DMatrix<f64>> =
        std::sync::LazyLock::new(|| root(DMatrix::from_fn(BANDS, BANDS, |i, j| matern((nm(i) - nm(j)).abs() / ERROR_LENGTH_NM))));
    &ROOT
}
