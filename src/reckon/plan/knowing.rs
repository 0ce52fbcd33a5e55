//! Where to look next: what it is worth to know an exposure that nobody measured, or measured thinly.
//!
//! **Method.** Partial expected value of perfect information: how much more the best of a few plans
//! would bring on average if it were chosen knowing that exposure, against the plan as it stands
//! (Claxton 1999, J Health Econ 18:341). It is had from the draws alone, by sorting them on the
//! exposure and cutting them into blocks (Strong & Oakley 2013, Med Decis Making 33:755). In every
//! block the plan is chosen on one half of the draws and valued on the other, so that chance doesn't
//! look like knowledge; what comes out below 0 is 0.
//!
//! **Assumptions.** The plans compared are the one that stands, those of the frontier below the
//! budget, and the plan with one other option put in for what it excludes or no longer leaves money
//! for. An unanswered factor's exposure is that of farms at large (Beta with the typical mean and
//! standard deviation of the factors file); the farm's rate is held as it is.

use super::super::RankBy;
use super::super::exposure::Exposure;
use super::super::interventions::{FarmOption, farm_options};
use super::super::stats::summary::mean;
use super::super::stats::table::QuantileTable;
use super::space::affords;
use super::{Plan, PlanRequest, Prepared, SetMeans};
use crate::model::intervention::Each;

/// Blocks that the draws are cut into.
const BLOCKS: usize = 16;
/// Sets of the frontier that are compared.
const FRONTIER_SETS: usize = 12;

/// What knowing one exposure is worth.
#[derive(Clone, Debug, PartialEq)]
pub struct Knowing {
    /// Position of the factor beside [`Prepared::weights`].
    pub factor: usize,
    /// Index of the segment, where the factor is asked per segment and was answered.
    pub segment: Option<usize>,
    /// False where nobody looked.
    pub measured: bool,
    /// What the plan would bring more a year on average if this were known, in the measure.
    pub worth: f64,
    /// Share of the draws in which another plan than the one that stands would be chosen.
    pub changes: f64,
}

/// One plan's value by draw.
type Values = Vec<f64>;

/// Every exposure that nobody knows closely, what is worth most first.
pub fn where_to_look(prepared: &Prepared, plan: &Plan) -> Vec<Knowing> {
    let mut all = thin(prepared, plan);
    all.extend(unanswered(prepared, plan));
    all.sort_by(|a, b| b.worth.total_cmp(&a.worth));
    all
}

fn values(prepared: &Prepared, chosen: &[usize]) -> Values {
    let gain = prepared.set_gain(chosen);
    match (prepared.settings.rank_by, gain.saved) {
        (RankBy::LameDays, _) => gain.lame_days,
        (RankBy::NetBenefit, Some(mut saved)) => {
            for yearly in chosen.iter().filter_map(|&k| prepared.options[k].cost.yearly_draws()) {
                saved.iter_mut().zip(yearly).for_each(|(saved, yearly)| *saved -= yearly);
            }
            saved
        }
        (RankBy::Cases, _) | (RankBy::NetBenefit, None) => gain.cases,
    }
}

/// The worth of knowing `x`, with the first of the plans the one that stands, and the share of draws
/// in which another is chosen.
pub(super) fn worth(x: &[f64], plans: &[Values]) -> (f64, f64) {
    let mut order: Vec<usize> = (0..x.len()).collect();
    order.sort_by(|&a, &b| x[a].total_cmp(&x[b]));
    let (mut gained, mut changed) = (0.0, 0.0);
    for block in order.chunks((x.len() / BLOCKS).max(2)) {
        let half = |from: usize, plan: &Values| {
            let (mut total, mut count) = (0.0, 0.0);
            for &draw in block.iter().skip(from).step_by(2) {
                total += plan[draw];
                count += 1.0;
            }
            if count > 0.0 { total / count } else { 0.0 }
        };
        for (choose, judge) in [(0, 1), (1, 0)] {
            let best = (1..plans.len()).fold(0, |best, plan| {
                if half(choose, &plans[plan]) > half(choose, &plans[best]) { plan } else { best }
            });
            let weight = 0.5 * block.len() as f64 / x.len() as f64;
            gained += weight * (half(judge, &plans[best]) - half(judge, &plans[0]));
            changed += if best == 0 { 0.0 } else { weight };
        }
    }
    (gained.max(0.0), changed)
}

fn varies(x: &[f64]) -> bool {
    x.first().is_some_and(|first| x.iter().any(|other| other != first))
}

