//! The report of a walk as tables to sort and filter: sheets of plain rows, each figure a number in the
//! unit that its heading names, each interval in columns of its own.
//!
//! The numbers are those of the facts ([`super::facts`], [`super::plan_facts`], [`super::evidence`]), not
//! rounded: the cell's format decides what is seen. An empty cell is a figure that is not known, or money
//! that is withheld.

mod sheets;

use crate::model::lesion::Lesion;
use crate::model::words::Words;
use crate::reckon::plan::PlanRequest;
use crate::reckon::plan::plan;
use crate::reckon::{Estimate, Outcome, Prepared};
use chrono::{Datelike, NaiveDate};
use std::collections::BTreeMap;

/// A workbook.
#[derive(Clone, Debug, PartialEq)]
pub struct Workbook {
    /// What it is of.
    pub title: String,
    /// The day of the walk: the one date that the file itself bears.
    pub date: NaiveDate,
    /// Its sheets, the most useful first.
    pub sheets: Vec<Sheet>,
}

impl Workbook {
    /// Year (1900 to 9999, all that a workbook can bear), month and day of the walk.
    pub fn day(&self) -> (u16, u8, u8) {
        let year = self.date.year().clamp(1900, 9999) as u16;
        (year, self.date.month() as u8, self.date.day() as u8)
    }
}

/// One table under one row of headings.
#[derive(Clone, Debug, PartialEq)]
pub struct Sheet {
    /// Name on the tab, one that a tab can bear.
    pub name: String,
    /// Columns on the left that stay in sight.
    pub fixed: u16,
    /// Headings and kinds.
    pub columns: Vec<Column>,
    /// Rows, as wide as the columns.
    pub rows: Vec<Vec<Cell>>,
}

/// A column.
#[derive(Clone, Debug, PartialEq)]
pub struct Column {
    /// What it holds, with its unit.
    pub heading: String,
    /// How its cells are shown.
    pub kind: Kind,
}

/// How the cells of a column are shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// Text, so many characters wide, wrapped.
    Text(u16),
    /// A whole number.
    Whole,
    /// A number with so many decimals.
    Decimals(u8),
    /// A share from 0 to 1, shown in per cent.
    Percent,
    /// A sum of money in the currency of the heading, shown without decimals.
    Money,
}

/// A cell.
#[derive(Clone, Debug, PartialEq)]
pub enum Cell {
    /// Text, and never anything else, whatever sign it starts with.
    Text(String),
    /// A number.
    Number(f64),
    /// Not known, withheld, or nothing to say.
    Empty,
}

impl Cell {
    fn text(text: impl Into<String>) -> Cell {
        match text.into() {
            text if text.is_empty() => Cell::Empty,
            text => Cell::Text(text),
        }
    }

    fn number(number: impl Into<Option<f64>>) -> Cell {
        number.into().filter(|number| number.is_finite()).map_or(Cell::Empty, Cell::Number)
    }

    fn mark(words: &Words, says: bool) -> Cell {
        Cell::text(words.word(if says { "page.yes" } else { "book.no" }))
    }
}

/// What fills a column from a row.
type Fill<'a, R> = Box<dyn Fn(&R) -> Cell + 'a>;

/// A sheet being put together: every column beside what fills it.
struct Table<'a, R> {
    words: &'a Words,
    columns: Vec<Column>,
    cells: Vec<Fill<'a, R>>,
}

impl<'a, R> Table<'a, R> {
    fn new(words: &'a Words) -> Self {
        Table { words, columns: Vec::new(), cells: Vec::new() }
    }

    fn column(mut self, heading: impl Into<String>, kind: Kind, cell: impl Fn(&R) -> Cell + 'a) -> Self {
        self.columns.push(Column { heading: heading.into(), kind });
        self.cells.push(Box::new(cell));
        self
    }

