//! Measuring out: shares of the total and shares on the resin, balances, pipettes, drops, and stock solutions of strong colourants.

use crate::TintError;
use crate::bench::within;

/// A share of the total: colourant over everything.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct OfTotal(pub f64);

/// A share on the resin: colourant over the resin that it is added to.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct OnResin(pub f64);

impl From<OfTotal> for OnResin {
    fn from(share: OfTotal) -> OnResin {
        OnResin(share.0 / (1.0 - share.0))
    }
}

impl From<OnResin> for OfTotal {
    fn from(share: OnResin) -> OfTotal {
        OfTotal(share.0 / (1.0 + share.0))
    }
}

/// Stock of a strength to take so that `total` holds `wanted`, same unit as `total`.
pub fn stock_in_total(wanted: OfTotal, total: f64, stock: OfTotal) -> f64 {
    wanted.0 * total / stock.0
}

/// Stock of a strength to add to `resin` so that the whole holds `wanted`: w R / (ws - w).
pub fn stock_onto_resin(wanted: OfTotal, resin: f64, stock: OfTotal) -> f64 {
    wanted.0 * resin / (stock.0 - wanted.0)
}

/// A balance.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Balance {
    /// Smallest step of the display, g.
    pub step_g: f64,
    /// Repeatability of one reading, g; 0.41 steps is the floor (USP general chapter 41).
    pub sigma_g: f64,
}

impl Balance {
    /// A balance that repeats to 0.41 of its step.
    pub fn of_step(step_g: f64) -> Balance {
        Balance { step_g, sigma_g: 0.41 * step_g }
    }

    /// Smallest net weight that is right to `share` at 95 % (twice sigma).
    pub fn least_g(&self, share: f64) -> f64 {
        2.0 * self.sigma_g.max(0.41 * self.step_g) / share
    }

    /// Relative standard uncertainty of a net weight, the difference of two readings.
    pub fn net_share(&self, net_g: f64) -> f64 {
        std::f64::consts::SQRT_2 * self.sigma_g / net_g
    }
}

/// A pipette: its limits are fixed in uL by its nominal volume, so a small setting is worse in percent (ISO 8655-2).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pipette {
    /// Nominal, uL.
    pub nominal_ul: f64,
    /// Smallest setting, uL.
    pub least_ul: f64,
    /// Greatest systematic error, uL.
    pub bias_ul: f64,
    /// Random error, uL.
    pub random_ul: f64,
}

impl Pipette {
    /// Systematic and random error of a setting, relative.
    pub fn shares(&self, ul: f64) -> (f64, f64) {
        (self.bias_ul / ul, self.random_ul / ul)
    }
}

/// Error of one dilution step of `part` in `part + rest`: the share moves by (1 - f) of each relative error, f = part / (part + rest).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DilutionStep {
    /// Volume taken.
    pub part: f64,
    /// Volume it goes into.
    pub rest: f64,
    /// Relative error of the part.
    pub part_error: f64,
    /// Relative error of the rest.
    pub rest_error: f64,
}

impl DilutionStep {
    fn lever(&self) -> f64 {
        1.0 - self.part / (self.part + self.rest)
    }

    /// Both errors at their worst together.
    pub fn worst(&self) -> f64 {
        self.lever() * (self.part_error + self.rest_error)
    }

    /// Both errors independent.
    pub fn independent(&self) -> f64 {
        self.lever() * self.part_error.hypot(self.rest_error)
    }
}

/// Relative error of steps in a row whose errors are independent.
pub fn in_a_row(errors: &[f64]) -> f64 {
    errors.iter().map(|e| e * e).sum::<f64>().sqrt()
}

/// What is missing, relative, when a broken number of drops is given as the whole number below or above; below 0 when too much is given.
pub fn short_by_rounding(drops: f64) -> f64 {
    1.0 - drops.round() / drops
}

/// Volume of a drop that falls from a tip held upright, uL: weight 2 pi r gamma psi, with psi = 1 / (2 pi F) the share that falls off and F = 0.14782 + 0.27896 x - 0.166 x^2 of
/// x = r / V^(1/3) (Lando and Oakley 1967, after Harkins and Brown; from memory, good to some percent for x of 0.3 to 1.2).
///
/// `outer_mm`: the tip's outer diameter if the liquid wets its face, else the bore's. Test: row `usp_drop` of the check values.
pub fn drop_of_tip_ul(outer_mm: f64, tension_mn_m: f64, density_g_ml: f64) -> f64 {
    const GRAVITY: f64 = 9.806_65;
    let radius_mm = 0.5 * outer_mm;
    let mut volume_ul = 30.0;
    // Each round takes most of what is left of the error; twenty reach rounding.
    for _ in 0..20 {
        let x = (radius_mm / f64::cbrt(volume_ul)).clamp(0.3, 1.2);
        let falls = 0.14782 + 0.27896 * x - 0.166 * x * x;
        // mN/m times mm is uN; over g/mL and m/s2 that is uL.
        volume_ul = radius_mm * tension_mn_m / (falls * density_g_ml * GRAVITY);
    }
    volume_ul
}

/// Drops of a resin from a tip that gives `water` with water: the weight of a drop goes as surface tension (Tate's law).
pub fn drop_by_tension(water: f64, water_mn_m: f64, resin_mn_m: f64) -> f64 {
    water * resin_mn_m / water_mn_m
}

