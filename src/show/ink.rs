//! Bold and dim for a terminal, laid over text that is finished without them: whatever the ink says, the
//! text says too, so that a pipe, a file, or a reader without colours misses nothing.

use anstyle::{AnsiColor, Style};

const STRONG: Style = Style::new().bold();
const FAINT: Style = Style::new().dimmed();
const POINTING: Style = AnsiColor::Cyan.on_default().bold();

fn inked(style: Style, text: &str) -> String {
    format!("{style}{text}{style:#}")
}

fn lines(text: &str, ink: impl Fn(&str, Option<&&str>) -> String) -> String {
    let lines: Vec<&str> = text.lines().collect();
    lines.iter().enumerate().map(|(at, line)| ink(line, lines.get(at + 1)) + "\n").collect()
}

/// A page of the terminal: its first line, headings in capitals and heads of tables are bold, rules are
/// faint.
pub fn page(text: &str) -> String {
    let first = text.lines().next().unwrap_or("");
    lines(text, |line, next| match line {
        line if is_rule(line) => inked(FAINT, line),
        "" => String::new(),
        line if std::ptr::eq(line, first) || is_heading(line) => inked(STRONG, line),
        line if next.is_some_and(|next| is_rule(next)) => inked(STRONG, line),
        line => line.to_owned(),
    })
}

fn is_rule(line: &str) -> bool {
    line.len() > 3 && line.chars().all(|c| c == '-')
}

/// A line of words in capitals, such as `WHAT TO CHANGE FIRST, BY CASES OF LAMENESS AVOIDED`.
fn is_heading(line: &str) -> bool {
    let letters = line.chars().filter(|c| c.is_alphabetic()).count();
    letters > 3 && !line.starts_with(' ') && !line.chars().any(char::is_lowercase)
}

/// Findings and messages: `error` and `warning` are bold, carets point in colour, `help` is bold.
pub fn findings(text: &str) -> String {
    lines(text, |line, _| {
        if let Some((margin, carets)) = line.split_once(" | ").filter(|(margin, carets)| {
            margin.trim().is_empty() && !carets.is_empty() && carets.chars().all(|c| c == ' ' || c == '^')
        }) {
            return format!("{margin} | {}", inked(POINTING, carets));
        }
        if let Some((margin, help)) =
            line.split_once(" = help: ").filter(|(margin, _)| margin.trim().is_empty())
        {
            return format!("{margin} = {}{help}", inked(STRONG, "help: "));
        }
        for word in ["error: ", "warning: "] {
            if line.starts_with(' ') {
                break;
            }
            if let Some((place, message)) = line.split_once(word).filter(|(place, _)| place_or_none(place)) {
                return format!("{place}{}{message}", inked(STRONG, word));
            }
        }
        line.to_owned()
    })
}

/// Nothing, or `path:line:column: `.
fn place_or_none(before: &str) -> bool {
    before.is_empty() || before.ends_with(": ")
}

#[cfg(test)]
mod tests {
    use super::*;

    const PAGE: &str =
        "Heronsway: walk\n\nWHAT TO CHANGE FIRST\n     Change  Fewer\n------\n1≈   Drain     3.2\n";
    const FINDINGS: &str = "walk.yaml:3:5: error: `cows: 0` [out-of-range]\n  3 | cows: 0\n    |       ^\n    = \
                            help: a number from 1\nwalk.yaml:1:1: warning: old [old]\n1 error, 1 warning\n";

    /// As `anstream` strips it for a pipe.
    #[test]
    fn without_its_ink_the_text_is_as_it_was() {
        for (inked, text) in [(page(PAGE), PAGE), (findings(FINDINGS), FINDINGS)] {
            assert_ne!(inked, text);
            assert_eq!(anstream::adapter::strip_str(&inked).to_string(), text);
        }
    }

    #[test]
    fn headings_rules_and_carets_are_inked() {
        insta::assert_snapshot!(page(PAGE).replace('\u{1b}', "^"), @r"
        ^[1mHeronsway: walk^[0m

        ^[1mWHAT TO CHANGE FIRST^[0m
        ^[1m     Change  Fewer^[0m
        ^[2m------^[0m
        1≈   Drain     3.2
        ");
        insta::assert_snapshot!(findings(FINDINGS).replace('\u{1b}', "^"), @r"
        walk.yaml:3:5: ^[1merror: ^[0m`cows: 0` [out-of-range]
          3 | cows: 0
            | ^[1m^[36m      ^^[0m
            = ^[1mhelp: ^[0ma number from 1
        walk.yaml:1:1: ^[1mwarning: ^[0mold [old]
        1 error, 1 warning
        ");
    }
}
