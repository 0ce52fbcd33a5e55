//! Where a weight comes from: every published effect, every step to the weight, in numbers and words.
//!
//! Nothing is reckoned here that [`crate::reckon`] has not: steps are its own, read out. Intervals are
//! the central 90 %; those of a single posterior are exact, those of a weight over all lesions come
//! from [`DRAWS`] draws of [`SEED`].

mod forest;
mod methods;
mod text;
mod words;

pub use methods::{ConstantRow, Methods, SourceLine, WeightLine, methods};
pub use text::{render_overview, render_text};

use super::figure::Forest;
use super::number::{list, percent, plural};
use super::words as report_words;
use super::words::trimmed;
use crate::model::evidence::{Effect, Source};
use crate::model::factor::{Factor, JudgedSize};
use crate::model::lesion::Lesion;
use crate::model::{Library, System};
use crate::reckon::LEVEL;
use crate::reckon::effects::{Basis, Conversion, EffectStep, Posterior, Role, Weight};
use crate::reckon::stats::draws::Draws;
use crate::reckon::stats::pool::Pooled;
use crate::reckon::stats::special::normal_quantile;
use crate::reckon::stats::summary::central_interval;
use crate::reckon::weights::{FactorWeight, WeightDraws, all_lameness};
use serde::Serialize;
use words::{log, range, ratio, small};

/// Name and version of the contract.
pub const EVIDENCE_FORMAT: &str = "underfoot.evidence/1";
/// Draws behind the interval of a weight over all lesions.
pub const DRAWS: usize = 4096;
/// Their seed.
pub const SEED: u64 = 1;

/// A weight as a risk ratio for the whole step of exposure from 0 to 1.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RatioFacts {
    /// Risk ratio at the mean log risk ratio.
    pub risk_ratio: f64,
    /// Central 90% interval.
    pub interval: [f64; 2],
    /// Mean log risk ratio.
    pub log_rr: f64,
    /// Standard deviation of the log risk ratio.
    pub sd: f64,
    /// As in "1.24 (0.85 to 1.81)".
    pub words: String,
}

impl RatioFacts {
    fn new(log_rr: f64, sd: f64, interval: (f64, f64)) -> RatioFacts {
        let (low, high) = (libm::exp(interval.0), libm::exp(interval.1));
        let risk_ratio = libm::exp(log_rr);
        let words = format!("{} ({})", ratio(risk_ratio), range((low, high)));
        RatioFacts { risk_ratio, interval: [low, high], log_rr, sd, words }
    }

    fn of_weight(weight: Weight) -> RatioFacts {
        let z = z90();
        RatioFacts::new(weight.mean(), weight.sd(), (weight.at_z(-z), weight.at_z(z)))
    }

    fn of_normal(mean: f64, sd: f64) -> RatioFacts {
        RatioFacts::of_weight(Weight::Normal { mean, sd })
    }
}

/// The normal quantile that leaves a 90% interval.
fn z90() -> f64 {
    normal_quantile(0.5 * (1.0 + LEVEL))
}

/// All that led to one factor's weight.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FactorEvidence {
    /// [`EVIDENCE_FORMAT`].
    pub format: &'static str,
    /// Id of the factor.
    pub id: String,
    /// Plain title.
    pub title: String,
    /// How it lames a cow.
    pub why: Option<String>,
    /// System the weight is for.
    pub system: &'static str,
    /// published, direction or judgement.
    pub basis: &'static str,
    /// The same in words.
    pub basis_words: String,
    /// As in "from housed herds", where a published size comes from the other system alone, or "partly
    /// from housed herds".
    pub mark: Option<String>,
    /// The weight on all lameness, before overlap: what its lesions add up to.
    pub weight: RatioFacts,
    /// The weight that is used, after overlap.
    pub used: RatioFacts,
    /// All lameness first, then lesions with effects of their own.
    pub outcomes: Vec<OutcomeEvidence>,
    /// Effects on single lesions of which none has a usable size.
    pub other_effects: Vec<EffectEvidence>,
    /// From the weight on all lameness to each lesion.
    pub spread: SpreadEvidence,
    /// Absent where the factor shares no cluster.
    pub overlap: Option<OverlapEvidence>,
    /// What no source gives, each in a sentence.
    pub judged: Vec<String>,
    /// What would most improve the weight, each in a sentence.
    pub would_help: Vec<String>,
}

impl FactorEvidence {
    /// A forest for each outcome with a published size.
    pub fn forests(&self) -> impl Iterator<Item = &Forest> {
        self.outcomes.iter().filter_map(|outcome| outcome.forest.as_ref())
    }

