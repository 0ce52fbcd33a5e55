//! The plan under a budget: the set of options that brings most, and what every sum of money brings.
//!
//! Never the sum of single effects: a set is always reckoned as a set (see [`super::sets`]).

pub mod knowing;
mod levels;
mod mask;
pub mod order;
mod search;
pub mod sensitivity;
mod space;
pub mod years;

use super::interventions::Gain;
use super::prices::{OptionCost, Withheld};
use super::stats::summary::mean;
use super::{Estimate, Prepared, RankBy};
use knowing::{Knowing, where_to_look};
use order::{Added, in_order};
use search::{Best, Found, Search};
use sensitivity::{Sensitivity, sensitivity};
use space::Space;
use years::{Years, years};

/// Up to so many free options, segments listed out, the search is always finished.
pub const ALWAYS_EXACT: usize = 20;
/// Beyond that a search for one budget ends after so many steps.
const STEPS: u64 = 200_000;
/// And for each sum on the frontier after so many.
const FRONTIER_STEPS: u64 = 5_000;
/// With more free options than [`ALWAYS_EXACT`] the frontier is followed step by step only where the
/// search for a sum took no more steps than this.
const FRONTIER_EASY: u64 = 1_500;
/// Each sum of such a frontier over the one before, down from the sum of everything.
const FRONTIER_RATIO: f64 = 0.8;
/// Below this share of everything the next sum is nothing.
const FRONTIER_END: f64 = 0.001;

/// The sum, in the walk's currency, whose further worth a plan tells.
pub const NEXT_SUM: f64 = 1_000.0;

/// A plan of more changes than these is told beside the best one of so many: written plans fail where they
/// are not carried out (Bell et al. 2009). How many a farm carries out in a year is judged.
pub const FEW: usize = 5;

/// Years that a plan is followed for.
const HORIZON_YEARS: u32 = 10;
/// Options behind the first whose weights are turned up.
const RIVALS: usize = 4;

/// What a plan is asked for.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct PlanRequest {
    /// Capital that may be spent, in the walk's currency; `None` for no limit.
    pub budget: Option<f64>,
    /// Ids of options that must be in it. An intervention's id stands for all its segments.
    pub must: Vec<String>,
    /// Ids of options that must not.
    pub never: Vec<String>,
    /// How many options there may be, those that must be in it among them; `None` for no limit. A farm
    /// carries out few things in a year.
    pub at_most: Option<usize>,
}

/// Why there is no plan.
#[derive(Clone, Debug, PartialEq)]
pub enum PlanRefusal {
    /// The budget is negative or no number.
    Budget(f64),
    /// The yearly discount rate lies outside 0 to 1.
    DiscountRate(f64),
    /// No option has this id; the ids there are.
    Unknown {
        /// As given.
        id: String,
        /// Ids of the farm's options.
        known: Vec<String>,
    },
    /// The option exists, but nothing it works on was looked at on this walk.
    NotOnList(String),
    /// Must and must never.
    MustAndNever(String),
    /// A must, or what it needs, must never be.
    MustNeedsNever(String),
    /// Two musts exclude each other.
    MustExclude(String, String),
    /// What must be costs more than the budget.
    BelowMusts {
        /// Mean capital of what must be.
        needed: f64,
        /// The budget.
        budget: f64,
    },
    /// What must be, with all that it needs, is more than there may be.
    MoreMusts {
        /// So many must be.
        needed: usize,
        /// So many there may be.
        at_most: usize,
    },
    /// A must can't be costed.
    MustWithoutPrice(LeftOut),
    /// No option can be costed.
    NoPrices(Vec<LeftOut>),
    /// An option's price is negative or no number.
    Price {
        /// Its id.
        option: String,
    },
    /// The best net benefit was asked for, and money is withheld.
    Money(Vec<Withheld>),
    /// More options, segments listed out, than a plan can hold.
    TooManyOptions {
        /// So many there are.
        options: usize,
        /// So many there may be.
        most: usize,
    },
}

impl PlanRefusal {
    /// True where what was asked for is at fault, false where the data are.
    pub fn is_of_the_request(&self) -> bool {
        !matches!(
            self,
            PlanRefusal::DiscountRate(_)
                | PlanRefusal::NoPrices(_)
                | PlanRefusal::Price { .. }
                | PlanRefusal::Money(_)
                | PlanRefusal::TooManyOptions { .. }
        )
    }
}

/// An option that can't be in a costed plan.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LeftOut {
    /// Position in [`Prepared::options`].
    pub option: usize,
    /// Why it can't be costed.
    pub why: Withheld,
}

