//! The program as a user meets it: exit codes, what is written and what is not, and the reports.

mod common;

use std::collections::BTreeSet;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use common::{Outcome, Run, underfoot};
use serde_json::Value;

const HERONSWAY: &str = include_str!("../examples/01-heronsway/walk.yaml");
const TUSSOCK_FLAT: &str = include_str!("../examples/02-tussock-flat/walk.yaml");

/// Few draws: where the figures don't matter.
fn fast(arguments: &str) -> Run {
    underfoot(arguments.split(' ')).args(["--draws", "256"])
}

fn heronsway(arguments: &str) -> Run {
    underfoot(arguments.split(' ')).file("walk.yaml", HERONSWAY)
}

fn tussock_flat(arguments: &str) -> Run {
    underfoot(arguments.split(' ')).file("walk.yaml", TUSSOCK_FLAT)
}

/// A snapshot without what changes by itself: the program's version, hashes of the inputs, the style sheet.
#[track_caller]
fn snapshot(name: &str, text: &str) {
    insta::with_settings!({ prepend_module_to_snapshot => false, snapshot_path => "snapshots/cli", filters => vec![
        (r"\b[0-9a-f]{64}\b", "HASH"),
        (r"program \d+\.\d+\.\d+", "program VERSION"),
        (r"underfoot \d+\.\d+\.\d+", "underfoot VERSION"),
        (r"(?s)<style>.*?</style>", "<style/>"),
    ]}, {
        insta::assert_snapshot!(name, text);
    });
}

// --- The reports of the demo farms

#[test]
fn the_demo_farms_reports_stand() {
    for (name, walk) in [("heronsway", HERONSWAY), ("tussock-flat", TUSSOCK_FLAT)] {
        for reader in ["farmer", "adviser"] {
            for format in ["md", "html"] {
                let arguments = format!("report walk.yaml --as {format} --for {reader} --out -");
                let run = underfoot(arguments.split(' ')).file("walk.yaml", walk).run().quiet_success();
                snapshot(&format!("{name}-{reader}.{format}"), &run.stdout);
                assert!(run.files.is_empty(), "{:?}", run.files.keys());
            }
        }
        let run = underfoot(["score", "walk.yaml"]).file("walk.yaml", walk).run().quiet_success();
        snapshot(&format!("{name}-score.txt"), &run.stdout);
        let wide = run.stdout.lines().find(|line| line.chars().count() > 80);
        assert_eq!(wide, None);
    }
}

#[test]
fn html_is_written_beside_the_walk() {
    let run = fast("report walk.yaml").file("walk.yaml", TUSSOCK_FLAT).run();
    assert_eq!((run.code, run.stdout.as_str()), (0, ""));
    assert!(run.stderr.contains("walk-report.html"), "{}", run.stderr);
    assert_eq!(run.files.keys().collect::<Vec<_>>(), ["walk-report.html"]);
    let quiet = fast("report walk.yaml --quiet").file("walk.yaml", TUSSOCK_FLAT).run().quiet_success();
    assert_eq!(quiet.text("walk-report.html"), run.text("walk-report.html"));
    let elsewhere = fast("report walk.yaml --as md --out new.md").file("walk.yaml", TUSSOCK_FLAT);
    assert!(elsewhere.run().quiet_success().text("new.md").starts_with("# Tussock Flat"));
}

// --- Results as JSON

/// Objects whose names are data.
const BY_NAME: [&str; 6] =
    ["by_lesion", "attributed_by_lesion", "basis_by_lesion", "by_segment", "inputs", "by_observer"];

fn paths(value: &Value, at: &str, into: &mut BTreeSet<String>) {
    match value {
        Value::Object(fields) => {
            for (name, value) in fields {
                let by_name = BY_NAME.iter().any(|field| at.ends_with(field));
                let name = if by_name { "*" } else { name };
                paths(value, format!("{at}.{name}").trim_start_matches('.'), into);
            }
        }
        Value::Array(values) if values.iter().any(|value| !value.is_number()) => {
            values.iter().for_each(|value| paths(value, &format!("{at}[]"), into));
        }
        _ => {
            into.insert(at.to_owned());
        }
    }
}