/// Counts and shares that were measured, but not closely.
fn thin(prepared: &Prepared, plan: &Plan) -> Vec<Knowing> {
    let mut sets = vec![plan.best.means.chosen.clone()];
    let below = |step: &&SetMeans| affords(plan.request.budget.unwrap_or(f64::INFINITY), step.capital);
    let frontier = plan.frontier.iter().filter(below).rev().take(FRONTIER_SETS);
    sets.extend(frontier.map(|step| step.chosen.clone()));
    let stands = Standing::new(prepared, &plan.request, plan.best.means.chosen.clone());
    sets.extend((0..prepared.options.len()).filter_map(|option| stands.with(option)));
    let mut seen: Vec<&Vec<usize>> = Vec::new();
    for set in &sets {
        if !seen.contains(&set) {
            seen.push(set);
        }
    }
    let plans: Vec<Values> = seen.into_iter().map(|set| values(prepared, set)).collect();
    let mut all = Vec::new();
    for (factor, exposure) in prepared.exposures.iter().enumerate() {
        let Some(exposure) = exposure else { continue };
        let places: Vec<(Option<usize>, &Vec<f64>)> = match &exposure.by_segment {
            None => vec![(None, &exposure.x)],
            Some(segments) => segments.iter().enumerate().map(|(at, x)| (Some(at), x)).collect(),
        };
        for (segment, x) in places.into_iter().filter(|(_, x)| varies(x)) {
            let (worth, changes) = worth(x, &plans);
            let seen = |at: usize| exposure.looked_at.get(at).copied().unwrap_or(true);
            let measured = segment.is_none_or(seen);
            all.push(Knowing { factor, segment, measured, worth, changes });
        }
    }
    all
}

/// Factors with no answered item that the checklist asks for.
fn unanswered(prepared: &Prepared, plan: &Plan) -> Vec<Knowing> {
    let asked = |factor: &usize| {
        let id = &prepared.library.factors[prepared.weights[*factor].factor].id;
        prepared.exposures[*factor].is_none()
            && prepared.library.checklist.items().any(|item| item.factor == *id)
    };
    let open: Vec<usize> = (0..prepared.weights.len()).filter(asked).collect();
    if open.is_empty() {
        return Vec::new();
    }
    let mut known = prepared.exposures.clone();
    open.iter().for_each(|&factor| known[factor] = Some(at_large(prepared, factor)));
    let options = farm_options(prepared.library, prepared.walk, &prepared.weights, &known, &prepared.draws);
    let mut farm = prepared.clone();
    let mut all = Vec::new();
    for factor in open {
        farm.exposures[factor] = known[factor].clone();
        farm.options = with_factor(&options, prepared, factor);
        let chosen: Vec<usize> = plan
            .best
            .means
            .chosen
            .iter()
            .filter_map(|&k| farm.options.iter().position(|option| option.id == prepared.options[k].id))
            .collect();
        let stands = Standing::new(&farm, &plan.request, chosen.clone());
        let touches = |&option: &usize| farm.options[option].acts.iter().any(|act| act.factor == factor);
        let swaps = (0..farm.options.len()).filter(touches);
        let mut sets = vec![chosen];
        sets.extend(swaps.filter_map(|option| stands.with(option)));
        let plans: Vec<Values> = sets.iter().map(|set| values(&farm, set)).collect();
        if let Some(exposure) = &farm.exposures[factor] {
            let (worth, changes) = worth(&exposure.x, &plans);
            all.push(Knowing { factor, segment: None, measured: false, worth, changes });
        }
        farm.exposures[factor] = None;
    }
    all
}

/// The options of a farm where this factor alone is known beside those that were answered.
fn with_factor(options: &[FarmOption], prepared: &Prepared, factor: usize) -> Vec<FarmOption> {
    let known = |at: usize| at == factor || prepared.exposures[at].is_some();
    let mut options = options.to_vec();
    options.iter_mut().for_each(|option| option.acts.retain(|act| known(act.factor)));
    options.retain(|option| !option.acts.is_empty() || option.duration_ratio.is_some());
    options
}

