//! Rows of a table to case records.

use super::dates::{DateFault, parse_date};
use super::headings::{self, ColumnName, Columns, Field};
use super::memo::Memo;
use super::table::{Cell, Row, Table};
use super::words::{self, Diagnosis};
use crate::finding::Findings;
use crate::model::case_record::{CaseRecord, Cases, Claw, Foot};
use crate::model::day::DateOrder;
use crate::model::lesion::Lesion;
use crate::model::walk::Observer;
use chrono::{Datelike, NaiveDate};
use std::ops::ControlFlow;

/// What the user said of the records.
#[derive(Clone, Debug, Default)]
pub struct CaseOptions {
    /// Headings named by the user; see [`super::parse_columns`].
    pub columns: Vec<ColumnName>,
    /// The order of the file's days; days that can be read two ways are faults without it.
    pub dates: Option<DateOrder>,
    /// Leave out bad rows, and count them, instead of refusing the file.
    pub skip_bad: bool,
    /// Today; a later day is a warning.
    pub today: Option<NaiveDate>,
    /// Further words for lesions, such as the codes of a burden file; they win over the built-in ones.
    pub lesion_words: Vec<(String, Lesion)>,
}

/// How a reading went.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct CaseReading {
    /// Rows with something in them, below the headings.
    pub rows: usize,
    /// Bad rows that were left out.
    pub skipped: usize,
    /// Words for lesions that were understood, in the order in which they were met.
    pub lesion_words: Vec<LesionWord>,
    /// Words that were not understood.
    pub unknown: Vec<UnknownWord>,
    /// Headings of columns that were not read.
    pub unused_columns: Vec<String>,
}

impl CaseReading {
    /// Words for lesions that were not known and count as `other`.
    pub fn lesions_counted_as_other(&self) -> Vec<String> {
        let lesions = self.unknown.iter().filter(|word| word.field == Field::Lesion);
        lesions.map(|word| word.word.clone()).collect()
    }
}

/// A word for a lesion and the group it was counted under.
#[derive(Clone, Debug, PartialEq)]
pub struct LesionWord {
    /// As written.
    pub word: String,
    /// The group; `None` for words that say that nobody recorded one.
    pub lesion: Option<Lesion>,
    /// Rows that had it.
    pub rows: usize,
}

/// A word that was not understood. A lesion is then counted as `other`; anything else as not given.
#[derive(Clone, Debug, PartialEq)]
pub struct UnknownWord {
    /// The column's field.
    pub field: Field,
    /// As written.
    pub word: String,
    /// Rows that had it.
    pub rows: usize,
    /// The first of those rows.
    pub first_row: usize,
}

/// Findings shown of one reading; the rest is counted, so that a file of the wrong kind does not
/// print a million lines.
const MAX_SHOWN: usize = 1_000;
/// Lines that a cell in quotes may go over. More is a quote mark that nobody closed.
const MAX_CELL_LINES: usize = 50;
/// The highest plausible values; more is a slip of the keys.
const MAX_PARITY: f64 = 30.0;
const MAX_DAYS_IN_MILK: f64 = 3_000.0;
const MAX_SCORE: f64 = 10.0;

/// Reads case records, one row a case. Only the columns `date` and `cow` must be there. The findings
/// name every bad cell by row and column; with errors among them the records are those that could
/// be read, and must not be used.
///
/// The place of a finding is the line of a text table or the row of a sheet, and the column.
pub fn read_cases(table: &Table<'_>, options: &CaseOptions) -> (Cases, CaseReading, Findings) {
    let mut findings = table.warnings.clone();
    let Some(columns) = required_columns(table, &options.columns, &[Field::Cow], &mut findings) else {
        return (Cases::default(), CaseReading::default(), findings);
    };
    let mut reader = Reader::new(table, options, columns);
    table.rows(|row| reader.row(row));
    reader.finish(findings)
}

