//! `exp(x) - 1` for many draws at a time: what a log adds to a risk or takes away from it.
//!
//! **Method.** Range reduction to `|r| <= ln 2 / 2` with ln 2 in two parts (Cody & Waite 1980, Software
//! Manual for the Elementary Functions, chapter 6), the series of `exp(r) - 1` to the 13th power, and
//! `2^n (1 + e) - 1 = (2^n - 1) + 2^n e`, so that a small result keeps all its digits.
//!
//! **Why not `libm`.** Its `expm1` branches, so that one draw is reckoned after the other: a third of the
//! time of the draw loop. This takes no branch, and two draws go at once. It only adds, subtracts and
//! multiplies, so the bytes are the same everywhere, as with `libm`.
//!
//! **Errors.** Within two units in the last place of `libm`. Beyond ±700, which no sum of
//! weights reaches, the value at ±700 stands. Not a number stays so.

/// The high part of ln 2, whose products with a whole number up to 2^11 are exact.
const LN_2_HIGH: f64 = f64::from_bits(0x3FE6_2E42_FEE0_0000);
const LN_2_LOW: f64 = f64::from_bits(0x3DEA_39EF_3579_3C76);

/// 1.5 · 2^52: a number added to it is rounded to a whole one, which stands in its lowest bits.
const ROUND: f64 = 6_755_399_441_055_744.0;

/// 1/13!, 1/12!, … 1/2!.
const SERIES: [f64; 12] = {
    let mut series = [0.0; 12];
    let (mut factorial, mut k) = (1.0, 2);
    while k <= 13 {
        factorial *= k as f64;
        series[13 - k] = 1.0 / factorial;
        k += 1;
    }
    series
};

/// `exp(x) - 1`.
#[inline]
pub fn exp_minus_one(x: f64) -> f64 {
    let x = x.clamp(-700.0, 700.0);
    let rounded = x * std::f64::consts::LOG2_E + ROUND;
    let n = rounded - ROUND;
    let r = (x - n * LN_2_HIGH) - n * LN_2_LOW;
    let series = SERIES.iter().fold(0.0, |sum, term| sum * r + term);
    let e = r + r * r * series;
    // 2^n, n put where the exponent is.
    let two_to_n = f64::from_bits(rounded.to_bits().wrapping_add(1023) << 52);
    (two_to_n - 1.0) + two_to_n * e
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// mpmath 1.4.1, 40 digits.
    #[test]
    fn meets_mpmath() {
        for (x, expected) in [
            (-1e-300, -1e-300),
            (-1e-12, -9.999999999995e-13),
            (-0.001, -0.0009995001666250085),
            (-0.25, -0.22119921692859512),
            (-0.34657359, -0.2928932186154819),
            (-0.34657360, -0.2928932256865497),
            (-1.0, -0.6321205588285577),
            (-2.5, -0.9179150013761012),
            (-17.0, -0.9999999586006229),
            (-36.7, -0.9999999999999999),
            (0.001, 0.0010005001667083417),
            (0.75, 1.1170000166126746),
            (3.0, 19.085536923187668),
            (20.0, 485165194.4097903),
        ] {
            let got = exp_minus_one(x);
            assert!((got / expected - 1.0).abs() < 4.5e-16, "{x}: {got} for {expected}");
        }
    }

    #[test]
    fn ends_are_sound() {
        assert_eq!(exp_minus_one(0.0), 0.0);
        assert_eq!(exp_minus_one(f64::NEG_INFINITY), -1.0);
        assert!(exp_minus_one(f64::INFINITY) > 1e304);
        assert!(exp_minus_one(f64::NAN).is_nan());
    }

    proptest! {
        /// Two units in the last place of the usual library.
        #[test]
        fn meets_libm(x in -60.0..60.0f64) {
            let usual = libm::expm1(x);
            prop_assert!((exp_minus_one(x) - usual).abs() <= 4.5e-16 * usual.abs());
        }

        /// It grows, but for rounding.
        #[test]
        fn grows(x in -40.0..5.0f64, more in 0.0..1.0f64) {
            let (low, high) = (exp_minus_one(x), exp_minus_one(x + more));
            prop_assert!(high >= low - 2.3e-16 * low.abs());
        }
    }
}
