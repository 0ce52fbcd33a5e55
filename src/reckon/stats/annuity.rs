//! Spreading a capital sum over the years it serves.
//!
//! **Method.** Level yearly payment for a capital of 1 at interest `r` over `n` years:
//! `r / (1 - (1 + r)^-n)`, which goes to `1/n` as `r` goes to 0 (any text on capital budgeting).
//!
//! **Assumptions.** Payments at the end of each year; interest a share (0.05 is 5 %), not a percentage.

/// Yearly payment for a capital of 1. None unless `rate >= 0` and `life_years > 0`, both finite.
pub fn annuity_factor(rate: f64, life_years: f64) -> Option<f64> {
    if !(rate >= 0.0 && rate.is_finite() && life_years > 0.0 && life_years.is_finite()) {
        return None;
    }
    let discounted = -libm::expm1(-life_years * libm::log1p(rate));
    // A rate too small to tell from none.
    let factor = if discounted < 1e-12 { 1.0 / life_years } else { rate / discounted };
    Some(factor)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// numpy 2.4.6; the present values 6.7101, 3.7908, 12.4622, 9.7122 and 6.7327 are those of standard
    /// tables (recalled, not seen).
    #[test]
    fn meets_standard_tables() {
        for (rate, years, present, factor) in [
            (0.08, 10.0, 6.710081399, 0.1490294887),
            (0.10, 5.0, 3.790786769, 0.2637974808),
            (0.05, 20.0, 12.46221034, 0.08024258719),
            (0.06, 15.0, 9.712248988, 0.102962764),
            (0.04, 8.0, 6.732744875, 0.148527832),
        ] {
            let got = annuity_factor(rate, years).unwrap();
            assert!((got / factor - 1.0).abs() < 5e-9);
            assert!((1.0 / got / present - 1.0).abs() < 5e-10);
        }
    }

    #[test]
    fn no_interest_is_a_plain_share() {
        assert_eq!(annuity_factor(0.0, 8.0), Some(0.125));
        assert!((annuity_factor(1e-9, 8.0).unwrap() - 0.125).abs() < 1e-9);
        assert!((annuity_factor(1e-15, 8.0).unwrap() - 0.125).abs() < 1e-9);
        assert_eq!(annuity_factor(-0.01, 8.0), None);
        assert_eq!(annuity_factor(0.05, 0.0), None);
        assert_eq!(annuity_factor(f64::NAN, 8.0), None);
    }
}
