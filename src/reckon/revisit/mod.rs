//! Coming back: what was done, what changed, whether it is more than chance, and whether it is what
//! was promised.
//!
//! Two walks are compared; with more, the last with the one before it, and all of them make up the
//! farm's line over the years. Rates before and after: ratio of two Poisson rates with the exact conditional
//! interval (Przyborowski & Wilenski 1940, Biometrika 31:313), level 95 % as for everything that rests
//! on records. A comparison before and after on one farm has no control group: nothing here says
//! that a change *worked*, only what the counts bear.

pub mod changes;
pub mod drift;
pub mod expected;
pub mod judged;
pub mod learning;
pub mod periods;
pub mod real_costs;
pub mod signs;

use super::stats::draws::Draws;
use super::stats::interval::{RateRatio, poisson_interval, rate_ratio};
use super::stats::power::fewest_months;
use super::{Prepared, score};
use crate::model::actions::{Action, Actions, Standing, What, same_name};
use crate::model::walk::Walk;
use chrono::NaiveDate;
use judged::{DAYS_BEFORE_WALK, FEWEST_CASES, HERD_CHANGE};

/// Level of the intervals that rest on records.
pub const LEVEL: f64 = 0.95;
/// Days in a mean month.
pub(crate) const DAYS_A_MONTH: f64 = 30.4375;

/// One walk with what its records hold beside the counts.
#[derive(Clone, Copy, Debug)]
pub struct Visit<'a> {
    /// The walk in draws.
    pub prepared: &'a Prepared<'a>,
    /// First day of each case of its records, in any order; `None` where only totals are known.
    pub case_days: Option<&'a [NaiveDate]>,
    /// Median days from the first sign to treatment, from its records.
    pub days_to_treatment: Option<f64>,
}

impl<'a> Visit<'a> {
    /// A walk with nothing but its totals.
    pub fn new(prepared: &'a Prepared<'a>) -> Self {
        Visit { prepared, case_days: None, days_to_treatment: None }
    }
}

/// Why two walks can't be compared at all.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum RevisitRefusal {
    /// Fewer than two walks.
    OneWalk,
    /// The walks are of two farms.
    TwoFarms {
        /// Farm of the first.
        before: String,
        /// Farm of the other.
        after: String,
    },
    /// The walks are of two checklists.
    TwoChecklists {
        /// Checklist of the first.
        before: String,
        /// Checklist of the other.
        after: String,
    },
    /// A walk is not later than the one given before it.
    Order {
        /// Date of the walk given first.
        before: NaiveDate,
        /// Date of the walk given after it.
        after: NaiveDate,
    },
    /// The walks were prepared with different numbers of draws.
    Draws,
    /// The actions are those of another farm.
    ActionsOfOtherFarm {
        /// Farm of the actions.
        actions: String,
        /// Farm of the walks.
        walks: String,
    },
}

/// Something the reader has to know about the comparison.
#[derive(Clone, Debug, PartialEq)]
pub enum Caution {
    /// The farm has the same code and another name.
    Renamed {
        /// Name on the first walk.
        before: String,
        /// Name on the last.
        after: String,
    },
    /// The herd grew or shrank so much that the farm is hardly the same.
    HerdChanged {
        /// Average cows in the first period, or cows at the first walk without records.
        before: f64,
        /// The same of the last.
        after: f64,
    },
    /// Other people saw the cases.
    ObserversDiffer,
    /// The later records begin more than a month before the earlier walk.
    RecordsBeforeFirstWalk {
        /// First day of the later records.
        from: NaiveDate,
        /// Day of the earlier walk.
        walk: NaiveDate,
    },
    /// One period is at least twice as long as the other.
    UnlikeLength {
        /// Days of the first period.
        before: i64,
        /// Days of the last.
        after: i64,
    },
    /// Part of the later records lies before an action can have shown.
    BeforeEffect {
        /// Index in [`Actions::list`].
        action: usize,
        /// First day on which cases could be fewer.
        effect: NaiveDate,
    },
    /// Segments of the track were added, dropped or renamed.
    SegmentsChanged,
    /// The actions were agreed after a walk that is not among those given.
    ActionsOfOtherWalk {
        /// Date of that walk.
        walk: NaiveDate,
    },
}

/// What the counts bear, and no more.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// No ratio: see [`Revisit::rates`].
    NoRatio,
    /// Too few cases for any verdict.
    TooFew,
    /// The periods are not alike enough to be judged: other months, or another herd.
    NotComparable,
    /// The difference may be chance.
    MayBeChance,
    /// Fewer cases than chance brings, though nothing that was looked at got better.
    FewerWithoutChange,
    /// Fewer cases than chance brings, within what the changes were expected to bring.
    FewerAsExpected,
    /// Fewer than chance and than the changes were expected to bring.
    FewerThanExpected,
    /// Fewer cases than chance brings, but more than the changes were expected to leave.
    LessThanExpected,
    /// More cases than chance brings.
    More,
}

