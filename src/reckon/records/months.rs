//! Cases month by month, with limits for what luck alone does.
//!
//! Limits are the 0.135 % and 99.865 % points of the Poisson distribution round the farm's own mean
//! (a u chart with probability limits; Montgomery, Introduction to Statistical Quality Control,
//! chapter 7), over the cow-months at risk, so that a month that is covered in part has wider limits. A run
//! of eight or more months on one side of the mean signals too, where chance alone makes so many fall
//! on that side less than once in a hundred times: with few cases most months lie below the mean anyhow.

use super::Period;
use crate::reckon::stats::discrete::{poisson_cdf, poisson_sf};
use crate::reckon::stats::interval::chart_limits;
use chrono::{Datelike, NaiveDate};

/// Mean length of a month, days.
pub const DAYS_PER_MONTH: f64 = 365.25 / 12.0;
const RUN: usize = 8;
/// A run is a signal where chance makes it rarer than this (judged).
const RUN_CHANCE: f64 = 0.01;

/// Why a month stands out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Signal {
    /// More cases than the upper limit.
    Above,
    /// Fewer cases than the lower limit.
    Below,
    /// The eighth month or later in a run above the mean.
    RunAbove,
    /// The eighth month or later in a run below the mean.
    RunBelow,
}

impl Signal {
    /// The id in results.
    pub fn id(self) -> &'static str {
        match self {
            Signal::Above => "above",
            Signal::Below => "below",
            Signal::RunAbove => "run-above",
            Signal::RunBelow => "run-below",
        }
    }
}

/// One calendar month, or the part of it that the period covers.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Month {
    /// Its first day that is covered.
    pub from: NaiveDate,
    /// Days covered.
    pub days: u32,
    /// Cases that began in it.
    pub cases: u64,
    /// Cow-months at risk: cows × days / 30.4375.
    pub cow_months: f64,
    /// Cases per 100 cow-months.
    pub per_100_cow_months: f64,
    /// Lower and upper limit, cases per 100 cow-months; `None` where there are too few cases.
    pub limits_per_100_cow_months: Option<(f64, f64)>,
    /// What stands out, if anything.
    pub signal: Option<Signal>,
}

/// The months of a period. `starts` are the days on which cases began, all within the period.
/// Limits and signals are left out unless `with_signals`.
pub(super) fn months(
    starts: impl Iterator<Item = NaiveDate>,
    cows: f64,
    period: Period,
    with_signals: bool,
) -> Vec<Month> {
    let mut months = empty_months(cows, period);
    let first = month_number(period.from);
    for start in starts {
        if let Some(month) = months.get_mut((month_number(start) - first).max(0) as usize) {
            month.cases += 1;
        }
    }
    let cases: u64 = months.iter().map(|month| month.cases).sum();
    let cow_months: f64 = months.iter().map(|month| month.cow_months).sum();
    for month in &mut months {
        month.per_100_cow_months = 100.0 * month.cases as f64 / month.cow_months;
    }
    if with_signals && cow_months > 0.0 {
        let mean = cases as f64 / cow_months;
        months.iter_mut().for_each(|month| set_limits(month, mean));
        mark_runs(&mut months, mean);
    }
    months
}

fn month_number(day: NaiveDate) -> i32 {
    day.year() * 12 + day.month0() as i32
}

fn empty_months(cows: f64, period: Period) -> Vec<Month> {
    let mut months = Vec::new();
    let mut from = period.from;
    while from <= period.to {
        let (year, month0) = (from.year(), from.month0());
        let next = if month0 == 11 { (year + 1, 1) } else { (year, month0 + 2) };
        let Some(next) = NaiveDate::from_ymd_opt(next.0, next.1, 1) else { break };
        let end = next.pred_opt().map_or(period.to, |last| last.min(period.to));
        let days = (end - from).num_days() as u32 + 1;
        months.push(Month {
            from,
            days,
            cases: 0,
            cow_months: cows * f64::from(days) / DAYS_PER_MONTH,
            per_100_cow_months: 0.0,
            limits_per_100_cow_months: None,
            signal: None,
        });
        from = next;
    }
    months
}

fn set_limits(month: &mut Month, cases_per_cow_month: f64) {
    let expected = cases_per_cow_month * month.cow_months;
    let Some((lower, upper)) = chart_limits(expected) else { return };
    let rate = |count: u64| 100.0 * count as f64 / month.cow_months;
    month.limits_per_100_cow_months = Some((rate(lower), rate(upper)));
    month.signal = match month.cases {
        cases if cases > upper => Some(Signal::Above),
        cases if cases < lower => Some(Signal::Below),
        _ => None,
    };
}

fn mark_runs(months: &mut [Month], cases_per_cow_month: f64) {
    let mut side = std::cmp::Ordering::Equal;
    let (mut length, mut chance) = (0, 1.0);
    for month in months {
        let expected = cases_per_cow_month * month.cow_months;
        let now = (month.cases as f64).total_cmp(&expected);
        if now != side {
            (side, length, chance) = (now, 0, 1.0);
        }
        length += 1;
        chance *= match now {
            std::cmp::Ordering::Greater => poisson_sf(expected as u64, expected),
            std::cmp::Ordering::Less if expected.fract() == 0.0 => poisson_cdf(expected as u64 - 1, expected),
            std::cmp::Ordering::Less => poisson_cdf(expected as u64, expected),
            std::cmp::Ordering::Equal => 1.0,
        };
        if length < RUN || chance >= RUN_CHANCE || month.signal.is_some() {
            continue;
        }
        month.signal = match now {
            std::cmp::Ordering::Greater => Some(Signal::RunAbove),
            std::cmp::Ordering::Less => Some(Signal::RunBelow),
            std::cmp::Ordering::Equal => None,
        };
    }
}
