//! What this farm's experience does to the weights of what was changed.
//!
//! Each draw of the weights gives a ratio `r` of the two rates. It is weighed by the likelihood of both
//! periods' counts, with the farm's own rate, Gamma before its records, integrated out:
//! `r^y2 / (a/M + T1 + r T2)^(a + y1 + y2)` (the Poisson-Gamma marginal; Gelman et al. 2013, Bayesian Data
//! Analysis, 3rd ed., ch. 2 and 10.4 for importance weights). Integrating it out keeps far more draws in
//! play than drawing the rate would.
//!
//! **Drift in the likelihood (judged).** A farm's rate also moves with nothing done. So what was seen is the
//! ratio that the changes give *times* a drift of the farm, log-normal round 1 ([`super::drift`]), and each draw
//! carries a draw of it: the weights of the draws are then those of the joint posterior of weights and drift, and
//! the weights of the factors its margin. Drift is so a part of how far one observed ratio lies from the ratio that
//! the changes gave, like the spread between farms in a random-effects model (DerSimonian & Laird 1986), not a
//! change of what the changes are expected to do. Without it one good year would be booked to the changes in full.
//! It widens what is believed and shifts nothing: its middle is no drift.
//!
//! Effective sample size: `(sum w)^2 / sum w^2` (Kong 1992).

use super::changes::FactorChange;
use super::judged::FEWEST_EFFECTIVE;
use super::{LEVEL, Rates, drift};
use crate::reckon::Prepared;
use crate::reckon::stats::summary::sum;

/// A mean with its central 95 % interval.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Weighed {
    /// Mean.
    pub mean: f64,
    /// Lower and upper end.
    pub interval: (f64, f64),
}

/// The weight of one changed factor: log risk ratio on all lameness for the whole step from 0 to 1,
/// after overlap and before the plausibility limit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LearnedWeight {
    /// Index in [`crate::model::Library::factors`].
    pub factor: usize,
    /// Before this farm's experience.
    pub before: Weighed,
    /// After it.
    pub after: Weighed,
}

/// The weights after this farm's experience.
#[derive(Clone, Debug, PartialEq)]
pub struct Learned {
    /// Effective number of draws.
    pub effective_draws: f64,
    /// Of so many.
    pub draws: usize,
    /// The weight of every factor that changed.
    pub weights: Vec<LearnedWeight>,
}

/// Why no weights are given.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum NotLearned {
    /// There are no rates to learn from.
    NoRates,
    /// The periods are not alike.
    NotComparable,
    /// No exposure changed.
    NothingChanged,
    /// Too few draws fit what was seen: the model hardly thought it possible.
    FewEffective {
        /// Effective number of draws.
        effective_draws: f64,
        /// Of so many.
        draws: usize,
    },
}

/// Both counts with the farm's prior, as the likelihood needs them.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Counts {
    /// Shape of the farm's rate before its records.
    pub prior_shape: f64,
    /// The same distribution's rate, in cow-years: shape over mean cases per cow-year.
    pub prior_cow_years: f64,
    /// Cases and cow-years before.
    pub before: (u64, f64),
    /// Cases and cow-years after.
    pub after: (u64, f64),
}

/// Weights of the draws, adding up to 1, from the ratio each gives.
pub fn importance(ratios: &[f64], counts: &Counts) -> Vec<f64> {
    let (y1, t1) = counts.before;
    let (y2, t2) = counts.after;
    let shape = counts.prior_shape + y1 as f64 + y2 as f64;
    let log_likelihood = |ratio: &f64| {
        let seen = if y2 == 0 { 0.0 } else { y2 as f64 * libm::log(*ratio) };
        seen - shape * libm::log(counts.prior_cow_years + t1 + ratio * t2)
    };
    let logs: Vec<f64> = ratios.iter().map(log_likelihood).collect();
    let most = logs.iter().fold(f64::NEG_INFINITY, |most, log| most.max(*log));
    let raw: Vec<f64> = logs.iter().map(|log| libm::exp(log - most)).collect();
    let total = sum(&raw);
    raw.into_iter().map(|weight| weight / total).collect()
}

/// Effective number of draws of weights that add up to 1.
pub fn effective_draws(weights: &[f64]) -> f64 {
    1.0 / sum(&weights.iter().map(|weight| weight * weight).collect::<Vec<_>>())
}

/// Mean and central 95 % interval of weighted values.
pub fn weighed(values: &[f64], weights: &[f64]) -> Weighed {
    let products: Vec<f64> = values.iter().zip(weights).map(|(value, weight)| value * weight).collect();
    let mut sorted: Vec<(f64, f64)> = values.iter().copied().zip(weights.iter().copied()).collect();
    sorted.sort_by(|a, b| a.0.total_cmp(&b.0));
    let quantile = |p: f64| {
        let mut reached = 0.0;
        let beyond = sorted.iter().find(|(_, weight)| {
            reached += weight;
            reached >= p
        });
        beyond.or(sorted.last()).map_or(f64::NAN, |(value, _)| *value)
    };
    let tail = 0.5 * (1.0 - LEVEL);
    Weighed { mean: sum(&products), interval: (quantile(tail), quantile(1.0 - tail)) }
}

