use crate::SolidError;
use quantity::{Length, Note, Noted, Source};

/// How the part should sit on its shaft.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Feel {
    /// Goes on by itself: 0.05 to 0.15 mm wider than the shaft (common practice).
    Slides,
    /// Goes on by hand and stays: 0 to 0.05 mm wider (common practice).
    Pushes,
    /// Held by its own spring: narrower than the shaft, by no more than the hub's material bears for long.
    Pressed(Hub),
    /// By a table: the bore may lie between these two over the shaft's nominal size, whatever the shaft itself does; below 0 is under it.
    Zone {
        /// Least.
        low_mm: f64,
        /// Greatest.
        high_mm: f64,
    },
    /// Goes on by itself and is glued: 0.05 to 0.20 mm wider (common practice, no source; a filling glue bridges more than a sliding fit wants).
    Glued,
}

/// The ring of material round a pressed shaft.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Hub {
    /// Its outer diameter.
    pub outer_diameter_mm: f64,
    /// Young's modulus of the material, MPa.
    pub modulus_mpa: f64,
    /// Poisson's ratio.
    pub poisson: f64,
    /// Stress it bears for long, MPa.
    pub design_stress_mpa: f64,
}

impl Hub {
    /// Rigid (meth)acrylate resin print, post-cured: E 2200 MPa, nu 0.38, 12 MPa for long (trade tables `press_fit_plastic`; material figures from memory there).
    pub fn rigid_print(outer_diameter_mm: f64) -> Hub {
        Hub { outer_diameter_mm, modulus_mpa: 2200.0, poisson: 0.38, design_stress_mpa: 12.0 }
    }

    /// Greatest interference on the diameter that keeps the hoop stress at the bore within the design stress, mm.
    ///
    /// Thick ring (Lame) on a rigid shaft: W = (Do^2 + D^2) / (Do^2 - D^2), delta = (sigma / E) D (W + nu) / W. Taking steel as rigid errs by about 0.4 %.
    /// Test `press_limits_of_every_row`.
    pub fn greatest_interference_mm(&self, shaft_mm: f64) -> f64 {
        let (outer, inner) = (self.outer_diameter_mm.powi(2), shaft_mm.powi(2));
        let w = (outer + inner) / (outer - inner);
        self.design_stress_mpa / self.modulus_mpa * shaft_mm * (w + self.poisson) / w
    }

    /// Hoop stress at the bore under an interference on the diameter, MPa; 0 under clearance. The same ring, the other way round.
    pub fn hoop_stress_mpa(&self, shaft_mm: f64, interference_mm: f64) -> f64 {
        let greatest = self.greatest_interference_mm(shaft_mm);
        if greatest > 0.0 { self.design_stress_mpa * interference_mm.max(0.0) / greatest } else { 0.0 }
    }
}

/// How bores come out of a way of making: drawn size + offset, give or take the spread.
#[derive(Clone, Debug, PartialEq)]
pub struct Process {
    /// Made minus drawn diameter, with its own doubt; below 0 where holes come out small.
    pub offset: Length,
    /// Scatter from bore to bore, one sigma.
    pub spread_mm: f64,
    /// Sizes are drawn in multiples of this.
    pub step_mm: f64,
}

impl Process {
    /// A resin printer never measured: holes 0.1 to 0.2 mm under (service-bureau guide), scatter +/-0.1 mm taken as two sigma (common practice).
    pub fn printed_unmeasured() -> Process {
        let source = Source("printed holes come out 0.1 to 0.2 mm small (service-bureau guide); this printer is not measured yet".into());
        Process { offset: Length { mm: -0.15, sigma_mm: 0.1 / 12.0_f64.sqrt(), source }, spread_mm: 0.05, step_mm: 0.01 }
    }

