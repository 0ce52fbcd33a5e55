//! From published effects to a weight: the log risk ratio of one factor on one outcome.
//!
//! Method: odds ratio to risk ratio (Zhang & Yu 1998, JAMA 280:1690), log scale with the standard
//! error from the interval or the p value (Altman & Bland 2011, BMJ 343:d2090 and d2304), contrast
//! put on the exposure scale, allowances for bias (in the spirit of Turner et al. 2009, J R Stat
//! Soc A 172:21), random-effects pooling (DerSimonian & Laird 1986, Control Clin Trials 7:177;
//! Hartung & Knapp 2001, Stat Med 20:3875; Sidik & Jonkman 2002, Stat Med 21:3153), and a sceptical
//! normal prior. The order matters: convert, log, contrast, allow, pool, shrink.
//!
//! Assumes a log-normal ratio, independent sources, and that a prevalence ratio may stand for a
//! rate ratio (on the careful side while lameness is common).

use super::stats::pool::{Pooled, pool};
use super::stats::special::normal_quantile;
use crate::model::evidence::{Certainty, Constants, Design, Effect, Measure};
use crate::model::factor::JudgedSize;
use crate::model::lesion::Lesion;
use crate::model::{Library, System};

/// What a weight rests on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Basis {
    /// A published size.
    Published,
    /// A published direction; the size is judged.
    Direction,
    /// Judgement alone.
    Judgement,
}

impl Basis {
    /// The id in results.
    pub fn id(self) -> &'static str {
        match self {
            Basis::Published => "published",
            Basis::Direction => "direction",
            Basis::Judgement => "judgement",
        }
    }
}

/// The distribution of a log risk ratio for one unit of exposure.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Weight {
    /// Normal.
    Normal {
        /// Mean log risk ratio.
        mean: f64,
        /// Standard deviation.
        sd: f64,
    },
    /// Log-normal: positive, of uncertain size.
    LogNormal {
        /// Mean log risk ratio.
        mean: f64,
        /// Standard deviation of its logarithm.
        log_sd: f64,
    },
}

impl Weight {
    /// Mean log risk ratio.
    pub fn mean(self) -> f64 {
        match self {
            Weight::Normal { mean, .. } | Weight::LogNormal { mean, .. } => mean,
        }
    }

    /// Standard deviation of the log risk ratio.
    pub fn sd(self) -> f64 {
        match self {
            Weight::Normal { sd, .. } => sd,
            Weight::LogNormal { mean, log_sd } => mean * libm::sqrt(libm::expm1(log_sd * log_sd)),
        }
    }

    /// The weight at a standard normal deviate `z`.
    pub fn at_z(self, z: f64) -> f64 {
        match self {
            Weight::Normal { mean, sd } => mean + sd * z,
            Weight::LogNormal { mean, log_sd } => mean * libm::exp(log_sd * z - 0.5 * log_sd * log_sd),
        }
    }
}

/// How an effect entered a weight.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Role {
    /// Its size was pooled.
    Pooled,
    /// It lent its direction.
    Direction,
    /// It is listed and lends nothing.
    Listed(Unused),
}

/// Why an effect is listed and lends nothing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unused {
    /// It has neither a size nor a direction that can be used.
    Neither,
    /// It was recalled, not read.
    Recalled,
    /// Its file asks not to pool it, and its note says why.
    NotPooled,
}

/// What was done with an odds ratio.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Conversion {
    /// The measure is no odds ratio, or there was no size to convert.
    NotNeeded,
    /// Converted with this risk of the published reference group.
    Converted {
        /// Risk in the published reference group, 0–1.
        reference_risk: f64,
    },
    /// No reference risk was known: used as it is.
    NotConverted,
}

/// One effect, step by step, as `evidence` and the methods page show it.
#[derive(Clone, Debug, PartialEq)]
pub struct EffectStep {
    /// Index in [`Library::effects`].
    pub effect: usize,
    /// How it entered.
    pub role: Role,
    /// Odds ratio to risk ratio.
    pub conversion: Conversion,
    /// Ratio after conversion.
    pub ratio: Option<f64>,
    /// Interval after conversion.
    pub interval: Option<(f64, f64)>,
    /// Log ratio per unit of exposure; present where pooled.
    pub log_rr: Option<f64>,
    /// Its standard error before allowances.
    pub se: Option<f64>,
    /// Allowance for the design, a standard deviation.
    pub design_allowance: f64,
    /// Allowance for a surrogate outcome.
    pub surrogate_allowance: f64,
    /// Allowance for herds of the other system.
    pub system_allowance: f64,
    /// Standard error with allowances; present where pooled.
    pub se_allowed: Option<f64>,
    /// Share of the weight in the pooling; present where pooled.
    pub share: Option<f64>,
}

