//! Which days of records are compared: the same months before and after, where the records allow it.
//!
//! Lameness has seasons, so a wet spring against a dry summer says nothing of what was done between.
//! Two periods are alike where both are whole years, or where they run from the same day of the year
//! to the same day. Else, where the day of every case is known, only whole calendar months that both
//! periods hold are compared, the same number of each; else the reason stands instead of a match.

use super::Visit;
use crate::model::walk::Records;
use chrono::{Datelike, Months, NaiveDate};

/// What one side counts.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Side {
    /// New cases.
    pub cases: u64,
    /// Cow-years, above 0.
    pub cow_years: f64,
    /// Days compared.
    pub days: i64,
}

/// How the seasons of the two sides match.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Season {
    /// The whole periods are alike.
    WholePeriods,
    /// Only these months (1 to 12) were compared.
    SameMonths(Vec<u32>),
    /// They don't, and the day of every case is not known on both sides.
    NoCaseDays,
    /// They don't: the two periods have no whole calendar month in common.
    NoMonthInCommon,
}

impl Season {
    /// Whether the same seasons are compared.
    pub fn is_matched(&self) -> bool {
        matches!(self, Season::WholePeriods | Season::SameMonths(_))
    }
}

/// The two sides.
#[derive(Clone, Debug, PartialEq)]
pub struct Compared {
    /// The first period.
    pub before: Side,
    /// The last.
    pub after: Side,
    /// How their seasons match.
    pub season: Season,
    /// The days compared of the last period: first day, and the day after the last.
    pub days_after: Vec<(NaiveDate, NaiveDate)>,
}

/// Why there are no rates to compare.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NoRates {
    /// A side has no records with cases counted.
    NoRecords {
        /// The first walk has none.
        before: bool,
        /// The last has none.
        after: bool,
    },
    /// The two periods share days, so that cases would be counted on both sides.
    Overlap {
        /// First day in both.
        from: NaiveDate,
        /// Last day in both.
        to: NaiveDate,
    },
    /// The later walk's records are the earlier ones.
    Reversed,
    /// No case on either side.
    NoCases,
    /// The counts are too large to be reckoned with.
    NotReckoned,
}

/// A calendar month.
type Month = (i32, u32);

/// The whole period of a walk's records; `None` where cases are not counted.
pub fn whole(visit: &Visit) -> Option<Side> {
    let records = visit.prepared.walk.records.as_ref()?;
    let in_period = |days: &[NaiveDate]| {
        days.iter().filter(|day| (records.from..=records.to).contains(day)).count() as u64
    };
    let cases = visit.case_days.map(in_period).or(records.counts.map(|counts| counts.total()))?;
    Some(Side { cases, cow_years: records.cow_years(), days: records.days() })
}

/// The two sides, as alike as the records allow.
///
/// # Errors
/// [`NoRates`] where there is nothing to compare.
pub fn compare(before: &Visit, after: &Visit) -> Result<Compared, NoRates> {
    let sides = (whole(before), whole(after));
    let (Some(first), Some(last)) = sides else {
        return Err(NoRates::NoRecords { before: sides.0.is_none(), after: sides.1.is_none() });
    };
    let records = (&before.prepared.walk.records, &after.prepared.walk.records);
    let (Some(earlier), Some(later)) = records else {
        return Err(NoRates::NoRecords { before: records.0.is_none(), after: records.1.is_none() });
    };
    let (from, to) = (earlier.from.max(later.from), earlier.to.min(later.to));
    if from <= to {
        return Err(NoRates::Overlap { from, to });
    }
    if later.from < earlier.from {
        return Err(NoRates::Reversed);
    }
    let compared = compare_months(earlier, later, first, last, (before.case_days, after.case_days));
    match compared.before.cases == 0 && compared.after.cases == 0 {
        true => Err(NoRates::NoCases),
        false => Ok(compared),
    }
}

fn compare_months(
    earlier: &Records,
    later: &Records,
    before: Side,
    after: Side,
    case_days: (Option<&[NaiveDate]>, Option<&[NaiveDate]>),
) -> Compared {
    let all_days = vec![(later.from, end(later))];
    let as_they_stand = |season| Compared { before, after, season, days_after: all_days.clone() };
    if alike(earlier, later) {
        return as_they_stand(Season::WholePeriods);
    }
    let (Some(days_before), Some(days_after)) = case_days else { return as_they_stand(Season::NoCaseDays) };
    let (months_before, months_after) = same_months(&full_months(earlier), &full_months(later));
    if months_before.is_empty() {
        return as_they_stand(Season::NoMonthInCommon);
    }
    let mut names: Vec<u32> = months_before.iter().map(|(_, month)| *month).collect();
    names.sort_unstable();
    names.dedup();
    Compared {
        before: of_months(earlier, &months_before, days_before),
        after: of_months(later, &months_after, days_after),
        season: Season::SameMonths(names),
        days_after: months_after.iter().filter_map(|month| days_of(*month)).collect(),
    }
}

/// The day after the last.
fn end(records: &Records) -> NaiveDate {
    records.to.succ_opt().unwrap_or(records.to)
}