    /// Number of effects listed.
    pub fn effects(&self) -> usize {
        self.outcomes.iter().map(|outcome| outcome.effects.len()).sum::<usize>() + self.other_effects.len()
    }

    /// Number of effects whose size was pooled.
    pub fn pooled(&self) -> usize {
        let pooled =
            |outcome: &OutcomeEvidence| outcome.pooling.as_ref().map_or(0, |pooling| pooling.effects);
        self.outcomes.iter().map(pooled).sum()
    }
}

/// A weight on one outcome.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct OutcomeEvidence {
    /// `lameness` or a lesion id.
    pub outcome: &'static str,
    /// In words.
    pub name: String,
    /// published, direction or judgement.
    pub basis: &'static str,
    /// What it rests on, in a sentence or two.
    pub basis_words: String,
    /// Every effect listed, in file order.
    pub effects: Vec<EffectEvidence>,
    /// Present where any effect had a size.
    pub pooling: Option<PoolingEvidence>,
    /// The weight on this outcome.
    pub posterior: RatioFacts,
    /// The picture; not part of the contract, since it holds nothing that the numbers don't.
    #[serde(skip)]
    pub forest: Option<Forest>,
}

/// The source of an effect.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct SourceEvidence {
    /// Id.
    pub id: String,
    /// First author and year.
    pub cite: String,
    /// Digital object identifier.
    pub doi: Option<String>,
    /// How much of it was read.
    pub read: &'static str,
}

/// One published effect with its way into the weight.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct EffectEvidence {
    /// Id.
    pub id: String,
    /// Where it was published.
    pub source: SourceEvidence,
    /// What was compared.
    pub contrast: String,
    /// Measure and estimate as printed.
    pub published: String,
    /// Measure.
    pub measure: &'static str,
    /// Estimate as printed.
    pub estimate: Option<f64>,
    /// Interval as printed.
    pub interval: Option<[f64; 2]>,
    /// p value, or its bound.
    pub p_value: Option<f64>,
    /// trial, cohort, case-control or cross-sectional.
    pub design: &'static str,
    /// Design in words, with adjustment.
    pub design_words: String,
    /// Herds, cows, country and system, in words.
    pub animals: String,
    /// Whether the figure was seen or recalled.
    pub certainty: &'static str,
    /// pooled, direction or listed.
    pub role: &'static str,
    /// The same in words, with the reason.
    pub role_words: String,
    /// Each step in words; empty where it was not pooled.
    pub steps: Vec<Step>,
    /// The same in numbers; absent where it was not pooled.
    pub numbers: Option<EffectNumbers>,
    /// Fields that no source gives.
    pub judged: Vec<String>,
    /// Remark.
    pub note: Option<String>,
}

/// One step in words.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Step {
    /// Its name, one word.
    pub label: &'static str,
    /// What was done.
    pub words: String,
}

/// The steps of an effect in numbers.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct EffectNumbers {
    /// Risk of the reference group used to convert an odds ratio; null where none was converted.
    pub reference_risk: Option<f64>,
    /// An odds ratio that was used as it is.
    pub not_converted: bool,
    /// Ratio after conversion; null for a null result without a size.
    pub ratio: Option<f64>,
    /// Exposure of the published groups: exposed, reference.
    pub contrast: [f64; 2],
    /// Log ratio for the whole step of exposure.
    pub log_rr: f64,
    /// Its standard error before allowances.
    pub se: f64,
    /// Allowance for the design.
    pub design_allowance: f64,
    /// Allowance for a surrogate outcome.
    pub surrogate_allowance: f64,
    /// Allowance for herds of the other system.
    pub system_allowance: f64,
    /// Standard error with allowances.
    pub se_allowed: f64,
    /// Share in the pooling, 0–1.
    pub share: f64,
}

/// From several effects to one, and to a new farm.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PoolingEvidence {
    /// Effects pooled.
    pub effects: usize,
    /// Pooled log ratio.
    pub mean: f64,
    /// Cochran's Q.
    pub q: f64,
    /// Between-study standard deviation of DerSimonian and Laird.
    pub tau_dl: f64,
    /// Its judged floor.
    pub tau_floor: f64,
    /// The larger of the two.
    pub tau: f64,
    /// Ordinary variance of the mean.
    pub var_ordinary: f64,
    /// Hartung–Knapp–Sidik–Jonkman variance; null for one effect.
    pub var_hksj: Option<f64>,
    /// ordinary or hksj: the larger, which goes on.
    pub variance_used: &'static str,
    /// Variance for a new farm.
    pub var_new_farm: f64,
    /// Standard deviation of the prior round 0.
    pub prior_sd: f64,
    /// Share of the pooled mean that the prior leaves, 0–1.
    pub kept: f64,
    /// The pooled effect of a new farm, before the prior.
    pub new_farm: RatioFacts,
    /// Each step in words.
    pub steps: Vec<Step>,
}

