//! "What your records say": the words and figures of a farm's case records and locomotion scores.

use super::cases_facts::{caution_words, withheld_words};
use super::figure::{Caption, ControlChart, Figure, Month as MonthFigure, PointInterval, Share, Shares};
use super::words;
use crate::model::Library;
use crate::model::lesion::Lesion;
use crate::model::walk::Observer;
use crate::model::words::Words;
use crate::reckon::records::months::{Month, Signal};
use crate::reckon::records::{Band, CaseSummary, FEWEST_FOR_PATTERN, PROMPT_DAYS};
use chrono::Datelike;
use serde::Serialize;
use std::collections::BTreeMap;

/// Everything a template may show of a farm's records.
#[derive(Clone, Debug, Serialize)]
pub struct RecordsPage {
    /// Period in words.
    pub period: String,
    /// Cows.
    pub cows: String,
    /// Cases, in words: "52 cases (56 records, 4 of them repeats of a case) in 49 different cows".
    pub cases: String,
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
    /// Months that stand out, in a sentence; of few cases, the months that have one. Empty without months.
    pub months_told: String,
    /// Feet.
    pub feet: Vec<FootRow>,
    /// Lactations, in words, or empty.
    pub parities: String,
    /// Days in milk, in words, or empty.
    pub days_in_milk: String,
    /// Observers.
    pub observers: Vec<ObserverRow>,
    /// Days from the first sign to treatment, or empty.
    pub delay: String,
    /// What the reader should know, bad rows left out and words not known among it.
    pub cautions: Vec<String>,
    /// What few cases can't bear.
    pub withheld: Vec<String>,
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
    pub signal: String,
}

/// One foot.
#[derive(Clone, Debug, Serialize)]
pub struct FootRow {
    /// Name.
    pub foot: String,
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
    pub who: String,
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
    let words = &library.words;
    let rate = &summary.rate;
    let page = RecordsPage {
        period: period(words, summary),
        cows: words.decimals(summary.cows, 0),
        cases: cases(words, summary),
        rate: format!(
            "{} ({})",
            words.decimals(rate.per_100_cow_years, 1),
            between(words, rate.interval, |end| words.decimals(end, 1))
        ),
        cow_years: words.decimals(summary.cow_years, 1),
        few: few(summary),
        few_lesions: recorded(summary) < FEWEST_FOR_PATTERN,
        lesions: lesions(library, summary),
        top: top(library, summary),
        months: summary.months.iter().map(|it| month(words, it)).collect(),
        months_told: months_told(words, summary),
        feet: feet(words, summary),
        parities: bands(words, &summary.parities, lactations),
        days_in_milk: bands(words, &summary.days_in_milk, days),
        observers: observers(library, summary),
        delay: delay(words, summary),
        cautions: cautions(words, summary, rows_left_out, counted_as_other),
        withheld: summary.withheld.iter().map(|it| withheld_words(words, it)).collect(),
    };
    let mut figures = BTreeMap::new();
    if !page.few && !summary.months.is_empty() {
        figures.insert("months".to_owned(), months_figure(words, summary));
    }
    if !page.few_lesions {
        figures.insert("lesions".to_owned(), lesions_figure(library, summary));
    }
    (page, figures)
}

fn few(summary: &CaseSummary) -> bool {
    summary.cases < FEWEST_FOR_PATTERN
}

fn period(words: &Words, summary: &CaseSummary) -> String {
    let period = &summary.period;
    let days = period.days();
    let (from, to) = (words.date(period.from), words.date(period.to));
    let values = [("from", from.as_str()), ("to", &to), ("n", &days.to_string())];
    words.say_for(days as f64, "cases.period", &values)
}

fn cases(words: &Words, summary: &CaseSummary) -> String {
    let n = summary.cases as f64;
    let cases = match summary.repeats {
        0 => words.say_for(n, "cases.cases", &[("n", &words.whole(n))]),
        repeats => words.say_for(
            n,
            "cases.cases-repeats",
            &[
                ("n", &words.whole(n)),
                ("records", &summary.records.to_string()),
                ("repeats", &repeats.to_string()),
            ],
        ),
    };
    let Some(cows) = summary.lame_cows.map(|cows| cows as f64) else { return cases };
    words.say_for(cows, "cases.in-cows", &[("cases", &cases), ("n", &words.whole(cows))])
}

