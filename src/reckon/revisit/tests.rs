//! The comparison as a whole, on the example farm with its records and answers changed.

use super::periods::{NoRates, Season};
use super::*;
use crate::finding::{Findings, SourceText};
use crate::input::{FileSet, read_walk};
use crate::model::Library;
use crate::model::lesion::PerLesion;
use crate::model::walk::{CaseCounts, Records};
use crate::reckon::stats::discrete::{negative_binomial_cdf, negative_binomial_pmf, poisson_quantile};
use crate::reckon::stats::power::{ALPHA, power};
use crate::reckon::{Settings, prepare};

const SETTINGS: Settings = Settings { draws: 1024, seed: 1, rank_by: crate::reckon::RankBy::Cases };

fn read(text: &str) -> (Library, Walk) {
    let source = SourceText::new("walk.yaml", text);
    read_walk(&source, &FileSet::builtin(), &mut Findings::new()).expect("the example has no faults")
}

fn first() -> (Library, Walk) {
    read(include_str!("../../../examples/01-heronsway/walk.yaml"))
}

fn second() -> Walk {
    read(include_str!("../../../examples/01-heronsway/walk-2026.yaml")).1
}

fn day(text: &str) -> NaiveDate {
    text.parse().unwrap()
}

fn records(from: &str, to: &str, average_cows: f64, cases: u64) -> Option<Records> {
    let counts = CaseCounts { by_lesion: PerLesion([0; 7]), unrecorded: cases };
    Some(Records { from: day(from), to: day(to), average_cows, seen_by: Vec::new(), counts: Some(counts) })
}

/// The first walk again, a year later, with these cases in whole years of 1,000 cows.
fn years(before: u64, after: u64) -> (Library, Walk, Walk) {
    let (library, mut walk) = first();
    walk.records = records("2024-10-01", "2025-09-30", 1000.0, before);
    let mut later = walk.clone();
    later.date = day("2026-10-06");
    later.records = records("2025-10-01", "2026-09-30", 1000.0, after);
    (library, walk, later)
}

fn compare(library: &Library, before: &Walk, after: &Walk) -> Result<Revisit, RevisitRefusal> {
    compare_days(library, (before, None), (after, None), None)
}

type WithDays<'a> = (&'a Walk, Option<&'a [NaiveDate]>);

fn compare_days(
    library: &Library,
    before: WithDays,
    after: WithDays,
    actions: Option<&Actions>,
) -> Result<Revisit, RevisitRefusal> {
    let first = prepare(library, before.0, SETTINGS).unwrap();
    let last = prepare(library, after.0, SETTINGS).unwrap();
    let visit = |prepared, case_days| Visit { prepared, case_days, days_to_treatment: None };
    revisit(&[visit(&first, before.1), visit(&last, after.1)], actions)
}

/// Ratio, interval and central p of published two-by-two rates: Boice & Monson 1977 as used by Rothman (recalled), R's
/// `?poisson.test` (seen); digits from R 4.2.2 and scipy 1.17.1. Four years are 1,461 days, so that cow-years are
/// exactly four times the cows.
#[test]
fn rates_meet_the_published_comparisons() {
    for (after, before, ratio, low, high, p) in [
        ((41, 28010.0), (15, 19017.0), Some(1.855758658), 1.005684063, Some(3.609300311), 0.04766024675),
        ((11, 800.0), (21, 3011.0), Some(1.971488095), 0.8584264034, Some(4.277265944), 0.1120173196),
        ((0, 100.0), (5, 100.0), Some(0.0), 0.0, Some(1.091279105), 0.0625),
        ((5, 100.0), (0, 100.0), None, 0.9163558573, None, 0.0625),
    ] {
        let (library, mut walk, mut later) = years(1, 1);
        walk.records = records("2018-01-01", "2021-12-31", before.1 / 4.0, before.0);
        later.records = records("2022-01-01", "2025-12-31", after.1 / 4.0, after.0);
        let got = compare(&library, &walk, &later).unwrap().rates.unwrap().ratio;
        let close = |got: f64, want: f64| assert!((got - want).abs() < 1e-8 * want.max(1.0), "{got} {want}");
        assert_eq!(got.ratio.is_some(), ratio.is_some());
        got.ratio.into_iter().zip(ratio).for_each(|(got, want)| close(got, want));
        got.high.into_iter().zip(high).for_each(|(got, want)| close(got, want));
        close(got.low, low);
        close(got.p_central, p);
    }
}

