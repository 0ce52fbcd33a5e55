//! What the farm's case records say: rate, lesions, months, feet, and who saw it.
//!
//! - Rate: cases per 100 cow-years with the exact Poisson interval (Garwood 1936, Biometrika 28:437).
//! - Lesions: shares of the cases with a recorded lesion, with simultaneous multinomial intervals
//!   (Goodman 1965, Technometrics 7:247) over the lesions that occur.
//! - [`repeats`] says which records are one case, [`months`] how months are judged.
//!
//! Intervals are 95 %. What few cases can't bear is left out, with the reason.

pub mod months;
pub mod repeats;

use crate::model::case_record::{Cases, Claw, Foot};
use crate::model::lesion::{Lesion, PerLesion};
use crate::model::walk::{CaseCounts, Observer, Records};
use crate::reckon::stats::interval;
use chrono::NaiveDate;
use months::Month;
use repeats::Case;

/// Level of every interval here.
pub const LEVEL: f64 = 0.95;
/// Days that chain records into one case where nothing else is said (the burden file's `repeat_days`).
pub const REPEAT_DAYS: i64 = 28;
/// Cases below which shares are not read as a pattern: no "most of it is ...", no limits round months, no
/// shares by observer, no quartiles (judged; the card withholds lesion shares below the same number).
pub const FEWEST_FOR_PATTERN: u64 = 10;
/// Share that the top lesions must make up.
const TOP_SHARE: f64 = 0.8;
const DAYS_PER_YEAR: f64 = 365.25;
/// Days within which a lame cow should be treated (handbook; common practice).
pub const PROMPT_DAYS: u32 = 2;

/// A period of whole days, both ends included.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Period {
    /// First day.
    pub from: NaiveDate,
    /// Last day.
    pub to: NaiveDate,
}

impl Period {
    /// Days covered.
    pub fn days(self) -> i64 {
        (self.to - self.from).num_days() + 1
    }

    fn holds(self, day: NaiveDate) -> bool {
        (self.from..=self.to).contains(&day)
    }
}

/// What a summary needs to know beside the records.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SummaryOptions {
    /// Average number of cows over the period, in milk or dry, above 0.
    pub cows: f64,
    /// First day; the first record's where it is not given.
    pub from: Option<NaiveDate>,
    /// Last day; the last record's where it is not given.
    pub to: Option<NaiveDate>,
    /// Days that chain records into one case.
    pub repeat_days: i64,
}

impl SummaryOptions {
    /// The period of the records, with 28 days between repeats.
    pub fn new(cows: f64) -> Self {
        SummaryOptions { cows, from: None, to: None, repeat_days: REPEAT_DAYS }
    }
}

/// Why there is no summary.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum NoSummary {
    /// The number of cows is not above 0.
    Cows(f64),
    /// There are no records, and no period was given.
    NoPeriod,
    /// The period ends before it begins.
    Backwards(Period),
}

/// Cases per 100 cow-years.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rate {
    /// Cases per 100 cow-years.
    pub per_100_cow_years: f64,
    /// Exact 95 % interval.
    pub interval: (f64, f64),
}

/// A lesion that occurs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LesionShare {
    /// The lesion.
    pub lesion: Lesion,
    /// Cases.
    pub cases: u64,
    /// Share of the cases with a recorded lesion.
    pub share: f64,
    /// Simultaneous 95 % interval of the share.
    pub interval: (f64, f64),
}

/// The fewest lesions that make up four fifths of the cases with a recorded lesion.
#[derive(Clone, Debug, PartialEq)]
pub struct TopLesions {
    /// The lesions, the most frequent first.
    pub lesions: Vec<Lesion>,
    /// What they make up.
    pub share: f64,
}

/// Cases of one foot.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct FootCount {
    /// The foot; `None` where it was not recorded.
    pub foot: Option<Foot>,
    /// Cases.
    pub cases: u64,
    /// Of these, on the inner claw, on the outer claw, and with no claw recorded.
    pub claws: [u64; 3],
}

/// Cases of a band of something counted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Band {
    /// Lowest value.
    pub from: u16,
    /// Highest value; `None` where it is open.
    pub to: Option<u16>,
    /// Cases.
    pub cases: u64,
}

