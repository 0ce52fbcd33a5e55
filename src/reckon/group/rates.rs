//! The farms' rates: shrunken towards the group's mean, with the chance of being among the best and
//! the worst quarter, and the limits of chance round the mean.
//!
//! **Methods.** Empirical Bayes by [`super::super::stats::empirical_bayes`]. Chances of a rank by
//! draws from each farm's posterior (Goldstein & Spiegelhalter 1996, J R Stat Soc A 159:385); where a
//! quarter of the farms is no whole number, the farm on the border counts by the part that is left, so
//! that a farm of which nothing is known has a chance of exactly a quarter. Funnel: exact Poisson
//! limits, interpolated between counts (Spiegelhalter 2005, Stat Med 24:1185, appendix A.1.1).

use super::super::stats::discrete::{poisson_cdf, poisson_quantile};
use super::super::stats::draws::Draws;
use super::super::stats::empirical_bayes::{GammaPoisson, fit};
use super::super::stats::interval::poisson_interval;
use super::super::stats::quantile::gamma_quantile;
use super::super::stats::special::gamma_p;
use super::super::stats::table::QuantileTable;
use super::super::{Estimate, LEVEL};
use std::collections::BTreeMap;

/// Above so many farms the border of a quarter hardly moves from draw to draw (by about a hundredth
/// of the spread), and is reckoned once.
const MOST_DRAWN: usize = 1_000;

/// What is known of one farm's rate, cases per 100 cow-years.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct FarmRate {
    /// As recorded.
    pub rate: f64,
    /// Shrunken towards the group's mean, with its interval of level [`LEVEL`].
    pub shrunken: Estimate,
    /// Chance of being among the quarter with the lowest rates.
    pub p_best_quarter: f64,
    /// Chance of being among the quarter with the highest.
    pub p_worst_quarter: f64,
}

/// A fitted group.
#[derive(Clone, Debug)]
pub(super) struct GroupRates {
    /// Mean and shape over the farms.
    pub fit: GammaPoisson,
    /// The farms, in the order given.
    pub farms: Vec<FarmRate>,
}

/// A farm's cases with its hundreds of cow-years, above 0.
pub(super) type Count = (u64, f64);

/// A Gamma posterior of a rate: shape and rate.
type Gamma = (f64, f64);

/// Fits the group's rates. `None` for no farms.
pub(super) fn group_rates(counts: &[Count], draws: &Draws) -> Option<GroupRates> {
    let (cases, sizes): (Vec<u64>, Vec<f64>) = counts.iter().copied().unzip();
    let fit = fit(&cases, &sizes)?;
    let kinds = Kinds::of(counts);
    let posteriors: Vec<Option<Gamma>> =
        kinds.counts.iter().map(|(x, t)| fit.unit(*x, *t).gamma.filter(|_| fit.mean > 0.0)).collect();
    let common = common_rate(&fit, &cases, &sizes);
    let shrunken: Vec<Estimate> = posteriors
        .iter()
        .map(|gamma| {
            gamma.map_or(common, |(shape, rate)| Estimate {
                mean: shape / rate,
                interval: (
                    gamma_quantile(0.5 * (1.0 - LEVEL), shape) / rate,
                    gamma_quantile(0.5 * (1.0 + LEVEL), shape) / rate,
                ),
            })
        })
        .collect();
    let chances = match posteriors.iter().copied().collect::<Option<Vec<Gamma>>>() {
        None => vec![(0.25, 0.25); kinds.counts.len()],
        Some(posteriors) if counts.len() <= MOST_DRAWN => kinds.chances_by_draws(&posteriors, draws),
        Some(posteriors) => kinds.chances_at_borders(&posteriors),
    };
    let farm = |(kind, (x, t)): (&usize, &Count)| {
        let (p_best_quarter, p_worst_quarter) = chances[*kind];
        FarmRate { rate: *x as f64 / t, shrunken: shrunken[*kind], p_best_quarter, p_worst_quarter }
    };
    Some(GroupRates { fit, farms: kinds.of_farm.iter().zip(counts).map(farm).collect() })
}

/// The common rate where farms differ no more than chance, with the exact interval of the pooled count.
fn common_rate(fit: &GammaPoisson, cases: &[u64], sizes: &[f64]) -> Estimate {
    let size: f64 = super::super::stats::summary::sum(sizes);
    let (low, high) = poisson_interval(cases.iter().sum(), LEVEL);
    Estimate { mean: fit.mean, interval: (low / size, high / size) }
}

/// Farms with the same cases and size are alike: each kind is reckoned once.
struct Kinds {
    counts: Vec<Count>,
    /// How many farms are of each kind.
    farms: Vec<usize>,
    /// The kind of each farm.
    of_farm: Vec<usize>,
}

