//! Sheets of XLSX and ODS workbooks, from bytes.
//!
//! Cells are read one by one rather than as a filled rectangle: two cells in far corners of an
//! XLSX sheet would otherwise ask for more memory than there is.

use super::table::{SheetCell, SheetRow};
use crate::finding::{Findings, Place};
use calamine::{Data, Dimensions, Ods, Reader, SheetType, SheetVisible, Xlsx};
use chrono::NaiveDate;
use std::io::{Cursor, Read};

/// Columns that are looked at; a table of case records has a dozen.
const MAX_COLUMNS: usize = 256;
/// Cells with something in them: two million rows of fifteen.
const MAX_CELLS: usize = 30_000_000;
/// Bytes that a workbook may unpack to.
const MAX_UNPACKED: u64 = 1 << 30;

/// A sheet that was read.
pub(super) struct Sheet {
    /// Name of the file with that of the sheet.
    pub(super) name: String,
    pub(super) rows: Vec<SheetRow>,
    pub(super) warnings: Findings,
}

/// Why a workbook can't be read.
enum Fault {
    Damaged,
    Password,
    TooLarge,
    NoSuchSheet { asked: String, there: Vec<String> },
    Empty,
    CutShort { sheet: String, after_row: usize },
    TooWide { sheet: String, row: usize },
    RowsOutOfOrder { sheet: String, row: usize },
}

/// Reads the sheet with this name, or the first visible one with content.
pub(super) fn read(file: &str, bytes: &[u8], sheet: Option<&str>) -> Result<Sheet, Findings> {
    let mut warnings = Findings::new();
    let read = check_whole(bytes).and_then(|()| match is_ods(bytes) {
        true => read_ods(file, bytes, sheet, &mut warnings),
        false => read_xlsx(bytes, sheet),
    });
    let (chosen, rows, unread) = read.map_err(|fault| say(file, fault))?;
    let name = format!("{file} (sheet {chosen})");
    if !unread.is_empty() {
        warnings.warning(
            "sheets-not-read",
            Place::File(name.clone()),
            format!("other sheets with content were not read: {}", unread.join(", ")),
            "name the one to read with --sheet",
        );
    }
    Ok(Sheet { name, rows, warnings })
}

type Chosen = (String, Vec<SheetRow>, Vec<String>);

/// Unpacks every part once, which compares it with its checksum: what has changed on the way is
/// refused before anybody reads sense into it.
fn check_whole(bytes: &[u8]) -> Result<(), Fault> {
    let mut archive = zip::ZipArchive::new(Cursor::new(bytes)).map_err(|_| Fault::Damaged)?;
    let mut left = MAX_UNPACKED;
    for index in 0..archive.len() {
        let part = archive.by_index(index).map_err(|fault| match fault {
            zip::result::ZipError::UnsupportedArchive(zip::result::ZipError::PASSWORD_REQUIRED) => {
                Fault::Password
            }
            _ => Fault::Damaged,
        })?;
        let unpacked =
            std::io::copy(&mut part.take(left + 1), &mut std::io::sink()).map_err(|_| Fault::Damaged)?;
        left = left.checked_sub(unpacked).ok_or(Fault::TooLarge)?;
    }
    Ok(())
}

/// An ODS has its type as its first, unpacked entry.
fn is_ods(bytes: &[u8]) -> bool {
    bytes.get(30..38) == Some(b"mimetype")
}

fn say(file: &str, fault: Fault) -> Findings {
    let mut findings = Findings::new();
    let cell = |sheet: &str, row| Place::Cell { file: format!("{file} (sheet {sheet})"), row, column: 1 };
    let whole = || Place::File(file.to_owned());
    let (code, place, message, help) = match fault {
        Fault::Damaged => (
            "workbook-damaged",
            whole(),
            "the workbook is cut short or damaged".to_owned(),
            "copy it again from where it was made, or save it as .csv".to_owned(),
        ),
        Fault::Password => (
            "workbook-locked-or-old",
            whole(),
            "the workbook has a password".to_owned(),
            "save it without one".to_owned(),
        ),
        Fault::TooLarge => (
            "workbook-too-large",
            whole(),
            "the workbook is too large".to_owned(),
            "save the sheet with the records alone, as .csv".to_owned(),
        ),
        Fault::NoSuchSheet { asked, there } => (
            "no-such-sheet",
            whole(),
            format!("there is no sheet `{asked}`"),
            format!("its sheets: {}", there.join(", ")),
        ),
        Fault::Empty => (
            "empty-table",
            whole(),
            "no sheet has anything in it".to_owned(),
            "it needs a row of headings and a row for each record".to_owned(),
        ),
        Fault::CutShort { sheet, after_row } => (
            "workbook-damaged",
            cell(&sheet, after_row + 1),
            format!("the sheet breaks off after row {after_row}"),
            "copy the workbook again from where it was made".to_owned(),
        ),
        Fault::TooWide { sheet, row } => (
            "table-too-wide",
            cell(&sheet, row),
            format!("there is something beyond column {MAX_COLUMNS}"),
            "clear the cells to the right of the table".to_owned(),
        ),
        Fault::RowsOutOfOrder { sheet, row } => (
            "workbook-damaged",
            cell(&sheet, row),
            "the rows are not in order".to_owned(),
            "open the workbook and save it again".to_owned(),
        ),
    };
    findings.error(code, place, message, help);
    findings
}

