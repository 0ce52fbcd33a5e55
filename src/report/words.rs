//! The sentences that rest on numbers: each says what the data bear and no more.

use crate::model::checklist::{Item, Kind};
use crate::model::intervention::Each;
use crate::model::lesion::Lesion;
use crate::model::walk::{Answer, AsGiven, Observer, Quantity, Segment, Walk};
use crate::model::words::Words;
use crate::model::{Library, System};
use crate::reckon::Estimate;
use crate::reckon::effects::Basis;
use crate::reckon::prices::Withheld;

/// Fewer lame cows a year, as a range a farmer can read.
pub fn fewer_lame_cows(words: &Words, cases_avoided: Estimate) -> String {
    let (low, high) = (libm::round(cases_avoided.interval.0), libm::round(cases_avoided.interval.1));
    let (less, more) = (words.whole(-low), words.whole(high.max(0.0)));
    if high <= 0.0 && low >= 0.0 {
        words.word("fewer.under-one")
    } else if low < 0.0 && libm::round(cases_avoided.mean) <= 0.0 {
        words.say("fewer.none-or", &[("more", &less), ("fewer", &more)])
    } else if low < 0.0 {
        let mean = libm::round(cases_avoided.mean);
        let values = [("n", words.whole(mean)), ("more", less), ("fewer", more)];
        words.say_for(mean, "fewer.unsure", &values.each_ref().map(|(name, value)| (*name, value.as_str())))
    } else if low == 0.0 {
        words.say_for(high, "fewer.up-to", &[("n", &more)])
    } else if low == high {
        words.say_for(high, "fewer.about", &[("n", &more)])
    } else {
        words.say("fewer.range", &[("low", &words.whole(low)), ("high", &more)])
    }
}

/// Fewer lame cow-days a year, likewise.
pub fn fewer_lame_days(words: &Words, days_avoided: Estimate) -> String {
    let (low, high) = days_avoided.interval;
    if low < 0.0 {
        words.say("fewer-days.unsure", &[("more", &words.whole(-low)), ("fewer", &words.whole(high))])
    } else {
        words.say("fewer-days.range", &[("range", &words.count_range((low, high)))])
    }
}

/// What a weight rests on, in plain words.
pub fn basis(words: &Words, basis: Basis) -> String {
    words.word(match basis {
        Basis::Published => "basis.published",
        Basis::Direction => "basis.direction",
        Basis::Judgement => "basis.judgement",
    })
}

/// How many of the judged weights that an option works on have a published direction.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Directions {
    /// None of them.
    None,
    /// Some of them.
    Some,
    /// All of them.
    All,
}

/// How much of an option's expected effect was measured rather than judged.
pub fn published_share(words: &Words, share: Option<f64>, directions: Directions) -> String {
    match share {
        None => words.word("rests.nothing"),
        Some(share) if share < 0.05 => words.word(match directions {
            Directions::None => "rests.judged",
            Directions::Some => "rests.some-directions",
            Directions::All => "rests.directions",
        }),
        Some(share) if share > 0.95 => words.word("rests.published"),
        Some(share) => words.say("rests.both", &[("share", &words.percent(share))]),
    }
}

/// The name of a quantity of the walk record, such as "Yard, m²"; that of a place with it.
pub fn measure(words: &Words, id: &str) -> String {
    if let Some((name, place)) = id.split_once(" of ") {
        return words.say("measure-of", &[("measure", &measure(words, name)), ("place", place)]);
    }
    words.known(&format!("quantity.{id}")).unwrap_or_else(|| quantity_label(id))
}

/// "yard_m2" is "Yard, m²".
fn quantity_label(id: &str) -> String {
    let (name, unit) = name_and_unit(id);
    let name = name.replace('_', " ");
    let mut letters = name.chars();
    let first: String = letters.next().into_iter().flat_map(char::to_uppercase).collect();
    let comma = if unit.is_empty() { "" } else { ", " };
    format!("{first}{}{comma}{unit}", letters.as_str())
}

/// The name of a quantity and the unit that it ends in.
fn name_and_unit(id: &str) -> (&str, &'static str) {
    match id.rsplit_once('_') {
        Some((name, "m2")) => (name, "m²"),
        Some((name, "m")) => (name, "m"),
        _ => (id, ""),
    }
}

fn option_title<'a>(library: &'a Library, id: &'a str) -> &'a str {
    library.intervention(id).map_or(id, |option| option.title.as_str())
}

