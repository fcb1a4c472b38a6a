//! Measured sizes to the round sizes the maker meant; tables of fits, drills, threads, stock.
//!
//! A photograph gives 22.18 mm +/- 0.09; the maker turned 7/8 in. [`infer`] weighs all sizes of a part together: one common scale
//! and one common edge bias move them all, so each size that is recognised sharpens the rest. What it answers are odds, never a
//! bare guess, and "not round" is always among the rivals.
//!
//! How it works, in the order to read the files in: `evidence` (what goes in), `roundness` (how likely a maker is to choose a size),
//! `zone` (how far a made size strays from the chosen one), `common` (the covariance as a few common causes plus each size's own
//! error), `frames` (was the shaft what it was said to be? was the part round, or its mould?), `echo` (sizes that say nothing new),
//! `weigh` (the odds given one frame, on a grid over the common causes), `persize` (what that means for one size), `infer` (all of
//! it together), `next` (the one measurement worth making), `answer` (what comes out). The look-up tables stand apart in [`tables`].

mod answer;
mod common;
pub mod tables;

mod echo;
mod evidence;
mod frames;
mod infer;
mod next;
mod notes;
mod persize;
mod roundness;
mod weigh;
mod zone;

pub use answer::{BestMeasurement, Candidate, CavityOdds, Chooser, Inference, ScalePosterior, ShaftOdds, SizeOdds, SystemOdds};
pub use evidence::{Decision, Evidence, Kind, Measured, Process, Role, Shaft, SizesError, Systematics};
pub use infer::infer;
pub use zone::{Zone, h_zone, reading_density};
