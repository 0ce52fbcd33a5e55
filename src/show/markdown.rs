//! Markdown from templates. Every value is escaped, so that no text of a walk record can become
//! markup, a heading, a table cell or a link.
//!
//! Two marks that only the templates can write: a fenced block with the info word `figure` places a
//! figure by its name, and the code span `fill` is room to write in by hand. [`plain`] puts words in
//! their place for readers of the Markdown itself; [`super::html`] draws them.

use crate::model::words::Words;
use crate::report::sentence::sentence;
use minijinja::syntax::SyntaxConfig;
use minijinja::value::{Kwargs, Serde, Value, ValueKind};
use minijinja::{Environment, ErrorKind, Output, State, UndefinedBehavior};
use serde::Serialize;
use std::sync::Arc;

/// The templates by name.
const TEMPLATES: &[(&str, &str)] = &[
    ("farmer.md", include_str!("../../templates/farmer.md")),
    ("adviser.md", include_str!("../../templates/adviser.md")),
    ("overdue.md", include_str!("../../templates/overdue.md")),
    ("revisit.md", include_str!("../../templates/revisit.md")),
    ("plan.md", include_str!("../../templates/plan.md")),
    ("plan-years.md", include_str!("../../templates/plan-years.md")),
    ("plan-steps.md", include_str!("../../templates/plan-steps.md")),
    ("report-plan.md", include_str!("../../templates/report-plan.md")),
    ("methods.md", include_str!("../../templates/methods.md")),
    ("group.md", include_str!("../../templates/group.md")),
    ("privacy.md", include_str!("../../templates/privacy.md")),
    ("records.md", include_str!("../../templates/records.md")),
    ("cases.md", include_str!("../../templates/cases.md")),
    ("own-records.md", include_str!("../../templates/own-records.md")),
    ("records-in-short.md", include_str!("../../templates/records-in-short.md")),
    ("sample.md", include_str!("../../templates/sample.md")),
    ("record-sheet.md", include_str!("../../templates/record-sheet.md")),
    ("dangers.md", include_str!("../../templates/dangers.md")),
];

/// Fills a template by its name, with the words of a language. The context's strings are escaped.
///
/// # Errors
/// The template engine's own message, where a template asks for a name that the context lacks, or a
/// sentence that the words lack: a fault of the program, not of the input.
pub fn fill(
    words: &Arc<Words>,
    template: &str,
    context: &impl Serialize,
) -> Result<String, minijinja::Error> {
    let environment = environment(words)?;
    let filled = environment.get_template(template)?.render(Value::from(Serde(context)))?;
    Ok(tidy(&filled))
}

fn environment(words: &Arc<Words>) -> Result<Environment<'static>, minijinja::Error> {
    let mut environment = Environment::new();
    environment.set_undefined_behavior(UndefinedBehavior::Strict);
    environment.set_syntax(SyntaxConfig::builder().trim_blocks(true).lstrip_blocks(true).build()?);
    environment.set_formatter(format_value);
    let words = Arc::clone(words);
    environment.add_function("t", move |key: &str, values: Kwargs| {
        let sentence = sentence(&words, key, &values, |value| value.replace('*', STAR))?;
        Ok::<_, minijinja::Error>(Value::from_safe_string(emphasised(&sentence)))
    });
    for (name, text) in TEMPLATES {
        environment.add_template(name, text)?;
    }
    Ok(environment)
}

/// Stands for a `*` of a value, which is never a mark; of the characters that nobody writes.
const STAR: &str = "\u{e000}";

/// A sentence of the table: `**word**` is bold, every other mark is text, as in any file.
fn emphasised(sentence: &str) -> String {
    let part = |part: &str| {
        let edge = |is: bool| if is { " " } else { "" };
        let (lead, trail) = (part.starts_with(' '), part.len() > 1 && part.ends_with(' '));
        format!("{}{}{}", edge(lead), escape(part), edge(trail))
    };
    let parts: Vec<&str> = sentence.split("**").collect();
    // An odd mark would make the rest of the page bold.
    let text = match parts.len() % 2 {
        1 => parts.into_iter().map(part).collect::<Vec<_>>().join("**"),
        _ => escape(sentence),
    };
    text.replace(STAR, "\\*")
}

fn format_value(out: &mut Output, _: &mut State, value: &Value) -> Result<(), minijinja::Error> {
    let written = match (value.as_str(), value.kind()) {
        (_, ValueKind::Undefined) => return Err(ErrorKind::UndefinedError.into()),
        (Some(text), _) if !value.is_safe() => out.write_str(&escape(text)),
        _ => out.write_str(&value.to_string()),
    };
    written.map_err(|_| ErrorKind::WriteFailure.into())
}

