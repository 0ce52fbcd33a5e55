//! The readers of YAML files against whole files: shipped, faulty and hostile.

use proptest::prelude::*;
use std::time::{Duration, Instant};
use underfoot::finding::{Findings, SourceText};
use underfoot::input::{self, FileSet};
use underfoot::model::System;
use underfoot::show::caret::{render, render_one};

const WALK: &str = include_str!("fixtures/good/walk.yaml");
const GOOD: [(&str, &str); 6] = [
    ("brook.yaml", include_str!("fixtures/good/brook.yaml")),
    ("factors.yaml", include_str!("fixtures/good/factors.yaml")),
    ("interventions.yaml", include_str!("fixtures/good/interventions.yaml")),
    ("evidence/sources.yaml", include_str!("fixtures/good/evidence/sources.yaml")),
    ("evidence/effects.yaml", include_str!("fixtures/good/evidence/effects.yaml")),
    ("evidence/burden.yaml", include_str!("fixtures/good/evidence/burden.yaml")),
];

fn good_files() -> FileSet {
    let mut files = FileSet::default();
    for (path, text) in GOOD {
        files.overlay(path, SourceText::new(path, text));
    }
    files
}

/// The exact text of everything that is wrong with a walk record.
fn faults(text: &str) -> String {
    let mut findings = Findings::new();
    let read = input::read_walk(&SourceText::new("walk.yaml", text), &good_files(), &mut findings);
    assert_eq!(read.is_none(), findings.has_errors());
    render(&findings)
}

/// What is wrong with the good walk record after some changes.
fn changed(changes: &[(&str, &str)]) -> String {
    faults(&changes.iter().fold(WALK.to_owned(), |text, (from, to)| {
        assert!(text.contains(from), "{from}");
        text.replacen(from, to, 1)
    }))
}

#[test]
fn every_shipped_file_is_read_without_a_finding() {
    let files = FileSet::builtin();
    for id in files.checklist_ids() {
        let mut findings = Findings::new();
        let library = input::read_library(&files, id, &mut findings);
        assert_eq!(render(&findings), "", "{id}");
        assert!(library.is_some(), "{id}");
    }
}

#[test]
fn a_good_walk_is_read_as_it_stands() {
    let mut findings = Findings::new();
    let read = input::read_walk(&SourceText::new("walk.yaml", WALK), &good_files(), &mut findings);
    assert_eq!(render(&findings), "");
    insta::assert_debug_snapshot!(read.map(|(_, walk)| walk));
}

#[test]
fn what_may_be_left_out_is_left_out() {
    let short = "walk: brook\ndate: 2026-03-14\nfarm: { name: Mill }\nherd: { cows: 100, system: pasture }\n";
    assert_eq!(faults(short), "");
    let empty =
        "segments: []\nanswers: {}\nquantities: {}\nprices: {}\ncosts_per_case: {}\nrecords: null\nby:\n";
    assert_eq!(faults(&format!("{short}{empty}")), "");
    let unanswered =
        "answers: { herding: null, mats: {}, yard-minutes: { value: null, note: null }, stones: ~ }\n";
    assert_eq!(faults(&format!("{short}{unanswered}")), "");
}

#[test]
fn four_faults_are_named_in_one_run() {
    insta::assert_snapshot!(changed(&[
        ("date: 2026-03-14", "date: 2026-02-30"),
        ("length_m: 350", "length_m: -350"),
        ("count: 14, of: 20", "count: 110, of: 100"),
        ("    back-lane: { skip", "    bak-lane: { skip"),
    ]));
}

#[test]
fn values_are_judged_as_they_are_written() {
    insta::assert_snapshot!(changed(&[
        ("cows: 100", "cows: 010"),
        ("discount_rate: 0.06", "discount_rate: 6 %"),
        ("length_m: 350", "length_m: .nan"),
        ("width_m: 5", "width_m: 1e400"),
        ("value: 95", "value: \"95\""),
        ("count: 34, over: 5", "count: 3.5, over: 0"),
        ("bails: 24", "bails: [24]"),
        ("capital: [9, 15, 22]", "capital: [22, 15, 9]"),
        ("average_cows: 98.5", "average_cows: .inf"),
        ("seen_by: [farmer, vet]", "seen_by: [farmer, dog]"),
    ]));
}

/// Memory goes with the number of segments, and a file could hold fifty thousand.
#[test]
fn a_walk_takes_a_hundred_segments_and_no_more() {
    let with = |count: usize| {
        let more: String = (0..count - 2)
            .map(|n| format!("  - {{ id: more-{n}, length_m: 9, passes_per_day: 4 }}\n"))
            .collect();
        changed(&[("segments:\n", &format!("segments:\n{more}"))])
    };
    assert_eq!(with(100), "");
    assert!(with(101).contains("there are 101 segments; at most 100 are taken [too-many-segments]"));
}

#[test]
fn words_that_yaml_takes_for_something_else_stay_words() {
    assert_eq!(changed(&[("\"Mill Brook (invented)\"", "NO")]), "");
    assert_eq!(changed(&[("code: null", "code: 007")]), "");
    assert_eq!(changed(&[("currency: EUR", "currency: NOK")]), "");
}

