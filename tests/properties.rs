//! What must hold of every farm, whatever its answers.

mod small;

use std::collections::BTreeMap;

use proptest::prelude::*;
use small::{Small, settings};
use underfoot::finding::{Findings, SourceText};
use underfoot::input::{self, FileSet};
use underfoot::job;
use underfoot::model::Library;
use underfoot::model::lesion::Lesion;
use underfoot::model::walk::Walk;
use underfoot::reckon::{self, Estimate, Outcome, RankBy, Settings};

const DRAWS: usize = 256;

/// Exposures of six items in thousandths; one in four was not looked at.
type Answers = [Option<u32>; 6];

fn answers() -> impl Strategy<Value = Answers> {
    prop::array::uniform6(prop::option::weighted(0.75, 0_u32..=1000))
}

const FACTORS: [(&str, &str, &str); 5] = [
    ("stones", "white-line: 1, sole-penetration: 1, foot-rot: 0.5", "cluster: track"),
    ("water", "white-line: 0.5, foot-rot: 1", "cluster: track, judgement: large"),
    ("pushing", "white-line: 1, axial-fissure: 1", "judgement: small"),
    ("standing", "sole-ulcer: 1, white-line: 0.5", ""),
    ("mats", "sole-ulcer: 1", ""),
];

const OPTIONS: [(&str, &str, &str); 5] = [
    ("cap", "stones: 0.1", "each: segment, capital: { per: m2, amount: [8, 14, 25] }"),
    ("drain", "water: 0.05, stones: 0.2", "achieved: { mean: 0.6, sd: 0.15 }"),
    ("patience", "pushing: 0.1", "yearly: { per: cow, amount: [1, 2, 4] }"),
    ("treat", "", "shortens_cases: { ratio: 0.7, interval: [0.5, 0.95] }"),
    ("lay", "mats: 0, standing: 0.3", ""),
];

/// A farm of two segments. `answers`: stones near and far, water, pushing, standing, mats. `turn`
/// says by how many places each list of its files is turned round.
fn farm(answers: Answers, turn: usize) -> Small {
    let number = "kind: number, unit: mm, scale: [[0, 0], [1, 1]]";
    let value = |x: Option<u32>| x.map(|x| format!("{{ value: {} }}", f64::from(x) / 1000.0));
    let mut small = Small::new();
    for (id, acts_on, rest) in turned(&FACTORS, turn) {
        small = small.factor(id, acts_on, rest);
    }
    small = small
        .effect("a", "stones", "estimate: 1.8, interval: [1.2, 2.7]")
        .effect("b", "pushing", "outcome: white-line, estimate: 1.6, interval: [1.1, 2.3]")
        .effect("c", "water", "estimate: 1.4")
        .effect("d", "stones", "estimate: 1.2, interval: [0.8, 1.8]");
    for (id, to, rest) in turned(&OPTIONS, turn) {
        small = small.option(id, to, rest);
    }
    small = small
        .segment("near", "length_m: 100, width_m: 4")
        .segment("far", "length_m: 300, width_m: 3, herd_share: 0.4");
    let stones: Vec<String> = [("near", answers[0]), ("far", answers[1])]
        .into_iter()
        .filter_map(|(segment, x)| Some(format!("{segment}: {}", value(x)?)))
        .collect();
    let stones = if stones.is_empty() { String::new() } else { format!("{{ {} }}", stones.join(", ")) };
    small = small.item("stones", "stones", &format!("each: segment, {number}"), &stones);
    for (at, factor) in [(2, "water"), (3, "pushing"), (4, "standing"), (5, "mats")] {
        small = small.item(factor, factor, number, &value(answers[at]).unwrap_or_default());
    }
    for lines in
        [&mut small.sources, &mut small.effects, &mut small.items, &mut small.segments, &mut small.answers]
    {
        let by = turn % lines.len().max(1);
        lines.rotate_left(by);
    }
    small.with("records: { from: 2025-03-01, to: 2026-02-28, average_cows: 190, counts: { white-line: 21, sole-ulcer: 2, unrecorded: 8 } }")
}

fn turned<T: Copy>(lines: &[T], by: usize) -> Vec<T> {
    let mut lines = lines.to_vec();
    lines.rotate_left(by % FACTORS.len());
    lines
}

