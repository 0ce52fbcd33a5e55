//! A checklist: what is looked at, in what order, and how an answer becomes an exposure.

use super::burden::SYSTEMS;
use super::field::{ANY, Block, Ids, Mention, Page, Refers, SHARE, Value};
use super::interventions::EACH;
use crate::finding::{Findings, SourceText};
use crate::model::checklist::{Checklist, Choice, Item, Kind, Scale, Section};
use crate::model::intervention::Each;

/// The four kinds of answer, and which fields an item of the kind has.
#[derive(Clone, Copy, PartialEq)]
enum Shape {
    Choice,
    Number,
    Count,
    Share,
}

const SHAPES: &[(&str, Shape)] =
    &[("choice", Shape::Choice), ("number", Shape::Number), ("count", Shape::Count), ("share", Shape::Share)];

/// The longest walk, in minutes: two days.
const MOST_MINUTES: u64 = 2_880;

/// Reads a checklist.
pub(crate) fn read_checklist(
    text: &SourceText,
    findings: &mut Findings,
) -> (Option<Checklist>, Vec<Mention>) {
    let Some(root) = super::yaml::read(text, findings) else { return (None, Vec::new()) };
    let page = Page::new(text);
    let checklist = page.root(&root).block(fields);
    (checklist, page.close(findings))
}

/// Reads the fields of a checklist.
pub(crate) fn fields(block: &Block<'_>) -> Option<Checklist> {
    let id = block.id("checklist");
    let version = block.text("version");
    let title = block.text("title");
    let system = block.one_of("system", SYSTEMS);
    let minutes = block.opt_whole("minutes", 1, MOST_MINUTES);
    let (mut sections, mut items) = (Ids::default(), Ids::default());
    let listed = block.req("sections").and_then(filled_list);
    let listed = listed.map(|list| {
        list.into_iter().filter_map(|value| section(value, &mut sections, &mut items)).collect::<Vec<_>>()
    });
    Some(Checklist { id: id?, version: version?, title: title?, system: system?, minutes, sections: listed? })
}

