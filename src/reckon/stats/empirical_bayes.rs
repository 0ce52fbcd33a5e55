//! Rates of many units (herds, months) shrunk towards their common mean.
//!
//! **Method.** Gamma-Poisson: `x_i ~ Poisson(rate_i t_i)`, `rate_i ~ Gamma(shape, mean)`, so that `x_i` is
//! negative binomial. Shape and mean by maximum marginal likelihood (Clayton & Kaldor 1987, Biometrics
//! 43:671). For each shape the mean solves `sum (x - mean t)/(shape + mean t) = 0`; the shape is the zero of
//! `sum [psi(shape + x) - psi(shape)] - sum ln(1 + mean t/shape)`. A unit's rate is then
//! `Gamma(shape + x, rate shape/mean + t)`.
//!
//! **Assumptions.** Units differ at random, not by their size. Where the counts differ no more than chance
//! makes them, the likelihood runs to an infinite shape: that is said (`shape` is None) and every unit gets
//! the common rate. The uncertainty of shape and mean themselves is left out, as is usual.

use super::special::digamma;
use super::summary::sum;

/// Shapes above this cannot be told from no spread at all.
const LARGEST_SHAPE: f64 = 1e6;
const SMALLEST_SHAPE: f64 = 1e-4;
const SCAN_STEPS: u32 = 40;

/// A fitted distribution of rates.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GammaPoisson {
    /// Mean rate, in cases per unit of exposure.
    pub mean: f64,
    /// Shape of the spread between units; None where there is no more than chance.
    pub shape: Option<f64>,
    /// Log likelihood, constants included.
    pub log_likelihood: f64,
}

/// What is known of one unit's rate: a gamma distribution, or the common rate alone.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct UnitRate {
    /// Mean of the rate, in cases per unit of exposure.
    pub mean: f64,
    /// Gamma shape and rate; None where the units do not differ.
    pub gamma: Option<(f64, f64)>,
}

impl GammaPoisson {
    /// The rate of a unit with `cases` in `exposure`.
    pub fn unit(&self, cases: u64, exposure: f64) -> UnitRate {
        let Some(prior) = self.shape else { return UnitRate { mean: self.mean, gamma: None } };
        let (shape, rate) = (prior + cases as f64, prior / self.mean + exposure);
        UnitRate { mean: shape / rate, gamma: Some((shape, rate)) }
    }
}

/// Units with the same count, and units with the same exposure: all the likelihood needs.
struct Units {
    /// Count, how many units have it.
    by_count: Vec<(f64, f64)>,
    /// Exposure, how many units have it, their cases.
    by_exposure: Vec<(f64, f64, f64)>,
}

impl Units {
    fn new(cases: &[u64], exposure: &[f64]) -> Self {
        let mut counts = cases.to_vec();
        counts.sort_unstable();
        let by_count = counts.chunk_by(|a, b| a == b).map(|run| (run[0] as f64, run.len() as f64)).collect();
        let mut rows: Vec<(f64, u64)> = exposure.iter().copied().zip(cases.iter().copied()).collect();
        rows.sort_unstable_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        let by_exposure = rows
            .chunk_by(|a, b| a.0 == b.0)
            .map(|run| (run[0].0, run.len() as f64, run.iter().map(|row| row.1 as f64).sum()))
            .collect();
        Self { by_count, by_exposure }
    }

    fn over_counts(&self, term: impl Fn(f64) -> f64) -> f64 {
        sum(&self.by_count.iter().map(|&(x, n)| n * term(x)).collect::<Vec<_>>())
    }

    fn over_exposures(&self, term: impl Fn(f64, f64, f64) -> f64) -> f64 {
        sum(&self.by_exposure.iter().map(|&(t, n, x)| term(t, n, x)).collect::<Vec<_>>())
    }

    /// The likeliest mean for a shape: Newton on a convex falling function, which after its first step comes
    /// from the left.
    fn mean(&self, shape: f64, start: f64) -> f64 {
        let mut mean = start;
        for _ in 0..60 {
            let (mut value, mut slope) = (0.0, 0.0);
            for &(t, n, x) in &self.by_exposure {
                let r = 1.0 / (shape + mean * t);
                value += (x - mean * n * t) * r;
                slope += t * (n * shape + x) * r * r;
            }
            let next = (mean + value / slope).max(0.1 * mean);
            let settled = (next - mean).abs() <= 1e-14 * next;
            mean = next;
            if settled {
                break;
            }
        }
        mean
    }

    /// Slope of the profile log likelihood by the shape.
    fn score(&self, shape: f64, mean: f64) -> f64 {
        self.over_counts(|x| digamma_rise(shape, x))
            - self.over_exposures(|t, n, _| n * libm::log1p(mean * t / shape))
    }

