//! The facts of a walk as JSON: the machine contract `underfoot.score/1`. No other format knows a
//! number that this one lacks.
//!
//! Money that is withheld, and figures that are undefined or infinite, are null.

use super::own_records_facts::OwnRecordsFacts;
use super::plan_facts::PlanFacts;
use crate::model::lesion::{Lesion, PerLesion};
use crate::model::walk::{Answer, Walk};
use crate::model::{Library, checklist::Item};
use crate::reckon::{self, Estimate, OptionOutcome, Outcome, RankBy, Settings};
use serde::Serialize;
use std::collections::BTreeMap;

/// Name and version of the contract.
pub const SCORE_FORMAT: &str = "underfoot.score/1";

/// A mean with its central 90 % interval over the draws.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct EstimateFacts {
    /// Mean.
    pub mean: f64,
    /// Lower and upper end.
    pub interval: [f64; 2],
}

impl From<Estimate> for EstimateFacts {
    fn from(estimate: Estimate) -> Self {
        EstimateFacts { mean: estimate.mean, interval: [estimate.interval.0, estimate.interval.1] }
    }
}

/// A mean with a standard deviation.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct MeanSd {
    /// Mean.
    pub mean: f64,
    /// Standard deviation.
    pub sd: f64,
}

/// Where the facts come from: enough to make them again.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct MadeWith {
    /// Number of draws.
    pub draws: usize,
    /// Seed.
    pub seed: u64,
    /// Version of the program.
    pub version: String,
    /// SHA-256 of every file that was read, by its base name.
    pub inputs: BTreeMap<String, String>,
}

/// The walk in a line.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct WalkFacts {
    /// Id of the checklist.
    pub checklist: String,
    /// Its version.
    pub version: String,
    /// Date, ISO 8601.
    pub date: String,
    /// System.
    pub system: String,
    /// Cows in the herd.
    pub cows: u64,
    /// Name of the farm.
    pub farm: String,
    /// Currency of every sum of money; null withholds money.
    pub currency: Option<String>,
}

/// The score.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ScoreFacts {
    /// 0 (good practice everywhere) to 100; null where nothing with a weight was answered.
    pub value: Option<f64>,
    /// Central 90 % interval.
    pub interval: Option<[f64; 2]>,
    /// If every unanswered factor were perfect, or at its worst.
    pub bounds: Option<[f64; 2]>,
    /// Items answered.
    pub answered: usize,
    /// Items asked.
    pub asked: usize,
    /// By section.
    pub sections: Vec<SectionFacts>,
}

/// The score of a section.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SectionFacts {
    /// Id.
    pub id: String,
    /// 0–100, or null.
    pub value: Option<f64>,
    /// Items answered.
    pub answered: usize,
    /// Items asked.
    pub asked: usize,
}

/// One answered factor.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FactorFacts {
    /// Id.
    pub id: String,
    /// Exposure, 0–1.
    pub exposure: EstimateFacts,
    /// Mean exposure by segment id, where asked per segment.
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    pub by_segment: BTreeMap<String, f64>,
    /// All-lameness weight, before overlap: log risk ratio for the whole step from 0 to 1.
    pub log_rr: MeanSd,
    /// Mean log risk ratio by lesion, before overlap.
    pub by_lesion: BTreeMap<&'static str, f64>,
    /// What overlap leaves of the weight.
    pub overlap: f64,
    /// What the weight rests on: published, direction or judgement.
    pub basis: &'static str,
    /// The same by lesion, where the factor acts.
    pub basis_by_lesion: BTreeMap<&'static str, &'static str>,
    /// Ids of the effects that lent size or direction.
    pub effects: Vec<String>,
    /// Cases a year attributed to the factor.
    pub attributed_cases: EstimateFacts,
    /// Mean of the same by lesion.
    pub attributed_by_lesion: BTreeMap<&'static str, f64>,
}

/// The farm's lameness.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BurdenFacts {
    /// New cases per 100 cow-years.
    pub rate: EstimateFacts,
    /// New cases a year in the herd.
    pub cases_per_year: EstimateFacts,
    /// Lame cow-days a year.
    pub lame_days_per_year: EstimateFacts,
    /// Money lost a year, or null.
    pub cost_per_year: Option<EstimateFacts>,
    /// By lesion.
    pub lesions: Vec<LesionFacts>,
    /// Cases a year that nothing that was looked at explains.
    pub unexplained: EstimateFacts,
    /// The records that were used, or null.
    pub from_records: Option<RecordFacts>,
}

/// One lesion group.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LesionFacts {
    /// Id.
    pub id: &'static str,
    /// Mean share of all cases, 0–1.
    pub share: f64,
    /// Cases a year, mean.
    pub cases_per_year: f64,
}

