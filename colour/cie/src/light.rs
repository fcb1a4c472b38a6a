//! Lights and observers at 1 nm, read once from the embedded tables.

use crate::{CieError, Xyz};
use std::sync::LazyLock;

/// First wavelength of every sum, nm (ASTM E308).
pub(crate) const FIRST_NM: usize = 360;
/// Last wavelength of every sum, nm (ASTM E308).
pub(crate) const LAST_NM: usize = 780;
/// Wavelengths in a sum.
pub(crate) const COUNT: usize = LAST_NM - FIRST_NM + 1;

/// Whose eye: the CIE standard observers.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub enum Observer {
    /// CIE 1931, 2 degrees: small parts, screens, photographs.
    #[default]
    TwoDegree,
    /// CIE 1964, 10 degrees: most industrial readings.
    TenDegree,
}

macro_rules! lights {
    ($($variant:ident $name:literal $words:literal),+ $(,)?) => {
        /// A light by its spectrum.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
        pub enum Light {
            $(#[doc = $words] $variant),+
        }

        impl Light {
            /// All of them, in the order of the tables.
            pub const ALL: &'static [Light] = &[$(Light::$variant),+];

            /// The CIE's name: "D65", "FL11", "LED-B3".
            pub const fn name(self) -> &'static str {
                match self { $(Light::$variant => $name),+ }
            }

            /// What it stands for, in words.
            pub const fn words(self) -> &'static str {
                match self { $(Light::$variant => $words),+ }
            }

            fn table(self) -> &'static str {
                match self { $(Light::$variant => include_str!(concat!("../data/illuminant_", $name, ".csv"))),+ }
            }
        }
    };
}

lights! {
    A "A" "Incandescent lamp, 2856 K.",
    D50 "D50" "Daylight, 5000 K: viewing booths and prints.",
    D55 "D55" "Daylight, 5500 K.",
    D65 "D65" "Daylight, 6500 K: the reference here.",
    D75 "D75" "North sky daylight, 7500 K.",
    E "E" "Equal energy.",
    Id50 "ID50" "Daylight D50 behind window glass.",
    Id65 "ID65" "Daylight D65 behind window glass.",
    Fl1 "FL1" "Fluorescent, standard, 6430 K.",
    Fl2 "FL2" "Fluorescent, cool white, 4230 K.",
    Fl3 "FL3" "Fluorescent, standard, 3450 K.",
    Fl4 "FL4" "Fluorescent, warm white, 2940 K.",
    Fl5 "FL5" "Fluorescent, standard, 6350 K.",
    Fl6 "FL6" "Fluorescent, standard, 4150 K.",
    Fl7 "FL7" "Fluorescent, broad-band daylight, 6500 K.",
    Fl8 "FL8" "Fluorescent, broad-band, 5000 K.",
    Fl9 "FL9" "Fluorescent, broad-band, 4150 K.",
    Fl10 "FL10" "Fluorescent, three-band, 5000 K.",
    Fl11 "FL11" "Fluorescent, three-band, 4000 K: shops.",
    Fl12 "FL12" "Fluorescent, three-band, 3000 K.",
    Fl3_15 "FL3.15" "Fluorescent, daylight simulator.",
    LedB1 "LED-B1" "LED with blue chip and phosphor, 2733 K.",
    LedB2 "LED-B2" "LED with blue chip and phosphor, 2998 K.",
    LedB3 "LED-B3" "LED with blue chip and phosphor, 4103 K.",
    LedB4 "LED-B4" "LED with blue chip and phosphor, 5109 K.",
    LedB5 "LED-B5" "LED with blue chip and phosphor, 6598 K.",
    LedBh1 "LED-BH1" "LED, blue chip with added red, 2851 K.",
    LedRgb1 "LED-RGB1" "LED of red, green and blue chips, 2840 K.",
    LedV1 "LED-V1" "LED with violet chip, 2724 K.",
    LedV2 "LED-V2" "LED with violet chip, 4070 K.",
}

impl Light {
    /// The light of that name, case aside; "F11" is read as "FL11".
    pub fn by_name(name: &str) -> Result<Light, CieError> {
        let wanted = name.trim().to_ascii_uppercase();
        let found = Light::ALL.iter().find(|light| light.name() == wanted || light.name().replacen("FL", "F", 1) == wanted);
        found.copied().ok_or_else(|| CieError::UnknownLight {
            name: name.chars().take(20).collect(),
            known: Light::ALL.iter().map(|light| light.name()).collect::<Vec<_>>().join(", "),
        })
    }

    /// Relative power at 360 to 780 nm by 1 nm; zero outside the light's own table.
    pub(crate) fn power(self) -> &'static [f64] {
        POWERS.get(self as usize).map_or(&[], Vec::as_slice)
    }
}

impl Observer {
    /// Colour-matching functions at 360 to 780 nm by 1 nm.
    pub(crate) fn matching(self) -> &'static [[f64; 3]] {
        match self {
            Observer::TwoDegree => &TWO_DEGREE,
            Observer::TenDegree => &TEN_DEGREE,
        }
    }

    /// "2 degrees" or "10 degrees".
    pub const fn words(self) -> &'static str {
        match self {
            Observer::TwoDegree => "2 degrees",
            Observer::TenDegree => "10 degrees",
        }
    }
}

