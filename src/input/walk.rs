//! A farm's walk record.

use super::burden::{SYSTEMS, costs_per_case};
use super::field::{ANY, Block, Ids, NOT_NEGATIVE, POSITIVE, Page, SHARE, Value};
use super::library::{FileSet, read_set};
use super::{suggest, yaml};
use crate::finding::{Findings, SourceText};
use crate::model::case_record::Scale;
use crate::model::checklist::{Checklist, Item, Kind};
use crate::model::day::DateOrder;
use crate::model::intervention::Each;
use crate::model::lesion::{Lesion, PerLesion};
use crate::model::walk::{Answer, CaseCounts, Given, ItemAnswer, Observer, OwnPrice, Records, Segment, Walk};
use crate::model::{Library, System};

const OBSERVERS: &[(&str, Observer)] = &[
    ("adviser", Observer::Adviser),
    ("farmer", Observer::Farmer),
    ("vet", Observer::Vet),
    ("trimmer", Observer::Trimmer),
];

/// Who walks a farm; trimmers see cases only.
const WALKERS: &[(&str, Observer)] =
    &[("adviser", Observer::Adviser), ("farmer", Observer::Farmer), ("vet", Observer::Vet)];

const DATES: &[(&str, DateOrder)] =
    &[("iso", DateOrder::Iso), ("dmy", DateOrder::Dmy), ("mdy", DateOrder::Mdy)];

const SCALES: &[(&str, Scale)] = &[("0-3", Scale::ZeroToThree), ("1-5", Scale::OneToFive)];

/// Fields of an answer, so that one put in the wrong place is recognised.
const ANSWER_FIELDS: [&str; 6] = ["choose", "value", "count", "over", "of", "skip"];

/// Largest herd, in cows.
const MOST_COWS: u64 = 1_000_000;
/// Largest number counted.
const MOST_COUNTED: u64 = 1_000_000_000;

/// Reads a walk record and the library of the checklist that it names. `None`, with every fault
/// pushed, where either has an error.
pub fn read_walk(source: &SourceText, files: &FileSet, findings: &mut Findings) -> Option<(Library, Walk)> {
    let mut own = Findings::new();
    let root = yaml::read(source, &mut own);
    let page = Page::new(source);
    let mut library_findings = Findings::new();
    let read = root.as_ref().and_then(|root| {
        page.root(root).block(|block| {
            let checklist = block.req("walk").and_then(|value| known_checklist(value, files));
            let set = checklist.as_deref().map(|id| read_set(files, id, &mut library_findings));
            let (library, alone) = match set {
                Some(Ok(library)) => (Some(library), None),
                Some(Err(checklist)) => (None, checklist),
                None => (None, None),
            };
            let judged_by = library.as_ref().map(|library| &library.checklist).or(alone.as_ref());
            let walk = walk(block, checklist, library.as_ref(), judged_by);
            Some((library?, walk?))
        })
    });
    page.close(&mut own);
    own.extend(library_findings);
    let failed = own.has_errors();
    findings.extend(own);
    read.filter(|_| !failed)
}

/// Reads a walk record against a library that was read before, as a page does after every tap.
/// `None`, with every fault pushed, where it has an error or names another checklist.
pub fn read_walk_on(source: &SourceText, library: &Library, findings: &mut Findings) -> Option<Walk> {
    let mut own = Findings::new();
    let root = yaml::read(source, &mut own);
    let page = Page::new(source);
    let read = root.as_ref().and_then(|root| {
        page.root(root).block(|block| {
            let checklist = block.req("walk").and_then(|value| same_checklist(value, library));
            // The answers of another checklist would only be so many unknown items.
            let library = checklist.is_some().then_some(library);
            walk(block, checklist, library, library.map(|library| &library.checklist))
        })
    });
    page.close(&mut own);
    let failed = own.has_errors();
    findings.extend(own);
    read.filter(|_| !failed)
}

fn same_checklist(value: Value<'_>, library: &Library) -> Option<String> {
    let id = value.text()?;
    if id == library.checklist.id {
        return Some(id);
    }
    let message = format!("this record is of another checklist, {}", value.quoted());
    let help = format!("this sheet is of `{}`: open the record with its own sheet", library.checklist.id);
    value.error("unknown-checklist", message, help);
    None
}

fn known_checklist(value: Value<'_>, files: &FileSet) -> Option<String> {
    let id = value.text()?;
    let known = files.checklist_ids();
    if known.contains(&id.as_str()) {
        return Some(id);
    }
    value.unknown("unknown-checklist", &known);
    None
}

