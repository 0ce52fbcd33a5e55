//! Checks against values from outside; the source stands beside each.

use super::months::Signal;
use super::*;
use crate::model::case_record::CaseRecord;
use proptest::prelude::*;

fn day(text: &str) -> NaiveDate {
    text.parse().expect("a day")
}

fn record(date: &str, cow: u32, foot: Option<Foot>) -> CaseRecord {
    CaseRecord {
        date: day(date),
        cow,
        row: 0,
        first_sign: None,
        treated: None,
        treatment: None,
        days_in_milk: None,
        parity: None,
        score: None,
        foot,
        claw: None,
        lesion: None,
        seen_by: None,
    }
}

fn book(records: Vec<CaseRecord>) -> Cases {
    let cows = records.iter().map(|record| record.cow + 1).max().unwrap_or(0);
    Cases { records, cows: (0..cows).map(|cow| cow.to_string()).collect(), treatments: Vec::new() }
}

/// `count` cases, each of its own cow, `every` days apart from `from`.
fn spread(count: u32, from: &str, every: u64) -> Cases {
    let start = day(from);
    let at = |index: u32| start + chrono::Days::new(u64::from(index) * every);
    book((0..count).map(|index| CaseRecord { date: at(index), ..record(from, index, None) }).collect())
}

/// So many cases in each month from January 2024, each of its own cow.
fn monthly(counts: &[u32]) -> Cases {
    let mut records = Vec::new();
    for (month, count) in counts.iter().enumerate() {
        let date = format!("{}-{:02}-10", 2024 + month / 12, month % 12 + 1);
        for _ in 0..*count {
            records.push(record(&date, records.len() as u32, None));
        }
    }
    book(records)
}

fn over(cases: &Cases, cows: f64, from: &str, to: &str) -> CaseSummary {
    let options = SummaryOptions { from: Some(day(from)), to: Some(day(to)), ..SummaryOptions::new(cows) };
    summarise(cases, &options).expect("a summary")
}

fn starts(records: Vec<CaseRecord>) -> Vec<String> {
    let mut starts: Vec<String> = repeats::cases_of(&book(records), REPEAT_DAYS)
        .iter()
        .map(|case| format!("{} {}", case.start, case.foot.map_or("-", Foot::id)))
        .collect();
    starts.sort();
    starts
}

fn close(got: f64, want: f64) {
    assert!((got - want).abs() <= 1e-8 * want.abs(), "got {got}, want {want}");
}

/// New cases of a cattle disease in 15 herds (Lesnoff et al. 2004, Prev Vet Med 64:27; R package lme4):
/// 99 cases in 842 animal-periods of three months. Limits of 99 by scipy 1.17.1, `chi2.ppf`. Not
/// lameness: a check of the method alone.
#[test]
fn rate_of_an_open_data_set() {
    let text = include_str!("../../../tests/data/cbpp.csv");
    let field =
        |line: &str, at: usize| line.split(',').nth(at).and_then(|cell| cell.trim().parse::<u64>().ok());
    let sum = |at| text.lines().skip(1).filter_map(|line| field(line, at)).sum::<u64>();
    let (cases, animal_quarters) = (sum(1), sum(2));
    assert_eq!((cases, animal_quarters), (99, 842));
    let rate = rate(cases, animal_quarters as f64 / 4.0);
    close(rate.per_100_cow_years, 100.0 * 99.0 / 210.5);
    close(rate.interval.0, 100.0 * 80.46231485 / 210.5);
    close(rate.interval.1, 100.0 * 120.5289478 / 210.5);
}

/// By hand: 318 cows from 2025-03-01 to 2026-02-28 are 365 days; 37 cases, of one a day apart.
#[test]
fn cow_years_count_both_ends() {
    let summary = over(&spread(37, "2025-03-01", 9), 318.0, "2025-03-01", "2026-02-28");
    assert_eq!((summary.period.days(), summary.cases, summary.repeats), (365, 37, 0));
    close(summary.cow_years, 318.0 * 365.0 / 365.25);
    assert_eq!(summary.months.len(), 12);
    close(summary.months.iter().map(|month| month.cow_months).sum::<f64>(), 12.0 * summary.cow_years);
}

#[test]
fn records_chain_by_cow_and_foot_over_28_days() {
    let (left, right) = (Some(Foot::LeftHind), Some(Foot::RightHind));
    // Day 0, 28 and 56: 28 days after the record before, so one case; day 85 is 29 days on.
    let chain = ["2025-01-01", "2025-01-29", "2025-02-26", "2025-03-27"];
    assert_eq!(
        starts(chain.iter().map(|date| record(date, 0, left)).collect()),
        ["2025-01-01 LH", "2025-03-27 LH"]
    );
    // Another foot and another cow are cases of their own.
    assert_eq!(
        starts(vec![
            record("2025-01-01", 0, left),
            record("2025-01-10", 0, right),
            record("2025-01-10", 1, left)
        ]),
        ["2025-01-01 LH", "2025-01-10 LH", "2025-01-10 RH"]
    );
    // Without a foot the cow alone decides, and the case takes the foot that a later record gives ...
    assert_eq!(
        starts(vec![record("2025-01-01", 0, None), record("2025-01-10", 0, right)]),
        ["2025-01-01 RH"]
    );
    // ... so that a record of yet another foot is a new case.
    assert_eq!(
        starts(vec![
            record("2025-01-01", 0, left),
            record("2025-01-10", 0, None),
            record("2025-01-12", 0, right)
        ]),
        ["2025-01-01 LH", "2025-01-12 RH"]
    );
}