fn cautions(words: &Words, summary: &CaseSummary, left_out: u64, other: &[String]) -> Vec<String> {
    let mut said: Vec<String> =
        summary.cautions.iter().map(|caution| caution_words(words, caution)).collect();
    if left_out > 0 {
        let n = left_out as f64;
        said.push(words.say_for(n, "cases.rows-left-out", &[("n", &words.whole(n))]));
    }
    if !other.is_empty() {
        said.push(words.say("cases.counted-as-other", &[("words", &words.list(other))]));
    }
    said
}

/// Both ends of an interval, also where they read the same.
pub(super) fn between(words: &Words, (low, high): (f64, f64), text: impl Fn(f64) -> String) -> String {
    words.say("number.range", &[("low", &text(low)), ("high", &text(high))])
}

/// A share's interval, in percent.
pub(super) fn range(words: &Words, interval: (f64, f64)) -> String {
    between(words, interval, |share| words.percent(share))
}

fn lesions(library: &Library, summary: &CaseSummary) -> Vec<LesionRow> {
    let row = |share: &crate::reckon::records::LesionShare| LesionRow {
        name: words::lesion(library, share.lesion),
        cases: share.cases,
        share: library.words.percent(share.share),
        interval: range(&library.words, share.interval),
    };
    summary.lesions.iter().map(row).collect()
}

fn top(library: &Library, summary: &CaseSummary) -> String {
    let Some(top) = &summary.top else { return String::new() };
    let words = &library.words;
    let names: Vec<String> =
        top.lesions.iter().map(|lesion| words::lesion_in_list(library, *lesion)).collect();
    let values = [("lesions", words.list(&names)), ("share", words.percent(top.share))];
    // Names of lesions in a list begin small, and the sentence may begin with one.
    capital(&words.say("cases.top", &values.each_ref().map(|(name, value)| (*name, value.as_str()))))
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or(String::new(), |first| first.to_uppercase().chain(letters).collect())
}

fn month_name(words: &Words, month: &Month) -> String {
    let name = words.word(&format!("month.{}", month.from.month()));
    words.say("cases.month-of-year", &[("month", &name), ("year", &month.from.year().to_string())])
}

fn signal_words(words: &Words, signal: Signal) -> String {
    words.word(match signal {
        Signal::Above => "cases.above",
        Signal::Below => "cases.below",
        Signal::RunAbove => "cases.run-above",
        Signal::RunBelow => "cases.run-below",
    })
}

fn month(words: &Words, month: &Month) -> MonthRow {
    let two = |value| words.decimals(value, 2);
    MonthRow {
        month: month_name(words, month),
        cases: month.cases,
        rate: two(month.per_100_cow_months),
        limits: month
            .limits_per_100_cow_months
            .map_or("–".to_owned(), |limits| between(words, limits, two)),
        signal: month.signal.map_or(String::new(), |signal| signal_words(words, signal)),
    }
}

fn months_told(words: &Words, summary: &CaseSummary) -> String {
    let listed = |named: Vec<String>, some: &str, none: &str| match named.is_empty() {
        true => words.word(none),
        false => words.say(some, &[("months", &named.join(&words.word("list.semicolon")))]),
    };
    let months = &summary.months;
    if months.is_empty() {
        return String::new();
    }
    if few(summary) {
        let with_cases = months.iter().filter(|month| month.cases > 0);
        let named = with_cases.map(|month| format!("{} ({})", month_name(words, month), month.cases));
        return listed(named.collect(), "cases.months-with", "cases.months-without");
    }
    let standing_out = months.iter().filter_map(|month| Some((month, month.signal?)));
    let named = standing_out
        .map(|(month, signal)| format!("{}: {}", month_name(words, month), signal_words(words, signal)));
    listed(named.collect(), "cases.months-stand-out", "cases.no-month-stands-out")
}

fn feet(words: &Words, summary: &CaseSummary) -> Vec<FootRow> {
    let name = |id: Option<&str>| match id {
        Some("LF") => "cases.left-front",
        Some("RF") => "cases.right-front",
        Some("LH") => "cases.left-hind",
        Some("RH") => "cases.right-hind",
        _ => "cases.not-written-down",
    };
    let row = |count: &crate::reckon::records::FootCount| FootRow {
        foot: words.word(name(count.foot.map(|foot| foot.id()))),
        cases: count.cases,
        inner: count.claws[0],
        outer: count.claws[1],
        no_claw: count.claws[2],
    };
    summary.feet.iter().map(row).collect()
}

/// Which sentence tells of a band: that of one value, of several, or of an open end.
type BandKey = fn(&Band) -> &'static str;

fn lactations(band: &Band) -> &'static str {
    match band.to {
        Some(to) if to == band.from => "cases.lactation",
        Some(_) => "cases.lactations",
        None => "cases.lactations-on",
    }
}

