//! What case records say, as plain figures and words: the object that `cases --as json` prints
//! (`underfoot.cases/1`), and the wording that every form of the page shares.

use crate::model::lesion::Lesion;
use crate::model::walk::{CaseCounts, Observer};
use crate::model::words::Words;
use crate::reckon::records::months::Month;
use crate::reckon::records::{
    Band, CaseSummary, Caution, Delay, FEWEST_FOR_PATTERN, Figure, FootCount, LEVEL, LesionShare, NoSummary,
    Rate, TopLesions, Withheld,
};
use serde::Serialize;
use std::collections::BTreeMap;

/// The object `underfoot.cases/1`. Figures that can't be given are null.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CasesFacts {
    /// `underfoot.cases/1`.
    pub format: &'static str,
    /// The period, both ends included.
    pub period: PeriodFacts,
    /// Average cows, as given.
    pub cows: f64,
    /// Records in the period.
    pub records: u64,
    /// Cases that began in it.
    pub cases: u64,
    /// Records that belong to a case from before them.
    pub repeats: u64,
    /// Different cows with a case; null where only counts were given.
    pub lame_cows: Option<u64>,
    /// Cow-years.
    pub cow_years: f64,
    /// Cases per 100 cow-years.
    pub rate: RateFacts,
    /// Level of the intervals.
    pub level: f64,
    /// Lesions that occur, the most frequent first.
    pub lesions: Vec<LesionFacts>,
    /// Cases whose lesion nobody wrote down.
    pub unrecorded: u64,
    /// The fewest lesions that make up four fifths; null with too few cases.
    pub top: Option<TopFacts>,
    /// Months in order.
    pub months: Vec<MonthFacts>,
    /// Feet; empty where none was recorded.
    pub feet: Vec<FootFacts>,
    /// Cases by lactation; no rates, since the herd's own make-up is not known.
    pub parities: Vec<BandFacts>,
    /// Cases by days in milk; no rates.
    pub days_in_milk: Vec<BandFacts>,
    /// Cases by who saw them first.
    pub by_observer: BTreeMap<&'static str, ObserverFacts>,
    /// Days from the first sign to treatment.
    pub days_to_treatment: Option<DelayFacts>,
    /// Bad rows that were left out on request.
    pub rows_left_out: u64,
    /// Words for lesions that were not known and count as `other`.
    pub counted_as_other: Vec<String>,
    /// What the reader should know, in words.
    pub cautions: Vec<String>,
    /// Figures left out, with the reason.
    pub withheld: Vec<String>,
}

/// A period, both ends included.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PeriodFacts {
    /// First day, ISO 8601.
    pub from: String,
    /// Last day, ISO 8601.
    pub to: String,
    /// Days.
    pub days: i64,
}

/// A rate, per 100 cow-years.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RateFacts {
    /// The rate.
    pub value: f64,
    /// Its interval.
    pub interval: (f64, f64),
}

/// A lesion.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LesionFacts {
    /// Id.
    pub id: &'static str,
    /// Cases.
    pub cases: u64,
    /// Share of the cases with a recorded lesion.
    pub share: f64,
    /// Simultaneous interval of the share.
    pub interval: (f64, f64),
}

/// The lesions that make up most cases.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TopFacts {
    /// Ids, the most frequent first.
    pub lesions: Vec<&'static str>,
    /// What they make up.
    pub share: f64,
}

/// A month, or the part of it that the period covers.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct MonthFacts {
    /// `2026-03`.
    pub month: String,
    /// Days covered.
    pub days: u32,
    /// Cases that began in it.
    pub cases: u64,
    /// Cases per 100 cow-months.
    pub rate: f64,
    /// Lower limit, per 100 cow-months; null with too few cases.
    pub lower: Option<f64>,
    /// Upper limit, per 100 cow-months; null with too few cases.
    pub upper: Option<f64>,
    /// Whether the month stands out.
    pub signal: bool,
    /// How it stands out: `above`, `below`, `run-above`, `run-below`.
    pub why: Option<&'static str>,
}

/// A foot.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FootFacts {
    /// `LF`, `RF`, `LH`, `RH` or `unrecorded`.
    pub foot: &'static str,
    /// Cases.
    pub cases: u64,
    /// On the inner claw.
    pub inner: u64,
    /// On the outer claw.
    pub outer: u64,
    /// With no claw recorded.
    pub claw_unrecorded: u64,
}

/// A band of lactations or of days in milk.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BandFacts {
    /// Lowest value.
    pub from: u16,
    /// Highest value; null where it is open.
    pub to: Option<u16>,
    /// Cases.
    pub cases: u64,
}

/// What one kind of observer saw.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ObserverFacts {
    /// Cases.
    pub cases: u64,
    /// Of these, without a lesion.
    pub unrecorded: u64,
    /// The lesions that occur, in the fixed order.
    pub lesions: Vec<ObserverLesionFacts>,
}