/// A factor's weight on one outcome and all that led to it.
#[derive(Clone, Debug, PartialEq)]
pub struct Posterior {
    /// `None` for all lameness, else the lesion.
    pub outcome: Option<Lesion>,
    /// What it rests on.
    pub basis: Basis,
    /// The resulting distribution.
    pub weight: Weight,
    /// Every effect listed for the outcome, in file order.
    pub steps: Vec<EffectStep>,
    /// The pooling, where any effect had a size.
    pub pooled: Option<Pooled>,
}

/// Risk ratio of an odds ratio where the reference group's risk is `reference_risk`
/// (Zhang & Yu 1998, JAMA 280:1690).
pub fn risk_ratio(odds_ratio: f64, reference_risk: f64) -> f64 {
    odds_ratio / ((1.0 - reference_risk) + reference_risk * odds_ratio)
}

/// The reference group's risk that gives the study's overall risk when half of it was exposed:
/// the root in (0, 1) of `p0/2 + OR p0 / (2 (1 - p0 + OR p0)) = p`, a quadratic in `p0`.
pub fn reference_risk_from_study(odds_ratio: f64, study_risk: f64) -> f64 {
    let a = odds_ratio - 1.0;
    let b = 1.0 + odds_ratio - 2.0 * study_risk * a;
    let c = -2.0 * study_risk;
    // Citardauq form: no loss of digits, and right at a = 0.
    -2.0 * c / (b + libm::sqrt(b * b - 4.0 * a * c))
}

fn reference_risk(effect: &Effect, odds_ratio: f64) -> Option<f64> {
    let from_study = || {
        let study_risk = effect.study_risk.filter(|_| effect.design != Design::CaseControl)?;
        Some(reference_risk_from_study(odds_ratio, study_risk))
    };
    effect.reference_risk.or_else(from_study)
}

fn design_allowance(effect: &Effect, constants: &Constants) -> f64 {
    let allowance = &constants.design_allowance;
    match effect.design {
        Design::Trial => allowance.trial,
        _ if !effect.adjusted => allowance.crude,
        Design::Cohort => allowance.cohort,
        Design::CrossSectional => allowance.cross_sectional,
        Design::CaseControl => allowance.case_control,
    }
}

/// Log ratio per unit of exposure and its standard error, after conversion; `None` without a size.
fn sized(effect: &Effect, step: &EffectStep, constants: &Constants) -> Option<(f64, f64)> {
    let contrast = effect.exposed - effect.reference;
    let (y, s) = match (step.ratio, step.interval, effect.p_value) {
        (Some(ratio), Some((low, high)), _) => {
            let z = normal_quantile((1.0 + effect.level) / 2.0);
            (libm::log(ratio), (libm::log(high) - libm::log(low)) / (2.0 * z))
        }
        (Some(ratio), None, Some(p_value)) => {
            let y = libm::log(ratio);
            (y, y.abs() / normal_quantile(1.0 - p_value / 2.0))
        }
        _ if effect.null_result => (0.0, constants.null_sd),
        _ => return None,
    };
    Some((y / contrast, s / contrast.abs()))
}

fn converted(effect: &Effect) -> (Conversion, Option<f64>, Option<(f64, f64)>) {
    let (Measure::OddsRatio, Some(estimate)) = (effect.measure, effect.estimate) else {
        return (Conversion::NotNeeded, effect.estimate, effect.interval);
    };
    match reference_risk(effect, estimate) {
        None => (Conversion::NotConverted, Some(estimate), effect.interval),
        Some(p0) => (
            Conversion::Converted { reference_risk: p0 },
            Some(risk_ratio(estimate, p0)),
            effect.interval.map(|(low, high)| (risk_ratio(low, p0), risk_ratio(high, p0))),
        ),
    }
}

/// Whether an effect without a usable size says that the factor does harm.
fn says_harm(effect: &Effect) -> bool {
    let contrast = effect.exposed - effect.reference;
    effect.lends_direction
        && !effect.null_result
        && effect.certainty == Certainty::Seen
        && effect.estimate.is_none_or(|estimate| libm::log(estimate) / contrast > 0.0)
}

