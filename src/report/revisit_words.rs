//! The sentences of a return visit: each says what the counts bear and no more. None says that a change
//! worked: one farm before and after has no other farm beside it.

use super::number::{self, decimals, list, percent, plural, whole};
use super::words;
use crate::model::actions::{Action, NotOneList, Standing, What};
use crate::model::day::month_name;
use crate::model::intervention::Intervention;
use crate::model::walk::{Segment, Walk};
use crate::model::{Library, System};
use crate::reckon::revisit::changes::State;
use crate::reckon::revisit::drift::middle_half;
use crate::reckon::revisit::judged::{
    CHANGE, DAYS_BEFORE_WALK, DRIFT_FARMS, DRIFT_POINTS, FEWEST_CASES, FEWEST_EFFECTIVE, HERD_CHANGE,
    PUT_RIGHT,
};
use crate::reckon::revisit::learning::NotLearned;
use crate::reckon::revisit::periods::{NoRates, Season};
use crate::reckon::revisit::{Caution, Revisit, RevisitRefusal, Verdict};
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

/// "27% fewer", "8% more", "no change", "2.4 times as many".
pub fn ratio(ratio: f64) -> String {
    let change = libm::round(100.0 * (ratio - 1.0));
    match change {
        c if !ratio.is_finite() || c.is_nan() => "not known".to_owned(),
        0.0 => "no change".to_owned(),
        c if c >= 100.0 => format!("{} times as many", decimals(ratio, 1)),
        c if c > 0.0 => format!("{}% more", whole(c)),
        c => format!("{}% fewer", whole(-c)),
    }
}

/// A range of ratios, "45% fewer to 5% more".
pub fn ratio_range(low: f64, high: Option<f64>) -> String {
    let low = ratio(low);
    match high.map(ratio) {
        Some(high) if high == low => low,
        Some(high) => format!("{low} to {high}"),
        None => format!("{low} or any number more"),
    }
}

/// What the counts bear, in a few sentences.
pub fn verdict(revisit: &Revisit) -> String {
    let Ok(rates) = &revisit.rates else {
        return format!(
            "Nothing can be said of the number of lame cows: {}",
            no_rates(revisit.rates.as_ref().err())
        );
    };
    let (before, after) = (rates.compared.before.cases, rates.compared.after.cases);
    let seen = rates.ratio.ratio.map_or("there was none before to compare with".to_owned(), |seen| {
        format!("for the same number of cows and days that is {}", in_cases(seen))
    });
    let counted =
        format!("{} before, {} after; {seen}.", plural(before, "case", "cases"), whole(after as f64));
    let says = match revisit.verdict {
        Verdict::NoRatio => String::new(),
        Verdict::TooFew => format!(
            "That is too few to judge by (under {FEWEST_CASES} in all): one cow more or less would turn it round. \
             Go by what was measured on the walk."
        ),
        Verdict::NotComparable => format!("The two counts can't be judged against each other. {}", not_alike(revisit)),
        Verdict::MayBeChance => format!(
            "A difference of this size may be chance alone; that does not show that nothing changed. {}",
            time_needed(revisit)
        ),
        Verdict::FewerWithoutChange => "That is fewer than chance would bring. But nothing that was looked at got \
             better by more than chance, so the fall has another cause: the weather, other cows, or cases that \
             were not written down."
            .to_owned(),
        Verdict::FewerAsExpected => "That is fewer than chance would bring, and within what the changes on the farm \
             were expected to bring. It fits them. It does not prove that they did it: there is no second farm \
             beside this one where nothing was changed."
            .to_owned(),
        Verdict::FewerThanExpected => "That is fewer than chance would bring, and fewer than the changes on the farm \
             were expected to bring: something else helped too, or fewer cases were written down."
            .to_owned(),
        Verdict::LessThanExpected => "That is fewer than chance would bring, but the fall is smaller than the changes \
             on the farm were expected to bring."
            .to_owned(),
        Verdict::More => "That is more than chance would bring. Ask first whether lame cows are now written down \
             with more care: better records show more lameness before they show less."
            .to_owned(),
    };
    format!("{counted} {says}")
}

/// A ratio in a running sentence: "27% fewer", "just as many".
fn in_cases(seen: f64) -> String {
    match ratio(seen).as_str() {
        "no change" => "just as many".to_owned(),
        other => other.to_owned(),
    }
}

