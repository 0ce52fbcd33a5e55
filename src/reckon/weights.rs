//! From a factor's weight on all lameness to its weight on each lesion, and the overlap of factors
//! that are several looks at one thing.
//!
//! An all-lameness effect is spread over the lesions on which the factor acts so that, on the
//! system's reference lesion mix `m`, the total is the published one: `sum m exp(k a beta) =
//! exp(beta)`. With exposures that go together (correlation `r`), the effect left to each of `n`
//! equal ones is `1 / (1 + (n - 1) r)` of it, the row sum of the inverse of an equicorrelated matrix.

use super::effects::{Basis, Posterior, Weight, lameness_posterior, lesion_posterior};
use super::stats::draws::{CORE, Draws};
use super::stats::exponential::exp_minus_one;
use crate::model::factor::Factor;
use crate::model::lesion::{Lesion, PerLesion};
use crate::model::{Library, System};

/// The weight of one factor in one system, at the posterior means. Log risk ratios are for the whole
/// step of exposure from 0 to 1.
#[derive(Clone, Debug, PartialEq)]
pub struct FactorWeight {
    /// Index in [`Library::factors`].
    pub factor: usize,
    /// On all lameness.
    pub lameness: Posterior,
    /// On single lesions, where effects were published for them.
    pub own: PerLesion<Option<Posterior>>,
    /// How strongly the factor acts on each lesion, 0–1.
    pub acts_on: PerLesion<f64>,
    /// Stretch of the all-lameness weight over the lesions, above 0.
    pub k: f64,
    /// True where `k` met its cap, so that the lesions add up to less than was published.
    pub k_capped: bool,
    /// What overlap leaves of the weight, above 0 and at most 1.
    pub overlap: f64,
    /// Log risk ratio by lesion, before overlap.
    pub by_lesion: PerLesion<f64>,
    /// What the lesions add up to on the reference mix, before overlap.
    pub log_rr: f64,
    /// Published where any of its parts has a published size.
    pub basis: Basis,
    /// What the weight on each lesion rests on; `None` where the factor does not act.
    pub basis_by_lesion: PerLesion<Option<Basis>>,
}

impl FactorWeight {
    /// Log risk ratio by lesion after overlap.
    pub fn overlapped(&self) -> PerLesion<f64> {
        PerLesion::from_fn(|lesion| self.overlap * self.by_lesion[lesion])
    }
}

/// What lesion weights add up to on a mix: `ln sum m exp(beta)`.
pub fn all_lameness(mix: &PerLesion<f64>, by_lesion: impl Fn(Lesion) -> f64) -> f64 {
    // ln(1 + sum m (exp(b) - 1)) keeps its digits near 0, where every weight is small.
    let excess: f64 = mix.iter().map(|(lesion, share)| share * libm::expm1(by_lesion(lesion))).sum();
    libm::log1p(excess + (mix.sum() - 1.0))
}

/// The stretch `k` and whether it met its cap. One where the weight is not positive.
fn stretch(mix: &PerLesion<f64>, acts_on: &PerLesion<f64>, weight: f64, k_max: f64) -> (f64, bool) {
    if weight <= 0.0 {
        return (1.0, false);
    }
    let total = |k: f64| all_lameness(mix, |lesion| k * acts_on[lesion] * weight);
    if total(k_max) < weight {
        return (k_max, true);
    }
    // The total rises with k, so bisection can't miss; it ends where doubles do.
    let (mut low, mut high) = (0.0, k_max);
    for _ in 0..200 {
        let middle = 0.5 * (low + high);
        if middle <= low || middle >= high {
            break;
        }
        if total(middle) < weight { low = middle } else { high = middle }
    }
    (high, false)
}

fn overlap(library: &Library, factor: &Factor, system: System) -> f64 {
    let Some(cluster) = &factor.cluster else { return 1.0 };
    let in_cluster = |other: &&Factor| other.in_system(system) && other.cluster.as_ref() == Some(cluster);
    let n = library.factors.iter().filter(in_cluster).count().max(1);
    1.0 / (1.0 + library.burden.constants.cluster_correlation * (n - 1) as f64)
}

