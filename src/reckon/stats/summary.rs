//! Means, quantiles and central intervals of a set of draws.
//!
//! **Method.** Sums by fixed pairwise halving, so that rounding grows with the logarithm of the number of
//! values and the order never depends on the machine (Higham 1993, SIAM J Sci Comput 14:783). Quantiles of
//! type 7 (Hyndman & Fan 1996, Am Stat 50:361): linear between order statistics, the default of R and numpy.
//!
//! **Assumptions.** Draws carry equal weight. An empty set or a value that is not a number gives NaN or None.

/// Sum in a fixed pairwise order; 0 for no values.
pub fn sum(values: &[f64]) -> f64 {
    if values.len() <= 64 {
        return values.iter().fold(0.0, |total, value| total + value);
    }
    let (left, right) = values.split_at(values.len().next_power_of_two() / 2);
    sum(left) + sum(right)
}

/// Arithmetic mean; NaN for no values.
pub fn mean(values: &[f64]) -> f64 {
    sum(values) / values.len() as f64
}

/// Standard deviation (divided by n - 1); NaN for fewer than two values.
pub fn standard_deviation(values: &[f64]) -> f64 {
    let middle = mean(values);
    let squares: Vec<f64> = values.iter().map(|value| (value - middle) * (value - middle)).collect();
    libm::sqrt(sum(&squares) / (values.len() as f64 - 1.0))
}

/// The lower order statistic and the share of the way to the next, for a type 7 quantile of `n` values.
fn place(n: usize, p: f64) -> (usize, f64) {
    let at = p * (n - 1) as f64;
    let below = (at.floor() as usize).min(n - 1);
    (below, at - below as f64)
}

/// Type 7 quantile of values already sorted upwards; NaN for no values or `p` outside [0, 1].
pub fn quantile_sorted(sorted: &[f64], p: f64) -> f64 {
    if sorted.is_empty() || !(0.0..=1.0).contains(&p) {
        return f64::NAN;
    }
    let (below, share) = place(sorted.len(), p);
    let low = sorted[below];
    let high = sorted.get(below + 1).copied().unwrap_or(low);
    between(low, high, share)
}

fn between(low: f64, high: f64, share: f64) -> f64 {
    if share == 0.0 || low == high { low } else { low + share * (high - low) }
}

/// Type 7 quantile of unsorted values, which it reorders; NaN as in [`quantile_sorted`], or where a value is
/// not a number.
pub fn quantile(values: &mut [f64], p: f64) -> f64 {
    if values.is_empty() || !(0.0..=1.0).contains(&p) || values.iter().any(|value| value.is_nan()) {
        return f64::NAN;
    }
    let (below, share) = place(values.len(), p);
    let (_, &mut low, above) = values.select_nth_unstable_by(below, f64::total_cmp);
    between(low, smallest(above).unwrap_or(low), share)
}

fn smallest(values: &[f64]) -> Option<f64> {
    values.iter().copied().min_by(f64::total_cmp)
}

/// The interval that leaves `(1 - level)/2` of the values on either side; reorders the values. None for no
/// values, a value that is not a number, or a level outside (0, 1).
pub fn central_interval(values: &mut [f64], level: f64) -> Option<(f64, f64)> {
    if !(level > 0.0 && level < 1.0) || values.is_empty() || values.iter().any(|value| value.is_nan()) {
        return None;
    }
    let (below, share) = place(values.len(), 0.5 * (1.0 - level));
    let (upper_below, upper_share) = place(values.len(), 0.5 * (1.0 + level));
    // The upper end first: the lower one then lies among the values below it.
    let (under, &mut upper, above) = values.select_nth_unstable_by(upper_below, f64::total_cmp);
    let high = between(upper, smallest(above).unwrap_or(upper), upper_share);
    if below >= under.len() {
        let next = smallest(above).unwrap_or(upper);
        return Some((between(upper, next, share), high));
    }
    let (_, &mut lower, rest) = under.select_nth_unstable_by(below, f64::total_cmp);
    Some((between(lower, smallest(rest).unwrap_or(upper), share), high))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// numpy's documented default, `np.quantile([1, 2, 3, 4, 10], [.25, .5, .9])` = 2, 3, 7.6; R's `quantile`
    /// type 7 gives the same.
    #[test]
    fn type_seven_quantiles() {
        let sorted = [1.0, 2.0, 3.0, 4.0, 10.0];
        for (p, want) in [(0.0, 1.0), (0.25, 2.0), (0.5, 3.0), (0.9, 7.6), (1.0, 10.0)] {
            assert!((quantile_sorted(&sorted, p) - want).abs() < 1e-12);
            assert!((quantile(&mut [10.0, 3.0, 1.0, 4.0, 2.0], p) - want).abs() < 1e-12);
        }
        assert!(quantile_sorted(&[], 0.5).is_nan() && mean(&[]).is_nan());
        assert_eq!(central_interval(&mut [], 0.9), None);
        assert_eq!(central_interval(&mut [1.0, f64::NAN], 0.9), None);
        assert_eq!(central_interval(&mut [1.0, 2.0], 1.0), None);
        assert_eq!(central_interval(&mut [f64::INFINITY; 3], 0.9), Some((f64::INFINITY, f64::INFINITY)));
    }

    proptest! {
        #[test]
        fn both_ends_of_an_interval_are_the_quantiles(values in prop::collection::vec(-5i32..5, 1..40), level in 0.01..0.99) {
            let values: Vec<f64> = values.into_iter().map(f64::from).collect();
            let ends = (
                quantile(&mut values.clone(), 0.5 * (1.0 - level)),
                quantile(&mut values.clone(), 0.5 * (1.0 + level)),
            );
            prop_assert_eq!(central_interval(&mut values.clone(), level), Some(ends));
        }
    }

    /// A plain running sum of a million tenths is off by 1.3e-6.
    #[test]
    fn pairwise_sum_keeps_its_digits() {
        assert!((sum(&vec![0.1; 1_000_000]) - 1e5).abs() < 1e-9);
    }

    proptest! {
        #[test]
        fn selecting_is_sorting(mut values in prop::collection::vec(-1e6..1e6_f64, 1..300), p in 0.0..=1.0_f64) {
            let got = quantile(&mut values, p);
            values.sort_by(f64::total_cmp);
            prop_assert_eq!(got, quantile_sorted(&values, p));
        }
    }
}
