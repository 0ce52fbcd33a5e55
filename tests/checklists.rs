//! The shipped checklists: every answer can be given and scores, a worse one never looks better, `check`
//! finds nothing unexplained, and the farmer's own look agrees with the adviser's.

use proptest::prelude::*;
use underfoot::finding::{Findings, SourceText};
use underfoot::input::{self, FileSet};
use underfoot::model::Library;
use underfoot::model::checklist::{Item, Kind, Scale};
use underfoot::model::intervention::Each;
use underfoot::reckon::{self, Outcome, RankBy, Settings};
use underfoot::show::caret::render;

const CHECKLISTS: [&str; 3] = ["pasture-herd", "housed-herd", "self-check"];

/// Two trials and a review looked for what footbaths bring and found no difference, so the weight is none:
/// asked for the options, and never part of the score.
const WITHOUT_WEIGHT: [&str; 1] = ["footbath-gaps"];

fn settings() -> Settings {
    Settings { draws: 256, seed: 1, rank_by: RankBy::Cases }
}

fn library(id: &str) -> Library {
    input::read_library(&FileSet::builtin(), id, &mut Findings::new()).expect("a shipped checklist")
}

/// A walk record with these answers, by item; an item of each stretch is answered of the one there is.
fn record(library: &Library, answers: &[(&Item, String)]) -> String {
    let checklist = &library.checklist;
    let mut text = format!(
        "walk: {}\ndate: 2026-03-14\nfarm: {{ name: Mill }}\nherd: {{ cows: 100, system: {} }}\n\
         segments: [{{ id: lane, length_m: 300, width_m: 4, passes_per_day: 4 }}]\nanswers:\n",
        checklist.id,
        checklist.system.id()
    );
    for (item, answer) in answers {
        let answer =
            if item.each == Each::Segment { format!("{{ lane: {answer} }}") } else { answer.clone() };
        text.push_str(&format!("  {}: {answer}\n", item.id));
    }
    text
}

#[track_caller]
fn reckoned(library: &Library, text: &str) -> Outcome {
    let mut findings = Findings::new();
    let walk = input::read_walk_on(&SourceText::new("walk.yaml", text), library, &mut findings);
    let walk = walk.unwrap_or_else(|| panic!("{}\n{text}", render(&findings)));
    reckon::reckon(library, &walk, settings()).expect("reckoned")
}

/// Values from one end of a scale to the other, beyond both where they can be.
fn values(scale: &Scale) -> Vec<f64> {
    let points = scale.points();
    let (first, last) = (points[0].0, points[points.len() - 1].0);
    let beyond = [first - 0.1 * (last - first), last + 0.1 * (last - first)];
    points.iter().map(|point| point.0).chain(beyond).filter(|value| *value >= 0.0).collect()
}

/// Answers of every kind that an item takes.
fn every_answer(item: &Item) -> Vec<String> {
    match &item.kind {
        Kind::Choice(choices) => choices.iter().map(|it| format!("{{ choose: {} }}", it.id)).collect(),
        Kind::Number(scale) => values(scale).iter().map(|value| format!("{{ value: {value} }}")).collect(),
        Kind::Count(_) => [0, 1, 7, 400].map(|count| format!("{{ count: {count}, over: 2.5 }}")).to_vec(),
        Kind::Share(_) => [0, 1, 9, 20].map(|count| format!("{{ count: {count}, of: 20 }}")).to_vec(),
    }
}

#[test]
fn every_answer_of_every_item_can_be_given_and_scores() {
    let mut asked = 0;
    for id in CHECKLISTS {
        let library = library(id);
        for item in library.checklist.items() {
            for answer in every_answer(item) {
                asked += 1;
                let outcome = reckoned(&library, &record(&library, &[(item, answer.clone())]));
                let score = outcome.score;
                assert_eq!(score.answered, 1, "{id}: {}: {answer}", item.id);
                let scores = score.value.is_some_and(|it| (0.0..=100.0).contains(&it));
                assert_eq!(scores, !WITHOUT_WEIGHT.contains(&item.factor.as_str()), "{}: {answer}", item.id);
            }
        }
    }
    assert!(asked > 300, "{asked}");
}