fn read_xlsx(bytes: &[u8], asked: Option<&str>) -> Result<Chosen, Fault> {
    let mut book = Xlsx::new(Cursor::new(bytes)).map_err(|fault| match fault {
        calamine::XlsxError::Password => Fault::Password,
        _ => Fault::Damaged,
    })?;
    let mut filled = Vec::new();
    for name in candidates(book.sheets_metadata(), asked)? {
        if xlsx_has_content(&mut book, &name)? {
            filled.push(name);
        }
    }
    let Some(chosen) = filled.first().cloned() else { return Err(Fault::Empty) };
    let mut rows = xlsx_rows(&mut book, &chosen)?;
    let merged = book.merge_cells_by_sheet_name(&chosen).map_err(|_| Fault::Damaged)?;
    merged.iter().for_each(|area| mark_merged(&mut rows, area));
    Ok((chosen, rows, filled.split_off(1)))
}

/// Names of the sheets to look at: the one asked for, or all that are visible.
fn candidates(sheets: &[calamine::Sheet], asked: Option<&str>) -> Result<Vec<String>, Fault> {
    let tables = || sheets.iter().filter(|sheet| sheet.typ == SheetType::WorkSheet);
    let Some(asked) = asked else {
        let visible = tables().filter(|sheet| sheet.visible == SheetVisible::Visible);
        return Ok(visible.map(|sheet| sheet.name.clone()).collect());
    };
    match tables().find(|sheet| sheet.name == asked) {
        Some(sheet) => Ok(vec![sheet.name.clone()]),
        None => Err(Fault::NoSuchSheet {
            asked: asked.to_owned(),
            there: tables().map(|sheet| sheet.name.clone()).collect(),
        }),
    }
}

type Book<'b> = Xlsx<Cursor<&'b [u8]>>;

fn xlsx_has_content(book: &mut Book<'_>, name: &str) -> Result<bool, Fault> {
    let mut cells = book.worksheet_cells_reader(name).map_err(|_| Fault::Damaged)?;
    loop {
        match cells.next_cell() {
            Ok(Some(cell)) if to_cell(cell.get_value().clone().into()) == SheetCell::Blank => {}
            Ok(Some(_)) => return Ok(true),
            Ok(None) => return Ok(false),
            Err(_) => return Err(Fault::CutShort { sheet: name.to_owned(), after_row: 0 }),
        }
    }
}

fn xlsx_rows(book: &mut Book<'_>, name: &str) -> Result<Vec<SheetRow>, Fault> {
    let sheet = || name.to_owned();
    let mut cells = book.worksheet_cells_reader(name).map_err(|_| Fault::Damaged)?;
    let mut rows: Vec<SheetRow> = Vec::new();
    let mut count = 0;
    loop {
        let last_row = rows.last().map_or(0, |row| row.row);
        let cell = match cells.next_cell() {
            Ok(Some(cell)) => cell,
            Ok(None) => return Ok(rows),
            Err(_) => return Err(Fault::CutShort { sheet: sheet(), after_row: last_row }),
        };
        let (row, column) = cell.get_position();
        let (row, column) = (row as usize + 1, column as usize);
        let value = to_cell(cell.get_value().clone().into());
        if value == SheetCell::Blank {
            continue;
        }
        count += 1;
        match row.cmp(&last_row) {
            _ if count > MAX_CELLS => return Err(Fault::TooLarge),
            _ if column >= MAX_COLUMNS => return Err(Fault::TooWide { sheet: sheet(), row }),
            std::cmp::Ordering::Less => return Err(Fault::RowsOutOfOrder { sheet: sheet(), row }),
            std::cmp::Ordering::Greater => rows.push(SheetRow { row, cells: Vec::new() }),
            std::cmp::Ordering::Equal => {}
        }
        if let Some(last) = rows.last_mut() {
            put(&mut last.cells, column, value);
        }
    }
}

fn put(cells: &mut Vec<SheetCell>, column: usize, value: SheetCell) {
    if cells.len() <= column {
        cells.resize(column + 1, SheetCell::Blank);
    }
    cells[column] = value;
}