/// A set of options with means of what it brings and costs a year.
#[derive(Clone, Debug, PartialEq)]
pub struct SetMeans {
    /// Positions in [`Prepared::options`], lowest first.
    pub chosen: Vec<usize>,
    /// Spent once.
    pub capital: f64,
    /// Cases avoided a year.
    pub cases_avoided: f64,
    /// Lame cow-days avoided a year.
    pub lame_days_avoided: f64,
    /// Saved less yearly cost; `None` where costs per case are withheld.
    pub net_benefit: Option<f64>,
    /// What it brings in the measure of the ranking.
    pub brings: f64,
}

/// A set of options with all its figures, over all draws.
#[derive(Clone, Debug, PartialEq)]
pub struct SetOutcome {
    /// Its means.
    pub means: SetMeans,
    /// Spent once.
    pub capital: Estimate,
    /// Running cost a year.
    pub running: Estimate,
    /// Capital over its life plus running cost, a year.
    pub yearly_cost: Estimate,
    /// Cases avoided a year.
    pub cases_avoided: Estimate,
    /// Lame cow-days avoided a year.
    pub lame_days_avoided: Estimate,
    /// Money saved a year; `None` where costs per case are withheld.
    pub saved: Option<Estimate>,
    /// Saved less yearly cost; `None` likewise.
    pub net_benefit: Option<Estimate>,
    /// Chance that the net benefit is above 0; `None` likewise.
    pub p_pays: Option<f64>,
    /// Share of all cases that it avoids, at the means.
    pub reduction: f64,
}

/// The best set under a budget, with what stands round it.
#[derive(Clone, Debug, PartialEq)]
pub struct Plan {
    /// What was asked for.
    pub request: PlanRequest,
    /// What is made as large as can be.
    pub rank_by: RankBy,
    /// The best set.
    pub best: SetOutcome,
    /// True where no other set can bring more.
    pub exact: bool,
    /// The share by which the best set there is may bring more than this one; 0 where exact.
    pub gap: f64,
    /// The best set of each capital, from the least to the most; each brings more than the one before.
    pub frontier: Vec<SetMeans>,
    /// True where the frontier holds every step there is.
    pub frontier_exact: bool,
    /// The best set with [`NEXT_SUM`] more; `None` without a budget.
    pub with_next_sum: Option<SetMeans>,
    /// The first step of the frontier above the budget; `None` where more money brings no more.
    pub next_step: Option<SetMeans>,
    /// Draws over which the search took its means; the figures are over all draws.
    pub search_draws: usize,
    /// Options that can't be costed.
    pub left_out: Vec<LeftOut>,
}

/// The best set under a budget, and the frontier.
///
/// # Errors
/// Any [`PlanRefusal`].
pub fn plan(prepared: &Prepared, request: &PlanRequest) -> Result<Plan, PlanRefusal> {
    check(prepared, request)?;
    let (space, left_out) = Space::new(prepared, request)?;
    let mut search = Search::new(&space);
    let budget = request.budget.unwrap_or(f64::INFINITY);
    let below = || PlanRefusal::BelowMusts { needed: space.capital_of(space.base), budget };
    let steps = (search.free().len() > ALWAYS_EXACT).then_some(STEPS);
    let best = search.best(budget, steps).ok_or_else(below)?;
    let more = request.budget.and_then(|budget| search.best(budget + NEXT_SUM, steps));
    let more = more.map(|more| if more.found.value > best.found.value { more.found } else { best.found });
    let further = [Some(best.found), more].into_iter().flatten().collect();
    let (frontier, frontier_exact) = frontier(prepared, &space, &mut search, further);
    let outcome = set_outcome(prepared, &space.chosen(best.found.set));
    let beyond =
        |step: &&SetMeans| !space::affords(budget, step.capital) && step.brings > outcome.means.brings;
    Ok(Plan {
        request: request.clone(),
        rank_by: prepared.settings.rank_by,
        with_next_sum: more.map(|more| set_means(prepared, &space.chosen(more.set))),
        next_step: frontier.iter().find(beyond).cloned(),
        best: outcome,
        exact: best.bound <= best.found.value,
        gap: gap(&best),
        frontier,
        frontier_exact,
        search_draws: search.draws(),
        left_out,
    })
}

