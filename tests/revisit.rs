//! A return visit from the files to the page, on the example farm.

mod common;

use common::{Outcome, Run, underfoot};
use serde_json::Value;
use underfoot::finding::{Findings, SourceText};
use underfoot::input::{FileSet, read_actions, read_walk};
use underfoot::model::Library;
use underfoot::model::actions::Actions;
use underfoot::model::walk::Walk;
use underfoot::reckon::revisit::{RevisitRefusal, Visit, revisit};
use underfoot::reckon::stats::interval::rate_ratio;
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
    assert!(text.contains("the later walk has no records of cases"));
}

#[test]
fn the_overdue_list_can_be_pinned_to_the_door() {
    let (library, before) = walk(BEFORE);
    let agreed = actions(ACTIONS, &library, &before);
    let today = "2026-04-20".parse().expect("a day");
    let page = overdue_page(&library.words, &library.interventions, &before.segments, &agreed, today);
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

// --- The program, as its user runs it

/// The example with other records; a file of cases in place of the counts where one is named.
fn with_records(walk: &str, from: &str, to: &str, cases: Option<&str>) -> String {
    let (before, rest) = walk.split_once("records:\n").expect("the example has records");
    let notes = rest.split_once("\nnotes:").expect("and notes").1;
    let seen = "average_cows: 280, seen_by: [farmer]";
    let before =
        cases.map_or(before.to_owned(), |file| before.replace("cases: null", &format!("cases: {file}")));
    format!("{before}records: {{ from: {from}, to: {to}, {seen} }}\nnotes:{notes}")
}

/// The example with so many cases in its records.
fn with_cases(walk: &str, from: &str, to: &str, cases: u64) -> String {
    let counted = format!("seen_by: [farmer], counts: {{ unrecorded: {cases} }} }}");
    with_records(walk, from, to, None).replace("seen_by: [farmer] }", &counted)
}

fn come_back(arguments: &str, before: &str, after: &str) -> Run {
    underfoot(arguments.split(' '))
        .args(["--draws", "256"])
        .file("before.yaml", before)
        .file("after.yaml", after)
}

fn json(outcome: &Outcome) -> Value {
    serde_json::from_str(&outcome.stdout).expect("JSON")
}

/// Rows of a file of cases: so many of each month, each another cow, first signs so many days before.
fn cases(months: &[(&str, u64)], first_cow: u64, days_to_treatment: i64) -> String {
    let mut text = "date,cow,lesion,first sign\n".to_owned();
    let mut cow = first_cow;
    for (month, number) in months {
        for at in 0..*number {
            let day: chrono::NaiveDate = format!("{month}-{:02}", at + 12).parse().expect("a day");
            let sign = day - chrono::Duration::days(days_to_treatment);
            text.push_str(&format!("{day},{cow},white-line,{sign}\n"));
            cow += 1;
        }
    }
    text
}

/// Lameness has a season: eight cases in a wet month, two in a dry one, before as after. The first records hold
/// six wet months and one dry, the last one wet and six dry, so that the counts fall to less than half by the season
/// alone. Made up; that the raw counts would be taken for a success is reckoned beside it.
#[test]
fn where_only_the_season_differs_nothing_has_worked() {
    let [wet, dry] = [8, 2];
    let months = |months: &[&'static str], number: u64| {
        months.iter().map(|month| (*month, number)).collect::<Vec<_>>()
    };
    let mut first = months(&["2024-10", "2024-11", "2024-12", "2025-01", "2025-02", "2025-03"], wet);
    first.push(("2025-04", dry));
    let mut last = months(&["2026-03"], wet);
    last.extend(months(&["2026-04", "2026-05", "2026-06", "2026-07", "2026-08", "2026-09"], dry));
    let before = with_records(BEFORE, "2024-10-01", "2025-04-30", Some("first.csv"));
    let after = with_records(AFTER, "2026-03-01", "2026-09-30", Some("last.csv"));
    let outcome = come_back("revisit before.yaml after.yaml --as json", &before, &after)
        .file("first.csv", cases(&first, 100, 12))
        .file("last.csv", cases(&last, 400, 5))
        .run();
    assert_eq!(outcome.code, 0, "{}", outcome.stderr);
    let facts = json(&outcome);
    assert_eq!((&facts["season_matched"], &facts["months"]), (&true.into(), &serde_json::json!([3, 4])));
    assert_eq!(
        (&facts["periods"]["before"]["cases"], &facts["periods"]["after"]["cases"]),
        (&10.into(), &10.into())
    );
    assert_eq!(facts["verdict"], "may-be-chance");
    assert_eq!(facts["days_to_treatment"], serde_json::json!([12.0, 5.0]));

    // Without the days of the cases the months can't be matched: no verdict, although the raw counts say p < 0.001.
    let raw = rate_ratio(20, 214.0, 50, 212.0, 0.95).expect("two rates");
    assert!(raw.p_central < 0.001 && raw.high < Some(1.0));
    let before = with_cases(BEFORE, "2024-10-01", "2025-04-30", 50);
    let after = with_cases(AFTER, "2026-03-01", "2026-09-30", 20);
    let facts = json(&come_back("revisit before.yaml after.yaml --as json", &before, &after).run());
    assert_eq!((&facts["season_matched"], &facts["verdict"]), (&false.into(), &"not-comparable".into()));
}

#[test]
fn walks_that_do_not_belong_together_are_refused_with_the_reason() {
    let renamed = AFTER.replace("\"Heronsway\"", "\"Tussock Flat\"");
    let self_check = AFTER.replace("walk: pasture-herd", "walk: self-check");
    let self_check = {
        let (head, rest) = self_check.split_once("answers:\n").expect("answers");
        let quantities = rest.split_once("\nquantities:").expect("quantities").1;
        format!("{head}answers: {{}}\nquantities:{quantities}")
    };
    for (arguments, after, says) in [
        ("revisit before.yaml after.yaml", renamed.as_str(), "two farms: \"Heronsway\" and \"Tussock Flat\""),
        ("revisit before.yaml after.yaml", &self_check, "two checklists, `pasture-herd` and `self-check`"),
        ("revisit after.yaml before.yaml", AFTER, "the walk of 2026-10-06 is given first"),
        ("revisit before.yaml before.yaml", AFTER, "is not later"),
    ] {
        let failed = come_back(arguments, BEFORE, after).run().clean_failure(1);
        assert!(failed.stderr.contains(says), "{arguments}:\n{}", failed.stderr);
    }
    let alone = come_back("revisit before.yaml", BEFORE, AFTER).run().clean_failure(2);
    assert!(alone.stderr.contains("2 values required") || alone.stderr.contains("WALK"), "{}", alone.stderr);
    let others = ACTIONS.replace("\"Heronsway\"", "Mill");
    let failed = come_back("revisit before.yaml after.yaml --actions actions.yaml", BEFORE, AFTER)
        .file("actions.yaml", others)
        .run()
        .clean_failure(1);
    assert!(failed.stderr.contains("the actions are those of \"Mill\""), "{}", failed.stderr);
}

#[test]
fn records_that_overlap_and_a_herd_that_doubled_get_no_verdict() {
    let verdict = |after: &str| {
        let facts = json(&come_back("revisit before.yaml after.yaml --as json", BEFORE, after).run());
        assert!(!facts["verdict_words"].as_str().expect("words").is_empty());
        facts
    };
    let overlapping = verdict(&AFTER.replace("from: 2025-10-01", "from: 2025-09-01"));
    assert_eq!(
        (&overlapping["verdict"], &overlapping["rate_ratio"]["value"]),
        (&"no-rates".into(), &Value::Null)
    );
    let why = overlapping["no_rates"].as_str().expect("a reason");
    assert!(why.contains("1 September 2025 to 30 September 2025"), "{why}");
    let doubled = AFTER.replace("cows: 286", "cows: 560").replace("average_cows: 281", "average_cows: 556");
    let doubled = verdict(&doubled);
    assert_eq!(doubled["verdict"], "not-comparable");
    let cautions = doubled["cautions"].to_string();
    assert!(cautions.contains("The herd went from 274 to 556 cows"), "{cautions}");
}

#[test]
fn more_walks_draw_the_line_and_the_last_two_are_compared() {
    let third =
        with_cases(&AFTER.replace("date: 2026-10-06", "date: 2027-10-05"), "2026-10-01", "2027-09-30", 30);
    let run = |format: &str| {
        let arguments =
            format!("revisit first.yaml before.yaml after.yaml --actions a.yaml --actions b.yaml{format}");
        let again =
            "farm: Heronsway\nwalk_date: 2026-10-06\nactions: [{ what: drift-home, done: 2027-02-01 }]\n";
        come_back(&arguments, AFTER, &third)
            .file("first.yaml", BEFORE)
            .file("a.yaml", ACTIONS)
            .file("b.yaml", again)
            .run()
    };
    let facts = json(&run(" --as json").done());
    let line = facts["line"].as_array().expect("a line");
    let days: Vec<_> = line.iter().map(|moment| moment["date"].as_str().expect("a day")).collect();
    assert_eq!(days, ["2025-10-07", "2026-10-06", "2027-10-05"]);
    assert_eq!(facts["periods"]["before"]["cases"], 38, "the last but one");
    let what: Vec<_> = facts["actions"].as_array().expect("a list").iter().map(|it| &it["what"]).collect();
    assert_eq!(what.iter().filter(|what| **what == "drift-home").count(), 1, "agreed again, told once");
    // The apron was built between the first two walks: it is judged against the first, and not as if nothing came of it.
    let apron = facts["actions"].as_array().expect("a list").iter().find(|it| it["what"] == "build-apron");
    assert_eq!(apron.expect("the apron")["seen"]["stone-carry-over"], "put-right");
    let page = run(" --as html").done();
    let page = page.text("after-revisit.html");
    assert!(page.contains("the last two of 3 walks"));
    // Both lines over the years carry all four marks of work done.
    assert_eq!(page.matches("(1 February 2027)").count(), 2, "in both lines");
}

#[test]
fn the_terminal_keeps_to_its_columns() {
    let run = come_back("revisit before.yaml after.yaml --actions actions.yaml", BEFORE, AFTER)
        .file("actions.yaml", ACTIONS)
        .run()
        .quiet_success();
    let wide = run.stdout.lines().find(|line| line.chars().count() > 80);
    assert_eq!(wide, None);
    assert!(run.stdout.contains("29% fewer") && run.files.is_empty());
}

#[test]
fn a_blank_file_of_actions_is_written_once_and_never_over_another() {
    let report =
        |arguments: &str| underfoot(arguments.split(' ')).args(["--draws", "256"]).file("walk.yaml", BEFORE);
    let run = report("report walk.yaml --as md --write-actions agreed.yaml").run();
    assert_eq!((run.code, run.stderr.as_str()), (0, "wrote agreed.yaml\n"));
    let blank = run.text("agreed.yaml").to_owned();
    assert_eq!(blank.matches("- what: ").count(), 3);
    let checked = underfoot(["check", "walk.yaml", "agreed.yaml"])
        .file("walk.yaml", BEFORE)
        .file("agreed.yaml", &blank);
    assert_eq!(checked.run().quiet_success().stdout, "2 files: no errors.\n");
    for command in ["report walk.yaml --write-actions kept.yaml", "plan walk.yaml --write-actions kept.yaml"]
    {
        let again = report(command).file("kept.yaml", "mine").run().clean_failure(3);
        assert!(again.stderr.contains("is not overwritten"), "{}", again.stderr);
    }
    let planned = report("plan walk.yaml --budget 3000 --write-actions agreed.yaml").run();
    assert!(planned.text("agreed.yaml").contains("reckoned at EUR"));
    let one = report("plan walk.yaml --write-actions a.yaml --out a.yaml").run().clean_failure(2);
    assert!(one.stderr.contains("one file can't hold both"), "{}", one.stderr);
}

#[test]
fn faults_of_actions_are_named_by_check() {
    let faulty = ACTIONS.replace("build-apron", "biuld-apron").replace("by: 2026-03-31", "by: 2024-03-31");
    let failed = underfoot(["check", "actions.yaml"]).file("actions.yaml", &faulty).run().clean_failure(1);
    assert!(failed.stderr.contains("did you mean `build-apron`?"), "{}", failed.stderr);
    assert!(failed.stderr.contains("before the walk of 2025-10-07"), "{}", failed.stderr);
    // A segment is judged only beside the walk after which it was agreed.
    let elsewhere = ACTIONS.replace("what: build-apron", "what: cap-track:hoam-lane");
    let alone = underfoot(["check", "actions.yaml"]).file("actions.yaml", &elsewhere);
    alone.run().quiet_success();
    let beside = underfoot(["check", "actions.yaml", "walk.yaml"]).file("actions.yaml", &elsewhere);
    let failed = beside.file("walk.yaml", BEFORE).run().clean_failure(1);
    assert!(failed.stderr.contains("no segment `hoam-lane`"), "{}", failed.stderr);
}

#[test]
fn the_overdue_list_knows_its_day_and_prints() {
    let overdue = |arguments: &str| underfoot(arguments.split(' ')).file("actions.yaml", ACTIONS);
    let late = overdue("overdue actions.yaml --on 2026-04-20").run().quiet_success();
    assert!(late.stdout.contains("overdue by 36 days (by 15 March 2026)"), "{}", late.stdout);
    assert!(late.stdout.lines().all(|line| line.chars().count() <= 80));
    let early = overdue("overdue actions.yaml --on 2026-03-15").run().quiet_success();
    assert!(early.stdout.contains("Nothing is overdue.") && early.stdout.contains("due today"));
    // Without a day it is today's: the agreed day lies in the past for good.
    assert!(overdue("overdue actions.yaml").run().stdout.contains("overdue by "));
    let page = overdue("overdue actions.yaml --as html").run();
    assert_eq!(page.stderr, "wrote actions-overdue.html\n");
    assert!(page.text("actions-overdue.html").contains("class=\"farmer\""));
}

/// The apron was built whole for EUR 5,640 (the actions file); so much is the next one's price, and nobody's guess.
#[test]
fn what_was_really_paid_is_the_price_the_next_time() {
    let capital = |arguments: &str, actions: &str| {
        let run = underfoot(arguments.split(' ')).args(["--draws", "256", "--as", "json"]);
        let run = run.file("walk.yaml", AFTER).file("actions.yaml", actions).run();
        assert_eq!(run.code, 0, "{}", run.stderr);
        let facts = json(&run);
        let options = facts["interventions"].as_array().expect("options").clone();
        let apron = options.into_iter().find(|option| option["id"] == "build-apron").expect("the apron");
        apron["capital"]["mean"].as_f64().expect("a sum")
    };
    assert!((capital("score walk.yaml --paid actions.yaml", ACTIONS) - 5640.0).abs() < 1e-6);
    assert!((capital("score walk.yaml", ACTIONS) - 5640.0).abs() > 100.0);
    let pounds = ACTIONS.replace("currency: EUR", "currency: GBP");
    let failed = underfoot(["score", "walk.yaml", "--paid", "actions.yaml"]).file("walk.yaml", AFTER);
    let failed = failed.file("actions.yaml", pounds).run().clean_failure(1);
    assert!(failed.stderr.contains("money is never converted"), "{}", failed.stderr);
}