fn to_cell(value: Data) -> SheetCell {
    match value {
        Data::Empty => SheetCell::Blank,
        Data::String(text) if text.trim().is_empty() => SheetCell::Blank,
        Data::String(text) | Data::DurationIso(text) => SheetCell::Text(text),
        Data::Int(number) => SheetCell::Number(number as f64),
        Data::Float(number) => SheetCell::Number(number),
        Data::Bool(truth) => SheetCell::Text(truth.to_string()),
        Data::Error(fault) => SheetCell::Fault(fault.to_string()),
        Data::DateTime(day) if day.is_duration() => SheetCell::Number(day.as_f64()),
        Data::DateTime(day) => {
            let (year, month, of_month, ..) = day.to_ymd_hms_milli();
            NaiveDate::from_ymd_opt(i32::from(year), u32::from(month), u32::from(of_month))
                .map_or(SheetCell::Number(day.as_f64()), SheetCell::Date)
        }
        Data::DateTimeIso(text) => match text.get(..10).and_then(|day| day.parse().ok()) {
            Some(day) => SheetCell::Date(day),
            None => SheetCell::Text(text),
        },
    }
}

/// Marks the cells that a merged area hides: all but its first.
fn mark_merged(rows: &mut [SheetRow], area: &Dimensions) {
    let name = format!("{}:{}", cell_name(area.start), cell_name(area.end));
    let (top, left) = (area.start.0 as usize + 1, area.start.1 as usize);
    let (bottom, right) = (area.end.0 as usize + 1, (area.end.1 as usize).min(MAX_COLUMNS - 1));
    let first = rows.partition_point(|row| row.row < top);
    for row in rows[first..].iter_mut().take_while(|row| row.row <= bottom) {
        for column in left..=right {
            if (row.row, column) != (top, left) {
                put(&mut row.cells, column, SheetCell::Merged(name.clone()));
            }
        }
    }
}

/// The name of a cell, such as `B7`, from row and column counted from 0.
fn cell_name((row, column): (u32, u32)) -> String {
    let mut letters = Vec::new();
    let mut rest = u64::from(column) + 1;
    while rest > 0 {
        letters.push(char::from(b'A' + ((rest - 1) % 26) as u8));
        rest = (rest - 1) / 26;
    }
    let letters: String = letters.iter().rev().collect();
    format!("{letters}{}", u64::from(row) + 1)
}

fn read_ods(file: &str, bytes: &[u8], asked: Option<&str>, warnings: &mut Findings) -> Result<Chosen, Fault> {
    let content = ods_content(bytes).ok_or(Fault::Damaged)?;
    if !content.trim_end().ends_with("</office:document-content>") {
        return Err(Fault::Damaged);
    }
    if has_merged_cells(&content) {
        warnings.warning(
            "merged-cells",
            Place::File(file.to_owned()),
            "some cells are merged; only the first cell of each holds a value, the rest read as blank",
            "undo the merging below the headings and fill in every row",
        );
    }
    drop(content);
    let mut book = Ods::new(Cursor::new(bytes)).map_err(|fault| match fault {
        calamine::OdsError::Password => Fault::Password,
        calamine::OdsError::CellLimitExceeded { .. } => Fault::TooLarge,
        _ => Fault::Damaged,
    })?;
    let mut filled = Vec::new();
    let mut chosen = None;
    for name in candidates(book.sheets_metadata(), asked)? {
        let range = book.worksheet_range(&name).map_err(|_| Fault::Damaged)?;
        if range.used_cells().next().is_none() {
            continue;
        }
        match chosen {
            None => chosen = Some((name, range)),
            Some(_) => filled.push(name),
        }
    }
    let Some((name, range)) = chosen else { return Err(Fault::Empty) };
    let rows = ods_rows(&name, &range)?;
    Ok((name, rows, filled))
}

fn ods_content(bytes: &[u8]) -> Option<String> {
    let mut archive = zip::ZipArchive::new(Cursor::new(bytes)).ok()?;
    let mut content = String::new();
    archive.by_name("content.xml").ok()?.take(MAX_UNPACKED).read_to_string(&mut content).ok()?;
    Some(content)
}

fn has_merged_cells(content: &str) -> bool {
    ["number-rows-spanned=\"", "number-columns-spanned=\""]
        .into_iter()
        .any(|attribute| content.split(attribute).skip(1).any(|rest| !rest.starts_with("1\"")))
}

fn ods_rows(name: &str, range: &calamine::Range<Data>) -> Result<Vec<SheetRow>, Fault> {
    let (top, left) = range.start().unwrap_or((0, 0));
    let mut rows = Vec::new();
    for (offset, values) in range.rows().enumerate() {
        let row = top as usize + offset + 1;
        let mut cells = Vec::new();
        for (column, value) in values.iter().enumerate() {
            let value = to_cell(value.clone());
            if value == SheetCell::Blank {
                continue;
            }
            let column = left as usize + column;
            if column >= MAX_COLUMNS {
                return Err(Fault::TooWide { sheet: name.to_owned(), row });
            }
            put(&mut cells, column, value);
        }
        if !cells.is_empty() {
            rows.push(SheetRow { row, cells });
        }
    }
    Ok(rows)
}