/// From all lameness to lesions.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SpreadEvidence {
    /// Stretch over the lesions.
    pub k: f64,
    /// Its cap.
    pub k_max: f64,
    /// True where the cap held it back.
    pub capped: bool,
    /// What was done and what it means.
    pub words: String,
    /// Lesions on which it acts.
    pub lesions: Vec<LesionWeight>,
}

/// The weight on one lesion.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LesionWeight {
    /// Lesion id.
    pub id: &'static str,
    /// Plain name.
    pub name: String,
    /// Share in the reference mix, 0–1.
    pub mix: f64,
    /// How strongly the factor acts on it, 0–1, judged.
    pub acts_on: f64,
    /// Mean log risk ratio before overlap.
    pub log_rr: f64,
    /// Risk ratio before overlap.
    pub risk_ratio: f64,
    /// Risk ratio after overlap.
    pub risk_ratio_used: f64,
    /// published, direction or judgement.
    pub basis: &'static str,
    /// Whether effects were published for this lesion.
    pub own: bool,
}

/// Factors that are several looks at one thing.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct OverlapEvidence {
    /// Name of the cluster.
    pub cluster: String,
    /// Titles of the other factors in it.
    pub others: Vec<String>,
    /// Factors in it, this one too.
    pub factors: usize,
    /// Judged correlation of their exposures.
    pub correlation: f64,
    /// What is left of the weight, 0–1.
    pub factor: f64,
    /// What was done, in a sentence.
    pub words: String,
}

/// Every factor of a system in a table.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct EvidenceOverview {
    /// [`EVIDENCE_FORMAT`].
    pub format: &'static str,
    /// System of the weights.
    pub system: &'static str,
    /// In file order.
    pub factors: Vec<FactorEvidence>,
}

/// The evidence of every weight, in their order.
pub fn overview(library: &Library, weights: &[FactorWeight], system: System) -> EvidenceOverview {
    let factors = weights.iter().map(|weight| factor_evidence(library, weight, system)).collect();
    EvidenceOverview { format: EVIDENCE_FORMAT, system: system.id(), factors }
}

/// All that led to one weight. `weight` is one of [`crate::reckon::weights::weights`] of the same library
/// and system.
pub fn factor_evidence(library: &Library, weight: &FactorWeight, system: System) -> FactorEvidence {
    let context = Context { library, weight, factor: &library.factors[weight.factor], system };
    let outcomes = context.outcomes();
    FactorEvidence {
        format: EVIDENCE_FORMAT,
        id: context.factor.id.clone(),
        title: context.factor.title.clone(),
        why: context.factor.why.clone(),
        system: system.id(),
        basis: weight.basis.id(),
        basis_words: context.basis_words(),
        mark: context.mark(),
        weight: context.total(1.0),
        used: context.total(weight.overlap),
        other_effects: context.other_effects(),
        spread: context.spread(),
        overlap: context.overlap(),
        judged: context.judged(),
        would_help: context.would_help(&outcomes),
        outcomes,
    }
}

/// The short name of a source, as in "Leach et al. 2012".
pub(super) fn cite_id(library: &Library, id: Option<&str>) -> String {
    match id {
        None => "common practice, no source".to_owned(),
        Some(id) => library.source(id).map_or_else(|| id.to_owned(), words::cite),
    }
}

/// The other system.
fn other(system: System) -> System {
    match system {
        System::Pasture => System::Housed,
        System::Housed => System::Pasture,
    }
}

struct Context<'a> {
    library: &'a Library,
    weight: &'a FactorWeight,
    factor: &'a Factor,
    system: System,
}

