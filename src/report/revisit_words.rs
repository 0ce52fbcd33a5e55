//! The sentences of a return visit: each says what the counts bear and no more. None says that a change
//! worked: one farm before and after has no other farm beside it.

use crate::model::actions::{Action, NotOneList, Standing, What};
use crate::model::intervention::Intervention;
use crate::model::walk::{Segment, Walk};
use crate::model::words::Words;
use crate::model::{Library, System};
use crate::reckon::revisit::changes::State;
use crate::reckon::revisit::drift::middle_half;
use crate::reckon::revisit::judged::{
    CHANGE, DAYS_BEFORE_WALK, DRIFT_FARMS, DRIFT_POINTS, FEWEST_CASES, FEWEST_EFFECTIVE, HERD_CHANGE,
    PUT_RIGHT,
};
use crate::reckon::revisit::learning::NotLearned;
use crate::reckon::revisit::periods::{NoRates, Season};
use crate::reckon::revisit::{Caution, Rates, Revisit, RevisitRefusal, Verdict};
use chrono::NaiveDate;

/// Ratio from which hardly any fall is expected.
const NO_FALL: f64 = 0.98;

/// Why the walks can't be compared, and what to do.
pub fn refusal(refusal: &RevisitRefusal) -> (String, String) {
    match refusal {
        RevisitRefusal::OneWalk => (
            "one walk has nothing to be compared with".to_owned(),
            "give the earlier walk first and the later one after it".to_owned(),
        ),
        RevisitRefusal::TwoFarms { before, after } => (
            format!("the walks are of two farms: \"{before}\" and \"{after}\""),
            "if it is one farm under a new name, write the same `code` under `farm` in both".to_owned(),
        ),
        RevisitRefusal::TwoChecklists { before, after } => (
            format!(
                "the walks were made with two checklists, `{before}` and `{after}`, which ask different things"
            ),
            format!("walk the farm once more with `{before}`, and compare that"),
        ),
        RevisitRefusal::Order { before, after } => (
            format!("the walk of {before} is given first, but the next one, of {after}, is not later"),
            "give the walks in the order in which they were made; is a date wrong?".to_owned(),
        ),
        RevisitRefusal::Draws => (
            "the walks were reckoned with different numbers of draws or seeds".to_owned(),
            "reckon all of them alike".to_owned(),
        ),
        RevisitRefusal::ActionsOfOtherFarm { actions, walks } => actions_of_other_farm(actions, walks),
    }
}

/// Why the actions of one farm say nothing of another, and what to do.
pub fn actions_of_other_farm(actions: &str, walks: &str) -> (String, String) {
    (
        format!("the actions are those of \"{actions}\", the walks are of \"{walks}\""),
        "give the actions file of this farm".to_owned(),
    )
}

/// Why several files of actions can't be taken together.
pub fn not_one_list(reason: &NotOneList) -> String {
    match reason {
        NotOneList::TwoFarms(one, other) => {
            format!("the actions are those of two farms: \"{one}\" and \"{other}\"")
        }
        NotOneList::TwoCurrencies(one, other) => two_currencies("the actions files", one, other),
    }
}

/// Two currencies where there should be one.
pub fn two_currencies(what: &str, one: &str, other: &str) -> String {
    format!(
        "{what} are in {one} and {other}: money is never converted, so their costs can't be taken together"
    )
}

/// Percentage points by which a ratio differs from 1, as they are shown.
fn points(ratio: f64) -> f64 {
    libm::round(100.0 * (ratio - 1.0))
}

/// "27% fewer", "8% more", "no change", "2.4 times as many".
pub fn ratio(words: &Words, ratio: f64) -> String {
    match points(ratio) {
        _ if !ratio.is_finite() => words.word("number.not-known"),
        0.0 => words.word("revisit.ratio.as-many"),
        more if more >= 100.0 => words.say("revisit.ratio.times", &[("n", &words.decimals(ratio, 1))]),
        more if more > 0.0 => words.say("revisit.ratio.more", &[("share", &words.percent(ratio - 1.0))]),
        _ => words.say("revisit.ratio.fewer", &[("share", &words.percent(1.0 - ratio))]),
    }
}