/// Cases that one kind of observer saw first.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ObserverCount {
    /// Who; `None` where it was not recorded.
    pub seen_by: Option<Observer>,
    /// The cases, by lesion.
    pub counts: CaseCounts,
}

/// Days from the first sign to treatment.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Delay {
    /// Cases with both days.
    pub cases: u64,
    /// Median, days.
    pub median_days: f64,
    /// Lower and upper quartile, days; `None` with few cases.
    pub quartiles_days: Option<(f64, f64)>,
    /// Cases treated within [`PROMPT_DAYS`].
    pub prompt: u64,
}

/// Something the reader should know.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Caution {
    /// The period is that of the records, which makes the rate look higher than it is.
    PeriodFromRecords {
        /// Whether the first day is that of the first record.
        from: bool,
        /// Whether the last day is that of the last record.
        to: bool,
    },
    /// Under a year: lameness has seasons.
    UnderAYear {
        /// Days covered.
        days: i64,
    },
    /// More different cows were lame than there are cows.
    FewerCowsThanLame {
        /// Cows, as given.
        cows: f64,
        /// Different cows with a case in the period.
        lame: u64,
    },
    /// Records outside the period were not counted.
    OutsidePeriod {
        /// How many.
        records: u64,
    },
    /// All that says who saw it says the same; others see other lesions.
    OneObserver {
        /// Who.
        seen_by: Observer,
        /// Cases that say so.
        cases: u64,
    },
    /// Nobody wrote down who saw the cases.
    NoObserver,
    /// Cases without a lesion count in the rate alone.
    LesionsUnrecorded {
        /// How many.
        cases: u64,
    },
}

/// A figure that is left out, and why.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Withheld {
    /// The figure.
    pub figure: Figure,
    /// Cases there are for it.
    pub cases: u64,
    /// Cases it needs.
    pub needed: u64,
}

/// A figure that few cases can't bear.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Figure {
    /// The lesions that make up most cases.
    TopLesions,
    /// Limits and signals by month.
    MonthLimits,
    /// Shares of feet and claws.
    FootShares,
    /// Shares by observer.
    ObserverShares(Option<Observer>),
    /// Quartiles of the days to treatment.
    DelayQuartiles,
}

/// What the records say.
#[derive(Clone, Debug, PartialEq)]
pub struct CaseSummary {
    /// The period.
    pub period: Period,
    /// Average cows, as given.
    pub cows: f64,
    /// Records in the period.
    pub records: u64,
    /// Cases that began in it.
    pub cases: u64,
    /// Records in the period that belong to a case begun before them.
    pub repeats: u64,
    /// Different cows with a case; `None` where only counts were given.
    pub lame_cows: Option<u64>,
    /// Cow-years: cows × days / 365.25.
    pub cow_years: f64,
    /// The rate.
    pub rate: Rate,
    /// Cases by lesion, as the engine takes them.
    pub counts: CaseCounts,
    /// Lesions that occur, the most frequent first.
    pub lesions: Vec<LesionShare>,
    /// The fewest lesions that make up four fifths.
    pub top: Option<TopLesions>,
    /// Months in order.
    pub months: Vec<Month>,
    /// Feet in the fixed order, the unrecorded last; empty where no foot was recorded.
    pub feet: Vec<FootCount>,
    /// Cases by number of the lactation; empty where none was recorded. Without the herd's own make-up
    /// these are no rates.
    pub parities: Vec<Band>,
    /// Cases by days in milk; empty where none was recorded.
    pub days_in_milk: Vec<Band>,
    /// Who saw the cases, in the fixed order, the unrecorded last; those with cases alone.
    pub observers: Vec<ObserverCount>,
    /// Days from the first sign to treatment.
    pub delay: Option<Delay>,
    /// What the reader should know.
    pub cautions: Vec<Caution>,
    /// What is left out.
    pub withheld: Vec<Withheld>,
}

/// What records hold beside the counts, for a comparison of two periods.
#[derive(Clone, Debug, PartialEq)]
pub struct CaseDays {
    /// First day of every case, in any order.
    pub starts: Vec<NaiveDate>,
    /// Median days from the first sign to treatment, of the cases that were summed up.
    pub median_days_to_treatment: Option<f64>,
}

