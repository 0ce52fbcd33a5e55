//! "What your records say": the words and figures of a farm's case records and locomotion scores.

use super::cases_facts::{caution_words, prompt_words, withheld_words};
use super::figure::{Caption, ControlChart, Figure, Month as MonthFigure, PointInterval, Share, Shares};
use super::number::{self, decimals, percent, whole};
use super::words;
use crate::model::Library;
use crate::model::lesion::Lesion;
use crate::model::walk::Observer;
use crate::reckon::records::months::{Month, Signal};
use crate::reckon::records::{Band, CaseSummary, FEWEST_FOR_PATTERN};
use serde::Serialize;
use std::collections::BTreeMap;

/// Everything a template may show of a farm's records.
#[derive(Clone, Debug, Serialize)]
pub struct RecordsPage {
    /// Period in words.
    pub period: String,
    /// Cows.
    pub cows: String,
    /// Cases, in words: "52 cases (56 records, 4 of them repeats)".
    pub cases: String,
    /// "in 49 different cows", or empty where only counts were given.
    pub lame_cows: String,
    /// Rate with its interval.
    pub rate: String,
    /// Cow-years.
    pub cow_years: String,
    /// True where there are too few cases for a pattern of months.
    pub few: bool,
    /// True where too few lesions were written down for shares.
    pub few_lesions: bool,
    /// Lesions, most frequent first.
    pub lesions: Vec<LesionRow>,
    /// The few lesions that make up most, or empty.
    pub top: String,
    /// Months.
    pub months: Vec<MonthRow>,
    /// Months that stand out, in words.
    pub signals: Vec<String>,
    /// Feet.
    pub feet: Vec<FootRow>,
    /// Lactations, in words.
    pub parities: Vec<String>,
    /// Days in milk, in words.
    pub days_in_milk: Vec<String>,
    /// Observers.
    pub observers: Vec<ObserverRow>,
    /// Days from the first sign to treatment, or empty.
    pub delay: String,
    /// What the reader should know.
    pub cautions: Vec<String>,
    /// What few cases can't bear.
    pub withheld: Vec<String>,
    /// Words counted as another lesion, or empty.
    pub counted_as_other: String,
    /// Bad rows left out, or empty.
    pub left_out: String,
}

/// The page of `cases`: the records alone.
#[derive(Clone, Debug, Serialize)]
pub struct CasesPage {
    /// The records.
    pub kept: RecordsPage,
}

/// One lesion.
#[derive(Clone, Debug, Serialize)]
pub struct LesionRow {
    /// Name.
    pub name: String,
    /// Cases.
    pub cases: u64,
    /// Share.
    pub share: String,
    /// Simultaneous 95 % interval.
    pub interval: String,
}

/// One month.
#[derive(Clone, Debug, Serialize)]
pub struct MonthRow {
    /// "March 2025".
    pub month: String,
    /// Cases.
    pub cases: u64,
    /// Cases per 100 cow-months.
    pub rate: String,
    /// Limits, or "–".
    pub limits: String,
    /// How it stands out, or empty.
    pub signal: &'static str,
}

/// One foot.
#[derive(Clone, Debug, Serialize)]
pub struct FootRow {
    /// Name.
    pub foot: &'static str,
    /// Cases.
    pub cases: u64,
    /// On the inner claw.
    pub inner: u64,
    /// On the outer claw.
    pub outer: u64,
    /// Claw not written down.
    pub no_claw: u64,
}

/// One observer.
#[derive(Clone, Debug, Serialize)]
pub struct ObserverRow {
    /// Who.
    pub who: &'static str,
    /// Cases.
    pub cases: u64,
    /// The lesions they saw, in words.
    pub lesions: String,
}

