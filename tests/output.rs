//! What the program says of itself, colour and its absence, and the workbook as other programs read it.

mod common;

use std::io::Cursor;
use std::path::Path;

use anstream::adapter::strip_str;
use calamine::{Data, Range, Reader, Xlsx};
use common::{Outcome, Run, underfoot};
use serde_json::Value;

const HERONSWAY: &str = include_str!("../examples/01-heronsway/walk.yaml");

/// Few draws: every figure is as good as another.
fn heronsway(arguments: &str) -> Run {
    underfoot(arguments.split(' ')).args(["--draws", "256"]).file("walk.yaml", HERONSWAY)
}

// --- The command line described by itself

fn help(command: &str) -> String {
    underfoot([command, "--help"]).run().quiet_success().stdout
}

/// Names of all commands, from the program's own help.
fn commands() -> Vec<String> {
    let help = underfoot(["--help"]).run().quiet_success().stdout;
    let listed = help.split("Commands:\n").nth(1).and_then(|rest| rest.split("\n\n").next()).expect("a list");
    let names = listed.lines().filter_map(|line| line.strip_prefix("  ")?.split_once(' '));
    names.map(|(name, _)| name.to_owned()).filter(|name| !name.is_empty() && name != "help").collect()
}

#[test]
fn every_help_fits_a_terminal_and_teaches_by_example() {
    let commands = commands();
    assert!(commands.len() > 10, "{commands:?}");
    for command in commands {
        let help = help(&command);
        assert!(help.contains("Examples:\n"), "{command}");
        assert_eq!(help.lines().find(|line| line.chars().count() > 80), None, "{command}");
    }
}

/// A folder with all that the examples name: the demo farm, cards, and checklists of one's own.
fn with_all_files(mut run: Run) -> Run {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    for (from, to) in [("examples/group", "cards"), ("checklists", "my-checklists")] {
        for entry in std::fs::read_dir(root.join(from)).expect("a folder") {
            let path = entry.expect("an entry").path();
            if path.extension().is_some_and(|end| end == "yaml") {
                let name = path.file_name().expect("a name").to_string_lossy().into_owned();
                run = run.file(&format!("{to}/{name}"), std::fs::read(&path).expect("a file"));
            }
        }
    }
    run.folder("examples/01-heronsway")
}

#[test]
fn every_example_of_the_help_runs() {
    let mut ran = 0;
    for command in commands() {
        let help = help(&command);
        for example in help.lines().filter_map(|line| line.strip_prefix("    underfoot ")) {
            let run = with_all_files(underfoot(example.split(' '))).run();
            assert_eq!(run.code, 0, "underfoot {example}\n{}", run.stderr);
            assert!(!run.stdout.is_empty() || !run.files.is_empty(), "underfoot {example}");
            ran += 1;
        }
    }
    assert!(ran > 25, "{ran}");
}

#[test]
fn every_shell_completes_every_command() {
    for shell in ["bash", "elvish", "fish", "powershell", "zsh"] {
        let script = underfoot(["completions", shell]).run().quiet_success().stdout;
        for command in commands() {
            assert!(script.contains(&command), "{shell}: {command}");
        }
    }
    underfoot(["completions", "abacus"]).run().clean_failure(2);
}

#[test]
fn every_command_has_a_page_of_the_manual() {
    for command in commands() {
        let page = underfoot(["man", &command]).run().quiet_success().stdout;
        assert!(page.contains(&format!(".TH underfoot-{command} 1")), "{page}");
        assert!(page.contains(&format!("\n    underfoot {command}")), "{page}");
    }
    let page = underfoot(["man"]).run().quiet_success().stdout;
    assert!(page.contains(".TH underfoot 1") && page.contains("Exit codes"), "{page}");
    let run = underfoot(["man", "scroe"]).run().clean_failure(2);
    assert!(run.stderr.contains("score"), "{}", run.stderr);
}

// --- Colour