/// A range of ratios, "45% fewer to 5% more".
pub fn ratio_range(words: &Words, low: f64, high: Option<f64>) -> String {
    let low = ratio(words, low);
    match high {
        Some(high) => words.range(&low, &ratio(words, high)),
        None => words.say("revisit.ratio.no-limit", &[("low", &low)]),
    }
}

/// A range of two numbers, each as it is written, "0.46 to 1.10".
pub fn between(words: &Words, low: &str, high: &str) -> String {
    words.say("number.range", &[("low", low), ("high", high)])
}

/// What the counts bear, in a few sentences.
pub fn verdict(words: &Words, revisit: &Revisit) -> String {
    match &revisit.rates {
        Ok(rates) => format!("{} {}", counted(words, rates), judged_so(words, revisit)),
        Err(reason) => words.say("revisit.verdict.no-rates", &[("reason", &no_rates(words, reason))]),
    }
}

/// The two counts, in a sentence.
fn counted(words: &Words, rates: &Rates) -> String {
    let before = rates.compared.before.cases as f64;
    let (n, after) = (words.whole(before), words.whole(rates.compared.after.cases as f64));
    let counts = [("n", n.as_str()), ("after", after.as_str())];
    match rates.ratio.ratio {
        None => words.say("revisit.counted.none-before", &counts),
        Some(seen) if points(seen) == 0.0 => words.say_for(before, "revisit.counted.as-many", &counts),
        Some(seen) => {
            let seen = ratio(words, seen);
            words.say_for(before, "revisit.counted", &[counts[0], counts[1], ("ratio", &seen)])
        }
    }
}

fn judged_so(words: &Words, revisit: &Revisit) -> String {
    match revisit.verdict {
        Verdict::NoRatio => String::new(),
        Verdict::TooFew => words.say("revisit.verdict.too-few", &[("n", &words.whole(FEWEST_CASES as f64))]),
        Verdict::NotComparable => {
            format!("{} {}", words.word("revisit.verdict.not-comparable"), not_alike(words, revisit))
        }
        Verdict::MayBeChance => {
            format!("{} {}", words.word("revisit.verdict.may-be-chance"), time_needed(words, revisit))
        }
        Verdict::FewerWithoutChange => words.word("revisit.verdict.fewer-without-change"),
        Verdict::FewerAsExpected => words.word("revisit.verdict.fewer-as-expected"),
        Verdict::FewerThanExpected => words.word("revisit.verdict.fewer-than-expected"),
        Verdict::LessThanExpected => words.word("revisit.verdict.less-than-expected"),
        Verdict::More => words.word("revisit.verdict.more"),
    }
}

/// How long a change of the expected size takes to stand out, in one sentence.
pub fn time_needed(words: &Words, revisit: &Revisit) -> String {
    let months = |n: f64| words.say_for(n, "revisit.months", &[("n", &words.whole(n))]);
    let before = months(libm::round(revisit.baseline_months).max(0.0));
    let fall = ratio(words, revisit.expected.in_full);
    match revisit.months_to_see {
        _ if revisit.expected.in_full > NO_FALL => words.word("revisit.how-long.no-fall"),
        Some(after) => {
            let after = months(f64::from(after));
            let values = [("before", before.as_str()), ("fall", &fall), ("after", &after)];
            words.say("revisit.how-long.months", &values)
        }
        None => words.say("revisit.how-long.never", &[("before", &before), ("fall", &fall)]),
    }
}

