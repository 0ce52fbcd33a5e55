//! The evidence in a terminal: plain text that fits its width.

use super::{EvidenceOverview, FactorEvidence, words};
use crate::model::words::Words;
use crate::report::sentence::sentence;
use minijinja::syntax::SyntaxConfig;
use minijinja::value::{Kwargs, Serde};
use minijinja::{Environment, Error, UndefinedBehavior, Value, context};
use std::sync::Arc;
use unicode_width::UnicodeWidthStr;

const FACTOR: &str = include_str!("../../../templates/evidence.txt");
const OVERVIEW: &str = include_str!("../../../templates/evidence-overview.txt");

/// Narrowest width that is kept to.
const NARROWEST: usize = 40;

/// The evidence of one factor in lines of at most `width` columns (40 or more).
///
/// # Errors
/// Only a fault in the template, which is built in.
pub fn render_text(words: &Arc<Words>, evidence: &FactorEvidence, width: usize) -> Result<String, Error> {
    let context = context! { rests_on => evidence.rests_on(words), ..Value::from(Serde(evidence)) };
    environment(words, width)?.render_str(FACTOR, context)
}

/// The table of all factors in lines of at most `width` columns (40 or more).
///
/// # Errors
/// Only a fault in the template, which is built in.
pub fn render_overview(
    words: &Arc<Words>,
    overview: &EvidenceOverview,
    width: usize,
) -> Result<String, Error> {
    let row = |factor: &FactorEvidence| {
        context! {
            id => &factor.id,
            rests_on => factor.rests_on(words),
            weight => &factor.weight.words,
            pooled_of => factor.pooled_of_listed(words),
        }
    };
    let rows: Vec<_> = overview.factors.iter().map(row).collect();
    let context = context! { system => overview.system, factors => rows };
    environment(words, width)?.render_str(OVERVIEW, context)
}

fn environment(words: &Arc<Words>, width: usize) -> Result<Environment<'static>, Error> {
    let width = width.max(NARROWEST);
    let mut environment = Environment::new();
    environment.set_undefined_behavior(UndefinedBehavior::Strict);
    environment.set_syntax(SyntaxConfig::builder().trim_blocks(true).lstrip_blocks(true).build()?);
    environment.add_filter("fill", move |text: &str, indent: Option<usize>| {
        let indent = indent.unwrap_or(0);
        fill(&" ".repeat(indent), text, indent, width)
    });
    environment.add_filter("entry", move |text: &str, label: &str, indent: usize, column: usize| {
        let head = pad(&format!("{}{label}", " ".repeat(indent)), column);
        fill(&head, text, column, width)
    });
    environment.add_filter("pad", |text: &str, columns: usize| pad(text, columns));
    environment.add_function("room", |least: usize, texts: Vec<String>| room(least, &texts));
    let of = Arc::clone(words);
    environment
        .add_function("t", move |key: &str, values: Kwargs| sentence(&of, key, &values, str::to_owned));
    let of = Arc::clone(words);
    environment.add_filter("ratio", move |value: f64| words::ratio(&of, value));
    let of = Arc::clone(words);
    environment.add_filter("percent", move |share: f64| of.percent(share));
    let of = Arc::clone(words);
    environment.add_filter("strength", move |share: f64| strength(&of, share));
    Ok(environment)
}

/// A share from 0 to 1 with a decimal at least.
fn strength(words: &Words, share: f64) -> String {
    if share.fract() == 0.0 { words.decimals(share, 1) } else { words::plain(words, share) }
}

/// Columns that texts one below the other take, and two between them and the next.
fn room(least: usize, texts: &[String]) -> usize {
    texts.iter().map(|text| text.width() + 2).fold(least, usize::max)
}

/// A text padded to a column, with a space after it at least.
fn pad(text: &str, columns: usize) -> String {
    let gap = columns.saturating_sub(text.width()).max(1);
    format!("{text}{}", " ".repeat(gap))
}

/// `text` after `head`, broken between words at `width`, later lines indented. A word that is too long for
/// a line stands alone on it.
fn fill(head: &str, text: &str, indent: usize, width: usize) -> String {
    let mut out = String::new();
    let mut line = head.to_owned();
    let mut empty = true;
    for word in text.split_whitespace() {
        if !empty && line.width() + 1 + word.width() > width {
            out.push_str(line.trim_end());
            out.push('\n');
            line = " ".repeat(indent);
            empty = true;
        }
        if !empty {
            line.push(' ');
        }
        line.push_str(word);
        empty = false;
    }
    out.push_str(line.trim_end());
    out
}