/// The same farm with the same counts: nothing is found, expected or learnt.
#[test]
fn where_nothing_changed_nothing_is_claimed() {
    let (library, walk, later) = years(190, 190);
    let got = compare(&library, &walk, &later).unwrap();
    assert_eq!(got.verdict, Verdict::MayBeChance);
    assert!((got.expected.mean - 1.0).abs() < 0.01, "{:?}", got.expected);
    assert_eq!(got.expected.agrees, Some(true));
    assert!(got.factors.iter().all(|factor| !factor.state.is_better()));
    assert_eq!(got.learned, Err(learning::NotLearned::NothingChanged));
    assert_eq!(got.months_to_see, None);
    assert!(got.cautions.is_empty(), "{:?}", got.cautions);
    let unanswered = got.items.iter().filter(|item| item.state == changes::State::Neither).count();
    assert!(unanswered > 0, "skipped items are not looked at, not good");
}

/// With one ratio in every draw the count to be expected is negative binomial (Gelman et al. 2013, section 2.7): shape
/// that of the farm's rate after the first count.
#[test]
fn the_range_of_counts_is_the_exact_mixture() {
    let (library, walk, later) = years(190, 150);
    let prepared = prepare(&library, &walk, Settings { draws: 4096, ..SETTINGS }).unwrap();
    let last = prepare(&library, &later, Settings { draws: 4096, ..SETTINGS }).unwrap();
    let rates = rates(&Visit::new(&prepared), &Visit::new(&last)).unwrap();
    let got = expected::expected(&prepared, &[0.8; 4096], &[0.8; 4096], Some(&rates));
    let herd = &prepared.herd;
    let shape = herd.prior_shape + 190.0;
    let cow_years = rates.compared.before.cow_years;
    let per_cow_year = shape / (100.0 * herd.prior_shape / herd.prior_mean_per_100_cow_years + cow_years);
    let mean = 0.8 * per_cow_year * rates.compared.after.cow_years;
    let place = negative_binomial_cdf(150, shape, mean) - 0.5 * negative_binomial_pmf(150, shape, mean);
    assert!((got.place.unwrap() - place).abs() < 1e-3, "{got:?} {place}");
    let (low, high) = got.range.unwrap();
    let beyond = |ratio: f64| negative_binomial_cdf((190.0 * ratio).round() as u64, shape, mean);
    assert!((0.02..0.05).contains(&beyond(low)), "{}", beyond(low));
    assert!((0.97..0.98).contains(&beyond(high)), "{}", beyond(high));
}

#[test]
fn verdicts_claim_no_more_than_the_counts_bear() {
    let verdict = |before, after| {
        let (library, walk, later) = years(before, after);
        compare(&library, &walk, &later).unwrap().verdict
    };
    assert_eq!(verdict(3, 0), Verdict::TooFew);
    assert_eq!(verdict(8, 0), Verdict::TooFew, "p is under 0.01, and yet it is eight cows");
    assert_eq!(verdict(60, 45), Verdict::MayBeChance);
    assert_eq!(verdict(190, 100), Verdict::FewerWithoutChange);
    assert_eq!(verdict(100, 190), Verdict::More);

    let improved = |before, after| {
        let (library, walk, _) = years(before, after);
        let mut later = second();
        later.records = records("2025-10-08", "2026-10-07", 1000.0, after);
        compare(&library, &walk, &later).unwrap()
    };
    let as_expected = improved(600, 470);
    assert_eq!(as_expected.verdict, Verdict::FewerAsExpected, "{:?}", as_expected.expected);
    assert!(as_expected.drift.unwrap().could_explain);
    let beyond = improved(600, 60);
    assert_eq!(beyond.verdict, Verdict::FewerThanExpected);
    assert!(!beyond.drift.unwrap().could_explain);
}

