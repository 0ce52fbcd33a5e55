//! Dates: ISO 8601, year-month-day, and nothing else.

use crate::model::day::month_name;
use chrono::NaiveDate;

/// Reads `YYYY-MM-DD`.
///
/// # Errors
/// What is wrong, ending the sentence "`date` is `2026-02-30`: …", and what would be right.
pub(crate) fn read(raw: &str) -> Result<NaiveDate, (String, &'static str)> {
    let help = "write the year, the month and the day, such as 2026-03-14";
    let (year, month, day) =
        parts(raw).ok_or_else(|| ("it is not a date written as year-month-day".to_owned(), help))?;
    if !(1900..=2199).contains(&year) {
        return Err((format!("the year {year} is not between 1900 and 2199"), help));
    }
    let Some(name) = month_name(month) else {
        return Err((format!("there is no month {month:02}"), help));
    };
    let days = (28..=31).rev().find(|day| NaiveDate::from_ymd_opt(year, month, *day).is_some()).unwrap_or(28);
    NaiveDate::from_ymd_opt(year, month, day).ok_or_else(|| (format!("{name} {year} has {days} days"), help))
}

fn parts(raw: &str) -> Option<(i32, u32, u32)> {
    let shape = raw.len() == 10
        && raw
            .bytes()
            .enumerate()
            .all(|(at, byte)| if at == 4 || at == 7 { byte == b'-' } else { byte.is_ascii_digit() });
    if !shape {
        return None;
    }
    Some((raw.get(..4)?.parse().ok()?, raw.get(5..7)?.parse().ok()?, raw.get(8..)?.parse().ok()?))
}

#[cfg(test)]
mod tests {
    use super::read;

    #[test]
    fn dates_that_exist_are_read_and_others_explained() {
        assert!(read("2024-02-29").is_ok());
        let faults =
            ["2026-02-30", "2025-02-29", "2026-13-01", "2026-00-10", "2026-4-1", "14/03/2026", "0026-01-01"]
                .map(|raw| {
                    format!("{raw}: {}", read(raw).map_or_else(|fault| fault.0, |date| date.to_string()))
                });
        insta::assert_snapshot!(faults.join("\n"));
    }
}
