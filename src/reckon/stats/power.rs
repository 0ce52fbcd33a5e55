//! How long until a change can be seen.
//!
//! **Method.** Power of the exact conditional comparison of two Poisson rates (central, two-sided), by
//! enumeration: for each total `n`, Poisson with the sum of both means, the counts that the test would call
//! different, weighed by their binomial probability under the expected ratio (Gu et al. 2008, Biom J 50:283,
//! describe this and other tests).
//!
//! **Assumptions.** Cases are independent; the expected ratio holds from the first month. Both counts are
//! taken as still unknown, so the answer is what to expect, not a promise. Power rises with time in a
//! saw-tooth: the search looks a few months below the first crossing it finds.

use super::discrete::{binomial_cdf, binomial_sf, poisson_pmf};

/// The power wanted.
pub const WANTED_POWER: f64 = 0.8;
/// Two-sided level of the test.
pub const ALPHA: f64 = 0.05;
/// No search beyond twenty years.
pub const MOST_MONTHS: u32 = 240;
/// Totals further than this many standard deviations from their mean are left out (probability 1e-7).
const REACH_SD: f64 = 5.5;
/// Months below a crossing at which the saw-tooth is looked over.
const LOOK_BACK: u32 = 4;
/// Above this many expected cases in all the enumeration would be slow, and no farm has them.
const MOST_CASES: f64 = 1e6;

/// Probability that the exact test at two-sided `alpha` tells the two periods apart.
///
/// `rate_before` and `rate_after` in cases per month. None for rates that are negative or both 0, times not
/// above 0, an alpha outside (0, 1), or more than a million cases.
pub fn power(
    rate_before: f64,
    months_before: f64,
    rate_after: f64,
    months_after: f64,
    alpha: f64,
) -> Option<f64> {
    let (before, after) = (rate_before * months_before, rate_after * months_after);
    let total = before + after;
    let times = months_before > 0.0 && months_after > 0.0;
    if !(times && rate_before >= 0.0 && rate_after >= 0.0 && total > 0.0 && total <= MOST_CASES) {
        return None;
    }
    if !(alpha > 0.0 && alpha < 1.0) {
        return None;
    }
    let alike = months_after / (months_before + months_after);
    let expected = after / total;
    let reach = REACH_SD * total.sqrt() + 10.0;
    let (first, last) = ((total - reach).max(0.0) as u64, (total + reach) as u64);
    let mut limits = Limits::below_all(first, alike);
    let mut seen = 0.0;
    for n in first..=last {
        limits.advance(n, alike, 0.5 * alpha);
        seen += poisson_pmf(n, total) * limits.chance(n, expected);
    }
    Some(seen)
}

/// The counts after the change at which the test calls a difference: fewer than `few`, or `many` and more.
struct Limits {
    few: u64,
    many: u64,
}

impl Limits {
    /// Limits that lie below the true ones for a total of `n` and every larger one.
    fn below_all(n: u64, share: f64) -> Self {
        let middle = n as f64 * share;
        let few = (middle - 8.0 * middle.sqrt() - 1.0).max(0.0) as u64;
        Self { few, many: (middle - 1.0).max(0.0) as u64 }
    }

    /// Moves on to a larger total `n`, with which both limits can only rise.
    fn advance(&mut self, n: u64, share: f64, tail: f64) {
        while self.few <= n && binomial_cdf(self.few, n, share) <= tail {
            self.few += 1;
        }
        while self.many <= n && at_least(self.many, n, share) > tail {
            self.many += 1;
        }
    }

    /// Chance of a count beyond the limits.
    fn chance(&self, n: u64, share: f64) -> f64 {
        let few = if self.few == 0 { 0.0 } else { binomial_cdf(self.few - 1, n, share) };
        let many = if self.many > n { 0.0 } else { at_least(self.many, n, share) };
        few + many
    }
}

/// Probability of `k` or more of `n`.
fn at_least(k: u64, n: u64, share: f64) -> f64 {
    if k == 0 { 1.0 } else { binomial_sf(k - 1, n, share) }
}

/// The fewest whole months of records after a change that give [`WANTED_POWER`] at two-sided [`ALPHA`], for
/// `cases_per_month` before it over `baseline_months` and a `ratio` of the rate after to the rate before.
/// None where [`MOST_MONTHS`] are not enough, or the arguments make no sense.
pub fn fewest_months(cases_per_month: f64, baseline_months: f64, ratio: f64) -> Option<u32> {
    let enough = |months: u32| {
        power(cases_per_month, baseline_months, cases_per_month * ratio, f64::from(months), ALPHA)
            .map(|seen| seen >= WANTED_POWER)
    };
    if !enough(MOST_MONTHS)? {
        return None;
    }
    let (mut too_few, mut months) = (0, MOST_MONTHS);
    while months - too_few > 1 {
        let middle = too_few + (months - too_few) / 2;
        if enough(middle)? { months = middle } else { too_few = middle }
    }
    (months.saturating_sub(LOOK_BACK).max(1)..=months).find(|&earlier| enough(earlier) == Some(true))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reckon::stats::interval::rate_ratio;

    /// The definition itself: every pair of counts, tested by `rate_ratio`, whose p is checked against scipy.
    fn by_brute_force(before: f64, months_before: f64, after: f64, months_after: f64) -> f64 {
        let mut seen = 0.0;
        for x1 in 0..100 {
            for x2 in 0..85 {
                let test = rate_ratio(x2, months_after, x1, months_before, 0.95).unwrap();
                if test.p_central <= ALPHA {
                    seen += poisson_pmf(x1, before * months_before) * poisson_pmf(x2, after * months_after);
                }
            }
        }
        seen
    }

    #[test]
    fn power_is_that_of_the_test() {
        for (before, months_before, after, months_after) in
            [(3.0, 12.0, 1.5, 12.0), (3.0, 12.0, 3.0, 7.0), (2.0, 24.0, 5.0, 8.0), (0.2, 6.0, 0.1, 3.0)]
        {
            let got = power(before, months_before, after, months_after, ALPHA).unwrap();
            let want = by_brute_force(before, months_before, after, months_after);
            assert!((got - want).abs() < 1e-6, "got {got}, want {want}");
        }
    }

    #[test]
    fn fewest_months_are_the_fewest() {
        let months = fewest_months(3.0, 12.0, 0.4).unwrap();
        assert!(by_brute_force(3.0, 12.0, 1.2, f64::from(months)) >= WANTED_POWER);
        assert!((1..months).all(|fewer| by_brute_force(3.0, 12.0, 1.2, f64::from(fewer)) < WANTED_POWER));
        assert!(fewest_months(10.0, 24.0, 0.5) < fewest_months(10.0, 24.0, 0.7));
        assert!(fewest_months(10.0, 24.0, 0.7) < fewest_months(4.0, 24.0, 0.7));
    }

    #[test]
    fn what_cannot_be_seen_has_no_answer() {
        assert_eq!(fewest_months(0.5, 6.0, 0.8), None);
        assert_eq!(fewest_months(5.0, 24.0, 1.0), None);
        assert_eq!(fewest_months(0.0, 24.0, 0.5), None);
        assert_eq!(fewest_months(5.0, 0.0, 0.5), None);
        assert_eq!(fewest_months(f64::NAN, 24.0, 0.5), None);
        assert_eq!(fewest_months(1e9, 24.0, 0.5), None);
    }
}