fn days(band: &Band) -> &'static str {
    match band.to {
        Some(to) if to == band.from => "cases.day",
        Some(_) => "cases.days",
        None => "cases.days-on",
    }
}

fn bands(words: &Words, bands: &[Band], key: BandKey) -> String {
    let told = |band: &Band| {
        let to = band.to.map_or(String::new(), |to| to.to_string());
        let values = [("from", &band.from.to_string()), ("to", &to), ("cases", &band.cases.to_string())];
        words.say(key(band), &values.map(|(name, value)| (name, value.as_str())))
    };
    bands.iter().map(told).collect::<Vec<_>>().join(&words.word("list.semicolon"))
}

fn observers(library: &Library, summary: &CaseSummary) -> Vec<ObserverRow> {
    let words = &library.words;
    let who = |observer: Option<Observer>| match observer {
        Some(Observer::Adviser) => "cases.adviser",
        Some(Observer::Farmer) => "cases.farmer",
        Some(Observer::Vet) => "cases.vet",
        Some(Observer::Trimmer) => "cases.trimmer",
        None => "cases.not-written-down",
    };
    let row = |count: &crate::reckon::records::ObserverCount| {
        let seen = count.counts.by_lesion.iter().filter(|(_, cases)| **cases > 0);
        let mut seen: Vec<(Lesion, u64)> = seen.map(|(lesion, cases)| (lesion, *cases)).collect();
        seen.sort_by_key(|(_, cases)| std::cmp::Reverse(*cases));
        let lesions: Vec<String> = seen
            .into_iter()
            .map(|(lesion, cases)| format!("{} {cases}", words::lesion_in_list(library, lesion)))
            .collect();
        ObserverRow {
            who: words.word(who(count.seen_by)),
            cases: count.counts.total(),
            lesions: words.list(&lesions),
        }
    };
    summary.observers.iter().map(row).collect()
}

fn delay(words: &Words, summary: &CaseSummary) -> String {
    let Some(delay) = &summary.delay else { return String::new() };
    let n = delay.cases as f64;
    let (low, high) = delay.quartiles_days.unwrap_or((f64::NAN, f64::NAN));
    let key = if delay.quartiles_days.is_some() { "cases.delay-quartiles" } else { "cases.delay" };
    words.say_for(
        n,
        key,
        &[
            ("median", &words.decimals(delay.median_days, 1)),
            ("low", &words.decimals(low, 0)),
            ("high", &words.decimals(high, 0)),
            ("prompt", &delay.prompt.to_string()),
            ("n", &words.whole(n)),
            ("days", &PROMPT_DAYS.to_string()),
        ],
    )
}

fn months_figure(words: &Words, summary: &CaseSummary) -> Figure {
    let cow_months: f64 = summary.months.iter().map(|month| month.cow_months).sum();
    let limits = |month: &Month| month.limits_per_100_cow_months.unwrap_or((f64::NAN, f64::NAN));
    let row = |month: &Month| MonthFigure {
        label: month_name(words, month),
        rate: month.per_100_cow_months,
        lower: limits(month).0,
        upper: limits(month).1,
        signal: month.signal.map(|signal| signal_words(words, signal)),
    };
    let centre = if cow_months > 0.0 { 100.0 * summary.cases as f64 / cow_months } else { f64::NAN };
    Figure::ControlChart(ControlChart {
        caption: Caption {
            title: words.word("cases.months-figure"),
            description: words.word("cases.months-figure-says"),
        },
        axis: words.word("cases.months-axis"),
        months: summary.months.iter().map(row).collect(),
        centre,
        centre_label: words.say("cases.mean", &[("rate", &words.decimals(centre, 2))]),
        limits_label: words.word("cases.limits"),
    })
}

fn lesions_figure(library: &Library, summary: &CaseSummary) -> Figure {
    let words = &library.words;
    let all = words.whole(recorded(summary) as f64);
    let row = |share: &crate::reckon::records::LesionShare| Share {
        label: words::lesion(library, share.lesion),
        share: PointInterval { point: share.share, low: share.interval.0, high: share.interval.1 },
        value_text: words.say("answer.share", &[("count", &share.cases.to_string()), ("of", &all)]),
    };
    Figure::Shares(Shares {
        caption: Caption {
            title: words.word("cases.which-lesions"),
            description: words.word("cases.lesions-figure-says"),
        },
        axis: words.word("cases.lesions-axis"),
        rows: summary.lesions.iter().map(row).collect(),
    })
}

fn recorded(summary: &CaseSummary) -> u64 {
    summary.counts.by_lesion.0.iter().sum()
}