fn not_alike(words: &Words, revisit: &Revisit) -> String {
    let seasons = revisit.rates.as_ref().map(|rates| &rates.compared.season).ok();
    let other_months = seasons.filter(|season| !season.is_matched());
    let mut reasons: Vec<String> =
        other_months.map(|season| season_words(words, season)).into_iter().collect();
    if revisit.cautions.iter().any(|it| matches!(it, Caution::HerdChanged { .. })) {
        reasons.push(words.word("revisit.not-alike.herd"));
    }
    if revisit.cautions.iter().any(|it| matches!(it, Caution::RecordsBeforeFirstWalk { .. })) {
        reasons.push(words.word("revisit.not-alike.early-records"));
    }
    reasons.join(" ")
}

/// Which months were compared, or why not the same ones.
pub fn season_words(words: &Words, season: &Season) -> String {
    match season {
        Season::WholePeriods => words.word("revisit.season.whole"),
        Season::SameMonths(months) => {
            let names: Vec<String> =
                months.iter().map(|month| words.word(&format!("month.{month}"))).collect();
            words.say("revisit.season.months", &[("months", &words.list(&names))])
        }
        Season::NoCaseDays => words.word("revisit.season.no-days"),
        Season::NoMonthInCommon => words.word("revisit.season.none-common"),
    }
}

/// Why there are no rates, as it stands after a colon.
pub fn no_rates(words: &Words, reason: &NoRates) -> String {
    match reason {
        NoRates::NoRecords { before: true, after: true } => words.word("revisit.no-rates.neither"),
        NoRates::NoRecords { before: true, .. } => words.word("revisit.no-rates.none-before"),
        NoRates::NoRecords { .. } => words.word("revisit.no-rates.none-after"),
        NoRates::Overlap { from, to } => {
            let (from, to) = (words.date(*from), words.date(*to));
            words.say("revisit.no-rates.overlap", &[("from", &from), ("to", &to)])
        }
        NoRates::Reversed => words.word("revisit.no-rates.reversed"),
        NoRates::NoCases => words.word("revisit.no-rates.no-cases"),
        NoRates::NotReckoned => words.word("revisit.no-rates.too-large"),
    }
}

/// Expected against seen.
pub fn expected(words: &Words, revisit: &Revisit) -> String {
    let expected = &revisit.expected;
    let mean = ratio(words, expected.mean);
    let range = ratio_range(words, expected.model.0, Some(expected.model.1));
    let mut says = vec![match libm::fabs(expected.in_full - expected.mean) > 0.005 {
        true => {
            let in_full = ratio(words, expected.in_full);
            let values = [("ratio", mean.as_str()), ("range", &range), ("in_full", &in_full)];
            words.say("revisit.expected.and-in-full", &values)
        }
        false => words.say("revisit.expected.from-changes", &[("ratio", &mean), ("range", &range)]),
    }];
    if let Some((low, high)) = expected.range {
        let range = ratio_range(words, low, Some(high));
        says.push(words.say("revisit.expected.with-luck", &[("range", &range)]));
    }
    match (expected.agrees, expected.place) {
        (Some(true), _) => says.push(words.word("revisit.expected.within")),
        (Some(false), Some(place)) if place < 0.5 => says.push(words.word("revisit.expected.fewer")),
        (Some(false), _) => says.push(words.word("revisit.expected.more")),
        (None, _) => {}
    }
    says.join(" ")
}

/// Whether drift alone could be behind what was seen.
pub fn drift_words(words: &Words, revisit: &Revisit, system: System) -> String {
    let Some(drift) = &revisit.drift else { return String::new() };
    let range = ratio_range(words, drift.middle_half.0, Some(drift.middle_half.1));
    let (farms, (low, high)) = (words.whole(DRIFT_FARMS), drift_points(words));
    let values = [("farms", farms.as_str()), ("low", &low), ("high", &high), ("range", &range)];
    let mut says = vec![words.say("revisit.drift.survey", &values)];
    if system == System::Housed {
        says.push(words.word("revisit.drift.housed"));
    }
    says.push(words.word(match drift.could_explain {
        true => "revisit.drift.could-explain",
        false => "revisit.drift.beyond",
    }));
    says.join(" ")
}