    /// Log likelihood of a shape and mean.
    fn log_likelihood(&self, shape: f64, mean: f64) -> f64 {
        let start = libm::lgamma(shape);
        self.over_counts(|x| libm::lgamma(shape + x) - start - libm::lgamma(x + 1.0))
            + self.over_exposures(|t, n, x| {
                let m = mean * t;
                let cases = if x > 0.0 { x * libm::log(m / (shape + m)) } else { 0.0 };
                cases - n * shape * libm::log1p(m / shape)
            })
    }

    /// Log likelihood with no spread.
    fn log_likelihood_poisson(&self, mean: f64) -> f64 {
        self.over_exposures(|t, n, x| {
            let m = mean * t;
            (if x > 0.0 { x * libm::log(m) } else { 0.0 }) - n * m
        }) - self.over_counts(|x| libm::lgamma(x + 1.0))
    }
}

/// `psi(shape + x) - psi(shape)` for a whole `x`, by its sum where that is short and so loses nothing.
fn digamma_rise(shape: f64, x: f64) -> f64 {
    if x > 40.0 {
        return digamma(shape + x) - digamma(shape);
    }
    let (mut rise, mut j) = (0.0, 0.0);
    while j < x {
        rise += 1.0 / (shape + j);
        j += 1.0;
    }
    rise
}

/// Fits shape and mean. None for no units, lists of unlike length or an exposure that is not above 0 and
/// finite. With no cases at all the mean is 0 and there is no spread.
pub fn fit(cases: &[u64], exposure: &[f64]) -> Option<GammaPoisson> {
    let sound = exposure.iter().all(|&t| t > 0.0 && t.is_finite());
    if cases.is_empty() || cases.len() != exposure.len() || !sound {
        return None;
    }
    let units = Units::new(cases, exposure);
    let total = units.over_counts(|x| x);
    let pooled = total / units.over_exposures(|t, n, _| n * t);
    if total == 0.0 {
        return Some(GammaPoisson { mean: 0.0, shape: None, log_likelihood: 0.0 });
    }
    let log_likelihood = units.log_likelihood_poisson(pooled);
    let none = GammaPoisson { mean: pooled, shape: None, log_likelihood };
    Some(
        peaks(&units, pooled)
            .fold(none, |best, at| if at.log_likelihood > best.log_likelihood { at } else { best }),
    )
}

/// The local maxima of the profile likelihood over the logarithm of the shape.
fn peaks(units: &Units, pooled: f64) -> impl Iterator<Item = GammaPoisson> {
    let (from, to) = (libm::log(SMALLEST_SHAPE), libm::log(LARGEST_SHAPE));
    let at = move |i: u32| from + (to - from) * f64::from(i) / f64::from(SCAN_STEPS);
    let slope = move |s: f64| {
        let shape = libm::exp(s);
        shape * units.score(shape, units.mean(shape, pooled))
    };
    let slopes: Vec<f64> = (0..=SCAN_STEPS).map(|i| slope(at(i))).collect();
    (1..=SCAN_STEPS).filter_map(move |i| {
        let (left, right) = (*slopes.get(i as usize - 1)?, *slopes.get(i as usize)?);
        (left > 0.0 && right <= 0.0).then(|| {
            let shape = libm::exp(falling_zero(slope, (at(i - 1), left), (at(i), right)));
            let mean = units.mean(shape, pooled);
            GammaPoisson { mean, shape: Some(shape), log_likelihood: units.log_likelihood(shape, mean) }
        })
    })
}