/// The columns, where `date` and the others that must be there are.
pub(super) fn required_columns(
    table: &Table<'_>,
    named: &[ColumnName],
    others: &[Field],
    findings: &mut Findings,
) -> Option<Columns> {
    let columns = headings::find(table, named, findings)?;
    let has_date = columns.at(Field::Date).is_some() || columns.at(Field::Treated).is_some();
    let missing: Vec<&str> = (!has_date && others.contains(&Field::Cow))
        .then_some("date")
        .into_iter()
        .chain(others.iter().filter(|field| columns.at(**field).is_none()).map(|field| field.id()))
        .collect();
    for name in &missing {
        findings.error(
            "no-column",
            table.place(columns.heading_row, 1),
            format!("there is no column for {name}"),
            format!(
                "name it with --columns \"{name}=HEADING\"; the headings found are {}",
                columns.headings.iter().map(|heading| format!("`{heading}`")).collect::<Vec<_>>().join(", ")
            ),
        );
    }
    missing.is_empty().then_some(columns)
}

/// A bad cell: its column, what is wrong, what would be right.
pub(super) struct BadCell {
    pub(super) column: usize,
    pub(super) code: &'static str,
    pub(super) message: String,
    pub(super) help: String,
}

struct Reader<'t, 'a> {
    table: &'t Table<'a>,
    options: &'t CaseOptions,
    columns: Columns,
    cells: CellReader,
    cows: Memo<()>,
    treatments: Memo<()>,
    lesions: Memo<Diagnosis>,
    feet: Memo<Option<Foot>>,
    claws: Memo<Option<Claw>>,
    observers: Memo<Option<Observer>>,
    records: Vec<CaseRecord>,
    log: RowLog,
    last_short_row: Option<usize>,
}

impl<'t, 'a> Reader<'t, 'a> {
    fn new(table: &'t Table<'a>, options: &'t CaseOptions, columns: Columns) -> Self {
        Reader {
            table,
            options,
            cells: CellReader { dates: options.dates },
            columns,
            cows: Memo::default(),
            treatments: Memo::default(),
            lesions: Memo::default(),
            feet: Memo::default(),
            claws: Memo::default(),
            observers: Memo::default(),
            records: Vec::new(),
            log: RowLog::new(options.skip_bad),
            last_short_row: None,
        }
    }

    fn row(&mut self, row: Row<'_>) -> ControlFlow<()> {
        if row.number() <= self.columns.heading_row || row.is_blank() {
            return ControlFlow::Continue(());
        }
        self.log.rows += 1;
        if let Some(bad) = unclosed_quote(row) {
            // What follows was swallowed by the quote, so going on would only mislead.
            self.log.refuse(self.table, row.number(), bad);
            return ControlFlow::Break(());
        }
        self.last_short_row = (row.len() < self.columns.width).then_some(row.number());
        match self.record(row) {
            Ok(record) => self.records.push(record),
            Err(bad_cells) => self.log.bad_row(self.table, row.number(), bad_cells),
        }
        ControlFlow::Continue(())
    }

    /// The record of a row, or everything that is wrong with it.
    fn record(&mut self, row: Row<'_>) -> Result<CaseRecord, Vec<BadCell>> {
        let mut bad = Vec::new();
        check_width(row, &self.columns, &mut bad);
        let cells = self.cells;
        let at = |field| self.columns.at(field);
        let treated = cells.optional_date(row, at(Field::Treated), &mut bad);
        let date = match at(Field::Date) {
            Some(column) => cells.date(row, column, &mut bad),
            None => treated.or_else(|| missing_date(at(Field::Treated), &mut bad)),
        };
        let first_sign = cells.optional_date(row, at(Field::FirstSign), &mut bad);
        let parity = cells.number(row, at(Field::Parity), MAX_PARITY, &mut bad);
        let days_in_milk = cells.number(row, at(Field::DaysInMilk), MAX_DAYS_IN_MILK, &mut bad);
        let score = cells.number(row, at(Field::Score), MAX_SCORE, &mut bad);
        let number = row.number();
        let cow = match cells.text(row, at(Field::Cow), &mut bad) {
            Some(word) => Some(self.cows.index(&word, number, |_| ())),
            None => missing_cow(at(Field::Cow), &mut bad),
        };
        let foot = cells.text(row, at(Field::Foot), &mut bad);
        let foot = foot.map(|word| self.feet.meet(&word, number, words::foot));
        let claw = cells.text(row, at(Field::Claw), &mut bad);
        let claw = claw.map(|word| self.claws.meet(&word, number, words::claw));
        let seen_by = cells.text(row, at(Field::SeenBy), &mut bad);
        let seen_by = seen_by.map(|word| self.observers.meet(&word, number, words::observer));
        let lesion = cells.text(row, at(Field::Lesion), &mut bad);
        let lesion = lesion.map(|word| self.lesions.meet(&word, number, |text| diagnose(text, self.options)));
        let treatment = cells.text(row, at(Field::Treatment), &mut bad);
        let treatment = treatment.map(|word| self.treatments.index(&word, number, |_| ()));
        let end = treated.or(date);
        if let (Some(column), Some(first), Some(end)) = (at(Field::FirstSign), first_sign, end)
            && first > end
        {
            bad.push(BadCell {
                column,
                code: "first-sign-after-treatment",
                message: format!("the first sign, {first}, comes after {end}"),
                help: "one of the two days must be wrong".to_owned(),
            });
        }
        let (Some(date), Some(cow), true) = (date, cow, bad.is_empty()) else { return Err(bad) };
        Ok(CaseRecord {
            date,
            cow,
            row: u32::try_from(number).unwrap_or(u32::MAX),
            first_sign,
            treated,
            treatment,
            days_in_milk: days_in_milk.map(|days| days as u16),
            parity: parity.map(|parity| parity as u8),
            score: score.map(|score| score as u8),
            foot: foot.and_then(|word| *self.feet.meaning(word)),
            claw: claw.and_then(|word| *self.claws.meaning(word)),
            lesion: lesion.and_then(|word| counted_as(*self.lesions.meaning(word))),
            seen_by: seen_by.and_then(|word| *self.observers.meaning(word)),
        })
    }