/// How long a change of the expected size takes to stand out, in one sentence.
pub fn time_needed(revisit: &Revisit) -> String {
    let baseline = plural(libm::round(revisit.baseline_months).max(0.0) as u64, "month", "months");
    match revisit.months_to_see {
        _ if revisit.expected.in_full > NO_FALL => {
            "The changes found are not expected to bring fewer cases, so there is no fall to wait for."
                .to_owned()
        }
        Some(months) => format!(
            "With {baseline} of records before, a fall of the size expected ({}) can be told from chance, four times \
             in five, after about {} of records with the changes in effect.",
            ratio(revisit.expected.in_full),
            plural(u64::from(months), "month", "months")
        ),
        None => format!(
            "With {baseline} of records before, a fall of the size expected ({}) can't be told from chance by counting \
             the cases of this farm, even with twenty years of records after. Go by what is measured on the walk.",
            ratio(revisit.expected.in_full)
        ),
    }
}

fn not_alike(revisit: &Revisit) -> String {
    let seasons = revisit.rates.as_ref().map(|rates| &rates.compared.season).ok();
    let mut reasons: Vec<String> =
        seasons.filter(|season| !season.is_matched()).map(season_words).into_iter().collect();
    if revisit.cautions.iter().any(|it| matches!(it, Caution::HerdChanged { .. })) {
        reasons.push("The herd is hardly the same herd.".to_owned());
    }
    if revisit.cautions.iter().any(|it| matches!(it, Caution::RecordsBeforeFirstWalk { .. })) {
        reasons.push("The later records begin well before the earlier walk.".to_owned());
    }
    reasons.join(" ")
}

/// Which months were compared, or why not the same ones.
pub fn season_words(season: &Season) -> String {
    match season {
        Season::WholePeriods => "Both periods hold the same months of the year.".to_owned(),
        Season::SameMonths(months) => {
            let of: Vec<String> =
                months.iter().filter_map(|month| month_name(*month)).map(str::to_owned).collect();
            format!("Only the months that both periods hold are compared: {}.", list(&of))
        }
        Season::NoCaseDays => {
            "The two periods hold different months of the year, and lameness has seasons. Keep \
             the date of every case, and the same months can be compared."
                .to_owned()
        }
        Season::NoMonthInCommon => {
            "The two periods have no whole month of the year in common, and lameness has \
             seasons: what changed may be the time of year. Wait until the same months have come round."
                .to_owned()
        }
    }
}

/// Why there are no rates.
pub fn no_rates(reason: Option<&NoRates>) -> String {
    match reason {
        None => String::new(),
        Some(NoRates::NoRecords { before: true, after: true }) => {
            "neither walk has records of cases. Write down every lame cow from today.".to_owned()
        }
        Some(NoRates::NoRecords { before: true, .. }) => {
            "the earlier walk has no records of cases, and they can't be made up afterwards. Are there treatment \
             books or the practice's bills of that year?"
                .to_owned()
        }
        Some(NoRates::NoRecords { .. }) => {
            "the later walk has no records of cases. Add them under `records` or `cases`.".to_owned()
        }
        Some(NoRates::Overlap { from, to }) => format!(
            "the two periods of records both hold the days from {} to {}, so the same cases would count as before \
             and after. Let the later records begin after the earlier ones end.",
            number::date(*from),
            number::date(*to)
        ),
        Some(NoRates::Reversed) => "the later walk's records are of an earlier time than the earlier walk's. Were the \
             two mixed up?"
            .to_owned(),
        Some(NoRates::NoCases) => "no case was recorded in either period. Was every lame cow written down?".to_owned(),
        Some(NoRates::NotReckoned) => "the counts are larger than any herd's.".to_owned(),
    }
}

/// Expected against seen.
pub fn expected(revisit: &Revisit) -> String {
    let expected = &revisit.expected;
    let changes = format!(
        "The changes of exposure found on the walk should give {} over the days counted (95% range {})",
        ratio(expected.mean),
        ratio_range(expected.model.0, Some(expected.model.1))
    );
    let in_full = match libm::fabs(expected.in_full - expected.mean) > 0.005 {
        true => format!(", and {} once all of them are in effect.", ratio(expected.in_full)),
        false => ".".to_owned(),
    };
    let luck = expected.range.map_or(String::new(), |(low, high)| {
        format!(
            " With the luck of counting on both sides, anything from {} was to be expected.",
            ratio_range(low, Some(high))
        )
    });
    let place = match (expected.agrees, expected.place) {
        (Some(true), _) => " What was seen lies within that.",
        (Some(false), Some(place)) if place < 0.5 => " Fewer cases were seen than that.",
        (Some(false), _) => " More cases were seen than that.",
        (None, _) => "",
    };
    format!("{changes}{in_full}{luck}{place}")
}