/// Every field of `underfoot.score/1`, and no other. A mean with its interval reads `@`.
const SCORE_FIELDS: &str = "
format made_with.draws made_with.inputs.* made_with.seed made_with.version
walk.checklist walk.version walk.date walk.system walk.cows walk.farm walk.currency
score.value score.interval score.bounds score.answered score.asked
score.sections[].id score.sections[].value score.sections[].answered score.sections[].asked
kappa unanswered skipped[].item skipped[].reason skipped[].segment money_withheld rank_by
factors[].id factors[].exposure@ factors[].log_rr.mean factors[].log_rr.sd factors[].by_lesion.*
factors[].overlap factors[].basis factors[].effects[] factors[].effects factors[].attributed_cases@
factors[].by_segment.* factors[].basis_by_lesion.* factors[].attributed_by_lesion.*
burden.rate@ burden.cases_per_year@ burden.lame_days_per_year@ burden.cost_per_year@ burden.unexplained@
burden.lesions[].id burden.lesions[].share burden.lesions[].cases_per_year
burden.from_records.cases burden.from_records.cow_years
interventions[].id interventions[].rank interventions[].cases_avoided@ interventions[].reduction
interventions[].lame_days_avoided@ interventions[].saved@ interventions[].capital@
interventions[].yearly_cost@ interventions[].net_benefit@ interventions[].payback_years
interventions[].p_best interventions[].p_top3 interventions[].p_pays interventions[].published_share
interventions[].close_to_next
own_records.cases.format own_records.cases.period.from own_records.cases.period.to own_records.cases.period.days
own_records.cases.cows own_records.cases.cow_years own_records.cases.records own_records.cases.cases
own_records.cases.repeats own_records.cases.lame_cows own_records.cases.level own_records.cases.unrecorded
own_records.cases.rate.value own_records.cases.rate.interval
own_records.cases.lesions[].id own_records.cases.lesions[].cases own_records.cases.lesions[].share
own_records.cases.lesions[].interval own_records.cases.top.lesions[] own_records.cases.top.share
own_records.cases.months own_records.cases.feet own_records.cases.parities own_records.cases.days_in_milk
own_records.cases.days_to_treatment own_records.cases.rows_left_out own_records.cases.counted_as_other
own_records.cases.cautions[] own_records.cases.withheld own_records.locomotion own_records.gap
own_records.effect.rate_with@ own_records.effect.rate_without@ own_records.effect.ranks[].id
own_records.effect.ranks[].rank_with own_records.effect.ranks[].rank_without
own_records.effect.ranks[].cases_with@ own_records.effect.ranks[].cases_without@";

#[test]
fn json_has_the_fields_of_its_contract() {
    let run = heronsway("score walk.yaml --as json").run().quiet_success();
    let facts: Value = serde_json::from_str(&run.stdout).expect("JSON");
    let mut got = BTreeSet::new();
    paths(&facts, "", &mut got);
    let want: BTreeSet<String> = SCORE_FIELDS
        .split_whitespace()
        .flat_map(|path| match path.strip_suffix('@') {
            Some(estimate) => vec![format!("{estimate}.mean"), format!("{estimate}.interval")],
            None => vec![path.to_owned()],
        })
        .collect();
    let missing: Vec<&String> = want.difference(&got).collect();
    let unknown: Vec<&String> = got.difference(&want).collect();
    assert!(missing.is_empty() && unknown.is_empty(), "missing {missing:?}, unknown {unknown:?}");
    assert_eq!(facts["format"], "underfoot.score/1");
    let report = heronsway("report walk.yaml --as json").run().quiet_success();
    assert_eq!(report.stdout, run.stdout);
    let again = heronsway("score walk.yaml --as json").run().quiet_success();
    assert_eq!(again.stdout, run.stdout, "the same bytes");
}