/// The two rates and their ratio.
#[derive(Clone, Debug, PartialEq)]
pub struct Rates {
    /// The periods compared.
    pub compared: periods::Compared,
    /// After over before.
    pub ratio: RateRatio,
}

/// One walk in the farm's line over the years.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Moment {
    /// Day of the walk.
    pub date: NaiveDate,
    /// Score, 0–100, with its 90 % interval.
    pub score: Option<(f64, Option<(f64, f64)>)>,
    /// Cases, cow-years, cases per 100 cow-years, and their exact 95 % interval.
    pub rate: Option<(u64, f64, f64, (f64, f64))>,
}

/// An agreed action, and what the later walk saw of it.
#[derive(Clone, Debug, PartialEq)]
pub struct ActionReview {
    /// Index in [`Actions::list`].
    pub action: usize,
    /// How it stands on the day of the last walk.
    pub standing: Standing,
    /// The factors it works on with what became of them, where it is done.
    pub seen: Vec<(usize, changes::State)>,
}

/// All that two or more walks of a farm say.
#[derive(Clone, Debug)]
pub struct Revisit {
    /// Every item and place.
    pub items: Vec<changes::ItemChange>,
    /// Every factor of the system, in file order.
    pub factors: Vec<changes::FactorChange>,
    /// Rates before and after, or why there are none.
    pub rates: Result<Rates, periods::NoRates>,
    /// What the changes of exposure were expected to do.
    pub expected: expected::Expected,
    /// Whether drift alone could explain what was seen; `None` without a ratio.
    pub drift: Option<drift::Drift>,
    /// The weights after this farm's experience, or why they are not given.
    pub learned: Result<learning::Learned, learning::NotLearned>,
    /// Fewest months of records after the change that would tell the expected change from chance;
    /// `None` where no number of months up to twenty years would.
    pub months_to_see: Option<u32>,
    /// Months of records before it that this is reckoned with; a year where there are none.
    pub baseline_months: f64,
    /// What the counts bear.
    pub verdict: Verdict,
    /// What to know beside it.
    pub cautions: Vec<Caution>,
    /// Agreed actions, in file order.
    pub actions: Vec<ActionReview>,
    /// What to watch first.
    pub signs: Vec<signs::Sign>,
    /// Median days from first sign to treatment before and after.
    pub days_to_treatment: (Option<f64>, Option<f64>),
    /// Every walk, in order of time.
    pub line: Vec<Moment>,
}

/// The two walks that are compared: the last and the one before it.
pub fn compared<'v, 'a>(visits: &'v [Visit<'a>]) -> Option<(&'v Visit<'a>, &'v Visit<'a>)> {
    match visits {
        [.., before, after] => Some((before, after)),
        _ => None,
    }
}

/// Compares the last of several walks with the one before it, and draws the farm's line through all.
///
/// # Errors
/// [`RevisitRefusal`] where the walks can't belong together, or the actions not to them.
pub fn revisit(visits: &[Visit], actions: Option<&Actions>) -> Result<Revisit, RevisitRefusal> {
    let (before, after) = compared(visits).ok_or(RevisitRefusal::OneWalk)?;
    judge(visits, actions)?;
    let moved = changes::moved(before.prepared, after.prepared, &apart(after.prepared.draws));
    let rates = rates(before, after);
    let timed = expected::Timed {
        drops: changes::drops(&moved),
        from: signs::factors_from(before.prepared, actions),
    };
    let days = rates.as_ref().map_or(&[][..], |rates| &rates.compared.days_after);
    let ratios = timed.ratios(before.prepared, days);
    let in_full = expected::ratio_draws(before.prepared, &timed.drops);
    let expected = expected::expected(before.prepared, &ratios, &in_full, rates.as_ref().ok());
    let cautions = cautions(visits, actions, rates.as_ref().ok());
    let comparable = comparable(rates.as_ref().ok(), &cautions);
    let factors = changes::factors(&moved);
    let baseline_months =
        rates.as_ref().map_or(12.0, |rates| rates.compared.before.days as f64 / DAYS_A_MONTH);
    let verdict = verdict(rates.as_ref().ok(), &expected, &factors, comparable);
    Ok(Revisit {
        items: changes::items(before.prepared, after.prepared),
        drift: rates.as_ref().ok().and_then(|rates| drift::drift(&rates.ratio)),
        learned: learning::learned(before.prepared, &factors, &ratios, rates.as_ref().ok(), comparable),
        months_to_see: months_to_see(before, baseline_months, expected.in_full),
        baseline_months,
        actions: actions.map_or(Vec::new(), |actions| reviews(visits, actions)),
        signs: signs::signs(before.prepared, actions, after.prepared.walk.date),
        days_to_treatment: (before.days_to_treatment, after.days_to_treatment),
        line: visits.iter().map(moment).collect(),
        verdict,
        cautions,
        expected,
        factors,
        rates,
    })
}

