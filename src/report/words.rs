//! The sentences that rest on numbers: each says what the data bear and no more.

use super::number::{count_range, list, money_range, percent, whole};
use crate::model::checklist::{Item, Kind};
use crate::model::intervention::Each;
use crate::model::lesion::Lesion;
use crate::model::walk::{Answer, Walk};
use crate::model::{Library, System};
use crate::reckon::Estimate;
use crate::reckon::effects::Basis;
use crate::reckon::prices::Withheld;

/// Fewer lame cows a year, as a range a farmer can read.
pub fn fewer_lame_cows(cases_avoided: Estimate) -> String {
    let (low, high) = (libm::round(cases_avoided.interval.0), libm::round(cases_avoided.interval.1));
    if high <= 0.0 && low >= 0.0 {
        "less than one lame cow a year fewer".to_owned()
    } else if low < 0.0 {
        format!(
            "about {} fewer lame cows a year, but it isn't sure: anything from {} more to {} fewer",
            super::number::count(cases_avoided.mean),
            whole(-low),
            whole(high.max(0.0))
        )
    } else if low == 0.0 {
        format!("up to {} fewer lame cows a year", whole(high))
    } else if low == high {
        format!("about {} fewer lame cows a year", whole(high))
    } else {
        format!("{} to {} fewer lame cows a year", whole(low), whole(high))
    }
}

/// Fewer lame cow-days a year, likewise.
pub fn fewer_lame_days(days_avoided: Estimate) -> String {
    let (low, high) = days_avoided.interval;
    if low < 0.0 {
        format!("anything from {} more to {} fewer days of a lame cow a year", whole(-low), whole(high))
    } else {
        format!("{} fewer days of a lame cow a year", count_range((low, high)))
    }
}

/// What a weight rests on, in plain words.
pub fn basis(basis: Basis) -> &'static str {
    match basis {
        Basis::Published => "published sizes",
        Basis::Direction => "published direction, judged size",
        Basis::Judgement => "judgement",
    }
}

/// How much of an option's expected effect was measured rather than judged.
pub fn published_share(share: Option<f64>) -> String {
    match share {
        None => "no new cases avoided".to_owned(),
        Some(share) if share < 0.05 => "judged sizes, not measured effects".to_owned(),
        Some(share) if share > 0.95 => "published sizes".to_owned(),
        Some(share) => format!("published sizes for {} of it, judgement for the rest", percent(share)),
    }
}

/// Why money is withheld, and what to enter.
pub fn withheld(library: &Library, withheld: &Withheld) -> String {
    let title = |id: &str| library.intervention(id).map_or(id.to_owned(), |option| option.title.clone());
    match withheld {
        Withheld::NoCurrency => {
            "No money is shown: the walk record names no currency. Enter one, such as `currency: EUR`, \
             under `herd`."
                .to_owned()
        }
        Withheld::NoCostPerCase { currency, system, lesions } => {
            let names: Vec<String> = lesions.iter().map(|lesion| lesion.id().to_owned()).collect();
            format!(
                "No savings are shown: what a case of lameness costs in {currency} on {} farms is not \
                 known, and money is never converted. Enter your own low, likely and high cost of a case \
                 under `costs_per_case` for {}.",
                system_words(*system),
                list(&names)
            )
        }
        Withheld::NoPrice { option, currency, shipped } => {
            let shipped = shipped.as_ref().map_or(String::new(), |shipped| {
                format!(" The price shipped with it is in {shipped}, and money is never converted.")
            });
            format!(
                "\"{}\" has no price in {currency}.{shipped} Enter your own under `prices: {option}`.",
                title(option)
            )
        }
        Withheld::NoQuantity { option, quantity } => format!(
            "\"{}\" is priced by a quantity that the walk record lacks. Enter `{quantity}`.",
            title(option)
        ),
    }
}

/// The same beside one option, in a few words.
pub fn withheld_short(withheld: &Withheld) -> String {
    match withheld {
        Withheld::NoCurrency => "not shown: the walk names no currency".to_owned(),
        Withheld::NoCostPerCase { currency, .. } => format!("no cost of a case in {currency} is known"),
        Withheld::NoPrice { currency, .. } => format!("no price in {currency} yet: get a quote"),
        Withheld::NoQuantity { quantity, .. } => format!("not shown: the walk record lacks {quantity}"),
    }
}

