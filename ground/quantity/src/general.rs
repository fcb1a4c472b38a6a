//! General tolerances of ISO 2768-1:1989, for sizes without a tolerance of their own; looked up here alone, for the drawing and for the check.

/// The table, its sources in its heading: kind, over, up to and including, then classes f, m, c, v; an empty cell: the standard gives none.
pub const GENERAL_TOLERANCES_CSV: &str = include_str!("../data/iso2768_1.csv");

/// Tolerance class of ISO 2768-1.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Class {
    /// f.
    Fine,
    /// m.
    Medium,
    /// c.
    Coarse,
    /// v.
    VeryCoarse,
}

/// What a general tolerance is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Feature {
    /// Lengths and diameters, mm.
    Linear,
    /// External radii and chamfer heights, mm.
    RadiusOrChamfer,
    /// Angles, degrees, by the shorter leg in mm.
    AngleByShortLeg,
}

/// General tolerance of ISO 2768-1:1989, plus or minus, in mm (degrees for angles), where the drawing gives none. `None` where the
/// standard lists none. Below 0.5 mm it must stand at the dimension.
pub fn general_tolerance(feature: Feature, class: Class, nominal_mm: f64) -> Option<f64> {
    let kind = match feature {
        Feature::Linear => "linear",
        Feature::RadiusOrChamfer => "radius_chamfer",
        Feature::AngleByShortLeg => "angle_deg_by_short_leg",
    };
    let column = match class {
        Class::Fine => 3,
        Class::Medium => 4,
        Class::Coarse => 5,
        Class::VeryCoarse => 6,
    };
    let number = |cells: &[&str], i: usize| cells.get(i).and_then(|cell| cell.trim().parse::<f64>().ok());
    let rows = GENERAL_TOLERANCES_CSV.lines().map(|line| line.split(',').collect::<Vec<_>>());
    rows.filter(|row| row.first() == Some(&kind))
        .find(|row| {
            // The first step includes its lower end (0.5 is listed), all others are "over".
            let (over, upto) = (number(row, 1).unwrap_or(f64::MAX), number(row, 2).unwrap_or(f64::INFINITY));
            (nominal_mm > over || (over == 0.5 && nominal_mm == 0.5)) && nominal_mm <= upto
        })
        .and_then(|row| number(&row, column))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn classes_widen_and_ends_are_kept() {
        for mm in [1.0, 5.0, 10.0, 100.0, 300.0] {
            let values: Vec<f64> =
                [Class::Fine, Class::Medium, Class::Coarse].iter().filter_map(|c| general_tolerance(Feature::Linear, *c, mm)).collect();
            assert!(values.len() == 3 && values.windows(2).all(|w| w[0] < w[1]), "{mm}: {values:?}");
        }
        assert_eq!(general_tolerance(Feature::Linear, Class::Medium, 0.4), None);
        assert_eq!(general_tolerance(Feature::Linear, Class::VeryCoarse, 2.0), None);
        assert_eq!(general_tolerance(Feature::Linear, Class::Fine, 3000.0), None);
        assert_eq!(general_tolerance(Feature::RadiusOrChamfer, Class::Medium, 60.0), Some(1.0));
        assert_eq!(general_tolerance(Feature::Linear, Class::Medium, f64::NAN), None);
    }
}