/// Why money is withheld, and what to enter.
pub fn withheld(library: &Library, withheld: &Withheld) -> String {
    let words = &library.words;
    match withheld {
        Withheld::NoCurrency => words.word("withheld.currency"),
        Withheld::NoCostPerCase { currency, system, lesions } => {
            let names: Vec<String> = lesions.iter().map(|lesion| lesion.id().to_owned()).collect();
            let (system, names) = (system_words(words, *system), words.list(&names));
            words.say(
                "withheld.cost-per-case",
                &[("currency", currency), ("system", &system), ("lesions", &names)],
            )
        }
        Withheld::NoPrice { option, currency, shipped } => {
            let shipped = shipped.as_ref().map_or(String::new(), |shipped| {
                words.say("withheld.shipped-price", &[("currency", shipped)])
            });
            let title = option_title(library, option);
            words.say(
                "withheld.price",
                &[("title", title), ("currency", currency), ("shipped", &shipped), ("option", option)],
            )
        }
        Withheld::NoQuantity { option, quantity } => {
            let title = option_title(library, option);
            words.say("withheld.quantity", &[("title", title), ("quantity", quantity)])
        }
    }
}

/// The same for the farmer, who has an adviser to enter it.
fn withheld_for_farmer(library: &Library, withheld: &Withheld) -> String {
    let words = &library.words;
    match withheld {
        Withheld::NoCurrency => words.word("farmer.no-currency"),
        Withheld::NoCostPerCase { currency, .. } => {
            words.say("farmer.no-cost-per-case", &[("currency", currency)])
        }
        Withheld::NoPrice { option, currency, .. } => {
            let title = option_title(library, option);
            words.say("farmer.no-price", &[("title", title), ("currency", currency)])
        }
        Withheld::NoQuantity { option, quantity: id } => {
            let title = option_title(library, option);
            words.say("farmer.no-quantity", &[("title", title), ("quantity", &measure(words, id))])
        }
    }
}

/// The same beside one option, in a few words.
pub fn withheld_short(words: &Words, withheld: &Withheld) -> String {
    match withheld {
        Withheld::NoCurrency => words.word("withheld-short.currency"),
        Withheld::NoCostPerCase { currency, .. } => {
            words.say("withheld-short.cost-per-case", &[("currency", currency)])
        }
        Withheld::NoPrice { currency, .. } => words.say("withheld-short.price", &[("currency", currency)]),
        Withheld::NoQuantity { quantity: id, .. } => {
            words.say("withheld-short.quantity", &[("quantity", &measure(words, id))])
        }
    }
}

/// The same for a whole report: reasons of one kind put together, so that forty options without a
/// price don't fill a page.
pub fn all_withheld(library: &Library, reasons: &[Withheld]) -> Vec<String> {
    gathered(library, reasons, withheld, "withheld.prices")
}

/// The same for the farmer; measures that are missing are put together too.
pub fn all_withheld_for_farmer(library: &Library, reasons: &[Withheld]) -> Vec<String> {
    let words = &library.words;
    let mut measures: Vec<String> = Vec::new();
    for reason in reasons {
        if let Withheld::NoQuantity { quantity: id, .. } = reason {
            let label = measure(words, id);
            if !measures.contains(&label) {
                measures.push(label);
            }
        }
    }
    if measures.len() < MANY {
        return gathered(library, reasons, withheld_for_farmer, "farmer.no-prices");
    }
    let others: Vec<Withheld> =
        reasons.iter().filter(|reason| !matches!(reason, Withheld::NoQuantity { .. })).cloned().collect();
    let mut sentences = gathered(library, &others, withheld_for_farmer, "farmer.no-prices");
    sentences.push(words.say("farmer.no-quantities", &[("quantities", &words.list(&measures))]));
    sentences
}

/// So many reasons of one kind are told in one sentence.
const MANY: usize = 3;

fn gathered(
    library: &Library,
    reasons: &[Withheld],
    say: fn(&Library, &Withheld) -> String,
    prices_key: &str,
) -> Vec<String> {
    let is_price = |reason: &&Withheld| matches!(reason, Withheld::NoPrice { .. });
    let prices: Vec<&Withheld> = reasons.iter().filter(is_price).collect();
    let many = prices.len() >= MANY;
    let told = reasons.iter().filter(|reason| !many || !is_price(reason));
    let mut sentences: Vec<String> = told.map(|reason| say(library, reason)).collect();
    if let (true, Some(Withheld::NoPrice { currency, .. })) = (many, prices.first()) {
        let count = library.words.whole(prices.len() as f64);
        sentences.push(library.words.say(prices_key, &[("n", &count), ("currency", currency)]));
    }
    sentences
}

/// "pasture", "housed".
pub fn system_words(words: &Words, system: System) -> String {
    words.word(match system {
        System::Pasture => "system.pasture",
        System::Housed => "system.housed",
    })
}

