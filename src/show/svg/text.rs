//! Text in charts: cleaning, measuring, wrapping, numbers.

use unicode_width::UnicodeWidthChar;

use crate::model::words::Words;
use crate::show::printable;

/// Size of labels, in units of the view box. At 360 px they are as many pixels.
pub(super) const BODY: f64 = 14.0;
/// Size of ticks, values and notes: above 11 px on a page whose margins leave 330 px.
pub(super) const SMALL: f64 = 12.5;
/// Distance of two lines, by size.
pub(super) const LEADING: f64 = 1.3;

/// More characters than any label needs; the rest is cut with an ellipsis.
const LONGEST: usize = 400;

/// Makes any text fit for a label: white space in one piece, and neither control characters, nor
/// those that turn the reading direction, nor those that XML forbids.
pub(super) fn clean(text: &str) -> String {
    let mut out = String::new();
    let words = text.split(breaks).filter(|word| !word.is_empty());
    for (n, c) in words.flat_map(|word| word.chars().chain([' '])).enumerate() {
        if n == LONGEST {
            out.push('…');
            break;
        }
        if printable(c) {
            out.push(c);
        }
    }
    out.trim_end().replace(" %", "\u{a0}%")
}

/// White space at which a line may end.
fn breaks(c: char) -> bool {
    c.is_whitespace() && !matches!(c, '\u{a0}' | '\u{202f}')
}

/// Estimated width of a text, in the unit of `size`. Errs on the wide side: the shapes are those of
/// a wide sans-serif face, so that a narrower one leaves room and none runs over.
pub(super) fn width(text: &str, size: f64) -> f64 {
    text.chars().map(em).sum::<f64>() * size
}

fn em(c: char) -> f64 {
    match c {
        'i' | 'j' | 'l' | '\'' | '|' => 0.29,
        ' ' | '\u{a0}' | '.' | ',' | ':' | ';' | 'f' | 't' | 'r' | 'I' | '!' | '(' | ')' | '[' | ']'
        | '-' | '/' => 0.41,
        'm' | 'w' | 'M' | 'W' | '%' | '@' | '…' | '—' => 1.0,
        '<' | '>' | '=' | '+' | '−' | '&' | 'A'..='Z' => 0.8,
        _ if c.is_ascii() => 0.64,
        _ => c.width().unwrap_or(0) as f64 * 0.72,
    }
}

/// Breaks a text into lines no wider than `room`, at most `most` of them; a cut shows as an ellipsis.
pub(super) fn wrap(text: &str, size: f64, room: f64, most: usize) -> Vec<String> {
    let mut lines = vec![String::new()];
    for word in text.split(' ').filter(|word| !word.is_empty()) {
        let line = lines.last().map_or("", String::as_str);
        let joined = if line.is_empty() { word.to_string() } else { format!("{line} {word}") };
        if width(&joined, size) <= room {
            replace_last(&mut lines, joined);
        } else if line.is_empty() {
            break_word(word, size, room, &mut lines);
        } else {
            lines.push(String::new());
            break_word(word, size, room, &mut lines);
        }
    }
    if lines.len() > most {
        lines.truncate(most);
        let cut = lines.pop().unwrap_or_default();
        lines.push(shorten(&format!("{cut}…"), size, room));
    }
    lines.retain(|line| !line.is_empty());
    lines
}

fn replace_last(lines: &mut Vec<String>, line: String) {
    lines.pop();
    lines.push(line);
}

/// Puts a word on the empty last line, and on further ones where it is wider than a line.
fn break_word(word: &str, size: f64, room: f64, lines: &mut Vec<String>) {
    let mut line = String::new();
    for c in word.chars() {
        line.push(c);
        if width(&line, size) > room && line.chars().count() > 1 {
            line.pop();
            replace_last(lines, std::mem::replace(&mut line, c.to_string()));
            lines.push(String::new());
        }
    }
    replace_last(lines, line);
}

/// Cuts a text to `room`, the cut shown as an ellipsis.
pub(super) fn shorten(text: &str, size: f64, room: f64) -> String {
    if width(text, size) <= room {
        return text.to_string();
    }
    let mut out = text.trim_end_matches('…').to_string();
    while !out.is_empty() && width(&out, size) + width("…", size) > room {
        out.pop();
    }
    out.truncate(out.trim_end().len());
    out + "…"
}

/// How a language writes numbers.
#[derive(Debug, Clone)]
pub(super) struct Marks {
    decimal: String,
    thousands: String,
}

impl Marks {
    pub(super) fn of(words: &Words) -> Marks {
        Marks { decimal: words.word("number.decimal"), thousands: words.word("number.thousands") }
    }

    /// A number with `decimals` places, thousands set apart, and a real minus sign. Never a minus before
    /// nothing but zeros. Empty where the number is not finite.
    pub(super) fn number(&self, value: f64, decimals: usize) -> String {
        if !value.is_finite() {
            return String::new();
        }
        let digits = format!("{:.decimals$}", value.abs());
        let (whole, part) = digits.split_once('.').unwrap_or((&digits, ""));
        let mut out = String::new();
        if value < 0.0 && digits.chars().any(|c| ('1'..='9').contains(&c)) {
            out.push('−');
        }
        for (n, c) in whole.chars().enumerate() {
            if n > 0 && (whole.len() - n).is_multiple_of(3) {
                out.push_str(&self.thousands);
            }
            out.push(c);
        }
        if !part.is_empty() {
            out.push_str(&self.decimal);
            out.push_str(part);
        }
        out
    }

    /// A ratio with as many decimals as it has.
    pub(super) fn ratio(&self, value: f64) -> String {
        value.to_string().replace('.', &self.decimal)
    }
}
