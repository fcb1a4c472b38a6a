//! Sums over a stretch, as fine as they need to be.

/// Positive nodes of Kronrod's 15-point rule with its weights, and those of Gauss's 7-point rule within it (Kronrod 1965; digits as in QUADPACK's QK15, Piessens et al. 1983).
const KRONROD_15: [(f64, f64, f64); 8] = [
    (0.991_455_371_120_812_6, 0.022_935_322_010_529_224, 0.0),
    (0.949_107_912_342_758_5, 0.063_092_092_629_978_56, 0.129_484_966_168_869_7),
    (0.864_864_423_359_769_1, 0.104_790_010_322_250_18, 0.0),
    (0.741_531_185_599_394_4, 0.140_653_259_715_525_92, 0.279_705_391_489_276_64),
    (0.586_087_235_467_691_1, 0.169_004_726_639_267_9, 0.0),
    (0.405_845_151_377_397_2, 0.190_350_578_064_785_4, 0.381_830_050_505_118_9),
    (0.207_784_955_007_898_47, 0.204_432_940_075_298_9, 0.0),
    (0.0, 0.209_482_141_084_727_82, 0.417_959_183_673_469_4),
];

/// Halvings at most: a kink is then a millionth of a millionth of the stretch wide.
const MOST_HALVINGS: u32 = 40;
/// Pieces at most, so that no function however wild takes for ever.
const MOST_PIECES: usize = 4_000;

/// The integral of `f` from `from` to `to`, halved where the two rules differ by more than `tolerance` (absolute, shared out by length). Kinks and jumps are found by halving.
pub(crate) fn integral(mut f: impl FnMut(f64) -> f64, from: f64, to: f64, tolerance: f64) -> f64 {
    let (mut sum, mut pieces) = (0.0, 0);
    let mut left = vec![(from, to, 0)];
    while let Some((a, b, halvings)) = left.pop() {
        let (fine, coarse) = rules(&mut f, a, b);
        pieces += 1;
        let allowed = tolerance * ((b - a) / (to - from)).abs().max(1e-3);
        if (fine - coarse).abs() <= allowed || halvings >= MOST_HALVINGS || pieces >= MOST_PIECES {
            sum += fine;
        } else {
            let middle = 0.5 * (a + b);
            left.extend([(middle, b, halvings + 1), (a, middle, halvings + 1)]);
        }
    }
    sum
}

fn rules(f: &mut impl FnMut(f64) -> f64, a: f64, b: f64) -> (f64, f64) {
    let (middle, half) = (0.5 * (a + b), 0.5 * (b - a));
    let (mut fine, mut coarse) = (0.0, 0.0);
    for (x, kronrod, gauss) in KRONROD_15 {
        let value = if x == 0.0 { f(middle) } else { f(middle - half * x) + f(middle + half * x) };
        fine += kronrod * value;
        coarse += gauss * value;
    }
    (fine * half, coarse * half)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn smooth_kinked_and_broken() {
        assert!((integral(f64::sin, 0.0, std::f64::consts::PI, 1e-12) - 2.0).abs() < 1e-13);
        assert!((integral(|x| (x - 0.3).abs(), 0.0, 1.0, 1e-10) - (0.045 + 0.245)).abs() < 1e-9);
        assert!((integral(|x| if x < 0.3 { 1.0 } else { 0.0 }, 0.0, 1.0, 1e-9) - 0.3).abs() < 1e-8);
        assert!((integral(|x: f64| (1.0 - x * x).sqrt(), -1.0, 1.0, 1e-10) - std::f64::consts::FRAC_PI_2).abs() < 1e-8);
        // Lines backward count below 0; a function without an end comes to one.
        assert_eq!(integral(|_| 2.0, 1.0, 0.0, 1e-9), -2.0);
        assert!(integral(|x: f64| 1.0 / x, -1.0, 2.0, 1e-9).is_finite());
    }
}
