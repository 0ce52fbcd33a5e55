//! Intervals for counts, shares and rates.
//!
//! **Methods.** Exact Poisson: Garwood (1936, Biometrika 28:437). Share: Wilson (1927, JASA 22:209), with
//! the finite-population correction where the herd's size is known; exact: Clopper & Pearson (1934,
//! Biometrika 26:404). Several shares at once: Goodman (1965, Technometrics 7:247). Prevalence behind an
//! imperfect test: Rogan & Gladen (1978, Am J Epidemiol 107:71). Ratio of two Poisson rates: exact,
//! conditional on the total (Przyborowski & Wilenski 1940, Biometrika 31:313). Each formula stands at its
//! function.
//!
//! **Assumptions.** Cases are independent of one another: an outbreak makes every interval here too narrow.
//! A level is the coverage, 0.95 for 95 %.

use super::discrete::{binomial_cdf, binomial_sf, poisson_quantile};
use super::quantile::{beta_quantile_tails, gamma_quantile_tails};
use super::special::normal_quantile;

/// Probability beyond either limit of a level in (0, 1).
fn half_alpha(level: f64) -> Option<f64> {
    (level > 0.0 && level < 1.0).then_some(0.5 * (1.0 - level))
}

/// Garwood's exact interval for the mean of a Poisson count `x`:
/// `gamma_quantile(alpha/2, x)` to `gamma_quantile(1 - alpha/2, x + 1)`. NaN for a level outside (0, 1).
pub fn poisson_interval(x: u64, level: f64) -> (f64, f64) {
    let Some(tail) = half_alpha(level) else { return (f64::NAN, f64::NAN) };
    let x = x as f64;
    let low = if x == 0.0 { 0.0 } else { gamma_quantile_tails(tail, 1.0 - tail, x) };
    (low, gamma_quantile_tails(1.0 - tail, tail, x + 1.0))
}

/// Wilson's interval for a share, `k` of `n`.
///
/// With the `population` the `n` were taken from, `n` counts as `n (N - 1)/(N - n)`, since sampling without
/// replacement varies that much less, and the limits stay within what the count alone settles: at least
/// `k/N`, at most `1 - (n - k)/N`. A whole herd leaves no interval. None for `n = 0`, `k > n`, a population
/// below `n` or a level outside (0, 1).
pub fn wilson(k: u64, n: u64, level: f64, population: Option<u64>) -> Option<(f64, f64)> {
    let z = -normal_quantile(half_alpha(level)?);
    if n == 0 || k > n || population.is_some_and(|all| all < n) {
        return None;
    }
    let (share, size) = (k as f64 / n as f64, n as f64);
    let Some(all) = population else { return Some(wilson_at(share, size, z)) };
    if all == n {
        return Some((share, share));
    }
    let herd = all as f64;
    let (low, high) = wilson_at(share, size * (herd - 1.0) / (herd - size), z);
    Some((low.max(k as f64 / herd), high.min(1.0 - (n - k) as f64 / herd)))
}

/// `(p + z^2/2n -/+ z sqrt(p(1-p)/n + z^2/4n^2)) / (1 + z^2/n)`; exactly 0 and 1 at the ends.
fn wilson_at(share: f64, n: f64, z: f64) -> (f64, f64) {
    let c = z * z / n;
    let half = (c * (share * (1.0 - share) + 0.25 * c)).sqrt();
    let middle = share + 0.5 * c;
    let low = if share == 0.0 { 0.0 } else { (middle - half) / (1.0 + c) };
    let high = if share == 1.0 { 1.0 } else { (middle + half) / (1.0 + c) };
    (low.max(0.0), high.min(1.0))
}

/// Clopper and Pearson's exact interval for a share, `k` of `n`: `beta_quantile(alpha/2, k, n - k + 1)` to
/// `beta_quantile(1 - alpha/2, k + 1, n - k)`. None as in [`wilson`].
pub fn clopper_pearson(k: u64, n: u64, level: f64) -> Option<(f64, f64)> {
    if n == 0 {
        return None;
    }
    let (low, high) = exact_split(k, n, half_alpha(level)?)?;
    Some((low.0, high.0))
}

