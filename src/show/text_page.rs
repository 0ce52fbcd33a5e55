//! A page for the terminal: the same filled template as every other format, laid out as plain text in
//! columns of a fixed width. Figures are left out; the tables hold their numbers.

use super::text_table::{Side, laid_out, pair, paragraph, wrap};
use pulldown_cmark::{Alignment, CodeBlockKind, Event, HeadingLevel, Options, Parser, Tag, TagEnd};
use unicode_width::UnicodeWidthStr;

/// Least width of a column that is made narrower, unless its text is shorter.
const NARROWEST: usize = 7;
/// Most lines of a row whose columns stand side by side.
const TALLEST: usize = 5;
/// Most lines of a heading.
const HEADING: usize = 3;

/// Markdown as plain text, at most `width` columns wide.
pub fn text_page(markdown: &str, width: usize) -> String {
    let mut page = Page { width, out: String::new(), inline: String::new(), lists: Vec::new(), mark: None };
    let mut table: Option<Table> = None;
    let mut in_code = None;
    for event in Parser::new_ext(markdown, Options::ENABLE_TABLES) {
        match event {
            Event::Start(Tag::CodeBlock(kind)) => {
                in_code = Some(matches!(kind, CodeBlockKind::Fenced(info) if &*info == "figure"));
            }
            Event::End(TagEnd::CodeBlock) => in_code = None,
            Event::Text(text) if in_code == Some(false) => {
                text.lines().for_each(|line| page.out.push_str(&format!("    {line}\n")));
            }
            Event::Text(_) if in_code.is_some() => {}
            Event::Start(Tag::Table(sides)) => table = Some(Table::new(&sides)),
            Event::End(TagEnd::Table) => {
                let drawn = table.take().map_or(String::new(), |table| table.draw(width));
                page.block(&drawn);
            }
            Event::End(TagEnd::TableCell) => {
                let cell = std::mem::take(&mut page.inline);
                table.iter_mut().for_each(|table| table.row.push(cell.trim().to_owned()));
            }
            Event::End(TagEnd::TableHead) => table.iter_mut().for_each(Table::end_head),
            Event::End(TagEnd::TableRow) => table.iter_mut().for_each(Table::end_row),
            other => page.take(other),
        }
    }
    page.out.truncate(page.out.trim_end().len());
    page.out.push('\n');
    page.out
}

struct Page {
    width: usize,
    out: String,
    inline: String,
    /// The number of the next item of each open list, `None` where it has none.
    lists: Vec<Option<u64>>,
    /// What stands before the item that is open.
    mark: Option<String>,
}

impl Page {
    fn take(&mut self, event: Event) {
        match event {
            Event::Text(text) | Event::Html(text) | Event::InlineHtml(text) => self.inline.push_str(&text),
            Event::Code(text) => self.inline.push_str(if &*text == "fill" { "________" } else { &text }),
            Event::SoftBreak | Event::HardBreak => self.inline.push(' '),
            Event::End(TagEnd::Heading(level)) => self.heading(level),
            Event::End(TagEnd::Paragraph) => {
                let loose = self.lists.is_empty();
                self.paragraph(loose);
            }
            Event::Start(Tag::List(first)) => {
                self.paragraph(false);
                self.lists.push(first);
            }
            Event::End(TagEnd::List(_)) => {
                self.lists.pop();
                if self.lists.is_empty() {
                    self.gap();
                }
            }
            Event::Start(Tag::Item) => {
                self.mark = Some(match self.lists.last_mut() {
                    Some(Some(number)) => {
                        *number += 1;
                        format!("{}. ", *number - 1)
                    }
                    _ => "- ".to_owned(),
                });
            }
            Event::End(TagEnd::Item) => self.paragraph(false),
            _ => {}
        }
    }

    fn heading(&mut self, level: HeadingLevel) {
        let text = std::mem::take(&mut self.inline);
        let text = if level <= HeadingLevel::H2 { text.to_uppercase() } else { text };
        self.gap();
        self.out.push_str(&paragraph(&text, 0, self.width));
        if level == HeadingLevel::H1 {
            self.gap();
        }
    }

    /// The text that has gathered, as a paragraph or as an item of a list.
    fn paragraph(&mut self, gap_behind: bool) {
        let text = std::mem::take(&mut self.inline);
        if text.trim().is_empty() {
            return;
        }
        let depth = 2 * self.lists.len().saturating_sub(1);
        let mark = self.mark.take();
        let indent = depth + mark.as_ref().map_or(if self.lists.is_empty() { 0 } else { 2 }, String::len);
        let lines = wrap(&text, self.width.saturating_sub(indent).max(20));
        for (at, line) in lines.iter().enumerate() {
            match (&mark, at) {
                (Some(mark), 0) => self.out.push_str(&format!("{}{mark}{line}\n", " ".repeat(depth))),
                _ => self.out.push_str(&format!("{}{line}\n", " ".repeat(indent))),
            }
        }
        if gap_behind {
            self.gap();
        }
    }

    fn block(&mut self, text: &str) {
        self.gap();
        self.out.push_str(text);
        self.gap();
    }

    /// One empty line, unless there is one.
    fn gap(&mut self) {
        if !self.out.is_empty() && !self.out.ends_with("\n\n") {
            self.out.push('\n');
        }
    }
}