    fn finish(self, mut findings: Findings) -> (Cases, CaseReading, Findings) {
        let table = self.table;
        let mut reading = CaseReading {
            rows: self.log.rows,
            skipped: self.log.skipped,
            unused_columns: self.columns.unused.clone(),
            ..CaseReading::default()
        };
        reading.unknown.extend(unknown(Field::Foot, &self.feet, |meaning| meaning.is_none()));
        reading.unknown.extend(unknown(Field::Claw, &self.claws, |meaning| meaning.is_none()));
        reading
            .unknown
            .extend(unknown(Field::Lesion, &self.lesions, |meaning| *meaning == Diagnosis::Unknown));
        reading.unknown.extend(unknown(Field::SeenBy, &self.observers, |meaning| meaning.is_none()));
        let understood = self.lesions.words().filter(|(_, met)| met.meaning != Diagnosis::Unknown);
        reading.lesion_words = understood
            .map(|(word, met)| LesionWord { word, lesion: counted_as(met.meaning), rows: met.rows as usize })
            .collect();
        warn_of_unknown(table, &self.columns, &reading.unknown, &mut findings);
        warn_of_short_end(table, self.last_short_row, &mut findings);
        warn_of_far_years(table, &self.columns, self.options, &self.records, &mut findings);
        self.log.finish(table, &mut findings);
        let cases = Cases {
            records: self.records,
            cows: self.cows.into_words(),
            treatments: self.treatments.into_words(),
        };
        warn_of_duplicates(table, &self.columns, &cases, &mut findings);
        if reading.rows == 0 {
            findings.warning(
                "no-records",
                table.place(self.columns.heading_row, 1),
                "there are no records below the headings",
                "a farm with no lame cow seen is rare; check that this is the right file",
            );
        }
        (cases, reading, findings)
    }
}

fn diagnose(word: &str, options: &CaseOptions) -> Diagnosis {
    let plain = words::normalise(word);
    let own = options.lesion_words.iter().find(|(name, _)| words::normalise(name) == plain);
    own.map_or_else(|| words::lesion(word), |(_, lesion)| Diagnosis::Known(*lesion))
}

fn counted_as(diagnosis: Diagnosis) -> Option<Lesion> {
    match diagnosis {
        Diagnosis::Known(lesion) => Some(lesion),
        Diagnosis::Unrecorded => None,
        Diagnosis::Unknown => Some(Lesion::Other),
    }
}

fn unknown<T>(field: Field, memo: &Memo<T>, is_unknown: impl Fn(&T) -> bool) -> Vec<UnknownWord> {
    let words = memo.words().filter(|(_, met)| is_unknown(&met.meaning));
    words
        .map(|(word, met)| UnknownWord {
            field,
            word,
            rows: met.rows as usize,
            first_row: met.first_row as usize,
        })
        .collect()
}

