//! The registry of codes, its page, and the page's examples.

use std::collections::BTreeSet;
use std::fs;
use underfoot::finding::{CODES, Findings, SourceText};
use underfoot::input::cases::{
    CaseOptions, LocomotionOptions, TableOptions, read_cases, read_locomotion, read_table,
};
use underfoot::input::{FileSet, check_files};
use underfoot::model::case_record::Scale;
use underfoot::show::caret::render;

const PAGE: &str = include_str!("../docs/findings.md");
const GOOD: [&str; 10] = [
    "walk.yaml",
    "brook.yaml",
    "evidence/sources.yaml",
    "evidence/effects.yaml",
    "evidence/burden.yaml",
    "factors.yaml",
    "interventions.yaml",
    "card.yaml",
    "es/brook.yaml",
    "actions.yaml",
];

/// Codes that no one line of a file can show; each has its own test.
const WITHOUT_EXAMPLE: [&str; 28] = [
    "file-not-read",
    "not-utf8",
    "file-too-large",
    "missing-file",
    "empty-file",
    "same-kind-twice",
    "too-many-findings",
    "too-many-segments",
    "yaml-too-many",
    "checklist-name",
    "not-a-table",
    "empty-table",
    "workbook-damaged",
    "workbook-locked-or-old",
    "workbook-too-large",
    "workbook-not-here",
    "no-sheets",
    "no-such-sheet",
    "sheets-not-read",
    "merged-cells",
    "table-too-wide",
    "no-such-column",
    "quote-not-closed",
    "rows-left-out",
    "more-bad-rows",
    "card-group",
    "text-blanks",
    "fewer-cows-than-lame",
];

fn good(path: &str) -> String {
    fs::read_to_string(format!("tests/fixtures/good/{path}")).unwrap_or_default()
}

/// All good files checked together, one of them with another text.
fn check(changed: &str, text: &str) -> String {
    let own =
        |path: &&str| SourceText::new(*path, if *path == changed { text.to_owned() } else { good(path) });
    let sources: Vec<SourceText> = GOOD.iter().map(own).collect();
    let mut findings = Findings::new();
    check_files(&sources, &FileSet::default(), &mut findings);
    render(&findings)
}

/// A section of the page: the code, and the file, the wrong and the right lines of each of its examples.
fn sections() -> Vec<(&'static str, Vec<[&'static str; 3]>)> {
    let example = |text: &'static str| {
        let file = text.split('`').next()?;
        let mut blocks = text.split("```yaml\n").skip(1).filter_map(|block| block.split("\n```").next());
        Some([file, blocks.next()?, blocks.next()?])
    };
    let section = |text: &'static str| {
        let code = text.lines().next().unwrap_or_default();
        (code, text.split("\nIn `").skip(1).filter_map(example).collect())
    };
    PAGE.split("\n### ").skip(1).map(section).collect()
}

#[test]
fn the_page_and_the_registry_list_the_same_codes_once() {
    let registered: Vec<&str> = CODES.to_vec();
    let explained: Vec<&str> = sections().iter().map(|(code, _)| *code).collect();
    assert_eq!(registered, explained);
    assert_eq!(registered.iter().collect::<BTreeSet<_>>().len(), registered.len());
}

#[test]
fn the_good_files_have_no_finding() {
    assert_eq!(check("", ""), "");
}

#[test]
fn every_example_of_the_page_gives_its_finding() {
    let mut shown = String::new();
    for (code, examples) in sections() {
        let shown_otherwise = || table_example(code).is_some() || WITHOUT_EXAMPLE.contains(&code);
        assert!(!examples.is_empty() || shown_otherwise(), "{code} has no example");
        for [file, wrong, right] in examples {
            let text = good(file);
            assert_eq!(text.matches(right).count(), 1, "{code}: the right lines are in {file} once");
            let findings = check(file, &text.replacen(right, wrong, 1));
            assert!(findings.contains(&format!("[{code}]")), "{code} is not among:\n{findings}");
            shown.push_str(&format!("### {code}\n{findings}\n"));
        }
    }
    insta::assert_snapshot!(shown);
}