struct Table {
    sides: Vec<Side>,
    heading: Vec<String>,
    rows: Vec<Vec<String>>,
    row: Vec<String>,
}

impl Table {
    fn new(sides: &[Alignment]) -> Table {
        let side = |alignment: &Alignment| match alignment {
            Alignment::Right => Side::Right,
            _ => Side::Left,
        };
        let sides = sides.iter().map(side).collect();
        Table { sides, heading: Vec::new(), rows: Vec::new(), row: Vec::new() }
    }

    fn end_head(&mut self) {
        self.heading = std::mem::take(&mut self.row);
    }

    fn end_row(&mut self) {
        let row = std::mem::take(&mut self.row);
        self.rows.push(row);
    }

    fn draw(&self, width: usize) -> String {
        let bare = self.heading.iter().all(String::is_empty);
        let heading = if bare { &[][..] } else { &self.heading };
        let tallest = |widths: &Vec<usize>| {
            let lines = |row: &Vec<String>| {
                row.iter().zip(widths).map(|(cell, width)| wrap(cell, *width).len()).max()
            };
            self.rows.iter().filter_map(lines).max().unwrap_or(1)
        };
        match self.widths(width) {
            Some(widths) if bare || tallest(&widths) <= TALLEST => {
                laid_out(&self.sides, &widths, heading, &self.rows)
            }
            _ => self.rows.iter().map(|row| self.as_pairs(row, width)).collect::<Vec<_>>().join("\n"),
        }
    }

    /// Widths of the columns: those of their cells, the widest made narrower until all fit, and what is
    /// left given to those whose heading is longer; `None` where they never fit.
    fn widths(&self, width: usize) -> Option<Vec<usize>> {
        let cells = |column: usize| self.rows.iter().filter_map(move |row| row.get(column));
        let named = |column: usize| self.heading.get(column).map_or("", String::as_str);
        let longest_word = |text: &str| text.split_whitespace().map(str::width).max().unwrap_or(0);
        let heading = |at: usize| {
            (longest_word(named(at))..).find(|width| wrap(named(at), *width).len() <= HEADING).unwrap_or(0)
        };
        let columns = || 0..self.sides.len();
        let mut widths: Vec<usize> = columns()
            .map(|at| cells(at).map(|cell| cell.width()).chain([heading(at)]).max().unwrap_or(0))
            .collect();
        let least: Vec<usize> = columns()
            .map(|at| {
                let words = cells(at).map(|cell| longest_word(cell)).chain([heading(at)]);
                words.max().unwrap_or(0).max(NARROWEST.min(widths[at]))
            })
            .collect();
        let room = width.saturating_sub(2 * self.sides.len().saturating_sub(1));
        while widths.iter().sum::<usize>() > room {
            let widest = columns().filter(|at| widths[*at] > least[*at]).max_by_key(|at| widths[*at])?;
            widths[widest] -= 1;
        }
        let wants = |widths: &[usize], at: &usize| widths[*at] < named(*at).width();
        while widths.iter().sum::<usize>() < room {
            let Some(at) = columns().filter(|at| wants(&widths, at)).min_by_key(|at| widths[*at]) else {
                break;
            };
            widths[at] += 1;
        }
        Some(widths)
    }

    /// A row whose columns find no room beside each other, one below the other.
    fn as_pairs(&self, row: &[String], width: usize) -> String {
        let at = self.heading.iter().map(|name| name.width()).max().unwrap_or(0).min(width / 3) + 2;
        let cells = self.heading.iter().zip(row).filter(|(_, cell)| !cell.is_empty());
        cells.map(|(name, cell)| pair(name, cell, at, width)).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_page_keeps_to_its_columns() {
        let page = "# Mill: what changed\n\nWalk of 1 May · a *few* words that go on past the end of the line.\n\n\
                    ## Cases\n\n```figure\nrates\n```\n\n| Asked | Before | What became of it |\n| --- | ---: | --- |\n\
                    | Stones on the track, counted | 12 | put right |\n| Water on it | 3 of 10 | as it was |\n\n\
                    - **One.** First and longer than the width of this page\n- Two `fill`\n\n1. Done\n\n\
                    |  |  |\n| --- | --- |\n| Farms | 12 |\n";
        insta::assert_snapshot!(text_page(page, 40));
    }

    #[test]
    fn what_finds_no_room_stands_below_itself() {
        let row = "| aaaaaaaaaaaa | bbbbbbbbbbbb | cccccccccccc |";
        let page = format!("| One | Two | Three |\n| --- | --- | --- |\n{row}\n");
        let text = text_page(&page, 30);
        assert_eq!(text, "One    aaaaaaaaaaaa\nTwo    bbbbbbbbbbbb\nThree  cccccccccccc\n");
    }

    #[test]
    fn no_line_is_wider_than_asked_and_no_control_character_gets_through() {
        for width in [40, 60, 80] {
            let text = text_page(
                "## A\u{1b}[31mB\n\n| a | b |\n| --- | --- |\n| one two three | \u{7}four |\n",
                width,
            );
            assert!(text.lines().all(|line| line.width() <= width));
            assert!(!text.contains(['\u{1b}', '\u{7}']));
        }
    }
}