/// A cell in quotes over many lines: the file has a quote mark that nobody closed.
fn unclosed_quote(row: Row<'_>) -> Option<BadCell> {
    (row.lines() > MAX_CELL_LINES).then(|| BadCell {
        column: 0,
        code: "quote-not-closed",
        message: format!("a cell in quotes goes over {} lines", row.lines()),
        help: "a quote mark (\") in this row has no partner; close it or take it out".to_owned(),
    })
}

fn check_width(row: Row<'_>, columns: &Columns, bad: &mut Vec<BadCell>) {
    let extra = (columns.width..row.len()).find(|column| row.cell(*column) != Cell::Blank);
    if let Some(column) = extra {
        bad.push(BadCell {
            column,
            code: "cell-without-heading",
            message: format!("`{}` stands beyond the last heading", row.text(column)),
            help: "a delimiter inside a cell needs quotes round the cell".to_owned(),
        });
    }
}

fn missing_date(column: Option<usize>, bad: &mut Vec<BadCell>) -> Option<NaiveDate> {
    // A day that was there and faulty has been reported.
    if bad.is_empty() {
        bad.push(no_date(column.unwrap_or(0)));
    }
    None
}

fn no_date(column: usize) -> BadCell {
    BadCell {
        column,
        code: "no-date",
        message: "there is no day".to_owned(),
        help: "write the day as 2026-03-14".to_owned(),
    }
}

fn missing_cow(column: Option<usize>, bad: &mut Vec<BadCell>) -> Option<u32> {
    let column = column.unwrap_or(0);
    if bad.iter().all(|cell| cell.column != column) {
        bad.push(BadCell {
            column,
            code: "no-cow",
            message: "there is no cow".to_owned(),
            help: "without one a repeat can't be told from a new case; for a cow nobody knows write a name \
                   used once, such as x1"
                .to_owned(),
        });
    }
    None
}

/// Reads single cells; a fault is pushed and the value is then absent.
#[derive(Clone, Copy)]
pub(super) struct CellReader {
    pub(super) dates: Option<DateOrder>,
}

/// A cell's text: borrowed from the table, or a number written out.
enum Word<'r> {
    Text(&'r [u8]),
    Written(String),
}

impl std::ops::Deref for Word<'_> {
    type Target = [u8];
    fn deref(&self) -> &[u8] {
        match self {
            Word::Text(text) => text,
            Word::Written(text) => text.as_bytes(),
        }
    }
}

impl CellReader {
    /// A cell that must hold a day.
    pub(super) fn date(self, row: Row<'_>, column: usize, bad: &mut Vec<BadCell>) -> Option<NaiveDate> {
        let before = bad.len();
        let date = self.optional_date(row, Some(column), bad);
        if date.is_none() && bad.len() == before {
            bad.push(no_date(column));
        }
        date
    }

    /// A cell that may hold a day.
    pub(super) fn optional_date(
        self,
        row: Row<'_>,
        column: Option<usize>,
        bad: &mut Vec<BadCell>,
    ) -> Option<NaiveDate> {
        let column = column?;
        let fault = match row.cell(column) {
            Cell::Blank => return None,
            Cell::Date(day) if (1950..=2100).contains(&day.year()) => return Some(day),
            Cell::Date(day) => DateFault::FarOff(day),
            Cell::Number(number) => DateFault::Serial(super::dates::serial_date(number)),
            Cell::Text(text) => match parse_date(text, self.dates) {
                Ok(day) => return Some(day),
                Err(_) if words::says_nothing(&String::from_utf8_lossy(text)) => return None,
                Err(fault) => fault,
            },
            Cell::Fault(fault) => {
                bad.push(formula_error(column, fault));
                return None;
            }
            Cell::Merged(area) => {
                bad.push(merged(column, area));
                return None;
            }
        };
        let (message, help) = fault.say(&row.text(column));
        let code = if matches!(fault, DateFault::Ambiguous { .. }) { "ambiguous-date" } else { "bad-day" };
        bad.push(BadCell { column, code, message, help });
        None
    }