fn drift_points(words: &Words) -> (String, String) {
    (words.decimals(DRIFT_POINTS.0, 1), words.decimals(DRIFT_POINTS.1, 1))
}

/// Why no weights are given after this farm's experience.
pub fn not_learned(words: &Words, reason: &NotLearned) -> String {
    match reason {
        NotLearned::NoRates => words.word("revisit.teaches.no-rates"),
        NotLearned::NotComparable => words.word("revisit.teaches.not-comparable"),
        NotLearned::NothingChanged => words.word("revisit.teaches.nothing-changed"),
        NotLearned::FewEffective { effective_draws, draws } => {
            let (effective, draws) = (words.whole(*effective_draws), words.whole(*draws as f64));
            words.say("revisit.teaches.few-draws", &[("effective", &effective), ("draws", &draws)])
        }
    }
}

/// What to know beside the comparison.
pub fn caution(library: &Library, walk: &Walk, actions: &[Action], caution: &Caution) -> String {
    let words = &library.words;
    let counts = |key: &str, before: f64, after: f64| {
        words.say(key, &[("before", &words.whole(before)), ("after", &words.whole(after))])
    };
    match caution {
        Caution::Renamed { before, after } => {
            words.say("revisit.caution.renamed", &[("before", before), ("after", after)])
        }
        Caution::HerdChanged { before, after } => counts("revisit.caution.herd-changed", *before, *after),
        Caution::ObserversDiffer => words.word("revisit.caution.observers"),
        Caution::RecordsBeforeFirstWalk { from, walk } => {
            let (from, walk) = (words.date(*from), words.date(*walk));
            words.say("revisit.caution.early-records", &[("from", &from), ("walk", &walk)])
        }
        Caution::UnlikeLength { before, after } => {
            counts("revisit.caution.unlike-length", *before as f64, *after as f64)
        }
        Caution::BeforeEffect { action, effect } => {
            let what = actions
                .get(*action)
                .map_or(String::new(), |action| what(&library.interventions, &walk.segments, &action.what));
            words.say("revisit.caution.before-effect", &[("what", &what), ("day", &words.date(*effect))])
        }
        Caution::SegmentsChanged => words.word("revisit.caution.segments"),
        Caution::ActionsOfOtherWalk { walk } => {
            words.say("revisit.caution.other-walk", &[("day", &words.date(*walk))])
        }
    }
}

/// What became of a thing.
pub fn state(words: &Words, state: State) -> String {
    words.word(match state {
        State::PutRight => "revisit.state.put-right",
        State::Partly => "revisit.state.partly",
        State::AsBefore => "revisit.state.as-before",
        State::Worse => "revisit.state.worse",
        State::StayedGood => "revisit.state.stayed-good",
        State::MayBeChance => "revisit.state.may-be-chance",
        State::OnlyBefore => "revisit.state.only-before",
        State::OnlyAfter => "revisit.state.only-after",
        State::Neither => "not-looked-at",
        State::OtherItems => "revisit.state.other-items",
    })
}

/// An action as the farmer knows it: title and place, or the words.
pub fn what(options: &[Intervention], segments: &[Segment], what: &What) -> String {
    let What::Option { id, segment } = what else { return what.text() };
    let option = options.iter().find(|option| option.id == *id);
    let title = option.map_or(id.clone(), |option| option.title.clone());
    match segment {
        Some(id) => {
            let place = segments.iter().find(|segment| segment.id == *id);
            format!("{title} – {}", place.map_or(id, |segment| &segment.name))
        }
        None => title,
    }
}

/// Who does an action.
pub fn who(words: &Words, action: &Action) -> String {
    action.who.clone().unwrap_or_else(|| words.word("revisit.nobody"))
}

