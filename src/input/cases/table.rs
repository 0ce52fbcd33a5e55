//! A table as it stands in the file: text with a delimiter, or the cells of a sheet.

use super::decode::{Encoding, decode};
use super::headings;
use crate::finding::{Findings, Place};
use chrono::NaiveDate;
use std::borrow::Cow;
use std::ops::{ControlFlow, Range};

/// What the user said of the table.
#[derive(Clone, Debug, Default)]
pub struct TableOptions {
    /// Name of the sheet of a spreadsheet; the first one with content where it is not given.
    pub sheet: Option<String>,
    /// Delimiter of a text table; found from the headings where it is not given.
    pub delimiter: Option<u8>,
}

/// A table that was read, not yet judged.
#[derive(Clone, Debug)]
pub struct Table<'a> {
    name: String,
    body: Body<'a>,
    /// Warnings made while reading.
    pub warnings: Findings,
}

// The browser reads text alone.
#[cfg_attr(target_family = "wasm", allow(dead_code))]
#[derive(Clone, Debug)]
enum Body<'a> {
    Text { text: Cow<'a, str>, delimiter: u8, encoding: Encoding, first_line: u64 },
    Sheet(Vec<SheetRow>),
}

/// A row of a sheet.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct SheetRow {
    /// Row, from 1.
    pub(super) row: usize,
    /// Cells from the first column on.
    pub(super) cells: Vec<SheetCell>,
}

/// A cell of a sheet.
#[cfg_attr(target_family = "wasm", allow(dead_code))]
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) enum SheetCell {
    /// Nothing in it.
    #[default]
    Blank,
    /// Text, or a number as text.
    Text(String),
    /// A number.
    Number(f64),
    /// A day.
    Date(NaiveDate),
    /// A formula that gave an error, as the sheet shows it.
    Fault(String),
    /// Part of a merged area, with the area's name.
    Merged(String),
}

