//! A user's own checklist: the starter folder, and every step of docs/own-checklist.md.

mod common;

use std::fs;
use std::path::Path;
use std::process::Output;

use assert_cmd::Command;
use common::underfoot;

const GUIDE: &str = include_str!("../docs/own-checklist.md");

fn run(folder: &Path, line: &str) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_underfoot"));
    let arguments = line.split_whitespace().skip(1);
    command.env_clear().current_dir(folder).args(arguments).output().expect("the program runs")
}

/// Does what the guide says, in its order: runs its commands, and puts its text where it says.
#[test]
fn every_step_of_the_guide_works() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut said = Vec::new();
    let mut blocks = GUIDE.split("```");
    while let (Some(words), Some(block)) = (blocks.next(), blocks.next()) {
        let (kind, text) = block.split_once('\n').expect("a block");
        if kind == "sh" {
            for line in text.lines() {
                let output = run(folder.path(), line);
                let told = String::from_utf8_lossy(&output.stderr).into_owned();
                assert!(output.status.success(), "{line}\n{told}");
                assert!(!told.contains("warning"), "{line}\n{told}");
                said.push(format!("{line}\n{}", String::from_utf8_lossy(&output.stdout)));
            }
            continue;
        }
        // The last name in code before the block is the file.
        let step = words.rsplit("\n\n").nth(1).or(Some(words)).unwrap_or_default();
        let last = words.trim_end().rsplit('\n').next().unwrap_or(step);
        let path = folder.path().join(last.split('`').nth(1).expect("a file is named"));
        let text = match last.starts_with("Add at the end of") {
            true => fs::read_to_string(&path).expect("a file to add to") + text,
            false => text.to_owned(),
        };
        fs::write(&path, text).expect("the file");
    }
    assert_eq!(said.len(), 7, "{said:#?}");
    let of = |command: &str| said.iter().find(|it| it.starts_with(command)).expect(command).as_str();
    assert!(of("underfoot check --checklists").ends_with("mine: no errors.\n"));
    let evidence = of("underfoot evidence").to_lowercase();
    assert!(evidence.contains("judge") && evidence.contains("dogs in the yard"), "{evidence}");
    let score = of("underfoot score");
    assert!(score.contains("Dogs in the yard at milking") && score.contains("Shut the dog away"), "{score}");
    assert!(score.contains("(1)"), "the version is kept: {score}");
    let schema = fs::read_to_string(folder.path().join("walk.schema.json")).expect("the schema");
    assert!(schema.contains("works-at-times"));
}

#[test]
fn a_starter_folder_passes_check_and_its_sheet_can_be_written() {
    for arguments in [
        &["checklist", "new", "mine"][..],
        &["checklist", "new", "mine", "--from", "housed-herd"],
        &["checklist", "new", "mine", "--from", "self-check"],
    ] {
        let folder = tempfile::tempdir().expect("a folder");
        let new = run(folder.path(), &format!("underfoot {}", arguments.join(" ")));
        assert!(new.status.success());
        let output = run(folder.path(), "underfoot check --checklists mine");
        assert_eq!(String::from_utf8_lossy(&output.stderr), "", "{arguments:?}");
        let sheet = run(folder.path(), "underfoot sheet my-walk --as md --checklists mine");
        assert!(sheet.status.success());
        // What is commented out is right too, once the marks are taken off.
        for file in ["mine/factors.yaml", "mine/interventions.yaml"] {
            let path = folder.path().join(file);
            let text = fs::read_to_string(&path).expect("the file");
            let (shipped, own) = text.split_once("# --- Your own").expect("a place for one's own");
            let own: String =
                own.lines().skip(1).map(|line| line.trim_start_matches('#').to_owned() + "\n").collect();
            fs::write(&path, format!("{shipped}{own}")).expect("the file");
        }
        let output = run(folder.path(), "underfoot check --checklists mine");
        let told = String::from_utf8_lossy(&output.stderr).into_owned();
        assert!(output.status.success() && !told.contains("error"), "{told}");
    }
}

#[test]
fn nothing_that_is_there_is_overwritten() {
    let there = underfoot(["checklist", "new", "."]).file("interventions.yaml", "mine alone\n");
    let outcome = there.run().clean_failure(3);
    assert!(outcome.stderr.contains("interventions.yaml: is there already"), "{}", outcome.stderr);
}

#[test]
fn a_wrong_name_is_told() {
    for (arguments, told) in [
        (["checklist", "new", "mine", "--from", "pasture-hurd"], "did you mean `pasture-herd`?"),
        (["checklist", "new", "mine", "--id", "factors"], "can't be the id of a checklist"),
        (["checklist", "new", "mine", "--id", "../walk"], "can't be the id of a checklist"),
        (["check", "--schema", "wlak", "--quiet", "--quiet"], ""),
    ] {
        let outcome = underfoot(arguments).run().clean_failure(2);
        assert!(outcome.stderr.contains(told), "{}", outcome.stderr);
    }
}

/// Feet, yards and acres are shown back as they were written, and reckoned in metres.
#[test]
fn feet_and_acres_are_shown_back() {
    let walk = fs::read_to_string("examples/01-heronsway/walk.yaml").expect("the example");
    let length = walk.split("length_m: ").nth(1).and_then(|rest| rest.split(',').next()).expect("a length");
    let with =
        |length_m: &str| walk.replacen(&format!("length_m: {length}"), &format!("length_m: {length_m}"), 1);
    let report = |text: &str| {
        let run = underfoot(["report", "walk.yaml", "--as", "md"]).folder("examples/01-heronsway");
        run.file("walk.yaml", text).run().quiet_success().stdout
    };
    let (metric, given) = (report(&with("350.52")), report(&with("\"1150 ft\"")));
    assert!(metric.contains("350.52 m long") && given.contains("1,150 ft (351 m) long"), "{given}");
    let ranking = |text: &str| text.split("## Where the lameness").next().map(str::to_owned);
    assert_eq!(ranking(&metric), ranking(&given));
    let wrong = with("\"2 acres\"");
    let run = underfoot(["score", "walk.yaml"]).folder("examples/01-heronsway").file("walk.yaml", wrong);
    let outcome = run.run().clean_failure(1);
    assert!(outcome.stderr.contains("metres without a unit"), "{}", outcome.stderr);
}