/// The page and its figures, by name: `months`, `lesions`.
pub fn records_page(
    library: &Library,
    summary: &CaseSummary,
    rows_left_out: u64,
    counted_as_other: &[String],
) -> (RecordsPage, BTreeMap<String, Figure>) {
    let page = RecordsPage {
        period: format!(
            "{} to {} ({} days)",
            number::date(summary.period.from),
            number::date(summary.period.to),
            summary.period.days()
        ),
        cows: decimals(summary.cows, 0),
        cases: cases(summary),
        lame_cows: summary.lame_cows.map_or(String::new(), |cows| {
            format!("in {}", number::plural(cows, "different cow", "different cows"))
        }),
        rate: format!(
            "{} ({} to {})",
            decimals(summary.rate.per_100_cow_years, 1),
            decimals(summary.rate.interval.0, 1),
            decimals(summary.rate.interval.1, 1)
        ),
        cow_years: decimals(summary.cow_years, 1),
        few: summary.cases < FEWEST_FOR_PATTERN,
        few_lesions: recorded(summary) < FEWEST_FOR_PATTERN,
        lesions: lesions(library, summary),
        top: top(library, summary),
        months: summary.months.iter().map(month).collect(),
        signals: signals(&summary.months),
        feet: feet(summary),
        parities: bands(&summary.parities, "lactation"),
        days_in_milk: bands(&summary.days_in_milk, "day"),
        observers: observers(library, summary),
        delay: delay(summary),
        cautions: summary.cautions.iter().map(caution_words).collect(),
        withheld: summary.withheld.iter().map(withheld_words).collect(),
        counted_as_other: number::list(counted_as_other),
        left_out: match rows_left_out {
            0 => String::new(),
            rows => format!("{} left out as asked.", number::plural(rows, "bad row was", "bad rows were")),
        },
    };
    let mut figures = BTreeMap::new();
    if !page.few && !summary.months.is_empty() {
        figures.insert("months".to_owned(), months_figure(summary));
    }
    if !page.few_lesions {
        figures.insert("lesions".to_owned(), lesions_figure(library, summary));
    }
    (page, figures)
}

fn cases(summary: &CaseSummary) -> String {
    let cases = number::plural(summary.cases, "case", "cases");
    match summary.repeats {
        0 => cases,
        repeats => format!("{cases} ({} records, {repeats} of them repeats of a case)", summary.records),
    }
}

/// A share's interval, in percent.
pub(super) fn range(interval: (f64, f64)) -> String {
    format!("{} to {}", percent(interval.0), percent(interval.1))
}

fn lesions(library: &Library, summary: &CaseSummary) -> Vec<LesionRow> {
    let row = |share: &crate::reckon::records::LesionShare| LesionRow {
        name: words::lesion(library, share.lesion),
        cases: share.cases,
        share: percent(share.share),
        interval: range(share.interval),
    };
    summary.lesions.iter().map(row).collect()
}

fn top(library: &Library, summary: &CaseSummary) -> String {
    let Some(top) = &summary.top else { return String::new() };
    let names: Vec<String> =
        top.lesions.iter().map(|lesion| words::lesion_in_list(library, *lesion)).collect();
    format!(
        "{} make up {} of the cases with a recorded lesion.",
        capital(&number::list(&names)),
        percent(top.share)
    )
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or(String::new(), |first| first.to_uppercase().chain(letters).collect())
}

fn month_name(month: &Month) -> String {
    let words = number::date(month.from);
    words.split_once(' ').map_or(words.clone(), |(_, rest)| rest.to_owned())
}

fn signal_words(signal: Option<Signal>) -> &'static str {
    match signal {
        None => "",
        Some(Signal::Above) => "more than chance gives",
        Some(Signal::Below) => "fewer than chance gives",
        Some(Signal::RunAbove) => "eight months or more above the mean",
        Some(Signal::RunBelow) => "eight months or more below the mean",
    }
}

fn month(month: &Month) -> MonthRow {
    MonthRow {
        month: month_name(month),
        cases: month.cases,
        rate: decimals(month.per_100_cow_months, 2),
        limits: month
            .limits_per_100_cow_months
            .map_or("–".to_owned(), |(low, high)| format!("{} to {}", decimals(low, 2), decimals(high, 2))),
        signal: signal_words(month.signal),
    }
}

fn signals(months: &[Month]) -> Vec<String> {
    let standing_out = months.iter().filter(|month| month.signal.is_some());
    standing_out.map(|month| format!("{}: {}", month_name(month), signal_words(month.signal))).collect()
}

fn feet(summary: &CaseSummary) -> Vec<FootRow> {
    let name = |id: Option<&str>| match id {
        Some("LF") => "left front",
        Some("RF") => "right front",
        Some("LH") => "left hind",
        Some("RH") => "right hind",
        _ => "not written down",
    };
    let row = |count: &crate::reckon::records::FootCount| FootRow {
        foot: name(count.foot.map(|foot| foot.id())),
        cases: count.cases,
        inner: count.claws[0],
        outer: count.claws[1],
        no_claw: count.claws[2],
    };
    summary.feet.iter().map(row).collect()
}