/// White of `light` for `observer`, Y = 100: the sum over 360 to 780 nm by 1 nm.
///
/// **Good to** 0.01 of the published ones (ASTM E308), test `white_points`.
pub fn white(light: Light, observer: Observer) -> Xyz {
    let mut sum = [0.0; 3];
    for (power, matching) in light.power().iter().zip(observer.matching()) {
        for (total, value) in sum.iter_mut().zip(matching) {
            *total += power * value;
        }
    }
    let scale = 100.0 / sum[1];
    Xyz { x: sum[0] * scale, y: 100.0, z: sum[2] * scale }
}

static POWERS: LazyLock<Vec<Vec<f64>>> = LazyLock::new(|| Light::ALL.iter().map(|&light| power_at_1nm(light)).collect());
static TWO_DEGREE: LazyLock<Vec<[f64; 3]>> = LazyLock::new(|| matching_at_1nm(include_str!("../data/cie1931_2deg_1nm.csv")));
static TEN_DEGREE: LazyLock<Vec<[f64; 3]>> = LazyLock::new(|| matching_at_1nm(include_str!("../data/cie1964_10deg_1nm.csv")));

/// D65 is defined at 1 nm by straight lines between its table (ISO/CIE 11664-2). The others are read between their 5 nm by the cubic
/// through four neighbours, as ASTM E2022 does; only so do all published white points come out to 0.01.
fn power_at_1nm(light: Light) -> Vec<f64> {
    let rows = rows::<2>(light.table());
    let nms: Vec<f64> = rows.iter().map(|row| row[0]).collect();
    let values: Vec<f64> = rows.iter().map(|row| row[1]).collect();
    let neighbours = if light == Light::D65 { 2 } else { 4 };
    let inside = nms.first().copied().unwrap_or(f64::INFINITY)..=nms.last().copied().unwrap_or(f64::NEG_INFINITY);
    (FIRST_NM..=LAST_NM)
        .map(|nm| nm as f64)
        .map(|nm| if inside.contains(&nm) { through(&nms, nm, neighbours).map(|(at, share)| share * values[at]).sum() } else { 0.0 })
        .collect()
}

fn matching_at_1nm(table: &str) -> Vec<[f64; 3]> {
    rows::<4>(table).into_iter().take(COUNT).map(|[_, x, y, z]| [x, y, z]).collect()
}

/// Rows of an embedded table; its heading, which holds no numbers, drops out. Test `tables_are_whole` counts them.
fn rows<const N: usize>(table: &str) -> Vec<[f64; N]> {
    let row = |line: &str| {
        let values: Vec<f64> = line.split(',').filter_map(|cell| cell.trim().parse().ok()).collect();
        <[f64; N]>::try_from(values).ok()
    };
    table.lines().filter_map(row).collect()
}

/// Lagrange's polynomial through the `neighbours` (2 or 4) knots about `at`, as (knot index, its share of the value there).
///
/// With four, the first and last interval have no knot beyond and use the three nearest, as ASTM E2022 does.
/// **Needs** rising `knots`; `at` inside them.
pub(crate) fn through(knots: &[f64], at: f64, neighbours: usize) -> impl Iterator<Item = (usize, f64)> {
    let last = knots.len().saturating_sub(1);
    let left = knots.partition_point(|&knot| knot <= at).saturating_sub(1).min(last.saturating_sub(1));
    let reach = neighbours / 2 - 1;
    let range = left.saturating_sub(reach)..=(left + 1 + reach).min(last);
    range.clone().map(move |own| {
        let share = range.clone().filter(|&other| other != own).map(|other| (at - knots[other]) / (knots[own] - knots[other])).product();
        (own, share)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tables_are_whole() {
        for &light in Light::ALL {
            assert_eq!(light.power().len(), COUNT, "{}", light.name());
            assert!(light.power().iter().all(|p| p.is_finite()));
            assert!(light.table().lines().count() > 80);
            assert_eq!(rows::<2>(light.table()).len() + 1, light.table().lines().count(), "{}", light.name());
            assert_eq!(Light::by_name(light.name()), Ok(light));
        }
        for observer in [Observer::TwoDegree, Observer::TenDegree] {
            assert_eq!(observer.matching().len(), COUNT);
        }
    }

    #[test]
    fn a_cubic_is_read_back_exactly() {
        let knots = [0.0, 1.0, 2.5, 4.0, 5.0];
        let cubic = |x: f64| 2.0 - x + 0.5 * x * x - 0.1 * x * x * x;
        let read = |at: f64| through(&knots, at, 4).map(|(k, share)| share * cubic(knots[k])).sum::<f64>();
        for at in [1.0, 1.7, 2.5, 3.9] {
            assert!((read(at) - cubic(at)).abs() < 1e-12);
        }
        assert!((read(5.0) - cubic(5.0)).abs() < 1e-12);
    }
}