/// Reads every field, also where the checklist isn't known or the library has faults, so that one run
/// names every fault.
fn walk(
    block: &Block<'_>,
    checklist: Option<String>,
    library: Option<&Library>,
    judged_by: Option<&Checklist>,
) -> Option<Walk> {
    let date = block.req("date").and_then(Value::date);
    let by = block.opt_one_of("by", WALKERS);
    let farm = block.req("farm").and_then(|value| value.block(farm));
    let herd = block.req("herd").and_then(|value| value.block(|block| herd(block, judged_by)));
    let segments = block.opt("segments").map(segments).unwrap_or_default();
    let answers = block.opt("answers").map(|value| answers(value, judged_by, &segments)).unwrap_or_default();
    let quantities = block.opt("quantities").map(|value| quantities(value, library)).unwrap_or_default();
    let prices = block.opt("prices").map(|value| prices(value, library)).unwrap_or_default();
    let costs = block.opt("costs_per_case").and_then(costs_per_case);
    let cases_file = block.opt_text("cases");
    let locomotion_file = block.opt_text("locomotion");
    let scale = block.opt_one_of("scale", SCALES);
    let table_dates = block.opt_one_of("dates", DATES);
    let records = block.opt("records").and_then(|value| value.block(records));
    let notes = block.opt_text("notes");
    if cases_file.is_some() && records.as_ref().is_some_and(|records| records.counts.is_some()) {
        let message = "`counts` and a file of cases are both given; the file is used".to_owned();
        block.page().warning("counts-and-cases", block.span("records"), message, "take one of the two out");
    }
    let (herd, (farm_name, farm_code)) = (herd?, farm?);
    Some(Walk {
        checklist: checklist?,
        date: date?,
        by,
        farm_name,
        farm_code,
        cows: herd.cows,
        system: herd.system,
        currency: herd.currency,
        discount_rate: herd.discount_rate,
        segments: segments.into_iter().filter_map(|(_, segment)| segment).collect(),
        answers,
        quantities,
        prices,
        costs_per_case: costs.unwrap_or(PerLesion([None; Lesion::COUNT])),
        cases_file,
        locomotion_file,
        locomotion_scale: scale.unwrap_or_default(),
        table_dates,
        records,
        notes,
    })
}

fn farm(block: &Block<'_>) -> Option<(String, Option<String>)> {
    let name = block.text("name");
    let code = block.opt_text("code");
    Some((name?, code))
}

struct Herd {
    cows: u64,
    system: System,
    currency: Option<String>,
    discount_rate: Option<f64>,
}

fn herd(block: &Block<'_>, checklist: Option<&Checklist>) -> Option<Herd> {
    let cows = block.req("cows").and_then(|cows| cows.whole(1, MOST_COWS));
    let system = block.one_of("system", SYSTEMS);
    let currency = block.opt("currency").and_then(Value::currency);
    let discount_rate = block.opt_number("discount_rate", &SHARE);
    if let (Some(system), Some(checklist)) = (system, checklist) {
        let wanted = checklist.system;
        if system != wanted {
            let message =
                format!("the herd is `{}`, but `{}` is for {} herds", system.id(), checklist.id, wanted.id());
            let help = format!("name a checklist for {} herds in `walk`, or correct the system", system.id());
            block.page().error("system-mismatch", block.span("system"), message, help);
        }
    }
    Some(Herd { cows: cows?, system: system?, currency, discount_rate })
}

/// Segments by id. A segment with a fault keeps its id, so that its answers are no further faults.
fn segments(value: Value<'_>) -> Vec<(String, Option<Segment>)> {
    let mut ids = Ids::default();
    let mut read = Vec::new();
    for value in value.list().unwrap_or_default() {
        let segment = value.block(segment);
        if let Some(id) = value.block_id() {
            ids.claim(id, id.raw());
            read.push((id.raw().to_owned(), segment));
        }
    }
    let traffic: Option<f64> = read.iter().map(|(_, segment)| segment.as_ref().map(Segment::traffic)).sum();
    if traffic == Some(0.0) && !read.is_empty() {
        let message = "no cow walks any of the segments".to_owned();
        value.error("no-traffic", message, "at least one needs passes and a share of the herd above 0");
    }
    read
}