impl Kinds {
    fn of(counts: &[Count]) -> Kinds {
        // Sizes are above 0, so their bits sort as they do.
        let key = |(x, t): &Count| (*x, t.to_bits());
        let mut kinds: BTreeMap<(u64, u64), usize> = BTreeMap::new();
        counts.iter().for_each(|count| *kinds.entry(key(count)).or_default() += 1);
        let place: BTreeMap<(u64, u64), usize> = kinds.keys().copied().zip(0..).collect();
        Kinds {
            counts: kinds.keys().map(|(x, bits)| (*x, f64::from_bits(*bits))).collect(),
            farms: kinds.values().copied().collect(),
            of_farm: counts.iter().filter_map(|count| place.get(&key(count)).copied()).collect(),
        }
    }

    /// Chances of the best and the worst quarter, by kind. The farms of a kind share theirs.
    fn chances_by_draws(&self, posteriors: &[Gamma], draws: &Draws) -> Vec<(f64, f64)> {
        let n: usize = self.farms.iter().sum();
        let mut farms: Vec<(usize, Vec<f64>)> = Vec::with_capacity(n);
        for (kind, ((shape, rate), count)) in posteriors.iter().zip(&self.farms).enumerate() {
            let table = QuantileTable::gamma(*shape);
            for _ in 0..*count {
                let uniforms = draws.uniforms("group", farms.len());
                farms.push((kind, uniforms.into_iter().map(|u| table.at(u) / rate).collect()));
            }
        }
        let mut sums = vec![(0.0, 0.0); posteriors.len()];
        let (whole, part) = (n / 4, (n % 4) as f64 / 4.0);
        let mut order: Vec<(f64, usize)> = Vec::with_capacity(n);
        for draw in 0..draws.count() {
            order.clear();
            order.extend(farms.iter().map(|(kind, rates)| (rates[draw], *kind)));
            order.sort_unstable_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
            for (place, (_, kind)) in order.iter().take(whole + 1).enumerate() {
                sums[*kind].0 += if place < whole { 1.0 } else { part };
            }
            for (place, (_, kind)) in order.iter().rev().take(whole + 1).enumerate() {
                sums[*kind].1 += if place < whole { 1.0 } else { part };
            }
        }
        let share = |(sum, count): (f64, usize)| sum / (count * draws.count()) as f64;
        sums.iter()
            .zip(&self.farms)
            .map(|(sum, count)| (share((sum.0, *count)), share((sum.1, *count))))
            .collect()
    }

    /// The same where the borders of the quarters stand still: each is the rate below which a quarter
    /// of all farms is expected.
    fn chances_at_borders(&self, posteriors: &[Gamma]) -> Vec<(f64, f64)> {
        let n: usize = self.farms.iter().sum();
        let below = |border: f64| -> f64 {
            let parts = posteriors.iter().zip(&self.farms);
            parts.map(|((shape, rate), count)| *count as f64 * gamma_p(*shape, rate * border)).sum()
        };
        let border = |share: f64| {
            let highest = posteriors.iter().map(|(shape, rate)| shape / rate).fold(0.0, f64::max);
            let (mut low, mut high) = (0.0, 2.0 * highest + 1.0);
            for _ in 0..60 {
                let middle = 0.5 * (low + high);
                if below(middle) < share * n as f64 { low = middle } else { high = middle }
            }
            0.5 * (low + high)
        };
        let (best, worst) = (border(0.25), border(0.75));
        posteriors
            .iter()
            .map(|(shape, rate)| (gamma_p(*shape, rate * best), 1.0 - gamma_p(*shape, rate * worst)))
            .collect()
    }
}

/// Limits of chance round the group's rate for a farm of one size, cases per 100 cow-years.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FunnelLimits {
    /// Cow-years of records.
    pub cow_years: f64,
    /// 95 % limits: beyond them lies one farm in twenty by chance alone.
    pub inner: (f64, f64),
    /// 99.8 % limits: beyond them lies one farm in five hundred.
    pub outer: (f64, f64),
}

/// The limits at one size. `None` for a size that is not above 0.
pub fn funnel_limits(mean_per_100_cow_years: f64, cow_years: f64) -> Option<FunnelLimits> {
    let hundreds = cow_years / 100.0;
    let limit = |p: f64| Some(poisson_limit(p, mean_per_100_cow_years * hundreds)? / hundreds);
    (cow_years > 0.0).then_some(())?;
    Some(FunnelLimits {
        cow_years,
        inner: (limit(0.025)?, limit(0.975)?),
        outer: (limit(0.001)?, limit(0.999)?),
    })
}