/// A fall to a hundredth is beyond what any draw of the weights allows for: no weights then, and the reason.
#[test]
fn what_the_weights_can_not_explain_teaches_nothing() {
    let (library, walk, _) = years(20_000, 1);
    let mut later = second();
    later.records = records("2025-10-08", "2026-10-07", 1000.0, 200);
    let got = compare(&library, &walk, &later).unwrap().learned.unwrap_err();
    let learning::NotLearned::FewEffective { effective_draws, draws } = got else { panic!("{got:?}") };
    assert!(draws == 1024 && (1.0..0.05 * 1024.0).contains(&effective_draws));
    later.records = records("2025-10-08", "2026-10-07", 1000.0, 150);
    let (library, walk, _) = years(190, 1);
    let learned = compare(&library, &walk, &later).unwrap().learned.unwrap();
    assert!(learned.weights.iter().all(|weight| weight.after.interval.0 < weight.after.interval.1));
}

/// No verdict of fewer cases without an interval below 1, whatever the counts.
#[test]
fn fewer_is_never_said_of_an_interval_that_holds_one() {
    let (library, walk, _) = years(1, 1);
    let fewer = [
        Verdict::FewerAsExpected,
        Verdict::FewerThanExpected,
        Verdict::LessThanExpected,
        Verdict::FewerWithoutChange,
    ];
    for (before, after) in (0..20_u64).map(|at| (at * 19 % 61, at * 13 % 43)) {
        let (mut walk, mut later) = (walk.clone(), second());
        walk.records = records("2024-10-01", "2025-09-30", 280.0, before);
        later.records = records("2025-10-01", "2026-09-30", 280.0, after);
        let settings = Settings { draws: 256, ..SETTINGS };
        let (first, last) =
            (prepare(&library, &walk, settings).unwrap(), prepare(&library, &later, settings).unwrap());
        let got = revisit(&[Visit::new(&first), Visit::new(&last)], None).unwrap();
        let high = got.rates.as_ref().ok().and_then(|rates| rates.ratio.high);
        assert!(!fewer.contains(&got.verdict) || high.is_some_and(|high| high < 1.0), "{before} {after}");
    }
}

/// A year with four times the lameness from October to March, and nothing else: half a year against the other half, or a
/// year against its good half, must not be called an improvement.
#[test]
fn a_season_is_never_called_an_improvement() {
    let in_months = |months: &[(i32, u32, u64)]| -> Vec<NaiveDate> {
        let of = |(year, month, cases): &(i32, u32, u64)| {
            vec![NaiveDate::from_ymd_opt(*year, *month, 15).unwrap(); *cases as usize]
        };
        months.iter().flat_map(of).collect()
    };
    let bad =
        |year: i32| [(year, 10, 24), (year, 11, 24), (year, 12, 24), (year + 1, 1, 24), (year + 1, 2, 24)];
    let good = |year| [(year, 4, 6), (year, 5, 6), (year, 6, 6), (year, 7, 6), (year, 8, 6), (year, 9, 6)];
    let winter = in_months(&[&bad(2024)[..], &[(2025, 3, 24)]].concat());
    let whole_year = in_months(&[&bad(2024)[..], &[(2025, 3, 24)], &good(2025)].concat());
    let summer = in_months(&good(2026));
    let (library, mut walk, _) = years(1, 1);
    let mut later = second();
    walk.records = records("2024-10-01", "2025-03-31", 1000.0, winter.len() as u64);
    later.records = records("2026-04-01", "2026-09-30", 1000.0, summer.len() as u64);

    let halves = compare_days(&library, (&walk, Some(&winter)), (&later, Some(&summer)), None).unwrap();
    assert_eq!(halves.verdict, Verdict::NotComparable);
    assert_eq!(halves.rates.unwrap().compared.season, Season::NoMonthInCommon);

    walk.records = records("2024-10-01", "2025-09-30", 1000.0, whole_year.len() as u64);
    let unknown = compare(&library, &walk, &later).unwrap();
    assert!(unknown.rates.as_ref().unwrap().ratio.p_central < 0.001, "the bare totals would mislead");
    assert_eq!(unknown.verdict, Verdict::NotComparable);
    assert_eq!(unknown.rates.unwrap().compared.season, Season::NoCaseDays);
    assert_eq!(unknown.learned, Err(learning::NotLearned::NotComparable));

    let matched = compare_days(&library, (&walk, Some(&whole_year)), (&later, Some(&summer)), None).unwrap();
    assert_eq!(matched.verdict, Verdict::MayBeChance);
    let rates = matched.rates.unwrap();
    assert_eq!(rates.compared.season, Season::SameMonths(vec![4, 5, 6, 7, 8, 9]));
    assert_eq!((rates.compared.before.cases, rates.compared.after.cases), (36, 36));
    assert_eq!(rates.ratio.ratio, Some(1.0));
}

