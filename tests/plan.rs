//! The plan as its user meets it: where it is written, what it refuses, and the report that holds it.

mod common;

use common::{Run, underfoot};
use serde_json::Value;

const WALK: &str = include_str!("../examples/01-heronsway/walk.yaml");
const OPTIONS: &str = include_str!("../checklists/interventions.yaml");

fn farm(arguments: &str) -> Run {
    underfoot(arguments.split(' ')).args(["--draws", "256"]).file("walk.yaml", WALK)
}

#[test]
fn a_plan_never_takes_the_place_of_a_report() {
    let run = farm("plan walk.yaml --budget 5000 --as html").file("walk-report.html", "kept").run().done();
    assert_eq!(run.stderr, "wrote walk-plan.html\n");
    assert_eq!(run.files.keys().collect::<Vec<_>>(), ["walk-plan.html"]);
    assert!(run.text("walk-plan.html").contains("class=\"plan\""));
}

#[test]
fn the_terminal_keeps_to_its_columns() {
    let text = farm("plan walk.yaml --budget 12000").run().quiet_success().stdout;
    assert_eq!(text.lines().find(|line| line.chars().count() > 80), None);
    assert!(text.contains("YEAR BY YEAR, EUR"));
}

#[test]
fn what_cannot_be_planned_is_told_in_words() {
    for (arguments, code, says) in [
        ("plan walk.yaml --budget -1", 2, "can't be spent"),
        ("plan walk.yaml --must drift-home --never drift-home", 2, "must be in the plan and must not"),
        ("plan walk.yaml --must build-apron --budget 10", 2, "more than the EUR 10 there is"),
        ("plan walk.yaml --must biuld-apron", 2, "did you mean `build-apron`?"),
        ("plan walk.yaml --must rubber-yard --must groove-concrete", 2, "only one of them can be done"),
        ("report walk.yaml --budget -1", 2, "can't be spent"),
    ] {
        let failed = farm(arguments).run().clean_failure(code);
        assert!(failed.stderr.contains(says), "{arguments}:\n{}", failed.stderr);
    }
}

#[test]
fn prices_and_rates_that_no_farm_has_are_faults_of_the_walk() {
    for (right, wrong, says) in [
        ("capital: [70, 110, 160]", "capital: [-70, 110, 160]", "0 or more"),
        ("discount_rate: 0.05", "discount_rate: 6", "discount_rate"),
    ] {
        let run = underfoot(["plan", "walk.yaml"]).file("walk.yaml", WALK.replace(right, wrong));
        let failed = run.run().clean_failure(1);
        assert!(failed.stderr.contains(says) && failed.stderr.contains("walk.yaml:"), "{}", failed.stderr);
    }
}

#[test]
fn options_that_need_one_another_in_a_circle_are_named_once() {
    let needs = |options: &str, id: &str, other: &str| {
        let head = format!("  - id: {id}\n");
        let (before, option) = options.split_once(&head).expect("the option");
        let (option, rest) = option.split_once("needs: []").expect("its needs");
        format!("{before}{head}{option}needs: [{other}]{rest}")
    };
    let circle = needs(OPTIONS, "drift-home", "split-herd");
    let circle = needs(&circle, "split-herd", "build-apron");
    let circle = needs(&circle, "build-apron", "drift-home");
    let run = farm("plan walk.yaml --checklists own").file("own/interventions.yaml", circle);
    let failed = run.run().clean_failure(1);
    assert_eq!(failed.stderr.matches("[circle-in-needs]").count(), 1, "{}", failed.stderr);
}

#[test]
fn the_report_holds_the_plan_with_its_years_and_steps() {
    let with = farm("report walk.yaml --as md --budget 5000").run().quiet_success().stdout;
    for part in ["## The plan for EUR 5,000", "### Year by year", "### Who does what, by when", "________"] {
        assert!(with.contains(part), "{part}");
    }
    let without = farm("report walk.yaml --as md").run().quiet_success().stdout;
    assert!(without.contains("## The first things, year by year") && !without.contains("## The plan for"));
    let farmer = farm("report walk.yaml --as md --for farmer --budget 5000").run().quiet_success().stdout;
    assert!(farmer.contains("**For EUR 5,000.**"), "{farmer}");

    // The plan of the report is the plan.
    let json = |arguments: &str| -> Value {
        serde_json::from_str(&farm(arguments).run().quiet_success().stdout).expect("JSON")
    };
    let (report, plan) =
        (json("report walk.yaml --as json --budget 5000"), json("plan walk.yaml --as json --budget 5000"));
    assert_eq!(report["plan"], plan);
    assert!(json("report walk.yaml --as json").get("plan").is_none());
}

/// Without a price in the farm's currency no sum of money stands in the table of years, and lame cows still do.
#[test]
fn where_nothing_is_priced_the_years_hold_lame_cows_alone() {
    let walk = WALK.replace("currency: EUR", "currency: NOK");
    let unpriced = {
        let (head, rest) = walk.split_once("\nprices:").expect("prices");
        format!("{head}\n{}", &rest[rest.find("\ncosts_per_case").expect("costs")..])
    };
    let run =
        underfoot(["report", "walk.yaml", "--as", "md", "--draws", "256"]).file("walk.yaml", unpriced).run();
    let text = run.done().stdout;
    let years = text.split("## The first things, year by year").nth(1).expect("the section");
    assert!(years.contains("| Year | New lame cows |") && !years.contains("| Spent |"), "{years}");
    assert!(years.contains("no sum of money stands here") && !years.contains("| now |"));
}
