//! What changed between two walks: item by item as it was answered, and factor by factor.
//!
//! Counts and shares err. Two counts are compared by the exact conditional test of two Poisson rates, two
//! shares by Fisher's exact test (Fisher 1935, J R Stat Soc 98:39), both two-sided as twice the smaller
//! tail; a factor by the 95 % interval of the change over the draws, those of the later walk drawn apart.

use super::LEVEL;
use super::judged::{CHANGE, GOOD, PUT_RIGHT};
use crate::model::checklist::Item;
use crate::model::intervention::{Each, Intervention};
use crate::model::walk::{Answer, Given, Walk};
use crate::reckon::exposure::{self, Exposure, answer_draws};
use crate::reckon::stats::discrete::hypergeometric_pmf;
use crate::reckon::stats::draws::Draws;
use crate::reckon::stats::interval::rate_ratio;
use crate::reckon::stats::summary::{central_interval, mean};
use crate::reckon::weights::FactorWeight;
use crate::reckon::{Estimate, Prepared};

/// Most animals of a share that is tested; no herd has more.
const MOST_TESTED: u64 = 50_000;

/// What became of a thing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum State {
    /// Put right, or nearly.
    PutRight,
    /// Better, with a good part of the way left.
    Partly,
    /// As it was.
    AsBefore,
    /// Worse.
    Worse,
    /// Good on both walks.
    StayedGood,
    /// It looks different, but what was counted is too little to tell from chance.
    MayBeChance,
    /// Looked at on the first walk alone.
    OnlyBefore,
    /// Looked at on the last walk alone.
    OnlyAfter,
    /// Looked at on neither.
    Neither,
    /// A factor looked at on both walks, but by different items or in different places.
    OtherItems,
}

impl State {
    /// The id in results.
    pub fn id(self) -> &'static str {
        match self {
            State::PutRight => "put-right",
            State::Partly => "partly",
            State::AsBefore => "as-before",
            State::Worse => "worse",
            State::StayedGood => "stayed-good",
            State::MayBeChance => "may-be-chance",
            State::OnlyBefore => "only-before",
            State::OnlyAfter => "only-after",
            State::Neither => "not-looked-at",
            State::OtherItems => "other-items",
        }
    }

    /// Whether it got better by more than chance.
    pub fn is_better(self) -> bool {
        matches!(self, State::PutRight | State::Partly)
    }

    fn of(before: Option<f64>, after: Option<f64>, may_be_chance: bool) -> State {
        let (before, after) = match (before, after) {
            (Some(before), Some(after)) => (before, after),
            (Some(_), None) => return State::OnlyBefore,
            (None, Some(_)) => return State::OnlyAfter,
            (None, None) => return State::Neither,
        };
        let drop = before - after;
        if drop.abs() < CHANGE {
            let good = before <= GOOD && after <= GOOD;
            return if good { State::StayedGood } else { State::AsBefore };
        }
        match (may_be_chance, drop > 0.0) {
            (true, _) => State::MayBeChance,
            (false, false) => State::Worse,
            (false, true) if after <= GOOD || drop >= PUT_RIGHT * before => State::PutRight,
            (false, true) => State::Partly,
        }
    }
}

/// One item in one place.
#[derive(Clone, Debug, PartialEq)]
pub struct ItemChange {
    /// Id of the item.
    pub item: String,
    /// Id of the segment, where asked per segment.
    pub segment: Option<String>,
    /// The answer on the first walk.
    pub before: Option<Answer>,
    /// The answer on the last.
    pub after: Option<Answer>,
    /// Exposure on the first walk, mean.
    pub x_before: Option<f64>,
    /// Exposure on the last.
    pub x_after: Option<f64>,
    /// Two-sided p value of the difference; `None` where nothing was counted on both walks.
    pub p_value: Option<f64>,
    /// What became of it.
    pub state: State,
}

/// One factor on both walks, from what was answered on both in the same place: an item that only one walk
/// answered would look like a change.
pub(crate) struct Moved<'a> {
    id: &'a str,
    factor: usize,
    position: usize,
    before: Option<Exposure>,
    after: Option<Exposure>,
    /// Exposure from all that each walk answered.
    alone: (Option<f64>, Option<f64>),
    walks: (&'a Walk, &'a Walk),
}

/// One factor over the farm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FactorChange {
    /// Index in [`crate::model::Library::factors`].
    pub factor: usize,
    /// Position beside the first walk's weights.
    pub position: usize,
    /// Exposure on the first walk, from what both walks answered where there is any such thing.
    pub before: Option<f64>,
    /// The same on the last.
    pub after: Option<f64>,
    /// After less before, mean and central 95 % interval; below 0 is better.
    pub change: Option<Estimate>,
    /// What became of it.
    pub state: State,
}

impl FactorChange {
    /// Whether its exposure changed, for better or worse, by [`CHANGE`] or more.
    pub fn is_changed(&self) -> bool {
        self.change.is_some_and(|change| change.mean.abs() >= CHANGE)
    }
}