impl Context<'_> {
    fn lesion_name(&self, lesion: Lesion) -> String {
        small(&self.library.burden.lesions[lesion].name)
    }

    /// Lesions on which the factor acts with no effect of their own.
    fn spread_over(&self) -> impl Iterator<Item = Lesion> {
        let free = |lesion: &Lesion| self.weight.own[*lesion].is_none() && self.weight.acts_on[*lesion] > 0.0;
        Lesion::ALL.into_iter().filter(free)
    }

    fn posteriors(&self) -> impl Iterator<Item = &Posterior> {
        let needed = self.spread_over().next().is_some() || !self.weight.lameness.steps.is_empty();
        let lameness = Some(&self.weight.lameness).filter(|_| needed);
        lameness.into_iter().chain(self.weight.own.0.iter().flatten())
    }

    fn outcomes(&self) -> Vec<OutcomeEvidence> {
        self.posteriors().map(|posterior| self.outcome(posterior)).collect()
    }

    fn outcome(&self, posterior: &Posterior) -> OutcomeEvidence {
        let effects: Vec<EffectEvidence> = posterior.steps.iter().map(|step| self.effect(step)).collect();
        let weight = RatioFacts::of_weight(posterior.weight);
        let pooling = posterior.pooled.as_ref().map(|pooled| self.pooling(pooled, &weight));
        let name = match posterior.outcome {
            Some(lesion) => self.library.burden.lesions[lesion].name.clone(),
            None => "All lameness".to_owned(),
        };
        let mut outcome = OutcomeEvidence {
            outcome: words::outcome_id(posterior.outcome),
            name,
            basis: posterior.basis.id(),
            basis_words: self.stated_words(posterior, &weight),
            effects,
            pooling,
            posterior: weight,
            forest: None,
        };
        outcome.forest = forest::forest(&self.factor.title, &outcome);
        outcome
    }

    /// How the weight of an outcome came about, where no size was published; and what it is for.
    fn stated_words(&self, posterior: &Posterior, weight: &RatioFacts) -> String {
        let judged = &self.library.burden.constants.judgement_weights;
        let size = match self.factor.judgement {
            JudgedSize::Small => "small",
            JudgedSize::Moderate => "moderate",
            JudgedSize::Large => "large",
        };
        let stated = format!("{size}, risk ratio {}", ratio(weight.risk_ratio));
        match posterior.basis {
            Basis::Published => "A published size, pooled and shrunk as below.".to_owned(),
            Basis::Direction => format!(
                "Direction only: published work found more lameness, without a size that can be used. The \
                 size is judged: {stated}. It is taken as harmful for certain, of uncertain size \
                 (log-normal, standard deviation {} of its logarithm).",
                trimmed(judged.log_sd_direction)
            ),
            Basis::Judgement => format!(
                "Judgement: no published support was seen. The size is judged: {stated}. It may be nothing, \
                 or the wrong way round (normal, standard deviation {} of the log risk ratio).",
                trimmed(judged.sd_judgement)
            ),
        }
    }

    fn basis_words(&self) -> String {
        let mut words = report_words::basis(self.weight.basis).to_owned();
        let by_own: Vec<String> = Lesion::ALL
            .into_iter()
            .filter(|&lesion| self.weight.own[lesion].is_some())
            .map(|lesion| self.lesion_name(lesion))
            .collect();
        if !by_own.is_empty() && self.weight.lameness.basis != Basis::Published {
            words = format!("{words} for {}", list(&by_own));
            if self.spread_over().next().is_some() {
                words = format!("{words}; {} for the rest", report_words::basis(self.weight.lameness.basis));
            }
        }
        words
    }

    /// "from housed herds" where pooled sizes come from the other system.
    fn mark(&self) -> Option<String> {
        let pooled = || {
            let steps = self.posteriors().flat_map(|posterior| &posterior.steps);
            steps.filter(|step| step.role == Role::Pooled).map(|step| &self.library.effects[step.effect])
        };
        let elsewhere = other(self.system);
        let from_other = |effect: &&Effect| effect.system == Some(elsewhere);
        match (pooled().filter(from_other).count(), pooled().count()) {
            (0, _) => None,
            (others, all) if others == all => Some(format!("from {}", words::system_herds(Some(elsewhere)))),
            _ => Some(format!("partly from {}", words::system_herds(Some(elsewhere)))),
        }
    }

    /// What the lesions add up to, with `overlap` left of the weight.
    fn total(&self, overlap: f64) -> RatioFacts {
        let mix = &self.library.burden.system(self.system).lesion_mix;
        let weight = FactorWeight { overlap, ..self.weight.clone() };
        let mean = all_lameness(mix, |lesion| overlap * weight.by_lesion[lesion]);
        let drawn = Draws::new(DRAWS, SEED).and_then(|draws| {
            let weights = WeightDraws::new(&weight, &self.factor.id, &draws, 0);
            let mut drawn: Vec<f64> = weights.all_lameness(mix, 1.0, DRAWS);
            let centre = drawn.iter().sum::<f64>() / DRAWS as f64;
            let spread = drawn.iter().map(|value| (value - centre) * (value - centre)).sum::<f64>();
            Some((libm::sqrt(spread / DRAWS as f64), central_interval(&mut drawn, LEVEL)?))
        });
        let (sd, interval) = drawn.unwrap_or((f64::NAN, (f64::NAN, f64::NAN)));
        RatioFacts::new(mean, sd, interval)
    }

    fn source(&self, id: &str) -> SourceEvidence {
        let source: Option<&Source> = self.library.source(id);
        SourceEvidence {
            id: id.to_owned(),
            cite: cite_id(self.library, Some(id)),
            doi: source.and_then(|source| source.doi.clone()),
            read: source.map_or("not in the sources file", |source| words::read(source.read)),
        }
    }

    fn effect(&self, step: &EffectStep) -> EffectEvidence {
        let effect = &self.library.effects[step.effect];
        let (role, role_words) = match step.role {
            Role::Pooled => ("pooled", "its size is pooled"),
            Role::Direction => {
                ("direction", "found harmful, without a size that can be used: lends its direction")
            }
            Role::Listed(why) => ("listed", why),
        };
        let numbers = numbers(effect, step);
        let steps = numbers.as_ref().map(|numbers| self.steps(effect, step, numbers)).unwrap_or_default();
        self.effect_evidence(effect, role, role_words, steps, numbers)
    }

    fn effect_evidence(
        &self,
        effect: &Effect,
        role: &'static str,
        role_words: &str,
        steps: Vec<Step>,
        numbers: Option<EffectNumbers>,
    ) -> EffectEvidence {
        EffectEvidence {
            id: effect.id.clone(),
            source: self.source(&effect.source),
            contrast: effect.contrast.clone(),
            published: words::published(effect),
            measure: words::measure_id(effect.measure),
            estimate: effect.estimate,
            interval: effect.interval.map(|(low, high)| [low, high]),
            p_value: effect.p_value,
            design: words::design_id(effect.design),
            design_words: words::design(effect),
            animals: words::animals(effect),
            certainty: words::certainty(effect.certainty),
            role,
            role_words: role_words.to_owned(),
            steps,
            numbers,
            judged: effect.judged.clone(),
            note: effect.note.clone(),
        }
    }

    /// Effects of this factor that no posterior lists.
    fn other_effects(&self) -> Vec<EffectEvidence> {
        let shown: Vec<usize> =
            self.posteriors().flat_map(|posterior| posterior.steps.iter().map(|step| step.effect)).collect();
        let effects = self.library.effects.iter().enumerate();
        effects
            .filter(|(index, effect)| effect.factor == self.factor.id && !shown.contains(index))
            .map(|(_, effect)| {
                let why = format!("on {}; no size that can be used", words::outcome_id(effect.outcome));
                self.effect_evidence(effect, "listed", &why, Vec::new(), None)
            })
            .collect()
    }

    fn steps(&self, effect: &Effect, step: &EffectStep, numbers: &EffectNumbers) -> Vec<Step> {
        let mut steps = Vec::new();
        if let Some(words) = convert_words(effect, step) {
            steps.push(Step { label: "Convert", words });
        }
        steps.push(Step { label: "Log", words: self.log_words(effect, step, numbers) });
        steps.push(Step { label: "Contrast", words: contrast_words(numbers) });
        steps.push(Step { label: "Allow", words: allow_words(effect, numbers) });
        steps
            .push(Step { label: "Share", words: format!("{} of the pooled figure", percent(numbers.share)) });
        steps
    }

    fn log_words(&self, effect: &Effect, step: &EffectStep, numbers: &EffectNumbers) -> String {
        let Some(converted) = step.ratio.filter(|_| step.interval.is_some() || effect.p_value.is_some())
        else {
            let sd = trimmed(self.library.burden.constants.null_sd);
            return format!("no difference and no size printed: taken as 0, standard error {sd} (judged)");
        };
        let scale = (numbers.contrast[0] - numbers.contrast[1]).abs();
        let from = match (step.interval, effect.p_value) {
            (Some(_), _) => format!("from the {} interval", percent(effect.level)),
            (None, Some(p)) if effect.p_is_bound => format!("from p at most {}", words::p(p)),
            (None, p) => format!("from p {}", words::p(p.unwrap_or(f64::NAN))),
        };
        let (y, s) = (log(libm::log(converted)), log(numbers.se * scale));
        format!("ln {converted:.3} = {y}, standard error {s} {from}")
    }

    fn pooling(&self, pooled: &Pooled, posterior: &RatioFacts) -> PoolingEvidence {
        let constants = &self.library.burden.constants;
        let var_new_farm = pooled.var_mean + pooled.tau2;
        let prior = constants.prior_sd_log_rr * constants.prior_sd_log_rr;
        let hksj_wins = pooled.var_hksj.is_some_and(|hksj| hksj > pooled.var_ordinary);
        let mut pooling = PoolingEvidence {
            effects: pooled.weights.len(),
            mean: pooled.mean,
            q: pooled.q,
            tau_dl: libm::sqrt(pooled.tau2_dl),
            tau_floor: constants.tau_floor,
            tau: libm::sqrt(pooled.tau2),
            var_ordinary: pooled.var_ordinary,
            var_hksj: pooled.var_hksj,
            variance_used: if hksj_wins { "hksj" } else { "ordinary" },
            var_new_farm,
            prior_sd: constants.prior_sd_log_rr,
            kept: prior / (prior + var_new_farm),
            new_farm: RatioFacts::of_normal(pooled.mean, libm::sqrt(var_new_farm)),
            steps: Vec::new(),
        };
        pooling.steps = pooling_steps(&pooling, posterior);
        pooling
    }

    fn spread(&self) -> SpreadEvidence {
        let (weight, burden) = (self.weight, &self.library.burden);
        let mix = &burden.system(self.system).lesion_mix;
        let lesions = Lesion::ALL.into_iter().filter_map(|lesion| {
            let log_rr = weight.by_lesion[lesion];
            Some(LesionWeight {
                id: lesion.id(),
                name: burden.lesions[lesion].name.clone(),
                mix: mix[lesion],
                acts_on: weight.acts_on[lesion],
                log_rr,
                risk_ratio: libm::exp(log_rr),
                risk_ratio_used: libm::exp(weight.overlap * log_rr),
                basis: weight.basis_by_lesion[lesion]?.id(),
                own: weight.own[lesion].is_some(),
            })
        });
        SpreadEvidence {
            k: weight.k,
            k_max: burden.constants.k_max,
            capped: weight.k_capped,
            words: self.spread_words(),
            lesions: lesions.collect(),
        }
    }

    fn spread_words(&self) -> String {
        let weight = self.weight;
        let mean = weight.lameness.weight.mean();
        let own = weight.own.0.iter().flatten().count();
        if self.spread_over().next().is_none() {
            return "Every lesion it acts on has a published size of its own, used as it is. Nothing is spread."
                .to_owned();
        }
        let acted: f64 = {
            let mix = &self.library.burden.system(self.system).lesion_mix;
            Lesion::ALL.into_iter().filter(|&l| weight.acts_on[l] > 0.0).map(|l| mix[l]).sum()
        };
        let whole = ratio(libm::exp(mean));
        let k = ratio(weight.k);
        let mut words = if weight.k_capped {
            let alone = weight.acts_on;
            let mix = &self.library.burden.system(self.system).lesion_mix;
            let carried = all_lameness(mix, |lesion| weight.k * alone[lesion] * mean);
            format!(
                "It acts on lesions that make up {} of the reference mix of {}. To carry the whole risk \
                 ratio of {whole} they would have to be stretched more than {k} times, which nobody has \
                 shown; so the stretch is capped at {k}, and they add up to {}.",
                percent(acted),
                words::system_herds(Some(self.system)),
                ratio(libm::exp(carried))
            )
        } else if mean <= 0.0 {
            "The weight is not above none, so it is not stretched (k = 1).".to_owned()
        } else {
            format!(
                "It acts on lesions that make up {} of the reference mix of {}, more on some than on others. \
                 Their weights are stretched {k} times (k), so that together they give the risk ratio of \
                 {whole} again.",
                percent(acted),
                words::system_herds(Some(self.system)),
            )
        };
        if own > 0 {
            words.push_str(" A lesion with a published size of its own keeps that one.");
        }
        words
    }

    fn overlap(&self) -> Option<OverlapEvidence> {
        let cluster = self.factor.cluster.as_ref()?;
        let others: Vec<String> = self
            .library
            .factors
            .iter()
            .filter(|factor| factor.in_system(self.system) && factor.cluster.as_ref() == Some(cluster))
            .filter(|factor| factor.id != self.factor.id)
            .map(|factor| factor.title.clone())
            .collect();
        if others.is_empty() {
            return None;
        }
        let correlation = self.library.burden.constants.cluster_correlation;
        let factor = self.weight.overlap;
        let (before, after) = (self.weight.log_rr, self.total(factor).risk_ratio);
        let words = format!(
            "{} looks at much the same thing as {}. Exposures that go together (correlation {}, judged) share \
             their effect, so {} of the log weight is left: risk ratio {} becomes {}.",
            self.factor.title,
            list(&others.iter().map(|title| small(title)).collect::<Vec<_>>()),
            trimmed(correlation),
            percent(factor),
            ratio(libm::exp(before)),
            ratio(after),
        );
        let factors = others.len() + 1;
        Some(OverlapEvidence { cluster: cluster.clone(), others, factors, correlation, factor, words })
    }

    fn judged(&self) -> Vec<String> {
        let mut judged = vec![
            "How strongly it acts on each lesion: judged from the pathway, but for lesions with a published \
             size of their own."
                .to_owned(),
            format!(
                "Typical exposure over farms, mean {} and standard deviation {} on the scale from 0 to 1: \
                 judged; it bears on the farm's expected rate, not on this weight.",
                trimmed(self.factor.typical_mean),
                trimmed(self.factor.typical_sd)
            ),
        ];
        let without_size = self.weight.lameness.basis != Basis::Published;
        if without_size && self.spread_over().next().is_some() {
            judged.insert(0, "The size on lesions without a published size of their own.".to_owned());
        }
        let pooled = self.posteriors().flat_map(|posterior| &posterior.steps);
        for step in pooled.filter(|step| step.role == Role::Pooled) {
            let effect = &self.library.effects[step.effect];
            for field in &effect.judged {
                let field = match field.as_str() {
                    "study_risk" => "the overall risk in the study",
                    "reference_risk" => "the risk in the reference group",
                    other => other,
                };
                judged.push(format!("In {}: {field}.", effect.id));
            }
        }
        judged
    }

    fn would_help(&self, outcomes: &[OutcomeEvidence]) -> Vec<String> {
        let mut help = Vec::new();
        let thing = small(&self.factor.title);
        let herds = words::system_herds(Some(self.system));
        let lameness = &self.weight.lameness;
        if self.spread_over().next().is_some() && lameness.basis != Basis::Published {
            let direction = lameness.steps.iter().filter(|step| step.role == Role::Direction);
            let mut holders: Vec<String> =
                direction.map(|step| self.source(&self.library.effects[step.effect].source).cite).collect();
            holders.dedup();
            if !holders.is_empty() {
                let holders = list(&holders);
                help.push(format!("The figures that {holders} did not print: the ratio with its interval."));
            }
            help.push(format!(
                "No published size: a study that measures new cases of lameness in {herds}, by lesion, against \
                 {thing}, with other factors adjusted for."
            ));
        }
        for outcome in outcomes {
            help.extend(pooled_help(outcome, &self.factor.title, herds));
        }
        if lameness.basis == Basis::Published && self.weight.k_capped {
            help.push(format!("A size by lesion: {thing} acts on lesions that are rare in {herds}."));
        }
        help
    }
}