#[test]
fn a_name_given_twice_is_named_with_both_places() {
    insta::assert_snapshot!(changed(&[(
        "  mats: { count: 14, of: 20 }",
        "  mats: { count: 14, of: 20 }\n  mats: { count: 15, of: 20 }"
    )]));
}

#[test]
fn with_own_factors_the_shipped_options_and_effects_are_left_out() {
    let mut files = FileSet::builtin();
    let factors = GOOD[1];
    files.overlay(factors.0, SourceText::new(factors.0, factors.1));
    assert!(files.get("interventions.yaml").is_none() && files.get("evidence/effects.yaml").is_none());
    let listed = input::checklists(&files);
    assert!(listed.iter().any(|it| it.id == "pasture-herd" && it.available.is_none()));

    let brook = SourceText::new("brook.yaml", GOOD[0].1.replace(", source: maker-2020", ""));
    files.overlay("brook.yaml", brook);
    let mut findings = Findings::new();
    let library = input::read_library(&files, "brook", &mut findings);
    assert_eq!(render(&findings), "");
    assert!(library.is_some_and(|it| it.effects.is_empty() && it.interventions.is_empty()));
    let listed = input::checklists(&files);
    let available = Some(("A short walk".to_owned(), System::Pasture));
    assert!(listed.iter().any(|it| it.id == "brook" && it.available == available));
}

#[test]
fn a_checklist_in_a_file_of_another_name_is_an_error() {
    let mut files = good_files();
    files.overlay("stream.yaml", SourceText::new("stream.yaml", GOOD[0].1));
    let mut findings = Findings::new();
    assert!(input::read_library(&files, "stream", &mut findings).is_none());
    insta::assert_snapshot!(render(&findings));
}

#[test]
fn a_set_without_evidence_says_what_is_missing() {
    let mut findings = Findings::new();
    assert!(input::read_library(&FileSet::default(), "brook", &mut findings).is_none());
    insta::assert_snapshot!(render(&findings));
}

#[test]
fn two_files_of_one_kind_are_not_checked_together() {
    let mut findings = Findings::new();
    let files = ["a.yaml", "b.yaml"].map(|name| SourceText::new(name, GOOD[3].1));
    input::check_files(&files, &good_files(), &mut findings);
    insta::assert_snapshot!(render(&findings));
}

/// Hostile files: each gives a short answer at once, whatever it holds.
#[test]
fn hostile_files_are_refused_shortly_and_at_once() {
    let mut bomb = "a: &a [x, x, x, x, x, x, x, x, x]\n".to_owned();
    for (name, of) in
        ["b", "c", "d", "e", "f", "g", "h", "i"].iter().zip(["a", "b", "c", "d", "e", "f", "g", "h"])
    {
        bomb.push_str(&format!("{name}: &{name} [{}]\n", vec![format!("*{of}"); 9].join(", ")));
    }
    let hostile = [
        ("deep brackets", "[".repeat(100_000)),
        ("deep braces", "{a: ".repeat(50_000)),
        ("deep dashes", "- ".repeat(100_000)),
        ("alias bomb", bomb),
        ("empty", String::new()),
        ("only a remark", "# nothing\n".to_owned()),
        ("null", "~\n".to_owned()),
        ("a byte-order mark inside", "walk: brook\n\u{FEFF}date: 2026-03-14\n".to_owned()),
        ("tabs", "walk: brook\nherd:\n\tcows: 3\n".to_owned()),
        ("control characters", "walk: \u{1b}[31mred\u{7}\n".to_owned()),
        ("turned text", "walk: \"\u{202e}koorb\"\n".to_owned()),
        ("one long line", format!("walk: {}\n", "x".repeat(1_000_000))),
        ("one long key", format!("{}: 1\n", "x".repeat(1_000_000))),
        ("many unknown fields", (0..100_000).map(|n| format!("feild_{n}: 1\n")).collect()),
        ("one key many times", "notes: a\n".repeat(100_000)),
        ("many values", format!("walk: [{}]\n", "1,".repeat(300_000))),
        ("a merge key", "<<: { walk: brook }\nwalk: brook\n".to_owned()),
        ("too large", "#".repeat(5 * 1024 * 1024)),
    ];
    let mut shown = String::new();
    for (name, text) in hostile {
        let start = Instant::now();
        let findings = faults(&text);
        // A bound on a debug build and a busy machine; the usual time is a few milliseconds.
        assert!(start.elapsed() < Duration::from_secs(2), "{name} took {:?}", start.elapsed());
        assert!(!findings.is_empty(), "{name}");
        assert!(findings.lines().all(|line| line.chars().count() < 400), "{name}");
        let lines: Vec<&str> = findings.lines().collect();
        let last = lines.len().saturating_sub(2).max(4.min(lines.len()));
        shown.push_str(&format!(
            "### {name}\n{}\n{}\n",
            lines[..4.min(lines.len())].join("\n"),
            lines[last..].join("\n")
        ));
    }
    insta::assert_snapshot!(shown);
}