/// The days of the cases, beside their summary with the same `repeat_days`.
pub fn case_days(cases: &Cases, summary: &CaseSummary, repeat_days: i64) -> CaseDays {
    CaseDays {
        starts: repeats::cases_of(cases, repeat_days).iter().map(|case| case.start).collect(),
        median_days_to_treatment: summary.delay.map(|delay| delay.median_days),
    }
}

/// Sums up case records over a period. The order of the records never matters.
///
/// A case counts in the period in which it began: a record just after `from` that belongs to a case
/// from before is a repeat.
///
/// # Errors
/// No cows, no period, or a period that ends before it begins.
pub fn summarise(cases: &Cases, options: &SummaryOptions) -> Result<CaseSummary, NoSummary> {
    if !(options.cows > 0.0 && options.cows.is_finite()) {
        return Err(NoSummary::Cows(options.cows));
    }
    let period = period(cases, options)?;
    let mut begun = repeats::cases_of(cases, options.repeat_days);
    begun.retain(|case| period.holds(case.start));
    let records = cases.records.iter().filter(|record| period.holds(record.date)).count() as u64;
    let number = begun.len() as u64;
    let cow_years = options.cows * period.days() as f64 / DAYS_PER_YEAR;
    let counts = counts(begun.iter());
    let mut summary = CaseSummary {
        period,
        cows: options.cows,
        records,
        cases: number,
        repeats: records.saturating_sub(number),
        lame_cows: Some(lame_cows(&begun, cases.cows.len())),
        cow_years,
        rate: rate(number, cow_years),
        counts,
        lesions: lesions(&counts.by_lesion),
        top: None,
        months: months::months(
            begun.iter().map(|case| case.start),
            options.cows,
            period,
            number >= FEWEST_FOR_PATTERN,
        ),
        feet: feet(&begun),
        parities: bands(&PARITIES, begun.iter().filter_map(|case| case.parity.map(u16::from))),
        days_in_milk: bands(&DAYS_IN_MILK, begun.iter().filter_map(|case| case.days_in_milk)),
        observers: observers(&begun),
        delay: delay(&begun),
        cautions: Vec::new(),
        withheld: Vec::new(),
    };
    summary.top = top(&summary.lesions);
    summary.cautions = cautions(&summary, options, cases.records.len() as u64);
    summary.withheld = withheld(&summary);
    Ok(summary)
}

/// Sums up cases that were counted by lesion and no more: rate and lesions alone. `None` where the
/// records hold no counts.
pub fn summarise_counts(records: &Records) -> Option<CaseSummary> {
    let counts = records.counts?;
    let cases = counts.total();
    let cow_years = records.cow_years();
    let observers = match records.seen_by[..] {
        [one] if cases > 0 => vec![ObserverCount { seen_by: Some(one), counts }],
        _ => Vec::new(),
    };
    let lesions = lesions(&counts.by_lesion);
    let mut summary = CaseSummary {
        period: Period { from: records.from, to: records.to },
        cows: records.average_cows,
        records: cases,
        cases,
        repeats: 0,
        lame_cows: None,
        cow_years,
        rate: rate(cases, cow_years),
        counts,
        top: top(&lesions),
        lesions,
        months: Vec::new(),
        feet: Vec::new(),
        parities: Vec::new(),
        days_in_milk: Vec::new(),
        observers,
        delay: None,
        cautions: Vec::new(),
        withheld: Vec::new(),
    };
    let given = SummaryOptions {
        cows: records.average_cows,
        from: Some(records.from),
        to: Some(records.to),
        repeat_days: REPEAT_DAYS,
    };
    summary.cautions = cautions(&summary, &given, cases);
    // Two kinds of observer are named, though not who saw which case.
    summary.cautions.retain(|caution| *caution != Caution::NoObserver || records.seen_by.is_empty());
    summary.withheld = withheld(&summary);
    Some(summary)
}

fn period(cases: &Cases, options: &SummaryOptions) -> Result<Period, NoSummary> {
    let days = || cases.records.iter().map(|record| record.date);
    let from = options.from.or_else(|| days().min()).ok_or(NoSummary::NoPeriod)?;
    let to = options.to.or_else(|| days().max()).ok_or(NoSummary::NoPeriod)?;
    let period = Period { from, to };
    if from > to { Err(NoSummary::Backwards(period)) } else { Ok(period) }
}

