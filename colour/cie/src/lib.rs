//! Observers, lights, spectra, Lab, CIEDE2000, CAM16, adaptation.
//!
//! Conventions: [`Xyz`] has Y = 100 for the perfect white; Lab without further words is D65, 2 degrees; reflectances are 0..1;
//! wavelengths are nm. Everything is f64 and pure.

mod adapt;
mod appearance;
mod difference;
mod error;
mod light;
mod metamerism;
mod read;
mod rebuild;
mod screen;
mod space;
mod verdict;
mod weights;

pub use adapt::{Adaptation, adapt};
pub use appearance::{Appearance, Surround, Viewing, cam16};
pub use difference::{De00, De00Factors, cie76, ciede2000, ciede2000_parts};
pub use error::CieError;
pub use light::{Light, Observer, white};
pub use metamerism::{LabReading, UnderLight, guess_reference, guess_under, reference_xyz, to_reference, under_lights};
pub use read::{LineProblem, MOST_BYTES, Readings, Sample, read_cgats, read_csv, read_readings};
pub use rebuild::spectrum_of;
pub use screen::{
    Screen, parse_hex, proof, screen, srgb_decode, srgb_encode, srgb_linear_to_xyz, srgb_white, srgb8_to_lab, xyz_to_srgb_linear,
};
pub use space::{Lab, Lch, Xyz, lab_to_xyz, xyz_to_lab};
pub use verdict::{ACCEPTED_DE00, SEEN_DE00, SET_DE00, Verdict, direction};
pub use weights::{WORKING_NM, Weights, working};