/// Every figure of an outcome by name.
fn figures(small: &Small, outcome: &Outcome) -> BTreeMap<String, f64> {
    let (library, walk) = small.read();
    let mut figures = BTreeMap::new();
    let mut put = |name: String, value: Option<f64>| figures.insert(name, value.unwrap_or(-1.0));
    put("score".to_owned(), outcome.score.value);
    put("score low".to_owned(), outcome.score.interval.map(|interval| interval.0));
    put("score worst".to_owned(), outcome.score.bounds.map(|bounds| bounds.1));
    put("kappa".to_owned(), Some(outcome.plausibility.kappa));
    let mut estimate = |name: String, estimate: Option<Estimate>| {
        put(format!("{name}, low"), estimate.map(|it| it.interval.0));
        put(format!("{name}, high"), estimate.map(|it| it.interval.1));
        put(name, estimate.map(|it| it.mean));
    };
    estimate("cases".to_owned(), Some(outcome.burden.cases_per_year));
    estimate("days".to_owned(), Some(outcome.burden.lame_days_per_year));
    estimate("unexplained".to_owned(), Some(outcome.burden.unexplained));
    for lesion in Lesion::ALL {
        estimate(lesion.id().to_owned(), Some(outcome.burden.by_lesion[lesion]));
    }
    for factor in &outcome.factors {
        let id = &library.factors[factor.weight.factor].id;
        estimate(format!("attributed {id}"), factor.attributed.as_ref().map(|it| it.cases));
        estimate(format!("exposure {id}"), factor.exposure);
        for (segment, x) in walk.segments.iter().zip(factor.exposure_by_segment.iter().flatten()) {
            estimate(
                format!("exposure {id} {}", segment.id),
                Some(Estimate { mean: *x, interval: (0.0, 0.0) }),
            );
        }
    }
    for option in &outcome.options {
        let id = &option.id;
        estimate(format!("{id} cases"), Some(option.cases_avoided));
        estimate(format!("{id} days"), Some(option.lame_days_avoided));
        estimate(format!("{id} saved"), option.saved);
        let net = option.money.as_ref().ok().and_then(|money| money.net_benefit);
        estimate(format!("{id} net"), net);
        estimate(
            format!("{id} best"),
            Some(Estimate { mean: option.chances.best, interval: (0.0, option.chances.top3) }),
        );
    }
    figures
}

fn prior_mean(small: &Small) -> f64 {
    small.reckon(DRAWS).burden.herd.prior_mean_per_100_cow_years
}

/// The first three actions are those of plain greed: at each step every option that still fits is tried,
/// and the one that adds most to those before it is taken.
#[track_caller]
fn the_first_actions_are_greedy(library: &Library, walk: &Walk, rank_by: RankBy) {
    let prepared = reckon::prepare(library, walk, Settings { rank_by, ..settings(DRAWS) }).unwrap();
    let outcome = prepared.outcome().unwrap();
    let brings = |set: &[usize]| prepared.measure(&prepared.set_gain(set), set);
    let (mut chosen, mut reached): (Vec<usize>, f64) = (Vec::new(), 0.0);
    while chosen.len() < 3 {
        let free = |option: usize| {
            !chosen.contains(&option) && !chosen.iter().any(|&other| prepared.exclude(option, other))
        };
        let with = |option: usize| {
            let needs = prepared.needed_by(option).into_iter().filter(|needed| free(*needed));
            let set: Vec<usize> = chosen.iter().copied().chain(needs).chain([option]).collect();
            (brings(&set), set)
        };
        let all = (0..prepared.options.len()).filter(|option| free(*option)).map(with);
        match all.max_by(|a, b| a.0.total_cmp(&b.0)) {
            Some((brought, set)) if brought > reached => (chosen, reached) = (set, brought),
            _ => break,
        }
    }
    let got = prepared.first_actions(&outcome.alone(&prepared), 3);
    // Ties may fall either way; what is reached may not.
    assert!(
        (brings(&got) - reached).abs() <= 1e-9 * reached,
        "{rank_by:?}: {got:?}, by plain greed {chosen:?}"
    );
}

