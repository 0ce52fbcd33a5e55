//! Days as people write them. An ambiguous day is a fault that shows both readings, never a guess.

use crate::model::day::{DateOrder, in_words};
use chrono::{Datelike, NaiveDate};

/// Why a text is no day.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum DateFault {
    /// Two days fit.
    Ambiguous { day_first: NaiveDate, month_first: NaiveDate },
    /// The month or day does not exist in the order that was asked for; the other order would do.
    OtherOrder { asked: DateOrder, other: NaiveDate },
    /// No such day in the calendar.
    NoSuchDay,
    /// A year with two figures, without an order that says where it stands.
    ShortYear,
    /// Not year, month, day, though that was asked for.
    NotIso,
    /// Before 1950 or after 2100.
    FarOff(NaiveDate),
    /// A bare number: a spreadsheet's serial number, perhaps.
    Serial(Option<NaiveDate>),
    /// Nothing like a day.
    NotADate,
}

/// Years that a record can bear; anything else is a slip of the keys.
const YEARS: std::ops::RangeInclusive<i32> = 1950..=2100;
const MONTHS: [&str; 12] =
    ["jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"];

impl DateFault {
    /// What is wrong, and what would be right.
    pub(super) fn say(self, written: &str) -> (String, String) {
        let iso = "write the year first, as in 2026-03-14".to_owned();
        match self {
            DateFault::Ambiguous { day_first, month_first } => (
                format!("`{written}` is {} or {}", in_words(day_first), in_words(month_first)),
                "say --dates dmy (day first) or --dates mdy (month first), in a walk record `dates: dmy` or \
                 `dates: mdy`, or write 2026-03-14"
                    .to_owned(),
            ),
            DateFault::OtherOrder { asked, other } => {
                let (asked, fits) = match asked {
                    DateOrder::Mdy => ("mdy", "dmy"),
                    _ => ("dmy", "mdy"),
                };
                (
                    format!("`{written}` is no day with --dates {asked}"),
                    format!(
                        "with --dates {fits} it is {}; one order must fit the whole file",
                        in_words(other)
                    ),
                )
            }
            DateFault::NoSuchDay => (format!("`{written}` is not in the calendar"), iso),
            DateFault::ShortYear => (
                format!("`{written}` has no year of four figures"),
                "write the year in full, or say --dates dmy or --dates mdy".to_owned(),
            ),
            DateFault::NotIso => (format!("`{written}` is not written year first"), iso),
            DateFault::FarOff(day) => {
                (format!("`{written}` is {}, which can't be right", in_words(day)), iso)
            }
            DateFault::Serial(Some(day)) => (
                format!("`{written}` is a bare number, not a day"),
                format!("if it is a spreadsheet's {}, give the column a date format", in_words(day)),
            ),
            DateFault::Serial(None) => (format!("`{written}` is a bare number, not a day"), iso),
            DateFault::NotADate => (format!("`{written}` is not a day"), iso),
        }
    }
}

/// Reads a day. `order` is what the user said of the file, if anything.
pub(super) fn parse_date(text: &[u8], order: Option<DateOrder>) -> Result<NaiveDate, DateFault> {
    if let [y1, y2, y3, y4, b'-', m1, m2, b'-', d1, d2] = *text
        && let (Some(year), Some(month), Some(day)) =
            (number(&[y1, y2, y3, y4]), number(&[m1, m2]), number(&[d1, d2]))
    {
        return calendar(year, month, day);
    }
    let text = std::str::from_utf8(text).map_err(|_| DateFault::NotADate)?.trim();
    if let (8, Some(year), Some(rest)) = (text.len(), text.get(..4), text.get(4..))
        && let (Some(year), Some(rest)) = (number(year.as_bytes()), number(rest.as_bytes()))
    {
        return calendar(year, rest / 100, rest % 100);
    }
    let parts = Parts::split(text).ok_or_else(|| bare_number(text))?;
    parts.resolve(order)
}

/// The day of a spreadsheet's serial number (days since 30 December 1899).
pub(super) fn serial_date(serial: f64) -> Option<NaiveDate> {
    // Below 61 lies the day that one spreadsheet program invented, 29 February 1900.
    if !(61.0..2_958_466.0).contains(&serial) {
        return None;
    }
    NaiveDate::from_ymd_opt(1899, 12, 30)?.checked_add_days(chrono::Days::new(serial as u64))
}