#[test]
fn walks_that_do_not_belong_together_are_refused() {
    let (library, walk, later) = years(60, 50);
    let refused = |before: &Walk, after: &Walk| compare(&library, before, after).unwrap_err();
    let mut other = later.clone();
    other.farm_name = "Tussock Flat".into();
    assert!(matches!(refused(&walk, &other), RevisitRefusal::TwoFarms { .. }));
    let (mut coded, mut other_coded) = (walk.clone(), other);
    coded.farm_code = Some("k7".into());
    other_coded.farm_code = coded.farm_code.clone();
    let renamed = compare(&library, &coded, &other_coded).unwrap();
    assert!(matches!(renamed.cautions[..], [Caution::Renamed { .. }]));
    let mut spaced = later.clone();
    spaced.farm_name = " heronsWay ".into();
    assert!(compare(&library, &walk, &spaced).unwrap().cautions.is_empty());
    let mut short = later.clone();
    short.checklist = "self-check".into();
    assert!(matches!(refused(&walk, &short), RevisitRefusal::TwoChecklists { .. }));
    assert!(matches!(refused(&later, &walk), RevisitRefusal::Order { .. }));
    assert!(matches!(refused(&walk, &walk), RevisitRefusal::Order { .. }));
    let prepared = prepare(&library, &walk, SETTINGS).unwrap();
    assert_eq!(revisit(&[Visit::new(&prepared)], None).unwrap_err(), RevisitRefusal::OneWalk);
    let actions = Actions { farm: "Mill".into(), walk_date: walk.date, currency: None, list: Vec::new() };
    let got = compare_days(&library, (&walk, None), (&later, None), Some(&actions)).unwrap_err();
    assert!(matches!(got, RevisitRefusal::ActionsOfOtherFarm { .. }));
}

#[test]
fn records_that_can_not_be_compared_say_why_and_the_rest_is_told() {
    let (library, walk, later) = years(60, 50);
    let reason = |before: Option<Records>, after: Option<Records>| {
        let (mut walk, mut later) = (walk.clone(), later.clone());
        (walk.records, later.records) = (before, after);
        let got = compare(&library, &walk, &later).unwrap();
        assert_eq!(got.verdict, Verdict::NoRatio);
        assert!(!got.items.is_empty() && got.line.len() == 2);
        got.rates.unwrap_err()
    };
    let year = || records("2024-10-01", "2025-09-30", 280.0, 50);
    assert_eq!(reason(year(), None), NoRates::NoRecords { before: false, after: true });
    assert_eq!(reason(None, year()), NoRates::NoRecords { before: true, after: false });
    let overlap = NoRates::Overlap { from: day("2025-09-01"), to: day("2025-09-30") };
    assert_eq!(reason(year(), records("2025-09-01", "2026-08-31", 280.0, 40)), overlap);
    assert_eq!(reason(year(), records("2023-09-01", "2024-08-31", 280.0, 40)), NoRates::Reversed);
    let none = records("2025-10-01", "2026-09-30", 280.0, 0);
    assert_eq!(reason(records("2024-10-01", "2025-09-30", 280.0, 0), none), NoRates::NoCases);
}

#[test]
fn a_herd_that_doubled_is_another_herd() {
    let (library, walk, mut later) = years(190, 100);
    later.records = records("2025-10-01", "2026-09-30", 2000.0, 100);
    let got = compare(&library, &walk, &later).unwrap();
    assert_eq!(got.verdict, Verdict::NotComparable);
    assert!(got.cautions.contains(&Caution::HerdChanged { before: 1000.0, after: 2000.0 }));
}