/// A plan with all that is said round it.
#[derive(Clone, Debug, PartialEq)]
pub struct FarmPlan {
    /// The plan.
    pub plan: Plan,
    /// Its options, each the one that adds most to those before it.
    pub order: Vec<Added>,
    /// The best set by net benefit within the same money, where the plan is by another measure and
    /// costs per case are known.
    pub by_net_benefit: Option<SetMeans>,
    /// The best set of [`FEW`] within the same money, where the plan holds more and nobody said how many
    /// there may be.
    pub few: Option<SetMeans>,
    /// The plan year by year.
    pub years: Years,
    /// Where to look next, what is worth most first.
    pub look: Vec<Knowing>,
    /// What it takes for the first choice among single options to change.
    pub sensitivity: Option<Sensitivity>,
}

/// The best set by net benefit, where that is another question than the plan's.
fn by_net_benefit(prepared: &Prepared, request: &PlanRequest) -> Option<SetMeans> {
    if prepared.settings.rank_by == RankBy::NetBenefit {
        return None;
    }
    let mut by_money = prepared.clone();
    by_money.settings.rank_by = RankBy::NetBenefit;
    best_set(&by_money, request).ok()
}

/// The best set of few options, where the plan has many.
fn few(prepared: &Prepared, request: &PlanRequest, chosen: &[usize]) -> Option<SetMeans> {
    if chosen.len() <= FEW || request.at_most.is_some() {
        return None;
    }
    best_set(prepared, &PlanRequest { at_most: Some(FEW), ..request.clone() }).ok()
}

/// The plan with its years, where to look next, and its sensitivity.
///
/// # Errors
/// Any [`PlanRefusal`].
pub fn farm_plan(prepared: &Prepared, request: &PlanRequest) -> Result<FarmPlan, PlanRefusal> {
    let plan = plan(prepared, request)?;
    let alone = |option: usize| {
        let priced = prepared.options[option].cost.mean_yearly_cost().is_some();
        match prepared.settings.rank_by {
            RankBy::NetBenefit if !priced => f64::NEG_INFINITY,
            _ => set_means(prepared, &[option]).brings,
        }
    };
    let alone: Vec<f64> = (0..prepared.options.len()).map(alone).collect();
    Ok(FarmPlan {
        years: years(prepared, &plan.best.means.chosen, HORIZON_YEARS),
        look: where_to_look(prepared, &plan),
        sensitivity: sensitivity(prepared, &alone, RIVALS),
        order: in_order(prepared, &plan.best.means.chosen),
        by_net_benefit: by_net_benefit(prepared, request),
        few: few(prepared, request, &plan.best.means.chosen),
        plan,
    })
}

/// Options that were chosen otherwise than by a plan, told like one: each after those that bring more, and
/// year by year. No other set is sought, so there is no frontier and no gap.
pub fn as_plan(prepared: &Prepared, chosen: &[usize]) -> FarmPlan {
    let plan = Plan {
        request: PlanRequest::default(),
        rank_by: prepared.settings.rank_by,
        best: set_outcome(prepared, chosen),
        exact: false,
        gap: 0.0,
        frontier: Vec::new(),
        frontier_exact: false,
        with_next_sum: None,
        next_step: None,
        search_draws: prepared.settings.draws,
        left_out: Vec::new(),
    };
    FarmPlan {
        years: years(prepared, chosen, HORIZON_YEARS),
        look: Vec::new(),
        sensitivity: None,
        order: in_order(prepared, chosen),
        by_net_benefit: None,
        few: None,
        plan,
    }
}

/// The best set under a budget alone: what [`plan`] puts in its middle.
///
/// # Errors
/// Any [`PlanRefusal`].
pub fn best_set(prepared: &Prepared, request: &PlanRequest) -> Result<SetMeans, PlanRefusal> {
    check(prepared, request)?;
    let (space, _) = Space::new(prepared, request)?;
    let mut search = Search::new(&space);
    let budget = request.budget.unwrap_or(f64::INFINITY);
    let steps = (search.free().len() > ALWAYS_EXACT).then_some(STEPS);
    let best = search.best(budget, steps);
    let best =
        best.ok_or_else(|| PlanRefusal::BelowMusts { needed: space.capital_of(space.base), budget })?;
    Ok(set_means(prepared, &space.chosen(best.found.set)))
}

fn check(prepared: &Prepared, request: &PlanRequest) -> Result<(), PlanRefusal> {
    if let Some(budget) = request.budget.filter(|budget| !(*budget >= 0.0 && budget.is_finite())) {
        return Err(PlanRefusal::Budget(budget));
    }
    let rate = super::prices::discount_rate(prepared.library, prepared.walk);
    if !(0.0..=1.0).contains(&rate) {
        return Err(PlanRefusal::DiscountRate(rate));
    }
    if prepared.settings.rank_by == RankBy::NetBenefit && prepared.setting.case_costs.draws().is_none() {
        return Err(PlanRefusal::Money(prepared.money_withheld()));
    }
    Ok(())
}