/// The kind of table, and the wrong and the right one, of the example of a code.
fn table_example(code: &str) -> Option<[&'static str; 3]> {
    let section = PAGE.split("\n### ").find(|section| section.lines().next() == Some(code))?;
    let kind = ["csv", "scores"].into_iter().find(|kind| section.contains(&format!("```{kind}\n")))?;
    let mut blocks = section.split("```").skip(1).step_by(2).filter_map(|block| block.split_once('\n'));
    Some([kind, blocks.next()?.1, blocks.next()?.1])
}

/// The findings of a table of the page. A last row without its cells stands for a file cut short.
fn check_table(kind: &str, code: &str, text: &str) -> String {
    let text = if code == "maybe-cut-short" { text.trim_end() } else { text };
    let today = chrono::NaiveDate::from_ymd_opt(2026, 12, 31);
    let table = read_table("table.csv", text.as_bytes(), &TableOptions::default()).expect("a table");
    let findings = match kind {
        "scores" => read_locomotion(&table, Scale::ZeroToThree, &LocomotionOptions::default()).1,
        _ => read_cases(&table, &CaseOptions { today, ..CaseOptions::default() }).2,
    };
    render(&findings)
}

#[test]
fn every_table_of_the_page_gives_its_finding() {
    let mut shown = String::new();
    for code in CODES {
        let Some([kind, wrong, right]) = table_example(code) else { continue };
        let findings = check_table(kind, code, wrong);
        assert!(findings.contains(&format!("[{code}]")), "{code} is not among:\n{findings}");
        shown.push_str(&format!("### {code}\n{findings}\n"));
        let findings = check_table(kind, "", right);
        assert!(findings.is_empty(), "{code}, right:\n{findings}");
    }
    insta::assert_snapshot!(shown);
}

#[test]
fn every_code_in_the_source_is_registered() {
    let registered: BTreeSet<&str> = CODES.iter().copied().collect();
    let mut used = BTreeSet::new();
    for text in source_files("src".as_ref()).iter().filter(|text| !text.contains("pub const CODES")) {
        // Some codes are chosen before they are used.
        let named = |code: &&&str| text.contains(&format!("\"{code}\""));
        used.extend(registered.iter().filter(named).map(|code| (*code).to_owned()));
        for opening in [
            "error(",
            "error_with(",
            "warning(",
            "stop(",
            "fault(",
            "fail(",
            "unknown(",
            "unknown_key(",
            "warn(",
            "code:",
            "code =",
        ] {
            used.extend(text.split(opening).skip(1).filter_map(first_literal).map(str::to_owned));
        }
        used.extend(text.split("(code, thing, file)").nth(1).into_iter().flat_map(|rest| {
            rest.split("};")
                .next()
                .unwrap_or_default()
                .split("=> (")
                .skip(1)
                .filter_map(first_literal)
                .map(str::to_owned)
        }));
    }
    let unknown: Vec<&String> = used.iter().filter(|code| !registered.contains(code.as_str())).collect();
    assert!(unknown.is_empty(), "not in the registry: {unknown:?}");
    let silent: Vec<&&str> = registered.iter().filter(|code| !used.contains(**code)).collect();
    assert!(silent.is_empty(), "registered but never used: {silent:?}");
}

/// The code-like literal that a text begins with, after spaces.
fn first_literal(text: &str) -> Option<&str> {
    let literal = text.trim_start().strip_prefix('"')?.split('"').next()?;
    let kebab = !literal.is_empty()
        && literal.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'-');
    kebab.then_some(literal)
}

fn source_files(folder: &std::path::Path) -> Vec<String> {
    let entries = fs::read_dir(folder).into_iter().flatten().flatten();
    entries
        .flat_map(|entry| {
            let path = entry.path();
            let is_code = path.extension().is_some_and(|end| end == "rs");
            if path.is_dir() {
                source_files(&path)
            } else {
                is_code.then(|| fs::read_to_string(&path).ok()).flatten().into_iter().collect()
            }
        })
        .collect()
}