#[test]
fn the_demo_farms_first_actions_are_greedy() {
    for text in [
        include_str!("../examples/01-heronsway/walk.yaml"),
        include_str!("../examples/02-tussock-flat/walk.yaml"),
        include_str!("../examples/03-marlpit-fold/walk.yaml"),
    ] {
        let source = SourceText::new("walk.yaml", text);
        let (library, walk) = input::read_walk(&source, &FileSet::builtin(), &mut Findings::new()).unwrap();
        the_first_actions_are_greedy(&library, &walk, RankBy::Cases);
        the_first_actions_are_greedy(&library, &walk, RankBy::LameDays);
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 12, failure_persistence: None, ..ProptestConfig::default() })]

    /// A worse answer never lowers the score, its bounds, or the rate that the walk expects: every
    /// weight of this farm is positive at its mean.
    #[test]
    fn a_worse_answer_never_looks_better(answers in answers(), at in 0_usize..6, by in 1_u32..=1000) {
        let mut worse = answers;
        worse[at] = answers[at].map(|x| (x + by).min(1000));
        let (before, after) = (farm(answers, 0).reckon(DRAWS), farm(worse, 0).reckon(DRAWS));
        if let (Some(before), Some(after)) = (before.score.value, after.score.value) {
            prop_assert!(after >= before - 1e-9, "{before} to {after}");
        }
        if let (Some(before), Some(after)) = (before.score.bounds, after.score.bounds) {
            prop_assert!(after.0 >= before.0 - 1e-9 && after.1 >= before.1 - 1e-9);
        }
        let means = [&before, &after].map(|outcome| outcome.burden.herd.prior_mean_per_100_cow_years);
        prop_assert!(means[1] >= means[0] - 1e-9, "{means:?}");
        for lesion in Lesion::ALL {
            prop_assert!(after.burden.herd.relative[lesion] >= before.burden.herd.relative[lesion] - 1e-9);
        }
    }

    /// The bounds hold the score, and what was left out only widens them: the score with the answer
    /// lies within the bounds without it.
    #[test]
    fn what_was_not_looked_at_is_never_scored_as_good(answers in answers(), at in 2_usize..6) {
        let before = farm(answers, 0).reckon(DRAWS).score;
        let mut less = answers;
        less[at] = None;
        let after = farm(less, 0).reckon(DRAWS).score;
        for score in [&before, &after] {
            if let (Some(value), Some((best, worst))) = (score.value, score.bounds) {
                prop_assert!(best <= value + 1e-9 && value <= worst + 1e-9, "{value} in {best} to {worst}");
                let (low, high) = score.interval.unwrap();
                prop_assert!((0.0..=100.0).contains(&value) && low <= high && best >= 0.0 && worst <= 100.0 + 1e-9);
            }
        }
        if let (Some(value), Some((best, worst))) = (before.value, after.bounds) {
            prop_assert!(best <= value + 1e-9 && value <= worst + 1e-9, "{value} in {best} to {worst}");
            let (inner_best, inner_worst) = before.bounds.unwrap();
            prop_assert!(best <= inner_best + 1e-9 && inner_worst <= worst + 1e-9);
        }
        prop_assert!(after.answered <= before.answered && after.asked == before.asked);
    }

    /// A stretch of track that nobody looked at is taken to be as the others are: neither better nor worse.
    #[test]
    fn a_stretch_not_looked_at_changes_no_mean(x in 0_u32..=1000, rest in answers()) {
        let (mut one, mut both) = (rest, rest);
        (one[0], one[1]) = (Some(x), None);
        (both[0], both[1]) = (Some(x), Some(x));
        let (one, both) = (farm(one, 0).reckon(DRAWS), farm(both, 0).reckon(DRAWS));
        prop_assert!((one.score.value.unwrap() - both.score.value.unwrap()).abs() < 1e-9);
    }

    /// In which order factors, options, effects, sources, items, segments and answers are written
    /// plays no part.
    #[test]
    fn order_in_the_files_plays_no_part(answers in answers(), turn in 1_usize..5) {
        let (straight, turned) = (farm(answers, 0), farm(answers, turn));
        let a = figures(&straight, &straight.reckon(DRAWS));
        let b = figures(&turned, &turned.reckon(DRAWS));
        prop_assert_eq!(a.keys().collect::<Vec<_>>(), b.keys().collect::<Vec<_>>());
        for (name, a) in &a {
            prop_assert!((a - b[name]).abs() <= 1e-12 * a.abs().max(1.0) * 100.0, "{}: {} and {}", name, a, b[name]);
        }
    }

    /// All cases are either attributed or left unexplained, in total and for each lesion; every
    /// interval runs upwards.
    #[test]
    fn shares_add_up_to_all_cases(answers in answers()) {
        let outcome = farm(answers, 0).reckon(DRAWS);
        let attributed: f64 = outcome.factors.iter().filter_map(|it| Some(it.attributed.as_ref()?.cases.mean)).sum();
        let all = outcome.burden.cases_per_year.mean;
        prop_assert!((attributed + outcome.burden.unexplained.mean - all).abs() < 1e-9 * all);
        for lesion in Lesion::ALL {
            let here: f64 =
                outcome.factors.iter().filter_map(|it| Some(it.attributed.as_ref()?.by_lesion[lesion])).sum();
            let all = outcome.burden.by_lesion[lesion].mean;
            let sum = here + outcome.burden.unexplained_by_lesion[lesion];
            prop_assert!((sum - all).abs() < 1e-9 * all.max(1.0), "{}", lesion.id());
        }
        let mut estimates = vec![outcome.burden.cases_per_year, outcome.burden.unexplained];
        for option in &outcome.options {
            estimates.extend([option.cases_avoided, option.lame_days_avoided]);
            estimates.extend(option.saved);
            prop_assert!((0.0..=1.0).contains(&option.chances.best) && option.chances.best <= option.chances.top3);
        }
        for Estimate { mean, interval: (low, high) } in estimates {
            prop_assert!(mean.is_finite() && low <= high, "{mean} {low} {high}");
        }
        let best: f64 = outcome.options.iter().map(|option| option.chances.best).sum();
        prop_assert!(best <= 1.0 + 1e-9);
        let ranks: Vec<usize> = outcome.options.iter().map(|option| option.rank).collect();
        prop_assert_eq!(ranks, (1..=outcome.options.len()).collect::<Vec<_>>());
        prop_assert!(outcome.options.windows(2).all(|pair| pair[0].cases_avoided.mean >= pair[1].cases_avoided.mean));
    }

    /// A short cut through the options finds what plain greed finds.
    #[test]
    fn the_first_actions_of_any_farm_are_greedy(answers in answers()) {
        let (library, walk) = farm(answers, 0).read();
        for rank_by in [RankBy::Cases, RankBy::LameDays] {
            the_first_actions_are_greedy(&library, &walk, rank_by);
        }
    }

    /// An option more moves no figure of another by a single bit; only the chances are shared anew.
    #[test]
    fn an_added_option_moves_no_other(answers in answers(), seed in 0_u64..1000) {
        let with = |small: &Small| {
            let (library, walk) = small.read();
            let outcome = reckon::reckon(&library, &walk, Settings { seed, ..settings(DRAWS) }).unwrap();
            outcome.options.into_iter().map(|it| (it.id.clone(), it)).collect::<BTreeMap<_, _>>()
        };
        let small = farm(answers, 0);
        let mut more = small.clone();
        more = more.option("another", "water: 0, pushing: 0", "shortens_cases: { ratio: 0.5, interval: [0.3, 0.9] }");
        more.options.rotate_right(1);
        let (before, after) = (with(&small), with(&more));
        for (id, before) in &before {
            let after = &after[id];
            prop_assert_eq!(before.cases_avoided, after.cases_avoided);
            prop_assert_eq!(before.lame_days_avoided, after.lame_days_avoided);
            prop_assert_eq!(before.saved, after.saved);
            prop_assert_eq!(&before.money, &after.money);
            prop_assert!(after.chances.best <= before.chances.best);
        }
    }

    /// The same input gives the same bytes, whatever the seed.
    #[test]
    fn the_same_input_gives_the_same_bytes(answers in answers(), seed: u64) {
        let small = farm(answers, 0);
        let source = SourceText::new("walk.yaml", small.walk_text());
        let bytes = || {
            let mut findings = Findings::new();
            let farm = job::read_farm(&source, &small.files(), &mut findings).unwrap();
            let reckoned = job::reckon(&farm, Settings { seed, ..settings(DRAWS) }).unwrap();
            job::json(&reckoned.facts()).unwrap()
        };
        prop_assert_eq!(bytes(), bytes());
    }
}