/// A share with its complement, each precise where it is small.
type Split = (f64, f64);

/// Clopper-Pearson limits of a share, each with its complement. None for `k > n` or counts so large (about
/// 1e10) that the incomplete beta function does not settle.
fn exact_split(k: u64, n: u64, tail: f64) -> Option<(Split, Split)> {
    let (a, b) = (k as f64, n.checked_sub(k)? as f64);
    let low = if k == 0 { (0.0, 1.0) } else { beta_quantile_tails(tail, 1.0 - tail, a, b + 1.0) };
    let high = if k == n { (1.0, 0.0) } else { beta_quantile_tails(1.0 - tail, tail, a + 1.0, b) };
    (!low.0.is_nan() && !high.0.is_nan()).then_some((low, high))
}

/// Goodman's simultaneous intervals for the shares of several classes, all of which hold together with
/// probability `1 - alpha`: `(B + 2x -/+ sqrt(B (B + 4x(n - x)/n))) / (2(n + B))`, `B` the chi-square
/// quantile (1 degree of freedom) at `1 - alpha/k`. None for no counts or an alpha outside (0, 1).
pub fn goodman(counts: &[u64], alpha: f64) -> Option<Vec<(f64, f64)>> {
    let total = counts.iter().try_fold(0_u64, |sum, &x| sum.checked_add(x))?;
    if total == 0 || !(alpha > 0.0 && alpha < 1.0) {
        return None;
    }
    let z = normal_quantile(0.5 * alpha / counts.len() as f64);
    let n = total as f64;
    Some(counts.iter().map(|&x| wilson_at(x as f64 / n, n, z.abs())).collect())
}

/// True prevalence behind an imperfect test.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RoganGladen {
    /// `(apparent + sp - 1)/(se + sp - 1)` as it comes out, also below 0 or above 1.
    pub raw: f64,
    /// `sqrt(apparent (1 - apparent)/n)/(se + sp - 1)`; sensitivity and specificity taken as known.
    pub std_error: f64,
    /// The raw value is no prevalence: the test cannot be corrected at this apparent prevalence.
    pub out_of_range: bool,
}

/// Rogan and Gladen's corrected prevalence from `positive` of `n`. None for no animals, more positive than
/// tested, a sensitivity or specificity outside [0, 1], or a test no better than chance (`se + sp <= 1`).
pub fn rogan_gladen(positive: u64, n: u64, sensitivity: f64, specificity: f64) -> Option<RoganGladen> {
    let youden = sensitivity + specificity - 1.0;
    let shares = (0.0..=1.0).contains(&sensitivity) && (0.0..=1.0).contains(&specificity);
    if n == 0 || positive > n || !shares || youden <= 1e-12 {
        return None;
    }
    let apparent = positive as f64 / n as f64;
    let raw = (apparent + specificity - 1.0) / youden;
    let std_error = (apparent * (1.0 - apparent) / n as f64).sqrt() / youden;
    Some(RoganGladen { raw, std_error, out_of_range: !(0.0..=1.0).contains(&raw) })
}

/// Ratio of two Poisson rates, the first over the second.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RateRatio {
    /// `(x1/t1)/(x2/t2)`; None where the second count is 0.
    pub ratio: Option<f64>,
    /// Lower limit; 0 where the first count is 0.
    pub low: f64,
    /// Upper limit; None (no limit) where the second count is 0.
    pub high: Option<f64>,
    /// Central two-sided p value, twice the smaller tail and at most 1: below `1 - level` exactly where the
    /// interval leaves out 1.
    pub p_central: f64,
}