/// A Poisson quantile between counts: the count less the part of its probability that lies beyond `p`.
fn poisson_limit(p: f64, expected: f64) -> Option<f64> {
    let count = poisson_quantile(p, expected)?;
    let reached = poisson_cdf(count, expected);
    let before = if count == 0 { 0.0 } else { poisson_cdf(count - 1, expected) };
    let over = if reached > before { (reached - p) / (reached - before) } else { 0.0 };
    Some((count as f64 - over).max(0.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn draws() -> Draws {
        Draws::new(4096, 1).unwrap()
    }

    /// Limits by scipy 1.17.1: `r = poisson.ppf(p, m); r - (poisson.cdf(r, m) - p)/poisson.pmf(r, m)`, over
    /// the size, for a mean of 17 at 100, 400 and 1,000 cow-years.
    #[test]
    fn funnel_limits_meet_scipy() {
        for (cow_years, inner, outer) in SCIPY {
            let got = funnel_limits(17.0, cow_years).unwrap();
            for (got, want) in [
                (got.inner.0, inner.0),
                (got.inner.1, inner.1),
                (got.outer.0, outer.0),
                (got.outer.1, outer.1),
            ] {
                assert!((got - want).abs() < 1e-8, "{cow_years}: got {got}, want {want}");
            }
        }
    }

    type Pair = (f64, f64);

    const SCIPY: [(f64, Pair, Pair); 3] = [
        (100.0, (8.9168694732, 25.0242826468), (5.2344989250, 30.6393406437)),
        (400.0, (12.9532906953, 21.0324152012), (10.8640480384, 23.5980102550)),
        (1000.0, (14.4412347320, 19.5534646420), (13.0645240955, 21.1197655511)),
    ];

    #[test]
    fn a_rate_of_nought_has_no_limits_above_it() {
        let limits = funnel_limits(0.0, 100.0).unwrap();
        assert_eq!((limits.inner, limits.outer), ((0.0, 0.0), (0.0, 0.0)));
        assert_eq!(funnel_limits(5.0, 0.0), None);
    }

    /// Chances of rank against a million draws of numpy 2.4.6 (`default_rng(1).gamma`) for five of ten
    /// pumps (Gaver & O'Muircheartaigh 1987, data recalled) at the shape and rate fitted to them.
    #[test]
    fn chances_of_rank_meet_numpy() {
        let t = [94.3, 15.7, 62.9, 126.0, 5.24, 31.4, 1.05, 1.05, 2.1, 10.5];
        let x = [5, 1, 5, 14, 3, 19, 1, 1, 4, 22];
        let counts: Vec<Count> = x.into_iter().zip(t).collect();
        let got = group_rates(&counts, &draws()).unwrap();
        for (farm, (best, worst)) in got.farms.iter().zip(NUMPY) {
            assert!((farm.p_best_quarter - best).abs() < 0.01, "{farm:?}, want {best}");
            assert!((farm.p_worst_quarter - worst).abs() < 0.01, "{farm:?}, want {worst}");
        }
    }

    const NUMPY: [(f64, f64); 10] = [
        (0.9016, 0.0000),
        (0.5615, 0.0001),
        (0.6395, 0.0000),
        (0.3325, 0.0000),
        (0.0058, 0.1226),
        (0.0000, 0.0948),
        (0.0295, 0.2772),
        (0.0295, 0.2778),
        (0.0001, 0.7524),
        (0.0000, 0.9751),
    ];

    #[test]
    fn chances_add_up_to_a_quarter_of_the_farms() {
        for n in 5..=14_u64 {
            let counts: Vec<Count> = (0..n).map(|i| (3 + i * i, 1.0 + (i % 3) as f64)).collect();
            let got = group_rates(&counts, &draws()).unwrap();
            let best: f64 = got.farms.iter().map(|farm| farm.p_best_quarter).sum();
            let worst: f64 = got.farms.iter().map(|farm| farm.p_worst_quarter).sum();
            assert!((best - n as f64 / 4.0).abs() < 1e-9 && (worst - n as f64 / 4.0).abs() < 1e-9);
        }
    }

    #[test]
    fn large_groups_are_reckoned_the_same_in_either_way() {
        let counts: Vec<Count> = (0..1_000_u64).map(|i| (2 + (i * 37) % 60, 1.0 + (i % 5) as f64)).collect();
        let kinds = Kinds::of(&counts);
        let fit = fit(
            &counts.iter().map(|c| c.0).collect::<Vec<_>>(),
            &counts.iter().map(|c| c.1).collect::<Vec<_>>(),
        );
        let fit = fit.unwrap();
        let posteriors: Vec<Gamma> =
            kinds.counts.iter().filter_map(|(x, t)| fit.unit(*x, *t).gamma).collect();
        let drawn = kinds.chances_by_draws(&posteriors, &Draws::new(1024, 1).unwrap());
        let at_borders = kinds.chances_at_borders(&posteriors);
        for (drawn, fixed) in drawn.iter().zip(&at_borders) {
            assert!(
                (drawn.0 - fixed.0).abs() < 0.03 && (drawn.1 - fixed.1).abs() < 0.03,
                "{drawn:?} {fixed:?}"
            );
        }
    }

    #[test]
    fn farms_that_differ_by_chance_alone_share_one_rate() {
        let got = group_rates(&[(5, 1.0), (5, 1.0), (6, 1.0), (4, 1.0), (5, 1.0)], &draws()).unwrap();
        assert_eq!(got.fit.shape, None);
        for farm in &got.farms {
            assert_eq!((farm.shrunken.mean, farm.p_best_quarter, farm.p_worst_quarter), (5.0, 0.25, 0.25));
            assert!(farm.shrunken.interval.0 < 5.0 && farm.shrunken.interval.1 > 5.0);
        }
        let none = group_rates(&[(0, 1.0); 6], &draws()).unwrap();
        assert_eq!((none.fit.mean, none.farms[0].shrunken.mean), (0.0, 0.0));
    }
}