fn gap(best: &Best) -> f64 {
    let more = best.bound - best.found.value;
    match more > 0.0 {
        true if best.bound > 0.0 => (more / best.bound).min(1.0),
        true => 1.0,
        false => 0.0,
    }
}

/// The best set of each capital, from everything down.
/// `found` are best sets that are known already.
fn frontier(
    prepared: &Prepared,
    space: &Space,
    search: &mut Search,
    mut found: Vec<Found>,
) -> (Vec<SetMeans>, bool) {
    let small = search.free().len() <= ALWAYS_EXACT;
    let mut exact = true;
    let mut budget = f64::INFINITY;
    let least = space.capital_of(space.base);
    while let Some(step) = search.best(budget, (!small).then_some(FRONTIER_STEPS)) {
        exact &= step.bound <= step.found.value;
        found.push(step.found);
        let capital = step.found.capital;
        // The next sum lies below this one by more than rounding.
        let below = capital - 1e-6 * capital.max(1.0);
        if capital <= least || below < least {
            break;
        }
        let most = found.iter().map(|found| found.capital).fold(capital, f64::max);
        let over = capital - least;
        let easy = small || step.steps <= FRONTIER_EASY;
        budget = match easy {
            true => below,
            false if over < FRONTIER_END * (most - least) => least,
            false => below.min(least + FRONTIER_RATIO * over),
        };
        exact &= easy;
    }
    found.sort_by(|a, b| a.capital.total_cmp(&b.capital).then(b.value.total_cmp(&a.value)));
    let mut best_so_far = f64::NEG_INFINITY;
    found.retain(|step| {
        let more = step.value > best_so_far;
        best_so_far = best_so_far.max(step.value);
        more
    });
    (found.iter().map(|step| set_means(prepared, &space.chosen(step.set))).collect(), exact)
}

/// The means of a set of options, over all draws.
pub fn set_means(prepared: &Prepared, chosen: &[usize]) -> SetMeans {
    means_of(prepared, chosen, &prepared.set_gain(chosen))
}

fn means_of(prepared: &Prepared, chosen: &[usize], gain: &Gain) -> SetMeans {
    let costs = || chosen.iter().map(|&option| &prepared.options[option].cost);
    let yearly: f64 = costs().filter_map(OptionCost::mean_yearly_cost).sum();
    SetMeans {
        chosen: chosen.to_vec(),
        capital: costs().filter_map(OptionCost::mean_capital).sum(),
        cases_avoided: mean(&gain.cases),
        lame_days_avoided: mean(&gain.lame_days),
        net_benefit: gain.saved.as_ref().map(|saved| mean(saved) - yearly),
        brings: prepared.measure(gain, chosen),
    }
}

/// All figures of a set of options, over all draws.
pub fn set_outcome(prepared: &Prepared, chosen: &[usize]) -> SetOutcome {
    let gain = prepared.set_gain(chosen);
    let total = |part: fn(&OptionCost) -> Option<&Vec<f64>>| {
        let mut total = vec![0.0; prepared.settings.draws];
        for draws in chosen.iter().filter_map(|&option| part(&prepared.options[option].cost)) {
            total.iter_mut().zip(draws).for_each(|(total, draw)| *total += draw);
        }
        total
    };
    let yearly_cost = total(OptionCost::yearly_draws);
    let net = gain
        .saved
        .as_ref()
        .map(|saved| saved.iter().zip(&yearly_cost).map(|(saved, cost)| saved - cost).collect::<Vec<_>>());
    let cases = prepared.setting.hundred_cows * mean(&prepared.setting.rates.rate_per_100_cow_years);
    let means = means_of(prepared, chosen, &gain);
    SetOutcome {
        reduction: if cases > 0.0 { means.cases_avoided / cases } else { 0.0 },
        p_pays: net
            .as_ref()
            .map(|net| net.iter().filter(|net| **net > 0.0).count() as f64 / net.len() as f64),
        capital: Estimate::of(total(OptionCost::capital_draws)),
        running: Estimate::of(total(OptionCost::running_draws)),
        yearly_cost: Estimate::of(yearly_cost),
        cases_avoided: Estimate::of(gain.cases),
        lame_days_avoided: Estimate::of(gain.lame_days),
        saved: gain.saved.map(Estimate::of),
        net_benefit: net.map(Estimate::of),
        means,
    }
}

#[cfg(test)]
mod tests;