/// Exact conditional comparison of `x1` cases in time `t1` with `x2` in `t2` (same unit). Given the total,
/// `x1` is binomial; the limits are Clopper-Pearson's, `l/(1-l) * t2/t1`. None for a time that is not above 0
/// and finite or a level outside (0, 1).
pub fn rate_ratio(x1: u64, t1: f64, x2: u64, t2: f64, level: f64) -> Option<RateRatio> {
    let tail = half_alpha(level)?;
    let total = x1.checked_add(x2)?;
    if !(t1 > 0.0 && t2 > 0.0 && t1.is_finite() && t2.is_finite()) {
        return None;
    }
    let scale = t2 / t1;
    let (low, high) = exact_split(x1, total, tail)?;
    let share = t1 / (t1 + t2);
    let below = binomial_cdf(x1, total, share);
    let above = if x1 == 0 { 1.0 } else { binomial_sf(x1 - 1, total, share) };
    Some(RateRatio {
        ratio: (x2 > 0).then(|| x1 as f64 / x2 as f64 * scale),
        low: if x1 == 0 { 0.0 } else { low.0 / low.1 * scale },
        high: (x2 > 0).then(|| high.0 / high.1 * scale),
        p_central: (2.0 * below.min(above)).min(1.0),
    })
}

/// Lower and upper probability of the limits of a chart of counts: those of three standard deviations of a
/// normal distribution.
pub const CHART_TAILS: (f64, f64) = (0.001_35, 0.998_65);

