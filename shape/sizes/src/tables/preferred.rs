use super::csv::{number, rows};

const TEXT: &str = include_str!("../../data/preferred_numbers.csv");

/// A series of preferred numbers (ISO 3), or a more rounded one (ISO 497).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Series {
    /// Steps of 10^(1/5).
    R5,
    /// Steps of 10^(1/10).
    R10,
    /// Steps of 10^(1/20).
    R20,
    /// Steps of 10^(1/40).
    R40,
    /// First rounding of R10.
    R10Rounded,
    /// First rounding of R20.
    R20Rounded,
    /// First rounding of R40.
    R40Rounded,
    /// Second rounding of R5.
    R5MoreRounded,
    /// Second rounding of R10.
    R10MoreRounded,
    /// Second rounding of R20.
    R20MoreRounded,
}

/// The numbers of a series from 1 up to, not including, 10.
pub fn preferred(series: Series) -> Vec<f64> {
    let column = match series {
        Series::R40 => 2,
        Series::R20 => 4,
        Series::R10 => 5,
        Series::R5 => 6,
        Series::R40Rounded => 7,
        Series::R20Rounded => 8,
        Series::R10Rounded => 9,
        Series::R20MoreRounded => 10,
        Series::R10MoreRounded => 11,
        Series::R5MoreRounded => 12,
    };
    rows(TEXT).filter_map(|row| number(&row, column)).collect()
}

/// The preferred number nearest in ratio to a positive value, in any decade; `None` for what is not positive and finite.
pub fn nearest_preferred(series: Series, value: f64) -> Option<f64> {
    if !(value.is_finite() && value > 0.0) {
        return None;
    }
    let decade = 10f64.powf(value.log10().floor());
    let mantissa = value / decade;
    let off = |number: f64| (number / mantissa).ln().abs();
    let numbers = preferred(series).into_iter().chain([10.0]);
    numbers.min_by(|a, b| off(*a).total_cmp(&off(*b))).map(|number| number * decade)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn series_have_their_names_worth_of_numbers() {
        for (series, count) in [(Series::R5, 5), (Series::R10, 10), (Series::R20, 20), (Series::R40, 40)] {
            let numbers = preferred(series);
            assert_eq!(numbers.len(), count);
            assert!(numbers.windows(2).all(|w| w[0] < w[1]));
        }
        assert_eq!(preferred(Series::R5), [1.0, 1.6, 2.5, 4.0, 6.3]);
    }

    #[test]
    fn nearest_over_a_decade() {
        assert_eq!(nearest_preferred(Series::R10, 9.5), Some(10.0));
        assert_eq!(nearest_preferred(Series::R10, 63.5), Some(63.0));
        assert_eq!(nearest_preferred(Series::R5, 0.0), None);
        assert_eq!(nearest_preferred(Series::R5, f64::NAN), None);
    }
}