fn rate(cases: u64, cow_years: f64) -> Rate {
    let scale = 100.0 / cow_years;
    let (lower, upper) = interval::poisson_interval(cases, LEVEL);
    Rate { per_100_cow_years: scale * cases as f64, interval: (scale * lower, scale * upper) }
}

fn counts<'c>(cases: impl Iterator<Item = &'c Case>) -> CaseCounts {
    let mut counts = CaseCounts::default();
    cases.for_each(|case| count(&mut counts, case));
    counts
}

fn count(counts: &mut CaseCounts, case: &Case) {
    match case.lesion {
        Some(lesion) => counts.by_lesion[lesion] += 1,
        None => counts.unrecorded += 1,
    }
}

fn lame_cows(cases: &[Case], cows: usize) -> u64 {
    let mut seen = vec![false; cows];
    for case in cases {
        if let Some(seen) = seen.get_mut(case.cow as usize) {
            *seen = true;
        }
    }
    seen.into_iter().filter(|seen| *seen).count() as u64
}

fn lesions(counts: &PerLesion<u64>) -> Vec<LesionShare> {
    let mut occurring: Vec<(Lesion, u64)> =
        counts.iter().filter(|(_, cases)| **cases > 0).map(|(lesion, cases)| (lesion, *cases)).collect();
    occurring.sort_by_key(|(_, cases)| std::cmp::Reverse(*cases));
    let all: u64 = occurring.iter().map(|(_, cases)| cases).sum();
    let cells: Vec<u64> = occurring.iter().map(|(_, cases)| *cases).collect();
    let intervals = interval::goodman(&cells, 1.0 - LEVEL).unwrap_or_default();
    occurring
        .into_iter()
        .zip(intervals)
        .map(|((lesion, cases), interval)| LesionShare {
            lesion,
            cases,
            share: cases as f64 / all as f64,
            interval,
        })
        .collect()
}

fn top(lesions: &[LesionShare]) -> Option<TopLesions> {
    let all: u64 = lesions.iter().map(|lesion| lesion.cases).sum();
    if all < FEWEST_FOR_PATTERN {
        return None;
    }
    let mut top = TopLesions { lesions: Vec::new(), share: 0.0 };
    let mut cases = 0;
    for lesion in lesions {
        cases += lesion.cases;
        top.lesions.push(lesion.lesion);
        top.share = cases as f64 / all as f64;
        if top.share >= TOP_SHARE {
            break;
        }
    }
    Some(top)
}

fn feet(cases: &[Case]) -> Vec<FootCount> {
    if cases.iter().all(|case| case.foot.is_none()) {
        return Vec::new();
    }
    let feet = Foot::ALL.into_iter().map(Some).chain([None]);
    let mut feet: Vec<FootCount> = feet.map(|foot| FootCount { foot, cases: 0, claws: [0; 3] }).collect();
    for case in cases {
        let at = case.foot.map_or(Foot::ALL.len(), |foot| foot as usize);
        let Some(count) = feet.get_mut(at) else { continue };
        count.cases += 1;
        count.claws[match case.claw {
            Some(Claw::Inner) => 0,
            Some(Claw::Outer) => 1,
            None => 2,
        }] += 1;
    }
    feet
}

/// Lactations: a heifer before her first, first to third, fourth and later.
const PARITIES: [u16; 5] = [0, 1, 2, 3, 4];
/// Days in milk: fresh, to about peak, mid and late lactation (judged bands).
const DAYS_IN_MILK: [u16; 4] = [0, 31, 101, 201];

fn bands(starts: &[u16], values: impl Iterator<Item = u16>) -> Vec<Band> {
    let mut bands: Vec<Band> = starts
        .iter()
        .enumerate()
        .map(|(at, from)| Band { from: *from, to: starts.get(at + 1).map(|next| next - 1), cases: 0 })
        .collect();
    for value in values {
        if let Some(band) = bands.iter_mut().rev().find(|band| band.from <= value) {
            band.cases += 1;
        }
    }
    if bands.iter().all(|band| band.cases == 0) { Vec::new() } else { bands }
}

