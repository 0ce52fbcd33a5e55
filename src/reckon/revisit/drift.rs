//! How far a farm's lameness moves with nothing done.
//!
//! **Source.** 120 pasture farms in New Zealand, drawn at random, all cows scored in spring and again in
//! summer: "Prevalence of lameness on pasture-based New Zealand dairy farms: an observational study"
//! (abstract seen). Lame: 2,128 of 60,007, then 1,868 of 56,310; the middle half of farms changed by
//! -1.8 to +1.0 points of prevalence, single farms by -12.3 to +7.6.
//!
//! **What it can mean for a rate (our reading, judged).** Points of prevalence on one day are no rate over a
//! year. (1) The spread of the change, as of a normal distribution with that middle half, has the binomial
//! noise of two scorings of a mean herd taken out, since chance is counted by the interval of the ratio
//! already. (2) What is left is taken relative to the mean prevalence, since a herd with three times the
//! lameness can move by three times the points. (3) It is centred on no change: the shift from spring to
//! summer is season, which the matching of months deals with. A day's prevalence moves more than a year's
//! rate, so this makes it harder, not easier, to call a change more than drift.

use super::judged::{DRIFT_FARMS, DRIFT_POINTS, DRIFT_SCORED};
use crate::reckon::stats::interval::RateRatio;

/// The upper quartile of a standard normal value.
const UPPER_QUARTILE: f64 = 0.674_489_750_196_081_7;

/// Standard deviation of the log ratio of a farm's rate with nothing done.
pub fn log_sd() -> f64 {
    let (lame, cows) = DRIFT_SCORED.iter().fold((0.0, 0.0), |sum, one| (sum.0 + one.0, sum.1 + one.1));
    let prevalence = lame / cows;
    let spread = (DRIFT_POINTS.1 - DRIFT_POINTS.0) / 100.0 / (2.0 * UPPER_QUARTILE);
    let noise: f64 =
        DRIFT_SCORED.iter().map(|(_, cows)| prevalence * (1.0 - prevalence) * DRIFT_FARMS / cows).sum();
    let relative = (spread * spread - noise).max(0.0) / (prevalence * prevalence);
    libm::sqrt(libm::log1p(relative))
}

/// The ratio of rates within which the middle half of farms moves with nothing done.
pub fn middle_half() -> (f64, f64) {
    let half = UPPER_QUARTILE * log_sd();
    (libm::exp(-half), libm::exp(half))
}

/// What drift alone can explain.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Drift {
    /// The ratio within which the middle half of farms moves.
    pub middle_half: (f64, f64),
    /// Whether the interval of the ratio that was seen reaches into it.
    pub could_explain: bool,
}

/// Drift beside a ratio; `None` where there is no ratio.
pub fn drift(seen: &RateRatio) -> Option<Drift> {
    seen.ratio?;
    let middle_half = middle_half();
    let above = seen.low > middle_half.1;
    let below = seen.high.is_some_and(|high| high < middle_half.0);
    Some(Drift { middle_half, could_explain: !above && !below })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reckon::stats::interval::rate_ratio;

    /// By hand: the spread of the change is 2.8 / 1.349 = 2.08 points; two scorings of 500 and 469 cows at
    /// 3.44 % err by 1.17 points; what is left, 1.72 points, is half of 3.44.
    #[test]
    fn drift_is_about_a_quarter_down_to_three_eighths_up() {
        assert!((log_sd() - 0.47).abs() < 0.01, "{}", log_sd());
        let (low, high) = middle_half();
        assert!((low - 0.73).abs() < 0.01 && (high - 1.37).abs() < 0.02, "{low} {high}");
    }

    #[test]
    fn only_an_interval_beyond_the_middle_half_is_more_than_drift() {
        let seen = |after, before| drift(&rate_ratio(after, 1.0, before, 1.0, 0.95).unwrap()).unwrap();
        assert!(seen(40, 60).could_explain);
        assert!(seen(60, 100).could_explain, "more than chance, not more than drift");
        assert!(!seen(20, 100).could_explain);
        assert!(!seen(100, 20).could_explain);
        assert_eq!(drift(&rate_ratio(3, 1.0, 0, 1.0, 0.95).unwrap()), None);
    }
}