#[test]
fn a_case_begun_before_the_period_is_a_repeat_in_it() {
    let cases = book(vec![record("2024-12-20", 0, None), record("2025-01-05", 0, None)]);
    let summary = over(&cases, 100.0, "2025-01-01", "2025-12-31");
    assert_eq!((summary.records, summary.cases, summary.repeats), (1, 0, 1));
    assert!(summary.cautions.contains(&Caution::OutsidePeriod { records: 1 }));
}

/// Montgomery, Introduction to Statistical Quality Control, chapter 7: 74 errors in 20 weeks, mean 3.7
/// (data from memory); the Poisson points 0.00135 and 0.99865 are 0 and 11 (scipy 1.17.1), so 12 signals.
#[test]
fn a_month_beyond_the_poisson_points_signals() {
    let summary = |first: u32| {
        let rest = 74 - first;
        let counts: Vec<u32> = (0..19).map(|month| rest * (month + 1) / 19 - rest * month / 19).collect();
        over(&monthly(&[&[first], &counts[..]].concat()), 100.0, "2024-01-01", "2025-08-31")
    };
    assert_eq!(summary(12).months[0].signal, Some(Signal::Above));
    assert_eq!(summary(11).months[0].signal, None);
    let (_, upper) = summary(12).months[0].limits_per_100_cow_months.expect("limits");
    close(upper, 100.0 * 11.0 / summary(12).months[0].cow_months);
}

#[test]
fn eight_months_on_one_side_signal_unless_cases_are_few() {
    let months_of = |counts: &[u32]| {
        let to = format!("{}-{:02}-28", 2024 + (counts.len() - 1) / 12, (counts.len() - 1) % 12 + 1);
        over(&monthly(counts), 500.0, "2024-01-01", &to).months
    };
    let shifted = months_of(&[12, 13, 11, 12, 13, 12, 13, 12, 22, 23, 21, 22, 23, 22, 23, 22]);
    let signals: Vec<Option<Signal>> = shifted.iter().map(|month| month.signal).collect();
    assert_eq!(signals[7], Some(Signal::RunBelow));
    assert_eq!(signals[15], Some(Signal::RunAbove));
    assert_eq!(signals.iter().flatten().count(), 2);
    // Two outbreaks in two years: twenty months with one case lie below the mean, as most must.
    let mut few = [1; 24];
    (few[3], few[14]) = (3, 3);
    assert!(months_of(&few).iter().all(|month| month.signal.is_none()));
}

/// A farm with three cases is told how many, how few that is, and no pattern.
#[test]
fn three_cases_make_no_pattern() {
    let mut cases = spread(3, "2025-04-01", 60);
    for record in &mut cases.records {
        record.lesion = Some(Lesion::WhiteLine);
        record.seen_by = Some(Observer::Vet);
        record.foot = Some(Foot::RightHind);
        record.first_sign = Some(record.date - chrono::Days::new(4));
    }
    let summary = over(&cases, 200.0, "2025-01-01", "2025-12-31");
    assert_eq!(summary.top, None);
    assert!(
        summary
            .months
            .iter()
            .all(|month| month.signal.is_none() && month.limits_per_100_cow_months.is_none())
    );
    let delay = summary.delay.expect("a delay");
    assert_eq!((delay.median_days, delay.quartiles_days, delay.prompt), (4.0, None, 0));
    let figures: Vec<Figure> = summary.withheld.iter().map(|withheld| withheld.figure).collect();
    assert_eq!(
        figures,
        [
            Figure::TopLesions,
            Figure::MonthLimits,
            Figure::FootShares,
            Figure::ObserverShares(Some(Observer::Vet)),
            Figure::DelayQuartiles
        ]
    );
    assert!(summary.cautions.contains(&Caution::OneObserver { seen_by: Observer::Vet, cases: 3 }));
    // Garwood's interval for 3 is 0.6186721229 to 8.76727307 (scipy 1.17.1).
    close(summary.rate.interval.1, 100.0 * 8.76727307 / summary.cow_years);
}