fn observers(cases: &[Case]) -> Vec<ObserverCount> {
    let who = Observer::ALL.into_iter().map(Some).chain([None]);
    let mut observers: Vec<ObserverCount> =
        who.map(|seen_by| ObserverCount { seen_by, counts: CaseCounts::default() }).collect();
    for case in cases {
        let at = case.seen_by.map_or(Observer::ALL.len(), |seen_by| seen_by as usize);
        if let Some(observer) = observers.get_mut(at) {
            count(&mut observer.counts, case);
        }
    }
    observers.retain(|observer| observer.counts.total() > 0);
    observers
}

fn delay(cases: &[Case]) -> Option<Delay> {
    let mut days: Vec<u32> = cases.iter().filter_map(|case| case.days_to_treatment).collect();
    days.sort_unstable();
    let count = days.len() as u64;
    Some(Delay {
        cases: count,
        median_days: sample_quantile(&days, 0.5)?,
        quartiles_days: sample_quantile(&days, 0.25)
            .zip(sample_quantile(&days, 0.75))
            .filter(|_| count >= FEWEST_FOR_PATTERN),
        prompt: days.iter().filter(|days| **days <= PROMPT_DAYS).count() as u64,
    })
}

/// Quantile of sorted values, between the two nearest (Hyndman & Fan 1996, Am Stat 50:361, type 7).
fn sample_quantile(sorted: &[u32], at: f64) -> Option<f64> {
    let position = at * (sorted.len().checked_sub(1)? as f64);
    let below = f64::from(*sorted.get(position as usize)?);
    let above = sorted.get(position as usize + 1).map_or(below, |value| f64::from(*value));
    Some(below + position.fract() * (above - below))
}

fn cautions(summary: &CaseSummary, options: &SummaryOptions, all_records: u64) -> Vec<Caution> {
    let mut cautions = Vec::new();
    let (from, to) = (options.from.is_none(), options.to.is_none());
    if from || to {
        cautions.push(Caution::PeriodFromRecords { from, to });
    }
    let days = summary.period.days();
    if days < 365 {
        cautions.push(Caution::UnderAYear { days });
    }
    if let Some(lame) = summary.lame_cows.filter(|lame| *lame as f64 > summary.cows) {
        cautions.push(Caution::FewerCowsThanLame { cows: summary.cows, lame });
    }
    if all_records > summary.records {
        cautions.push(Caution::OutsidePeriod { records: all_records - summary.records });
    }
    let said: Vec<&ObserverCount> =
        summary.observers.iter().filter(|observer| observer.seen_by.is_some()).collect();
    match said[..] {
        [] if summary.cases > 0 => cautions.push(Caution::NoObserver),
        [ObserverCount { seen_by: Some(seen_by), counts }] => {
            cautions.push(Caution::OneObserver { seen_by: *seen_by, cases: counts.total() });
        }
        _ => {}
    }
    if summary.counts.unrecorded > 0 {
        cautions.push(Caution::LesionsUnrecorded { cases: summary.counts.unrecorded });
    }
    cautions
}

fn withheld(summary: &CaseSummary) -> Vec<Withheld> {
    let mut withheld = Vec::new();
    let mut need = |figure, cases: u64| {
        if cases < FEWEST_FOR_PATTERN {
            withheld.push(Withheld { figure, cases, needed: FEWEST_FOR_PATTERN });
        }
    };
    need(Figure::TopLesions, summary.counts.by_lesion.0.iter().sum());
    if !summary.months.is_empty() {
        need(Figure::MonthLimits, summary.cases);
    }
    if !summary.feet.is_empty() {
        need(
            Figure::FootShares,
            summary.feet.iter().filter(|foot| foot.foot.is_some()).map(|foot| foot.cases).sum(),
        );
    }
    for observer in &summary.observers {
        need(Figure::ObserverShares(observer.seen_by), observer.counts.by_lesion.0.iter().sum());
    }
    if let Some(delay) = summary.delay {
        need(Figure::DelayQuartiles, delay.cases);
    }
    withheld
}

#[cfg(test)]
mod tests;
