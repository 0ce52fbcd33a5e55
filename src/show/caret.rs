//! Findings as text: place, message, the line with carets, and what would be right.

use crate::finding::{Finding, Findings, Place, Severity};
use crate::model::words::Words;
use std::fmt::Write;
use unicode_width::UnicodeWidthChar;

/// Columns of a source line that are shown before the caret, where the line is cut.
const BEFORE: usize = 60;
/// Columns of a source line that are shown in all.
const ALL: usize = 120;

/// Every finding by file and line, and a closing line such as `3 errors, 1 warning`. Nothing where
/// there are none. Plain text without colour.
pub fn render(findings: &Findings) -> String {
    rendered(findings, &render_one)
}

/// The same with what each means in another language: what is said of a value stays English, as the
/// names in the files do.
pub fn render_in(words: &Words, findings: &Findings) -> String {
    rendered(findings, &|finding| {
        let meaning = words.known(&format!("finding.{}", finding.code));
        one(finding, meaning.as_deref())
    })
}

fn rendered(findings: &Findings, render_one: &dyn Fn(&Finding) -> String) -> String {
    let mut text = String::new();
    for finding in findings.sorted() {
        text.push_str(&render_one(finding));
    }
    if !findings.is_empty() {
        let _ = writeln!(text, "{}", tally(findings.errors(), findings.warnings()));
    }
    text
}

/// One finding: `path:line:column: error: message [code]`, the line with carets, the help.
pub fn render_one(finding: &Finding) -> String {
    one(finding, None)
}

/// The same with what it means in another language.
fn one(finding: &Finding, meaning: Option<&str>) -> String {
    let (line, column) = finding.place.line_column();
    let severity = match finding.severity {
        Severity::Error => "error",
        Severity::Warning => "warning",
    };
    let (file, message) = (harmless(finding.place.file()), harmless(&finding.message));
    let mut text = format!("{file}:{line}:{column}: {severity}: {message} [{}]\n", finding.code);
    let margin = line.to_string().len();
    if let Some((shown, carets)) = excerpt(&finding.place) {
        let _ = writeln!(text, "  {line} | {shown}\n  {:margin$} | {carets}", "");
    }
    if let Some(meaning) = meaning {
        let _ = writeln!(text, "  {:margin$} = {}", "", harmless(meaning));
    }
    if let Some(help) = &finding.help {
        let _ = writeln!(text, "  {:margin$} = help: {}", "", harmless(help));
    }
    text
}

fn tally(errors: usize, warnings: usize) -> String {
    let count = |number: usize, noun: &str| match number {
        0 => None,
        1 => Some(format!("1 {noun}")),
        _ => Some(format!("{number} {noun}s")),
    };
    [count(errors, "error"), count(warnings, "warning")].into_iter().flatten().collect::<Vec<_>>().join(", ")
}

/// The line of a place, cut round it where it is long, and the carets under it.
fn excerpt(place: &Place) -> Option<(String, String)> {
    let Place::Span(source, span) = place else { return None };
    let (line, start) = source.line_at(span.start);
    let at = floor_char(line, span.start.saturating_sub(start));
    let to = floor_char(line, span.end.saturating_sub(start)).max(at);
    if line.trim().is_empty() {
        return None;
    }
    let (before, cut_before) = last_columns(line.get(..at)?, BEFORE);
    let room = ALL - width(&before);
    let (after, cut_after) = first_columns(line.get(at..)?, room);
    let marked = first_columns(line.get(at..to)?, room).0;
    let open = if cut_before { "…" } else { "" };
    let close = if cut_after { "…" } else { "" };
    let indent = width(&before) + width(open);
    let carets = "^".repeat(width(&marked).max(1));
    Some((format!("{open}{before}{after}{close}"), format!("{:indent$}{carets}", "")))
}

/// The nearest character boundary at or before a byte.
fn floor_char(text: &str, at: usize) -> usize {
    (0..=at.min(text.len())).rev().find(|at| text.is_char_boundary(*at)).unwrap_or(0)
}

fn first_columns(text: &str, columns: usize) -> (String, bool) {
    let mut taken = String::new();
    let mut used = 0;
    for c in text.chars() {
        let shown = shown(c);
        used += width(&shown);
        if used > columns {
            return (taken, true);
        }
        taken.push_str(&shown);
    }
    (taken, false)
}

fn last_columns(text: &str, columns: usize) -> (String, bool) {
    let mut taken: Vec<String> = Vec::new();
    let mut used = 0;
    let mut cut = false;
    for c in text.chars().rev() {
        let shown = shown(c);
        used += width(&shown);
        if used > columns {
            cut = true;
            break;
        }
        taken.push(shown);
    }
    (taken.into_iter().rev().collect(), cut)
}

/// A character as it is printed: a tab as spaces, and nothing that could move the cursor, colour
/// the screen or turn the direction of writing.
fn shown(c: char) -> String {
    match c {
        '\t' => "    ".to_owned(),
        '\u{0}'..='\u{1F}' => char::from_u32(0x2400 + c as u32).unwrap_or('\u{FFFD}').to_string(),
        '\u{7F}' => '\u{2421}'.to_string(),
        '\u{80}'..='\u{9F}'
        | '\u{200B}'..='\u{200F}'
        | '\u{2028}'..='\u{202E}'
        | '\u{2060}'..='\u{206F}'
        | '\u{FEFF}' => '\u{FFFD}'.to_string(),
        _ => c.to_string(),
    }
}

/// A text on one line, with nothing that could harm a terminal.
pub fn harmless(text: &str) -> String {
    text.chars().map(shown).collect()
}

/// The same of a text of several lines.
pub fn harmless_lines(text: &str) -> String {
    text.split('\n').map(harmless).collect::<Vec<_>>().join("\n")
}

/// Columns on a terminal.
fn width(text: &str) -> usize {
    text.chars().map(|c| c.width().unwrap_or(0)).sum()
}