fn segment(block: &Block<'_>) -> Option<Segment> {
    let id = block.id("id");
    let name = block.opt_text("name").or_else(|| id.clone());
    let length_m = block.number("length_m", &POSITIVE);
    let width_m = block.opt_number("width_m", &POSITIVE);
    let passes_per_day = block.number("passes_per_day", &NOT_NEGATIVE);
    let herd_share = block.number_or("herd_share", &SHARE, 1.0);
    if let Some(reserved) = id.as_deref().filter(|id| ANSWER_FIELDS.contains(id) || *id == "note") {
        let message = format!("a segment can't be called `{reserved}`, which is a field of an answer");
        block.page().error("bad-id", block.span("id"), message, "give it another id");
    }
    Some(Segment {
        id: id?,
        name: name?,
        length_m: length_m?,
        width_m,
        passes_per_day: passes_per_day?,
        herd_share,
    })
}

/// Answers in the order of the checklist's items.
fn answers(
    value: Value<'_>,
    checklist: Option<&Checklist>,
    segments: &[(String, Option<Segment>)],
) -> Vec<ItemAnswer> {
    let (Some(pairs), Some(checklist)) = (value.pairs(), checklist) else { return Vec::new() };
    let items: Vec<&Item> = checklist.items().collect();
    let mut read: Vec<(usize, ItemAnswer)> = Vec::new();
    for (key, value) in pairs {
        let Some(at) = items.iter().position(|item| item.id == key.raw()) else {
            unknown_item(key, &items);
            continue;
        };
        let given = match items[at].each {
            Each::Farm => farm_answer(value, items[at], segments).into_iter().collect(),
            Each::Segment => segment_answers(value, items[at], segments),
        };
        if !given.is_empty() {
            read.push((at, ItemAnswer { item: items[at].id.clone(), given }));
        }
    }
    read.sort_by_key(|(at, _)| *at);
    read.into_iter().map(|(_, answer)| answer).collect()
}

fn unknown_item(key: Value<'_>, items: &[&Item]) {
    key.page.error_with("unknown-item", key.span(), || {
        let near = suggest::nearest(key.raw(), items.iter().map(|item| item.id.as_str()));
        let help = near.map_or_else(String::new, |near| format!("did you mean `{near}`?"));
        (format!("the checklist has no item {}", key.quoted()), help)
    });
}

fn farm_answer(value: Value<'_>, item: &Item, segments: &[(String, Option<Segment>)]) -> Option<Given> {
    let entries = value.node.entries().unwrap_or_default();
    if let Some(entry) = entries.iter().find(|entry| segments.iter().any(|(id, _)| *id == entry.key)) {
        let message = format!("`{}` is asked of the farm as a whole, not of each segment", item.id);
        value.page.error("answer-place", &entry.key_node.span, message, example(&item.kind));
        return None;
    }
    answer(value, item, None)
}

fn segment_answers(value: Value<'_>, item: &Item, segments: &[(String, Option<Segment>)]) -> Vec<Given> {
    if value.node.is_null() {
        return Vec::new();
    }
    let entries = value.node.entries().unwrap_or_default();
    if entries.iter().any(|entry| entry.key == "skip") {
        return answer(value, item, None).into_iter().collect();
    }
    if let Some(entry) = entries.iter().find(|entry| ANSWER_FIELDS.contains(&entry.key.as_str())) {
        let message = format!("`{}` is asked of each segment", item.id);
        let id = segments.first().map_or("home-lane", |(id, _)| id.as_str());
        let help = format!("put the answer under the segment: `{id}: {}`", example(&item.kind));
        value.page.error("answer-place", &entry.key_node.span, message, help);
        return Vec::new();
    }
    let mut given = Vec::new();
    for (key, value) in value.pairs().unwrap_or_default() {
        match segments.iter().position(|(id, _)| id == key.raw()) {
            Some(at) => given.extend(answer(value, item, Some(at))),
            None => unknown_segment(key, segments),
        }
    }
    given.sort_by_key(|given| given.segment);
    given
}

fn unknown_segment(key: Value<'_>, segments: &[(String, Option<Segment>)]) {
    key.page.error_with("unknown-segment", key.span(), || {
        let mut ids: Vec<&str> = segments.iter().map(|(id, _)| id.as_str()).collect();
        ids.dedup();
        let help = match ids.as_slice() {
            [] => "describe the tracks under `segments` first".to_owned(),
            ids => suggest::hint(key.raw(), ids),
        };
        (format!("the farm has no segment {}", key.quoted()), help)
    });
}

