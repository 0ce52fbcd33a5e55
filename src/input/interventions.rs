//! `interventions.yaml`: what can be changed, how far, at what price.

use super::factors::{factor_shares, typical};
use super::field::{Block, INNER_SHARE, Listed, NOT_NEGATIVE, POSITIVE, Page, Refers, Value, read_listed};
use crate::finding::{Findings, SourceText};
use crate::model::intervention::{Each, Intervention, ShortensCases};
use crate::model::money::{Per, Price};
use std::ops::Range;

pub(crate) const EACH: &[(&str, Each)] = &[("farm", Each::Farm), ("segment", Each::Segment)];

const PER: &[(&str, Per)] = &[
    ("farm", Per::Farm),
    ("cow", Per::Cow),
    ("m", Per::Metre),
    ("m2", Per::SquareMetre),
    ("bail", Per::Bail),
];

/// Reads the options.
pub(crate) fn read_interventions(text: &SourceText, findings: &mut Findings) -> Listed<Intervention> {
    read_listed(text, "interventions", findings, intervention, judge_needs)
}

pub(crate) fn intervention(value: Value<'_>) -> Option<Intervention> {
    value.block(|block| {
        let id = block.id("id");
        let title = block.text("title");
        let each = block.opt("each").map_or(Some(Each::Farm), |each| each.one_of(EACH));
        let to = block.opt("to").map_or(Some(Vec::new()), factor_shares);
        let achieved = block.req("achieved").and_then(achieved);
        let shortens_cases = block.opt("shortens_cases").and_then(|value| value.block(shortens));
        let capital = block.opt("capital").and_then(|value| price(value, each));
        let yearly = block.opt("yearly").and_then(|value| price(value, each));
        let currency = block.opt("currency").and_then(Value::currency);
        let price_year = block.opt("price_year").and_then(Value::year);
        let price_source = block.opt("price_source").and_then(|source| source.mention(Refers::Source));
        let life_years = block.number("life_years", &POSITIVE);
        let either = block.opt_id("either");
        let needs = block.mentions("needs", Refers::Option);
        let weeks_to_effect = block.opt_number("weeks_to_effect", &NOT_NEGATIVE);
        let how = block.text("how");
        let caution = block.opt_text("caution");
        block.explained(&["worse-target"]);
        let priced = capital.is_some() || yearly.is_some();
        if priced && currency.is_none() && block.opt("currency").is_none() {
            let message = "there is a price but no currency".to_owned();
            block.page().error("missing-field", value.span(), message, "add `currency: EUR` or another");
        }
        let (achieved_mean, achieved_sd) = achieved?;
        let to = to?;
        if to.is_empty() && shortens_cases.is_none() && block.opt("to").is_none() {
            let message = "this option neither changes a factor nor shortens cases".to_owned();
            block.page().error("idle-option", value.span(), message, "add `to: { factor: target }`");
        }
        Some(Intervention {
            id: id?,
            title: title?,
            each: each?,
            to,
            achieved_mean,
            achieved_sd,
            shortens_cases,
            capital,
            yearly,
            currency,
            price_year,
            price_source,
            life_years: life_years?,
            either,
            needs,
            weeks_to_effect,
            how: how?,
            caution,
        })
    })
}

/// Mean and standard deviation of a Beta distribution: strictly inside its limits.
fn achieved(value: Value<'_>) -> Option<(f64, f64)> {
    let errors = value.page.errors();
    let (mean, sd) = typical(value)?;
    let inside = mean > 0.0 && mean < 1.0 && sd > 0.0 && sd * sd < mean * (1.0 - mean);
    if !inside && value.page.errors() == errors {
        let message = format!("`achieved` has the mean {mean} and the spread {sd}");
        value.error("out-of-range", message, "a mean above 0 and below 1, and a spread above 0");
    }
    inside.then_some((mean, sd))
}

fn shortens(block: &Block<'_>) -> Option<ShortensCases> {
    let ratio = block.number("ratio", &POSITIVE);
    let interval = block.req("interval").and_then(|interval| interval.interval(&POSITIVE));
    let level = block.number_or("level", &INNER_SHARE, 0.95);
    let source = block.opt("source").and_then(|source| source.mention(Refers::Source));
    Some(ShortensCases { ratio: ratio?, interval: interval?, level, source })
}

/// A price; metres and square metres need to know of what.
fn price(value: Value<'_>, each: Option<Each>) -> Option<Price> {
    value.block(|block| {
        let per = block.one_of("per", PER);
        let of = block.opt_id("of");
        let amount = block.req("amount").and_then(|amount| amount.triangle(&NOT_NEGATIVE));
        let (per, amount) = (per?, amount?);
        let measured = matches!(per, Per::Metre | Per::SquareMetre);
        if measured && of.is_none() && each == Some(Each::Farm) {
            let message = format!("`{}` is per {}, but of what?", value.name, per.id());
            let help = "name the quantity of the walk record: `of: yard_m2`";
            block.page().error("price-quantity", value.span(), message, help);
        }
        if !measured && of.is_some() {
            let message = format!("`of` goes with prices per m or m2, and this one is per {}", per.id());
            block.page().error("price-quantity", block.span("of"), message, "take out `of`");
        }
        Some(Price { per, of, amount })
    })
}

/// An option that needs itself or one that excludes it could never be chosen; of options that need one
/// another in a circle nobody could say which comes first.
fn judge_needs(page: &Page<'_>, options: &[(Intervention, Range<usize>)]) {
    for (option, span) in options {
        for need in &option.needs {
            let rival = options.iter().any(|(other, _)| {
                other.id == *need && other.either.is_some() && other.either == option.either
            });
            if *need == option.id || rival {
                let message = format!("`{}` needs `{need}`, and the two can't come together", option.id);
                page.error("impossible-need", span, message, "take out one of `needs` and `either`");
            }
        }
        if let Some(last) = circle(options, &option.id) {
            let message = format!("`{}` needs `{last}` sooner or later, and that needs `{0}`", option.id);
            let help = "take out one of them, or make one option of both";
            page.error("circle-in-needs", span, message, help);
        }
    }
}

/// The last option on a way of needs from an option back to itself, over another; each circle is told once,
/// of the first option of the file that is in it.
fn circle<'a>(options: &'a [(Intervention, Range<usize>)], start: &str) -> Option<&'a str> {
    let at = |id: &str| options.iter().position(|(option, _)| option.id == id);
    let first = at(start)?;
    let mut reached = vec![first];
    let mut next = 0;
    while let Some((option, _)) = reached.get(next).and_then(|at| options.get(*at)) {
        let needs = option.needs.iter().filter_map(|need| at(need));
        for need in needs {
            if need == first && option.id != start {
                return Some(&option.id);
            }
            // A circle with an earlier option was told there.
            if need > first && !reached.contains(&need) {
                reached.push(need);
            }
        }
        next += 1;
    }
    None
}