    /// A cell that may hold text.
    fn text<'r>(self, row: Row<'r>, column: Option<usize>, bad: &mut Vec<BadCell>) -> Option<Word<'r>> {
        let column = column?;
        match row.cell(column) {
            Cell::Blank => None,
            Cell::Text(text) => match text {
                [b'?' | b'-' | b'.'] => None,
                _ => Some(Word::Text(text)),
            },
            Cell::Number(number) => Some(Word::Written(number.to_string())),
            Cell::Date(day) => Some(Word::Written(day.to_string())),
            Cell::Fault(fault) => {
                bad.push(formula_error(column, fault));
                None
            }
            Cell::Merged(area) => {
                bad.push(merged(column, area));
                None
            }
        }
    }

    /// A cell that may hold a whole number from 0 to `most`.
    pub(super) fn number(
        self,
        row: Row<'_>,
        column: Option<usize>,
        most: f64,
        bad: &mut Vec<BadCell>,
    ) -> Option<f64> {
        let column = column?;
        let number = match row.cell(column) {
            Cell::Blank => return None,
            Cell::Number(number) => Some(number),
            Cell::Text(text) => match whole(text) {
                Some(number) => Some(number),
                None if words::says_nothing(&String::from_utf8_lossy(text)) => return None,
                None => std::str::from_utf8(text).ok().and_then(|text| text.parse().ok()),
            },
            Cell::Fault(fault) => {
                bad.push(formula_error(column, fault));
                return None;
            }
            Cell::Merged(area) => {
                bad.push(merged(column, area));
                return None;
            }
            Cell::Date(_) => None,
        };
        let good = number.filter(|number| number.fract() == 0.0 && (0.0..=most).contains(number));
        if good.is_none() {
            bad.push(BadCell {
                column,
                code: "bad-number",
                message: format!("`{}` should be a whole number from 0 to {most}", row.text(column)),
                help: "correct it, or leave the cell empty where it is not known".to_owned(),
            });
        }
        good
    }
}

/// A short whole number, without the general reader's care.
fn whole(text: &[u8]) -> Option<f64> {
    if text.is_empty() || text.len() > 9 {
        return None;
    }
    let sum = text
        .iter()
        .try_fold(0_u32, |sum, byte| byte.is_ascii_digit().then(|| sum * 10 + u32::from(byte - b'0')))?;
    Some(f64::from(sum))
}

fn formula_error(column: usize, fault: &str) -> BadCell {
    BadCell {
        column,
        code: "formula-error",
        message: format!("the cell's formula gave the error `{fault}`"),
        help: "correct the formula or type the value in its place".to_owned(),
    }
}

fn merged(column: usize, area: &str) -> BadCell {
    BadCell {
        column,
        code: "merged-cells",
        message: format!("the cell is part of the merged cells {area}"),
        help: "undo the merging and fill in every row".to_owned(),
    }
}

/// Bad rows, reported up to a limit and always counted.
pub(super) struct RowLog {
    pub(super) rows: usize,
    pub(super) skipped: usize,
    bad_rows: usize,
    skip_bad: bool,
    shown: usize,
    findings: Findings,
}

impl RowLog {
    pub(super) fn new(skip_bad: bool) -> Self {
        RowLog { rows: 0, skipped: 0, bad_rows: 0, skip_bad, shown: 0, findings: Findings::new() }
    }

    /// Reports a row that is refused, or left out where the user asked for that.
    pub(super) fn bad_row(&mut self, table: &Table<'_>, row: usize, cells: Vec<BadCell>) {
        self.bad_rows += 1;
        if self.skip_bad {
            self.skipped += 1;
        }
        if self.shown >= MAX_SHOWN {
            return;
        }
        for cell in cells {
            self.shown += 1;
            let place = table.place(row, cell.column + 1);
            if self.skip_bad {
                self.findings.warning(cell.code, place, format!("{}; row left out", cell.message), cell.help);
            } else {
                self.findings.error(cell.code, place, cell.message, cell.help);
            }
        }
    }

    /// Reports a fault that ends the reading, whatever the user asked for.
    pub(super) fn refuse(&mut self, table: &Table<'_>, row: usize, cell: BadCell) {
        self.findings.error(cell.code, table.place(row, cell.column + 1), cell.message, cell.help);
    }

    /// Hands over the findings, with a closing count.
    pub(super) fn finish(self, table: &Table<'_>, findings: &mut Findings) {
        findings.extend(self.findings);
        let file = || crate::finding::Place::File(table.name().to_owned());
        if self.shown >= MAX_SHOWN {
            let message =
                format!("{} rows are bad; the first {} faults are shown", self.bad_rows, self.shown);
            let help = "is it the right file, with the right headings?";
            if self.skip_bad {
                findings.warning("more-bad-rows", file(), message, help);
            } else {
                findings.error("more-bad-rows", file(), message, help);
            }
        }
        if self.skipped > 0 {
            findings.warning(
                "rows-left-out",
                file(),
                format!("{} of {} rows left out", self.skipped, self.rows),
                "every figure is too low by what they held",
            );
        }
    }
}

