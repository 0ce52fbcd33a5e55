//! Hostile text in every file, through every command that prints: nothing of it moves a terminal's cursor,
//! colours the screen, turns the direction of writing or becomes markup. Pages are tested in a real browser:
//! `tests/browser/attacks.test.mjs`.

mod common;

use common::{Outcome, Run, underfoot};

/// As it stands in a quoted YAML text: a coloured word, a link, a bell, a turn of the line, a zero byte.
const HARM: &str =
    r"\e[31mRED\e]8;;http://127.0.0.1:9/\a \u202e \u0085 \0 \n# head\n- list <b> `x` | [a](b) {{ c }} | =1+1";

/// Names of the fields of free text in walks, actions and checklists.
const TEXTS: [&str; 14] = [
    "title", "why", "authors", "journal", "ask", "say", "look", "note", "name", "farm", "skip", "who",
    "unit", "what",
];

/// A file of ours with the harm behind every quoted free text.
fn harmed(text: &str) -> String {
    TEXTS.iter().fold(text.to_owned(), |text, field| {
        let mut parts = text.split(&format!("{field}: \"")).map(str::to_owned).collect::<Vec<_>>();
        for part in parts.iter_mut().skip(1) {
            let end = part.find('"').expect("a closing quote");
            part.insert_str(end, &format!(" {HARM}"));
        }
        parts.join(&format!("{field}: \""))
    })
}

/// A run on harmed copies of the demo farm's files and of all checklists.
fn on_harmed_files(arguments: &str) -> Run {
    let root = std::path::Path::new(env!("CARGO_MANIFEST_DIR"));
    let read = |path: &str| std::fs::read_to_string(root.join(path)).expect("a file of ours");
    let mut run = underfoot(arguments.split(' ')).args(["--checklists", "own"]);
    for file in ["walk.yaml", "walk-2026.yaml", "actions.yaml"] {
        run = run.file(file, harmed(&read(&format!("examples/01-heronsway/{file}"))));
    }
    for file in ["factors", "interventions", "pasture-herd", "self-check", "evidence/sources"] {
        run = run.file(&format!("own/{file}.yaml"), harmed(&read(&format!("checklists/{file}.yaml"))));
    }
    let word = "\u{1b}[31mRED\u{7}\u{202e}|<b>=1+1";
    let cases = read("examples/01-heronsway/cases.csv").replace("stone bruise", word);
    let cards =
        ["3wx-3qf", "5mh-dy6", "5x5-3cs", "9sn-7q6", "ccc-fwm"].map(|code| format!("{code}-2026.yaml"));
    let lay =
        |run: Run, card: &String| run.file(&format!("cards/{card}"), read(&format!("examples/group/{card}")));
    cards.iter().fold(run.file("cases.csv", cases), lay)
}

#[track_caller]
fn holds_nothing_harmful(outcome: &Outcome, arguments: &str) {
    let files = outcome.files.values().map(|bytes| String::from_utf8_lossy(bytes));
    // The program's own ink: bold, dim and back.
    let stdout = ["\u{1b}[0m", "\u{1b}[1m", "\u{1b}[2m"]
        .iter()
        .fold(outcome.stdout.clone(), |text, ink| text.replace(ink, ""));
    for text in [stdout.as_str().into(), outcome.stderr.as_str().into()].into_iter().chain(files) {
        let harm =
            text.chars().find(|c| c.is_control() && *c != '\n' || ('\u{202a}'..='\u{202e}').contains(c));
        assert_eq!(harm, None, "{arguments}: {text}");
    }
}

#[test]
fn no_command_prints_what_could_harm_a_terminal() {
    let revisit = "revisit walk.yaml walk-2026.yaml --actions actions.yaml --draws 256";
    for (arguments, shows) in [
        ("score walk.yaml --color always --draws 256", "RED"),
        ("report walk.yaml --as md --for farmer --draws 256", "RED"),
        ("report walk.yaml --as md --draws 256", "RED"),
        ("plan walk.yaml --budget 12000 --color always --draws 256", "RED"),
        ("plan walk.yaml --budget 12000 --as md --draws 256", "RED"),
        (&format!("{revisit} --as md"), "RED"),
        ("cases cases.csv --cows 274 --as md", "RED"),
        ("group cards --as md --draws 256", "RED"),
        ("evidence --color always", ""),
        ("evidence track-stones --color always", "RED"),
        ("sheet pasture-herd --as md", "RED"),
        ("sheet pasture-herd --as yaml", "RED"),
        ("card walk.yaml --draws 256", ""),
        ("check walk.yaml", ""),
    ] {
        let outcome = on_harmed_files(arguments).run();
        assert_eq!(outcome.code, 0, "{arguments}: {}", outcome.stderr);
        assert!(outcome.stdout.contains(shows), "{arguments}");
        holds_nothing_harmful(&outcome, arguments);
    }
}

/// What is read as YAML again has the same lines with hostile titles as without, but for its comments.
#[test]
fn a_blank_record_has_no_line_of_its_checklists_making() {
    let lines = |run: Run| -> Vec<String> {
        let text = run.run().quiet_success().stdout;
        let kept = text.lines().filter(|line| !line.trim_start().starts_with('#'));
        kept.map(|line| line.split(" #").next().unwrap_or_default().trim_end().to_owned()).collect()
    };
    let arguments = "sheet pasture-herd --as yaml";
    assert_eq!(lines(on_harmed_files(arguments)), lines(underfoot(arguments.split(' '))));
}

/// Failures quote what they found, and names of files are text from outside too.
#[test]
fn no_failure_prints_what_could_harm_a_terminal() {
    let other =
        harmed(include_str!("../examples/01-heronsway/actions.yaml")).replace("Heronsway", "Elsewhere");
    let outcome =
        on_harmed_files("revisit walk.yaml walk-2026.yaml --actions other.yaml").file("other.yaml", other);
    let outcome = outcome.run().clean_failure(1);
    assert!(outcome.stderr.contains("RED"), "{}", outcome.stderr);
    holds_nothing_harmful(&outcome, "revisit");
    let name = "a\u{1b}[31mRED\u{7}.yaml";
    for arguments in [["score", name], ["check", name], ["sheet", name], ["group", name]] {
        let outcome = underfoot(arguments).run();
        assert!(outcome.code > 0 && outcome.stderr.contains("RED"), "{arguments:?}: {}", outcome.stderr);
        holds_nothing_harmful(&outcome, arguments[0]);
    }
    let walk = include_str!("../examples/02-tussock-flat/walk.yaml");
    let outcome = underfoot(["report", name, "--draws", "256"]).file(name, walk).run();
    let told = format!("{:?}", outcome.stderr);
    assert!(outcome.code == 0 && told.starts_with("\"wrote a␛[31mRED␇-report.html"), "{told}");
}
