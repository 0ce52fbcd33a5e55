//! The facts of a return visit as JSON: the machine contract `underfoot.revisit/1`.
//!
//! Figures that are undefined, infinite or withheld are null, with the reason in words beside them.

use super::facts::{EstimateFacts, MadeWith};
use super::revisit_words as said;
use crate::model::actions::{Actions, Standing};
use crate::model::words::Words;
use crate::reckon::revisit::changes::{FactorChange, ItemChange};
use crate::reckon::revisit::learning::Weighed;
use crate::reckon::revisit::periods::{Season, Side};
use crate::reckon::revisit::{Moment, Revisit, Verdict, Visit, compared};
use serde::Serialize;
use std::collections::BTreeMap;

/// Name and version of the contract.
pub const REVISIT_FORMAT: &str = "underfoot.revisit/1";

/// The ratio of the two rates, after over before.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct RatioFacts {
    /// Ratio; null without rates, or with no case before.
    pub value: Option<f64>,
    /// Exact conditional 95 % interval; its upper end is null where there is no limit.
    pub interval: Option<(f64, Option<f64>)>,
    /// Central two-sided p value.
    pub p_value: Option<f64>,
}

/// One side of the comparison.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct SideFacts {
    /// New cases.
    pub cases: u64,
    /// Cow-years.
    pub cow_years: f64,
    /// Days.
    pub days: i64,
}

/// What was compared with what.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct PeriodsFacts {
    /// The first period.
    pub before: SideFacts,
    /// The last.
    pub after: SideFacts,
}

/// The ratio that was to be expected.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct ExpectedFacts {
    /// Mean that the changes of exposure give over the days counted.
    pub mean: f64,
    /// Central 95 % range of the ratio to be seen, counting noise of both periods added where there
    /// are counts.
    pub interval: (f64, f64),
    /// Whether counting noise is in the interval.
    pub counting_noise: bool,
    /// Central 95 % interval from the weights and exposures alone.
    pub model_interval: (f64, f64),
    /// Mean once every change is in effect.
    pub in_full: f64,
    /// Where what was seen falls: chance of a smaller count; null without rates.
    pub place: Option<f64>,
}

/// What drift alone can explain.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct DriftFacts {
    /// Ratio within which the middle half of farms moves with nothing done.
    pub middle_half: (f64, f64),
    /// Whether the interval of the ratio reaches into it.
    pub could_explain: bool,
}

/// One factor.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ExposureFacts {
    /// Id of the factor.
    pub factor: String,
    /// Exposure before, 0–1; null where not looked at.
    pub before: Option<f64>,
    /// Exposure after.
    pub after: Option<f64>,
    /// After less before, mean and 95 % interval; null unless looked at twice.
    pub change: Option<EstimateFacts>,
    /// What became of it.
    pub state: &'static str,
}

/// One item in one place.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ItemFacts {
    /// Id of the item.
    pub item: String,
    /// Id of the segment, or null.
    pub segment: Option<String>,
    /// Exposure before, 0–1; null where not looked at.
    pub before: Option<f64>,
    /// Exposure after.
    pub after: Option<f64>,
    /// Two-sided p value, where counted twice.
    pub p_value: Option<f64>,
    /// What became of it.
    pub state: &'static str,
}

/// A mean with its 95 % interval.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct WeighedFacts {
    /// Mean.
    pub mean: f64,
    /// Lower and upper end.
    pub interval: (f64, f64),
}

impl From<Weighed> for WeighedFacts {
    fn from(weighed: Weighed) -> Self {
        WeighedFacts { mean: weighed.mean, interval: weighed.interval }
    }
}

/// One weight before and after this farm's experience: log risk ratio after overlap.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LearnedFacts {
    /// Id of the factor.
    pub factor: String,
    /// Before.
    pub before: WeighedFacts,
    /// After.
    pub after: WeighedFacts,
}

/// The weights after this farm's experience.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LearningFacts {
    /// Effective number of draws; null where nothing was weighed.
    pub effective_draws: Option<f64>,
    /// Weights of the changed factors; empty where withheld.
    pub weights: Vec<LearnedFacts>,
    /// Why they are withheld, or null.
    pub withheld: Option<String>,
}

/// One agreed action.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ActionFacts {
    /// Option id, with `:segment`, or the words.
    pub what: String,
    /// done, overdue, due or no-date, on the day of the last walk.
    pub standing: &'static str,
    /// Days overdue, or null.
    pub days_overdue: Option<i64>,
    /// Day it was done, or null.
    pub done: Option<String>,
    /// What it really cost, or null.
    pub real_cost: Option<f64>,
    /// What the walk saw, by factor id; empty where not done or not seen.
    pub seen: BTreeMap<String, &'static str>,
}