/// No price and no cost of a case is shipped in this farm's currency: every sum is null, never 0.
#[test]
fn withheld_money_is_null() {
    let run = tussock_flat("score walk.yaml --as json").run().quiet_success();
    let facts: Value = serde_json::from_str(&run.stdout).expect("JSON");
    assert_eq!(facts["burden"]["cost_per_year"], Value::Null);
    assert_eq!(facts["burden"]["from_records"], Value::Null);
    let options = facts["interventions"].as_array().expect("options");
    assert!(options.len() > 10);
    for option in options {
        for field in ["saved", "capital", "yearly_cost", "net_benefit", "payback_years", "p_pays"] {
            assert_eq!(option.get(field), Some(&Value::Null), "{} {field}", option["id"]);
        }
    }
    assert!(facts["money_withheld"].as_array().is_some_and(|reasons| !reasons.is_empty()));
}

#[test]
fn ranking_by_money_that_is_withheld_is_refused() {
    let run = tussock_flat("score walk.yaml --rank-by net-benefit").run().clean_failure(1);
    snapshot("rank-by-refused.txt", &run.stderr);
    let run = heronsway("score walk.yaml --rank-by net-benefit --as json --draws 1024").run().quiet_success();
    let facts: Value = serde_json::from_str(&run.stdout).expect("JSON");
    let net: Vec<f64> = facts["interventions"]
        .as_array()
        .expect("options")
        .iter()
        .map(|option| option["net_benefit"]["mean"].as_f64().expect("a sum"))
        .collect();
    assert!(net.windows(2).all(|pair| pair[0] >= pair[1]), "{net:?}");
}

// --- Faults

/// A factor without a weight, a reversed interval, a segment that isn't there, 110 of 100 cows, a date
/// that doesn't exist, a negative length: all named in one run.
#[test]
fn bad_input_is_named_in_one_run() {
    let faulty = |arguments: &str| underfoot(arguments.split(' ')).folder("tests/fixtures/faulty");
    let run = faulty("check walk.yaml factors.yaml plot.yaml evidence/effects.yaml").run();
    let run = run.clean_failure(1);
    for code in
        ["weightless-factor", "reversed", "unknown-segment", "more-than-all", "bad-date", "out-of-range"]
    {
        assert!(run.stderr.contains(&format!("[{code}]")), "{code} is not named:\n{}", run.stderr);
    }
    snapshot("bad-input.txt", &run.stderr);
    let scored = faulty("score walk.yaml --checklists .").run().clean_failure(1);
    for fault in
        ["weightless-factor", "reversed", "unknown-segment", "more-than-all", "bad-date", "out-of-range"]
    {
        assert!(scored.stderr.contains(&format!("[{fault}]")), "{fault} is not named:\n{}", scored.stderr);
    }
    faulty("report walk.yaml --checklists . --out report.html").run().clean_failure(1);
}

#[test]
fn a_faulty_command_line_is_told_at_once() {
    for arguments in [
        "",
        "scroe walk.yaml",
        "score",
        "score walk.yaml --as pdf",
        "score walk.yaml --rank-by luck",
        "score walk.yaml --draws 1000",
        "score walk.yaml --draws 131072",
        "score walk.yaml --seed -1",
        "report walk.yaml --for cow",
    ] {
        let arguments: Vec<&str> = arguments.split_whitespace().collect();
        let run = underfoot(&arguments).file("walk.yaml", HERONSWAY).run().clean_failure(2);
        assert!(!run.stderr.is_empty(), "{arguments:?}");
    }
}