/// Another seed moves a mean by less than a fortieth of its interval: far less than anyone should read
/// into it.
#[test]
fn another_seed_says_the_same() {
    let small = farm([Some(900), Some(300), Some(600), Some(1000), Some(200), Some(700)], 0);
    let (library, walk) = small.read();
    let with = |seed| {
        let outcome = reckon::reckon(&library, &walk, Settings { seed, ..settings(4096) }).unwrap();
        figures(&small, &outcome)
    };
    let (first, second) = (with(1), with(2));
    assert_ne!(first, second);
    for (name, a) in &first {
        let Some((low, high)) = first.get(&format!("{name}, low")).zip(first.get(&format!("{name}, high")))
        else {
            continue;
        };
        let b = second[name];
        assert!((a - b).abs() <= 0.025 * (high - low), "{name}: {a} and {b} in {low} to {high}");
    }
}

/// Nothing at all was looked at: no score, no bounds, no interval, and only options that shorten cases.
#[test]
fn an_empty_walk_has_no_score() {
    let small = farm([None; 6], 0);
    let outcome = small.reckon(DRAWS);
    assert_eq!((outcome.score.value, outcome.score.interval, outcome.score.bounds), (None, None, None));
    assert_eq!(outcome.options.iter().map(|it| it.id.as_str()).collect::<Vec<_>>(), ["treat"]);
    assert!((prior_mean(&small) - 15.0).abs() < 1e-9, "herds at large");
}