/// The factors of the first walk, each beside the same of the last, whose exposures are drawn with `apart`.
pub(crate) fn moved<'a>(before: &'a Prepared<'a>, after: &'a Prepared<'a>, apart: &Draws) -> Vec<Moved<'a>> {
    let checklist = &before.library.checklist;
    let (first, last) = (shared(before.walk, after.walk), shared(after.walk, before.walk));
    let pairs = before.weights.iter().zip(&before.exposures).enumerate();
    let pair = |(position, (weight, exposure)): (usize, (&FactorWeight, &Option<Exposure>))| {
        let id = before.library.factors[weight.factor].id.as_str();
        let same = |other: &FactorWeight| after.library.factors[other.factor].id == id;
        let later = after.weights.iter().position(same).and_then(|at| after.exposures[at].as_ref());
        Moved {
            id,
            factor: weight.factor,
            position,
            before: exposure::exposure(checklist, &first, id, &before.draws),
            after: exposure::exposure(checklist, &last, id, apart),
            alone: (exposure.as_ref().map(|x| x.mean), later.map(|x| x.mean)),
            walks: (before.walk, after.walk),
        }
    };
    pairs.map(pair).collect()
}

/// A walk with only those answers that the other walk gives too, in the same place.
fn shared(walk: &Walk, other: &Walk) -> Walk {
    let place = |walk: &'_ Walk, given: &Given| {
        given.segment.and_then(|at| walk.segments.get(at)).map(|segment| segment.id.clone())
    };
    let says = |given: &&Given| !matches!(given.answer, Answer::Skip(_));
    let mut shared = walk.clone();
    for answer in &mut shared.answers {
        let theirs: Vec<_> =
            other.answers_to(&answer.item).iter().filter(says).map(|given| place(other, given)).collect();
        answer.given.retain(|given| theirs.contains(&place(walk, given)));
    }
    shared
}

/// The drop of exposure by draw of every factor looked at on both walks, by its position.
pub(crate) fn drops(moved: &[Moved]) -> Vec<(usize, Vec<f64>)> {
    let drop = |moved: &Moved| {
        let (before, after) = (moved.before.as_ref()?, moved.after.as_ref()?);
        Some((moved.position, before.x.iter().zip(&after.x).map(|(before, after)| before - after).collect()))
    };
    moved.iter().filter_map(drop).collect()
}

/// After less before over draws, with whether 0 lies within its 95 % interval.
fn difference(before: &[f64], after: &[f64]) -> (Estimate, bool) {
    let mut change: Vec<f64> = before.iter().zip(after).map(|(before, after)| after - before).collect();
    let mean = mean(&change);
    let interval = central_interval(&mut change, LEVEL).unwrap_or((f64::NAN, f64::NAN));
    (Estimate { mean, interval }, interval.0 <= 0.0 && interval.1 >= 0.0)
}

/// Every factor of the system over the farm.
pub(crate) fn factors(moved: &[Moved]) -> Vec<FactorChange> {
    let change = |moved: &Moved| {
        let both = moved.before.as_ref().zip(moved.after.as_ref());
        let change = both.map(|(before, after)| difference(&before.x, &after.x));
        let (before, after) =
            both.map_or(moved.alone, |(before, after)| (Some(before.mean), Some(after.mean)));
        let state = State::of(before, after, change.is_some_and(|(_, may_be_chance)| may_be_chance));
        FactorChange {
            factor: moved.factor,
            position: moved.position,
            before,
            after,
            change: change.map(|(change, _)| change),
            state: if both.is_none() && before.is_some() && after.is_some() {
                State::OtherItems
            } else {
                state
            },
        }
    };
    moved.iter().map(change).collect()
}

/// What became of the factors an option works on, on its segment where it has one: the factor's index
/// in the library and its state.
pub(crate) fn seen_of(option: &Intervention, segment: Option<&str>, moved: &[Moved]) -> Vec<(usize, State)> {
    let here = |exposure: &Option<Exposure>, walk: &Walk| -> Option<Vec<f64>> {
        let exposure = exposure.as_ref()?;
        let (Some(id), Some(by_segment)) = (segment, &exposure.by_segment) else {
            return Some(exposure.x.clone());
        };
        let at = walk.segments.iter().position(|segment| segment.id == id)?;
        let looked = exposure.looked_at.get(at).copied().unwrap_or(false);
        looked.then(|| by_segment.get(at).cloned()).flatten()
    };
    let state = |(id, _): &(String, f64)| {
        let moved = moved.iter().find(|moved| moved.id == *id)?;
        let before = here(&moved.before, moved.walks.0);
        let after = here(&moved.after, moved.walks.1);
        let may_be_chance = before.as_ref().zip(after.as_ref()).is_some_and(|(b, a)| difference(b, a).1);
        let at_mean = |x: &Option<Vec<f64>>| x.as_ref().map(|x| mean(x));
        Some((moved.factor, State::of(at_mean(&before), at_mean(&after), may_be_chance)))
    };
    option.to.iter().filter_map(state).collect()
}