/// The exposure of farms at large: what is known of a factor that nobody looked at.
fn at_large(prepared: &Prepared, factor: usize) -> Exposure {
    let model = &prepared.library.factors[prepared.weights[factor].factor];
    let (typical, sd) = (model.typical_mean, model.typical_sd);
    let concentration = typical * (1.0 - typical) / (sd * sd) - 1.0;
    let x = if concentration.is_finite() && concentration > 0.0 {
        let table = QuantileTable::beta(typical * concentration, (1.0 - typical) * concentration);
        let uniforms = prepared.draws.uniforms(&format!("look:{}", model.id), 0);
        uniforms.into_iter().map(|u| table.at(u)).collect()
    } else {
        vec![typical; prepared.settings.draws]
    };
    let segments = prepared.walk.segments.len();
    let asked_by_segment =
        |item: &crate::model::checklist::Item| item.factor == model.id && item.each == Each::Segment;
    let per_segment = segments > 0 && prepared.library.checklist.items().any(asked_by_segment);
    Exposure {
        mean: mean(&x),
        by_segment: per_segment.then(|| vec![x.clone(); segments]),
        looked_at: vec![false; if per_segment { segments } else { 0 }],
        x,
    }
}

/// The plan that stands, on a farm of which more may be known.
struct Standing<'a> {
    farm: &'a Prepared<'a>,
    request: &'a PlanRequest,
    chosen: Vec<usize>,
    /// What each option of the plan brings alone for its capital, least first.
    rates: Vec<(usize, f64)>,
}

impl<'a> Standing<'a> {
    fn new(farm: &'a Prepared<'a>, request: &'a PlanRequest, chosen: Vec<usize>) -> Standing<'a> {
        let capital = |k: usize| farm.options[k].cost.mean_capital().unwrap_or(0.0).max(1e-9);
        let mut rates: Vec<(usize, f64)> =
            chosen.iter().map(|&k| (k, mean(&values(farm, &[k])) / capital(k))).collect();
        rates.sort_by(|a, b| a.1.total_cmp(&b.1));
        Standing { farm, request, chosen, rates }
    }

    fn capital(&self, set: &[usize]) -> f64 {
        set.iter().filter_map(|&k| self.farm.options[k].cost.mean_capital()).sum()
    }

    fn named(&self, ids: &[String], k: usize) -> bool {
        let option = &self.farm.options[k];
        let base = &self.farm.library.interventions[option.intervention].id;
        ids.iter().any(|id| *id == option.id || id == base)
    }

    /// An option with all it needs; `None` where that is ruled out or can't be costed.
    fn whole(&self, option: usize) -> Option<Vec<usize>> {
        let mut set = vec![option];
        let mut next = 0;
        while let Some(&k) = set.get(next) {
            let needed = self.farm.needed_by(k);
            set.extend(needed.into_iter().filter(|k| !set.contains(k)).collect::<Vec<_>>());
            next += 1;
        }
        let may = |&k: &usize| {
            self.farm.options[k].cost.mean_capital().is_some()
                && !self.named(&self.request.never, k)
                && !self.quarrels(k, &set)
        };
        set.iter().all(may).then_some(set)
    }

    fn quarrels(&self, k: usize, set: &[usize]) -> bool {
        set.iter().any(|&other| self.farm.exclude(k, other))
    }

    /// The plan with one more option and all it needs, less what they exclude and, where the money no
    /// longer reaches or they are too many, less the options that bring least for theirs. `None` where it is in the plan
    /// already, is ruled out, or can't be paid for.
    fn with(&self, option: usize) -> Option<Vec<usize>> {
        if self.chosen.contains(&option) {
            return None;
        }
        let mut set = self.whole(option)?;
        let stays = |k: &&usize| !set.contains(k) && !self.quarrels(**k, &set);
        let mut kept: Vec<usize> = self.chosen.iter().filter(stays).copied().collect();
        let budget = self.request.budget.unwrap_or(f64::INFINITY);
        let at_most = self.request.at_most.unwrap_or(usize::MAX);
        let may = |set: &[usize], kept: &[usize]| {
            set.len() + kept.len() <= at_most && affords(budget, self.capital(set) + self.capital(kept))
        };
        for (k, _) in &self.rates {
            if may(&set, &kept) {
                break;
            }
            kept.retain(|other| other != k);
        }
        // An option that lost what it needs goes too.
        for _ in 0..kept.len() {
            let there = |k: &usize| set.contains(k) || kept.contains(k);
            let whole = |k: &&usize| self.farm.needed_by(**k).iter().all(there);
            kept = kept.iter().filter(whole).copied().collect();
        }
        set.extend(kept);
        set.sort_unstable();
        let musts = self.chosen.iter().filter(|&&k| self.named(&self.request.must, k));
        let has_musts = musts.clone().all(|k| set.contains(k));
        (has_musts && may(&set, &[])).then_some(set)
    }
}
