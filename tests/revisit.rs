//! A return visit from the files to the page, on the example farm.

use underfoot::finding::{Findings, SourceText};
use underfoot::input::{FileSet, read_actions, read_walk};
use underfoot::model::Library;
use underfoot::model::actions::Actions;
use underfoot::model::walk::Walk;
use underfoot::reckon::revisit::{RevisitRefusal, Visit, revisit};
use underfoot::reckon::{Prepared, Settings, prepare};
use underfoot::report::actions_file::actions_yaml;
use underfoot::report::revisit_facts::revisit_facts;
use underfoot::report::revisit_page::{overdue_page, revisit_page};
use underfoot::report::revisit_words;
use underfoot::show::caret::render;
use underfoot::show::markdown::fill;

const BEFORE: &str = include_str!("../examples/01-heronsway/walk.yaml");
const AFTER: &str = include_str!("../examples/01-heronsway/walk-2026.yaml");
const ACTIONS: &str = include_str!("../examples/01-heronsway/actions.yaml");

fn walk(text: &str) -> (Library, Walk) {
    let mut findings = Findings::new();
    let read = read_walk(&SourceText::new("walk.yaml", text), &FileSet::builtin(), &mut findings);
    assert_eq!(render(&findings), "");
    read.expect("the example has no faults")
}

fn actions(text: &str, library: &Library, walk: &Walk) -> Actions {
    let mut findings = Findings::new();
    let source = SourceText::new("actions.yaml", text);
    let read = read_actions(&source, &library.interventions, Some(walk), &mut findings);
    assert_eq!(render(&findings), "");
    read.expect("the example has no faults")
}

fn prepared<'a>(library: &'a Library, walk: &'a Walk) -> Prepared<'a> {
    prepare(library, walk, Settings { draws: 1024, ..Settings::default() }).expect("1,024 draws will do")
}

#[test]
fn the_example_is_told_in_plain_words_with_its_figures() {
    let ((library, before), (_, after)) = (walk(BEFORE), walk(AFTER));
    let agreed = actions(ACTIONS, &library, &before);
    let (first, last) = (prepared(&library, &before), prepared(&library, &after));
    let visits = [
        Visit { days_to_treatment: Some(12.0), ..Visit::new(&first) },
        Visit { days_to_treatment: Some(7.0), ..Visit::new(&last) },
    ];
    let compared = revisit(&visits, Some(&agreed)).expect("the walks belong together");
    let report = revisit_page(&visits, &compared, Some(&agreed)).expect("there are walks");
    insta::assert_snapshot!(
        fill(&underfoot::input::english(), "revisit.md", &report.page).expect("the template is right")
    );
    assert_eq!(report.figures.keys().collect::<Vec<_>>(), ["expected", "exposures", "rates", "scores"]);
}

#[test]
fn the_facts_keep_the_contract() {
    let ((library, before), (_, after)) = (walk(BEFORE), walk(AFTER));
    let (first, last) = (prepared(&library, &before), prepared(&library, &after));
    let visits = [Visit::new(&first), Visit::new(&last)];
    let compared = revisit(&visits, None).expect("the walks belong together");
    let facts = revisit_facts(&visits, &compared, None, Default::default()).expect("there are walks");
    let json = serde_json::to_value(&facts).expect("facts are JSON");
    assert_eq!(json["format"], "underfoot.revisit/1");
    // 52 cases in 273.8 cow-years, then 38 in 280.8: by hand 0.7126.
    let ratio = json["rate_ratio"]["value"].as_f64().expect("a number");
    assert!((ratio - 38.0 / 52.0 * 274.0 / 281.0).abs() < 1e-12);
    assert!(json["rate_ratio"]["interval"][1].is_f64() && json["rate_ratio"]["p_value"].is_f64());
    assert!(json["expected_ratio"]["mean"].is_f64() && json["expected_ratio"]["interval"][0].is_f64());
    assert!(json["agrees"].is_boolean());
    assert_eq!(json["season_matched"], true);
    let exposures = json["exposures"].as_array().expect("a list");
    assert!(exposures.iter().all(|it| it["factor"].is_string()));
    assert!(exposures.iter().any(|it| it["before"].is_f64() && it["after"].is_f64()));
    assert!(json.get("months_to_see").is_some());
    assert!(!json.to_string().contains("NaN"));
}

#[test]
fn without_records_the_figures_are_null_and_the_reason_stands_beside() {
    let ((library, before), (_, mut after)) = (walk(BEFORE), walk(AFTER));
    after.records = None;
    let (first, last) = (prepared(&library, &before), prepared(&library, &after));
    let visits = [Visit::new(&first), Visit::new(&last)];
    let compared = revisit(&visits, None).expect("the walks belong together");
    let facts = revisit_facts(&visits, &compared, None, Default::default()).expect("there are walks");
    let json = serde_json::to_value(&facts).expect("facts are JSON");
    assert!(json["rate_ratio"]["value"].is_null() && json["rate_ratio"]["interval"].is_null());
    assert!(json["agrees"].is_null() && json["no_rates"].is_string());
    assert_eq!(json["season_matched"], false);
    let report = revisit_page(&visits, &compared, None).expect("there are walks");
    let text = fill(&underfoot::input::english(), "revisit.md", &report.page).expect("the template is right");
    assert!(text.contains("the last walk has no records of cases"));
}

#[test]
fn the_overdue_list_can_be_pinned_to_the_door() {
    let (library, before) = walk(BEFORE);
    let agreed = actions(ACTIONS, &library, &before);
    let today = "2026-04-20".parse().expect("a day");
    let page = overdue_page(&library, &before, &agreed, today);
    insta::assert_snapshot!(
        fill(&underfoot::input::english(), "overdue.md", &page).expect("the template is right")
    );
}

#[test]
fn a_blank_file_of_the_first_actions_can_be_read_again() {
    let (library, before) = walk(&BEFORE.replace("\"Heronsway\"", "'He said \"no\": # \\ heron'"));
    let first = prepared(&library, &before);
    let outcome = first.outcome().expect("ranked by cases");
    let text = actions_yaml(&first, &first.first_actions(&outcome.alone(&first), 3));
    insta::assert_snapshot!(text);
    let agreed = actions(&text, &library, &before);
    assert_eq!((agreed.farm.as_str(), agreed.list.len()), (before.farm_name.as_str(), 3));
    assert_eq!(actions(&actions_yaml(&first, &[]), &library, &before).list.len(), 0);
}

#[test]
fn every_refusal_says_what_to_do() {
    let day = |text: &str| text.parse().expect("a day");
    let refusals = [
        RevisitRefusal::OneWalk,
        RevisitRefusal::TwoFarms { before: "Heronsway".into(), after: "Tussock Flat".into() },
        RevisitRefusal::TwoChecklists { before: "pasture-herd".into(), after: "self-check".into() },
        RevisitRefusal::Order { before: day("2026-10-06"), after: day("2025-10-07") },
        RevisitRefusal::Draws,
        RevisitRefusal::ActionsOfOtherFarm { actions: "Mill".into(), walks: "Heronsway".into() },
    ];
    let told = refusals.iter().map(|refusal| {
        let (message, help) = revisit_words::refusal(refusal);
        format!("{message}\n  {help}")
    });
    insta::assert_snapshot!(told.collect::<Vec<_>>().join("\n"));
}