/// Records that were used.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct RecordFacts {
    /// Cases.
    pub cases: u64,
    /// Cow-years.
    pub cow_years: f64,
}

/// One intervention option, in the order of the ranking.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct OptionFacts {
    /// Option id, with `:segment` where per segment.
    pub id: String,
    /// Place, from 1.
    pub rank: usize,
    /// Cases avoided a year.
    pub cases_avoided: EstimateFacts,
    /// Share of all cases.
    pub reduction: f64,
    /// Lame cow-days avoided a year.
    pub lame_days_avoided: EstimateFacts,
    /// Money saved a year, or null.
    pub saved: Option<EstimateFacts>,
    /// Money spent once, or null.
    pub capital: Option<EstimateFacts>,
    /// Capital over its life plus running cost, a year, or null.
    pub yearly_cost: Option<EstimateFacts>,
    /// Saved less yearly cost, or null.
    pub net_benefit: Option<EstimateFacts>,
    /// Years until the capital is earned back, or null.
    pub payback_years: Option<f64>,
    /// Chance of being the best option.
    pub p_best: f64,
    /// Chance of being among the best three.
    pub p_top3: f64,
    /// Chance that the net benefit is above 0, or null.
    pub p_pays: Option<f64>,
    /// Share of the cases avoided that rests on published weights, or null.
    pub published_share: Option<f64>,
    /// True where it can't be told apart from the next.
    pub close_to_next: bool,
}

/// The whole: `underfoot.score/1`.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct WalkScore {
    /// [`SCORE_FORMAT`].
    pub format: &'static str,
    /// The walk.
    pub walk: WalkFacts,
    /// The score.
    pub score: ScoreFacts,
    /// Plausibility limit of all weights, 0–1.
    pub kappa: f64,
    /// Answered factors, in file order.
    pub factors: Vec<FactorFacts>,
    /// Ids of factors with no answered item.
    pub unanswered: Vec<String>,
    /// Ids of items that were skipped, with the reason, by item and segment.
    pub skipped: Vec<SkipFacts>,
    /// The farm's lameness.
    pub burden: BurdenFacts,
    /// What the options are ranked by.
    pub rank_by: &'static str,
    /// Options, best first.
    pub interventions: Vec<OptionFacts>,
    /// What the farm's own records and scores say.
    pub own_records: OwnRecordsFacts,
    /// Why money is withheld, in plain words; empty where it is not.
    pub money_withheld: Vec<String>,
    /// The plan, where a report was asked for with a budget; else left out.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub plan: Option<PlanFacts>,
    /// Where all this comes from.
    pub made_with: MadeWith,
}

/// A skipped item.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct SkipFacts {
    /// Id of the item.
    pub item: String,
    /// Id of the segment, or null.
    pub segment: Option<String>,
    /// The reason given.
    pub reason: String,
}

fn by_lesion(values: &PerLesion<f64>) -> BTreeMap<&'static str, f64> {
    values.iter().map(|(lesion, value)| (lesion.id(), *value)).collect()
}

fn skipped(library: &Library, walk: &Walk) -> Vec<SkipFacts> {
    let of_item = |item: &Item| {
        let skips = walk.answers_to(&item.id).iter().filter_map(|given| match &given.answer {
            Answer::Skip(reason) => Some(SkipFacts {
                item: item.id.clone(),
                segment: given.segment.and_then(|at| Some(walk.segments.get(at)?.id.clone())),
                reason: reason.clone(),
            }),
            _ => None,
        });
        skips.collect::<Vec<_>>()
    };
    library.checklist.items().flat_map(of_item).collect()
}

fn factors(library: &Library, walk: &Walk, outcome: &Outcome) -> Vec<FactorFacts> {
    let facts = |factor: &reckon::FactorOutcome| {
        let weight = &factor.weight;
        let attributed = factor.attributed.as_ref()?;
        let used = |posterior: &reckon::effects::Posterior| {
            let lent = posterior.steps.iter().filter(|step| {
                matches!(step.role, reckon::effects::Role::Pooled | reckon::effects::Role::Direction)
            });
            lent.map(|step| library.effects[step.effect].id.clone()).collect::<Vec<_>>()
        };
        let by_segment = factor.exposure_by_segment.iter().flatten().zip(&walk.segments);
        Some(FactorFacts {
            id: library.factors[weight.factor].id.clone(),
            exposure: factor.exposure?.into(),
            by_segment: by_segment.map(|(x, segment)| (segment.id.clone(), *x)).collect(),
            log_rr: MeanSd { mean: weight.log_rr, sd: factor.log_rr_sd },
            by_lesion: by_lesion(&weight.by_lesion),
            overlap: weight.overlap,
            basis: weight.basis.id(),
            basis_by_lesion: weight
                .basis_by_lesion
                .iter()
                .filter_map(|(lesion, basis)| Some((lesion.id(), basis.as_ref()?.id())))
                .collect(),
            effects: used(&weight.lameness)
                .into_iter()
                .chain(weight.own.0.iter().flatten().flat_map(used))
                .collect(),
            attributed_cases: attributed.cases.into(),
            attributed_by_lesion: by_lesion(&attributed.by_lesion),
        })
    };
    outcome.factors.iter().filter_map(facts).collect()
}

