//! Plain tables and wrapped text for the terminal, in columns of a fixed width.

use super::caret::harmless;
use unicode_width::UnicodeWidthStr;

/// Text wrapped to `width` columns; words longer than that stand alone on their line. Control
/// characters are made harmless.
pub fn wrap(text: &str, width: usize) -> Vec<String> {
    let text = harmless(text);
    let mut lines: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        match lines.last_mut() {
            Some(line) if line.width() + 1 + word.width() <= width => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_owned()),
        }
    }
    if lines.is_empty() {
        lines.push(String::new());
    }
    lines
}

/// A paragraph wrapped to `width`, every line after `indent` blanks.
pub fn paragraph(text: &str, indent: usize, width: usize) -> String {
    let blanks = " ".repeat(indent);
    let lines = wrap(text, width.saturating_sub(indent).max(20));
    lines.into_iter().map(|line| format!("{blanks}{line}\n")).collect()
}

/// The title of a part, after an empty line.
pub fn title(words: &str) -> String {
    format!("\n{}\n", words.to_uppercase())
}

/// A titled list, nothing where it is empty.
pub fn listed(heading: &str, lines: &[String], width: usize) -> String {
    if lines.is_empty() {
        return String::new();
    }
    lines.iter().fold(title(heading), |text, line| text + &pair("-", line, 2, width))
}

/// Which side a column's text stands on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// Left.
    Left,
    /// Right, for numbers.
    Right,
}

/// A name and its text beside it, the text wrapped from column `at` on.
pub fn pair(name: &str, text: &str, at: usize, width: usize) -> String {
    let lines = wrap(text, width.saturating_sub(at).max(20));
    let mut out = String::new();
    for (level, line) in lines.iter().enumerate() {
        let name = if level == 0 { harmless(name) } else { String::new() };
        let blanks = " ".repeat(at.saturating_sub(name.width()).max(1));
        out.push_str(&format!("{name}{blanks}{line}\n"));
    }
    out
}

/// Rows under a heading, the first column taking the width that the others leave.
pub fn table(sides: &[Side], heading: &[impl AsRef<str>], rows: &[Vec<String>], width: usize) -> String {
    table_with_free(sides, heading, rows, width, 0)
}

/// Rows under a heading. The column `free` takes the width that the others leave and is wrapped;
/// every other column is as wide as its widest cell. Two blanks between columns.
pub fn table_with_free(
    sides: &[Side],
    heading: &[impl AsRef<str>],
    rows: &[Vec<String>],
    width: usize,
    free: usize,
) -> String {
    let cell = |row: &Vec<String>, column: usize| row.get(column).map_or(0, |cell| harmless(cell).width());
    let mut widths: Vec<usize> = (0..sides.len())
        .map(|column| {
            let widest = rows.iter().map(|row| cell(row, column)).max().unwrap_or(0);
            widest.max(heading.get(column).map_or(0, |heading| heading.as_ref().width()))
        })
        .collect();
    let others: usize = widths.iter().enumerate().filter(|(at, _)| *at != free).map(|(_, w)| w + 2).sum();
    if let Some(free) = widths.get_mut(free) {
        *free = (*free).min(width.saturating_sub(others).max(16));
    }
    let heading: Vec<String> = heading.iter().map(|heading| heading.as_ref().to_owned()).collect();
    laid_out(sides, &widths, &heading, rows)
}

/// Rows in columns of these widths, under a heading where there is one.
pub fn laid_out(sides: &[Side], widths: &[usize], heading: &[String], rows: &[Vec<String>]) -> String {
    let mut text = String::new();
    if !heading.is_empty() {
        text.push_str(&line(sides, widths, heading));
        let across = widths.iter().sum::<usize>() + 2 * widths.len().saturating_sub(1);
        text.push_str(&format!("{}\n", "-".repeat(across)));
    }
    rows.iter().for_each(|row| text.push_str(&line(sides, widths, row)));
    text
}

fn line(sides: &[Side], widths: &[usize], row: &[String]) -> String {
    let cells: Vec<Vec<String>> = widths
        .iter()
        .enumerate()
        .map(|(at, width)| wrap(row.get(at).map_or("", String::as_str), *width))
        .collect();
    let height = cells.iter().map(Vec::len).max().unwrap_or(0);
    let mut text = String::new();
    for level in 0..height {
        let mut line = String::new();
        for ((cell, width), side) in cells.iter().zip(widths).zip(sides) {
            let part = cell.get(level).map_or("", String::as_str);
            let blanks = " ".repeat(width.saturating_sub(part.width()));
            match side {
                Side::Left => line.push_str(&format!("{part}{blanks}  ")),
                Side::Right => line.push_str(&format!("{blanks}{part}  ")),
            }
        }
        text.push_str(line.trim_end());
        text.push('\n');
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_table_wraps_its_text_and_keeps_its_numbers_in_line() {
        let rows = vec![
            vec!["1".into(), "Drain the track where it lies in the shade".into(), "3.2".into()],
            vec!["10".into(), "Turn".into(), "0.4".into()],
        ];
        let sides = [Side::Right, Side::Left, Side::Right];
        insta::assert_snapshot!(table_with_free(&sides, &["", "Option", "Cases"], &rows, 34, 1), @r"
            Option                   Cases
        ----------------------------------
         1  Drain the track where      3.2
            it lies in the shade
        10  Turn                       0.4
        ");
    }

    #[test]
    fn control_characters_never_reach_a_terminal() {
        assert!(!paragraph("a\u{1b}[31mb", 2, 40).contains('\u{1b}'));
    }
}
