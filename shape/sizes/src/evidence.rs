use nalgebra::DMatrix;
use quantity::Length;
use thiserror::Error;

/// Sizes at most in one part; a profile has a few dozen at most.
pub const MOST_SIZES: usize = 100;
/// Sizes are believed between these bounds, mm: the trade of small turned parts.
pub const SIZE_RANGE_MM: (f64, f64) = (0.01, 2000.0);
/// The name under which decisions speak of the shaft.
pub const SHAFT: &str = "shaft";

/// What kind of size it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// Across the axis.
    Diameter,
    /// Between two places along the axis.
    Length,
    /// From the rod end along the axis.
    Position,
}

/// What the size is on the part: it decides which lists of sizes the maker chose from, and how likely it was designed at all.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Role {
    /// Overall length or greatest diameter: nearly always designed.
    Overall,
    /// A cylinder, step, neck, bead or shoulder.
    Feature,
    /// A hole: drills and reamers.
    Bore,
    /// Where a fillet or an arc ends, a place that may never have had a number on the drawing.
    Doubtful,
}

/// One measured size.
#[derive(Clone, Debug, PartialEq)]
pub struct Measured {
    /// "overall length", "collar diameter" ...; unique within the part.
    pub name: String,
    /// Its kind.
    pub kind: Kind,
    /// What it is on the part.
    pub role: Role,
    /// Where along the axis, from and to.
    pub z_mm: [f64; 2],
    /// Measured value.
    pub value_mm: f64,
}

/// The rod that gave the photographs their scale.
#[derive(Clone, Debug, PartialEq)]
pub struct Shaft {
    /// Its diameter as stated. Everything measured is proportional to it.
    pub stated: Length,
}

/// How the original was made: it decides how far a made size strays from the meant one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Process {
    /// Turned to size: about IT10, on both sides of the nominal (common practice, no source).
    Turned,
    /// Outer diameters are the skin of bought bar, at or under nominal (h11); the rest turned.
    Bar,
    /// Moulded: the part may have been dimensioned, or its cavity. Linear shrinkage lies between two bounds (fractions), draft per
    /// side is at most `draft_deg`.
    Moulded {
        /// Least shrinkage, 0.004 = 0.4 %.
        shrink_low: f64,
        /// Greatest shrinkage.
        shrink_high: f64,
        /// Greatest draft per side, degrees.
        draft_deg: f64,
    },
}

/// Systematic errors that the measuring step may not have counted; they are integrated out on top of the covariance.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Systematics {
    /// Relative sigma of one scale common to all sizes.
    pub scale: f64,
    /// Relative sigma of one scale common to sizes along the axis (tilt).
    pub length_scale: f64,
    /// Sigma of one shift common to all diameters (an edge that lies outward everywhere), mm on the diameter.
    pub diameter_offset_mm: f64,
    /// Sigma of each size's own unexplained error, mm.
    pub own_mm: f64,
}

impl Default for Systematics {
    /// Modest: what the lens model, the rod's edge and the darkening of the limb may leave (from memory of bias studies in the design
    /// notes: a tenth of a pixel to half a pixel at 10 to 20 px a mm; 1 px at the rod is 1 %).
    fn default() -> Self {
        Systematics { scale: 0.0025, length_scale: 0.002, diameter_offset_mm: 0.04, own_mm: 0.02 }
    }
}

/// What a person decided or found out. It enters as evidence and moves everything else.
#[derive(Clone, Debug, PartialEq)]
pub enum Decision {
    /// This size is meant to be so much. For the shaft, use the name "shaft".
    Choose {
        /// Which size.
        name: String,
        /// What it is, mm.
        mm: f64,
    },
    /// This size is not so much.
    Refuse {
        /// Which size.
        name: String,
        /// What it is not, mm.
        mm: f64,
    },
    /// Measured on the original, by caliper for instance.
    Reading {
        /// Which size.
        name: String,
        /// Read, mm.
        mm: f64,
        /// Standard uncertainty of the reading, mm; greater than 0.
        sigma_mm: f64,
    },
}

impl Decision {
    /// Which size it speaks of.
    pub fn name(&self) -> &str {
        match self {
            Decision::Choose { name, .. } | Decision::Refuse { name, .. } | Decision::Reading { name, .. } => name,
        }
    }

    fn mm(&self) -> f64 {
        match self {
            Decision::Choose { mm, .. } | Decision::Refuse { mm, .. } | Decision::Reading { mm, .. } => *mm,
        }
    }
}

/// Everything [`crate::infer`] goes by.
#[derive(Clone, Debug, PartialEq)]
pub struct Evidence {
    /// The sizes, in the order wanted back.
    pub sizes: Vec<Measured>,
    /// Their covariance, mm^2, common scale and tilt included.
    pub covariance: DMatrix<f64>,
    /// The rod; absent: the scale is beyond doubt or came from elsewhere.
    pub shaft: Option<Shaft>,
    /// How the original was made.
    pub process: Process,
    /// Doubts beyond the covariance.
    pub systematics: Systematics,
    /// What a person said.
    pub decisions: Vec<Decision>,
}

impl Evidence {
    /// Turned part, usual systematic doubts, no decisions yet.
    pub fn new(sizes: Vec<Measured>, covariance: DMatrix<f64>, shaft: Option<Shaft>) -> Self {
        Evidence { sizes, covariance, shaft, process: Process::Turned, systematics: Systematics::default(), decisions: Vec::new() }
    }

