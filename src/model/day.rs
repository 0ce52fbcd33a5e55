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

/// The order in which a file writes its days.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DateOrder {
    /// Year, month, day only.
    Iso,
    /// Day first.
    Dmy,
    /// Month first.
    Mdy,
}

impl DateOrder {
    /// Every order.
    pub const ALL: [DateOrder; 3] = [DateOrder::Iso, DateOrder::Dmy, DateOrder::Mdy];

    /// The id in files and on the command line.
    pub fn id(self) -> &'static str {
        match self {
            DateOrder::Iso => "iso",
            DateOrder::Dmy => "dmy",
            DateOrder::Mdy => "mdy",
        }
    }

    /// The order with this id.
    pub fn from_id(id: &str) -> Option<DateOrder> {
        DateOrder::ALL.into_iter().find(|order| order.id() == id)
    }
}