#[test]
fn colour_is_asked_for_and_carries_nothing_by_itself() {
    let plain = heronsway("score walk.yaml --color never").run().quiet_success().stdout;
    assert!(!plain.contains('\u{1b}'));
    // The tests' environment sets NO_COLOR, and standard output is no terminal.
    assert_eq!(heronsway("score walk.yaml").run().quiet_success().stdout, plain);
    let inked = heronsway("score walk.yaml --color always").run().quiet_success().stdout;
    assert!(inked.contains("\u{1b}[1mWHAT TO CHANGE FIRST"), "{inked}");
    assert_eq!(strip_str(&inked).to_string(), plain);
    let filed = heronsway("score walk.yaml --color always --out score.txt").run().quiet_success();
    assert_eq!(filed.text("score.txt"), plain);
}

#[test]
fn messages_are_inked_too() {
    let faulty = |colour: &str| {
        let walk = HERONSWAY.replace("cows: 280", "cows: many");
        underfoot(["check", "walk.yaml", "--color", colour])
            .file("walk.yaml", walk)
            .run()
            .clean_failure(1)
            .stderr
    };
    let (plain, inked) = (faulty("never"), faulty("always"));
    assert!(!plain.contains('\u{1b}') && inked.contains("\u{1b}[1merror: \u{1b}[0m"), "{inked}");
    assert_eq!(strip_str(&inked).to_string(), plain);
    // Faults of the command line itself too, which is not read yet.
    let faulty = |colour: &str| underfoot(["scroe", "--color", colour]).run().clean_failure(2).stderr;
    assert!(faulty("always").contains('\u{1b}') && !faulty("never").contains('\u{1b}'));
}

// --- The workbook

fn workbook(run: &Outcome) -> Xlsx<Cursor<Vec<u8>>> {
    let bytes = run.files.get("walk-report.xlsx").expect("the workbook").clone();
    Xlsx::new(Cursor::new(bytes)).expect("calamine reads it")
}

fn sheet(file: &mut Xlsx<Cursor<Vec<u8>>>, name: &str) -> Range<Data> {
    file.worksheet_range(name).expect("the sheet")
}

/// A column by its heading.
fn column(sheet: &Range<Data>, heading: &str) -> Vec<Data> {
    let mut rows = sheet.rows();
    let headings = rows.next().expect("headings");
    let found = headings.iter().position(|cell| *cell == heading);
    let at = found.unwrap_or_else(|| panic!("no {heading} in {headings:?}"));
    rows.map(|row| row[at].clone()).collect()
}

fn same(cell: &Data, fact: &Value) -> bool {
    match cell {
        Data::Empty => fact.is_null(),
        // Reading a number from JSON may miss its last bit.
        Data::Float(number) => {
            fact.as_f64().is_some_and(|fact| (fact - number).abs() <= 1e-14 * number.abs())
        }
        Data::String(text) => fact.as_str() == Some(text),
        _ => false,
    }
}