fn numbers(effect: &Effect, step: &EffectStep) -> Option<EffectNumbers> {
    Some(EffectNumbers {
        reference_risk: match step.conversion {
            Conversion::Converted { reference_risk } => Some(reference_risk),
            Conversion::NotNeeded | Conversion::NotConverted => None,
        },
        not_converted: step.conversion == Conversion::NotConverted,
        ratio: step.ratio,
        contrast: [effect.exposed, effect.reference],
        log_rr: step.log_rr?,
        se: step.se?,
        design_allowance: step.design_allowance,
        surrogate_allowance: step.surrogate_allowance,
        system_allowance: step.system_allowance,
        se_allowed: step.se_allowed?,
        share: step.share?,
    })
}

/// What was done to an odds ratio; `None` where nothing was printed that could be converted.
fn convert_words(effect: &Effect, step: &EffectStep) -> Option<String> {
    let published = ratio(effect.estimate?);
    let converted = step.ratio?;
    Some(match step.conversion {
        Conversion::NotNeeded => format!("{} {published}, used as it is", words::measure(effect.measure)),
        Conversion::NotConverted => format!(
            "odds ratio, not converted: no reference risk is known, so {published} is used as it is, which \
             overstates a risk ratio"
        ),
        Conversion::Converted { reference_risk } => {
            let interval =
                step.interval.map(|interval| format!(" ({})", range(interval))).unwrap_or_default();
            let judged = |field: &str| {
                if effect.judged.iter().any(|name| name == field) { ", judged" } else { "" }
            };
            let from = match (effect.reference_risk, effect.study_risk) {
                (None, Some(risk)) => format!(
                    " (from {} over the whole study{}, half of it exposed)",
                    words::fine_percent(risk),
                    judged("study_risk")
                ),
                _ => judged("reference_risk").to_owned(),
            };
            format!(
                "odds ratio {published} becomes risk ratio {}{interval}, at a risk of {} in the reference \
                 group{from}",
                ratio(converted),
                words::fine_percent(reference_risk),
            )
        }
    })
}