/// The months that the comparison asks for, against counts drawn and tested one by one.
#[test]
fn months_to_see_hold_in_a_simulation() {
    let (library, mut walk) = first();
    walk.records = records("2024-10-01", "2025-09-30", 5000.0, 950);
    let got = compare(&library, &walk, &second()).unwrap();
    let prepared = prepare(&library, &walk, SETTINGS).unwrap();
    let months = got.months_to_see.expect("five thousand cows show it");
    let per_month = prepared.herd.mean_per_100_cow_years * 50.0 / 12.0;
    let baseline = 365.0 / DAYS_A_MONTH;
    let draws = Draws::new(16_384, 7).unwrap();
    let (first, last) = (draws.uniforms("core", 0), draws.uniforms("core", 1));
    let simulated = |months: u32| {
        let told = |(u, v): (&f64, &f64)| {
            let before = poisson_quantile(*u, per_month * baseline).unwrap();
            let after = poisson_quantile(*v, per_month * got.expected.in_full * f64::from(months)).unwrap();
            rate_ratio(after, f64::from(months), before, baseline, LEVEL).unwrap().p_central <= ALPHA
        };
        first.iter().zip(&last).filter(|pair| told(*pair)).count() as f64 / 16_384.0
    };
    let exact =
        power(per_month, baseline, per_month * got.expected.in_full, f64::from(months), ALPHA).unwrap();
    assert!((simulated(months) - exact).abs() < 0.01);
    assert!(simulated(months) >= 0.79);
    assert!(months == 1 || simulated((months / 2).max(1)) < 0.8);
}

fn agreed(what: What, by: Option<&str>, done: Option<&str>) -> Action {
    Action {
        what,
        who: None,
        by: by.map(day),
        agreed_cost: None,
        done: done.map(day),
        done_share: 1.0,
        real_cost: None,
        note: None,
    }
}

fn option(id: &str, segment: Option<&str>) -> What {
    What::Option { id: id.into(), segment: segment.map(Into::into) }
}

#[test]
fn actions_are_held_against_what_the_walk_found() {
    let (library, walk) = first();
    let later = second();
    let list = vec![
        agreed(option("build-apron", None), None, Some("2025-11-21")),
        agreed(option("cap-track", Some("home-lane")), None, Some("2026-01-10")),
        agreed(option("drift-home", None), Some("2026-03-15"), None),
    ];
    let actions =
        Actions { farm: "Heronsway".into(), walk_date: walk.date, currency: Some("EUR".into()), list };
    let got = compare_days(&library, (&walk, None), (&later, None), Some(&actions)).unwrap();
    let states = |at: usize| got.actions[at].seen.iter().map(|(_, state)| *state).collect::<Vec<_>>();
    assert_eq!(states(0), [changes::State::PutRight]);
    assert!(states(1).iter().all(|state| !state.is_better()), "said to be done, not seen: {:?}", states(1));
    assert_eq!(got.actions[2].standing, Standing::Overdue(205));
    assert!(got.actions[2].seen.is_empty());
    assert!(got.cautions.contains(&Caution::BeforeEffect { action: 0, effect: day("2026-01-16") }));
    // Days counted before the apron could show bring the expected fall down.
    assert!(got.expected.mean > got.expected.in_full + 0.01, "{:?}", got.expected);
    let weeks: Vec<Option<f64>> = got.signs.iter().map(|sign| sign.weeks_to_cases).collect();
    assert_eq!(weeks, [Some(6.0), Some(8.0), Some(10.0)], "what shows soonest comes first");
}

/// By hand: the apron is 45 m2, so 5,640 is 125.33 a square metre; the home lane is 180 m of 4.6 m, so 9,936 for
/// the whole of it is 12, and 4,968 for half of it is 12 too.
#[test]
fn a_real_cost_takes_the_place_of_the_price() {
    let (library, walk) = first();
    let done = |what, cost, done_share| Action {
        real_cost: Some(cost),
        done_share,
        ..agreed(what, None, Some("2026-01-10"))
    };
    let list = vec![
        done(option("build-apron", None), 5640.0, 1.0),
        done(option("cap-track", Some("home-lane")), 4968.0, 0.5),
        done(option("cap-track", Some("gone-lane")), 1.0, 1.0),
        done(What::Words("a new latch".into()), 40.0, 1.0),
    ];
    let mut actions =
        Actions { farm: "Heronsway".into(), walk_date: walk.date, currency: Some("EUR".into()), list };
    let priced = real_costs::priced_by_experience(&library, &walk, &actions);
    let capital = |id: &str| {
        priced.prices.iter().find(|price| price.option == id).and_then(|price| price.capital).unwrap().likely
    };
    assert!((capital("build-apron") - 5640.0 / 45.0).abs() < 1e-9);
    assert!((capital("cap-track") - 12.0).abs() < 1e-9);
    let kept = priced.prices.iter().find(|price| price.option == "cap-track").and_then(|price| price.yearly);
    assert!(kept.is_some_and(|yearly| yearly.likely == 0.7), "the yearly price stays the farm's own");
    actions.currency = Some("NZD".into());
    assert_eq!(real_costs::priced_by_experience(&library, &walk, &actions), walk);
}