fn step(index: usize, effect: &Effect, system: System, constants: &Constants) -> EffectStep {
    let (conversion, ratio, interval) = converted(effect);
    let other_system = effect.system.is_some_and(|of| of != system);
    let mut step = EffectStep {
        effect: index,
        role: Role::Listed(Unused::Neither),
        conversion,
        ratio,
        interval,
        log_rr: None,
        se: None,
        design_allowance: design_allowance(effect, constants),
        surrogate_allowance: if effect.surrogate { constants.surrogate_allowance } else { 0.0 },
        system_allowance: if other_system { constants.other_system_allowance } else { 0.0 },
        se_allowed: None,
        share: None,
    };
    if effect.certainty == Certainty::Memory {
        step.role = Role::Listed(Unused::Recalled);
        return step;
    }
    match sized(effect, &step, constants) {
        Some((y, s)) if effect.pool => {
            let allowed = s * s
                + step.design_allowance * step.design_allowance
                + step.surrogate_allowance * step.surrogate_allowance
                + step.system_allowance * step.system_allowance;
            (step.role, step.log_rr, step.se) = (Role::Pooled, Some(y), Some(s));
            step.se_allowed = Some(libm::sqrt(allowed));
        }
        Some(_) => step.role = Role::Listed(Unused::NotPooled),
        None if says_harm(effect) => step.role = Role::Direction,
        None => {}
    }
    step
}

/// Pools the effects of a factor on one outcome and shrinks them; `None` where none has a size.
fn published(steps: &mut [EffectStep], constants: &Constants) -> Option<(Weight, Pooled)> {
    let sized: Vec<usize> = (0..steps.len()).filter(|&i| steps[i].role == Role::Pooled).collect();
    let y: Vec<f64> = sized.iter().filter_map(|&i| steps[i].log_rr).collect();
    let s2: Vec<f64> = sized.iter().filter_map(|&i| steps[i].se_allowed).map(|s| s * s).collect();
    let pooled = pool(&y, &s2, constants.tau_floor * constants.tau_floor)?;
    let total: f64 = pooled.weights.iter().sum();
    for (&i, weight) in sized.iter().zip(&pooled.weights) {
        steps[i].share = Some(weight / total);
    }
    let new_farm = pooled.var_mean + pooled.tau2;
    let prior = constants.prior_sd_log_rr * constants.prior_sd_log_rr;
    let shrink = prior / (prior + new_farm);
    let weight = Weight::Normal { mean: pooled.mean * shrink, sd: libm::sqrt(new_farm * shrink) };
    Some((weight, pooled))
}

fn stated(size: JudgedSize, direction: bool, constants: &Constants) -> Weight {
    let judged = &constants.judgement_weights;
    let mean = libm::log(match size {
        JudgedSize::Small => judged.small,
        JudgedSize::Moderate => judged.moderate,
        JudgedSize::Large => judged.large,
    });
    if direction {
        Weight::LogNormal { mean, log_sd: judged.log_sd_direction }
    } else {
        Weight::Normal { mean, sd: judged.sd_judgement }
    }
}

fn steps_for(library: &Library, factor: &str, outcome: Option<Lesion>, system: System) -> Vec<EffectStep> {
    let listed = |effect: &Effect| effect.factor == factor && effect.outcome == outcome;
    let effects = library.effects.iter().enumerate().filter(|(_, effect)| listed(effect));
    effects.map(|(index, effect)| step(index, effect, system, &library.burden.constants)).collect()
}

/// The factor's weight on one lesion from effects published for that lesion; `None` where none
/// has a usable size.
pub fn lesion_posterior(
    library: &Library,
    factor: &str,
    lesion: Lesion,
    system: System,
) -> Option<Posterior> {
    let mut steps = steps_for(library, factor, Some(lesion), system);
    let (weight, pooled) = published(&mut steps, &library.burden.constants)?;
    Some(Posterior { outcome: Some(lesion), basis: Basis::Published, weight, steps, pooled: Some(pooled) })
}

/// The factor's weight on all lameness: published where any effect has a size, else the stated size
/// with a published direction, else judgement. A direction published for any outcome counts.
pub fn lameness_posterior(library: &Library, factor: &str, size: JudgedSize, system: System) -> Posterior {
    let constants = &library.burden.constants;
    let mut steps = steps_for(library, factor, None, system);
    if let Some((weight, pooled)) = published(&mut steps, constants) {
        return Posterior { outcome: None, basis: Basis::Published, weight, steps, pooled: Some(pooled) };
    }
    let harmful = |step: &EffectStep| step.role == Role::Direction;
    let direction = steps.iter().any(harmful)
        || Lesion::ALL
            .into_iter()
            .any(|lesion| steps_for(library, factor, Some(lesion), system).iter().any(harmful));
    let basis = if direction { Basis::Direction } else { Basis::Judgement };
    Posterior { outcome: None, basis, weight: stated(size, direction, constants), steps, pooled: None }
}
