//! The farm's own rate of lameness: herds at large, shifted by what the walk found, then updated by
//! the farm's own records.
//!
//! Recorded cases across herds are Gamma-distributed; a Poisson count of the farm's own cases gives
//! a Gamma posterior, and lesion counts give a Dirichlet posterior of the mix (conjugate updates:
//! Gelman et al. 2013, Bayesian Data Analysis, 3rd ed., ch. 2–3). The spread that the walk explains
//! is taken out: the variance of a log Gamma variable is `trigamma(shape)`.

use super::exposure::Exposure;
use super::stats::draws::Draws;
use super::stats::special::{inverse_trigamma, trigamma};
use super::stats::table::QuantileTable;
use super::weights::FactorWeight;
use crate::model::Library;
use crate::model::evidence::Constants;
use crate::model::factor::Factor;
use crate::model::lesion::{Lesion, PerLesion};
use crate::model::walk::Walk;

/// How far all weights are scaled back, so that the factors together explain no more than herds show.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Plausibility {
    /// The smaller of the two limits and 1.
    pub kappa: f64,
    /// Limit from the spread between herds.
    pub spread_limit: f64,
    /// Limit from the cases that a typical herd could lose.
    pub level_limit: f64,
}

/// Gamma rate and Dirichlet mix of the farm.
#[derive(Clone, Debug, PartialEq)]
pub struct HerdRate {
    /// Relative rate by lesion from the walk, within the limits.
    pub relative: PerLesion<f64>,
    /// Shape of the rate before the records.
    pub prior_shape: f64,
    /// Mean rate before the records, cases per 100 cow-years.
    pub prior_mean_per_100_cow_years: f64,
    /// Lesion mix before the records; adds up to 1.
    pub prior_mix: PerLesion<f64>,
    /// Shape of the rate with the records.
    pub shape: f64,
    /// Mean rate with the records, cases per 100 cow-years.
    pub mean_per_100_cow_years: f64,
    /// Dirichlet parameters of the mix with the records.
    pub mix: PerLesion<f64>,
    /// Cases and cow-years of the records that were used.
    pub records: Option<(u64, f64)>,
}

impl HerdRate {
    /// Mean share of each lesion.
    pub fn mean_mix(&self) -> PerLesion<f64> {
        let total = self.mix.sum();
        PerLesion::from_fn(|lesion| self.mix[lesion] / total)
    }

    /// The rate and mix as they stand before the records are taken in.
    pub fn before_records(&self, mix_concentration: f64) -> HerdRate {
        HerdRate {
            shape: self.prior_shape,
            mean_per_100_cow_years: self.prior_mean_per_100_cow_years,
            mix: PerLesion::from_fn(|lesion| mix_concentration * self.prior_mix[lesion]),
            records: None,
            ..self.clone()
        }
    }
}

/// Variance over herds of the log rate that a set of factors explains, at the mean weights, before
/// the plausibility limit. `factors` pairs each weight with its factor.
pub fn explained_variance<'a>(
    mix: &PerLesion<f64>,
    constants: &Constants,
    factors: impl Iterator<Item = (&'a FactorWeight, &'a Factor)>,
) -> f64 {
    let factors: Vec<(PerLesion<f64>, &Factor)> =
        factors.map(|(w, factor)| (w.overlapped(), factor)).collect();
    let by_lesion = |lesion: Lesion| {
        let mut variance = 0.0;
        for (i, (beta, factor)) in factors.iter().enumerate() {
            let own = beta[lesion] * factor.typical_sd;
            variance += own * own;
            for (j, (other_beta, other)) in factors.iter().enumerate() {
                if i != j && factor.cluster.is_some() && factor.cluster == other.cluster {
                    variance += constants.cluster_correlation * own * other_beta[lesion] * other.typical_sd;
                }
            }
        }
        variance
    };
    mix.iter().map(|(lesion, share)| share * by_lesion(lesion)).sum()
}

/// The limit from the level: the `k` at which a typical herd, put right, would lose
/// `typical_share_max` of its cases; 1 where even `k = 1` stays below.
fn level_limit(mix: &PerLesion<f64>, typical: &PerLesion<f64>, share_max: f64) -> f64 {
    let lost = |k: f64| -> f64 {
        mix.iter().map(|(lesion, share)| share * -libm::expm1(-k * typical[lesion])).sum()
    };
    if lost(1.0) <= share_max {
        return 1.0;
    }
    let (mut low, mut high) = (0.0, 1.0);
    for _ in 0..100 {
        let middle = 0.5 * (low + high);
        if lost(middle) < share_max { low = middle } else { high = middle }
    }
    0.5 * (low + high)
}