/// A lesion among what one kind of observer saw.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ObserverLesionFacts {
    /// Id.
    pub id: &'static str,
    /// Cases.
    pub cases: u64,
    /// Share of the observer's cases with a recorded lesion; null with too few.
    pub share: Option<f64>,
}

/// Days from the first sign to treatment.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct DelayFacts {
    /// Cases with both days.
    pub cases: u64,
    /// Median.
    pub median: f64,
    /// Lower and upper quartile; null with too few cases.
    pub quartiles: Option<(f64, f64)>,
    /// Cases treated within two days.
    pub within_two_days: u64,
}

impl CasesFacts {
    /// The facts of a summary. `rows_left_out` and `counted_as_other` come from the reading.
    pub fn new(
        words: &Words,
        summary: &CaseSummary,
        rows_left_out: u64,
        counted_as_other: Vec<String>,
    ) -> CasesFacts {
        CasesFacts {
            format: "underfoot.cases/1",
            period: PeriodFacts {
                from: summary.period.from.to_string(),
                to: summary.period.to.to_string(),
                days: summary.period.days(),
            },
            cows: summary.cows,
            records: summary.records,
            cases: summary.cases,
            repeats: summary.repeats,
            lame_cows: summary.lame_cows,
            cow_years: summary.cow_years,
            rate: rate(&summary.rate),
            level: LEVEL,
            lesions: summary.lesions.iter().map(lesion).collect(),
            unrecorded: summary.counts.unrecorded,
            top: summary.top.as_ref().map(top),
            months: summary.months.iter().map(month).collect(),
            feet: summary.feet.iter().map(foot).collect(),
            parities: summary.parities.iter().map(band).collect(),
            days_in_milk: summary.days_in_milk.iter().map(band).collect(),
            by_observer: summary
                .observers
                .iter()
                .map(|who| (who.seen_by.map_or("unrecorded", Observer::id), observer(&who.counts)))
                .collect(),
            days_to_treatment: summary.delay.as_ref().map(delay),
            rows_left_out,
            counted_as_other,
            cautions: summary.cautions.iter().map(|it| caution_words(words, it)).collect(),
            withheld: summary.withheld.iter().map(|it| withheld_words(words, it)).collect(),
        }
    }
}

fn rate(rate: &Rate) -> RateFacts {
    RateFacts { value: rate.per_100_cow_years, interval: rate.interval }
}

fn lesion(share: &LesionShare) -> LesionFacts {
    LesionFacts { id: share.lesion.id(), cases: share.cases, share: share.share, interval: share.interval }
}

fn top(top: &TopLesions) -> TopFacts {
    TopFacts { lesions: top.lesions.iter().map(|lesion| lesion.id()).collect(), share: top.share }
}

fn month(month: &Month) -> MonthFacts {
    MonthFacts {
        month: month.from.to_string().chars().take(7).collect(),
        days: month.days,
        cases: month.cases,
        rate: month.per_100_cow_months,
        lower: month.limits_per_100_cow_months.map(|(lower, _)| lower),
        upper: month.limits_per_100_cow_months.map(|(_, upper)| upper),
        signal: month.signal.is_some(),
        why: month.signal.map(|signal| signal.id()),
    }
}

fn foot(count: &FootCount) -> FootFacts {
    let [inner, outer, claw_unrecorded] = count.claws;
    let foot = count.foot.map_or("unrecorded", |foot| foot.id());
    FootFacts { foot, cases: count.cases, inner, outer, claw_unrecorded }
}

fn band(band: &Band) -> BandFacts {
    BandFacts { from: band.from, to: band.to, cases: band.cases }
}

fn observer(counts: &CaseCounts) -> ObserverFacts {
    let recorded: u64 = counts.by_lesion.0.iter().sum();
    let share = |cases: u64| (recorded >= FEWEST_FOR_PATTERN).then(|| cases as f64 / recorded as f64);
    let lesions = counts.by_lesion.iter().filter(|(_, cases)| **cases > 0);
    ObserverFacts {
        cases: counts.total(),
        unrecorded: counts.unrecorded,
        lesions: lesions
            .map(|(lesion, cases): (Lesion, &u64)| ObserverLesionFacts {
                id: lesion.id(),
                cases: *cases,
                share: share(*cases),
            })
            .collect(),
    }
}

fn delay(delay: &Delay) -> DelayFacts {
    DelayFacts {
        cases: delay.cases,
        median: delay.median_days,
        quartiles: delay.quartiles_days,
        within_two_days: delay.prompt,
    }
}

/// Why there is no summary, and what to do.
pub fn no_summary_words(reason: &NoSummary) -> String {
    match reason {
        NoSummary::Cows(cows) => format!("The number of cows must be above 0, not {cows}."),
        NoSummary::NoPeriod => {
            "There are no records, so the period is not known. Give its first and last day.".to_owned()
        }
        NoSummary::Backwards(period) => {
            format!("The period ends on {}, before it begins on {}.", period.to, period.from)
        }
    }
}