    /// A cast bore never measured: true to its pin within 0.05 mm (common practice, no source).
    pub fn cast_unmeasured() -> Process {
        let source = Source("cast bores are taken as true to their pin within 0.05 mm; not measured yet".into());
        Process { offset: Length { mm: 0.0, sigma_mm: 0.03, source }, spread_mm: 0.04, step_mm: 0.01 }
    }

    /// Reamed to H7 after: the bore lies anywhere in the zone 0 to IT7 over nominal (ISO 286-1, nominal sizes up to 50 mm; wider is taken as 25 um).
    pub fn reamed(nominal_mm: f64) -> Process {
        let grades = [(3.0, 0.010), (6.0, 0.012), (10.0, 0.015), (18.0, 0.018), (30.0, 0.021)];
        let it7_mm = grades.iter().find(|(up_to, _)| nominal_mm <= *up_to).map_or(0.025, |&(_, it7)| it7);
        let source = Source("middle of the H7 zone, ISO 286-1".into());
        Process { offset: Length { mm: 0.5 * it7_mm, sigma_mm: 0.0, source }, spread_mm: it7_mm / 12.0_f64.sqrt(), step_mm: 0.01 }
    }
}

/// A bore size for a shaft, and what will come of it.
#[derive(Clone, Debug, PartialEq)]
pub struct Fit {
    /// Diameter to draw.
    pub drawn_mm: f64,
    /// Diameter that will be made: value, doubt, and where it came from.
    pub made: Length,
    /// Least and greatest diametral clearance of the wanted feel; below 0 is interference.
    pub wanted_clearance_mm: [f64; 2],
    /// Expected diametral clearance.
    pub clearance_mm: f64,
    /// Doubt of the clearance: shaft, offset and scatter together, one sigma.
    pub clearance_sigma_mm: f64,
    /// Chance that the fit is as wanted.
    pub chance: f64,
    /// Chance that it is tighter.
    pub chance_tighter: f64,
    /// Chance that it is looser.
    pub chance_looser: f64,
    /// Pressed: hoop stress at the expected interference, at one that 1 in 20 exceeds, and what the material bears for long, MPa.
    pub hoop_mpa: Option<[f64; 3]>,
}

/// The bore to draw so that the middle of the wanted clearance is the likeliest, and the chance that it fits (normal errors, independent).
pub fn bore_for_shaft(shaft: &Length, feel: Feel, process: &Process) -> Result<Noted<Fit>, SolidError> {
    check(shaft, feel, process)?;
    let [low, high] = wanted_clearance_mm(shaft.mm, feel);
    let ideal_mm = shaft.mm + 0.5 * (low + high) - process.offset.mm;
    let drawn_mm = (ideal_mm / process.step_mm).round() * process.step_mm;
    // One hundred thousandth of a millimetre is beyond any bench; rounding drops the noise of binary fractions.
    let drawn_mm = (drawn_mm * 1e5).round() / 1e5;
    let clearance_mm = drawn_mm + process.offset.mm - shaft.mm;
    let made_sigma_mm = process.offset.sigma_mm.hypot(process.spread_mm);
    // A zone of a table is kept by the bore alone.
    let sigma = if matches!(feel, Feel::Zone { .. }) { made_sigma_mm } else { made_sigma_mm.hypot(shaft.sigma_mm) };
    let (chance_tighter, chance_looser) = (normal_below((low - clearance_mm) / sigma), normal_below((clearance_mm - high) / sigma));
    let fit = Fit {
        drawn_mm,
        made: Length { mm: drawn_mm + process.offset.mm, sigma_mm: made_sigma_mm, source: process.offset.source.clone() },
        wanted_clearance_mm: [low, high],
        clearance_mm,
        clearance_sigma_mm: sigma,
        chance: (1.0 - chance_tighter - chance_looser).max(0.0),
        chance_tighter,
        chance_looser,
        hoop_mpa: match feel {
            // 1.645 sigma: 1 in 20 of a normal scatter is tighter.
            Feel::Pressed(hub) => Some([
                hub.hoop_stress_mpa(shaft.mm, -clearance_mm),
                hub.hoop_stress_mpa(shaft.mm, 1.645 * sigma - clearance_mm),
                hub.design_stress_mpa,
            ]),
            _ => None,
        },
    };
    let notes = notes(&fit, shaft, feel, process);
    Ok(Noted { value: fit, notes })
}

