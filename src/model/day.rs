//! Days and months in words.

use chrono::{Datelike, Month, NaiveDate};

/// The name of a month, from 1 to 12.
pub fn month_name(month: u32) -> Option<&'static str> {
    Some(Month::try_from(u8::try_from(month).ok()?).ok()?.name())
}

/// A day in words: "7 October 2025".
pub fn in_words(day: NaiveDate) -> String {
    format!("{} {} {}", day.day(), month_name(day.month()).unwrap_or_default(), day.year())
}