    fn text<T: Into<String>>(
        self,
        heading: impl Into<String>,
        width: u16,
        text: impl Fn(&R) -> T + 'a,
    ) -> Self {
        self.column(heading, Kind::Text(width), move |row| Cell::text(text(row)))
    }

    fn number<N: Into<Option<f64>>>(
        self,
        heading: impl Into<String>,
        kind: Kind,
        number: impl Fn(&R) -> N + 'a,
    ) -> Self {
        self.column(heading, kind, move |row| Cell::number(number(row)))
    }

    /// Mean, lower and upper end, in three columns.
    fn interval<E: Into<Option<Estimate>>>(
        self,
        figure: impl Into<String>,
        kind: Kind,
        estimate: impl Fn(&R) -> E + Copy + 'a,
    ) -> Self {
        let part = move |row: &R, part: fn(Estimate) -> f64| estimate(row).into().map(part);
        let (words, figure) = (self.words, figure.into());
        let heading = |key: &str| words.say(key, &[("figure", &figure)]);
        self.number(heading("book.mean"), kind, move |row| part(row, |of| of.mean))
            .number(heading("book.low-end"), kind, move |row| part(row, |of| of.interval.0))
            .number(heading("book.high-end"), kind, move |row| part(row, |of| of.interval.1))
    }

    fn sheet(self, name: String, fixed: u16, rows: impl IntoIterator<Item = R>) -> Sheet {
        let cells = self.cells;
        let fill = |row: R| cells.iter().map(|cell| cell(&row)).collect();
        Sheet { name, fixed, columns: self.columns, rows: rows.into_iter().map(fill).collect() }
    }
}

/// Characters on a tab, at most.
const TAB: usize = 31;

/// Names for tabs: without the signs that no tab bears, not too long, and no two alike.
fn tabs(names: impl IntoIterator<Item = String>) -> Vec<String> {
    let mut taken: Vec<String> = Vec::new();
    for name in names {
        let refused = |c: char| c.is_control() || matches!(c, '[' | ']' | ':' | '*' | '?' | '/' | '\\');
        let plain = name.replace(refused, " ");
        let cut = |room: usize| -> String {
            let cut: String = plain.trim_matches(['\'', ' ']).chars().take(room).collect();
            cut.trim_end_matches(['\'', ' ']).to_owned()
        };
        let free = |name: &String| {
            !name.is_empty() && !taken.iter().any(|other| other.to_lowercase() == name.to_lowercase())
        };
        let numbered = (2..).map(|n| format!("{} {n}", cut(TAB - 4)).trim_start().to_owned());
        taken.extend(std::iter::once(cut(TAB)).chain(numbered).find(free));
    }
    taken
}

/// The workbook of a walk. The plan is the one without a limit of money, with the best set of every
/// smaller sum.
pub fn workbook(prepared: &Prepared, outcome: &Outcome, inputs: &BTreeMap<String, String>) -> Workbook {
    let walk = prepared.walk;
    let words = &prepared.library.words;
    let tabs = tabs(sheets::TABS.iter().map(|key| words.word(key)));
    let of = sheets::Sheets { prepared, outcome, inputs, tabs };
    let plan = plan(prepared, &PlanRequest::default());
    Workbook {
        title: words.say("report.title", &[("farm", &walk.farm_name), ("date", &walk.date.to_string())]),
        date: walk.date,
        sheets: vec![
            of.options(),
            of.factors(),
            of.evidence(),
            of.plan(plan.as_ref().ok()),
            of.lesions(),
            of.answers(),
            of.how(),
            of.notes(&plan),
        ],
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn any_name_becomes_one_that_a_tab_bears() {
        let long = "a".repeat(40);
        let names = ["Plan", "plan", "a/b: c?", "'quoted'", "", long.as_str(), long.as_str()];
        let numbered = format!("{} 2", "a".repeat(27));
        assert_eq!(
            tabs(names.map(str::to_owned)),
            ["Plan", "plan 2", "a b  c", "quoted", "2", &"a".repeat(31), numbered.as_str()]
        );
    }
}
