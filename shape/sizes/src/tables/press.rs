/// A plastic hub pressed on a rigid shaft.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Hub {
    /// Shaft diameter, mm.
    pub shaft_mm: f64,
    /// Outer diameter of the hub, mm; greater than the shaft's.
    pub outer_mm: f64,
    /// Modulus of elasticity, MPa.
    pub modulus_mpa: f64,
    /// Poisson's ratio.
    pub poisson: f64,
}

impl Hub {
    /// Ratio of hoop stress at the bore to pressure: W = (Do^2 + D^2) / (Do^2 - D^2) (Lame, thick ring).
    pub fn hoop_ratio(self) -> f64 {
        let (d, o) = (self.shaft_mm * self.shaft_mm, self.outer_mm * self.outer_mm);
        (o + d) / (o - d)
    }

    /// Pressure of a diametral interference, MPa: p = delta / D * E / (W + nu), the shaft taken as rigid (errs by 0.4 % for steel).
    pub fn pressure_mpa(self, interference_mm: f64) -> f64 {
        interference_mm / self.shaft_mm * self.modulus_mpa / (self.hoop_ratio() + self.poisson)
    }

    /// Hoop stress at the bore, MPa.
    pub fn hoop_stress_mpa(self, interference_mm: f64) -> f64 {
        self.hoop_ratio() * self.pressure_mpa(interference_mm)
    }

    /// Greatest diametral interference for a permitted hoop stress, mm.
    pub fn greatest_interference_mm(self, stress_mpa: f64) -> f64 {
        stress_mpa / self.modulus_mpa * self.shaft_mm * (self.hoop_ratio() + self.poisson) / self.hoop_ratio()
    }
}

/// How much looser a fit gets on the diameter when warmed, mm.
pub fn loosening_mm(shaft_mm: f64, hub_per_kelvin: f64, shaft_per_kelvin: f64, warming_kelvin: f64) -> f64 {
    (hub_per_kelvin - shaft_per_kelvin) * shaft_mm * warming_kelvin
}