/// One walk of the line.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct MomentFacts {
    /// Day, ISO 8601.
    pub date: String,
    /// Score, 0–100, or null.
    pub score: Option<f64>,
    /// Its 90 % interval.
    pub score_interval: Option<(f64, f64)>,
    /// Cases recorded, or null.
    pub cases: Option<u64>,
    /// Cow-years of records, or null.
    pub cow_years: Option<f64>,
    /// Cases per 100 cow-years, or null.
    pub rate: Option<f64>,
    /// Its exact 95 % interval.
    pub rate_interval: Option<(f64, f64)>,
}

/// What to watch for one option.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SignFacts {
    /// Option id.
    pub option: String,
    /// Id of the segment, or null.
    pub segment: Option<String>,
    /// Factors whose exposure moves as soon as it is done.
    pub exposures: Vec<String>,
    /// Whether days from first sign to treatment should fall.
    pub days_to_treatment: bool,
    /// Weeks until there can be fewer cases, or null.
    pub weeks_to_cases: Option<f64>,
}

/// The whole: `underfoot.revisit/1`.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RevisitFacts {
    /// [`REVISIT_FORMAT`].
    pub format: &'static str,
    /// Name of the farm.
    pub farm: String,
    /// Id of the checklist.
    pub checklist: String,
    /// What the counts bear, as a word.
    pub verdict: &'static str,
    /// The same in sentences.
    pub verdict_words: String,
    /// Ratio of the rates.
    pub rate_ratio: RatioFacts,
    /// Why there is no ratio, or null.
    pub no_rates: Option<String>,
    /// What was compared, or null.
    pub periods: Option<PeriodsFacts>,
    /// What was to be expected.
    pub expected_ratio: ExpectedFacts,
    /// Whether what was seen lies within what was to be expected; null without rates.
    pub agrees: Option<bool>,
    /// Whether the same months were compared with the same months.
    pub season_matched: bool,
    /// How, or why not; null without rates.
    pub season: Option<String>,
    /// The months compared where not the whole periods are.
    pub months: Vec<u32>,
    /// What drift alone can explain; null without a ratio.
    pub drift: Option<DriftFacts>,
    /// Factors, in file order.
    pub exposures: Vec<ExposureFacts>,
    /// Items, in the order of the checklist.
    pub items: Vec<ItemFacts>,
    /// Weights after this farm's experience.
    pub learning: LearningFacts,
    /// Fewest months of records that would tell the expected change from chance, or null.
    pub months_to_see: Option<u32>,
    /// Agreed actions.
    pub actions: Vec<ActionFacts>,
    /// What to watch, what shows soonest first.
    pub signs: Vec<SignFacts>,
    /// Median days from first sign to treatment before and after, or nulls.
    pub days_to_treatment: (Option<f64>, Option<f64>),
    /// What to know beside all this.
    pub cautions: Vec<String>,
    /// Every walk, in order of time.
    pub line: Vec<MomentFacts>,
    /// Where all this comes from.
    pub made_with: MadeWith,
}

/// The id of a verdict.
pub fn verdict_id(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::NoRatio => "no-rates",
        Verdict::TooFew => "too-few",
        Verdict::NotComparable => "not-comparable",
        Verdict::MayBeChance => "may-be-chance",
        Verdict::FewerWithoutChange => "fewer-without-change",
        Verdict::FewerAsExpected => "fewer-as-expected",
        Verdict::FewerThanExpected => "fewer-than-expected",
        Verdict::LessThanExpected => "less-than-expected",
        Verdict::More => "more",
    }
}