/// A cell, of either kind of table. Text has no space round it and is never empty.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Cell<'r> {
    Blank,
    Text(&'r [u8]),
    Number(f64),
    Date(NaiveDate),
    Fault(&'r str),
    Merged(&'r str),
}

/// A row of either kind of table.
#[derive(Clone, Copy, Debug)]
pub(super) enum Row<'r> {
    /// Cells are byte ranges of `bytes`.
    Text {
        bytes: &'r [u8],
        cells: &'r [Range<usize>],
        line: usize,
        lines: usize,
    },
    Sheet(&'r SheetRow),
}

impl<'r> Row<'r> {
    /// Row of the table, from 1; the line of a text table.
    pub(super) fn number(self) -> usize {
        match self {
            Row::Text { line, .. } => line,
            Row::Sheet(row) => row.row,
        }
    }

    /// Lines that the row takes in a text table; more than one only with a quoted line break.
    pub(super) fn lines(self) -> usize {
        match self {
            Row::Text { lines, .. } => lines,
            Row::Sheet(_) => 1,
        }
    }

    /// How many cells there are.
    pub(super) fn len(self) -> usize {
        match self {
            Row::Text { cells, .. } => cells.len(),
            Row::Sheet(row) => row.cells.len(),
        }
    }

    /// The cell in this column, from 0; blank past the end.
    pub(super) fn cell(self, column: usize) -> Cell<'r> {
        match self {
            Row::Text { bytes, cells, .. } => {
                match cells.get(column).and_then(|range| bytes.get(range.clone())).map(<[u8]>::trim_ascii) {
                    None | Some([]) => Cell::Blank,
                    Some(text) if is_formula_error(text) => {
                        Cell::Fault(std::str::from_utf8(text).unwrap_or("#"))
                    }
                    Some(text) => Cell::Text(text),
                }
            }
            Row::Sheet(row) => match row.cells.get(column) {
                None | Some(SheetCell::Blank) => Cell::Blank,
                Some(SheetCell::Text(text)) => match text.trim() {
                    "" => Cell::Blank,
                    text if is_formula_error(text.as_bytes()) => Cell::Fault(text),
                    text => Cell::Text(text.as_bytes()),
                },
                Some(SheetCell::Number(number)) => Cell::Number(*number),
                Some(SheetCell::Date(day)) => Cell::Date(*day),
                Some(SheetCell::Fault(fault)) => Cell::Fault(fault),
                Some(SheetCell::Merged(area)) => Cell::Merged(area),
            },
        }
    }

    /// The cell as text, for headings and messages.
    pub(super) fn text(self, column: usize) -> String {
        match self.cell(column) {
            Cell::Blank | Cell::Merged(_) => String::new(),
            Cell::Text(text) => String::from_utf8_lossy(text).into_owned(),
            Cell::Number(number) => number.to_string(),
            Cell::Date(day) => day.to_string(),
            Cell::Fault(fault) => fault.to_owned(),
        }
    }

    /// Whether every cell is blank.
    pub(super) fn is_blank(self) -> bool {
        (0..self.len()).all(|column| self.cell(column) == Cell::Blank)
    }
}

/// Whether a cell shows the error of a formula, as spreadsheets write it.
fn is_formula_error(text: &[u8]) -> bool {
    const ERRORS: [&[u8]; 8] =
        [b"#DIV/0!", b"#N/A", b"#NAME?", b"#NULL!", b"#NUM!", b"#REF!", b"#VALUE!", b"#SPILL!"];
    let text = text.trim_ascii();
    ERRORS.contains(&text)
        || text.strip_prefix(b"Err:").is_some_and(|code| code.iter().all(u8::is_ascii_digit))
}

impl Table<'_> {
    /// The name that messages show, with the sheet where there is one.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// How a text table was encoded; `None` for a spreadsheet.
    pub fn encoding(&self) -> Option<Encoding> {
        match self.body {
            Body::Text { encoding, .. } => Some(encoding),
            Body::Sheet(_) => None,
        }
    }

    /// The place of a cell: row and column from 1.
    pub(super) fn place(&self, row: usize, column: usize) -> Place {
        Place::Cell { file: self.name.clone(), row, column }
    }

    /// Whether a text table's last line lacks its end, as that of a file cut short does.
    pub(super) fn ends_within_a_line(&self) -> bool {
        match &self.body {
            Body::Text { text, .. } => !text.is_empty() && !text.ends_with(['\n', '\r']),
            Body::Sheet(_) => false,
        }
    }

    /// Visits every row in order, until told to stop. Empty lines of a text table are passed over.
    pub(super) fn rows(&self, mut visit: impl FnMut(Row<'_>) -> ControlFlow<()>) {
        match &self.body {
            Body::Sheet(rows) => {
                let _ = rows.iter().try_for_each(|row| visit(Row::Sheet(row)));
            }
            Body::Text { text, delimiter, first_line, .. } => {
                text_rows(text, *delimiter, *first_line as usize, visit);
            }
        }
    }
}

/// Visits the rows of a text table.
fn text_rows(text: &str, delimiter: u8, first_line: usize, visit: impl FnMut(Row<'_>) -> ControlFlow<()>) {
    // Without a quote mark, lines are rows and every delimiter divides cells: four times as fast.
    if text.contains('"') {
        quoted_rows(text, delimiter, first_line, visit);
    } else {
        plain_rows(text.as_bytes(), delimiter, first_line, visit);
    }
}

fn plain_rows(
    bytes: &[u8],
    delimiter: u8,
    first_line: usize,
    mut visit: impl FnMut(Row<'_>) -> ControlFlow<()>,
) {
    let mut cells: Vec<Range<usize>> = Vec::new();
    let (mut line, mut start, mut cell) = (first_line, 0, 0);
    // One step past the end closes a last line without an end.
    for at in 0..=bytes.len() {
        let byte = bytes.get(at).copied().unwrap_or(b'\n');
        if byte == delimiter {
            cells.push(cell..at);
            cell = at + 1;
        } else if byte == b'\n' || byte == b'\r' {
            if at > start {
                cells.push(cell..at);
                if visit(Row::Text { bytes, cells: &cells, line, lines: 1 }).is_break() {
                    return;
                }
                cells.clear();
            }
            (start, cell) = (at + 1, at + 1);
            // The two bytes of a Windows end of line are one end.
            line += usize::from(byte == b'\n' || bytes.get(at + 1) != Some(&b'\n'));
        }
    }
}

/// Lines are counted here, since the reader's own count is that of the place where it began to look for
/// a row, before blank lines and half an end of line.
fn quoted_rows(
    text: &str,
    delimiter: u8,
    first_line: usize,
    mut visit: impl FnMut(Row<'_>) -> ControlFlow<()>,
) {
    let bytes = text.as_bytes();
    let mut reader = csv::ReaderBuilder::new()
        .delimiter(delimiter)
        .has_headers(false)
        .flexible(true)
        .buffer_capacity(1 << 16)
        .from_reader(bytes);
    let end_of_line = if text.contains('\n') { b'\n' } else { b'\r' };
    let ends = |from: usize, to: usize| {
        bytes.get(from..to).map_or(0, |part| part.iter().filter(|byte| **byte == end_of_line).count())
    };
    let (mut line, mut counted_to) = (first_line, 0);
    let mut record = csv::ByteRecord::new();
    let mut cells: Vec<Range<usize>> = Vec::new();
    // Reading flexible rows from memory can't fail; a fault would end the loop.
    while let Ok(true) = reader.read_byte_record(&mut record) {
        let looked_from = record.position().map_or(0, |position| position.byte() as usize);
        let blank = bytes.get(looked_from..).unwrap_or(&[]);
        let start = looked_from + blank.iter().take_while(|byte| matches!(byte, b'\r' | b'\n')).count();
        line += ends(counted_to, start);
        counted_to = start;
        let lines = ends(start, reader.position().byte() as usize).max(1);
        cells.clear();
        cells.extend((0..record.len()).filter_map(|cell| record.range(cell)));
        if visit(Row::Text { bytes: record.as_slice(), cells: &cells, line, lines }).is_break() {
            return;
        }
    }
}

/// Reads the bytes of a file as a table: text with commas, semicolons or tabs, or a spreadsheet
/// (XLSX, ODS). `name` is what messages call it.
///
/// # Errors
/// Findings that say why the file can't be read.
pub fn read_table<'a>(name: &str, bytes: &'a [u8], options: &TableOptions) -> Result<Table<'a>, Findings> {
    let fail = |code, message: &str, help: &str| {
        let mut findings = Findings::new();
        findings.error(code, Place::File(name.to_owned()), message, help);
        Err(findings)
    };
    if bytes.starts_with(b"PK") {
        return read_sheet(name, bytes, options);
    }
    if bytes.starts_with(&[0xD0, 0xCF, 0x11, 0xE0]) {
        return fail(
            "workbook-locked-or-old",
            "this is an old .xls workbook, or one with a password",
            "save it as .xlsx or .csv, without a password",
        );
    }
    let (text, encoding) = match decode(bytes) {
        Ok(decoded) => decoded,
        Err(why) => {
            let message = format!("this is not a table of text: {why}");
            return fail("not-a-table", &message, "save it as .csv, .xlsx or .ods");
        }
    };
    if text.trim().is_empty() {
        return fail(
            "empty-table",
            "the file is empty",
            "it needs a row of headings and a row for each record",
        );
    }
    if text.trim_start().starts_with('<') {
        return fail("not-a-table", "this is a web page, not a table", "save it as .csv, .xlsx or .ods");
    }
    if options.sheet.is_some() {
        return fail("no-sheets", "a text table has no sheets", "leave out --sheet");
    }
    let (text, declared, first_line) = without_declaration(text);
    let delimiter = options.delimiter.or(declared).unwrap_or_else(|| headings::sniff_delimiter(&text));
    let body = Body::Text { text, delimiter, encoding, first_line };
    Ok(Table { name: name.to_owned(), body, warnings: Findings::new() })
}

/// Takes off the line `sep=;` that some spreadsheet programs put first. Gives the text without it,
/// the delimiter it names and the number of the first line left.
fn without_declaration(text: Cow<'_, str>) -> (Cow<'_, str>, Option<u8>, u64) {
    let line = text.lines().next().unwrap_or("");
    let named = line.strip_prefix("sep=").and_then(|rest| rest.bytes().next());
    let Some(delimiter @ (b',' | b';' | b'\t')) = named.filter(|_| line.len() == 5) else {
        return (text, None, 1);
    };
    let start = text.find('\n').map_or(text.len(), |at| at + 1);
    let rest = match text {
        Cow::Borrowed(text) => Cow::Borrowed(&text[start..]),
        Cow::Owned(text) => Cow::Owned(text[start..].to_owned()),
    };
    (rest, Some(delimiter), 2)
}

#[cfg(not(target_family = "wasm"))]
fn read_sheet<'a>(name: &str, bytes: &[u8], options: &TableOptions) -> Result<Table<'a>, Findings> {
    let sheet = super::workbook::read(name, bytes, options.sheet.as_deref())?;
    Ok(Table { name: sheet.name, body: Body::Sheet(sheet.rows), warnings: sheet.warnings })
}

#[cfg(target_family = "wasm")]
fn read_sheet<'a>(name: &str, _bytes: &[u8], _options: &TableOptions) -> Result<Table<'a>, Findings> {
    let mut findings = Findings::new();
    let place = Place::File(name.to_owned());
    findings.error("workbook-not-here", place, "spreadsheets can't be read here", "save it as .csv");
    Err(findings)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    type Rows = Vec<(usize, Vec<String>)>;

    fn collect(read: impl FnOnce(&mut dyn FnMut(Row<'_>) -> ControlFlow<()>)) -> Rows {
        let mut rows = Vec::new();
        read(&mut |row| {
            rows.push((row.number(), (0..row.len()).map(|column| row.text(column)).collect()));
            ControlFlow::Continue(())
        });
        rows
    }

    proptest! {
        /// The csv crate and the plain division agree wherever both may be used.
        #[test]
        fn without_quotes_both_ways_read_the_same(text in "([a-c]|,|\n|\r\n){0,30}") {
            let quoted = collect(|visit| quoted_rows(&text, b',', 1, visit));
            let plain = collect(|visit| plain_rows(text.as_bytes(), b',', 1, visit));
            prop_assert_eq!(plain, quoted);
        }
    }
}
