//! Where the lameness comes from: the share of each lesion above good practice, divided among the
//! factors that were looked at.
//!
//! The share of cases in excess of good practice is `1 - exp(-kappa sum beta x)` (an attributable
//! fraction: Levin 1953; Bruzzi et al. 1985, Am J Epidemiol 122:904). It is divided in proportion to
//! the factors' logs, which is the Aumann–Shapley value along the straight path from good practice
//! to the farm as it is (Aumann & Shapley 1974, Values of Non-Atomic Games), so that shares add up.

use super::Estimate;
use super::exposure::Exposure;
use super::herd_rate::RateDraws;
use super::stats::exponential::exp_minus_one;
use super::weights::WeightDraws;
use crate::model::lesion::{Lesion, PerLesion};

/// Cases a year attributed to one factor.
#[derive(Clone, Debug, PartialEq)]
pub struct Attributed {
    /// Over all lesions.
    pub cases: Estimate,
    /// Mean by lesion.
    pub by_lesion: PerLesion<f64>,
}

/// What every answered factor is held to cause, and what is left.
#[derive(Clone, Debug, PartialEq)]
pub struct Attribution {
    /// Beside the weights; `None` where the factor was not answered.
    pub factors: Vec<Option<Attributed>>,
    /// Cases a year that nothing that was looked at explains.
    pub unexplained: Estimate,
    /// Mean of the same by lesion.
    pub unexplained_by_lesion: PerLesion<f64>,
}

/// `(1 - exp(-s)) / s`, 1 at 0: what turns a log into its part of the share.
pub(super) fn share_per_log(s: f64) -> f64 {
    if s.abs() < 1e-12 { 1.0 } else { -exp_minus_one(-s) / s }
}

/// Divides the farm's cases, draw by draw. `hundred_cows` is the herd in hundreds of cows.
pub fn attribution(
    drawn: &[WeightDraws],
    exposures: &[Option<Exposure>],
    rates: &RateDraws,
    kappa: f64,
    hundred_cows: f64,
) -> Attribution {
    let draws = rates.rate_per_100_cow_years.len();
    // Per lesion: the log sum of each draw, then in place the cases per unit of log.
    let per_log = PerLesion::from_fn(|lesion| {
        let mut s = vec![0.0; draws];
        for (weight, exposure) in drawn.iter().zip(exposures) {
            let (Some(beta), Some(exposure)) = (&weight.by_lesion[lesion], exposure) else { continue };
            add_product(&mut s, beta, &exposure.x, kappa);
        }
        let lambda = &rates.by_lesion[lesion];
        s.iter_mut().zip(lambda).for_each(|(s, lambda)| *s = hundred_cows * lambda * share_per_log(*s));
        s
    });
    let mut left: Vec<f64> = rates.rate_per_100_cow_years.iter().map(|rate| hundred_cows * rate).collect();
    let mut left_by_lesion = PerLesion::from_fn(|lesion| {
        rates.by_lesion[lesion].iter().sum::<f64>() * hundred_cows / draws as f64
    });
    let factors = drawn.iter().zip(exposures).map(|(weight, exposure)| {
        let x = &exposure.as_ref()?.x;
        let mut cases = vec![0.0; draws];
        let by_lesion = PerLesion::from_fn(|lesion| {
            let Some(beta) = &weight.by_lesion[lesion] else { return 0.0 };
            let per_log = &per_log[lesion];
            let mut total = 0.0;
            for draw in 0..draws {
                let part = per_log[draw] * kappa * beta[draw] * x[draw];
                cases[draw] += part;
                total += part;
            }
            total / draws as f64
        });
        left.iter_mut().zip(&cases).for_each(|(left, cases)| *left -= cases);
        Lesion::ALL.into_iter().for_each(|lesion| left_by_lesion[lesion] -= by_lesion[lesion]);
        Some(Attributed { cases: Estimate::of(cases), by_lesion })
    });
    let factors = factors.collect();
    Attribution { factors, unexplained: Estimate::of(left), unexplained_by_lesion: left_by_lesion }
}

/// `into += scale * a * b`, draw by draw.
pub(super) fn add_product(into: &mut [f64], a: &[f64], b: &[f64], scale: f64) {
    for ((into, a), b) in into.iter_mut().zip(a).zip(b) {
        *into += scale * a * b;
    }
}