/// Whether drift alone could be behind what was seen.
pub fn drift_words(revisit: &Revisit, system: System) -> String {
    let Some(drift) = &revisit.drift else { return String::new() };
    let (low, high) = drift.middle_half;
    let housed = match system {
        System::Pasture => "",
        System::Housed => " No such survey of housed herds was seen.",
    };
    let says = match drift.could_explain {
        true => "What was seen here could be that alone.",
        false => "What was seen here goes beyond that; one farm in four moves further all the same.",
    };
    format!(
        "Farms also move with nothing done: of {} pasture herds in New Zealand, scored in spring and again in summer, the middle half changed by {} to +{} points of lame cows, which we read as anything from {} for a rate like \
         this.{housed} {says}",
        whole(DRIFT_FARMS),
        decimals(DRIFT_POINTS.0, 1),
        decimals(DRIFT_POINTS.1, 1),
        ratio_range(low, Some(high)),
    )
}

/// Why no weights are given after this farm's experience.
pub fn not_learned(reason: &NotLearned) -> String {
    match reason {
        NotLearned::NoRates => "There are no two counts to learn from.".to_owned(),
        NotLearned::NotComparable => {
            "The two periods are not alike, so nothing is learnt from them.".to_owned()
        }
        NotLearned::NothingChanged => {
            "No exposure changed by a tenth or more, so this farm says nothing of what a change does."
                .to_owned()
        }
        NotLearned::FewEffective { effective_draws, draws } => format!(
            "What was seen is so far from what the weights thought possible that only {} of {} draws count for \
             anything: too few to say what the weights should be. Look for another cause first.",
            whole(*effective_draws),
            whole(*draws as f64)
        ),
    }
}

/// What to know beside the comparison.
pub fn caution(library: &Library, walk: &Walk, actions: &[Action], caution: &Caution) -> String {
    match caution {
        Caution::Renamed { before, after } => {
            format!("The farm was called \"{before}\" and is now called \"{after}\"; its code is the same.")
        }
        Caution::HerdChanged { before, after } => format!(
            "The herd went from {} to {} cows. A rate per cow allows for the number, but not for new cows, longer \
             waiting in the same yard and a busier track.",
            whole(*before),
            whole(*after)
        ),
        Caution::ObserversDiffer => {
            "The cases were not seen by the same people in both periods. A vet, a farmer \
             and a trimmer see different cases, so the difference may be theirs."
                .to_owned()
        }
        Caution::RecordsBeforeFirstWalk { from, walk } => format!(
            "The later records begin on {}, well before the earlier walk on {}: much of them was before anything \
             could be changed.",
            number::date(*from),
            number::date(*walk)
        ),
        Caution::UnlikeLength { before, after } => format!(
            "The periods compared are of unlike length ({} and {} days); the shorter one decides how much can be seen.",
            whole(*before as f64),
            whole(*after as f64)
        ),
        Caution::BeforeEffect { action, effect } => {
            let what = actions
                .get(*action)
                .map_or(String::new(), |action| what(&library.interventions, &walk.segments, &action.what));
            format!(
                "\"{what}\" can't have shown before {}; the days counted before that are allowed for in what was \
                 to be expected.",
                number::date(*effect)
            )
        }
        Caution::SegmentsChanged => {
            "The stretches of track are not the same on both walks: those with one name are \
             compared, and the farm's exposure is weighed by the traffic of its own year."
                .to_owned()
        }
        Caution::ActionsOfOtherWalk { walk } => format!(
            "The actions were agreed after a walk on {}, which is not among those given.",
            number::date(*walk)
        ),
    }
}