/// Thirty cases bear shares: 15, 10 and 5 are 50, 33 and 17 %, and the first two make up 83 %.
#[test]
fn thirty_cases_make_a_pattern() {
    let mut cases = spread(30, "2025-01-01", 12);
    for (index, record) in cases.records.iter_mut().enumerate() {
        record.lesion = Some(match index % 6 {
            0..3 => Lesion::WhiteLine,
            3 | 4 => Lesion::SoleUlcer,
            _ => Lesion::FootRot,
        });
    }
    let summary = over(&cases, 200.0, "2025-01-01", "2025-12-31");
    let top = summary.top.expect("a top");
    assert_eq!(top.lesions, [Lesion::WhiteLine, Lesion::SoleUlcer]);
    close(top.share, 25.0 / 30.0);
    assert_eq!(summary.counts.by_lesion[Lesion::FootRot], 5);
    assert!(summary.cautions.contains(&Caution::NoObserver));
    assert!(summary.months.iter().all(|month| month.signal.is_none()));
    let with_all = SummaryOptions::new(10.0);
    let summary = summarise(&cases, &with_all).expect("a summary");
    assert!(summary.cautions.contains(&Caution::FewerCowsThanLame { cows: 10.0, lame: 30 }));
    assert!(summary.cautions.contains(&Caution::PeriodFromRecords { from: true, to: true }));
}

/// numpy 2.4.6 `quantile` (type 7) of 0, 1, 2, 3, 5, 8, 13, 21, 34, 55: 2.25, 6.5 and 19.
#[test]
fn days_to_treatment_have_quartiles() {
    let days = [55, 0, 34, 1, 21, 2, 13, 3, 8, 5];
    let mut cases = spread(10, "2025-03-01", 9);
    for (record, days) in cases.records.iter_mut().zip(days) {
        record.first_sign = Some(record.date - chrono::Days::new(days));
    }
    let delay = over(&cases, 200.0, "2025-01-01", "2025-12-31").delay.expect("a delay");
    assert_eq!((delay.median_days, delay.quartiles_days, delay.prompt), (6.5, Some((2.25, 19.0)), 3));
}

#[test]
fn no_summary_without_cows_or_a_period() {
    assert_eq!(summarise(&Cases::default(), &SummaryOptions::new(100.0)), Err(NoSummary::NoPeriod));
    assert_eq!(summarise(&Cases::default(), &SummaryOptions::new(0.0)), Err(NoSummary::Cows(0.0)));
    let (from, to) = (day("2025-12-31"), day("2025-01-01"));
    let backwards = SummaryOptions { from: Some(from), to: Some(to), ..SummaryOptions::new(1.0) };
    assert_eq!(summarise(&Cases::default(), &backwards), Err(NoSummary::Backwards(Period { from, to })));
    let none = over(&Cases::default(), 100.0, "2025-01-01", "2025-12-31");
    assert_eq!((none.cases, none.rate.interval.0), (0, 0.0));
}

fn any_record() -> impl Strategy<Value = CaseRecord> {
    let foot = prop::option::of(prop::sample::select(Foot::ALL.to_vec()));
    let claw = prop::option::of(prop::sample::select(Claw::ALL.to_vec()));
    let lesion = prop::option::of(prop::sample::select(Lesion::ALL.to_vec()));
    let seen_by = prop::option::of(prop::sample::select(Observer::ALL.to_vec()));
    let parity = prop::option::of(0_u8..6);
    (0_u64..90, 0_u32..4, foot, claw, lesion, seen_by, parity, prop::option::of(0_u64..9)).prop_map(
        |(after, cow, foot, claw, lesion, seen_by, parity, delay)| {
            let date = day("2025-01-01") + chrono::Days::new(after);
            CaseRecord {
                date,
                claw,
                lesion,
                seen_by,
                parity,
                first_sign: delay.map(|days| date - chrono::Days::new(days)),
                ..record("2025-01-01", cow, foot)
            }
        },
    )
}

proptest! {
    #[test]
    fn the_order_of_rows_never_matters(
        (sorted, shuffled) in prop::collection::vec(any_record(), 1..40)
            .prop_flat_map(|records| (Just(records.clone()), Just(records).prop_shuffle()))
    ) {
        let options = SummaryOptions { from: Some(day("2025-01-20")), ..SummaryOptions::new(50.0) };
        // The last record may lie before `from`; both orders must then say the same.
        prop_assert_eq!(summarise(&book(sorted), &options), summarise(&book(shuffled), &options));
    }

    #[test]
    fn every_record_is_a_case_or_a_repeat(records in prop::collection::vec(any_record(), 1..40)) {
        let summary = summarise(&book(records.clone()), &SummaryOptions::new(50.0)).expect("a summary");
        prop_assert_eq!(summary.cases + summary.repeats, records.len() as u64);
        prop_assert_eq!(summary.counts.total(), summary.cases);
        prop_assert_eq!(summary.months.iter().map(|month| month.cases).sum::<u64>(), summary.cases);
        prop_assert_eq!(summary.observers.iter().map(|who| who.counts.total()).sum::<u64>(), summary.cases);
        prop_assert!(summary.lame_cows.is_some_and(|cows| cows <= summary.cases));
    }
}