    /// Refuses what no answer could be worked out from.
    pub(crate) fn check(&self) -> Result<(), SizesError> {
        let n = self.sizes.len();
        if n > MOST_SIZES {
            return Err(SizesError::TooMany { found: n });
        }
        if self.covariance.nrows() != n || self.covariance.ncols() != n {
            return Err(SizesError::CovarianceShape { sizes: n, rows: self.covariance.nrows(), columns: self.covariance.ncols() });
        }
        for (i, size) in self.sizes.iter().enumerate() {
            check_size(&size.name, size.value_mm)?;
            if self.sizes.iter().take(i).any(|other| other.name == size.name) || size.name == SHAFT {
                return Err(SizesError::NameTwice { name: size.name.clone() });
            }
            if !size.z_mm.iter().all(|z| z.is_finite()) {
                return Err(SizesError::NotFinite { name: size.name.clone(), what: "its place along the axis" });
            }
            let row_is_sound = self.covariance.row(i).iter().all(|c| c.is_finite());
            if !row_is_sound || self.covariance[(i, i)] < 0.0 {
                return Err(SizesError::NotFinite { name: size.name.clone(), what: "its covariance" });
            }
        }
        if let Some(shaft) = &self.shaft {
            check_size(SHAFT, shaft.stated.mm)?;
            if !(shaft.stated.sigma_mm.is_finite() && shaft.stated.sigma_mm >= 0.0) {
                return Err(SizesError::BadSigma { name: SHAFT.into(), sigma_mm: shaft.stated.sigma_mm });
            }
        }
        self.check_assumptions()?;
        self.decisions.iter().try_for_each(|decision| self.check_decision(decision))
    }

    fn check_decision(&self, decision: &Decision) -> Result<(), SizesError> {
        let name = decision.name();
        let known = self.sizes.iter().any(|size| size.name == name) || (name == SHAFT && self.shaft.is_some());
        if !known {
            let names = self.sizes.iter().map(|size| size.name.as_str()).collect::<Vec<_>>().join(", ");
            return Err(SizesError::UnknownName { name: name.into(), names });
        }
        check_size(name, decision.mm())?;
        match decision {
            Decision::Reading { sigma_mm, .. } if !(sigma_mm.is_finite() && *sigma_mm > 0.0) => {
                Err(SizesError::BadSigma { name: name.into(), sigma_mm: *sigma_mm })
            }
            _ => Ok(()),
        }
    }

    fn check_assumptions(&self) -> Result<(), SizesError> {
        let s = self.systematics;
        if ![s.scale, s.length_scale, s.diameter_offset_mm, s.own_mm].iter().all(|x| x.is_finite() && *x >= 0.0) {
            return Err(SizesError::BadAssumption { what: "a systematic doubt must be finite and not negative" });
        }
        match self.process {
            Process::Moulded { shrink_low, shrink_high, draft_deg }
                if !(0.0 <= shrink_low && shrink_low <= shrink_high && shrink_high < 0.2 && (0.0..20.0).contains(&draft_deg)) =>
            {
                Err(SizesError::BadAssumption {
                    what: "shrinkage must run from low to high between 0 and 0.2, draft between 0 and 20 degrees",
                })
            }
            _ => Ok(()),
        }
    }
}

fn check_size(name: &str, mm: f64) -> Result<(), SizesError> {
    if mm.is_finite() && mm >= SIZE_RANGE_MM.0 && mm <= SIZE_RANGE_MM.1 {
        Ok(())
    } else {
        Err(SizesError::NoSize { name: name.into(), mm })
    }
}

/// Why nothing could be inferred.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum SizesError {
    /// More sizes than any small part has.
    #[error("{found} sizes were given, at most {MOST_SIZES} can be weighed together; leave out those that were never designed")]
    TooMany {
        /// How many.
        found: usize,
    },
    /// Sizes and covariance don't match.
    #[error("the covariance is {rows} x {columns} for {sizes} sizes; give one row and one column a size, in their order")]
    CovarianceShape {
        /// Sizes given.
        sizes: usize,
        /// Rows of the covariance.
        rows: usize,
        /// Its columns.
        columns: usize,
    },
    /// NaN or infinity, or a negative variance.
    #[error("`{name}`: {what} is not a finite number or is negative")]
    NotFinite {
        /// Which size.
        name: String,
        /// What about it.
        what: &'static str,
    },
    /// A value that is no size of a small part.
    #[error("`{name}` is {mm} mm; a size between {} and {} mm was expected", SIZE_RANGE_MM.0, SIZE_RANGE_MM.1)]
    NoSize {
        /// Which size.
        name: String,
        /// What was given.
        mm: f64,
    },
    /// A standard uncertainty that is none.
    #[error("the doubt of `{name}` is {sigma_mm} mm; a finite standard uncertainty above 0 was expected")]
    BadSigma {
        /// Which size.
        name: String,
        /// What was given.
        sigma_mm: f64,
    },
    /// Two sizes of one name.
    #[error("the name `{name}` stands for two sizes; give each its own")]
    NameTwice {
        /// The name.
        name: String,
    },
    /// A decision about a size that was not measured.
    #[error("there is no size `{name}` on this part; its sizes are: {names}")]
    UnknownName {
        /// The name.
        name: String,
        /// Those there are.
        names: String,
    },
    /// Assumptions outside their range.
    #[error("{what}")]
    BadAssumption {
        /// Which, and what was expected.
        what: &'static str,
    },
    /// Decisions that leave nothing possible.
    #[error("the decisions contradict each other: no shaft size is left; take back a refusal or a choice of the shaft")]
    NothingLeft,
}