fn warn_of_unknown(table: &Table<'_>, columns: &Columns, unknown: &[UnknownWord], findings: &mut Findings) {
    for word in unknown.iter().take(MAX_SHOWN) {
        let column = columns.at(word.field).unwrap_or(0);
        let rows = if word.rows == 1 { "1 row".to_owned() } else { format!("{} rows", word.rows) };
        let (counted, help) = match word.field {
            Field::Lesion => ("counted as another lesion", "write the lesion's name or its ICAR code"),
            _ => ("counted as not given", "correct it where it matters"),
        };
        findings.warning(
            "word-not-known",
            table.place(word.first_row, column + 1),
            format!("`{}` in `{}` is not known ({rows}); {counted}", word.word, columns.heading(column)),
            help,
        );
    }
}

fn warn_of_short_end(table: &Table<'_>, last_short_row: Option<usize>, findings: &mut Findings) {
    if let Some(row) = last_short_row.filter(|_| table.ends_within_a_line()) {
        findings.warning(
            "maybe-cut-short",
            table.place(row, 1),
            "the last row has fewer cells than there are headings, and its line has no end",
            "check that the file was copied whole",
        );
    }
}

fn warn_of_far_years(
    table: &Table<'_>,
    columns: &Columns,
    options: &CaseOptions,
    records: &[CaseRecord],
    findings: &mut Findings,
) {
    let Some(today) = options.today else { return };
    let column = columns.at(Field::Date).or(columns.at(Field::Treated)).unwrap_or(0);
    for record in records.iter().filter(|record| record.date > today).take(MAX_SHOWN) {
        findings.warning(
            "date-after-today",
            table.place(record.row as usize, column + 1),
            format!("{} has not come yet", record.date),
            "check the year, and the order of day and month",
        );
    }
}

/// One cow twice on a day is often one record typed twice. Two different feet are two records.
fn warn_of_duplicates(table: &Table<'_>, columns: &Columns, cases: &Cases, findings: &mut Findings) {
    let order = suspects(cases);
    let mut pairs = Vec::new();
    for pair in order.windows(2) {
        let (first, second) = (pair[0], pair[1]);
        let two_feet = matches!((first.foot, second.foot), (Some(one), Some(other)) if one != other);
        if first.cow == second.cow && first.date == second.date && !two_feet {
            pairs.push((second.row, first.row, second));
        }
    }
    pairs.sort_unstable_by_key(|(row, first_row, _)| (*row, *first_row));
    let column = columns.at(Field::Cow).unwrap_or(0);
    for (row, first_row, second) in pairs.iter().take(MAX_SHOWN) {
        let name = cases.cows.get(second.cow as usize).map_or("", String::as_str);
        findings.warning(
            "cow-twice-on-a-day",
            table.place(*row as usize, column + 1),
            format!(
                "cow `{name}` has another record on {} (row {first_row}); they count as one case",
                second.date
            ),
            "check that the record was not typed twice",
        );
    }
    if pairs.len() > MAX_SHOWN {
        findings.warning(
            "cow-twice-on-a-day",
            crate::finding::Place::File(table.name().to_owned()),
            format!("{} more cows have two records on a day", pairs.len() - MAX_SHOWN),
            "",
        );
    }
}

/// The records of the cows that may have two on a day, by cow, day, foot and row. Most files are by
/// day, so that few cows are left.
fn suspects(cases: &Cases) -> Vec<&CaseRecord> {
    let mut last_day: Vec<Option<NaiveDate>> = vec![None; cases.cows.len()];
    let mut suspect = vec![false; cases.cows.len()];
    for record in &cases.records {
        let cow = record.cow as usize;
        suspect[cow] |= last_day[cow] >= Some(record.date);
        last_day[cow] = Some(record.date);
    }
    let mut records: Vec<&CaseRecord> =
        cases.records.iter().filter(|record| suspect[record.cow as usize]).collect();
    records.sort_unstable_by_key(|record| {
        (record.cow, record.date, record.foot.is_none(), record.foot, record.row)
    });
    records
}