/// Every number of the ranked list and of the factors is the fact itself, and money says its currency.
#[test]
fn the_workbook_holds_the_facts() {
    let run = heronsway("report walk.yaml --as xlsx").run();
    assert_eq!((run.code, run.stderr.as_str()), (0, "wrote walk-report.xlsx\n"));
    let mut file = workbook(&run);
    let facts = heronsway("score walk.yaml --as json").run().quiet_success().stdout;
    let facts: Value = serde_json::from_str(&facts).expect("JSON");
    let listed =
        |list: &str, at: usize, path: &str| facts[list][at].pointer(path).cloned().unwrap_or_default();
    for (name, list, heading, path) in [
        ("Ranked list", "interventions", "Id", "/id"),
        ("Ranked list", "interventions", "Fewer new cases of lameness a year: mean", "/cases_avoided/mean"),
        (
            "Ranked list",
            "interventions",
            "Fewer new cases of lameness a year: low end",
            "/cases_avoided/interval/0",
        ),
        (
            "Ranked list",
            "interventions",
            "Fewer new cases of lameness a year: high end",
            "/cases_avoided/interval/1",
        ),
        ("Ranked list", "interventions", "Spent once (EUR): high end", "/capital/interval/1"),
        ("Ranked list", "interventions", "Saved less cost, a year (EUR): low end", "/net_benefit/interval/0"),
        ("Ranked list", "interventions", "Chance that it pays (%)", "/p_pays"),
    ] {
        let cells = column(&sheet(&mut file, name), heading);
        assert_eq!(cells.len(), facts[list].as_array().map_or(0, Vec::len), "{heading}");
        for (at, cell) in cells.iter().enumerate() {
            let fact = listed(list, at, path);
            assert!(same(cell, &fact), "{heading}, row {at}: {cell:?} is not {fact}");
        }
    }
    let factors = sheet(&mut file, "Factors");
    let cases = column(&factors, "New cases a year put down to it: mean");
    for (id, cell) in column(&factors, "Id").iter().zip(&cases) {
        let id = id.to_string();
        let of_id =
            facts["factors"].as_array().into_iter().flatten().find(|factor| factor["id"] == id.as_str());
        let fact = of_id.map_or(Value::Null, |factor| factor["attributed_cases"]["mean"].clone());
        assert!(same(cell, &fact), "{id}: {cell:?} is not {fact}");
    }
    let plan = heronsway("plan walk.yaml --as json").run().quiet_success().stdout;
    let plan: Value = serde_json::from_str(&plan).expect("JSON");
    let capital = column(&sheet(&mut file, "Plan"), "Spent once (EUR): mean");
    assert_eq!(capital.len(), plan["frontier"].as_array().map_or(0, Vec::len));
    assert!(same(&capital[capital.len() - 1], &plan["frontier"][capital.len() - 1]["capital"]));
}

#[test]
fn the_workbook_is_the_same_bytes_each_time_and_never_written_over_an_input() {
    let bytes = || heronsway("report walk.yaml --as xlsx --quiet").run().quiet_success().files;
    assert!(bytes() == bytes());
    heronsway("report walk.yaml --as xlsx --out walk.yaml").run().clean_failure(2);
    heronsway("report walk.yaml --as xlsx --for farmer").run().clean_failure(2);
}

/// What a spreadsheet would take for a formula, had it been typed.
const FORMULAS: [&str; 5] =
    ["=HYPERLINK(\"http://evil.example\")", "+1+1", "-2+3", "@SUM(A1:A9)", "=cmd|' /C calc'!A0"];

#[test]
fn text_of_a_walk_never_becomes_a_formula() {
    for formula in FORMULAS {
        let quoted = format!("'{}'", formula.replace('\'', "''"));
        let walk = HERONSWAY
            .replace("name: \"Heronsway\"", &format!("name: {quoted}"))
            .replace("\"the trimmer keeps that book and was not there\"", &quoted);
        let run =
            heronsway("report walk.yaml --as xlsx --quiet").file("walk.yaml", walk).run().quiet_success();
        let mut file = workbook(&run);
        let mut seen = 0;
        for name in file.sheet_names() {
            assert!(file.worksheet_formula(&name).expect("the sheet").is_empty(), "{name}: {formula}");
            seen += sheet(&mut file, &name).used_cells().filter(|(_, _, cell)| **cell == formula).count();
        }
        assert!(seen > 0, "{formula}");
    }
}

/// Where money is withheld, its cells are empty and the reason stands in the notes.
#[test]
fn withheld_money_leaves_cells_empty() {
    let walk = include_str!("../examples/02-tussock-flat/walk.yaml");
    let run = heronsway("report walk.yaml --as xlsx --quiet").file("walk.yaml", walk).run().quiet_success();
    let mut file = workbook(&run);
    let saved = column(&sheet(&mut file, "Ranked list"), "Saved a year (NZD): mean");
    assert!(saved.iter().all(|cell| *cell == Data::Empty));
    let notes = column(&sheet(&mut file, "Notes"), "What");
    assert!(notes.iter().any(|what| *what == "Money withheld"), "{notes:?}");
    assert!(notes.iter().any(|what| *what == "No plan"), "{notes:?}");
}
