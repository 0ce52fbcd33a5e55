//! The actions agreed after a walk: what, who, by when, and what came of it.

use super::field::{Block, Bounds, End, NOT_NEGATIVE, Page, Value};
use super::{suggest, yaml};
use crate::finding::{Findings, SourceText};
use crate::model::actions::{Action, Actions, What};
use crate::model::intervention::{Each, Intervention};
use crate::model::walk::Walk;
use chrono::NaiveDate;
use std::collections::BTreeMap;

/// A part of a piece of work.
const PART: Bounds = Bounds::new(End::Beyond(0.0), End::At(1.0), "above 0 and at most 1");

/// Reads a file of actions. `options` are those an action may name (with none, any word stands);
/// with a `walk`, an option done to a segment must name one of the walk's. `None`, with every fault
/// pushed, where the file has an error.
pub fn read_actions(
    source: &SourceText,
    options: &[Intervention],
    walk: Option<&Walk>,
    findings: &mut Findings,
) -> Option<Actions> {
    let mut own = Findings::new();
    let root = yaml::read(source, &mut own);
    let page = Page::new(source);
    let known = Known { options, walk };
    let read = root.as_ref().and_then(|root| page.root(root).block(|block| known.actions(block)));
    page.close(&mut own);
    let failed = own.has_errors();
    findings.extend(own);
    read.filter(|_| !failed)
}

/// Reads the fields of a file of actions, whatever they name.
pub(crate) fn fields(block: &Block<'_>) -> Option<Actions> {
    Known { options: &[], walk: None }.actions(block)
}

struct Known<'a> {
    options: &'a [Intervention],
    walk: Option<&'a Walk>,
}

impl Known<'_> {
    fn actions(&self, block: &Block<'_>) -> Option<Actions> {
        let farm = block.text("farm");
        let walk_date = block.req("walk_date").and_then(Value::date);
        let currency = block.opt("currency").and_then(Value::currency);
        let mut named: BTreeMap<String, usize> = BTreeMap::new();
        let mut list = Vec::new();
        for value in block.req("actions").and_then(Value::list).unwrap_or_default() {
            let Some(action) = value.block(|block| self.action(block, walk_date)) else { continue };
            let line = value.page.line(value.span());
            if let Some(first) = named.insert(action.what.text(), line) {
                let message =
                    format!("`{}` is listed twice; the first is on line {first}", action.what.text());
                value.error("duplicate-id", message, "keep one, or say in `what` how the second differs");
            }
            list.push(action);
        }
        let costs = list.iter().any(|action| action.agreed_cost.or(action.real_cost).is_some());
        if costs && currency.is_none() && block.opt("currency").is_none() {
            let message = "there are costs but no currency".to_owned();
            block.page().error(
                "missing-field",
                block.value.span(),
                message,
                "add `currency: EUR` or another",
            );
        }
        Some(Actions { farm: farm?, walk_date: walk_date?, currency, list })
    }

    fn action(&self, block: &Block<'_>, walk_date: Option<NaiveDate>) -> Option<Action> {
        let what = block.req("what").and_then(|value| self.what(value));
        let who = block.opt_text("who");
        let by = later(block, "by", walk_date);
        let agreed_cost = block.opt_number("agreed_cost", &NOT_NEGATIVE);
        let done = later(block, "done", walk_date);
        let done_share = block.number_or("done_share", &PART, 1.0);
        let real_cost = block.opt_number("real_cost", &NOT_NEGATIVE);
        let note = block.opt_text("note");
        if real_cost.is_some() && block.opt("done").is_none() {
            let message = "`real_cost` is given, but not the day it was done".to_owned();
            let help = "add `done: 2026-03-14`; a price asked for beforehand belongs in `agreed_cost`";
            block.page().error("missing-field", block.span("real_cost"), message, help);
        }
        Some(Action { what: what?, who, by, agreed_cost, done, done_share, real_cost, note })
    }

    /// An option's id, with `:segment` where it is done to one; other words as they stand, unless
    /// they are an id with a slip in it.
    fn what(&self, value: Value<'_>) -> Option<What> {
        let text = value.text()?;
        let (id, segment) = match text.split_once(':') {
            Some((id, segment)) => (id.trim(), Some(segment.trim())),
            None => (text.trim(), None),
        };
        let Some(option) = self.options.iter().find(|option| option.id == id) else {
            let ids = self.options.iter().map(|option| option.id.as_str());
            if let (false, Some(near)) = (id.contains(' '), suggest::nearest(id, ids)) {
                let help = format!("did you mean `{near}`?");
                value.error("unknown-option", format!("there is no option `{id}`"), help);
                return None;
            }
            return Some(What::Words(text));
        };
        let segment = match (option.each, segment) {
            (Each::Farm, None) => None,
            (Each::Farm, Some(segment)) => {
                let message = format!("`{id}` is done to the farm as a whole, not to `{segment}`");
                value.error("answer-place", message, format!("write `what: {id}`"));
                return None;
            }
            (Each::Segment, None) => {
                let near = self.walk.and_then(|walk| walk.segments.first());
                let near = near.map_or("home-lane", |segment| &segment.id);
                let message = format!("`{id}` is done to one stretch of track, and none is named");
                value.error("answer-place", message, format!("write `what: {id}:{near}`"));
                return None;
            }
            (Each::Segment, Some(segment)) => {
                let ids: Vec<&str> =
                    self.walk.iter().flat_map(|walk| &walk.segments).map(|it| it.id.as_str()).collect();
                if self.walk.is_some() && !ids.contains(&segment) {
                    let message = format!("the farm has no segment `{segment}`");
                    value.error("unknown-segment", message, suggest::hint(segment, &ids));
                    return None;
                }
                Some(segment.to_owned())
            }
        };
        Some(What::Option { id: id.to_owned(), segment })
    }
}

