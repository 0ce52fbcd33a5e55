//! Probabilities of counts: Poisson, binomial, hypergeometric, negative binomial.
//!
//! **Method.** Cumulative probabilities by the incomplete gamma and beta functions (Abramowitz & Stegun
//! 1964, 26.4.21, 26.5.24, 26.5.26); probabilities in the saddle-point form of Loader (2000), which stays
//! exact to 14 digits for large counts.
//!
//! **Assumptions.** Arguments outside the domain give NaN; a count that cannot occur has probability 0.

use super::special::{LN_SQRT_2PI, beta_both, deviance, gamma_p, gamma_q, normal_quantile, stirling_error};

/// Probability of exactly `k` where `mean` are expected (Poisson).
pub fn poisson_pmf(k: u64, mean: f64) -> f64 {
    if !(mean >= 0.0 && mean.is_finite()) {
        return f64::NAN;
    }
    let x = k as f64;
    if k == 0 {
        return libm::exp(-mean);
    }
    if mean == 0.0 {
        return 0.0;
    }
    libm::exp(
        -stirling_error(x) - deviance(x, mean, || libm::log(x / mean)) - 0.5 * libm::log(x) - LN_SQRT_2PI,
    )
}

/// Probability of `k` or fewer where `mean` are expected (Poisson).
pub fn poisson_cdf(k: u64, mean: f64) -> f64 {
    if mean.is_finite() { gamma_q(k as f64 + 1.0, mean) } else { f64::NAN }
}

/// Probability of more than `k` where `mean` are expected (Poisson), precise where it is small.
pub fn poisson_sf(k: u64, mean: f64) -> f64 {
    if mean.is_finite() { gamma_p(k as f64 + 1.0, mean) } else { f64::NAN }
}

/// The smallest count whose cumulative Poisson probability is at least `p`. None unless `0 <= p < 1` and
/// the mean is from 0 to 1e12.
pub fn poisson_quantile(p: f64, mean: f64) -> Option<u64> {
    if !((0.0..1.0).contains(&p) && (0.0..=1e12).contains(&mean)) {
        return None;
    }
    if p == 0.0 || mean == 0.0 {
        return Some(0);
    }
    // Cornish-Fisher start, then single steps.
    let z = normal_quantile(p);
    let start = mean + z * mean.sqrt() + (z * z - 1.0) / 6.0;
    let mut k = start.max(0.0) as u64;
    while poisson_cdf(k, mean) < p {
        k += 1;
    }
    while k > 0 && poisson_cdf(k - 1, mean) >= p {
        k -= 1;
    }
    Some(k)
}

/// `Gamma(n+1)/(Gamma(x+1) Gamma(n-x+1)) p^x q^(n-x)` for real `0 <= x <= n`, `p + q = 1`, both inside (0,1).
fn binomial_term(x: f64, n: f64, p: f64, q: f64) -> f64 {
    let rest = n - x;
    if x == 0.0 {
        return libm::exp(n * if p < 0.1 { libm::log1p(-p) } else { libm::log(q) });
    }
    if rest == 0.0 {
        return libm::exp(n * if q < 0.1 { libm::log1p(-q) } else { libm::log(p) });
    }
    let ln = stirling_error(n)
        - stirling_error(x)
        - stirling_error(rest)
        - deviance(x, n * p, || libm::log(x / (n * p)))
        - deviance(rest, n * q, || libm::log(rest / (n * q)));
    libm::exp(ln - LN_SQRT_2PI + 0.5 * libm::log(n / (x * rest)))
}

/// Probability of exactly `k` of `n`, each with probability `p` (binomial).
pub fn binomial_pmf(k: u64, n: u64, p: f64) -> f64 {
    if !(0.0..=1.0).contains(&p) {
        return f64::NAN;
    }
    if k > n {
        return 0.0;
    }
    if p == 0.0 || p == 1.0 {
        let certain = if p == 0.0 { 0 } else { n };
        return f64::from(u8::from(k == certain));
    }
    if n == 0 {
        return 1.0;
    }
    binomial_term(k as f64, n as f64, p, 1.0 - p)
}

