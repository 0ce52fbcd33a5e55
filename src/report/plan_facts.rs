//! The facts of a plan as JSON: the machine contract `underfoot.plan/1`.
//!
//! Sums of money are in the walk's currency. Money that is withheld is null.

use super::facts::{EstimateFacts, MadeWith, WalkFacts, made_with, walk_facts};
use super::words;
use crate::reckon::Prepared;
use crate::reckon::plan::years::Years;
use crate::reckon::plan::{FarmPlan, NEXT_SUM, SetMeans};
use serde::Serialize;
use std::collections::BTreeMap;

/// Name and version of the contract.
pub const PLAN_FORMAT: &str = "underfoot.plan/1";

/// The whole: `underfoot.plan/1`.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PlanFacts {
    /// [`PLAN_FORMAT`].
    pub format: &'static str,
    /// The walk.
    pub walk: WalkFacts,
    /// Capital that may be spent; null for no limit.
    pub budget: Option<f64>,
    /// What is made as large as can be.
    pub rank_by: &'static str,
    /// Ids that must be in it.
    pub must: Vec<String>,
    /// Ids that must not.
    pub never: Vec<String>,
    /// How many options there may be; null for no limit.
    pub at_most: Option<usize>,
    /// Ids of the best set, in the order of the options file.
    pub chosen: Vec<String>,
    /// The same, each the one that adds most to those before it.
    pub order: Vec<AddedFacts>,
    /// Its mean capital.
    pub capital: f64,
    /// Central 90 % interval of the same.
    pub capital_interval: [f64; 2],
    /// Cases avoided a year.
    pub cases_avoided: EstimateFacts,
    /// Share of all cases.
    pub reduction: f64,
    /// Lame cow-days avoided a year.
    pub lame_days_avoided: EstimateFacts,
    /// Capital over its life plus running cost, a year.
    pub yearly_cost: EstimateFacts,
    /// Money saved a year, or null.
    pub saved: Option<EstimateFacts>,
    /// Saved less yearly cost, or null.
    pub net_benefit: Option<EstimateFacts>,
    /// Chance that the net benefit is above 0, or null.
    pub p_pays: Option<f64>,
    /// True where no other set of options can bring more.
    pub exact: bool,
    /// Share by which the best set there is may bring more; 0 where exact.
    pub gap: f64,
    /// Draws over which the search took its means; every figure here is over all draws.
    pub search_draws: usize,
    /// The best set of each capital.
    pub frontier: Vec<StepFacts>,
    /// True where the frontier holds every step there is.
    pub frontier_exact: bool,
    /// What more money brings; null without a budget.
    pub next: Option<NextFacts>,
    /// The best set by net benefit within the same money; null where the plan is that, or money is
    /// withheld.
    pub by_net_benefit: Option<StepFacts>,
    /// The best set of five within the same money; null where the plan holds no more, or `at_most` was given.
    pub few: Option<StepFacts>,
    /// Year by year.
    pub years: Vec<YearFacts>,
    /// New cases a year without the plan.
    pub cases_without: EstimateFacts,
    /// Yearly discount rate, 0–1.
    pub discount_rate: f64,
    /// Where to look next, what is worth most first.
    pub where_to_look: Vec<LookFacts>,
    /// What it takes for the first choice among single options to change; null where none brings
    /// anything.
    pub sensitivity: Option<SensitivityFacts>,
    /// Options that can't be costed.
    pub left_out: Vec<LeftOutFacts>,
    /// Where all this comes from.
    pub made_with: MadeWith,
}

/// One option of the plan in the order of what each adds.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct AddedFacts {
    /// Its id.
    pub id: String,
    /// Mean of what it brings with those before it, in the measure.
    pub brings_so_far: f64,
}

/// A step of the frontier.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct StepFacts {
    /// Mean capital.
    pub capital: f64,
    /// Ids of the set.
    pub chosen: Vec<String>,
    /// Mean cases avoided a year.
    pub cases_avoided: f64,
    /// Mean lame cow-days avoided a year.
    pub lame_days_avoided: f64,
    /// Mean net benefit a year, or null.
    pub net_benefit: Option<f64>,
}

/// What more money brings.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct NextFacts {
    /// The sum that is added to the budget.
    pub sum: f64,
    /// The best set then.
    pub with_sum: Option<StepFacts>,
    /// The first step above the budget that brings more, or null.
    pub next_step: Option<StepFacts>,
}

/// One year of a plan; year 0 is the day the work is paid for.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct YearFacts {
    /// 0, 1, 2, …
    pub year: u32,
    /// Capital.
    pub capital: f64,
    /// Running costs.
    pub running: f64,
    /// Saved, or null.
    pub saved: Option<f64>,
    /// Saved less all costs, or null.
    pub cash: Option<f64>,
    /// The same added up, or null.
    pub cash_to_date: Option<f64>,
    /// The same discounted to year 0, or null.
    pub discounted_to_date: Option<f64>,
    /// New cases to expect; null in year 0.
    pub cases: Option<EstimateFacts>,
}

/// Something worth knowing better.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LookFacts {
    /// Id of the factor.
    pub factor: String,
    /// Id of the segment, or null.
    pub segment: Option<String>,
    /// False where nobody looked.
    pub measured: bool,
    /// What the plan would bring more a year on average if it were known, in the measure.
    pub worth: f64,
    /// Share of the draws in which another plan would be chosen.
    pub changes: f64,
}