fn judge(visits: &[Visit], actions: Option<&Actions>) -> Result<(), RevisitRefusal> {
    let [first, others @ ..] = visits else { return Err(RevisitRefusal::OneWalk) };
    if others.is_empty() {
        return Err(RevisitRefusal::OneWalk);
    }
    let walk = first.prepared.walk;
    for other in others {
        let later = other.prepared.walk;
        let same_code = walk.farm_code.is_some() && walk.farm_code == later.farm_code;
        let other_code = !same_code && walk.farm_code.is_some() && later.farm_code.is_some();
        if other_code || !same_code && !same_name(&walk.farm_name, &later.farm_name) {
            let (before, after) = (walk.farm_name.clone(), later.farm_name.clone());
            return Err(RevisitRefusal::TwoFarms { before, after });
        }
        if walk.checklist != later.checklist {
            let (before, after) = (walk.checklist.clone(), later.checklist.clone());
            return Err(RevisitRefusal::TwoChecklists { before, after });
        }
        if first.prepared.draws != other.prepared.draws {
            return Err(RevisitRefusal::Draws);
        }
    }
    for pair in visits.windows(2) {
        let (before, after) = (pair[0].prepared.walk.date, pair[1].prepared.walk.date);
        if after <= before {
            return Err(RevisitRefusal::Order { before, after });
        }
    }
    let farms = || visits.iter().map(|visit| &visit.prepared.walk.farm_name);
    match actions {
        Some(actions) if !farms().any(|farm| actions.is_of(farm)) => {
            let (actions, walks) = (actions.farm.clone(), walk.farm_name.clone());
            Err(RevisitRefusal::ActionsOfOtherFarm { actions, walks })
        }
        _ => Ok(()),
    }
}

/// Draws of their own for the exposures of the later walk. What was counted on two days errs
/// independently; with the draws of the first walk the errors would cancel.
fn apart(draws: Draws) -> Draws {
    const OTHER_SEED: u64 = 0x5EED_0F7E_A12A_7E12;
    Draws::new(draws.count(), draws.seed() ^ OTHER_SEED).unwrap_or(draws)
}

fn rates(before: &Visit, after: &Visit) -> Result<Rates, periods::NoRates> {
    let compared = periods::compare(before, after)?;
    let (b, a) = (compared.before, compared.after);
    let ratio = rate_ratio(a.cases, a.cow_years, b.cases, b.cow_years, LEVEL);
    // Cow-years are above 0 and finite by the readers; counts beyond 1e10 are no farm's.
    Ok(Rates { ratio: ratio.ok_or(periods::NoRates::NotReckoned)?, compared })
}

fn months_to_see(before: &Visit, baseline_months: f64, expected: f64) -> Option<u32> {
    let walk = before.prepared.walk;
    let per_cow_year = before.prepared.herd.mean_per_100_cow_years / 100.0;
    let cows = walk.records.as_ref().map_or(walk.cows as f64, |records| records.average_cows);
    fewest_months(per_cow_year * cows / 12.0, baseline_months, expected)
}

fn moment(visit: &Visit) -> Moment {
    let prepared = visit.prepared;
    let score = score::score(
        prepared.library,
        prepared.walk,
        &prepared.weights,
        &prepared.drawn,
        &prepared.exposures,
        prepared.settings.draws,
    );
    let rate = periods::whole(visit).map(|side| {
        let per = |cases: f64| 100.0 * cases / side.cow_years;
        let (low, high) = poisson_interval(side.cases, LEVEL);
        (side.cases, side.cow_years, per(side.cases as f64), (per(low), per(high)))
    });
    Moment { date: prepared.walk.date, score: score.value.map(|value| (value, score.interval)), rate }
}