#[test]
fn after_a_thousand_faults_the_rest_is_counted() {
    let many: String = (0..3_000).map(|n| format!("  lesion-{n}: [1, 2, 3]\n")).collect();
    let text = WALK
        .replace("costs_per_case: { white-line: [180, 300, 480] }\n", &format!("costs_per_case:\n{many}"));
    let findings = faults(&text);
    assert!(findings.contains("error: 2000 more errors in this file are not shown [too-many-findings]"));
    assert!(findings.ends_with("1001 errors\n"));
}

/// The finding for bytes that are no text of ours.
fn undecoded(bytes: &[u8]) -> String {
    input::decode_utf8("walk.yaml", bytes)
        .map_or_else(|fault| render_one(&fault), |_| "no fault\n".to_owned())
}

#[test]
fn other_encodings_are_refused_with_the_place_and_explained() {
    let utf16: Vec<u8> =
        [0xFF, 0xFE].into_iter().chain(WALK.encode_utf16().flat_map(u16::to_le_bytes)).collect();
    let windows_1252 = b"walk: brook\nfarm: { name: H\xF6henhof }\n";
    let spreadsheet = b"PK\x03\x04\0\0\xFF\x00";
    let cut_off = b"farm: { name: H\xC3";
    insta::assert_snapshot!(
        [&utf16[..], windows_1252, spreadsheet, cut_off, &[b'a'; input::MAX_BYTES + 1]]
            .map(undecoded)
            .concat()
    );
}

#[test]
fn control_characters_are_kept_in_the_text_and_harmless_in_a_message() {
    assert_eq!(changed(&[("Rain all week", "Rain \u{1b}[2J\u{7} all week \u{202e}")]), "");
    assert_eq!(changed(&[("\"Rain all week\"", "Rain \u{1b}[2J all week")]), "");
    insta::assert_snapshot!(changed(&[("choose: pushed", "choose: \"push\u{1b}[31m\u{202e}ed\"")]));
}

#[test]
fn carets_stand_under_wide_letters_and_tabs() {
    insta::assert_snapshot!(changed(&[("{ choose: pushed,", "{\tnote: \"牛が 🐄\", choose: pusht } #")]));
}

#[test]
fn files_from_windows_are_read() {
    let windows = format!("\u{FEFF}{}", WALK.replace('\n', "\r\n"));
    assert_eq!(faults(&windows), "");
    let source = input::decode_utf8("walk.yaml", windows.as_bytes()).ok();
    assert_eq!(source.map(|it| faults(it.text())), Some(String::new()));
    assert!(
        changed(&[("\n", "\r\n"), ("date: 2026-03-14\n", "date: 2026-02-30\r\n")])
            .contains("walk.yaml:2:7: error")
    );
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, ..ProptestConfig::default() })]

    /// Any text gives findings or a walk, never both and never a panic.
    #[test]
    fn any_text_is_read_or_refused(text in "(?s).{0,200}") {
        faults(&text);
    }

    /// So does any text of the pieces that YAML is made of.
    #[test]
    fn any_yaml_like_text_is_read_or_refused(
        pieces in prop::collection::vec(
            prop::sample::select(vec![
                "walk", ": ", "brook", "\n", "  ", "- ", "[", "]", "{", "}", ",", "\"", "'", "#", "&a", "*a", "!!x", "|",
                ">", "? ", "---", "...", "%YAML 1.2", "\t", "\u{0}", "é", "🐄", "date", "answers", "1", "-", "~", "<<", "\r\n",
            ]),
            0..60,
        )
    ) {
        faults(&pieces.concat());
    }

    /// A good walk with a piece replaced is read or refused.
    #[test]
    fn a_mutated_walk_is_read_or_refused(at in 0..WALK.len(), length in 0usize..40, piece in "(?s).{0,12}") {
        let floor = |at: usize| (0..=at.min(WALK.len())).rev().find(|at| WALK.is_char_boundary(*at)).unwrap_or(0);
        let (start, end) = (floor(at), floor(at + length));
        faults(&format!("{}{piece}{}", &WALK[..start], &WALK[end..]));
    }

    /// So is any other file of the set.
    #[test]
    fn a_mutated_library_is_read_or_refused(file in 0..GOOD.len(), at in 0.0..1.0f64, length in 0usize..40, piece in "(?s).{0,12}") {
        let (path, text) = GOOD[file];
        let floor = |at: usize| (0..=at.min(text.len())).rev().find(|at| text.is_char_boundary(*at)).unwrap_or(0);
        let at = (at * text.len() as f64) as usize;
        let mutated = format!("{}{piece}{}", &text[..floor(at)], &text[floor(at + length)..]);
        let mut files = good_files();
        files.overlay(path, SourceText::new(path, mutated));
        let mut findings = Findings::new();
        let library = input::read_library(&files, "brook", &mut findings);
        prop_assert_eq!(library.is_none(), findings.has_errors());
        render(&findings);
    }
}