fn wanted_clearance_mm(shaft_mm: f64, feel: Feel) -> [f64; 2] {
    match feel {
        Feel::Slides => [0.05, 0.15],
        Feel::Pushes => [0.0, 0.05],
        Feel::Glued => [0.05, 0.20],
        Feel::Zone { low_mm, high_mm } => [low_mm, high_mm],
        Feel::Pressed(hub) => [-hub.greatest_interference_mm(shaft_mm), 0.0],
    }
}

fn check(shaft: &Length, feel: Feel, process: &Process) -> Result<(), SolidError> {
    let size = |what: &str, found: f64, good: bool| {
        if found.is_finite() && good { Ok(()) } else { Err(SolidError::NotASize { what: what.into(), found }) }
    };
    size("the shaft", shaft.mm, shaft.mm > 0.0)?;
    size("the shaft's doubt", shaft.sigma_mm, shaft.sigma_mm >= 0.0)?;
    size("the process offset", process.offset.mm, true)?;
    size("the offset's doubt", process.offset.sigma_mm, process.offset.sigma_mm >= 0.0)?;
    size("the process spread", process.spread_mm, process.spread_mm > 0.0)?;
    size("the step of drawn sizes", process.step_mm, process.step_mm > 0.0)?;
    if let Feel::Zone { low_mm, high_mm } = feel {
        size("the zone's lower end", low_mm, low_mm > -shaft.mm)?;
        size("the zone's upper end (above the lower)", high_mm, high_mm > low_mm)?;
    }
    if let Feel::Pressed(hub) = feel {
        size("the hub's outer diameter (more than the shaft's)", hub.outer_diameter_mm, hub.outer_diameter_mm > shaft.mm)?;
        size("the hub's modulus", hub.modulus_mpa, hub.modulus_mpa > 0.0)?;
        size("the hub's Poisson ratio", hub.poisson, (0.0..=0.5).contains(&hub.poisson))?;
        size("the hub's design stress", hub.design_stress_mpa, hub.design_stress_mpa > 0.0)?;
    }
    Ok(())
}

fn notes(fit: &Fit, shaft: &Length, feel: Feel, process: &Process) -> Vec<Note> {
    let mut notes = Vec::new();
    if let Feel::Pressed(hub) = feel {
        let limit = hub.greatest_interference_mm(shaft.mm);
        if let Some([_, worst, allowed]) = fit.hoop_mpa.filter(|[_, worst, allowed]| worst > allowed) {
            notes.push(Note::new(
                format!("1 in 20 of these hubs is stretched to {worst:.0} MPa or more round its bore; {allowed:.0} MPa is borne for long: it may crack."),
                "Make the bore wider or the hub thicker, ream the bore, or slide and glue it.",
            ));
        }
        if 2.0 * fit.clearance_sigma_mm > limit {
            notes.push(Note::new(
                format!(
                    "A press fit by size alone bears {limit:.3} mm of interference; bores scatter by {:.3} mm (one sigma).",
                    fit.clearance_sigma_mm
                ),
                "Ream the bore to size, or slide and glue it, or hold it with a slot, a grub screw, a knurl or a flat.",
            ));
        }
    }
    if fit.chance < 0.8 {
        let settle = if process.offset.sigma_mm > 0.5 * process.spread_mm {
            "Print the fit test piece once and measure it: the offset is then known and most of the doubt gone."
        } else {
            "Ream the bore to size after making it, or choose by trying from a few parts."
        };
        notes.push(Note::new(format!("Only {:.0} in 100 bores will fit as wanted.", 100.0 * fit.chance), settle));
    }
    if shaft.sigma_mm > 0.025 {
        notes.push(Note::new(
            format!("The shaft is known only to {:.3} mm.", shaft.sigma_mm),
            "Measure the shaft with a caliper or micrometer.",
        ));
    }
    notes
}