/// Poisson probability limits of a chart of counts where `mean` are expected: the counts at
/// [`CHART_TAILS`]. A count *beyond* a limit signals (Montgomery, Introduction to Statistical Quality
/// Control, chapter 7). None for a mean outside 0 to 1e12.
pub fn chart_limits(mean: f64) -> Option<(u64, u64)> {
    Some((poisson_quantile(CHART_TAILS.0, mean)?, poisson_quantile(CHART_TAILS.1, mean)?))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn close(got: f64, want: f64, what: &str) {
        assert!((got - want).abs() <= 1e-9 * want.abs() + 1e-15, "{what}: got {got}, want {want}");
    }

    /// scipy 1.17.1 (chi2.ppf); to two decimals the published tables of Garwood's interval (recalled, not
    /// seen). R's `poisson.test(137, 24.19893)` for the last.
    #[test]
    fn garwood() {
        for (x, level, low, high) in [
            (0, 0.95, 0.0, 3.688879454),
            (0, 0.90, 0.0, 2.995732274),
            (0, 0.99, 0.0, 5.298317367),
            (1, 0.95, 0.02531780798, 5.571643391),
            (1, 0.90, 0.05129329439, 4.743864518),
            (1, 0.99, 0.005012541824, 7.4301295),
            (2, 0.95, 0.2422092785, 7.224687668),
            (3, 0.95, 0.6186721229, 8.76727307),
            (5, 0.95, 1.62348639, 11.66833208),
            (5, 0.90, 1.970149568, 10.51303491),
            (5, 0.99, 1.077928241, 14.14975941),
            (10, 0.95, 4.795388696, 18.39035604),
            (10, 0.90, 5.425405697, 16.96221924),
            (10, 0.99, 3.716922131, 21.3978275),
            (15, 0.95, 8.395386133, 24.74021887),
            (20, 0.95, 12.21651959, 30.8883779),
            (20, 0.90, 13.2546516, 29.06201884),
            (20, 0.99, 10.35326766, 34.66799873),
            (30, 0.95, 20.24087402, 42.82686539),
            (50, 0.95, 37.11096374, 65.91876666),
            (100, 0.95, 81.36399125, 121.6267938),
            (137, 0.95, 4.7531248048 * 24.19893, 6.6927093342 * 24.19893),
        ] {
            let (got_low, got_high) = poisson_interval(x, level);
            close(got_low, low, "lower");
            close(got_high, high, "upper");
        }
        assert!(poisson_interval(3, 1.0).0.is_nan());
        assert!(poisson_interval(u64::MAX, 0.95).1 > 1.8e19);
    }

    /// Newcombe (1998, Stat Med 17:857) table I, recalled; statsmodels 0.15.0 for the digits. The exact
    /// interval of 5/25 is in Conover's tables (seen).
    #[test]
    fn wilson_and_clopper_pearson() {
        for (k, n, wilson_limits, exact) in [
            (81, 263, (0.2552885199, 0.366209577), (0.2527367456, 0.3676219226)),
            (15, 148, (0.06238639953, 0.1604872417), (0.05784401008, 0.1616504903)),
            (0, 20, (0.0, 0.1611251581), (0.0, 0.168433471)),
            (1, 29, (0.006113214293, 0.1717552188), (0.0008726468836, 0.1776442955)),
            (29, 29, (0.8830302015, 1.0), (0.8805551309, 1.0)),
            (10, 10, (0.7224672001, 1.0), (0.6915028922, 1.0)),
            (5, 25, (0.08860584687, 0.3913095037), (0.06831146401, 0.4070374323)),
        ] {
            let (low, high) = wilson(k, n, 0.95, None).unwrap();
            close(low, wilson_limits.0, "Wilson lower");
            close(high, wilson_limits.1, "Wilson upper");
            let (low, high) = clopper_pearson(k, n, 0.95).unwrap();
            close(low, exact.0, "exact lower");
            close(high, exact.1, "exact upper");
        }
        assert_eq!((wilson(0, 0, 0.95, None), wilson(3, 2, 0.95, None)), (None, None));
        assert_eq!((clopper_pearson(0, 0, 0.95), clopper_pearson(3, 2, 0.95)), (None, None));
    }

    /// By hand: 20 of 100 in a herd of 199 counts as 20 % of 200, so it is Wilson's 40/200.
    #[test]
    fn a_known_herd_narrows_the_interval() {
        assert_eq!(wilson(20, 100, 0.95, Some(199)), wilson(40, 200, 0.95, None));
        assert_eq!(wilson(20, 100, 0.95, Some(100)), Some((0.2, 0.2)));
        assert_eq!(wilson(20, 100, 0.95, Some(99)), None);
        let (low, high) = wilson(1, 50, 0.95, Some(60)).unwrap();
        assert!(low >= 1.0 / 60.0 && high <= 1.0 - 49.0 / 60.0);
        let (low, high) = wilson(20, 100, 0.95, Some(1_000_000_000)).unwrap();
        let (free_low, free_high) = wilson(20, 100, 0.95, None).unwrap();
        assert!((low - free_low).abs() < 1e-7 && (high - free_high).abs() < 1e-7);
    }

    /// The printed three-digit values of Sison & Glaz (1995, JASA 90:366), seen in statsmodels' tests, with
    /// more digits from statsmodels 0.15.0.
    #[test]
    fn goodman_meets_the_published_examples() {
        let seven = [
            (0.08516723914, 0.1662614081),
            (0.1145329189, 0.2043725827),
            (0.1163952892, 0.2067275158),
            (0.09060567089, 0.1734748866),
            (0.09607738005, 0.1806550876),
            (0.1427491092, 0.2394159434),
            (0.08878905813, 0.1710741959),
        ];
        let four = [
            (0.1092866643, 0.4996010041),
            (0.2393446709, 0.6703986372),
            (0.06591309384, 0.4226323186),
            (0.02961899091, 0.3385841657),
        ];
        let check = |counts: &[u64], want: &[(f64, f64)]| {
            for (got, want) in goodman(counts, 0.05).unwrap().iter().zip(want) {
                close(got.0, want.0, "lower");
                close(got.1, want.1, "upper");
            }
        };
        check(&[56, 72, 73, 59, 62, 87, 58], &seven);
        check(&[7, 12, 5, 3], &four);
        let fifty = goodman(&[5; 50], 0.05).unwrap()[17];
        assert!((fifty.0 - 0.005).abs() < 5e-4 && (fifty.1 - 0.075).abs() < 5e-4);
        assert_eq!((goodman(&[], 0.05), goodman(&[0, 0], 0.05), goodman(&[1], 0.0)), (None, None, None));
        assert_eq!(goodman(&[u64::MAX, 1], 0.05), None);
    }

    /// epiR's documented examples of epi.prev (printed 22, -4, 56, 80 and 57 per 100; seen), digits from numpy.
    #[test]
    fn rogan_gladen_meets_epir() {
        for (positive, n, se, sp, raw, std_error, printed) in [
            (45, 150, 0.96, 0.89, 0.2235294118, 0.04401949867, 22.0),
            (6, 151, 0.964, 0.927, -0.03733434418, 0.01784088942, -4.0),
            (80, 210, 0.60, 0.90, 0.5619047619, 0.06702205243, 56.0),
            (100, 189, 0.65, 0.95, 0.7985008818, 0.06051332919, 80.0),
            (50, 124, 0.70, 0.99, 0.5698924731, 0.06384387573, 57.0),
        ] {
            let got = rogan_gladen(positive, n, se, sp).unwrap();
            close(got.raw, raw, "prevalence");
            close(got.std_error, std_error, "standard error");
            assert_eq!((100.0 * got.raw).round(), printed);
            assert_eq!(got.out_of_range, raw < 0.0);
        }
        assert!(rogan_gladen(100, 100, 0.6, 0.95).unwrap().out_of_range);
        assert_eq!(rogan_gladen(1, 10, 0.5, 0.5), None);
        assert_eq!(rogan_gladen(1, 10, 0.3, 0.7), None);
        assert_eq!(rogan_gladen(1, 0, 0.9, 0.9), None);
        assert_eq!(rogan_gladen(1, 10, f64::NAN, 0.9), None);
    }

    /// Row 1: Boice & Monson 1977 as used by Rothman (data recalled); row 2: the example of R's
    /// `?poisson.test` (seen); all with R 4.2.2 `poisson.test` and scipy 1.17.1, which agree.
    #[test]
    fn ratio_of_rates() {
        for (x1, t1, x2, t2, ratio, low, high, p) in [
            (41, 28010.0, 15, 19017.0, 1.855758658, 1.005684063, 3.609300311, 0.04766024675),
            (11, 800.0, 21, 3011.0, 1.971488095, 0.8584264034, 4.277265944, 0.1120173196),
            (60, 51477.5, 30, 54308.7, 2.109997572, 1.339735722, 3.388365574, 0.0008561053881),
            (0, 100.0, 5, 100.0, 0.0, 0.0, 1.091279105, 0.0625),
        ] {
            let got = rate_ratio(x1, t1, x2, t2, 0.95).unwrap();
            close(got.ratio.unwrap(), ratio, "ratio");
            close(got.low, low, "lower");
            close(got.high.unwrap(), high, "upper");
            close(got.p_central, p, "p");
        }
        let none_after = rate_ratio(5, 100.0, 0, 100.0, 0.95).unwrap();
        close(none_after.low, 0.9163558573, "lower");
        close(none_after.p_central, 0.0625, "p");
        assert_eq!((none_after.ratio, none_after.high), (None, None));
        let nothing = rate_ratio(0, 1.0, 0, 2.0, 0.95).unwrap();
        assert_eq!((nothing.ratio, nothing.low, nothing.high, nothing.p_central), (None, 0.0, None, 1.0));
        assert_eq!(rate_ratio(1, 0.0, 1, 1.0, 0.95), None);
    }

    /// The p value and the interval never contradict each other.
    #[test]
    fn p_agrees_with_the_interval() {
        for x1 in 0..25 {
            for x2 in 0..25 {
                let got = rate_ratio(x1, 1.0, x2, 1.7, 0.95).unwrap();
                let outside = got.low > 1.0 || got.high.is_some_and(|high| high < 1.0);
                assert_eq!(outside, got.p_central < 0.05, "{x1} {x2}");
            }
        }
    }

    /// scipy 1.17.1 `poisson.ppf` at the mean counts of two examples of Montgomery, chapter 7 (data recalled).
    #[test]
    fn chart_limits_meet_scipy() {
        assert_eq!(chart_limits(3.7), Some((0, 11)));
        let rate = 153.0 / 107.5;
        for (units, limits) in [
            (10.0, (4, 27)),
            (8.0, (3, 23)),
            (13.0, (7, 33)),
            (9.5, (4, 26)),
            (12.0, (6, 31)),
            (10.5, (5, 28)),
            (12.5, (7, 32)),
        ] {
            assert_eq!(chart_limits(rate * units), Some(limits));
        }
        assert_eq!(chart_limits(0.0), Some((0, 0)));
        assert_eq!(chart_limits(f64::NAN), None);
    }
}