/// Looking at more than last time is no change of the farm.
#[test]
fn an_item_that_one_walk_left_out_is_no_change() {
    let (library, walk, mut later) = years(190, 190);
    let yard = library.factors.iter().position(|factor| factor.id == "yard-pressure").unwrap();
    for answer in &mut later.answers {
        if answer.item == "heads-up-yard" {
            answer.given[0].answer = crate::model::walk::Answer::Share { count: 45, of: 50 };
        }
    }
    let got = compare(&library, &walk, &later).unwrap();
    let change = got.factors.iter().find(|change| change.factor == yard).unwrap();
    assert_eq!(change.state, changes::State::AsBefore);
    assert!((got.expected.mean - 1.0).abs() < 0.01);
    let mut only = walk.clone();
    only.answers.retain(|answer| !["backing-gate", "pushes-counted"].contains(&answer.item.as_str()));
    later.answers.retain(|answer| answer.item != "backing-gate");
    let got = compare(&library, &only, &later).unwrap();
    let change = got.factors.iter().find(|change| change.factor == yard).unwrap();
    assert_eq!((change.state, change.change), (changes::State::OnlyAfter, None));
    let mut gate = walk.clone();
    gate.answers.retain(|answer| answer.item != "pushes-counted");
    let got = compare(&library, &gate, &later).unwrap();
    let change = got.factors.iter().find(|change| change.factor == yard).unwrap();
    assert_eq!((change.state, change.change), (changes::State::OtherItems, None));
}

/// The first is compared with the last, and all make up the line.
#[test]
fn more_than_two_walks_make_a_line() {
    let (library, walk, later) = years(190, 150);
    let mut third = later.clone();
    third.date = day("2027-10-05");
    third.records = records("2026-10-01", "2027-09-30", 1000.0, 120);
    let all = [&walk, &later, &third].map(|walk| prepare(&library, walk, SETTINGS).unwrap());
    let [a, b, c] = &all;
    let got = revisit(&[Visit::new(a), Visit::new(b), Visit::new(c)], None).unwrap();
    assert_eq!(got.rates.unwrap().compared.after.cases, 120);
    let cases: Vec<u64> = got.line.iter().filter_map(|moment| Some(moment.rate?.0)).collect();
    assert_eq!(cases, [190, 150, 120]);
    assert!(got.line.iter().all(|moment| moment.score.is_some()));
    let order = revisit(&[Visit::new(a), Visit::new(c), Visit::new(b)], None).unwrap_err();
    assert!(matches!(order, RevisitRefusal::Order { .. }));
}

#[test]
fn the_example_shows_partly_worse_and_unlooked_at_things() {
    let (library, walk) = first();
    let got = compare(&library, &walk, &second()).unwrap();
    let state = |item: &str, segment: Option<&str>| {
        let found = got.items.iter().find(|it| it.item == item && it.segment.as_deref() == segment);
        found.map(|it| it.state).unwrap()
    };
    use changes::State::*;
    assert_eq!(state("joint-build", None), PutRight);
    assert_eq!(state("rubber-stops", None), Partly);
    assert_eq!(state("fetching", None), AsBefore);
    assert_eq!(state("track-surface", Some("river-lane")), Worse);
    assert_eq!(state("overgrown", None), OnlyBefore);
    assert_eq!(state("heads-up-yard", None), OnlyAfter);
    assert_eq!(state("track-fines-depth", Some("quarry-lane")), Neither);
    assert_eq!(got.line.len(), 2);
}
