use std::fmt;

/// A preferred scale (ISO 5455): 1, 2 or 5 times a power of ten, to one or of one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Scale {
    /// Millimetres on paper for one millimetre of the part.
    pub factor: f64,
}

/// Largest first.
pub(crate) const PREFERRED: [Scale; 16] = [
    Scale { factor: 100.0 },
    Scale { factor: 50.0 },
    Scale { factor: 20.0 },
    Scale { factor: 10.0 },
    Scale { factor: 5.0 },
    Scale { factor: 2.0 },
    Scale { factor: 1.0 },
    Scale { factor: 0.5 },
    Scale { factor: 0.2 },
    Scale { factor: 0.1 },
    Scale { factor: 0.05 },
    Scale { factor: 0.02 },
    Scale { factor: 0.01 },
    Scale { factor: 0.005 },
    Scale { factor: 0.002 },
    Scale { factor: 0.001 },
];

impl fmt::Display for Scale {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.factor >= 1.0 { write!(f, "{:.0}:1", self.factor) } else { write!(f, "1:{:.0}", 1.0 / self.factor) }
    }
}