/// The weights of the changed factors after this farm's experience.
///
/// # Errors
/// [`NotLearned`] with the reason.
pub fn learned(
    before: &Prepared,
    factors: &[FactorChange],
    ratios: &[f64],
    rates: Option<&Rates>,
    comparable: bool,
) -> Result<Learned, NotLearned> {
    let Some(Rates { compared, .. }) = rates else { return Err(NotLearned::NoRates) };
    if !comparable {
        return Err(NotLearned::NotComparable);
    }
    let changed: Vec<&FactorChange> = factors.iter().filter(|factor| factor.is_changed()).collect();
    if changed.is_empty() {
        return Err(NotLearned::NothingChanged);
    }
    let herd = &before.herd;
    let counts = Counts {
        prior_shape: herd.prior_shape,
        prior_cow_years: 100.0 * herd.prior_shape / herd.prior_mean_per_100_cow_years,
        before: (compared.before.cases, compared.before.cow_years),
        after: (compared.after.cases, compared.after.cow_years),
    };
    let log_sd = drift::log_sd();
    let drifts = before.draws.normals("revisit:drift", 0);
    let with_drift: Vec<f64> =
        ratios.iter().zip(drifts).map(|(ratio, z)| ratio * libm::exp(log_sd * z)).collect();
    let weights = importance(&with_drift, &counts);
    let (effective, draws) = (effective_draws(&weights), weights.len());
    if effective.is_nan() || effective < FEWEST_EFFECTIVE * draws as f64 {
        return Err(NotLearned::FewEffective { effective_draws: effective, draws });
    }
    let even = vec![1.0 / draws as f64; draws];
    let mix = &before.library.burden.system(before.walk.system).lesion_mix;
    let weight = |change: &&FactorChange| {
        let drawn = &before.drawn[change.position];
        let values = drawn.all_lameness(mix, 1.0, draws);
        LearnedWeight {
            factor: change.factor,
            before: weighed(&values, &even),
            after: weighed(&values, &weights),
        }
    };
    Ok(Learned { effective_draws: effective, draws, weights: changed.iter().map(weight).collect() })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reckon::stats::draws::Draws;
    use crate::reckon::stats::table::QuantileTable;

    fn uniforms() -> Vec<f64> {
        Draws::new(16_384, 1).unwrap().uniforms("core", 0)
    }

    fn posterior_mean(ratios: &[f64], counts: &Counts) -> f64 {
        weighed(ratios, &importance(ratios, counts)).mean
    }

    /// Closed form: with the farm's rate known (a prior as of a million cow-years), a Gamma ratio stays Gamma:
    /// shape + y2 over rate + expected cases (Gelman et al. 2013, section 2.6).
    #[test]
    fn a_gamma_ratio_meets_its_conjugate_posterior() {
        let table = QuantileTable::gamma(20.0);
        let ratios: Vec<f64> = uniforms().into_iter().map(|u| table.at(u) / 25.0).collect();
        let counts =
            Counts { prior_shape: 0.2e9, prior_cow_years: 1e9, before: (50, 250.0), after: (33, 250.0) };
        let want = (20.0 + 33.0) / (25.0 + 0.2 * 250.0);
        let got = posterior_mean(&ratios, &counts);
        assert!((got - want).abs() < 1e-3, "got {got}, want {want}");
    }

    /// Closed form with the rate unknown: the share `p = r T2 / (a/M + T1 + r T2)` of a case falling after the
    /// change has the likelihood `p^y2 (1 - p)^(a + y1)`, so a Beta(c, d) prior of it becomes
    /// Beta(c + y2, d + a + y1).
    #[test]
    fn a_beta_share_meets_its_conjugate_posterior() {
        let counts =
            Counts { prior_shape: 1.4, prior_cow_years: 9.0, before: (31, 240.0), after: (14, 260.0) };
        let table = QuantileTable::beta(6.0, 6.0);
        let shares: Vec<f64> = uniforms().into_iter().map(|u| table.at(u)).collect();
        let ratios: Vec<f64> =
            shares.iter().map(|share| (9.0 + 240.0) / 260.0 * share / (1.0 - share)).collect();
        let weights = importance(&ratios, &counts);
        let got = weighed(&shares, &weights);
        let (c, d) = (6.0 + 14.0, 6.0 + 1.4 + 31.0);
        let exact = QuantileTable::beta(c, d);
        assert!((got.mean - c / (c + d)).abs() < 1e-3, "{got:?}");
        assert!((got.interval.0 - exact.at(0.025)).abs() < 3e-3, "{got:?}");
        assert!((got.interval.1 - exact.at(0.975)).abs() < 3e-3, "{got:?}");
    }

    #[test]
    fn equal_weights_are_all_effective_and_one_weight_is_one() {
        assert!((effective_draws(&[0.25; 4]) - 4.0).abs() < 1e-12);
        assert!((effective_draws(&[1.0, 0.0, 0.0]) - 1.0).abs() < 1e-12);
        let even = importance(
            &[1.0; 8],
            &Counts { prior_shape: 1.0, prior_cow_years: 5.0, before: (3, 10.0), after: (0, 10.0) },
        );
        assert!(even.iter().all(|weight| (weight - 0.125).abs() < 1e-12));
    }
}