#[test]
fn what_cant_be_read_or_written_is_exit_3() {
    for arguments in [
        "score missing.yaml",
        "score folder",
        "check walk.yaml missing.yaml",
        "score walk.yaml --checklists missing",
        "score walk.yaml --checklists walk.yaml",
        "report walk.yaml --out no/such/folder/report.html",
        "report walk.yaml --out folder",
        "report walk.yaml --as md --out walk.yaml/report.md",
    ] {
        let run = underfoot(arguments.split(' ')).file("walk.yaml", HERONSWAY).file("folder/inside.txt", "");
        let run = run.run().clean_failure(3);
        assert!(run.stderr.starts_with("error: "), "{arguments}: {}", run.stderr);
    }
}

/// Neither over the walk, by whatever path, nor over a file of the user's own checklists.
#[test]
fn an_input_is_never_overwritten() {
    for arguments in [
        "report walk.yaml --out walk.yaml",
        "report walk.yaml --out ./own/../walk.yaml",
        "score walk.yaml --as json --out walk.yaml",
        "report walk.yaml --checklists own --out own/interventions.yaml",
        "report walk.yaml --checklists own --out own/evidence/sources.yaml",
    ] {
        let run = underfoot(arguments.split(' '))
            .file("walk.yaml", HERONSWAY)
            .file("own/interventions.yaml", include_str!("../checklists/interventions.yaml"))
            .file("own/evidence/sources.yaml", include_str!("../checklists/evidence/sources.yaml"));
        let run = run.run().clean_failure(2);
        assert!(run.stderr.contains("input"), "{arguments}: {}", run.stderr);
    }
}

/// An older result is replaced, whole.
#[test]
fn an_older_result_is_replaced() {
    let run = fast("report walk.yaml --quiet").file("walk.yaml", TUSSOCK_FLAT);
    let run = run.file("walk-report.html", "old").run().quiet_success();
    assert!(run.text("walk-report.html").ends_with("</html>\n"));
    assert_eq!(run.files.len(), 1);
}

#[test]
fn files_that_are_no_walk_are_refused_shortly() {
    let latin = HERONSWAY.replace("Heronsway", "H\u{e9}ronne").chars().map(|c| c as u8).collect::<Vec<u8>>();
    let utf16: Vec<u8> =
        [0xFF, 0xFE].into_iter().chain(HERONSWAY.bytes().flat_map(|byte| [byte, 0])).collect();
    for (what, bytes, code) in [
        ("Latin-1", latin, "not-utf8"),
        ("UTF-16", utf16, "not-utf8"),
        ("an image", vec![0x89, b'P', b'N', b'G', 0x0D, 0x0A, 0x1A, 0x0A, 0x00, 0xFF], "not-utf8"),
        ("nothing", Vec::new(), "empty-file"),
        ("no number", HERONSWAY.replace("count: 29", "count: .nan").into_bytes(), "out-of-range"),
        ("an endless number", HERONSWAY.replace("cows: 280", "cows: .inf").into_bytes(), "out-of-range"),
    ] {
        let run = underfoot(["score", "walk.yaml"]).file("walk.yaml", bytes).run().clean_failure(1);
        assert!(run.stderr.contains(&format!("[{code}]")), "{what}: {}", run.stderr);
        assert!(run.stderr.len() < 2_000, "{what}: {}", run.stderr);
    }
    let marked = format!("\u{FEFF}{TUSSOCK_FLAT}");
    fast("score walk.yaml").file("walk.yaml", marked).run().quiet_success();
}

/// 200 MB are told by their size, not read.
#[test]
fn a_file_of_200_megabytes_is_refused_at_once() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("walk.yaml");
    std::fs::File::create(&path).and_then(|file| file.set_len(200_000_000)).expect("a sparse file");
    let start = Instant::now();
    let run = underfoot(["score", &path.to_string_lossy()]).run().clean_failure(1);
    // A bound for a debug build on a busy machine; the usual time is some hundredths of a second.
    assert!(start.elapsed() < Duration::from_secs(3), "{:?}", start.elapsed());
    assert!(run.stderr.contains("[file-too-large]") && run.stderr.contains("200"), "{}", run.stderr);
}