fn bare_number(text: &str) -> DateFault {
    match text.parse::<f64>() {
        Ok(serial) => DateFault::Serial(serial_date(serial).filter(|day| YEARS.contains(&day.year()))),
        Err(_) => DateFault::NotADate,
    }
}

fn number(digits: &[u8]) -> Option<u32> {
    if digits.is_empty() || digits.len() > 4 {
        return None;
    }
    digits.iter().try_fold(0, |sum, byte| byte.is_ascii_digit().then(|| sum * 10 + u32::from(byte - b'0')))
}

fn calendar(year: u32, month: u32, day: u32) -> Result<NaiveDate, DateFault> {
    let date = i32::try_from(year)
        .ok()
        .and_then(|year| NaiveDate::from_ymd_opt(year, month, day))
        .ok_or(DateFault::NoSuchDay)?;
    if YEARS.contains(&date.year()) { Ok(date) } else { Err(DateFault::FarOff(date)) }
}

/// The three parts of a day, before their order is known.
enum Parts {
    YearFirst { year: u32, month: u32, day: u32 },
    NamedMonth { year: u32, short: bool, month: u32, day: u32 },
    YearLast { first: u32, second: u32, year: u32, short: bool },
}

impl Parts {
    fn split(text: &str) -> Option<Parts> {
        let day = without_time(text);
        let words: Vec<&str> =
            day.split(['-', '/', '.', ' ', ',']).filter(|word| !word.is_empty()).take(4).collect();
        let [first, second, third] = words[..] else { return None };
        let figures = |word: &str| number(word.as_bytes());
        if let (Some(month), Some(year)) = (month_name(second), figures(third)) {
            return Some(Parts::NamedMonth { year, short: third.len() <= 2, month, day: figures(first)? });
        }
        if let (Some(month), Some(year)) = (month_name(first), figures(third)) {
            return Some(Parts::NamedMonth { year, short: third.len() <= 2, month, day: figures(second)? });
        }
        let (first_value, second_value, third_value) = (figures(first)?, figures(second)?, figures(third)?);
        if first.len() == 4 {
            return Some(Parts::YearFirst { year: first_value, month: second_value, day: third_value });
        }
        let short = third.len() <= 2;
        Some(Parts::YearLast { first: first_value, second: second_value, year: third_value, short })
    }

    fn resolve(self, order: Option<DateOrder>) -> Result<NaiveDate, DateFault> {
        let full = |year: u32, short: bool| if short { year + 2000 } else { year };
        match self {
            Parts::YearFirst { year, month, day } => calendar(year, month, day),
            _ if order == Some(DateOrder::Iso) => Err(DateFault::NotIso),
            Parts::NamedMonth { short: true, .. } | Parts::YearLast { short: true, .. }
                if order.is_none() =>
            {
                Err(DateFault::ShortYear)
            }
            Parts::NamedMonth { year, short, month, day } => calendar(full(year, short), month, day),
            Parts::YearLast { first, second, year, short } => {
                let year = full(year, short);
                either(calendar(year, second, first), calendar(year, first, second), order)
            }
        }
    }
}

fn either(
    day_first: Result<NaiveDate, DateFault>,
    month_first: Result<NaiveDate, DateFault>,
    order: Option<DateOrder>,
) -> Result<NaiveDate, DateFault> {
    let asked = match order {
        Some(DateOrder::Dmy) => Some((DateOrder::Dmy, day_first, month_first)),
        Some(DateOrder::Mdy) => Some((DateOrder::Mdy, month_first, day_first)),
        _ => None,
    };
    if let Some((asked, wanted, other)) = asked {
        return match (wanted, other) {
            (Err(DateFault::NoSuchDay), Ok(other)) => Err(DateFault::OtherOrder { asked, other }),
            (wanted, _) => wanted,
        };
    }
    match (day_first, month_first) {
        (Ok(day_first), Ok(month_first)) if day_first != month_first => {
            Err(DateFault::Ambiguous { day_first, month_first })
        }
        (Ok(day), _) | (_, Ok(day)) => Ok(day),
        (fault, _) => fault,
    }
}

/// The part before a time of day (`2026-03-14T06:30`, `14/03/2026 06:30`).
fn without_time(text: &str) -> &str {
    let end = text.find(':').and_then(|colon| text[..colon].rfind([' ', 'T'])).unwrap_or(text.len());
    text[..end].trim_end()
}

fn month_name(word: &str) -> Option<u32> {
    let word = word.to_lowercase();
    let at = MONTHS.iter().position(|name| word.starts_with(name))?;
    Some(at as u32 + 1)
}