fn contrast_words(numbers: &EffectNumbers) -> String {
    let [exposed, reference] = numbers.contrast;
    let step = exposed - reference;
    let groups = format!("published groups at {} and {} of the scale", trimmed(exposed), trimmed(reference));
    if step == 1.0 {
        return format!("{groups}: the whole step");
    }
    let (y, s) = (log(numbers.log_rr), log(numbers.se));
    format!("{groups}: divided by {}, gives {y}, standard error {s}", trimmed(step))
}

fn allow_words(effect: &Effect, numbers: &EffectNumbers) -> String {
    let reasons = [
        (numbers.design_allowance, format!("design ({})", words::design(effect))),
        (numbers.surrogate_allowance, "surrogate outcome".to_owned()),
        (numbers.system_allowance, format!("other system ({})", words::system_herds(effect.system))),
    ];
    let given: Vec<String> = reasons
        .into_iter()
        .filter(|(allowance, _)| *allowance > 0.0)
        .map(|(allowance, reason)| format!("{} {reason}", trimmed(allowance)))
        .collect();
    if given.is_empty() {
        return format!("nothing to allow for ({}); standard error stays", words::design(effect));
    }
    let (before, after) = (log(numbers.se), log(numbers.se_allowed));
    format!("{}; standard error {before} becomes {after}", given.join(", "))
}