/// Share of a standard normal below `x`. Series below 3 sigma (Abramowitz and Stegun 26.2.11), continued fraction beyond (26.2.14); good to 1e-14.
fn normal_below(x: f64) -> f64 {
    if x.is_nan() {
        return 0.0;
    }
    let density = (-0.5 * x * x).exp() / (2.0 * std::f64::consts::PI).sqrt();
    if x.abs() < 3.0 {
        let (mut term, mut sum) = (x, x);
        for n in 1..80 {
            term *= x * x / f64::from(2 * n + 1);
            sum += term;
        }
        return 0.5 + density * sum;
    }
    let tail = density / (1..200).rev().fold(x.abs(), |below, n| x.abs() + f64::from(n) / below);
    if x > 0.0 { 1.0 - tail } else { tail }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shaft(mm: f64, sigma_mm: f64) -> Length {
        Length { mm, sigma_mm, source: Source("test".into()) }
    }

    /// Trade table `press_fit_plastic`: Lame ring computed there with numpy, printed to four decimals. Every row.
    #[test]
    fn press_limits_of_every_row() {
        let table = include_str!("../tests/data/press_fit_plastic.csv");
        let mut rows = 0;
        for line in table.lines().filter(|line| !line.starts_with('#')).skip(1) {
            let cells: Vec<&str> = line.rsplitn(13, ',').collect();
            let number = |from_right: usize| cells[from_right].parse::<f64>().expect("a number");
            let hub = Hub { outer_diameter_mm: number(6), modulus_mpa: number(11), poisson: number(10), design_stress_mpa: number(8) };
            let found = hub.greatest_interference_mm(number(7));
            assert!((found - number(4)).abs() < 0.6e-4, "{line}: {found}");
            rows += 1;
        }
        assert_eq!(rows, 35);
    }

    /// Normal shares from Abramowitz and Stegun, table 26.1 and 26.2.
    #[test]
    fn normal_shares_of_the_handbook() {
        for (x, share) in
            [(0.0, 0.5), (1.0, 0.841_344_746_068_543), (2.0, 0.977_249_868_051_821), (3.5, 0.999_767_370_920_964), (-5.0, 2.866_515_719e-7)]
        {
            assert!((normal_below(x) - share).abs() < 1e-14_f64.max(1e-9 * share * f64::from(x < -3.0)), "{x}: {}", normal_below(x));
        }
    }

    /// By hand: 6.35 + 0.10 + 0.15 = 6.60; sigma = sqrt(0.05^2 + 0.0289^2 + 0.01^2) = 0.0586; 2 Phi(0.05 / 0.0586) - 1 = 0.606.
    #[test]
    fn quarter_inch_slides_by_hand() {
        let fit = bore_for_shaft(&shaft(6.35, 0.01), Feel::Slides, &Process::printed_unmeasured()).expect("sizes");
        assert!((fit.value.drawn_mm - 6.60).abs() < 1e-12);
        assert!((fit.value.chance - 0.6065).abs() < 1e-3, "{}", fit.value.chance);
        assert!(fit.notes.iter().any(|note| note.settle.contains("fit test piece")));
    }

    /// The stated chance is the share of made bores that fit, in a small simulation by a seeded low-discrepancy sequence.
    #[test]
    fn stated_chance_is_the_share_that_fits() {
        let process =
            Process { offset: Length { mm: -0.12, sigma_mm: 0.02, source: Source("test".into()) }, spread_mm: 0.03, step_mm: 0.01 };
        let fit = bore_for_shaft(&shaft(6.0, 0.01), Feel::Pushes, &process).expect("sizes").value;
        // Sum of twelve stratified uniforms minus six is nearly normal (central limit); Weyl sequences with irrational steps.
        let steps = [2.0_f64, 3.0, 5.0, 7.0, 11.0, 13.0, 17.0, 19.0, 23.0, 29.0, 31.0, 37.0].map(f64::sqrt);
        let normal = |i: f64, shift: f64| steps.iter().map(|s| (i * s + shift * s * s).fract()).sum::<f64>() - 6.0;
        let held = (0..20_000).filter(|&i| {
            let clearance = fit.drawn_mm - 0.12 + fit.clearance_sigma_mm * normal(f64::from(i), 0.37) - 6.0;
            (0.0..=0.05).contains(&clearance)
        });
        let share = held.count() as f64 / 20_000.0;
        assert!((share - fit.chance).abs() < 0.01, "{share} against {}", fit.chance);
    }

    /// H7 on 6.35: 0 to +15 um; reamed bores are taken as even over it, so that nearly all fit. The same zone by print is missed by most.
    #[test]
    fn a_zone_of_a_table_is_kept_by_the_bore_alone() {
        let h7 = Feel::Zone { low_mm: 0.0, high_mm: 0.015 };
        let reamed = bore_for_shaft(&shaft(6.35, 5.0), h7, &Process::reamed(6.35)).expect("sizes");
        assert!((reamed.value.made.mm - 6.3575).abs() < 0.006 && reamed.value.chance > 0.8, "{:?}", reamed.value);
        let printed = bore_for_shaft(&shaft(6.35, 0.0), h7, &Process::printed_unmeasured()).expect("sizes");
        assert!(
            printed.value.chance < 0.2
                && printed.notes.iter().any(|note| note.settle.contains("test piece") || note.settle.contains("Ream"))
        );
        assert!(bore_for_shaft(&shaft(6.35, 0.0), Feel::Zone { low_mm: 0.1, high_mm: 0.0 }, &Process::reamed(6.35)).is_err());
    }

    /// At the greatest interference the hoop stress is the design stress (every row of the table says so by its own column).
    #[test]
    fn hoop_stress_is_told_and_warned_of() {
        let hub = Hub::rigid_print(14.0);
        assert!((hub.hoop_stress_mpa(6.0, hub.greatest_interference_mm(6.0)) - 12.0).abs() < 1e-12);
        let fit = bore_for_shaft(&shaft(6.0, 0.003), Feel::Pressed(hub), &Process::printed_unmeasured()).expect("sizes");
        let [expected, worst, allowed] = fit.value.hoop_mpa.expect("pressed");
        assert!(expected < allowed && allowed < worst && fit.notes.iter().any(|note| note.text.contains("may crack")));
    }

    #[test]
    fn reaming_makes_a_press_fit_possible() {
        let by_print =
            bore_for_shaft(&shaft(6.0, 0.003), Feel::Pressed(Hub::rigid_print(14.0)), &Process::printed_unmeasured()).expect("sizes");
        let by_ream = bore_for_shaft(&shaft(6.0, 0.003), Feel::Pressed(Hub::rigid_print(14.0)), &Process::reamed(6.0)).expect("sizes");
        assert!(by_print.value.chance < 0.35 && by_ream.value.chance > 0.99, "{} {}", by_print.value.chance, by_ream.value.chance);
        assert!(by_print.notes.iter().any(|note| note.settle.contains("Ream")));
    }

    #[test]
    fn what_is_no_size_is_refused() {
        assert!(bore_for_shaft(&shaft(f64::NAN, 0.1), Feel::Slides, &Process::printed_unmeasured()).is_err());
        assert!(bore_for_shaft(&shaft(6.0, 0.0), Feel::Pressed(Hub::rigid_print(5.0)), &Process::printed_unmeasured()).is_err());
    }
}