/// What became of a thing.
pub fn state(state: State) -> &'static str {
    match state {
        State::PutRight => "put right",
        State::Partly => "partly better",
        State::AsBefore => "as it was",
        State::Worse => "worse",
        State::StayedGood => "good both times",
        State::MayBeChance => "may be chance",
        State::OnlyBefore => "not looked at this time",
        State::OnlyAfter => "not looked at last time",
        State::Neither => "not looked at",
        State::OtherItems => "looked at by other questions",
    }
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

/// How an action stands.
pub fn standing(standing: Standing, done_share: f64) -> String {
    let days = |days: i64| plural(days.unsigned_abs(), "day", "days");
    match standing {
        Standing::Done(day) if done_share < 1.0 => {
            format!("{} of it done on {}", percent(done_share), number::date(day))
        }
        Standing::Done(day) => format!("done on {}", number::date(day)),
        Standing::Overdue(late) => format!("overdue by {}", days(late)),
        Standing::Due(0) => "due today".to_owned(),
        Standing::Due(left) => format!("due in {}", days(left)),
        Standing::NoDate => "no date agreed".to_owned(),
    }
}

/// A date in words, or "no date".
pub fn day_or_none(day: Option<NaiveDate>) -> String {
    day.map_or("no date".to_owned(), number::date)
}

/// A sum of money, or a dash.
pub fn cost(currency: Option<&String>, amount: Option<f64>) -> String {
    match (currency, amount) {
        (Some(currency), Some(amount)) => format!("{currency} {}", whole(amount)),
        _ => "–".to_owned(),
    }
}

/// What the walk saw of a done action, in words; empty where it could not see it.
pub fn seen(library: &Library, seen: &[(usize, State)]) -> String {
    let mut says: Vec<String> = seen
        .iter()
        .map(|(factor, became)| format!("{}: {}", library.factors[*factor].title, state(*became)))
        .collect();
    let unmoved = |(_, became): &(usize, State)| matches!(became, State::AsBefore | State::Worse);
    if !seen.is_empty() && seen.iter().all(unmoved) {
        says.push("marked as done, but the walk found no difference: look at it together".to_owned());
    }
    says.join("; ")
}

/// A sentence on the days from first sign to treatment, or empty.
pub fn treatment(days: (Option<f64>, Option<f64>)) -> String {
    match days {
        (Some(before), Some(after)) => format!(
            "The middle case waited {} days from the first sign to treatment before, and {} now. That moves before the \
             number of cases does.",
            words::trimmed(before),
            words::trimmed(after)
        ),
        (None, Some(after)) => format!(
            "The middle case waits {} days from the first sign to treatment; it was not recorded before.",
            words::trimmed(after)
        ),
        _ => String::new(),
    }
}

/// What is judged in this comparison, and why: what, its value, the reason.
pub fn judged() -> [(&'static str, String, &'static str); 7] {
    let points = format!("{} to +{} points", decimals(DRIFT_POINTS.0, 1), decimals(DRIFT_POINTS.1, 1));
    let (low, high) = middle_half();
    [
        (
            "Cases in both periods together below which no verdict is given",
            FEWEST_CASES.to_string(),
            "with fewer, one cow more or less turns it round",
        ),
        (
            "Growth or shrinkage of the herd from which the periods aren't compared",
            format!("{}-fold", decimals(HERD_CHANGE, 1)),
            "other cows, longer waiting in the same yard, a busier track",
        ),
        (
            "Days of the later records that may lie before the earlier walk",
            DAYS_BEFORE_WALK.to_string(),
            "books run by the month",
        ),
        (
            "Change of exposure, 0 to 1, that counts as one",
            decimals(CHANGE, 1),
            "about what two people differ by who look at one thing",
        ),
        (
            "Share of the way to good practice from which a thing is put right",
            percent(PUT_RIGHT),
            "what is left makes little difference",
        ),
        (
            "Share of the draws below which no learnt weight is shown",
            percent(FEWEST_EFFECTIVE),
            "the rest would rest on a handful of draws",
        ),
        (
            "Spread of a farm's rate with nothing done",
            format!("{} (middle half; published: {points} of lame cows)", ratio_range(low, Some(high))),
            DRIFT_REASON,
        ),
    ]
}

/// Why drift is read as it is, and where it goes.
const DRIFT_REASON: &str = "the published change of a day's prevalence, less the luck of two scorings, relative to \
    the mean and centred on no change. It enters what this farm teaches as one more thing that moves a rate, draw by \
    draw; what the changes are expected to do is left as it is";
