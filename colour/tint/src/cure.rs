//! How deep light cures the tinted resin: the working curve, its two-strip fit, what colour does to it, and the exposure that it asks for.

use crate::TintError;
use crate::bench::within;

/// Cure depth grows with the logarithm of exposure: Cd = Dp ln(E / Ec).
///
/// Source: Jacobs, the working curve of stereolithography (1992). Both constants hold for one resin with one load of colour under one lamp; between
/// resins they differ by up to ten times, so they are measured, never assumed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WorkingCurve {
    /// Depth of penetration Dp, um.
    pub depth_um: f64,
    /// Critical exposure Ec, mJ/cm2.
    pub critical_mj_cm2: f64,
    /// Covariance of (ln Dp, ln Ec).
    pub covariance: [[f64; 2]; 2],
}

/// A test strip: exposure and the depth that it cured.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Strip {
    /// Exposure, mJ/cm2 (or seconds, if every exposure is in seconds of the same lamp).
    pub exposure_mj_cm2: f64,
    /// Cured depth, um.
    pub depth_um: f64,
    /// Its standard uncertainty, um.
    pub sigma_um: f64,
}

/// A value with its standard uncertainty.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Doubted {
    /// The value.
    pub value: f64,
    /// One sigma.
    pub sigma: f64,
}

impl WorkingCurve {
    /// The curve through two strips or more, by least squares of depth on ln exposure.
    ///
    /// # Errors
    /// Fewer than two exposures, values that cannot be, or depths that do not grow with exposure.
    pub fn fit(strips: &[Strip]) -> Result<WorkingCurve, TintError> {
        for strip in strips {
            within("strip, exposure", strip.exposure_mj_cm2, 1e-6..=1e9, "an exposure above 0")?;
            within("strip, depth_um", strip.depth_um, 1e-3..=1e6, "a depth above 0 um")?;
            within("strip, sigma_um", strip.sigma_um, 1e-6..=1e6, "an uncertainty above 0 um")?;
        }
        let sum = |f: &dyn Fn(f64, f64) -> f64| {
            strips.iter().map(|s| f(s.exposure_mj_cm2.ln(), s.depth_um) / (s.sigma_um * s.sigma_um)).sum::<f64>()
        };
        let (w, x, y) = (sum(&|_, _| 1.0), sum(&|x, _| x), sum(&|_, y| y));
        let (mean_x, mean_y) = (x / w, y / w);
        let spread = sum(&|x, _| (x - mean_x).powi(2));
        let slope = sum(&|x, y| (x - mean_x) * (y - mean_y)) / spread;
        if !(spread > 1e-12 && slope > 0.0 && slope.is_finite()) {
            return Err(TintError::Fit { why: "the strips need two exposures at least, and the longer must cure deeper".into() });
        }
        // ln Ec = mean_x - mean_y / Dp; the slope and the mean depth are independent.
        let (v_slope, v_mean) = (1.0 / spread, 1.0 / w);
        let (d, by_slope) = (slope, mean_y / (slope * slope));
        let v_depth = v_slope / (d * d);
        let v_critical = by_slope * by_slope * v_slope + v_mean / (d * d);
        let shared = by_slope * v_slope / d;
        let critical_mj_cm2 = (mean_x - mean_y / slope).exp();
        Ok(WorkingCurve { depth_um: slope, critical_mj_cm2, covariance: [[v_depth, shared], [shared, v_critical]] })
    }

    /// A curve whose constants are known for sure.
    pub fn exact(depth_um: f64, critical_mj_cm2: f64) -> WorkingCurve {
        WorkingCurve { depth_um, critical_mj_cm2, covariance: [[0.0; 2]; 2] }
    }

    /// Depth cured by an exposure, um; 0 at or below the critical exposure, where nothing sets.
    pub fn depth(&self, exposure_mj_cm2: f64) -> Doubted {
        let ratio = (exposure_mj_cm2 / self.critical_mj_cm2).ln();
        if ratio.is_nan() || ratio <= 0.0 {
            return Doubted { value: 0.0, sigma: 0.0 };
        }
        // d Cd = Dp ln(E/Ec) d ln Dp - Dp d ln Ec.
        let value = self.depth_um * ratio;
        Doubted { value, sigma: self.spread([value, -self.depth_um]) }
    }

    /// Exposure that cures to a depth.
    pub fn exposure(&self, depth_um: f64) -> Doubted {
        let ratio = depth_um / self.depth_um;
        let value = self.critical_mj_cm2 * ratio.exp();
        Doubted { value, sigma: self.spread([-value * ratio, value]) }
    }

    /// The exposure to set so that layers of `layer_um` hold together: 1.5 layers deep (common practice is 1.3 to 2, no source), with the doubt of
    /// the curve added at 95 % so that a layer that does not hold is rare.
    pub fn suggest(&self, layer_um: f64) -> Doubted {
        let Doubted { value, sigma } = self.exposure(1.5 * layer_um);
        Doubted { value: value + 1.645 * sigma, sigma }
    }

    /// The curve at another load of colour: 1/Dp is linear in it, Ec stays.
    ///
    /// `absorption_per_um` is what each unit of load adds to 1/Dp. Source: Tomeckova and Halloran (2010).
    pub fn with_colour(&self, absorption_per_um: f64, load: f64) -> WorkingCurve {
        let depth_um = 1.0 / (1.0 / self.depth_um + absorption_per_um * load);
        // ln Dp' moves by Dp'/Dp for each ln Dp.
        let share = depth_um / self.depth_um;
        let c = self.covariance;
        WorkingCurve { depth_um, covariance: [[c[0][0] * share * share, c[0][1] * share], [c[1][0] * share, c[1][1]]], ..*self }
    }

    /// What a load of colour added to 1/Dp, per unit of load, from the curves without and with it.
    pub fn colour_law(clear: &WorkingCurve, tinted: &WorkingCurve, load: f64) -> f64 {
        (1.0 / tinted.depth_um - 1.0 / clear.depth_um) / load
    }

    fn spread(&self, by: [f64; 2]) -> f64 {
        let c = self.covariance;
        (by[0] * by[0] * c[0][0] + 2.0 * by[0] * by[1] * c[0][1] + by[1] * by[1] * c[1][1]).max(0.0).sqrt()
    }
}

/// How many times longer to expose so that the same depth cures when colour shortened Dp from `clear_um` to `tinted_um`, Ec unchanged.
pub fn exposure_factor(depth_um: f64, clear_um: f64, tinted_um: f64) -> f64 {
    (depth_um / tinted_um - depth_um / clear_um).exp()
}