/// How an action stands.
pub fn standing(words: &Words, standing: Standing, done_share: f64) -> String {
    let days = |key: &str, days: i64| {
        let days = days.unsigned_abs() as f64;
        words.say_for(days, key, &[("n", &words.whole(days))])
    };
    match standing {
        Standing::Done(day) if done_share < 1.0 => {
            let (share, day) = (words.percent(done_share), words.date(day));
            words.say("revisit.standing.done-in-part", &[("share", &share), ("day", &day)])
        }
        Standing::Done(day) => words.say("revisit.standing.done", &[("day", &words.date(day))]),
        Standing::Overdue(late) => days("revisit.standing.overdue", late),
        Standing::Due(0) => words.word("revisit.standing.due-today"),
        Standing::Due(left) => days("revisit.standing.due", left),
        Standing::NoDate => words.word("revisit.standing.no-day"),
    }
}

/// A date in words, or "no date".
pub fn day_or_none(words: &Words, day: Option<NaiveDate>) -> String {
    day.map_or_else(|| words.word("revisit.no-day"), |day| words.date(day))
}

/// A sum of money as it was agreed or paid, not rounded to what an estimate knows.
pub fn cost(words: &Words, currency: Option<&String>, amount: Option<f64>) -> Option<String> {
    Some(words.say("number.money", &[("currency", currency?), ("amount", &words.whole(amount?))]))
}

/// What the walk saw of a done action, in words; empty where it could not see it.
pub fn seen(library: &Library, seen: &[(usize, State)]) -> String {
    let words = &library.words;
    let mut says: Vec<String> = seen
        .iter()
        .map(|(factor, became)| format!("{}: {}", library.factors[*factor].title, state(words, *became)))
        .collect();
    let unmoved = |(_, became): &(usize, State)| matches!(became, State::AsBefore | State::Worse);
    if !seen.is_empty() && seen.iter().all(unmoved) {
        says.push(words.word("revisit.no-difference"));
    }
    says.join(&words.word("list.semicolon"))
}

/// A sentence on the days from first sign to treatment, or empty.
pub fn treatment(words: &Words, days: (Option<f64>, Option<f64>)) -> String {
    match days {
        (Some(before), Some(after)) => {
            let (before, after) = (words.trimmed(before, 3), words.trimmed(after, 3));
            words.say("revisit.treatment", &[("before", &before), ("after", &after)])
        }
        (None, Some(after)) => words.say("revisit.treatment.now", &[("after", &words.trimmed(after, 3))]),
        _ => String::new(),
    }
}

/// What is judged in this comparison, and why: what, its value, the reason.
pub fn judged(words: &Words) -> [(String, String, String); 7] {
    let spread = {
        let (low, high) = middle_half();
        let (range, (low, high)) = (ratio_range(words, low, Some(high)), drift_points(words));
        let values = [("range", range.as_str()), ("low", &low), ("high", &high)];
        words.say("revisit.judged.drift-value", &values)
    };
    let fold = words.say("revisit.judged.fold", &[("n", &words.decimals(HERD_CHANGE, 1))]);
    let row = |what: &str, value: String, why: &str| (words.word(what), value, words.word(why));
    [
        row(
            "revisit.judged.fewest-cases",
            words.whole(FEWEST_CASES as f64),
            "revisit.judged.fewest-cases-why",
        ),
        row("revisit.judged.herd-change", fold, "revisit.judged.herd-change-why"),
        row(
            "revisit.judged.days-before",
            words.whole(DAYS_BEFORE_WALK as f64),
            "revisit.judged.days-before-why",
        ),
        row("revisit.judged.change", words.decimals(CHANGE, 1), "revisit.judged.change-why"),
        row("revisit.judged.put-right", words.percent(PUT_RIGHT), "revisit.judged.put-right-why"),
        row("revisit.judged.effective", words.percent(FEWEST_EFFECTIVE), "revisit.judged.effective-why"),
        row("revisit.judged.drift", spread, "revisit.judged.drift-why"),
    ]
}
