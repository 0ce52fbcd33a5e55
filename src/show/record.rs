//! A walk as the JSON of its record: the fields of a walk file, for a page that has no YAML reader.

use crate::model::Library;
use crate::model::checklist::{Item, Kind};
use crate::model::day::DateOrder;
use crate::model::intervention::Each;
use crate::model::money::Triangle;
use crate::model::walk::{Answer, CaseCounts, Given, ItemAnswer, Observer, Records, Segment, Walk};
use serde_json::{Map, Value, json};

/// The walk record that reads back as this walk. What is absent is left out.
pub fn walk(library: &Library, walk: &Walk) -> Value {
    let answer = |answer: &ItemAnswer| Some((answer.item.clone(), item_answer(library, walk, answer)?));
    let costs =
        walk.costs_per_case.iter().filter_map(|(lesion, cost)| Some((lesion.id(), triangle((*cost)?))));
    let prices = walk.prices.iter().map(|price| {
        let own = json!({ "capital": price.capital.map(triangle), "yearly": price.yearly.map(triangle) });
        (price.option.clone(), without_absent(own))
    });
    without_absent(json!({
        "walk": walk.checklist,
        "date": walk.date.to_string(),
        "by": walk.by.map(Observer::id),
        "farm": without_absent(json!({ "name": walk.farm_name, "code": walk.farm_code })),
        "herd": without_absent(json!({
            "cows": walk.cows,
            "system": walk.system.id(),
            "currency": walk.currency,
            "discount_rate": walk.discount_rate,
        })),
        "segments": walk.segments.iter().map(segment).collect::<Vec<_>>(),
        "answers": walk.answers.iter().filter_map(answer).collect::<Map<_, _>>(),
        "quantities": walk.quantities.iter().map(|(id, amount)| (id.clone(), json!(amount))).collect::<Map<_, _>>(),
        "prices": some_of(prices.collect()),
        "costs_per_case": some_of(costs.map(|(id, cost)| (id.to_owned(), cost)).collect()),
        "cases": walk.cases_file,
        "locomotion": walk.locomotion_file,
        "scale": walk.locomotion_file.as_ref().map(|_| walk.locomotion_scale.id()),
        "dates": walk.table_dates.map(DateOrder::id),
        "records": walk.records.as_ref().map(records),
        "notes": walk.notes,
    }))
}

fn without_absent(mut value: Value) -> Value {
    if let Value::Object(fields) = &mut value {
        fields.retain(|_, field| !field.is_null());
    }
    value
}

fn some_of(fields: Map<String, Value>) -> Option<Map<String, Value>> {
    (!fields.is_empty()).then_some(fields)
}

fn triangle(amount: Triangle) -> Value {
    json!([amount.low, amount.likely, amount.high])
}

fn segment(segment: &Segment) -> Value {
    without_absent(json!({
        "id": segment.id,
        "name": segment.name,
        "length_m": segment.length_m,
        "width_m": segment.width_m,
        "passes_per_day": segment.passes_per_day,
        "herd_share": segment.herd_share,
    }))
}

fn item_answer(library: &Library, walk: &Walk, answer: &ItemAnswer) -> Option<Value> {
    let item = library.checklist.item(&answer.item)?;
    match item.each {
        Each::Farm => answer.given.first().map(|one| given(item, one)),
        Each::Segment => {
            let whole = answer.given.iter().find(|given| given.segment.is_none());
            let place = |one: &Given| Some((walk.segments.get(one.segment?)?.id.clone(), given(item, one)));
            let placed = || Value::Object(answer.given.iter().filter_map(place).collect());
            Some(whole.map_or_else(placed, |one| given(item, one)))
        }
    }
}

fn given(item: &Item, given: &Given) -> Value {
    let mut value = match (&given.answer, &item.kind) {
        (Answer::Choose(at), Kind::Choice(choices)) => {
            json!({ "choose": choices.get(*at).map(|choice| &choice.id) })
        }
        (Answer::Choose(_), _) => json!({}),
        (Answer::Value(value), _) => json!({ "value": value }),
        (Answer::Count { count, over }, _) => json!({ "count": count, "over": over }),
        (Answer::Share { count, of }, _) => json!({ "count": count, "of": of }),
        (Answer::Skip(reason), _) => json!({ "skip": reason }),
    };
    if let Some(note) = &given.note {
        value["note"] = json!(note);
    }
    value
}

fn records(records: &Records) -> Value {
    without_absent(json!({
        "from": records.from.to_string(),
        "to": records.to.to_string(),
        "average_cows": records.average_cows,
        "seen_by": records.seen_by.iter().map(|observer| observer.id()).collect::<Vec<_>>(),
        "counts": records.counts.as_ref().map(counts),
    }))
}

/// Lesions without a case are left out; `unrecorded` always stands, since no case at all is a count too.
fn counts(counts: &CaseCounts) -> Value {
    let seen = counts.by_lesion.iter().filter(|(_, cases)| **cases > 0);
    let mut fields: Map<String, Value> =
        seen.map(|(lesion, cases)| (lesion.id().to_owned(), json!(cases))).collect();
    fields.insert("unrecorded".to_owned(), json!(counts.unrecorded));
    Value::Object(fields)
}

#[cfg(test)]
mod tests {
    use super::walk as record_of;
    use crate::finding::{Findings, SourceText};
    use crate::input::{FileSet, read_walk};

    #[test]
    fn a_record_reads_back_as_the_same_walk() {
        let texts = [
            include_str!("../../examples/01-heronsway/walk.yaml"),
            include_str!("../../examples/02-tussock-flat/walk.yaml"),
            include_str!("../../examples/04-heronsway-self-check/walk.yaml"),
        ];
        for text in texts {
            let read = |text: &str| {
                let mut findings = Findings::new();
                let read = read_walk(&SourceText::new("walk.yaml", text), &FileSet::builtin(), &mut findings);
                read.unwrap_or_else(|| panic!("{:?}", findings.sorted()))
            };
            let (library, walk) = read(text);
            // JSON is YAML; the order of names in a block bears no meaning.
            let in_order = |mut walk: crate::model::walk::Walk| {
                walk.quantities.sort_by(|a, b| a.0.cmp(&b.0));
                walk.prices.sort_by(|a, b| a.option.cmp(&b.option));
                walk
            };
            let again = read(&record_of(&library, &walk).to_string()).1;
            assert_eq!(in_order(again), in_order(walk));
        }
    }
}