/// The facts of a comparison. `visits` and `actions` are those it was made of.
pub fn revisit_facts(
    visits: &[Visit],
    revisit: &Revisit,
    actions: Option<&Actions>,
    inputs: BTreeMap<String, String>,
) -> Option<RevisitFacts> {
    let (before, after) = compared(visits)?;
    let (first, last) = (before.prepared, after.prepared);
    let library = first.library;
    let words = &library.words;
    let rates = revisit.rates.as_ref().ok();
    let season = rates.map(|rates| &rates.compared.season);
    let listed = actions.map_or(&[][..], |actions| &actions.list);
    let side = |side: Side| SideFacts { cases: side.cases, cow_years: side.cow_years, days: side.days };
    let factor = |index: usize| library.factors[index].id.clone();
    Some(RevisitFacts {
        format: REVISIT_FORMAT,
        farm: last.walk.farm_name.clone(),
        checklist: library.checklist.id.clone(),
        verdict: verdict_id(revisit.verdict),
        verdict_words: said::verdict(words, revisit),
        rate_ratio: RatioFacts {
            value: rates.and_then(|rates| rates.ratio.ratio),
            interval: rates.map(|rates| (rates.ratio.low, rates.ratio.high)),
            p_value: rates.map(|rates| rates.ratio.p_central),
        },
        no_rates: revisit.rates.as_ref().err().map(|reason| said::no_rates(words, reason)),
        periods: rates.map(|rates| PeriodsFacts {
            before: side(rates.compared.before),
            after: side(rates.compared.after),
        }),
        expected_ratio: ExpectedFacts {
            mean: revisit.expected.mean,
            interval: revisit.expected.range.unwrap_or(revisit.expected.model),
            counting_noise: revisit.expected.range.is_some(),
            model_interval: revisit.expected.model,
            in_full: revisit.expected.in_full,
            place: revisit.expected.place,
        },
        agrees: revisit.expected.agrees,
        season_matched: season.is_some_and(Season::is_matched),
        season: season.map(|season| said::season_words(words, season)),
        months: match season {
            Some(Season::SameMonths(months)) => months.clone(),
            _ => Vec::new(),
        },
        drift: revisit
            .drift
            .map(|drift| DriftFacts { middle_half: drift.middle_half, could_explain: drift.could_explain }),
        exposures: revisit.factors.iter().map(|change| exposure(change, factor(change.factor))).collect(),
        items: revisit.items.iter().map(item).collect(),
        learning: learning(words, revisit, factor),
        months_to_see: revisit.months_to_see,
        actions: revisit
            .actions
            .iter()
            .filter_map(|review| {
                let action = listed.get(review.action)?;
                Some(ActionFacts {
                    what: action.what.text(),
                    standing: match review.standing {
                        Standing::Done(_) => "done",
                        Standing::Overdue(_) => "overdue",
                        Standing::Due(_) => "due",
                        Standing::NoDate => "no-date",
                    },
                    days_overdue: match review.standing {
                        Standing::Overdue(days) => Some(days),
                        _ => None,
                    },
                    done: action.done.map(|day| day.to_string()),
                    real_cost: action.real_cost,
                    seen: review.seen.iter().map(|(index, state)| (factor(*index), state.id())).collect(),
                })
            })
            .collect(),
        signs: revisit
            .signs
            .iter()
            .map(|sign| SignFacts {
                option: library.interventions[sign.intervention].id.clone(),
                segment: sign.segment.clone(),
                exposures: sign.factors.iter().map(|index| factor(*index)).collect(),
                days_to_treatment: sign.treatment,
                weeks_to_cases: sign.weeks_to_cases,
            })
            .collect(),
        days_to_treatment: revisit.days_to_treatment,
        cautions: revisit.cautions.iter().map(|it| said::caution(library, first.walk, listed, it)).collect(),
        line: revisit.line.iter().map(moment).collect(),
        made_with: MadeWith {
            draws: first.settings.draws,
            seed: first.settings.seed,
            version: env!("CARGO_PKG_VERSION").to_owned(),
            inputs,
        },
    })
}

fn exposure(change: &FactorChange, factor: String) -> ExposureFacts {
    ExposureFacts {
        factor,
        before: change.before,
        after: change.after,
        change: change.change.map(Into::into),
        state: change.state.id(),
    }
}

fn item(change: &ItemChange) -> ItemFacts {
    ItemFacts {
        item: change.item.clone(),
        segment: change.segment.clone(),
        before: change.x_before,
        after: change.x_after,
        p_value: change.p_value,
        state: change.state.id(),
    }
}

fn learning(words: &Words, revisit: &Revisit, factor: impl Fn(usize) -> String) -> LearningFacts {
    use crate::reckon::revisit::learning::NotLearned;
    match &revisit.learned {
        Ok(learned) => LearningFacts {
            effective_draws: Some(learned.effective_draws),
            weights: learned
                .weights
                .iter()
                .map(|weight| LearnedFacts {
                    factor: factor(weight.factor),
                    before: weight.before.into(),
                    after: weight.after.into(),
                })
                .collect(),
            withheld: None,
        },
        Err(reason) => LearningFacts {
            effective_draws: match reason {
                NotLearned::FewEffective { effective_draws, .. } => Some(*effective_draws),
                _ => None,
            },
            weights: Vec::new(),
            withheld: Some(said::not_learned(words, reason)),
        },
    }
}

fn moment(moment: &Moment) -> MomentFacts {
    MomentFacts {
        date: moment.date.to_string(),
        score: moment.score.map(|(value, _)| value),
        score_interval: moment.score.and_then(|(_, interval)| interval),
        cases: moment.rate.map(|rate| rate.0),
        cow_years: moment.rate.map(|rate| rate.1),
        rate: moment.rate.map(|rate| rate.2),
        rate_interval: moment.rate.map(|rate| rate.3),
    }
}