/// Whether two periods hold every season in the same parts without leaving anything out.
fn alike(earlier: &Records, later: &Records) -> bool {
    let whole_years = |records: &Records| {
        let years = end(records).year() - records.from.year();
        let months = u32::try_from(12 * years).unwrap_or(0);
        years > 0 && records.from.checked_add_months(Months::new(months)) == Some(end(records))
    };
    let day = |date: NaiveDate| (date.month(), date.day());
    let same_days = day(earlier.from) == day(later.from)
        && day(end(earlier)) == day(end(later))
        && end(earlier).year() - earlier.from.year() == end(later).year() - later.from.year();
    same_days || whole_years(earlier) && whole_years(later)
}

/// Calendar months that lie wholly in a period, in order.
fn full_months(records: &Records) -> Vec<Month> {
    let mut months = Vec::new();
    let first = records.from.with_day(1).unwrap_or(records.from);
    let mut start =
        if first == records.from { Some(first) } else { first.checked_add_months(Months::new(1)) };
    while let Some(next) = start.and_then(|start| start.checked_add_months(Months::new(1))) {
        if next > end(records) {
            break;
        }
        months.extend(start.map(|start| (start.year(), start.month())));
        start = Some(next);
    }
    months
}

/// The months of each side that both sides hold in the same parts: all of them where one side holds
/// every month the same number of times as often as the other, else the same number of each, the
/// latest ones.
fn same_months(before: &[Month], after: &[Month]) -> (Vec<Month>, Vec<Month>) {
    let count = |months: &[Month], month: u32| months.iter().filter(|(_, it)| *it == month).count();
    let counts: Vec<(u32, usize, usize)> = (1..=12)
        .map(|month| (month, count(before, month), count(after, month)))
        .filter(|(_, before, after)| *before > 0 && *after > 0)
        .collect();
    let Some((_, first_before, first_after)) = counts.first().copied() else { return Default::default() };
    let proportional = counts.iter().all(|(_, b, a)| b * first_after == a * first_before);
    let pick = |months: &[Month]| {
        let mut picked = Vec::new();
        for (month, before, after) in &counts {
            let of_month: Vec<Month> = months.iter().copied().filter(|(_, it)| it == month).collect();
            let keep = if proportional { of_month.len() } else { *before.min(after) };
            picked.extend(&of_month[of_month.len().saturating_sub(keep)..]);
        }
        picked.sort_unstable();
        picked
    };
    (pick(before), pick(after))
}

/// First day of a month, and that of the next.
fn days_of((year, month): Month) -> Option<(NaiveDate, NaiveDate)> {
    let start = NaiveDate::from_ymd_opt(year, month, 1)?;
    Some((start, start.checked_add_months(Months::new(1))?))
}

fn of_months(records: &Records, months: &[Month], case_days: &[NaiveDate]) -> Side {
    let length = |month: &Month| days_of(*month).map_or(0, |(start, next)| (next - start).num_days());
    let days: i64 = months.iter().map(length).sum();
    let inside = |day: &&NaiveDate| months.binary_search(&(day.year(), day.month())).is_ok();
    Side {
        cases: case_days.iter().filter(inside).count() as u64,
        cow_years: records.average_cows * days as f64 / 365.25,
        days,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn records(from: &str, to: &str) -> Records {
        let (from, to) = (from.parse().unwrap(), to.parse().unwrap());
        Records { from, to, average_cows: 100.0, seen_by: Vec::new(), counts: None }
    }

    #[test]
    fn whole_years_and_the_same_days_of_the_year_are_alike() {
        let year = records("2024-10-07", "2025-10-06");
        assert!(alike(&year, &records("2026-01-01", "2026-12-31")));
        assert!(alike(&year, &records("2026-01-01", "2027-12-31")));
        assert!(!alike(&year, &records("2026-01-01", "2026-12-30")));
        let spring = records("2024-02-01", "2024-02-29");
        assert!(alike(&spring, &records("2025-02-01", "2025-02-28")));
        assert!(!alike(&spring, &records("2025-02-01", "2026-02-28")));
        assert!(!alike(&records("2025-01-01", "2025-06-30"), &records("2025-07-01", "2025-12-31")));
    }

    #[test]
    fn only_whole_months_count() {
        let months = full_months(&records("2025-01-02", "2025-04-30"));
        assert_eq!(months, [(2025, 2), (2025, 3), (2025, 4)]);
        assert_eq!(full_months(&records("2025-01-02", "2025-02-27")), []);
        assert_eq!(full_months(&records("2025-12-01", "2026-01-31")), [(2025, 12), (2026, 1)]);
    }

    #[test]
    fn months_are_compared_in_the_same_parts() {
        let two_years = full_months(&records("2023-01-01", "2024-12-31"));
        let half = full_months(&records("2025-03-01", "2025-08-31"));
        let (before, after) = same_months(&two_years, &half);
        assert_eq!((before.len(), after.len()), (12, 6), "twice as often is still the same parts");
        let eighteen = full_months(&records("2023-07-01", "2024-12-31"));
        let year = full_months(&records("2025-01-01", "2025-12-31"));
        let (before, after) = same_months(&eighteen, &year);
        assert_eq!((before.len(), after.len()), (12, 12));
        assert!(before.iter().all(|(year, _)| *year == 2024), "the latest of each month");
        assert_eq!(same_months(&[(2024, 1)], &[(2025, 2)]), (vec![], vec![]));
    }
}
