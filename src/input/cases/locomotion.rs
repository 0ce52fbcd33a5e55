//! Rows of a table to locomotion scorings: a score a cow, or counts per score.

use super::headings::{ColumnName, Columns, Field};
use super::records::{BadCell, CellReader, RowLog, required_columns};
use super::table::{Cell, Row, Table};
use crate::finding::Findings;
use crate::model::case_record::{Scale, Scoring};
use crate::model::day::DateOrder;
use chrono::NaiveDate;
use std::collections::BTreeMap;
use std::ops::ControlFlow;

/// What the user said of the scores.
#[derive(Clone, Debug, Default)]
pub struct LocomotionOptions {
    /// Headings named by the user; see [`super::parse_columns`].
    pub columns: Vec<ColumnName>,
    /// The order of the file's days.
    pub dates: Option<DateOrder>,
    /// Leave out bad rows, and count them, instead of refusing the file.
    pub skip_bad: bool,
    /// Today; a later day is a warning.
    pub today: Option<NaiveDate>,
}

/// Cows that a row of counts may hold.
const MAX_COWS: f64 = 1_000_000.0;

/// Reads locomotion scores: columns `date`, `cow` and `score`, or `score` and `count`. Only the score
/// must be there. One scoring a day, by day; rows without a day make one of their own. A cow twice
/// on a day counts once, with the higher score, and is a warning.
pub fn read_locomotion(
    table: &Table<'_>,
    scale: Scale,
    options: &LocomotionOptions,
) -> (Vec<Scoring>, Findings) {
    let mut findings = table.warnings.clone();
    let Some(columns) = required_columns(table, &options.columns, &[Field::Score], &mut findings) else {
        return (Vec::new(), findings);
    };
    let mut log = RowLog::new(options.skip_bad);
    let mut days = Days::default();
    let cells = CellReader { dates: options.dates };
    table.rows(|row| {
        if row.number() > columns.heading_row && !row.is_blank() {
            log.rows += 1;
            match read_row(row, &columns, cells, scale) {
                Ok(seen) => days.add(seen, row.number()),
                Err(bad) => log.bad_row(table, row.number(), bad),
            }
        }
        ControlFlow::Continue(())
    });
    log.finish(table, &mut findings);
    let scorings = days.finish(table, &columns, scale, options.today, &mut findings);
    (scorings, findings)
}

/// What a row says.
struct Seen {
    date: Option<NaiveDate>,
    cow: Option<String>,
    score: u8,
    count: u64,
}

fn read_row(row: Row<'_>, columns: &Columns, cells: CellReader, scale: Scale) -> Result<Seen, Vec<BadCell>> {
    let mut bad = Vec::new();
    let date = cells.optional_date(row, columns.at(Field::Date), &mut bad);
    let score_column = columns.at(Field::Score).unwrap_or(0);
    let (lowest, highest) = scale.bounds();
    let score = match row.cell(score_column) {
        Cell::Blank => None,
        _ => cells.number(row, Some(score_column), f64::from(u8::MAX), &mut bad),
    };
    let good = score.filter(|score| (f64::from(lowest)..=f64::from(highest)).contains(score));
    if good.is_none() && bad.iter().all(|cell| cell.column != score_column) {
        let other = if scale == Scale::OneToFive { Scale::ZeroToThree } else { Scale::OneToFive };
        bad.push(BadCell {
            column: score_column,
            code: "score-off-scale",
            message: match score {
                Some(score) => format!("there is no score {score} on the scale {}", scale.id()),
                None => "there is no score".to_owned(),
            },
            help: format!("if the cows were scored on {}, say `scale: {}`", other.id(), other.id()),
        });
    }
    let count = match columns.at(Field::Count) {
        Some(column) if row.cell(column) == Cell::Blank => {
            bad.push(BadCell {
                column,
                code: "no-count",
                message: "there is no count".to_owned(),
                help: "write 0 where no cow had the score".to_owned(),
            });
            None
        }
        Some(column) => cells.number(row, Some(column), MAX_COWS, &mut bad),
        None => Some(1.0),
    };
    let cow = columns.at(Field::Cow).map(|column| row.text(column)).filter(|cow| !cow.is_empty());
    match (good, count, bad.is_empty()) {
        (Some(score), Some(count), true) => Ok(Seen { date, cow, score: score as u8, count: count as u64 }),
        _ => Err(bad),
    }
}

/// Scores by day, and those of each cow.
#[derive(Default)]
struct Days {
    counts: BTreeMap<Option<NaiveDate>, ([u64; 6], usize)>,
    cows: BTreeMap<(Option<NaiveDate>, String), u8>,
    twice: Vec<(usize, String)>,
}

impl Days {
    fn add(&mut self, seen: Seen, row: usize) {
        let (counts, _) = self.counts.entry(seen.date).or_insert(([0; 6], row));
        let mut add = |score: u8, count: u64| {
            if let Some(cows) = counts.get_mut(score as usize) {
                *cows = cows.saturating_add(count);
            }
        };
        let Some(cow) = seen.cow else { return add(seen.score, seen.count) };
        let twice = (row, cow.clone());
        match self.cows.entry((seen.date, cow)) {
            std::collections::btree_map::Entry::Vacant(entry) => {
                entry.insert(seen.score);
                add(seen.score, seen.count);
            }
            std::collections::btree_map::Entry::Occupied(mut entry) => {
                self.twice.push(twice);
                let before = *entry.get();
                if seen.score > before {
                    entry.insert(seen.score);
                    add(seen.score, 1);
                    if let Some(cows) = counts.get_mut(before as usize) {
                        *cows = cows.saturating_sub(1);
                    }
                }
            }
        }
    }

    fn finish(
        self,
        table: &Table<'_>,
        columns: &Columns,
        scale: Scale,
        today: Option<NaiveDate>,
        findings: &mut Findings,
    ) -> Vec<Scoring> {
        for (row, cow) in self.twice {
            findings.warning(
                "cow-twice-on-a-day",
                table.place(row, columns.at(Field::Cow).unwrap_or(0) + 1),
                format!("cow `{cow}` was scored twice on a day; the higher score counts"),
                "check her number",
            );
        }
        for (date, (counts, row)) in &self.counts {
            if let (Some(date), Some(today)) = (date, today)
                && *date > today
            {
                findings.warning(
                    "date-after-today",
                    table.place(*row, columns.at(Field::Date).unwrap_or(0) + 1),
                    format!("{date} has not come yet"),
                    "check the year, and the order of day and month",
                );
            }
            if scale == Scale::ZeroToThree && counts[0] == 0 && counts[1..].iter().any(|cows| *cows > 0) {
                findings.warning(
                    "no-sound-cow",
                    table.place(*row, columns.at(Field::Score).unwrap_or(0) + 1),
                    "no cow has score 0 on the scale 0-3",
                    "if the cows were scored on 1-5, say `scale: 1-5`",
                );
            }
        }
        let scorings = self.counts.into_iter();
        scorings.map(|(date, (cows_by_score, _))| Scoring { date, scale, cows_by_score }).collect()
    }
}
