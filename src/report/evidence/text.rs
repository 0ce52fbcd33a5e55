//! The evidence in a terminal: plain text that fits its width.

use super::{EvidenceOverview, FactorEvidence, words};
use crate::report::number::percent;
use minijinja::syntax::SyntaxConfig;
use minijinja::value::Serde;
use minijinja::{Environment, Error, UndefinedBehavior, context};
use unicode_width::UnicodeWidthStr;

const FACTOR: &str = include_str!("../../../templates/evidence.txt");
const OVERVIEW: &str = include_str!("../../../templates/evidence-overview.txt");

/// Narrowest width that is kept to.
const NARROWEST: usize = 40;

/// The evidence of one factor in lines of at most `width` columns (40 or more).
///
/// # Errors
/// Only a fault in the template, which is built in.
pub fn render_text(evidence: &FactorEvidence, width: usize) -> Result<String, Error> {
    let environment = environment(width)?;
    environment.render_str(FACTOR, Serde(evidence))
}

/// The table of all factors in lines of at most `width` columns (40 or more).
///
/// # Errors
/// Only a fault in the template, which is built in.
pub fn render_overview(overview: &EvidenceOverview, width: usize) -> Result<String, Error> {
    let row = |factor: &FactorEvidence| {
        context! {
            id => &factor.id,
            basis => &factor.basis_words,
            mark => &factor.mark,
            weight => &factor.weight.words,
            effects => factor.effects(),
            pooled => factor.pooled(),
        }
    };
    let rows: Vec<_> = overview.factors.iter().map(row).collect();
    environment(width)?.render_str(OVERVIEW, context! { system => overview.system, factors => rows })
}

fn environment(width: usize) -> Result<Environment<'static>, Error> {
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
    environment.add_filter("ratio", words::ratio);
    environment.add_filter("percent", percent);
    environment.add_filter("pad", |text: &str, columns: usize| pad(text, columns));
    Ok(environment)
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