/// A reader that has seen enough, such as `head`, is no fault.
#[test]
fn a_broken_pipe_is_no_fault() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("walk.yaml");
    std::fs::write(&path, TUSSOCK_FLAT).expect("the walk");
    for arguments in [vec!["score"], vec!["score", "--as", "json"], vec!["report", "--as", "md"]] {
        let mut child = Command::new(env!("CARGO_BIN_EXE_underfoot"))
            .args(&arguments)
            .arg(&path)
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .expect("the program runs");
        drop(child.stdout.take());
        let output = child.wait_with_output().expect("it ends");
        let stderr = String::from_utf8_lossy(&output.stderr);
        assert!(output.status.success() && stderr.is_empty(), "{arguments:?}: {} {stderr}", output.status);
    }
}

/// A warning is told on standard error, and not with `--quiet`; the result is the same.
#[test]
fn quiet_leaves_out_warnings() {
    let future = TUSSOCK_FLAT.replace("2025-11-12", "2199-11-12");
    let loud = fast("score walk.yaml").file("walk.yaml", &future).run();
    assert_eq!(loud.code, 0);
    assert!(loud.stderr.contains("after today"), "{}", loud.stderr);
    let quiet = fast("score walk.yaml --quiet").file("walk.yaml", &future).run().quiet_success();
    assert_eq!(quiet.stdout, loud.stdout);
}

#[test]
fn help_stands() {
    for arguments in ["--help", "score --help", "report --help", "check --help", "plan --help"] {
        let run = underfoot(arguments.split(' ')).run().quiet_success();
        let name = arguments.trim_end_matches("--help").trim();
        snapshot(&format!("help{}{name}.txt", if name.is_empty() { "" } else { "-" }), &run.stdout);
        assert!(run.stdout.lines().all(|line| line.chars().count() <= 80), "{arguments}");
    }
    assert!(underfoot(["--version"]).run().quiet_success().stdout.starts_with("underfoot "));
}

// --- Hostile text

/// Marks of every format that the program writes, in every free text of a walk record.
fn hostile() -> String {
    let mark = "<img src=x onerror=alert(1)><script>alert(2)</script> [a](http://evil.example) ![b](http://evil.example/c.png) `d` *e* | f | &lt;g&gt; {{ farm }} {% raw %} \u{1b}[31mred\u{7}\u{202e} '\"";
    let text = |start: &str| format!("{start} {mark}").replace('\\', "\\\\").replace('"', "\\\"");
    TUSSOCK_FLAT
        .replace("name: \"Tussock Flat\"", &format!("name: \"{}\"", text("=HYPERLINK(1)")))
        .replace("name: \"Front race\"", &format!("name: \"{}\"", text("# Front")))
        .replace("skip: \"nothing written down\"", &format!("skip: \"{}\"", text("- list")))
        .replace("notes: \"Walked", &format!("notes: \"{} ```html ~~~ --- Walked", text("1. first")))
}

/// Every tag of a page: its name and its attributes.
fn tags(html: &str) -> Vec<(String, String)> {
    let mut found = Vec::new();
    for (at, _) in html.match_indices('<') {
        let rest = html[at + 1..].trim_start_matches('/');
        if rest.starts_with(|c: char| c.is_ascii_alphabetic()) {
            let inside = &rest[..rest.find('>').expect("a tag ends")];
            let end = inside.find(|c: char| c.is_whitespace() || c == '/').unwrap_or(inside.len());
            found.push((inside[..end].to_ascii_lowercase(), inside[end..].to_owned()));
        }
    }
    found
}