/// Text made harmless in Markdown: marks are escaped, line ends and control characters become
/// spaces, and a start that would open a list is broken.
pub fn escape(text: &str) -> String {
    let mut escaped = String::with_capacity(text.len() + 8);
    let one_line = text.split_whitespace().collect::<Vec<_>>().join(" ");
    for (at, character) in one_line.char_indices() {
        let after = one_line[at + character.len_utf8()..].chars().next();
        // A number's sign opens nothing.
        let opens_list = at == 0
            && matches!(character, '-' | '+' | '=')
            && !after.is_some_and(|after| after.is_ascii_digit());
        // Within a word it is no mark of emphasis.
        let in_word = character == '_'
            && one_line[..at].ends_with(char::is_alphanumeric)
            && after.is_some_and(char::is_alphanumeric);
        let alone = match character {
            '&' => !after.is_some_and(|after| after.is_ascii_alphanumeric() || after == '#'),
            '<' => after == Some(' '),
            _ => false,
        };
        let ends_number = matches!(character, '.' | ')')
            && at > 0
            && one_line[..at].chars().all(|c| c.is_ascii_digit())
            && one_line[at + 1..].starts_with([' ']);
        let mark = matches!(
            character,
            '\\' | '`' | '*' | '_' | '[' | ']' | '<' | '>' | '|' | '#' | '&' | '~' | '$' | '{' | '}' | '!'
        );
        if opens_list || ends_number || (mark && !in_word && !alone) {
            escaped.push('\\');
        }
        if super::printable(character) {
            escaped.push(character);
        }
    }
    escaped
}

/// Three line ends in a row become two, so that a template's blocks leave no holes.
fn tidy(text: &str) -> String {
    let mut tidied = String::with_capacity(text.len());
    let mut blank = true;
    for line in text.lines().map(str::trim_end) {
        if line.is_empty() && blank {
            continue;
        }
        blank = line.is_empty();
        tidied.push_str(line);
        tidied.push('\n');
    }
    tidied.truncate(tidied.trim_end().len());
    tidied.push('\n');
    tidied
}

/// Markdown for those who read it as it is: figures are left out (the tables hold their numbers) and
/// room to write becomes a line.
pub fn plain(markdown: &str) -> String {
    let mut text = String::with_capacity(markdown.len());
    let mut in_figure = false;
    for line in markdown.lines() {
        match line {
            "```figure" => in_figure = true,
            "```" if in_figure => in_figure = false,
            _ if in_figure => {}
            _ => {
                text.push_str(&line.replace("`fill`", "________"));
                text.push('\n');
            }
        }
    }
    tidy(&text)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_stays_text() {
        assert_eq!(
            escape("<b>5 * 3</b> [a](b) | # _x_ `c` &amp;"),
            r"\<b\>5 \* 3\</b\> \[a\](b) \| \# \_x\_ \`c\` \&amp;"
        );
        assert_eq!(escape("- not a list"), r"\- not a list");
        assert_eq!(escape("12. not a list"), r"12\. not a list");
        assert_eq!(escape("Conneely & Ryan &#64;"), r"Conneely & Ryan \&\#64;");
        assert_eq!(escape("-0.6 to 3.4"), "-0.6 to 3.4");
        assert_eq!(escape("costs_per_case _now_"), r"costs_per_case \_now\_");
        assert_eq!(escape("two\n\nlines\u{7}"), "two lines");
        assert_eq!(escape("4.5 m"), "4.5 m");
        assert_eq!(escape("p < 0.05 <i"), r"p < 0.05 \<i");
    }

    #[test]
    fn a_sentence_of_the_table_can_be_bold_and_nothing_else() {
        assert_eq!(emphasised("Write **every** cow down."), "Write **every** cow down.");
        assert_eq!(emphasised("[press](x) **now** `fill`"), r"\[press\](x) **now** \`fill\`");
        assert_eq!(emphasised("half a **mark"), r"half a \*\*mark");
        assert_eq!(emphasised("two \u{e000}\u{e000} stars"), r"two \*\* stars");
    }

    #[test]
    fn figures_and_room_to_write_have_their_place_in_plain_markdown() {
        let text = "# A\n\n```figure\nranking\n```\n\n| `fill` |\n";
        assert_eq!(plain(text), "# A\n\n| ________ |\n");
    }
}