/// The answer of an item at a place from 0, the best, to 1000, the worst.
fn answer_at(item: &Item, badness: u32) -> String {
    let part = f64::from(badness) / 1000.0;
    let rises = |scale: &Scale| scale.points()[0].1 <= scale.points()[scale.points().len() - 1].1;
    let end = |scale: &Scale| scale.points()[scale.points().len() - 1].0;
    let along = |scale: &Scale| if rises(scale) { part } else { 1.0 - part };
    match &item.kind {
        Kind::Choice(choices) => {
            let mut by_x: Vec<_> = choices.iter().collect();
            by_x.sort_by(|a, b| a.x.total_cmp(&b.x));
            let at = (part * (choices.len() - 1) as f64).round() as usize;
            format!("{{ choose: {} }}", by_x[at].id)
        }
        Kind::Number(scale) => format!("{{ value: {:.4} }}", along(scale) * end(scale)),
        Kind::Count(scale) => {
            format!("{{ count: {}, over: 50 }}", (along(scale) * end(scale) * 50.0).round())
        }
        Kind::Share(scale) => format!("{{ count: {}, of: 60 }}", (along(scale) * 60.0).round()),
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 12, failure_persistence: None, ..ProptestConfig::default() })]

    /// A worse answer to any one item never lowers the score, nor the cases that the walk expects.
    #[test]
    fn a_worse_answer_never_looks_better(
        of in 0..CHECKLISTS.len(),
        all in prop::collection::vec(prop::option::weighted(0.8, 0_u32..=1000), 40),
        picks in prop::collection::vec((any::<prop::sample::Index>(), 1_u32..=1000), 6),
    ) {
        let library = library(CHECKLISTS[of]);
        let items: Vec<&Item> = library.checklist.items().collect();
        let text = |answers: &[Option<u32>]| {
            let given: Vec<(&Item, String)> = items
                .iter()
                .zip(answers)
                .filter_map(|(item, at)| Some((*item, answer_at(item, (*at)?))))
                .collect();
            record(&library, &given)
        };
        prop_assume!(items.len() <= all.len());
        let before = reckoned(&library, &text(&all));
        for (pick, by) in picks {
            let at = pick.index(items.len());
            let mut worse = all.clone();
            worse[at] = all[at].map(|it| (it + by).min(1000));
            let after = reckoned(&library, &text(&worse));
            let id = &items[at].id;
            if let (Some(before), Some(after)) = (before.score.value, after.score.value) {
                prop_assert!(after >= before - 1e-9, "{id}: score {before} to {after}");
            }
            let (cases, more) = (before.burden.cases_per_year.mean, after.burden.cases_per_year.mean);
            prop_assert!(more >= cases - 1e-9, "{id}: cases {cases} to {more}");
        }
    }
}

#[test]
fn check_finds_nothing_unexplained_in_what_is_shipped() {
    let mut findings = Findings::new();
    input::check_files(&[], &FileSet::builtin(), &mut findings);
    assert_eq!(render(&findings), "");
}

/// Each guide begins with its minutes, and the checklist says what they come to.
#[test]
fn the_minutes_of_a_walk_are_those_of_its_sections() {
    for id in CHECKLISTS {
        let checklist = library(id).checklist;
        let minutes = |guide: &Option<String>| guide.as_ref()?.split_whitespace().next()?.parse::<u64>().ok();
        let each: Option<Vec<u64>> =
            checklist.sections.iter().map(|section| minutes(&section.guide)).collect();
        assert_eq!(each.map(|each| each.iter().sum()), checklist.minutes, "{id}");
    }
}

/// Every item says how to look, and every threshold without a source is called common practice.
#[test]
fn every_item_says_how_to_look() {
    for id in CHECKLISTS {
        for item in library(id).checklist.items() {
            assert!(item.look.as_ref().is_some_and(|look| look.len() > 30), "{id}: {}", item.id);
        }
    }
}

/// The farmer's fifteen minutes at Heronsway, two days before the adviser came: the adviser's score lies in
/// the self-check's interval, and in its wider range with what it leaves out perfect or at its worst; and the
/// two intervals of the cases overlap.
#[test]
fn the_self_check_agrees_with_the_full_walk() {
    let outcome = |text: &str| {
        let source = SourceText::new("walk.yaml", text);
        let (library, walk) =
            input::read_walk(&source, &FileSet::builtin(), &mut Findings::new()).expect("an example");
        reckon::reckon(&library, &walk, Settings { draws: 4096, ..settings() }).expect("reckoned")
    };
    let full = outcome(include_str!("../examples/01-heronsway/walk.yaml"));
    let own = outcome(include_str!("../examples/04-heronsway-self-check/walk.yaml"));
    let (score, interval, bounds) =
        (full.score.value.unwrap(), own.score.interval.unwrap(), own.score.bounds.unwrap());
    assert!(interval.0 <= score && score <= interval.1, "{score} in {interval:?}");
    assert!(bounds.0 < interval.0 && interval.1 < bounds.1, "{interval:?} within {bounds:?}");
    let cases = [&full, &own].map(|it| it.burden.cases_per_year);
    assert!(cases[0].interval.0 <= cases[1].mean && cases[1].mean <= cases[0].interval.1, "{cases:?}");
}
