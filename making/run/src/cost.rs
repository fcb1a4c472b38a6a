//! What a run takes in hours and money.

use crate::RunError;
use crate::error::within;

/// How long one load takes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LoadTime {
    /// Height above the plate, supports included.
    pub height_mm: f64,
    /// Layer.
    pub layer_mm: f64,
    /// Seconds a layer: light, lift and settle.
    pub layer_s: f64,
    /// Filling, levelling, washing and curing of one load, minutes.
    pub handling_min: f64,
}

/// Prices, in any one currency.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Prices {
    /// Tinted resin, a mL.
    pub resin_per_ml: f64,
    /// The bench, an hour of load time.
    pub bench_per_hour: f64,
    /// Whatever each load costs besides: gloves, solvent, film.
    pub per_load: f64,
    /// Whatever each start costs besides: insert, finishing.
    pub per_start: f64,
}

/// Money.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cost {
    /// The whole run.
    pub total: f64,
    /// The run over its starts.
    pub per_start: f64,
    /// Cost of a start over the mean yield: what a good part costs when spares are good for something.
    pub per_good: f64,
    /// The run over the parts wanted: what one costs when spares are worth nothing.
    pub per_wanted: f64,
}

impl LoadTime {
    /// Minutes of one load; whole layers.
    ///
    /// # Errors
    /// A size or time that is not finite or beyond a bench.
    pub fn minutes(&self) -> Result<f64, RunError> {
        let height = within("the load's height", self.height_mm, 0.0, 5000.0, "0 to 5000 mm")?;
        let layer = within("the layer", self.layer_mm, 0.001, 10.0, "0.001 to 10 mm")?;
        let layer_s = within("the time of a layer", self.layer_s, 0.0, 1e5, "0 to 100000 s")?;
        let handling = within("the handling of a load", self.handling_min, 0.0, 1e5, "0 to 100000 min")?;
        Ok((height / layer - 1e-9).ceil().max(0.0) * layer_s / 60.0 + handling)
    }
}

impl Cost {
    /// Splits a run's total over its parts.
    pub fn of(total: f64, start: u32, wanted: u32, mean_yield: f64) -> Cost {
        let per_start = total / f64::from(start.max(1));
        Cost { total, per_start, per_good: per_start / mean_yield.max(1e-9), per_wanted: total / f64::from(wanted.max(1)) }
    }
}
