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
use super::words as report_words;
use crate::model::evidence::{Effect, Source};
use crate::model::factor::{Factor, JudgedSize};
use crate::model::lesion::Lesion;
use crate::model::words::Words;
use crate::model::{Library, System};
use crate::reckon::LEVEL;
use crate::reckon::effects::{Basis, Conversion, EffectStep, Posterior, Role, Weight};
use crate::reckon::stats::draws::Draws;
use crate::reckon::stats::pool::Pooled;
use crate::reckon::stats::special::normal_quantile;
use crate::reckon::stats::summary::central_interval;
use crate::reckon::weights::{FactorWeight, WeightDraws, all_lameness};
use serde::Serialize;
use words::{log, plain, ratio, ratio_interval, small};

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
    fn new(words: &Words, log_rr: f64, sd: f64, interval: (f64, f64)) -> RatioFacts {
        let (low, high) = (libm::exp(interval.0), libm::exp(interval.1));
        let risk_ratio = libm::exp(log_rr);
        let words = ratio_interval(words, risk_ratio, (low, high));
        RatioFacts { risk_ratio, interval: [low, high], log_rr, sd, words }
    }

    fn of_weight(words: &Words, weight: Weight) -> RatioFacts {
        let z = z90();
        RatioFacts::new(words, weight.mean(), weight.sd(), (weight.at_z(-z), weight.at_z(z)))
    }

    fn of_normal(words: &Words, mean: f64, sd: f64) -> RatioFacts {
        RatioFacts::of_weight(words, Weight::Normal { mean, sd })
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

    /// What the weight rests on, with "from housed herds" where that holds.
    pub fn rests_on(&self, words: &Words) -> String {
        match &self.mark {
            None => self.basis_words.clone(),
            Some(mark) => words.say("evidence.basis-marked", &[("basis", &self.basis_words), ("mark", mark)]),
        }
    }

    /// How many effects were pooled, of those listed: "2 of 3".
    pub fn pooled_of_listed(&self, words: &Words) -> String {
        let (pooled, listed) = (self.pooled().to_string(), self.effects().to_string());
        words.say("evidence.pooled-of", &[("pooled", &pooled), ("listed", &listed)])
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
    pub read: String,
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
    pub certainty: String,
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
    /// Its name, a word or two.
    pub label: String,
    /// What was done.
    pub words: String,
}

impl Step {
    /// A step by the key of its name.
    fn new(words: &Words, label: &str, said: String) -> Step {
        Step { label: words.word(label), words: said }
    }
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
        None => library.words.word("evidence.common-practice"),
        Some(id) => {
            library.source(id).map_or_else(|| id.to_owned(), |source| words::cite(&library.words, source))
        }
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
    fn words(&self) -> &Words {
        &self.library.words
    }

    /// As in "pasture herds".
    fn herds(&self) -> String {
        words::system_herds(self.words(), Some(self.system))
    }

    /// Its title within a sentence.
    fn thing(&self) -> String {
        small(&self.factor.title)
    }

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
        let weight = RatioFacts::of_weight(self.words(), posterior.weight);
        let pooling = posterior.pooled.as_ref().map(|pooled| self.pooling(pooled, &weight));
        let name = match posterior.outcome {
            Some(lesion) => self.library.burden.lesions[lesion].name.clone(),
            None => self.words().word("evidence.all-lameness"),
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
        outcome.forest = forest::forest(self.words(), &self.factor.title, &outcome);
        outcome
    }

    /// How the weight of an outcome came about, where no size was published; and what it is for.
    fn stated_words(&self, posterior: &Posterior, weight: &RatioFacts) -> String {
        let words = self.words();
        let judged = &self.library.burden.constants.judgement_weights;
        let size = words.word(match self.factor.judgement {
            JudgedSize::Small => "evidence.size-small",
            JudgedSize::Moderate => "evidence.size-moderate",
            JudgedSize::Large => "evidence.size-large",
        });
        let stated = |key: &str, sd: f64| {
            let (ratio, sd) = (ratio(words, weight.risk_ratio), plain(words, sd));
            words.say(key, &[("size", &size), ("ratio", &ratio), ("sd", &sd)])
        };
        match posterior.basis {
            Basis::Published => words.word("evidence.stated-published"),
            Basis::Direction => stated("evidence.stated-direction", judged.log_sd_direction),
            Basis::Judgement => stated("evidence.stated-judgement", judged.sd_judgement),
        }
    }

    fn basis_words(&self) -> String {
        let words = self.words();
        let basis = report_words::basis(words, self.weight.basis);
        let by_own: Vec<String> = Lesion::ALL
            .into_iter()
            .filter(|&lesion| self.weight.own[lesion].is_some())
            .map(|lesion| self.lesion_name(lesion))
            .collect();
        if by_own.is_empty() || self.weight.lameness.basis == Basis::Published {
            return basis;
        }
        let lesions = words.list(&by_own);
        if self.spread_over().next().is_none() {
            return words.say("evidence.basis-for", &[("basis", &basis), ("lesions", &lesions)]);
        }
        let rest = report_words::basis(words, self.weight.lameness.basis);
        words.say("evidence.basis-for-and-rest", &[("basis", &basis), ("lesions", &lesions), ("rest", &rest)])
    }

    /// "from housed herds" where pooled sizes come from the other system.
    fn mark(&self) -> Option<String> {
        let pooled = || {
            let steps = self.posteriors().flat_map(|posterior| &posterior.steps);
            steps.filter(|step| step.role == Role::Pooled).map(|step| &self.library.effects[step.effect])
        };
        let elsewhere = other(self.system);
        let from_other = |effect: &&Effect| effect.system == Some(elsewhere);
        let key = match (pooled().filter(from_other).count(), pooled().count()) {
            (0, _) => return None,
            (others, all) if others == all => "evidence.from-herds",
            _ => "evidence.partly-from-herds",
        };
        let herds = words::system_herds(self.words(), Some(elsewhere));
        Some(self.words().say(key, &[("herds", &herds)]))
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
        RatioFacts::new(self.words(), mean, sd, interval)
    }

    fn source(&self, id: &str) -> SourceEvidence {
        let words = self.words();
        let source: Option<&Source> = self.library.source(id);
        SourceEvidence {
            id: id.to_owned(),
            cite: cite_id(self.library, Some(id)),
            doi: source.and_then(|source| source.doi.clone()),
            read: source.map_or_else(
                || words.word("evidence.read-unknown"),
                |source| words::read(words, source.read),
            ),
        }
    }

    fn effect(&self, step: &EffectStep) -> EffectEvidence {
        let effect = &self.library.effects[step.effect];
        let numbers = numbers(effect, step);
        let steps = numbers.as_ref().map(|numbers| self.steps(effect, step, numbers)).unwrap_or_default();
        let (role, role_words) = (words::role_id(step.role), words::role(self.words(), step.role));
        self.effect_evidence(effect, role, role_words, steps, numbers)
    }

    fn effect_evidence(
        &self,
        effect: &Effect,
        role: &'static str,
        role_words: String,
        steps: Vec<Step>,
        numbers: Option<EffectNumbers>,
    ) -> EffectEvidence {
        let words = self.words();
        EffectEvidence {
            id: effect.id.clone(),
            source: self.source(&effect.source),
            contrast: effect.contrast.clone(),
            published: words::published(words, effect),
            measure: words::measure_id(effect.measure),
            estimate: effect.estimate,
            interval: effect.interval.map(|(low, high)| [low, high]),
            p_value: effect.p_value,
            design: words::design_id(effect.design),
            design_words: words::design(words, effect),
            animals: words::animals(words, effect),
            certainty: words::certainty(words, effect.certainty),
            role,
            role_words,
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
                let outcome = match effect.outcome {
                    Some(lesion) => self.lesion_name(lesion),
                    None => small(&self.words().word("evidence.all-lameness")),
                };
                let why = self.words().say("evidence.role-other", &[("outcome", &outcome)]);
                self.effect_evidence(effect, "listed", why, Vec::new(), None)
            })
            .collect()
    }

    fn steps(&self, effect: &Effect, step: &EffectStep, numbers: &EffectNumbers) -> Vec<Step> {
        let words = self.words();
        let share = words.say("evidence.share-pooled", &[("share", &words.percent(numbers.share))]);
        let converted = convert_words(words, effect, step);
        let steps = [
            ("evidence.convert", converted),
            ("evidence.log", Some(self.log_words(effect, step, numbers))),
            ("evidence.contrast", Some(contrast_words(words, numbers))),
            ("evidence.allow", Some(allow_words(words, effect, numbers))),
            ("evidence.share", Some(share)),
        ];
        steps.into_iter().filter_map(|(label, said)| Some(Step::new(words, label, said?))).collect()
    }

    fn log_words(&self, effect: &Effect, step: &EffectStep, numbers: &EffectNumbers) -> String {
        let words = self.words();
        let Some(converted) = step.ratio.filter(|_| step.interval.is_some() || effect.p_value.is_some())
        else {
            let error = plain(words, self.library.burden.constants.null_sd);
            return words.say("evidence.log-none", &[("error", &error)]);
        };
        let scale = (numbers.contrast[0] - numbers.contrast[1]).abs();
        let (key, name, from) = match (step.interval, effect.p_value) {
            (Some(_), _) => ("evidence.log-interval", "level", words.percent(effect.level)),
            (None, Some(p)) if effect.p_is_bound => ("evidence.log-p-bound", "p", words::p(words, p)),
            (None, p) => ("evidence.log-p", "p", words::p(words, p.unwrap_or(f64::NAN))),
        };
        let (ratio, y) = (log(words, converted), log(words, libm::log(converted)));
        let error = log(words, numbers.se * scale);
        words.say(key, &[("ratio", &ratio), ("log", &y), ("error", &error), (name, &from)])
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
            new_farm: RatioFacts::of_normal(self.words(), pooled.mean, libm::sqrt(var_new_farm)),
            steps: Vec::new(),
        };
        pooling.steps = pooling_steps(self.words(), &pooling, posterior);
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
        let (words, weight) = (self.words(), self.weight);
        if self.spread_over().next().is_none() {
            return words.word("evidence.spread-nothing");
        }
        let spread = self.stretch_words();
        match weight.own.0.iter().flatten().next() {
            None => spread,
            Some(_) => format!("{spread} {}", words.word("evidence.spread-own")),
        }
    }

    /// How far the weights were stretched over the lesions, and why no further.
    fn stretch_words(&self) -> String {
        let (words, weight) = (self.words(), self.weight);
        let mix = &self.library.burden.system(self.system).lesion_mix;
        let mean = weight.lameness.weight.mean();
        let acted: f64 = Lesion::ALL.into_iter().filter(|&l| weight.acts_on[l] > 0.0).map(|l| mix[l]).sum();
        let (share, herds) = (words.percent(acted), self.herds());
        let (whole, k) = (ratio(words, libm::exp(mean)), ratio(words, weight.k));
        let mut said = vec![("share", share.as_str()), ("herds", &herds), ("ratio", &whole), ("k", &k)];
        if weight.k_capped {
            let carried = all_lameness(mix, |lesion| weight.k * weight.acts_on[lesion] * mean);
            let carried = ratio(words, libm::exp(carried));
            said.push(("carried", &carried));
            words.say("evidence.spread-capped", &said)
        } else if mean <= 0.0 {
            words.word("evidence.spread-not-stretched")
        } else {
            words.say("evidence.spread-stretched", &said)
        }
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
        let small: Vec<String> = others.iter().map(|title| small(title)).collect();
        let words = self.words().say(
            "evidence.overlap-words",
            &[
                ("factor", &self.factor.title),
                ("others", &self.words().list(&small)),
                ("correlation", &plain(self.words(), correlation)),
                ("left", &self.words().percent(factor)),
                ("before", &ratio(self.words(), libm::exp(before))),
                ("after", &ratio(self.words(), after)),
            ],
        );
        let factors = others.len() + 1;
        Some(OverlapEvidence { cluster: cluster.clone(), others, factors, correlation, factor, words })
    }

    fn judged(&self) -> Vec<String> {
        let words = self.words();
        let (mean, sd) = (plain(words, self.factor.typical_mean), plain(words, self.factor.typical_sd));
        let mut judged = vec![
            words.word("evidence.judged-pathway"),
            words.say("evidence.judged-typical", &[("mean", &mean), ("sd", &sd)]),
        ];
        let without_size = self.weight.lameness.basis != Basis::Published;
        if without_size && self.spread_over().next().is_some() {
            judged.insert(0, words.word("evidence.judged-size"));
        }
        let pooled = self.posteriors().flat_map(|posterior| &posterior.steps);
        for step in pooled.filter(|step| step.role == Role::Pooled) {
            let effect = &self.library.effects[step.effect];
            judged.extend(effect.judged.iter().map(|field| match field.as_str() {
                "study_risk" => words.say("evidence.judged-study-risk", &[("effect", &effect.id)]),
                "reference_risk" => words.say("evidence.judged-reference-risk", &[("effect", &effect.id)]),
                field => words.say("evidence.judged-field", &[("effect", &effect.id), ("field", field)]),
            }));
        }
        judged
    }

    fn would_help(&self, outcomes: &[OutcomeEvidence]) -> Vec<String> {
        let mut help = Vec::new();
        let (words, thing, herds) = (self.words(), self.thing(), self.herds());
        let lameness = &self.weight.lameness;
        if self.spread_over().next().is_some() && lameness.basis != Basis::Published {
            let direction = lameness.steps.iter().filter(|step| step.role == Role::Direction);
            let mut holders: Vec<String> =
                direction.map(|step| self.source(&self.library.effects[step.effect].source).cite).collect();
            holders.dedup();
            if !holders.is_empty() {
                help.push(words.say("evidence.help-unprinted", &[("sources", &words.list(&holders))]));
            }
            help.push(words.say("evidence.help-no-size", &[("herds", &herds), ("factor", &thing)]));
        }
        for outcome in outcomes {
            help.extend(self.pooled_help(outcome));
        }
        if lameness.basis == Basis::Published && self.weight.k_capped {
            help.push(words.say("evidence.help-by-lesion", &[("herds", &herds), ("factor", &thing)]));
        }
        help
    }

    /// What would narrow a pooled weight most: where most of its variance comes from.
    fn pooled_help(&self, outcome: &OutcomeEvidence) -> Vec<String> {
        let Some(pooling) = &outcome.pooling else { return Vec::new() };
        let pooled = || outcome.effects.iter().filter_map(|effect| Some((effect, effect.numbers.as_ref()?)));
        let chance: f64 = pooled().map(|(_, n)| n.share * n.share * n.se * n.se).sum();
        let allowed: f64 =
            pooled().map(|(_, n)| n.share * n.share * (n.se_allowed * n.se_allowed - n.se * n.se)).sum();
        let farms = (pooling.var_new_farm - chance - allowed).max(0.0);
        let from_other = pooled().any(|(_, n)| n.system_allowance > 0.0);
        let (thing, name, herds) = (self.thing(), small(&outcome.name), self.herds());
        let mut said = vec![("factor", thing.as_str()), ("outcome", &name)];
        let key = if allowed >= chance && allowed >= farms && from_other {
            said.push(("herds", &herds));
            "evidence.help-trial-here"
        } else if allowed >= chance && allowed >= farms {
            "evidence.help-trial"
        } else if chance >= farms {
            "evidence.help-larger"
        } else {
            "evidence.help-more-farms"
        };
        let words = self.words();
        let mut help = vec![words.say(key, &said)];
        let bounded: Vec<String> = pooled()
            .filter(|(effect, _)| effect.interval.is_none() && effect.p_value.is_some())
            .map(|(effect, _)| effect.source.cite.clone())
            .collect();
        if !bounded.is_empty() {
            help.push(words.say("evidence.help-interval", &[("sources", &words.list(&bounded))]));
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
fn convert_words(words: &Words, effect: &Effect, step: &EffectStep) -> Option<String> {
    let published = ratio(words, effect.estimate?);
    let converted = step.ratio?;
    Some(match step.conversion {
        Conversion::NotNeeded => {
            let measure = words::measure(words, effect.measure);
            words.say("evidence.convert-not-needed", &[("measure", &measure), ("published", &published)])
        }
        Conversion::NotConverted => words.say("evidence.convert-impossible", &[("published", &published)]),
        Conversion::Converted { reference_risk } => {
            let ratio = match step.interval {
                Some(interval) => ratio_interval(words, converted, interval),
                None => ratio(words, converted),
            };
            let risk = words::fine_percent(words, reference_risk);
            let mut said = vec![("published", published.as_str()), ("ratio", &ratio), ("risk", &risk)];
            let judged = |field: &str| effect.judged.iter().any(|name| name == field);
            let study_risk = effect.study_risk.map(|risk| words::fine_percent(words, risk));
            let key = match (effect.reference_risk, &study_risk) {
                (None, Some(study_risk)) => {
                    said.push(("study_risk", study_risk));
                    match judged("study_risk") {
                        true => "evidence.convert-study-judged",
                        false => "evidence.convert-study",
                    }
                }
                _ if judged("reference_risk") => "evidence.convert-reference-judged",
                _ => "evidence.convert-reference",
            };
            words.say(key, &said)
        }
    })
}

fn contrast_words(words: &Words, numbers: &EffectNumbers) -> String {
    let [exposed, reference] = numbers.contrast;
    let step = exposed - reference;
    let groups = (plain(words, exposed), plain(words, reference));
    let groups = [("exposed", groups.0.as_str()), ("reference", &groups.1)];
    if step == 1.0 {
        return words.say("evidence.contrast-whole", &groups);
    }
    let (step, y, error) = (plain(words, step), log(words, numbers.log_rr), log(words, numbers.se));
    let divided = [("step", step.as_str()), ("log", &y), ("error", &error)];
    words.say("evidence.contrast-part", &[groups.as_slice(), &divided].concat())
}

fn allow_words(words: &Words, effect: &Effect, numbers: &EffectNumbers) -> String {
    let (design, herds) = (words::design(words, effect), words::system_herds(words, effect.system));
    let reasons = [
        (numbers.design_allowance, "evidence.allow-design", Some(("design", design.as_str()))),
        (numbers.surrogate_allowance, "evidence.allow-surrogate", None),
        (numbers.system_allowance, "evidence.allow-system", Some(("herds", &herds))),
    ];
    let given: Vec<String> = reasons
        .into_iter()
        .filter(|(allowance, _, _)| *allowance > 0.0)
        .map(|(allowance, key, reason)| {
            let allowance = plain(words, allowance);
            let said: Vec<(&str, &str)> = reason.into_iter().chain([("allowance", &*allowance)]).collect();
            words.say(key, &said)
        })
        .collect();
    if given.is_empty() {
        return words.say("evidence.allow-nothing", &[("design", &design)]);
    }
    let allowances = given.join(&words.word("list.comma"));
    let (before, after) = (log(words, numbers.se), log(words, numbers.se_allowed));
    words.say("evidence.allow-all", &[("allowances", &allowances), ("before", &before), ("after", &after)])
}

fn pooling_steps(words: &Words, pooling: &PoolingEvidence, posterior: &RatioFacts) -> Vec<Step> {
    let prior = words.say(
        "evidence.prior-keeps",
        &[("sd", &plain(words, pooling.prior_sd)), ("kept", &words.percent(pooling.kept))],
    );
    let (log_rr, sd) = (log(words, posterior.log_rr), log(words, posterior.sd));
    let weight =
        words.say("evidence.weight-pooled", &[("log", &log_rr), ("sd", &sd), ("ratio", &posterior.words)]);
    let new_farm = words.say(
        "evidence.new-farm-ratio",
        &[("variance", &log(words, pooling.var_new_farm)), ("ratio", &pooling.new_farm.words)],
    );
    vec![
        Step::new(words, "evidence.pool", pool_words(words, pooling)),
        Step::new(words, "evidence.spread", farms_words(words, pooling)),
        Step::new(words, "evidence.variance", variance_words(words, pooling)),
        Step::new(words, "evidence.new-farm", new_farm),
        Step::new(words, "evidence.prior", prior),
        Step::new(words, "evidence.weight", weight),
    ]
}

fn pool_words(words: &Words, pooling: &PoolingEvidence) -> String {
    let n = pooling.effects as f64;
    let (log, ratio) = (log(words, pooling.mean), ratio(words, libm::exp(pooling.mean)));
    words.say_for(n, "evidence.pool-mean", &[("n", &words.whole(n)), ("log", &log), ("ratio", &ratio)])
}

/// The spread over farms, and where it comes from.
fn farms_words(words: &Words, pooling: &PoolingEvidence) -> String {
    let floor = plain(words, pooling.tau_floor);
    match (pooling.effects, pooling.tau > pooling.tau_dl) {
        (1, _) => words.say("evidence.spread-one", &[("floor", &floor)]),
        (_, true) => {
            let shown = log(words, pooling.tau_dl);
            words.say("evidence.spread-floor", &[("floor", &floor), ("shown", &shown)])
        }
        (_, false) => words.say("evidence.spread-shown", &[("shown", &log(words, pooling.tau))]),
    }
}

fn variance_words(words: &Words, pooling: &PoolingEvidence) -> String {
    let ordinary = log(words, pooling.var_ordinary);
    let Some(hksj) = pooling.var_hksj else {
        return words.say("evidence.variance-one", &[("ordinary", &ordinary)]);
    };
    let key = match pooling.variance_used {
        "hksj" => "evidence.variance-hksj",
        _ => "evidence.variance-ordinary",
    };
    words.say(key, &[("ordinary", &ordinary), ("hksj", &log(words, hksj))])
}

#[cfg(test)]
mod tests;