/// Probability of `k` or fewer of `n` (binomial).
pub fn binomial_cdf(k: u64, n: u64, p: f64) -> f64 {
    binomial_tails(k, n, p).0
}

/// Probability of more than `k` of `n` (binomial), precise where it is small.
pub fn binomial_sf(k: u64, n: u64, p: f64) -> f64 {
    binomial_tails(k, n, p).1
}

fn binomial_tails(k: u64, n: u64, p: f64) -> (f64, f64) {
    if !(0.0..=1.0).contains(&p) {
        return (f64::NAN, f64::NAN);
    }
    if k >= n {
        return (1.0, 0.0);
    }
    let (sf, cdf) = beta_both(k as f64 + 1.0, (n - k) as f64, p);
    (cdf, sf)
}

/// Probability of exactly `k` marked among `draws` taken without replacement from `population`, of which
/// `marked` are marked (hypergeometric). NaN where the marked or the draws outnumber the population.
pub fn hypergeometric_pmf(k: u64, population: u64, marked: u64, draws: u64) -> f64 {
    if marked > population || draws > population {
        return f64::NAN;
    }
    let unmarked = population - marked;
    if k > marked || k > draws || draws - k > unmarked {
        return 0.0;
    }
    if draws == 0 || draws == population {
        return 1.0;
    }
    // Three binomial terms at the sampling fraction (Loader 2000): their p and q cancel exactly.
    let p = draws as f64 / population as f64;
    let q = (population - draws) as f64 / population as f64;
    let term = |x: u64, n: u64| if n == 0 { 1.0 } else { binomial_term(x as f64, n as f64, p, q) };
    term(k, marked) * term(draws - k, unmarked) / term(draws, population)
}

/// Probability of exactly `k` for a negative binomial of this mean and shape `r > 0` (the gamma shape of
/// the rates; not a whole number in general).
pub fn negative_binomial_pmf(k: u64, r: f64, mean: f64) -> f64 {
    if !(r > 0.0 && r.is_finite() && mean >= 0.0 && mean.is_finite()) {
        return f64::NAN;
    }
    let x = k as f64;
    if mean == 0.0 {
        return f64::from(u8::from(k == 0));
    }
    if k == 0 {
        return libm::exp(-r * libm::log1p(mean / r));
    }
    let (p, q) = (r / (r + mean), mean / (r + mean));
    // r/(r+k) of the binomial term at r of r + k.
    r / (r + x) * binomial_term(r, r + x, p, q)
}

/// Probability of `k` or fewer for a negative binomial of this mean and shape.
pub fn negative_binomial_cdf(k: u64, r: f64, mean: f64) -> f64 {
    if !(r > 0.0 && r.is_finite() && mean >= 0.0 && mean.is_finite()) {
        return f64::NAN;
    }
    beta_both(k as f64 + 1.0, r, mean / (r + mean)).1
}

#[cfg(test)]
mod tests {
    use super::*;
    use statrs::distribution::{Binomial, Discrete, DiscreteCDF, Hypergeometric, NegativeBinomial, Poisson};

    fn close(got: f64, want: f64, relative: f64, what: &str) {
        assert!((got - want).abs() <= relative * want.abs() + 1e-300, "{what}: got {got:e}, want {want:e}");
    }

    /// statrs 0.19.1, which agrees with scipy 1.17.1 to 1e-10 here.
    #[test]
    fn poisson_and_binomial_meet_statrs() {
        for mean in [0.03, 0.9, 3.7, 25.0, 800.0] {
            let other = Poisson::new(mean).unwrap();
            for k in [0, 1, 3, 8, 24, 30, 780, 850] {
                close(poisson_pmf(k, mean), other.pmf(k), 1e-10, "Poisson pmf");
                assert!((poisson_cdf(k, mean) - other.cdf(k)).abs() < 1e-10);
                assert!((poisson_sf(k, mean) - other.sf(k)).abs() < 1e-10);
            }
        }
        for (n, p) in [(1, 0.4), (12, 0.07), (200, 0.5), (5_000, 0.995)] {
            let other = Binomial::new(p, n).unwrap();
            for k in [0, 1, 3, 12, 95, 200, 4_970, 5_000] {
                close(binomial_pmf(k, n, p), if k > n { 0.0 } else { other.pmf(k) }, 1e-9, "binomial pmf");
                assert!((binomial_cdf(k, n, p) - other.cdf(k)).abs() < 1e-10);
            }
        }
    }