/// Zero of a function that falls from above 0 at `left` to 0 or below at `right`: regula falsi in the
/// Illinois form (Dowell & Jarratt 1971, BIT 11:168).
fn falling_zero(f: impl Fn(f64) -> f64, left: (f64, f64), right: (f64, f64)) -> f64 {
    let ((mut a, mut fa), (mut b, mut fb)) = (left, right);
    let mut last_side = 0;
    for _ in 0..100 {
        let x = (a * fb - b * fa) / (fb - fa);
        if b - a < 1e-13 || !(x > a && x < b) {
            break;
        }
        let fx = f(x);
        if fx > 0.0 {
            (a, fa) = (x, fx);
            if last_side == 1 {
                fb *= 0.5;
            }
            last_side = 1;
        } else {
            (b, fb) = (x, fx);
            if last_side == -1 {
                fa *= 0.5;
            }
            last_side = -1;
        }
        if fx.abs() < 1e-13 {
            return x;
        }
    }
    if fa.abs() < fb.abs() { a } else { b }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn close(got: f64, want: f64, relative: f64) {
        assert!((got / want - 1.0).abs() < relative, "got {got}, want {want}");
    }

    fn expand(frequencies: &[usize]) -> Vec<u64> {
        frequencies.iter().zip(0..).flat_map(|(&n, x)| vec![x; n]).collect()
    }

    /// Bliss & Fisher (1953, Biometrics 9:176), red mites on 150 apple leaves, published k = 1.02459; and
    /// Greenwood & Yule (1920, JRSS 83:255), accidents to 647 women, published about 0.86 (data and values
    /// recalled). Digits by scipy 1.17.1.
    #[test]
    fn mites_and_accidents() {
        for (frequencies, shape, mean, log_likelihood) in [
            (&[70, 38, 17, 10, 9, 3, 2, 1][..], 1.024592387, 1.146666667, -222.4371536),
            (&[447, 132, 42, 21, 3, 2][..], 0.8651158199, 0.4652241113, -592.2670972),
        ] {
            let cases = expand(frequencies);
            let got = fit(&cases, &vec![1.0; cases.len()]).unwrap();
            close(got.shape.unwrap(), shape, 2e-9);
            close(got.mean, mean, 1e-9);
            close(got.log_likelihood, log_likelihood, 1e-9);
        }
    }

    /// Ten pumps (Gaver & O'Muircheartaigh 1987, Technometrics 29:1; data recalled); published shape about 0.82,
    /// rate about 1.26. Digits by solving the two score equations with mpmath 1.3, 30 digits.
    #[test]
    fn pumps() {
        let t = [94.3, 15.7, 62.9, 126.0, 5.24, 31.4, 1.05, 1.05, 2.1, 10.5];
        let x = [5, 1, 5, 14, 3, 19, 1, 1, 4, 22];
        let got = fit(&x, &t).unwrap();
        close(got.shape.unwrap(), 0.8229650786370968, 1e-11);
        close(got.shape.unwrap() / got.mean, 1.2616532803058318, 1e-11);
        close(got.log_likelihood, -32.25783630332715, 1e-12);
        let means = [
            0.060934118223728385,
            0.10747567165246448,
            0.09075459843900925,
            0.11647628878424292,
            0.5879989156323125,
            0.6069186060030174,
            0.7885979675965585,
            0.7885979675965585,
            1.4347003323907097,
            1.9404555239570576,
        ];
        for ((x, t), want) in x.into_iter().zip(t).zip(means) {
            close(got.unit(x, t).mean, want, 1e-12);
        }
    }

    /// New serological cases in 15 zebu herds (Lesnoff et al. 2004, Prev Vet Med 64:27; R lme4 `cbpp`), each
    /// herd's animals summed over its periods; digits by mpmath 1.3, 30 digits. A check of the method only.
    #[test]
    fn zebu_herds() {
        let mut herds = std::collections::BTreeMap::<u32, (u64, f64)>::new();
        let mut rows = csv::Reader::from_reader(include_str!("../../../tests/data/cbpp.csv").as_bytes());
        for row in rows.deserialize::<(u32, u64, f64, u32)>() {
            let (herd, cases, size, _) = row.unwrap();
            let sums = herds.entry(herd).or_default();
            *sums = (sums.0 + cases, sums.1 + size);
        }
        let (cases, sizes): (Vec<u64>, Vec<f64>) = herds.into_values().unzip();
        assert_eq!((cases.iter().sum::<u64>(), sizes.iter().sum::<f64>()), (99, 842.0));
        let got = fit(&cases, &sizes).unwrap();
        close(got.shape.unwrap(), 2.44433730764807, 1e-11);
        close(got.mean, 0.1381063055634214, 1e-11);
        close(got.log_likelihood, -44.20405402490629, 1e-12);
        let shrunken = [
            0.19834565944121713,
            0.09459258123272625,
            0.1575191046019525,
            0.12228586486590928,
            0.09520221848925631,
            0.07184406214215247,
            0.25033966855924594,
            0.27939321533001427,
            0.09516995174053568,
            0.06336679957380129,
            0.10065472715099842,
            0.11658370707741386,
            0.05199992015219195,
            0.3076580953138196,
            0.06663900778008597,
        ];
        for ((&x, &t), want) in cases.iter().zip(&sizes).zip(shrunken) {
            close(got.unit(x, t).mean, want, 1e-12);
        }
    }

    #[test]
    fn no_more_than_chance_has_no_shape() {
        let alike = fit(&[5, 5, 6, 4, 5], &[1.0; 5]).unwrap();
        assert_eq!((alike.mean, alike.shape), (5.0, None));
        assert_eq!(alike.unit(9, 1.0), UnitRate { mean: 5.0, gamma: None });
        let one = fit(&[7], &[2.0]).unwrap();
        assert_eq!((one.mean, one.shape), (3.5, None));
        let nothing = fit(&[0, 0], &[1.0, 2.0]).unwrap();
        assert_eq!((nothing.mean, nothing.shape), (0.0, None));
        assert_eq!(fit(&[], &[]), None);
        assert_eq!(fit(&[1], &[0.0]), None);
        assert_eq!(fit(&[1], &[1.0, 2.0]), None);
    }

    /// One herd with all the cases: the widest spread there can be.
    #[test]
    fn extreme_spread_is_still_found() {
        let got = fit(&[0, 0, 0, 0, 0, 0, 0, 900], &[1.0; 8]).unwrap();
        assert!(got.shape.unwrap() < 0.1 && (got.mean / 112.5 - 1.0).abs() < 1e-9);
    }
}
