//! A workbook as the bytes of an XLSX file, the same bytes for the same workbook on every machine.
//!
//! Text is written as text, whatever sign it starts with: none of it can become a formula, not even
//! when somebody edits its cell, for such cells carry the mark of quoted text too.

use crate::report::workbook::{Cell, Column, Kind, Sheet, Workbook};
use rust_xlsxwriter::{
    DocProperties, ExcelDateTime, Format, FormatAlign, FormatBorder, Workbook as File, Worksheet, XlsxError,
};

/// Characters that a cell can hold, less some for marks that are written as several.
const LONGEST: usize = 32_000;
/// Width of a column of numbers, in characters.
const NUMBER_WIDTH: f64 = 12.0;
/// Characters of the title at the head of a printed page; the format allows 255.
const HEAD: usize = 100;
/// The format's code for A4.
const A4: u8 = 9;

/// The file's bytes.
///
/// # Errors
/// The writer's own, a fault of the program.
pub fn bytes(workbook: &Workbook) -> Result<Vec<u8>, XlsxError> {
    let mut file = File::new();
    // Without a date of ours the file would bear the time it was written at.
    let (year, month, day) = workbook.day();
    let date = ExcelDateTime::from_ymd(year, month, day)?;
    let properties = DocProperties::new().set_title(plain(&workbook.title)).set_creation_datetime(&date);
    file.set_properties(&properties);
    for sheet in &workbook.sheets {
        write_sheet(file.add_worksheet(), sheet, &workbook.title)?;
    }
    file.save_to_buffer()
}

fn write_sheet(page: &mut Worksheet, sheet: &Sheet, title: &str) -> Result<(), XlsxError> {
    page.set_name(&sheet.name)?;
    let heading = Format::new()
        .set_bold()
        .set_text_wrap()
        .set_align(FormatAlign::Top)
        .set_border_bottom(FormatBorder::Thin);
    for (at, column) in (0u16..).zip(&sheet.columns) {
        page.write_string_with_format(0, at, plain(&column.heading), &heading)?;
        page.set_column_width(at, width(column.kind))?;
    }
    let formats: Vec<Formats> = sheet.columns.iter().map(Formats::of).collect();
    for (line, row) in (1u32..).zip(&sheet.rows) {
        for ((at, cell), formats) in (0u16..).zip(row).zip(&formats) {
            write_cell(page, (line, at), cell, formats)?;
        }
    }
    page.set_freeze_panes(1, sheet.fixed)?;
    if let (Some(last), true) = (sheet.columns.len().checked_sub(1), sheet.fixed > 0) {
        page.autofilter(0, 0, sheet.rows.len() as u32, last as u16)?;
    }
    print_layout(page, title)
}

fn print_layout(page: &mut Worksheet, title: &str) -> Result<(), XlsxError> {
    let title: String = plain(title).chars().take(HEAD).collect();
    page.set_landscape()
        .set_paper_size(A4)
        .set_print_fit_to_pages(1, 0)
        .set_header(format!("&L{}&R&A", title.replace('&', "&&")))
        .set_footer("&R&P / &N")
        .set_repeat_rows(0, 0)?;
    Ok(())
}

fn write_cell(
    page: &mut Worksheet,
    (line, column): (u32, u16),
    cell: &Cell,
    formats: &Formats,
) -> Result<(), XlsxError> {
    match cell {
        Cell::Empty => {}
        Cell::Number(number) => {
            page.write_number_with_format(line, column, *number, &formats.plain)?;
        }
        Cell::Text(text) => {
            let text = plain(text);
            let format = if starts_a_formula(&text) { &formats.quoted } else { &formats.plain };
            page.write_string_with_format(line, column, text, format)?;
        }
    }
    Ok(())
}

/// Whether a spreadsheet that takes the text for typed input would make a formula of it.
fn starts_a_formula(text: &str) -> bool {
    text.trim_start().starts_with(['=', '+', '-', '@'])
}

/// Text without control characters, and no longer than a cell.
fn plain(text: &str) -> String {
    text.chars().map(|c| if super::printable(c) { c } else { ' ' }).take(LONGEST).collect()
}

fn width(kind: Kind) -> f64 {
    match kind {
        Kind::Text(characters) => f64::from(characters),
        _ => NUMBER_WIDTH,
    }
}

/// The formats of one column's cells.
struct Formats {
    plain: Format,
    quoted: Format,
}

impl Formats {
    fn of(column: &Column) -> Formats {
        let top = Format::new().set_align(FormatAlign::Top);
        let plain = match column.kind {
            Kind::Text(_) => top.set_text_wrap(),
            Kind::Whole | Kind::Money => top.set_num_format("#,##0"),
            Kind::Decimals(places) => top.set_num_format(format!("0.{:0<1$}", "", usize::from(places))),
            Kind::Percent => top.set_num_format("0%"),
        };
        Formats { quoted: plain.clone().set_quote_prefix(), plain }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use calamine::{Data, Reader, Xlsx};

    fn workbook(text: &str) -> Workbook {
        Workbook {
            title: format!("A & B {text}"),
            date: chrono::NaiveDate::from_ymd_opt(2025, 10, 7).expect("a day"),
            sheets: vec![Sheet {
                name: "Ranked list".to_owned(),
                fixed: 1,
                columns: vec![
                    Column { heading: "What".to_owned(), kind: Kind::Text(20) },
                    Column { heading: "Spent once (EUR): mean".to_owned(), kind: Kind::Money },
                ],
                rows: vec![
                    vec![Cell::Text(text.to_owned()), Cell::Number(-1234.5678)],
                    vec![Cell::Text("b".to_owned()), Cell::Empty],
                ],
            }],
        }
    }

    /// calamine reads a formula's text with `worksheet_formula`, and text as [`Data::String`].
    #[test]
    fn text_stays_text_and_numbers_keep_every_digit() {
        let texts =
            ["=1+1", "+1", "-1", "@SUM(A1)", "=HYPERLINK(\"http://evil.example\")", "_x0041_", "a\u{1b}[31m"];
        for text in texts {
            let bytes = bytes(&workbook(text)).expect("a file");
            let mut file: Xlsx<_> = Xlsx::new(std::io::Cursor::new(bytes)).expect("a workbook");
            let range = file.worksheet_range("Ranked list").expect("the sheet");
            assert_eq!(range.get_value((1, 0)), Some(&Data::String(text.replace('\u{1b}', " "))));
            assert_eq!(range.get_value((1, 1)), Some(&Data::Float(-1234.5678)));
            let empty = range.get_value((2, 1)).is_none_or(|cell| *cell == Data::Empty);
            assert!(empty, "{text}");
            assert!(file.worksheet_formula("Ranked list").expect("the sheet").is_empty(), "{text}");
        }
    }

    #[test]
    fn the_same_workbook_is_the_same_bytes() {
        assert_eq!(bytes(&workbook("a")).expect("a file"), bytes(&workbook("a")).expect("a file"));
    }
}