fn pooling_steps(pooling: &PoolingEvidence, posterior: &RatioFacts) -> Vec<Step> {
    let pooled = format!(
        "{}: mean log ratio {} (risk ratio {})",
        plural(pooling.effects as u64, "effect", "effects"),
        log(pooling.mean),
        ratio(libm::exp(pooling.mean))
    );
    let floor = trimmed(pooling.tau_floor);
    let spread = match (pooling.effects, pooling.tau > pooling.tau_dl) {
        (1, _) => {
            format!("standard deviation over farms {floor}: one study cannot show it, so the floor (judged)")
        }
        (_, true) => format!(
            "standard deviation over farms {floor}: the floor (judged), above the {} that the studies show",
            log(pooling.tau_dl)
        ),
        (_, false) => format!("standard deviation over farms {}, as the studies differ", log(pooling.tau)),
    };
    let variance = match (pooling.variance_used, pooling.var_hksj) {
        ("hksj", Some(hksj)) => {
            format!("Hartung–Knapp–Sidik–Jonkman {} (ordinary {})", log(hksj), log(pooling.var_ordinary))
        }
        (_, Some(hksj)) => {
            format!("ordinary {} (Hartung–Knapp–Sidik–Jonkman {})", log(pooling.var_ordinary), log(hksj))
        }
        (_, None) => format!("ordinary {}, one effect", log(pooling.var_ordinary)),
    };
    let new_farm = format!(
        "with the spread over farms {}: risk ratio {}",
        log(pooling.var_new_farm),
        pooling.new_farm.words
    );
    let prior = format!(
        "most single factors do little (log ratio 0, standard deviation {}): {} of the mean is kept",
        trimmed(pooling.prior_sd),
        percent(pooling.kept)
    );
    let result = format!(
        "log ratio {}, standard deviation {}: risk ratio {}",
        log(posterior.log_rr),
        log(posterior.sd),
        posterior.words
    );
    let step = |label, words| Step { label, words };
    vec![
        step("Pool", pooled),
        step("Spread", spread),
        step("Variance", format!("of the mean: {variance}")),
        step("New farm", new_farm),
        step("Prior", prior),
        step("Weight", result),
    ]
}