/// How the doses are measured when a stock is thinned.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Tool {
    /// By weight.
    Balance(Balance),
    /// By volume; what is thinned into is measured by the same.
    Pipette(Pipette),
}

impl Tool {
    /// Relative standard uncertainty of an amount (g or mL), limits taken as rectangular.
    fn share(&self, amount: f64) -> f64 {
        match self {
            Tool::Balance(balance) => balance.net_share(amount),
            Tool::Pipette(pipette) => {
                // Larger volumes take several strokes of the full pipette.
                let strokes = (amount * 1e3 / pipette.nominal_ul).ceil().max(1.0);
                let (bias, random) = pipette.shares(amount * 1e3 / strokes);
                (bias / 3f64.sqrt()).hypot(random / strokes.sqrt())
            }
        }
    }

    fn least(&self) -> f64 {
        match self {
            Tool::Balance(balance) => balance.step_g,
            Tool::Pipette(pipette) => pipette.least_ul * 1e-3,
        }
    }
}

/// One thinning on the way to a weak mix.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StockStep {
    /// What is taken of the stronger one, g or mL.
    pub take: f64,
    /// What it goes into.
    pub into: f64,
    /// Strength reached.
    pub strength: OfTotal,
    /// Relative standard uncertainty of that strength, all steps so far counted.
    pub error: f64,
}

/// A way from a strong colourant to a dose that can be measured.
#[derive(Clone, Debug, PartialEq)]
pub struct StockPlan {
    /// Thinnings, strongest first; none when the neat colourant can be measured well enough.
    pub steps: Vec<StockStep>,
    /// Dose of the last stock into the pot, g or mL.
    pub dose: f64,
    /// Relative standard uncertainty of the colourant in the pot.
    pub error: f64,
    /// Smallest pot in which this dose is still right to the wanted error.
    pub least_total: f64,
}

/// The shortest series of stocks by which `total` (g or mL) gets `wanted` of a colourant with a relative standard uncertainty of at most `error`.
/// Each stock is thinned at most a hundredfold, and made as small as the tool allows.
///
/// # Errors
/// Values that cannot be, or an error that no series of up to four stocks reaches with this tool: say which, and use a finer one.
pub fn stock_plan(wanted: OfTotal, total: f64, neat: OfTotal, tool: Tool, error: f64) -> Result<StockPlan, TintError> {
    within("stock, wanted share", wanted.0, 1e-12..=0.5, "a share of the total above 0, at most 0.5")?;
    within("stock, total", total, 1e-3..=1e6, "0.001 to 1000000")?;
    within("stock, neat share", neat.0, wanted.0..=1.0, "a strength between the wanted share and 1")?;
    within("stock, error", error, 1e-4..=0.5, "0.0001 to 0.5")?;
    for stocks in 0..=4u32 {
        if let Some(plan) = series(wanted, total, neat, tool, error, stocks) {
            return Ok(plan);
        }
    }
    Err(TintError::Fit {
        why: format!(
            "no series of four stocks gives {:.1} % with this tool; use a finer balance or pipette, or a larger pot",
            100.0 * error
        ),
    })
}

/// The series with so many stocks; `None` if it is not good enough.
fn series(wanted: OfTotal, total: f64, neat: OfTotal, tool: Tool, error: f64, stocks: u32) -> Option<StockPlan> {
    // Errors add as squares; each weighing gets an equal part.
    let each = error / f64::from(stocks + 1).sqrt();
    // The dose of the last stock should be just large enough to be measured that well: that leaves the stocks as strong as may be.
    let dose_wanted = smallest_for(tool, each)?.max(tool.least());
    let neat_dose = stock_in_total(wanted, total, neat);
    let factor = (dose_wanted / neat_dose).max(1.0);
    if stocks == 0 && factor > 1.0 || factor > 100f64.powi(stocks as i32) || dose_wanted.max(neat_dose) > total {
        return None;
    }
    let step_factor = if stocks == 0 { 1.0 } else { factor.powf(1.0 / f64::from(stocks)) };
    let mut steps = vec![];
    let (mut strength, mut square) = (neat.0, 0.0);
    for _ in 0..stocks {
        let take = dose_wanted;
        let into = take * (step_factor - 1.0);
        let lever = 1.0 - 1.0 / step_factor;
        let own = if into > 0.0 { lever * tool.share(take).hypot(tool.share(into)) } else { 0.0 };
        square += own * own;
        strength /= step_factor;
        steps.push(StockStep { take, into, strength: OfTotal(strength), error: f64::sqrt(square) });
    }
    let dose = stock_in_total(wanted, total, OfTotal(strength));
    let reached = f64::hypot(square.sqrt(), tool.share(dose));
    let left = (error * error - square).max(0.0).sqrt();
    let least_dose = smallest_for(tool, left)?;
    (reached <= error * (1.0 + 1e-9)).then_some(StockPlan { steps, dose, error: reached, least_total: total * least_dose / dose })
}

/// The smallest amount that the tool measures to a relative standard uncertainty; `None` if none does.
fn smallest_for(tool: Tool, share: f64) -> Option<f64> {
    match tool {
        Tool::Balance(balance) => Some(std::f64::consts::SQRT_2 * balance.sigma_g / share),
        Tool::Pipette(pipette) => {
            let ul = (pipette.bias_ul / 3f64.sqrt()).hypot(pipette.random_ul) / share;
            (ul <= pipette.nominal_ul).then_some(ul.max(pipette.least_ul) * 1e-3)
        }
    }
}