/// What an answer of a kind looks like.
fn example(kind: &Kind) -> String {
    match kind {
        Kind::Choice(choices) => {
            format!("{{ choose: {} }}", choices.first().map_or("…", |choice| choice.id.as_str()))
        }
        Kind::Number(_) => "{ value: 12 }".to_owned(),
        Kind::Count(_) => "{ count: 34, over: 5 }".to_owned(),
        Kind::Share(_) => "{ count: 14, of: 20 }".to_owned(),
    }
}

/// Reads one answer. Nothing, without a fault, where all of it is left empty.
fn answer(value: Value<'_>, item: &Item, segment: Option<usize>) -> Option<Given> {
    if value.node.is_null() || value.node.entries().is_some_and(|all| all.iter().all(|it| it.value.is_null()))
    {
        return None;
    }
    if value.node.entries().is_none() {
        let message = format!("the answer to `{}` is {}", item.id, value.quoted());
        value.error(
            "wrong-type",
            message,
            format!("write `{}`, or `{{ skip: \"why\" }}`", example(&item.kind)),
        );
        return None;
    }
    value.block(|block| {
        let note = block.opt_text("note");
        let answer = judged_answer(block, item)?;
        Some(Given { segment, answer, note })
    })
}

fn judged_answer(block: &Block<'_>, item: &Item) -> Option<Answer> {
    let [choose, number, count, over, of, skip] = ANSWER_FIELDS.map(|field| block.opt(field));
    let given = [choose, number, count.or(over).or(of), skip].into_iter().flatten();
    let wanted = example(&item.kind);
    match given.clone().count() {
        0 => {
            let message = format!("the answer to `{}` says nothing", item.id);
            let help = format!("write `{wanted}`, or `{{ skip: \"why\" }}`");
            block.page().error("no-answer", block.value.span(), message, help);
            return None;
        }
        1 => {}
        _ => {
            let names: Vec<&str> = given.map(|value| value.name).collect();
            let message =
                format!("the answer to `{}` is given in two ways: {}", item.id, suggest::list(&names));
            block.page().error("two-answers", block.value.span(), message, format!("keep one: `{wanted}`"));
            return None;
        }
    }
    if let Some(reason) = skip {
        return reason.text().map(Answer::Skip);
    }
    match (&item.kind, choose, number, count, over, of) {
        (Kind::Choice(choices), Some(choose), ..) => {
            let ids: Vec<(&str, usize)> =
                choices.iter().enumerate().map(|(at, choice)| (choice.id.as_str(), at)).collect();
            choose.one_of(&ids).map(Answer::Choose)
        }
        (Kind::Number(scale), _, Some(number), ..) => {
            let never_negative = scale.points().first().is_some_and(|point| point.0 >= 0.0);
            number.number(if never_negative { &NOT_NEGATIVE } else { &ANY }).map(Answer::Value)
        }
        (Kind::Count(_), .., Some(_), None, Some(of)) => {
            let message = format!("`{}` counts over an area, length or time, not of a number", item.id);
            of.error("answer-kind", message, format!("write `{wanted}`"));
            None
        }
        (Kind::Share(_), .., Some(_), Some(over), None) => {
            let message = format!("`{}` counts how many of how many", item.id);
            over.error("answer-kind", message, format!("write `{wanted}`"));
            None
        }
        (Kind::Count(_), _, None, ..) if count.or(over).is_some() => counted(block, item),
        (Kind::Share(_), _, None, ..) if count.or(of).is_some() => shared(block, item),
        _ => {
            let message = format!("`{}` is a {}; this is another kind of answer", item.id, item.kind.id());
            block.page().error("answer-kind", block.value.span(), message, format!("write `{wanted}`"));
            None
        }
    }
}

fn counted(block: &Block<'_>, item: &Item) -> Option<Answer> {
    let count = block.req("count").and_then(|count| count.whole(0, MOST_COUNTED));
    let over = block.number("over", &POSITIVE);
    if let Some(of) = block.opt("of") {
        of.error("answer-kind", format!("`{}` has no `of`", item.id), "take it out");
    }
    Some(Answer::Count { count: count?, over: over? })
}

