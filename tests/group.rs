//! The group's page as its user meets it: cards from strangers, years, and a farm's own page.

mod common;

use common::{Run, underfoot};
use serde_json::Value;

const CARD: &str = include_str!("../examples/group/hx9-kdw-2026.yaml");

fn group(arguments: &str) -> Run {
    underfoot(arguments.split(' ')).args(["--draws", "256"]).folder("examples/group")
}

#[test]
fn a_farms_own_page_is_its_own_and_draws_nobody_else() {
    let run = group("group . --as html --mine hx9-kdw").run().done();
    assert_eq!(run.stderr, "wrote group-hx9-kdw.html\n");
    let page = run.text("group-hx9-kdw.html");
    assert!(page.contains(">your farm") && !page.contains(">other farms"), "the legend names what is drawn");
    assert!(!page.contains("hx9-kdw"), "not even its own code stands on it");
    let all = group("group . --as html").run().done();
    assert!(all.text("group.html").contains("How your figures are kept"));
    let unknown = group("group . --mine zzz-zzz").run().clean_failure(2);
    assert!(unknown.stderr.contains("`zzz-zzz`"), "{}", unknown.stderr);
}

#[test]
fn the_terminal_keeps_to_its_columns() {
    let text = group("group .").run().done().stdout;
    assert_eq!(text.lines().find(|line| line.chars().count() > 80), None);
    assert!(text.contains("HOW YOUR FIGURES ARE KEPT"));
    let card = underfoot(["card", "walk.yaml"]).folder("examples/01-heronsway").run().done().stdout;
    assert_eq!(card.lines().find(|line| line.chars().count() > 80 && line.starts_with('#')), None);
}

/// A card is a stranger's file: whatever stands in it, the fault is named and nothing of it is believed or drawn.
#[test]
fn hostile_cards_are_refused() {
    let changes: [(&str, String); 7] = [
        ("<script>", CARD.replace("code: \"hx9-kdw\"", "code: \"<script>alert(1)</script>\"")),
        ("path", CARD.replace("code: \"hx9-kdw\"", "code: \"../../farm\"")),
        ("huge", with_line(CARD, "cases_per_100_cow_years:", "cases_per_100_cow_years: 1e300")),
        ("months", with_line(CARD, "months_of_records:", "months_of_records: 99999999999999999999")),
        ("score", with_line(CARD, "score:", "score: -7")),
        ("field", format!("{CARD}farm: \"Mill\"\n")),
        ("share", CARD.replace("exposures:", "exposures:\n  track-stones: 7")),
    ];
    for (what, card) in changes {
        assert_ne!(card, CARD, "{what}");
        let failed = group("group .").file("stranger.yaml", &card).run().clean_failure(1);
        assert!(failed.stderr.contains("stranger.yaml:"), "{what}:\n{}", failed.stderr);
        assert!(!failed.stderr.contains('\u{1b}'), "{what}");
    }
}

/// The card with the line that begins so replaced.
fn with_line(card: &str, begins: &str, by: &str) -> String {
    let lines = card.lines().map(|line| if line.starts_with(begins) { by } else { line });
    lines.map(|line| format!("{line}\n")).collect()
}

#[test]
fn cards_that_do_not_fit_together_are_refused() {
    let twice = group("group .").file("again.yaml", CARD).run().clean_failure(1);
    assert!(twice.stderr.contains("[duplicate-id]"), "{}", twice.stderr);
    let other_code = |card: &str| card.replace("hx9-kdw", "q7w-x4z");
    let housed = other_code(CARD).replace("system: pasture", "system: housed");
    let housed = group("group .").file("housed.yaml", housed).run().clean_failure(1);
    assert!(housed.stderr.contains("housed.yaml"), "{}", housed.stderr);
    let checklist = other_code(CARD).replace("name: pasture-herd", "name: self-check");
    let checklist = group("group .").file("other.yaml", checklist).run().clean_failure(1);
    assert!(checklist.stderr.contains("other.yaml"), "{}", checklist.stderr);
}

#[test]
fn years_are_linked_by_code_and_no_code_is_told() {
    let facts = group("group . --as json").run().done().stdout;
    let json: Value = serde_json::from_str(&facts).expect("JSON");
    assert_eq!(json["farms"], 12);
    assert!(!facts.contains("hx9-kdw") && !facts.contains("5x5-3cs"));
    let page = group("group . --as md").run().done().stdout;
    assert!(page.contains("11 farms have a card of 2025 and of 2026"), "{page}");
    assert!(page.contains("| 2025 | 11 |") && page.contains("| 2026 | 12 |"));
    // One year alone has nothing to be compared with.
    let mut one_year = underfoot(["group", ".", "--as", "md", "--draws", "256"]);
    for (name, card) in this_year() {
        one_year = one_year.file(&name, card);
    }
    let page = one_year.run().done().stdout;
    assert!(!page.contains("Over the years"));
}

fn this_year() -> Vec<(String, String)> {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/group");
    let entries = std::fs::read_dir(folder).expect("the example").filter_map(Result::ok);
    let mut cards: Vec<(String, String)> = entries
        .map(|entry| entry.path())
        .filter(|path| path.to_string_lossy().ends_with("-2026.yaml"))
        .map(|path| {
            let name = path.file_name().expect("a name").to_string_lossy().into_owned();
            (name, std::fs::read_to_string(&path).expect("a card"))
        })
        .collect();
    cards.sort();
    cards
}