/// The observer in a sentence, as the one who did something.
fn observer_words(words: &Words, observer: Observer) -> String {
    words.word(match observer {
        Observer::Adviser => "cases.an-adviser",
        Observer::Farmer => "cases.the-farmer",
        Observer::Vet => "cases.the-vet",
        Observer::Trimmer => "cases.the-trimmer",
    })
}

/// A caution in plain words.
pub fn caution_words(words: &Words, caution: &Caution) -> String {
    let counted = |n: f64, key: &str| words.say_for(n, key, &[("n", &words.whole(n))]);
    match caution {
        Caution::PeriodFromRecords { from: true, to: true } => words.word("cases.no-period"),
        Caution::PeriodFromRecords { from: true, to: false } => words.word("cases.no-first-day"),
        Caution::PeriodFromRecords { .. } => words.word("cases.no-last-day"),
        Caution::UnderAYear { days } => {
            words.say_for(*days as f64, "cases.under-a-year", &[("n", &days.to_string())])
        }
        Caution::FewerCowsThanLame { cows, lame } => words.say(
            "cases.fewer-cows-than-lame",
            &[("lame", &lame.to_string()), ("cows", &words.trimmed(*cows, 3))],
        ),
        Caution::OutsidePeriod { records } => counted(*records as f64, "cases.outside-period"),
        Caution::OneObserver { seen_by, cases } => words.say(
            "cases.one-observer",
            &[("n", &cases.to_string()), ("who", &observer_words(words, *seen_by))],
        ),
        Caution::NoObserver => words.word("cases.no-observer"),
        Caution::LesionsUnrecorded { cases } => counted(*cases as f64, "cases.without-lesion"),
    }
}

/// A figure that is left out, with the reason.
pub fn withheld_words(words: &Words, withheld: &Withheld) -> String {
    let Withheld { figure, cases, needed } = withheld;
    let (key, who) = match figure {
        Figure::TopLesions => ("cases.withheld-top", None),
        Figure::MonthLimits => ("cases.withheld-months", None),
        Figure::FootShares => ("cases.withheld-feet", None),
        Figure::ObserverShares(Some(observer)) => ("cases.withheld-observer", Some(*observer)),
        Figure::ObserverShares(None) => ("cases.withheld-no-observer", None),
        Figure::DelayQuartiles => ("cases.withheld-delay", None),
    };
    let who = who.map_or(String::new(), |who| observer_words(words, who));
    let values = [("needed", needed.to_string()), ("n", cases.to_string()), ("who", who)];
    words.say_for(*cases as f64, key, &values.each_ref().map(|(name, value)| (*name, value.as_str())))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::input::cases::{CaseOptions, TableOptions, read_cases, read_table};
    use crate::reckon::records::{SummaryOptions, summarise};

    fn facts(text: &str) -> CasesFacts {
        let table = read_table("cases.csv", text.as_bytes(), &TableOptions::default()).expect("a table");
        let (cases, reading, findings) = read_cases(&table, &CaseOptions::default());
        assert!(!findings.has_errors());
        let summary = summarise(&cases, &SummaryOptions::new(210.0)).expect("a summary");
        let words = crate::input::english();
        CasesFacts::new(&words, &summary, reading.skipped as u64, reading.lesions_counted_as_other())
    }

    /// A farm with three cases: counts, a wide interval, and no pattern.
    #[test]
    fn three_cases() {
        insta::assert_json_snapshot!(facts(
            "date,cow,foot,lesion,seen by,first seen\n2025-03-04,112,LH,WL,vet,2025-03-01\n\
             2025-03-20,112,LH,WL,vet,\n2025-05-02,7,RF,mystery,vet,2025-05-02\n2025-09-09,311,,,vet,\n"
        ));
    }

    #[test]
    fn every_reason_has_words() {
        let day = |text: &str| text.parse().expect("a day");
        let backwards = crate::reckon::records::Period { from: day("2025-12-31"), to: day("2025-01-01") };
        let reasons = [NoSummary::Cows(0.0), NoSummary::NoPeriod, NoSummary::Backwards(backwards)];
        let cautions = [
            Caution::PeriodFromRecords { from: true, to: true },
            Caution::PeriodFromRecords { from: true, to: false },
            Caution::PeriodFromRecords { from: false, to: true },
            Caution::UnderAYear { days: 120 },
            Caution::FewerCowsThanLame { cows: 80.0, lame: 95 },
            Caution::OutsidePeriod { records: 1 },
            Caution::OneObserver { seen_by: Observer::Trimmer, cases: 12 },
            Caution::NoObserver,
            Caution::LesionsUnrecorded { cases: 4 },
        ];
        let words = crate::input::english();
        let cautions = cautions.iter().map(|caution| caution_words(&words, caution));
        let said: Vec<String> = reasons.iter().map(no_summary_words).chain(cautions).collect();
        insta::assert_snapshot!(said.join("\n"));
    }
}