/// What would narrow a pooled weight most: where most of its variance comes from.
fn pooled_help(outcome: &OutcomeEvidence, title: &str, herds: &str) -> Vec<String> {
    let Some(pooling) = &outcome.pooling else { return Vec::new() };
    let pooled = || outcome.effects.iter().filter_map(|effect| Some((effect, effect.numbers.as_ref()?)));
    let chance: f64 = pooled().map(|(_, n)| n.share * n.share * n.se * n.se).sum();
    let allowed: f64 =
        pooled().map(|(_, n)| n.share * n.share * (n.se_allowed * n.se_allowed - n.se * n.se)).sum();
    let farms = (pooling.var_new_farm - chance - allowed).max(0.0);
    let on = format!("{} on {}", small(title), small(&outcome.name));
    let from_other = pooled().any(|(_, n)| n.system_allowance > 0.0);
    let mut help = vec![if allowed >= chance && allowed >= farms {
        let place = if from_other { format!(" in {herds}") } else { String::new() };
        format!(
            "A trial{place}: most of the doubt about {on} is what is allowed for design, surrogate outcome and \
             the other system."
        )
    } else if chance >= farms {
        format!("Larger studies: most of the doubt about {on} is chance in the published figures.")
    } else {
        format!("More studies, on more farms: most of the doubt about {on} is how far farms differ.")
    }];
    let bounded: Vec<String> = pooled()
        .filter(|(effect, _)| effect.interval.is_none() && effect.p_value.is_some())
        .map(|(effect, _)| effect.source.cite.clone())
        .collect();
    if !bounded.is_empty() {
        help.push(format!("The interval that {} did not print.", list(&bounded)));
    }
    help
}

#[cfg(test)]
mod tests;