fn bands(bands: &[Band], unit: &str) -> Vec<String> {
    let words = |band: &Band| {
        let values = match band.to {
            Some(to) if to == band.from => format!("{unit} {to}"),
            Some(to) => format!("{unit}s {} to {to}", band.from),
            None => format!("{unit} {} and on", band.from),
        };
        format!("{values}: {}", band.cases)
    };
    bands.iter().map(words).collect()
}

fn observers(library: &Library, summary: &CaseSummary) -> Vec<ObserverRow> {
    let who = |observer: Option<Observer>| match observer {
        Some(Observer::Adviser) => "adviser",
        Some(Observer::Farmer) => "farmer",
        Some(Observer::Vet) => "vet",
        Some(Observer::Trimmer) => "hoof trimmer",
        None => "not written down",
    };
    let row = |count: &crate::reckon::records::ObserverCount| {
        let seen = count.counts.by_lesion.iter().filter(|(_, cases)| **cases > 0);
        let mut seen: Vec<(Lesion, u64)> = seen.map(|(lesion, cases)| (lesion, *cases)).collect();
        seen.sort_by_key(|(_, cases)| std::cmp::Reverse(*cases));
        let lesions: Vec<String> = seen
            .into_iter()
            .map(|(lesion, cases)| format!("{} {cases}", words::lesion_in_list(library, lesion)))
            .collect();
        ObserverRow { who: who(count.seen_by), cases: count.counts.total(), lesions: number::list(&lesions) }
    };
    summary.observers.iter().map(row).collect()
}

fn delay(summary: &CaseSummary) -> String {
    let Some(delay) = &summary.delay else { return String::new() };
    let quartiles = delay.quartiles_days.map_or(String::new(), |(low, high)| {
        format!("; half of the cases between {} and {}", decimals(low, 0), decimals(high, 0))
    });
    format!(
        "From the first sign to treatment: {} days in the middle{quartiles}; {} of {} {}. The aim is 48 hours.",
        decimals(delay.median_days, 1),
        delay.prompt,
        number::plural(delay.cases, "case was treated", "cases were treated"),
        prompt_words(),
    )
}

fn months_figure(summary: &CaseSummary) -> Figure {
    let cow_months: f64 = summary.months.iter().map(|month| month.cow_months).sum();
    let limits = |month: &Month| month.limits_per_100_cow_months.unwrap_or((f64::NAN, f64::NAN));
    let row = |month: &Month| MonthFigure {
        label: month_name(month),
        rate: month.per_100_cow_months,
        lower: limits(month).0,
        upper: limits(month).1,
        signal: month.signal.map(|signal| signal_words(Some(signal)).to_owned()),
    };
    let centre = if cow_months > 0.0 { 100.0 * summary.cases as f64 / cow_months } else { f64::NAN };
    Figure::ControlChart(ControlChart {
        caption: Caption {
            title: "Lame cows month by month".to_owned(),
            description:
                "New cases per 100 cow-months, with the farm's own mean and the limits within which \
                          chance alone keeps a month (99.7% of months)."
                    .to_owned(),
        },
        axis: "new cases per 100 cows a month".to_owned(),
        months: summary.months.iter().map(row).collect(),
        centre,
        centre_label: format!("mean {}", decimals(centre, 2)),
        limits_label: "limits of chance".to_owned(),
    })
}

fn lesions_figure(library: &Library, summary: &CaseSummary) -> Figure {
    let row = |share: &crate::reckon::records::LesionShare| Share {
        label: words::lesion(library, share.lesion),
        share: PointInterval { point: share.share, low: share.interval.0, high: share.interval.1 },
        value_text: format!("{} of {}", share.cases, whole(recorded(summary) as f64)),
    };
    Figure::Shares(Shares {
        caption: Caption {
            title: "Which lesions".to_owned(),
            description: "Share of the cases with a recorded lesion, with simultaneous 95% intervals."
                .to_owned(),
        },
        axis: "share of cases".to_owned(),
        rows: summary.lesions.iter().map(row).collect(),
    })
}

fn recorded(summary: &CaseSummary) -> u64 {
    summary.counts.by_lesion.0.iter().sum()
}