/// A list that must hold something.
fn filled_list(value: Value<'_>) -> Option<Vec<Value<'_>>> {
    let list = value.list()?;
    if list.is_empty() {
        value.error("wrong-length", format!("`{}` is an empty list", value.name), "it needs at least one");
    }
    (!list.is_empty()).then_some(list)
}

fn claim(value: Value<'_>, ids: &mut Ids) {
    if let Some(id) = value.block_id() {
        ids.claim(id, id.raw());
    }
}

fn section(value: Value<'_>, sections: &mut Ids, ids: &mut Ids) -> Option<Section> {
    claim(value, sections);
    value.block(|block| {
        let id = block.id("id");
        let title = block.text("title");
        let guide = block.opt_text("guide");
        let items = block.req("items").and_then(filled_list).unwrap_or_default();
        let read = |value| {
            claim(value, ids);
            item(value)
        };
        let items: Vec<Item> = items.into_iter().filter_map(read).collect();
        Some(Section { id: id?, title: title?, guide, items })
    })
}

fn item(value: Value<'_>) -> Option<Item> {
    value.block(|block| {
        let id = block.id("id");
        let factor = block.req("factor").and_then(|factor| factor.mention(Refers::Factor));
        let each = block.opt("each").map_or(Some(Each::Farm), |each| each.one_of(EACH));
        let ask = block.text("ask");
        let look = block.opt_text("look");
        let kind = block.one_of("kind", SHAPES);
        let unit = block.opt_text("unit");
        let scale = block.opt("scale").map(scale);
        let options = block.opt("options").map(choices);
        let source = block.opt("source").and_then(|source| source.mention(Refers::Source));
        block.explained(&["unreachable-point", "scale-turns", "flat-item", "equal-options"]);
        let kind = answer_kind(block, kind?, scale, options);
        kind.iter().for_each(|kind| judge_kind(block, kind));
        if matches!(kind, Some(Kind::Count(_))) && unit.is_none() {
            let message = "a count needs a unit: what is it counted over?".to_owned();
            block.page().error("missing-field", value.span(), message, "add `unit: stones/m2`");
        }
        Some(Item { id: id?, factor: factor?, each: each?, ask: ask?, look, kind: kind?, unit, source })
    })
}

/// The kind of an item with the scale or the options that it needs, and not the other one.
fn answer_kind(
    block: &Block<'_>,
    shape: Shape,
    scale: Option<Option<Scale>>,
    options: Option<Option<Vec<Choice>>>,
) -> Option<Kind> {
    let (wanted, unwanted, has, has_other) = match shape {
        Shape::Choice => ("options", "scale", options.is_some(), scale.is_some()),
        _ => ("scale", "options", scale.is_some(), options.is_some()),
    };
    if has_other {
        let message = format!("an item of this kind has no `{unwanted}`");
        block.page().error(
            "item-kind",
            block.span(unwanted),
            message,
            format!("it has `{wanted}`; or change `kind`"),
        );
    }
    if !has {
        let message = format!("`{wanted}` is missing from this item");
        block.page().error("missing-field", block.value.span(), message, "");
    }
    match shape {
        Shape::Choice => options.flatten().map(Kind::Choice),
        Shape::Number => scale.flatten().map(Kind::Number),
        Shape::Count => scale.flatten().map(Kind::Count),
        Shape::Share => scale.flatten().map(Kind::Share),
    }
}

/// What a careful editor would ask about a scale or a choice.
fn judge_kind(block: &Block<'_>, kind: &Kind) {
    let (field, exposures): (&str, Vec<f64>) = match kind {
        Kind::Choice(choices) => ("options", choices.iter().map(|choice| choice.x).collect()),
        Kind::Number(scale) | Kind::Count(scale) | Kind::Share(scale) => {
            ("scale", scale.points().iter().map(|point| point.1).collect())
        }
    };
    let (page, span) = (block.page(), block.span(field));
    if exposures.windows(2).all(|pair| pair[0] == pair[1]) {
        let message = "every answer to this item gives the same exposure, so it tells nothing".to_owned();
        page.warning("flat-item", span, message, "give a better answer a lower exposure than a worse one");
        return;
    }
    match kind {
        Kind::Choice(_) => {}
        Kind::Number(_) => judge_turns(block, &exposures),
        Kind::Count(scale) => {
            judge_turns(block, &exposures);
            judge_reach(block, scale, f64::INFINITY, "no count is below 0");
        }
        Kind::Share(scale) => {
            judge_turns(block, &exposures);
            judge_reach(block, scale, 1.0, "a share lies between 0 and 1");
        }
    }
}

/// Two answers that score alike are mostly a slip of one figure.
fn judge_choices(choices: &[(Value<'_>, Choice)]) {
    let flat = choices.windows(2).all(|pair| pair[0].1.x == pair[1].1.x);
    for (at, (value, choice)) in choices.iter().enumerate().filter(|_| !flat) {
        if let Some((_, first)) = choices[..at].iter().find(|(_, first)| first.x == choice.x) {
            let message = format!("`{}` and `{}` give the same exposure, {}", first.id, choice.id, choice.x);
            let help = "join the two, tell them apart, or give the reason under `explained`";
            value.page.warning("equal-options", value.span(), message, help);
        }
    }
}

/// A scale that rises and falls again is mostly a slip of one figure.
fn judge_turns(block: &Block<'_>, exposures: &[f64]) {
    let rises = exposures.windows(2).any(|pair| pair[0] < pair[1]);
    let falls = exposures.windows(2).any(|pair| pair[0] > pair[1]);
    if rises && falls {
        let message = "this scale rises and falls: neither more nor less is always worse".to_owned();
        let help = "is one exposure mistyped? Where both ends are bad, say why under `explained`";
        block.page().warning("scale-turns", block.span("scale"), message, help);
    }
}

fn judge_reach(block: &Block<'_>, scale: &Scale, most: f64, why: &str) {
    for (at, x) in scale.points().iter().filter(|point| !(0.0..=most).contains(&point.0)) {
        let message = format!("no answer can reach the point [{at}, {x}]: {why}");
        let help = if *at > 1.0 && *at <= 100.0 {
            format!("{at} % is written {}", at / 100.0)
        } else {
            String::new()
        };
        block.page().warning("unreachable-point", block.span("scale"), message, help);
    }
}

fn scale(value: Value<'_>) -> Option<Scale> {
    let list = value.list()?;
    let points: Vec<(f64, f64)> = list.iter().filter_map(|point| scale_point(*point)).collect();
    if points.len() < list.len() {
        return None;
    }
    let scale = Scale::new(points);
    if scale.is_none() {
        let help = "at least two points, the values rising: [[0, 0], [4, 0.5], [12, 1]]";
        value.error("bad-scale", "this scale can't be read".to_owned(), help);
    }
    scale
}

fn scale_point(value: Value<'_>) -> Option<(f64, f64)> {
    let [at, x] = value.pair("a point of a scale", "two: the value and the exposure, such as [4, 0.5]")?;
    let (at, x) = (at.number(&ANY), x.number(&SHARE));
    Some((at?, x?))
}

fn choices(value: Value<'_>) -> Option<Vec<Choice>> {
    let mut ids = Ids::default();
    let list = value.list()?;
    if list.len() < 2 {
        value.error(
            "wrong-length",
            format!("a choice of {} is none", list.len()),
            "give at least two options",
        );
        return None;
    }
    let wanted = list.len();
    let choices: Vec<(Value<'_>, Choice)> = list
        .into_iter()
        .filter_map(|value| {
            claim(value, &mut ids);
            value.block(|block| {
                let id = block.id("id");
                let say = block.text("say");
                let x = block.number("x", &SHARE);
                Some((value, Choice { id: id?, say: say?, x: x? }))
            })
        })
        .collect();
    judge_choices(&choices);
    (choices.len() == wanted).then(|| choices.into_iter().map(|(_, choice)| choice).collect())
}