/// Nothing that runs, nothing that is fetched, no event handler.
#[track_caller]
fn is_harmless_page(html: &str) {
    for (name, attributes) in tags(html) {
        let runs = [
            "script", "iframe", "object", "embed", "link", "img", "base", "form", "input", "a", "image",
            "use",
        ];
        assert!(!runs.contains(&name.as_str()), "<{name}{attributes}>");
        // What stands in quotes is text; outside quotes stand the attributes' names.
        let names: String = attributes.split('"').step_by(2).collect();
        for word in names.split(|c: char| c.is_whitespace() || c == '=').filter(|word| !word.is_empty()) {
            let fetches =
                ["src", "href", "xlink:href", "srcset", "data", "action", "poster", "style", "background"];
            assert!(!fetches.contains(&word), "<{name}{attributes}>");
            assert!(!word.to_ascii_lowercase().starts_with("on"), "<{name}{attributes}>");
        }
    }
    let style = html.split("<style>").nth(1).and_then(|rest| rest.split("</style>").next()).unwrap_or("");
    assert!(!style.contains("url(") && !style.contains("@import"), "the style sheet fetches something");
    assert!(!html.to_ascii_lowercase().contains("javascript:"));
}

/// Control characters, and those that turn the reading direction.
fn controls(text: &str) -> Vec<char> {
    text.chars().filter(|c| c.is_control() && *c != '\n' || ('\u{202a}'..='\u{202e}').contains(c)).collect()
}

#[test]
fn pages_run_nothing_and_fetch_nothing() {
    for reader in ["farmer", "adviser"] {
        for walk in [HERONSWAY.to_owned(), hostile()] {
            let run = fast(&format!("report walk.yaml --for {reader} --out -")).file("walk.yaml", walk).run();
            let html = run.quiet_success().stdout;
            is_harmless_page(&html);
            assert_eq!(controls(&html), [], "{reader}");
        }
    }
}

#[test]
fn hostile_text_stays_text() {
    let run =
        |arguments: &str| -> Outcome { fast(arguments).file("walk.yaml", hostile()).run().quiet_success() };
    let inked = run("score walk.yaml --color always").stdout;
    let own = ["\u{1b}[1m", "\u{1b}[2m", "\u{1b}[0m"];
    let terminal = own.iter().fold(inked, |text, ink| text.replace(ink, ""));
    assert_eq!(controls(&terminal), []);
    assert!(terminal.contains("=HYPERLINK(1) <img src=x"), "{terminal}");

    // Markdown, as any reader of it would see it: one heading level 1 that holds the whole name, no
    // image, link, code or HTML.
    for reader in ["farmer", "adviser"] {
        let markdown = run(&format!("report walk.yaml --as md --for {reader}")).stdout;
        assert_eq!(controls(&markdown), []);
        use pulldown_cmark::{Event, Options, Parser, Tag};
        let mut text = String::new();
        for event in Parser::new_ext(&markdown, Options::all()) {
            match event {
                Event::Text(piece) => text.push_str(&piece),
                Event::Html(html) | Event::InlineHtml(html) => panic!("{reader}: {html}"),
                Event::Code(code) => panic!("{reader}: {code}"),
                Event::Start(Tag::Link { dest_url, .. } | Tag::Image { dest_url, .. }) => {
                    panic!("{reader}: {dest_url}")
                }
                Event::Start(Tag::CodeBlock(_)) => panic!("{reader}: a block of code"),
                _ => {}
            }
        }
        assert!(text.contains("=HYPERLINK(1) <img src=x onerror=alert(1)><script>"), "{reader}: {text}");
    }

    // JSON holds the text as it was written; a reader of JSON unescapes it.
    let json = run("score walk.yaml --as json").stdout;
    assert!(!json.contains(|c: char| c.is_control() && c != '\n'));
    let facts: Value = serde_json::from_str(&json).expect("JSON");
    assert!(
        facts["walk"]["farm"].as_str().is_some_and(|farm| farm.contains("\u{1b}[31mred")),
        "{}",
        facts["walk"]
    );

    // And so does a finding that quotes it.
    let broken = hostile().replace("cows: 74", "cows: none");
    let findings = fast("score walk.yaml").file("walk.yaml", broken).run().clean_failure(1);
    assert_eq!(controls(&findings.stderr), []);
}
