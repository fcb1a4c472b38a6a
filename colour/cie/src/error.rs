use crate::LineProblem;
use thiserror::Error;

/// Why a colour could not be worked out.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum CieError {
    /// No light of that name.
    #[error("there is no light called `{name}`; known are {known}")]
    UnknownLight {
        /// As asked.
        name: String,
        /// All names, in order.
        known: String,
    },
    /// A spectrum needs at least two wavelengths, and no more than a fine instrument gives.
    #[error("a spectrum of {found} wavelengths was found; between 4 and {most} are expected: read it at 400 to 700 nm by 10 nm or finer")]
    WavelengthCount {
        /// How many were given.
        found: usize,
        /// The most that is read.
        most: usize,
    },
    /// Wavelengths must be finite and grow.
    #[error("wavelength {index} is {nm} nm, not more than the one before it; list wavelengths upward, each once")]
    WavelengthOrder {
        /// Index from 0.
        index: usize,
        /// What stands there.
        nm: f64,
    },
    /// The wavelengths leave out too much of what the eye sees.
    #[error("the spectrum covers {from} to {to} nm; at least 420 to 680 nm is needed to tell its colour: read it over a wider range")]
    WavelengthRange {
        /// First wavelength, nm.
        from: f64,
        /// Last wavelength, nm.
        to: f64,
    },
    /// A gap between neighbours that hides colour.
    #[error("between {from} and {to} nm the spectrum has a gap of more than 20 nm; read it by 20 nm or finer")]
    WavelengthGap {
        /// Lower neighbour, nm.
        from: f64,
        /// Upper neighbour, nm.
        to: f64,
    },
    /// A reflectance that is no number, or as many as wavelengths are not there.
    #[error("{found} reflectances for {expected} wavelengths; give one for each")]
    ReflectanceCount {
        /// Given.
        found: usize,
        /// Wanted.
        expected: usize,
    },
    /// A value that must be finite is not.
    #[error("{what} is not a finite number; give a number")]
    NotFinite {
        /// Which value.
        what: &'static str,
    },
    /// A screen colour that is not "#rrggbb".
    #[error("`{text}` is no screen colour; write it as #rrggbb, for example #98a492")]
    Hex {
        /// As found, at most 20 characters.
        text: String,
    },
    /// A value that must be positive is not.
    #[error("{what} is not a positive, finite number; give one")]
    NotPositive {
        /// Which value.
        what: &'static str,
    },
    /// No reflectance between 0 and 1 has this colour.
    #[error("no surface has the Lab {lab:?}; read the colour again, or see whether its light is D65")]
    NoSurface {
        /// The colour.
        lab: [f64; 3],
    },
    /// A Lab for another light or observer, without its spectrum.
    #[error(
        "the Lab is for {light}, {observer}; only its spectrum could turn it into D65, 2 degrees: read the spectrum, or set the instrument to D65, 2 degrees"
    )]
    NeedsSpectrum {
        /// Light of the reading.
        light: &'static str,
        /// Observer of the reading.
        observer: &'static str,
    },
    /// A file of readings with problems.
    #[error("{}", problems.iter().map(ToString::to_string).collect::<Vec<_>>().join("; "))]
    Unreadable {
        /// All that were found, up to twenty.
        problems: Vec<LineProblem>,
    },
}