/// A date that can't be before the walk after which the actions were agreed.
fn later(block: &Block<'_>, name: &'static str, walk_date: Option<NaiveDate>) -> Option<NaiveDate> {
    let date = block.opt(name)?.date()?;
    if let Some(walk) = walk_date.filter(|walk| date < *walk) {
        let message = format!("`{name}` is {date}, before the walk of {walk} after which it was agreed");
        block.page().error("reversed", block.span(name), message, "is the year right?");
    }
    Some(date)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::input::{FileSet, read_walk};
    use crate::show::caret::render;

    const GOOD: &str = include_str!("../../examples/01-heronsway/actions.yaml");

    fn read(text: &str) -> (Option<Actions>, String) {
        let walk = include_str!("../../examples/01-heronsway/walk.yaml");
        let (library, walk) =
            read_walk(&SourceText::new("walk.yaml", walk), &FileSet::builtin(), &mut Findings::new())
                .expect("the example walk has no faults");
        let mut findings = Findings::new();
        let source = SourceText::new("actions.yaml", text);
        let actions = read_actions(&source, &library.interventions, Some(&walk), &mut findings);
        (actions, render(&findings))
    }

    #[test]
    fn the_example_is_read_as_it_stands() {
        let (actions, findings) = read(GOOD);
        assert_eq!(findings, "");
        insta::assert_debug_snapshot!(actions);
    }

    #[test]
    fn every_fault_is_named_in_one_run() {
        let (actions, findings) = read(
            "farm: Heronsway\nwalk_date: 2025-10-07\nactions:\n\
             - { what: cap-trak:home-lane, by: 2024-11-30 }\n\
             - { what: cap-track:hoam-lane }\n\
             - { what: cap-track }\n\
             - { what: build-apron:home-lane }\n\
             - { what: \"Ring the quarry about fines\", agreed_cost: -3, real_cost: 12 }\n\
             - { what: drift-home, hwo: Una }\n\
             - { what: drift-home }\n\
             - { who: Bran }\n",
        );
        assert_eq!(actions, None);
        insta::assert_snapshot!(findings);
    }

    #[test]
    fn without_a_library_any_words_stand() {
        let text = "farm: Mill\nwalk_date: 2025-10-07\nactions: [{ what: cap-track }]\n";
        let mut findings = Findings::new();
        let actions = read_actions(&SourceText::new("a.yaml", text), &[], None, &mut findings);
        assert_eq!(actions.map(|it| it.list[0].what.clone()), Some(What::Words("cap-track".into())));
    }
}