/// Who walked, in a word.
pub fn observer(words: &Words, observer: Observer) -> String {
    words.word(match observer {
        Observer::Adviser => "observer.adviser",
        Observer::Farmer => "observer.farmer",
        Observer::Vet => "observer.vet",
        Observer::Trimmer => "observer.trimmer",
    })
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

/// A range of money, or that none is shown.
pub fn money_or_none(words: &Words, currency: Option<&String>, estimate: Option<Estimate>) -> String {
    match (currency, estimate) {
        (Some(currency), Some(estimate)) => words.money_range(currency, estimate.interval),
        _ => words.word("not-shown"),
    }
}

/// A unit as it is read: `m2` is m².
pub fn unit_text(unit: &str) -> String {
    unit.replace("m2", "m²")
}

/// An answer as the observer would say it.
pub fn answer(words: &Words, item: &Item, answer: &Answer, as_given: Option<AsGiven>) -> String {
    let unit = item.unit.as_deref().unwrap_or("");
    match (answer, &item.kind) {
        (Answer::Choose(chosen), Kind::Choice(options)) => {
            options.get(*chosen).map_or(String::new(), |option| option.say.clone())
        }
        (Answer::Value(value), _) => measured(words, *value, unit, as_given),
        (Answer::Count { count, over }, _) => {
            let per = unit.split_once('/').map_or("", |(_, per)| per);
            let over = measured(words, *over, per, as_given);
            words.say("answer.count", &[("count", &count.to_string()), ("over", &over)])
        }
        (Answer::Share { count, of }, _) => {
            words.say("answer.share", &[("count", &count.to_string()), ("of", &of.to_string())])
        }
        (Answer::Skip(reason), _) => words.say("answer.skip", &[("reason", reason)]),
        (Answer::Choose(_), _) => String::new(),
    }
}

/// A number with its unit; first as it was written, where that was in another unit: "1,150 ft (351 m)".
pub fn measured(words: &Words, value: f64, unit: &str, as_given: Option<AsGiven>) -> String {
    let unit = unit_text(unit);
    match as_given {
        None => format!("{} {unit}", words.trimmed(value, 3)).trim_end().to_owned(),
        Some(given) => {
            let metric = if value.abs() < 9.95 { words.decimals(value, 1) } else { words.whole(value) };
            format!("{} {} ({metric} {unit})", grouped(words, given.amount), given.unit)
        }
    }
}

/// A number as written, its thousands apart.
fn grouped(words: &Words, value: f64) -> String {
    if value.fract() == 0.0 { words.whole(value) } else { words.trimmed(value, 3) }
}

/// A stretch of track: how long, how wide, and who walks it how often.
pub fn stretch(words: &Words, segment: &Segment) -> String {
    let length = measured(words, segment.length_m, "m", segment.length_given);
    let width = segment.width_m.map_or(String::new(), |width| {
        words.say("stretch.wide", &[("width", &measured(words, width, "m", segment.width_given))])
    });
    words.say(
        "stretch",
        &[
            ("name", &segment.name),
            ("length", &length),
            ("wide", &width),
            ("passes", &words.trimmed(segment.passes_per_day, 3)),
            ("share", &words.percent(segment.herd_share)),
        ],
    )
}

/// A quantity that prices are multiplied by: "yard: 520 m²". The unit stands behind the amount instead of
/// behind the name.
pub fn quantity(words: &Words, quantity: &Quantity) -> String {
    let (_, unit) = name_and_unit(&quantity.name);
    let name = measure(words, &quantity.name).to_lowercase();
    let name = name.strip_suffix(&format!(", {unit}")).unwrap_or(&name);
    format!("{name}: {}", measured(words, quantity.amount, unit, quantity.as_given))
}

/// A question without its marks, as it stands before its answer.
pub fn without_marks(words: &Words, question: &str) -> String {
    let marks = words.word("question-marks");
    question.replace(|letter| marks.contains(letter), "")
}

/// What the observer found: the question without its marks, and the answer.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Found {
    /// What was asked.
    pub ask: String,
    /// What was answered, in each place.
    pub now: String,
}

/// What the observer found for a factor, in one place or over the farm: the question and the answer
/// of each item that was answered.
pub fn found(library: &Library, walk: &Walk, factor: &str, segment: Option<usize>) -> Vec<Found> {
    let words = &library.words;
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
                format!("{place}{}", answer(words, item, &given.answer, given.as_given))
            })
            .collect();
        (!says.is_empty()).then(|| Found { ask: without_marks(words, &item.ask), now: says.join("; ") })
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