/// The plausibility limit over all factors of the system.
pub fn plausibility(
    library: &Library,
    weights: &[FactorWeight],
    mix: &PerLesion<f64>,
    shape: f64,
) -> Plausibility {
    let constants = &library.burden.constants;
    let variance =
        explained_variance(mix, constants, weights.iter().map(|w| (w, &library.factors[w.factor])));
    let spread_limit = if variance > 0.0 {
        libm::sqrt(constants.explainable_share * trigamma(shape) / variance)
    } else {
        1.0
    };
    let typical = PerLesion::from_fn(|lesion| {
        weights.iter().map(|w| w.overlap * w.by_lesion[lesion] * library.factors[w.factor].typical_mean).sum()
    });
    let level_limit = level_limit(mix, &typical, constants.typical_share_max);
    Plausibility { kappa: 1.0_f64.min(spread_limit).min(level_limit), spread_limit, level_limit }
}

/// The farm's rate and mix, from the walk at the mean exposures and the records.
/// `exposures` runs beside `weights`.
pub fn herd_rate(
    library: &Library,
    walk: &Walk,
    weights: &[FactorWeight],
    exposures: &[Option<Exposure>],
    kappa: f64,
) -> HerdRate {
    let constants = &library.burden.constants;
    let burden = library.burden.system(walk.system);
    let mix = &burden.lesion_mix;
    let answered =
        || weights.iter().zip(exposures).filter_map(|(w, exposure)| exposure.as_ref().map(|x| (w, x.mean)));
    let relative = PerLesion::from_fn(|lesion| {
        let shift: f64 = answered()
            .map(|(w, x)| w.overlap * w.by_lesion[lesion] * (x - library.factors[w.factor].typical_mean))
            .sum();
        libm::exp(kappa * shift).clamp(constants.rr_limits.0, constants.rr_limits.1)
    });
    let shift: f64 = mix.iter().map(|(lesion, share)| share * relative[lesion]).sum();
    let prior_mix = PerLesion::from_fn(|lesion| mix[lesion] * relative[lesion] / shift);
    let prior_mean = burden.incidence_mean_per_100_cow_years * shift;

    let explained =
        explained_variance(mix, constants, answered().map(|(w, _)| (w, &library.factors[w.factor])));
    let spread = trigamma(burden.incidence_shape);
    let left = (spread - kappa * kappa * explained).max((1.0 - constants.explainable_share) * spread);
    let prior_shape = inverse_trigamma(left);

    let records = walk.records.as_ref().and_then(|records| Some((records.counts?, records.cow_years())));
    let (cases, hundred_cow_years) = records.map_or((0, 0.0), |(counts, t)| (counts.total(), t / 100.0));
    let shape = prior_shape + cases as f64;
    let rate = prior_shape / prior_mean + hundred_cow_years;
    HerdRate {
        mix: PerLesion::from_fn(|lesion| {
            let seen = records.map_or(0, |(counts, _)| counts.by_lesion[lesion]);
            constants.mix_concentration * prior_mix[lesion] + seen as f64
        }),
        relative,
        prior_shape,
        prior_mean_per_100_cow_years: prior_mean,
        prior_mix,
        shape,
        mean_per_100_cow_years: shape / rate,
        records: records.map(|(counts, t)| (counts.total(), t)),
    }
}

/// Draws of the farm's rate and of the rate of each lesion.
#[derive(Clone, Debug)]
pub struct RateDraws {
    /// New cases per 100 cow-years.
    pub rate_per_100_cow_years: Vec<f64>,
    /// The same for each lesion.
    pub by_lesion: PerLesion<Vec<f64>>,
}

impl RateDraws {
    /// Draws of a rate and mix, on dimensions 0 to 7 of the common stream.
    pub fn new(herd: &HerdRate, draws: &Draws) -> RateDraws {
        let table = QuantileTable::gamma(herd.shape);
        let scale = herd.mean_per_100_cow_years / herd.shape;
        let rate: Vec<f64> = draws.uniforms("core", 0).into_iter().map(|u| scale * table.at(u)).collect();
        // A Dirichlet draw is a set of Gamma draws over their sum. A lesion that the mix gives no
        // share has none in any draw.
        let mut parts = PerLesion::from_fn(|lesion| {
            if herd.mix[lesion] <= 0.0 {
                return vec![0.0; draws.count()];
            }
            let table = QuantileTable::gamma(herd.mix[lesion]);
            draws.uniforms("core", 1 + lesion as usize).into_iter().map(|u| table.at(u)).collect()
        });
        for draw in 0..draws.count() {
            let total: f64 = Lesion::ALL.into_iter().map(|lesion| parts[lesion][draw]).sum();
            let scale = if total > 0.0 { rate[draw] / total } else { 0.0 };
            Lesion::ALL.into_iter().for_each(|lesion| parts[lesion][draw] *= scale);
        }
        RateDraws { rate_per_100_cow_years: rate, by_lesion: parts }
    }
}