fn cautions(visits: &[Visit], actions: Option<&Actions>, rates: Option<&Rates>) -> Vec<Caution> {
    let Some((before, after)) = compared(visits) else { return Vec::new() };
    let (first, last) = (before.prepared.walk, after.prepared.walk);
    let mut cautions = Vec::new();
    if !same_name(&first.farm_name, &last.farm_name) {
        let (before, after) = (first.farm_name.clone(), last.farm_name.clone());
        cautions.push(Caution::Renamed { before, after });
    }
    let cows = |walk: &Walk| walk.records.as_ref().map_or(walk.cows as f64, |records| records.average_cows);
    let growth = cows(last) / cows(first);
    if growth >= HERD_CHANGE || growth <= 1.0 / HERD_CHANGE {
        cautions.push(Caution::HerdChanged { before: cows(first), after: cows(last) });
    }
    let ids =
        |walk: &Walk| -> Vec<String> { walk.segments.iter().map(|segment| segment.id.clone()).collect() };
    if ids(first) != ids(last) {
        cautions.push(Caution::SegmentsChanged);
    }
    if let (Some(rates), Some(records)) = (rates, &last.records) {
        let earlier = first.records.as_ref().map_or(&[][..], |records| &records.seen_by);
        if earlier != records.seen_by {
            cautions.push(Caution::ObserversDiffer);
        }
        if (first.date - records.from).num_days() > DAYS_BEFORE_WALK {
            cautions.push(Caution::RecordsBeforeFirstWalk { from: records.from, walk: first.date });
        }
        let (first_days, last_days) = (rates.compared.before.days, rates.compared.after.days);
        if first_days >= 2 * last_days || last_days >= 2 * first_days {
            cautions.push(Caution::UnlikeLength { before: first_days, after: last_days });
        }
        for (action, effect) in signs::effects(before.prepared, actions) {
            if effect > records.from {
                cautions.push(Caution::BeforeEffect { action, effect });
            }
        }
    }
    let given = |date| visits.iter().any(|visit| visit.prepared.walk.date == date);
    if let Some(walk) = actions.map(|actions| actions.walk_date).filter(|date| !given(*date)) {
        cautions.push(Caution::ActionsOfOtherWalk { walk });
    }
    cautions
}

/// Whether the two periods are enough alike for a verdict.
fn comparable(rates: Option<&Rates>, cautions: &[Caution]) -> bool {
    let seasons = rates.is_some_and(|rates| rates.compared.season.is_matched());
    let other_farm = |caution: &Caution| {
        matches!(caution, Caution::HerdChanged { .. } | Caution::RecordsBeforeFirstWalk { .. })
    };
    seasons && !cautions.iter().any(other_farm)
}

fn verdict(
    rates: Option<&Rates>,
    expected: &expected::Expected,
    factors: &[changes::FactorChange],
    comparable: bool,
) -> Verdict {
    let Some(rates) = rates else { return Verdict::NoRatio };
    let (before, after) = (rates.compared.before.cases, rates.compared.after.cases);
    if before.saturating_add(after) < FEWEST_CASES {
        return Verdict::TooFew;
    }
    if !comparable {
        return Verdict::NotComparable;
    }
    if rates.ratio.p_central >= 1.0 - LEVEL {
        return Verdict::MayBeChance;
    }
    let fewer = rates.ratio.ratio.is_some_and(|ratio| ratio < 1.0);
    let better = factors.iter().any(|factor| factor.state.is_better());
    let below = expected.place.is_some_and(|place| place < 0.5);
    match (fewer, better, expected.agrees) {
        (false, ..) => Verdict::More,
        (true, false, _) => Verdict::FewerWithoutChange,
        (true, true, Some(false)) if below => Verdict::FewerThanExpected,
        (true, true, Some(false)) => Verdict::LessThanExpected,
        (true, true, _) => Verdict::FewerAsExpected,
    }
}

/// Each action with what the last walk saw of it: against the last walk before it was done, which with more
/// than two walks need not be the one that is compared.
fn reviews<'a>(visits: &[Visit<'a>], actions: &Actions) -> Vec<ActionReview> {
    let Some((last, earlier)) = visits.split_last() else { return Vec::new() };
    let after = last.prepared;
    let since = |visit: &Visit<'a>| changes::moved(visit.prepared, after, &apart(after.draws));
    let moved: Vec<Vec<changes::Moved>> = earlier.iter().map(since).collect();
    let seen_since = |at: usize, what: &What| {
        let (What::Option { id, segment }, Some(moved)) = (what, moved.get(at)) else { return Vec::new() };
        let option = after.library.intervention(id);
        option.map_or(Vec::new(), |option| changes::seen_of(option, segment.as_deref(), moved))
    };
    let review = |(index, action): (usize, &Action)| {
        let standing = action.standing(after.walk.date);
        let seen = match standing {
            Standing::Done(day) => {
                let walked = |visit: &Visit| visit.prepared.walk.date <= day;
                seen_since(earlier.iter().rposition(walked).unwrap_or(0), &action.what)
            }
            _ => Vec::new(),
        };
        ActionReview { action: index, standing, seen }
    };
    actions.list.iter().enumerate().map(review).collect()
}

#[cfg(test)]
mod tests;