/// What it takes for the first choice to change.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SensitivityFacts {
    /// Id of the first choice among single options.
    pub first: String,
    /// Its weights times this put another first; null where it stays first without any weight.
    pub falls_at: Option<f64>,
    /// Id of the option that then comes first.
    pub then_first: Option<String>,
    /// The next ones.
    pub rivals: Vec<RivalFacts>,
}

/// One option behind the first.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RivalFacts {
    /// Its id.
    pub id: String,
    /// Its weights times this put it first; null where ten times as much does not.
    pub overtakes_at: Option<f64>,
}

/// An option that can't be costed.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct LeftOutFacts {
    /// Its id.
    pub id: String,
    /// Why, in plain words.
    pub reason: String,
}

/// The facts of a plan.
pub fn plan_facts(prepared: &Prepared, farm: &FarmPlan, inputs: BTreeMap<String, String>) -> PlanFacts {
    let (plan, best) = (&farm.plan, &farm.plan.best);
    PlanFacts {
        format: PLAN_FORMAT,
        walk: walk_facts(prepared.library, prepared.walk),
        budget: plan.request.budget,
        rank_by: plan.rank_by.id(),
        must: plan.request.must.clone(),
        never: plan.request.never.clone(),
        at_most: plan.request.at_most,
        chosen: ids(prepared, &best.means.chosen),
        order: farm
            .order
            .iter()
            .map(|added| AddedFacts {
                id: prepared.options[added.option].id.clone(),
                brings_so_far: added.brings_so_far,
            })
            .collect(),
        capital: best.means.capital,
        capital_interval: [best.capital.interval.0, best.capital.interval.1],
        cases_avoided: best.cases_avoided.into(),
        reduction: best.reduction,
        lame_days_avoided: best.lame_days_avoided.into(),
        yearly_cost: best.yearly_cost.into(),
        saved: best.saved.map(Into::into),
        net_benefit: best.net_benefit.map(Into::into),
        p_pays: best.p_pays,
        exact: plan.exact,
        gap: plan.gap,
        search_draws: plan.search_draws,
        frontier: plan.frontier.iter().map(|set| step(prepared, set)).collect(),
        frontier_exact: plan.frontier_exact,
        next: plan.request.budget.map(|_| NextFacts {
            sum: NEXT_SUM,
            with_sum: plan.with_next_sum.as_ref().map(|set| step(prepared, set)),
            next_step: plan.next_step.as_ref().map(|set| step(prepared, set)),
        }),
        by_net_benefit: farm.by_net_benefit.as_ref().map(|set| step(prepared, set)),
        few: farm.few.as_ref().map(|set| step(prepared, set)),
        years: years(&farm.years),
        cases_without: farm.years.cases_without.into(),
        discount_rate: farm.years.discount_rate,
        where_to_look: look(prepared, farm),
        sensitivity: sensitivity(prepared, farm),
        left_out: plan
            .left_out
            .iter()
            .map(|out| LeftOutFacts {
                id: prepared.options[out.option].id.clone(),
                reason: words::withheld(prepared.library, &out.why),
            })
            .collect(),
        made_with: made_with(prepared.settings, inputs),
    }
}

fn ids(prepared: &Prepared, chosen: &[usize]) -> Vec<String> {
    chosen.iter().map(|&option| prepared.options[option].id.clone()).collect()
}

fn step(prepared: &Prepared, set: &SetMeans) -> StepFacts {
    StepFacts {
        capital: set.capital,
        chosen: ids(prepared, &set.chosen),
        cases_avoided: set.cases_avoided,
        lame_days_avoided: set.lame_days_avoided,
        net_benefit: set.net_benefit,
    }
}

fn years(years: &Years) -> Vec<YearFacts> {
    let facts = |year: &crate::reckon::plan::years::Year| YearFacts {
        year: year.year,
        capital: year.capital,
        running: year.running,
        saved: year.saved,
        cash: year.cash,
        cash_to_date: year.cash_to_date,
        discounted_to_date: year.discounted_to_date,
        cases: year.cases.map(Into::into),
    };
    years.years.iter().map(facts).collect()
}

fn look(prepared: &Prepared, farm: &FarmPlan) -> Vec<LookFacts> {
    let facts = |knowing: &crate::reckon::plan::knowing::Knowing| LookFacts {
        factor: prepared.library.factors[prepared.weights[knowing.factor].factor].id.clone(),
        segment: knowing.segment.and_then(|at| Some(prepared.walk.segments.get(at)?.id.clone())),
        measured: knowing.measured,
        worth: knowing.worth,
        changes: knowing.changes,
    };
    farm.look.iter().map(facts).collect()
}

fn sensitivity(prepared: &Prepared, farm: &FarmPlan) -> Option<SensitivityFacts> {
    let id = |option: usize| prepared.options[option].id.clone();
    farm.sensitivity.as_ref().map(|found| SensitivityFacts {
        first: id(found.first),
        falls_at: found.falls_at.map(|(by, _)| by),
        then_first: found.falls_at.map(|(_, option)| id(option)),
        rivals: found
            .rivals
            .iter()
            .map(|rival| RivalFacts { id: id(rival.option), overtakes_at: rival.overtakes_at })
            .collect(),
    })
}