/// The same for a whole report: reasons of one kind put together, so that forty options without a
/// price don't fill a page.
pub fn all_withheld(library: &Library, reasons: &[Withheld]) -> Vec<String> {
    let prices: Vec<&Withheld> =
        reasons.iter().filter(|reason| matches!(reason, Withheld::NoPrice { .. })).collect();
    let mut sentences: Vec<String> = reasons
        .iter()
        .filter(|reason| prices.len() <= 2 || !matches!(reason, Withheld::NoPrice { .. }))
        .map(|reason| withheld(library, reason))
        .collect();
    if let (true, Some(Withheld::NoPrice { currency, .. })) = (prices.len() > 2, prices.first()) {
        sentences.push(format!(
            "{} options have no price in {currency}, and money is never converted. Enter your own quotes \
             under `prices` in the walk record, by option id.",
            prices.len()
        ));
    }
    sentences
}

/// "pasture", "housed".
pub fn system_words(system: System) -> &'static str {
    match system {
        System::Pasture => "pasture",
        System::Housed => "housed",
    }
}

/// The plain name of a lesion group.
pub fn lesion(library: &Library, lesion: Lesion) -> String {
    let name = &library.burden.lesions[lesion].name;
    if name.is_empty() { lesion.id().to_owned() } else { name.clone() }
}

/// The same in a list of names: what comes before any comma or bracket, in small letters.
pub fn lesion_in_list(library: &Library, of: Lesion) -> String {
    let name = lesion(library, of);
    name.split([',', '(']).next().unwrap_or(&name).trim().to_lowercase()
}

/// A range of money or a dash where withheld.
pub fn money_or_dash(currency: Option<&String>, estimate: Option<Estimate>) -> String {
    match (currency, estimate) {
        (Some(currency), Some(estimate)) => money_range(currency, estimate.interval),
        _ => "not shown".to_owned(),
    }
}

/// An answer as the observer would say it.
pub fn answer(item: &Item, answer: &Answer) -> String {
    let unit = item.unit.as_deref().unwrap_or("");
    match (answer, &item.kind) {
        (Answer::Choose(chosen), Kind::Choice(options)) => {
            options.get(*chosen).map_or(String::new(), |option| option.say.clone())
        }
        (Answer::Value(value), _) => format!("{} {unit}", trimmed(*value)).trim_end().to_owned(),
        (Answer::Count { count, over }, _) => {
            let per = unit.split_once('/').map_or("", |(_, per)| per);
            let per = if per == "m2" { "m²" } else { per };
            format!("{count} in {} {per}", trimmed(*over)).trim_end().to_owned()
        }
        (Answer::Share { count, of }, _) => format!("{count} of {of}"),
        (Answer::Skip(reason), _) => format!("not looked at: {reason}"),
        (Answer::Choose(_), _) => String::new(),
    }
}

/// A number as written: no more decimals than it has, at most three.
pub fn trimmed(value: f64) -> String {
    let text = super::number::decimals(value, 3);
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

/// What the observer found for a factor, in one place or over the farm: the question and the answer
/// of each item that was answered.
pub fn found(library: &Library, walk: &Walk, factor: &str, segment: Option<usize>) -> Vec<String> {
    let items = library.checklist.items().filter(|item| item.factor == factor);
    let of_item = |item: &Item| {
        let here = walk.answers_to(&item.id).iter().filter(|given| {
            !matches!(given.answer, Answer::Skip(_))
                && (segment.is_none() || given.segment.is_none() || given.segment == segment)
        });
        let says: Vec<String> = here
            .map(|given| {
                let place = match (segment, given.segment.and_then(|at| walk.segments.get(at))) {
                    (None, Some(place)) => format!("{}: ", place.name),
                    _ => String::new(),
                };
                format!("{place}{}", answer(item, &given.answer))
            })
            .collect();
        (!says.is_empty()).then(|| format!("{}: {}", item.ask.trim_end_matches('?'), says.join("; ")))
    };
    items.filter_map(of_item).collect()
}

/// The name of a place: a segment, or the farm.
pub fn place(walk: &Walk, segment: Option<usize>, each: Each) -> Option<String> {
    match each {
        Each::Segment => segment.and_then(|at| walk.segments.get(at)).map(|segment| segment.name.clone()),
        Each::Farm => None,
    }
}