fn factor_weight(library: &Library, index: usize, factor: &Factor, system: System) -> FactorWeight {
    let mix = &library.burden.system(system).lesion_mix;
    let lameness = lameness_posterior(library, &factor.id, factor.judgement, system);
    let own = PerLesion::from_fn(|lesion| lesion_posterior(library, &factor.id, lesion, system));
    let mean = lameness.weight.mean();
    let (k, k_capped) = stretch(mix, &factor.acts_on, mean, library.burden.constants.k_max);
    let by_lesion = PerLesion::from_fn(|lesion| match &own[lesion] {
        Some(posterior) => posterior.weight.mean(),
        None => k * factor.acts_on[lesion] * mean,
    });
    let basis_by_lesion = PerLesion::from_fn(|lesion| match &own[lesion] {
        Some(posterior) => Some(posterior.basis),
        None if factor.acts_on[lesion] > 0.0 => Some(lameness.basis),
        None => None,
    });
    let basis = basis_by_lesion.0.iter().flatten().copied().min().unwrap_or(lameness.basis);
    FactorWeight {
        factor: index,
        acts_on: factor.acts_on,
        k,
        k_capped,
        overlap: overlap(library, factor, system),
        log_rr: all_lameness(mix, |lesion| by_lesion[lesion]),
        by_lesion,
        basis,
        basis_by_lesion,
        lameness,
        own,
    }
}

/// The weights of every factor of a system, in file order.
pub fn weights(library: &Library, system: System) -> Vec<FactorWeight> {
    let factors = library.factors.iter().enumerate().filter(|(_, factor)| factor.in_system(system));
    factors.map(|(index, factor)| factor_weight(library, index, factor, system)).collect()
}

/// Draws of one factor's weight on each lesion, after overlap. Lesions on which it doesn't act are
/// `None`.
#[derive(Clone, Debug)]
pub struct WeightDraws {
    /// Log risk ratio by lesion and draw.
    pub by_lesion: PerLesion<Option<Vec<f64>>>,
}

impl WeightDraws {
    /// Draws of `weight`. `dimension` is the factor's own in the common stream.
    pub fn new(weight: &FactorWeight, factor_id: &str, draws: &Draws, dimension: usize) -> WeightDraws {
        let drawn = |stream: &str, dimension: usize, of: Weight| -> Vec<f64> {
            let normals = draws.normals(stream, dimension).into_iter();
            normals.map(|z| of.at_z(z) * weight.overlap).collect()
        };
        let lameness = drawn(CORE, dimension, weight.lameness.weight);
        let stream = format!("factor:{factor_id}");
        let by_lesion = PerLesion::from_fn(|lesion| match &weight.own[lesion] {
            Some(own) => Some(drawn(&stream, lesion as usize, own.weight)),
            None if weight.acts_on[lesion] > 0.0 => {
                let scale = weight.k * weight.acts_on[lesion];
                Some(lameness.iter().map(|beta| scale * beta).collect())
            }
            None => None,
        });
        WeightDraws { by_lesion }
    }

    /// The all-lameness weight by draw, of lesion weights times `scale` (1: after overlap).
    pub fn all_lameness(&self, mix: &PerLesion<f64>, scale: f64, draws: usize) -> Vec<f64> {
        let mut excess = vec![0.0; draws];
        for (lesion, share) in mix.iter() {
            if let Some(beta) = &self.by_lesion[lesion] {
                excess
                    .iter_mut()
                    .zip(beta)
                    .for_each(|(sum, beta)| *sum += share * exp_minus_one(scale * beta));
            }
        }
        let short = mix.sum() - 1.0;
        excess.into_iter().map(|excess| libm::log1p(excess + short)).collect()
    }
}