fn burden(outcome: &Outcome) -> BurdenFacts {
    let burden = &outcome.burden;
    let shares = burden.herd.mean_mix();
    BurdenFacts {
        rate: burden.rate_per_100_cow_years.into(),
        cases_per_year: burden.cases_per_year.into(),
        lame_days_per_year: burden.lame_days_per_year.into(),
        cost_per_year: burden.cost_per_year.map(Into::into),
        lesions: Lesion::ALL
            .into_iter()
            .map(|lesion| LesionFacts {
                id: lesion.id(),
                share: shares[lesion],
                cases_per_year: burden.by_lesion[lesion].mean,
            })
            .collect(),
        unexplained: burden.unexplained.into(),
        from_records: burden.herd.records.map(|(cases, cow_years)| RecordFacts { cases, cow_years }),
    }
}

fn option(option: &OptionOutcome) -> OptionFacts {
    let money = option.money.as_ref().ok();
    OptionFacts {
        id: option.id.clone(),
        rank: option.rank,
        cases_avoided: option.cases_avoided.into(),
        reduction: option.reduction,
        lame_days_avoided: option.lame_days_avoided.into(),
        saved: option.saved.map(Into::into),
        capital: money.map(|money| money.capital.into()),
        yearly_cost: money.map(|money| money.yearly_cost.into()),
        net_benefit: money.and_then(|money| money.net_benefit).map(Into::into),
        payback_years: money.and_then(|money| money.payback_years),
        p_best: option.chances.best,
        p_top3: option.chances.top3,
        p_pays: money.and_then(|money| money.p_pays),
        published_share: option.published_share,
        close_to_next: option.close_to_next,
    }
}

/// The walk in a line.
pub fn walk_facts(library: &Library, walk: &Walk) -> WalkFacts {
    WalkFacts {
        checklist: library.checklist.id.clone(),
        version: library.checklist.version.clone(),
        date: walk.date.to_string(),
        system: walk.system.id().to_owned(),
        cows: walk.cows,
        farm: walk.farm_name.clone(),
        currency: walk.currency.clone(),
    }
}

/// Where facts come from.
pub fn made_with(settings: Settings, inputs: BTreeMap<String, String>) -> MadeWith {
    MadeWith {
        draws: settings.draws,
        seed: settings.seed,
        version: env!("CARGO_PKG_VERSION").to_owned(),
        inputs,
    }
}

/// The facts of an outcome.
pub fn walk_score(
    library: &Library,
    walk: &Walk,
    outcome: &Outcome,
    own_records: OwnRecordsFacts,
    money_withheld: Vec<String>,
    inputs: BTreeMap<String, String>,
) -> WalkScore {
    let score = &outcome.score;
    WalkScore {
        format: SCORE_FORMAT,
        walk: walk_facts(library, walk),
        score: ScoreFacts {
            value: score.value,
            interval: score.interval.map(|(low, high)| [low, high]),
            bounds: score.bounds.map(|(low, high)| [low, high]),
            answered: score.answered,
            asked: score.asked,
            sections: score
                .sections
                .iter()
                .map(|section| SectionFacts {
                    id: section.id.clone(),
                    value: section.value,
                    answered: section.answered,
                    asked: section.asked,
                })
                .collect(),
        },
        kappa: outcome.plausibility.kappa,
        factors: factors(library, walk, outcome),
        unanswered: outcome
            .factors
            .iter()
            .filter(|factor| factor.exposure.is_none())
            .map(|factor| library.factors[factor.weight.factor].id.clone())
            .collect(),
        skipped: skipped(library, walk),
        burden: burden(outcome),
        rank_by: outcome.settings.rank_by.id(),
        interventions: outcome.options.iter().map(option).collect(),
        own_records,
        money_withheld,
        plan: None,
        made_with: made_with(outcome.settings, inputs),
    }
}

/// The rank-by measure with this id.
pub fn rank_by(id: &str) -> Option<RankBy> {
    RankBy::ALL.into_iter().find(|rank_by| rank_by.id() == id)
}