fn shared(block: &Block<'_>, item: &Item) -> Option<Answer> {
    let count = block.req("count").and_then(|count| count.whole(0, MOST_COUNTED));
    let of = block.req("of").and_then(|of| of.whole(1, MOST_COUNTED));
    if let Some(over) = block.opt("over") {
        over.error("answer-kind", format!("`{}` has no `over`", item.id), "take it out");
    }
    let (count, of) = (count?, of?);
    if count > of {
        let message = format!("`{}` is {count} of {of}: more than there are", item.id);
        block.page().error("more-than-all", block.span("count"), message, "are the two numbers swapped?");
        return None;
    }
    Some(Answer::Share { count, of })
}

/// Quantities by name; one that no price is counted by is a warning, as its name may be a slip.
fn quantities(value: Value<'_>, library: Option<&Library>) -> Vec<(String, f64)> {
    let options = library.map(|library| library.interventions.as_slice()).unwrap_or_default();
    let mut known: Vec<&str> = options
        .iter()
        .flat_map(|option| [&option.capital, &option.yearly])
        .filter_map(|price| price.as_ref()?.of.as_deref())
        .chain(["bails"])
        .collect();
    known.sort_unstable();
    known.dedup();
    let mut read = Vec::new();
    for (key, value) in value.pairs().unwrap_or_default() {
        if library.is_some() && !known.contains(&key.raw()) && !key.page.full() {
            let message = format!("no price is counted by the quantity `{}`", key.raw());
            key.page.warning("unused-quantity", key.span(), message, suggest::hint(key.raw(), &known));
        }
        if !value.node.is_null() {
            read.extend(value.number(&NOT_NEGATIVE).map(|number| (key.raw().to_owned(), number)));
        }
    }
    read
}

/// The farm's own prices; each is counted by the unit of the shipped price that it replaces.
fn prices(value: Value<'_>, library: Option<&Library>) -> Vec<OwnPrice> {
    let (Some(pairs), Some(library)) = (value.pairs(), library) else { return Vec::new() };
    let ids: Vec<&str> = library.interventions.iter().map(|option| option.id.as_str()).collect();
    let mut read = Vec::new();
    for (key, value) in pairs.into_iter().filter(|(_, value)| !value.node.is_null()) {
        let Some(option) = library.intervention(key.raw()) else {
            key.unknown_key("unknown-option", "option", &ids);
            continue;
        };
        read.extend(value.block(|block| {
            let own = |name, shipped: bool| {
                let value = block.opt(name)?;
                if !shipped {
                    let message =
                        format!("`{}` has no shipped `{name}`, so a price of it has no unit", option.id);
                    value.error(
                        "price-unit",
                        message,
                        format!("add `{name}` to the option in interventions.yaml"),
                    );
                }
                value.triangle(&NOT_NEGATIVE)
            };
            let capital = own("capital", option.capital.is_some());
            let yearly = own("yearly", option.yearly.is_some());
            Some(OwnPrice { option: option.id.clone(), capital, yearly })
        }));
    }
    read
}

fn records(block: &Block<'_>) -> Option<Records> {
    let from = block.req("from").and_then(Value::date);
    let to = block.req("to").and_then(Value::date);
    let average_cows = block.number("average_cows", &POSITIVE);
    let seen_by = block.opt("seen_by").and_then(Value::words).unwrap_or_default();
    let mut seen_by: Vec<Observer> = seen_by.into_iter().filter_map(|name| name.one_of(OBSERVERS)).collect();
    seen_by.sort();
    seen_by.dedup();
    let counts = block.opt("counts").and_then(case_counts);
    let (from, to) = (from?, to?);
    if from > to {
        let message = format!("the records run from {from} back to {to}");
        block.page().error(
            "reversed",
            block.span("to"),
            message,
            "`from` is the first day and `to` the last",
        );
    }
    Some(Records { from, to, average_cows: average_cows?, seen_by, counts })
}

/// Cases by lesion, and `unrecorded` for those whose lesion nobody wrote down.
fn case_counts(value: Value<'_>) -> Option<CaseCounts> {
    let mut counts = CaseCounts::default();
    let known: Vec<&str> = Lesion::ALL.map(Lesion::id).into_iter().chain(["unrecorded"]).collect();
    for (key, value) in value.pairs()? {
        let lesion = Lesion::from_id(key.raw());
        if lesion.is_none() && key.raw() != "unrecorded" {
            key.unknown_key("unknown-lesion", "lesion", &known);
            continue;
        }
        if value.node.is_null() {
            continue;
        }
        let cases = value.whole(0, MOST_COUNTED).unwrap_or(0);
        match lesion {
            Some(lesion) => counts.by_lesion[lesion] = cases,
            None => counts.unrecorded = cases,
        }
    }
    Some(counts)
}