    #[test]
    fn the_others_meet_statrs() {
        for (population, marked, draws) in [(50, 5, 21), (100, 20, 13), (1_000, 50, 57)] {
            let other = Hypergeometric::new(population, marked, draws).unwrap();
            for k in 0..=6 {
                let want = if k > marked { 0.0 } else { other.pmf(k) };
                close(hypergeometric_pmf(k, population, marked, draws), want, 1e-9, "hypergeometric");
            }
        }
        for (r, mean) in [(0.3, 2.0), (1.0, 1.0), (14.6, 30.0), (100.0, 7.0)] {
            let other = NegativeBinomial::new(r, r / (r + mean)).unwrap();
            for k in [0, 1, 4, 20, 60] {
                close(negative_binomial_pmf(k, r, mean), other.pmf(k), 1e-9, "negative binomial pmf");
                assert!((negative_binomial_cdf(k, r, mean) - other.cdf(k)).abs() < 1e-10);
            }
        }
    }

    /// scipy 1.17.1 `poisson.sf`, mean 3.7: upper tails from 8 to 13.
    #[test]
    fn poisson_upper_tail_meets_scipy() {
        let tails =
            [0.03524073047, 0.01370281411, 0.004848337389, 0.001572181001, 0.0004702011249, 0.0001304239964];
        for (k, want) in (8..).zip(tails) {
            close(poisson_sf(k - 1, 3.7), want, 1e-9, "upper tail");
        }
    }

    /// Red mites on 150 apple leaves (Bliss & Fisher 1953; data recalled), expected numbers of leaves with 0 to
    /// 7 mites at the fitted values, by scipy 1.17.1.
    #[test]
    fn negative_binomial_fits_the_mites() {
        let leaves = [
            69.48797818,
            37.5998702,
            20.10108477,
            10.70263317,
            5.686932794,
            3.018105892,
            1.600429091,
            0.8481742259,
        ];
        for (k, want) in (0..).zip(leaves) {
            close(150.0 * negative_binomial_pmf(k, 1.024592387, 172.0 / 150.0), want, 2e-9, "leaves");
        }
    }

    #[test]
    fn impossible_and_certain() {
        assert_eq!((poisson_pmf(0, 0.0), poisson_pmf(2, 0.0)), (1.0, 0.0));
        assert_eq!(
            (binomial_pmf(3, 2, 0.5), binomial_pmf(0, 0, 0.5), binomial_pmf(2, 2, 1.0)),
            (0.0, 1.0, 1.0)
        );
        assert_eq!((binomial_cdf(2, 2, 0.3), binomial_cdf(0, 5, 0.0)), (1.0, 1.0));
        assert_eq!(hypergeometric_pmf(0, 10, 6, 5), 0.0);
        assert_eq!((negative_binomial_pmf(0, 2.0, 0.0), negative_binomial_cdf(0, 2.0, 0.0)), (1.0, 1.0));
        assert!(poisson_pmf(1, f64::NAN).is_nan() && binomial_cdf(1, 2, 1.1).is_nan());
        assert!(hypergeometric_pmf(0, 10, 11, 5).is_nan() && negative_binomial_pmf(0, 0.0, 1.0).is_nan());
        assert_eq!((poisson_quantile(1.0, 3.0), poisson_quantile(0.5, f64::NAN)), (None, None));
        assert_eq!((poisson_quantile(0.0, 3.0), poisson_quantile(0.9, 0.0)), (Some(0), Some(0)));
    }
}