/// Every item in every place, in the order of the checklist.
pub fn items(before: &Prepared, after: &Prepared) -> Vec<ItemChange> {
    let mut all = Vec::new();
    for item in before.library.checklist.items() {
        match item.each {
            Each::Farm => all.push(item_change(item, None, before, after)),
            Each::Segment => {
                let ids = before.walk.segments.iter().chain(&after.walk.segments).map(|it| it.id.as_str());
                let mut seen: Vec<&str> = Vec::new();
                for id in ids {
                    if !seen.contains(&id) {
                        seen.push(id);
                        all.push(item_change(item, Some(id), before, after));
                    }
                }
            }
        }
    }
    all
}

/// The answer to an item in a place: that of the segment, or a skip of the whole item.
fn given_in<'a>(walk: &'a Walk, item: &Item, segment: Option<&str>) -> Option<&'a Given> {
    let at = match segment {
        Some(id) => Some(walk.segments.iter().position(|segment| segment.id == id)?),
        None => None,
    };
    let given = walk.answers_to(&item.id);
    given.iter().find(|given| given.segment == at).or_else(|| given.iter().find(|it| it.segment.is_none()))
}

fn item_change(item: &Item, segment: Option<&str>, before: &Prepared, after: &Prepared) -> ItemChange {
    let answered = |prepared: &Prepared| {
        let given = given_in(prepared.walk, item, segment)?;
        Some((
            given.answer.clone(),
            answer_draws(item, given, prepared.walk, &prepared.draws).map(|x| mean(&x)),
        ))
    };
    let (first, last) = (answered(before), answered(after));
    let (x_before, x_after) = (first.as_ref().and_then(|it| it.1), last.as_ref().and_then(|it| it.1));
    let (before, after) = (first.map(|it| it.0), last.map(|it| it.0));
    let p_value = before.as_ref().zip(after.as_ref()).and_then(|(before, after)| p_value(before, after));
    ItemChange {
        item: item.id.clone(),
        segment: segment.map(str::to_owned),
        state: State::of(x_before, x_after, p_value.is_some_and(|p| p >= 1.0 - LEVEL)),
        before,
        after,
        x_before,
        x_after,
        p_value,
    }
}

/// Two-sided p value of the difference of two counts or two shares.
fn p_value(before: &Answer, after: &Answer) -> Option<f64> {
    match (before, after) {
        (Answer::Count { count: y1, over: t1 }, Answer::Count { count: y2, over: t2 }) => {
            rate_ratio(*y2, *t2, *y1, *t1, LEVEL).map(|ratio| ratio.p_central)
        }
        (Answer::Share { count: k1, of: n1 }, Answer::Share { count: k2, of: n2 }) => {
            fisher((*k1, *n1), (*k2, *n2))
        }
        _ => None,
    }
}

/// Fisher's exact test of two shares: twice the smaller tail, at most 1.
fn fisher((k1, n1): (u64, u64), (k2, n2): (u64, u64)) -> Option<f64> {
    if k1 > n1 || k2 > n2 || n1.max(n2) > MOST_TESTED {
        return None;
    }
    let (all, marked) = (n1 + n2, k1 + k2);
    let chance = |k: u64| hypergeometric_pmf(k, all, marked, n1);
    let (least, most) = (marked.saturating_sub(n2), marked.min(n1));
    let below: f64 = (least..=k1).map(chance).sum();
    let above: f64 = (k1..=most).map(chance).sum();
    Some((2.0 * below.min(above)).min(1.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Fisher's cups of tea (The Design of Experiments 1935, ch. 2): 3 of 4 against 1 of 4, one tail 17/70; all four,
    /// 1/70. The last in exact fractions (Python's `math.comb`), 21 of 50 against 9 of 50.
    #[test]
    fn shares_are_told_apart_by_fishers_test() {
        assert!((fisher((3, 4), (1, 4)).unwrap() - 34.0 / 70.0).abs() < 1e-12);
        assert!((fisher((4, 4), (0, 4)).unwrap() - 2.0 / 70.0).abs() < 1e-12);
        assert!((fisher((21, 50), (9, 50)).unwrap() - 0.01561698657320679).abs() < 1e-12);
        assert_eq!(fisher((0, 10), (0, 20)), Some(1.0));
        assert_eq!(fisher((5, 4), (0, 4)), None);
    }

    #[test]
    fn states_say_how_far_it_went() {
        let state = |before, after| State::of(Some(before), Some(after), false);
        assert_eq!(state(0.8, 0.1), State::PutRight);
        assert_eq!(state(0.8, 0.2), State::PutRight);
        assert_eq!(state(0.8, 0.5), State::Partly);
        assert_eq!(state(0.8, 0.75), State::AsBefore);
        assert_eq!(state(0.05, 0.0), State::StayedGood);
        assert_eq!(state(0.3, 0.6), State::Worse);
        assert_eq!(State::of(Some(0.3), Some(0.6), true), State::MayBeChance);
        assert_eq!(State::of(Some(0.3), None, false), State::OnlyBefore);
        assert_eq!(State::of(None, Some(0.3), false), State::OnlyAfter);
        assert_eq!(State::of(None, None, false), State::Neither);
    }
}
