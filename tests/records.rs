//! The farm's own records as a user hands them over: tables beside a walk, tables alone, and what is
//! said of many cases, of few and of none.

mod common;

use common::{Outcome, Run, underfoot};
use serde_json::Value;
use std::path::{Path, PathBuf};

const WALK: &str = include_str!("../examples/05-sallow-bridge/walk.yaml");
const TUSSOCK_FLAT: &str = include_str!("../examples/02-tussock-flat/walk.yaml");
/// Three cases in a year.
const THREE: &str = "date,cow,foot,claw,lesion,seen_by\n2025-03-04,112,LH,outer,white line,vet\n\
    2025-05-02,7,RF,,foul in the foot,farmer\n2025-09-09,311,,,,farmer\n";
const YEAR: &str = "--cows 186 --from 2025-01-01 --to 2025-12-31";

/// The farm that names its own tables, with few draws where the figures don't matter.
fn sallow_bridge(arguments: &str) -> Run {
    underfoot(arguments.split(' ')).folder("examples/05-sallow-bridge")
}

/// The same with three cases.
fn three_cases(arguments: &str) -> Run {
    sallow_bridge(arguments).file("cases.csv", THREE)
}

fn json(run: Outcome) -> Value {
    assert_eq!(run.code, 0, "{}", run.stderr);
    serde_json::from_str(&run.stdout).expect("JSON")
}

#[track_caller]
fn snapshot(name: &str, text: &str) {
    insta::with_settings!({ prepend_module_to_snapshot => false, snapshot_path => "snapshots/records" }, {
        insta::assert_snapshot!(name, text);
    });
}

/// The part of a report under this heading.
#[track_caller]
fn part<'t>(text: &'t str, heading: &str) -> &'t str {
    let start = text.find(heading).unwrap_or_else(|| panic!("no {heading} in:\n{text}"));
    let rest = &text[start..];
    rest[3..].find("\n## ").map_or(rest, |end| &rest[..end + 3])
}

// --- Many cases, few, none

#[test]
fn thirty_cases_are_told_as_a_pattern_and_three_are_not() {
    for (name, farm) in [("thirty", sallow_bridge as fn(&str) -> Run), ("three", three_cases)] {
        let report = farm("report walk.yaml --as md").run();
        snapshot(&format!("{name}-report.md"), part(&report.stdout, "## What your records say"));
        let farmer = farm("report walk.yaml --as md --for farmer").run().stdout;
        let line = farmer.lines().find(|line| line.starts_with("**What your records say.**"));
        snapshot(&format!("{name}-farmer.md"), line.expect("the line"));
        let cases = farm(&format!("cases cases.csv {YEAR}")).run();
        assert_eq!(cases.stdout.lines().find(|line| line.chars().count() > 80), None);
        snapshot(&format!("{name}-cases.txt"), &cases.stdout);
        let page = farm(&format!("cases cases.csv {YEAR} --as html")).run().stdout;
        assert_eq!(page.matches("<svg").count(), if name == "thirty" { 2 } else { 0 });
    }
    let facts = json(three_cases(&format!("cases cases.csv {YEAR} --as json")).run());
    assert_eq!((&facts["top"], &facts["months"][2]["lower"]), (&Value::Null, &Value::Null));
    let shown = three_cases(&format!("cases cases.csv {YEAR} --as md")).run().stdout;
    let shares = shown.matches('%').count() - shown.matches("95% interval").count();
    assert_eq!(shares, 0, "{shown}");
}

#[test]
fn without_records_the_report_says_so_and_hands_out_a_record_to_fill_in() {
    for reader in ["farmer", "adviser"] {
        let arguments = format!("report walk.yaml --as md --draws 256 --for {reader}");
        let report = underfoot(arguments.split(' ')).file("walk.yaml", TUSSOCK_FLAT).run().quiet_success();
        let sheet = part(&report.stdout, "## Lame cow record");
        for column in ["Date", "Cow", "Foot", "Claw", "Lesion", "Seen by", "Treated", "Look again"] {
            assert!(sheet.contains(&format!("| {column}")), "{column}:\n{sheet}");
        }
        assert!(report.stdout.contains("rests on what the walk found and on herds at large"), "{reader}");
        let kept = sallow_bridge(&arguments).run().stdout;
        assert!(!kept.contains("## Lame cow record"), "{reader}");
    }
    let page = underfoot(["report", "walk.yaml", "--out", "-"]).file("walk.yaml", TUSSOCK_FLAT).run().stdout;
    assert!(page.contains("<hr />"), "the record begins a page of its own");
}

/// Counts in the walk record are records too: a rate and lesions, and nothing of months or feet.
#[test]
fn counts_alone_give_a_rate_and_lesions() {
    let report = underfoot(["report", "walk.yaml", "--as", "md", "--draws", "256"]);
    let report = report.file("walk.yaml", include_str!("../examples/01-heronsway/walk.yaml")).run();
    let part = part(&report.stdout, "## What your records say");
    assert!(part.contains("| White line disease | 20 | 43% |"), "{part}");
    assert!(!part.contains("different cow") && !part.contains("| Month |") && !part.contains("| Foot |"));
}

// --- Figures against the outside

/// Garwood 1936, Biometrika 28:437, table: 30 events have the exact 95 % limits 20.24 and 42.83. The mean of
/// 16.14 and the cow-years are the arithmetic of 30 cases, 186 cows and 365 of 365.25 days.
#[test]
fn the_facts_hold_the_records() {
    let facts = json(sallow_bridge("score walk.yaml --as json").run());
    let cases = &facts["own_records"]["cases"];
    assert_eq!((cases["cases"].as_u64(), cases["repeats"].as_u64()), (Some(30), Some(2)));
    let cow_years = 186.0 * 365.0 / 365.25;
    let close = |value: &Value, want: f64, within: f64| {
        let got = value.as_f64().expect("a number");
        assert!((got - want).abs() <= within, "{got}, not {want}");
    };
    close(&cases["rate"]["value"], 3000.0 / cow_years, 1e-9);
    close(&cases["rate"]["interval"][0], 2024.0 / cow_years, 0.003);
    close(&cases["rate"]["interval"][1], 4283.0 / cow_years, 0.003);
    let scored = &facts["own_records"]["locomotion"][0];
    assert_eq!((scored["scale"].as_str(), scored["scored"].as_u64()), (Some("1-5"), Some(179)));
    assert_eq!((scored["lame"]["cows"].as_u64(), scored["severe"]["cows"].as_u64()), (Some(28), Some(7)));
    assert_eq!(scored["by_score"]["5"].as_u64(), Some(1));
    let gap = &facts["own_records"]["gap"];
    close(&gap["unrecorded"], 28.0 / 179.0 - gap["expected"].as_f64().expect("a share"), 1e-12);
}

/// The ranking "without" is the one that the same walk gets when it names no records at all.
#[test]
fn the_ranking_without_records_is_that_of_a_farm_that_kept_none() {
    let facts = json(sallow_bridge("score walk.yaml --as json").run());
    let lines = WALK.lines().filter(|line| !line.starts_with("cases:") && !line.starts_with("records:"));
    let bare: String = lines.map(|line| format!("{line}\n")).collect();
    let alone = json(sallow_bridge("score walk.yaml --as json").file("walk.yaml", bare).run());
    assert_eq!(alone["own_records"]["effect"], Value::Null);
    let ranks = facts["own_records"]["effect"]["ranks"].as_array().expect("ranks");
    let options = alone["interventions"].as_array().expect("options");
    assert_eq!(ranks.len(), options.len());
    let mut moved = 0;
    for rank in ranks {
        let option = options.iter().find(|option| option["id"] == rank["id"]).expect("the option");
        assert_eq!(
            (&rank["rank_without"], &rank["cases_without"]),
            (&option["rank"], &option["cases_avoided"])
        );
        moved += usize::from(rank["rank_with"] != rank["rank_without"]);
    }
    assert!(moved > 2, "the records of a wet farm move its ranking");
    assert_eq!(facts["own_records"]["effect"]["rate_without"], alone["burden"]["rate"]);
}

// --- Faults, each a clear error or warning

fn table(name: &str) -> Vec<u8> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/cases").join(name);
    std::fs::read(&path).unwrap_or_else(|fault| panic!("{}: {fault}", path.display()))
}

/// A bad table is refused alone, by `check`, and where a walk names it; nothing is left out in silence.
#[test]
fn bad_tables_are_refused_wherever_they_are_named() {
    let two_headings = b"Date,Cow,Lesion\nDay,Animal,Diagnosis\n2025-03-04,112,white line\n".to_vec();
    for (name, code, bytes) in [
        ("truncated.xlsx", "workbook-damaged", table("truncated.xlsx")),
        ("formula-errors.xlsx", "formula-error", table("formula-errors.xlsx")),
        ("merged.xlsx", "merged-cells", table("merged.xlsx")),
        ("two-headings.csv", "two-heading-rows", two_headings),
    ] {
        let walk = WALK.replace("cases: cases.csv", &format!("cases: {name}"));
        for arguments in [
            format!("cases {name} {YEAR}"),
            format!("check {name}"),
            "check walk.yaml".to_owned(),
            "score walk.yaml".to_owned(),
            "report walk.yaml".to_owned(),
        ] {
            let run = sallow_bridge(&arguments).file(name, &bytes).file("walk.yaml", &walk).run();
            let run = run.clean_failure(1);
            assert!(run.stderr.contains(&format!("[{code}]")), "{arguments}: {}", run.stderr);
            assert!(run.stderr.contains(name), "{arguments}: {}", run.stderr);
        }
    }
}

/// A row that groups the headings is passed over, and that is said.
#[test]
fn a_row_above_the_headings_is_named() {
    let name = "two-headings.xlsx";
    let run = underfoot(["check", name]).file(name, table(name)).run();
    assert!(run.code == 0 && run.stderr.contains("[row-above-headings]"), "{}", run.stderr);
}

/// A cow twice on a day, a day that has not come, fewer cows than were lame: used, and said.
#[test]
fn doubtful_tables_are_used_with_a_warning() {
    let doubtful = "date,cow,foot,lesion\n2025-03-04,112,LH,white line\n2025-03-04,112,LH,white line\n\
        2025-07-01,7,RF,foul\n2099-05-02,8,RF,foul\n";
    for (arguments, codes) in [
        ("cases cases.csv --cows 1 --from 2025-01-01 --to 2025-12-31", &["fewer-cows-than-lame"][..]),
        ("check cases.csv", &[]),
        ("check walk.yaml", &["fewer-cows-than-lame"]),
        ("score walk.yaml --draws 256", &["fewer-cows-than-lame"]),
    ] {
        let walk = WALK.replace("average_cows: 186", "average_cows: 1");
        let loud =
            |arguments: &str| sallow_bridge(arguments).file("cases.csv", doubtful).file("walk.yaml", &walk);
        let run = loud(arguments).run();
        assert_eq!(run.code, 0, "{arguments}: {}", run.stderr);
        for code in codes.iter().chain(&["cow-twice-on-a-day", "date-after-today"]) {
            assert!(run.stderr.contains(&format!("[{code}]")), "{arguments}, {code}: {}", run.stderr);
        }
        assert!(!run.stdout.contains("2099"), "{}", run.stdout);
        let quiet = loud(&format!("{arguments} --quiet")).run().quiet_success();
        assert_eq!(quiet.stdout, run.stdout);
    }
}

/// Every fault of a walk and of both its tables in one run, each with its place.
#[test]
fn faults_of_a_walk_and_its_tables_are_named_in_one_run() {
    let walk = WALK.replace("milking-hours: { value: 110 }", "milking-hours: { value: -5 }");
    let cases = "date,cow,lesion\n2025-02-30,7,white line\n03/04/2025,9,foul\n";
    let scores = "date,score,count\n2026-01-20,1,96\n2026-01-20,6,3\n2026-01-20,2,\n";
    let faulty = |arguments: &str| {
        let run = sallow_bridge(arguments).file("walk.yaml", &walk);
        run.file("cases.csv", cases).file("scores.csv", scores).run().clean_failure(1)
    };
    let scored = faulty("score walk.yaml").stderr;
    snapshot("walk-and-tables.txt", &scored);
    assert_eq!(faulty("check walk.yaml").stderr, scored);
    assert_eq!(faulty("check walk.yaml cases.csv scores.csv").stderr, scored);
}

#[test]
fn a_table_that_is_not_there_is_a_fault_of_the_walk() {
    let run =
        |walk: &str| sallow_bridge("report walk.yaml").file("walk.yaml", walk).run().clean_failure(1).stderr;
    let gone = run(&WALK.replace("scores.csv", "gone.csv").replace("cases.csv", "lost.xlsx"));
    let without_period: String =
        WALK.lines().filter(|line| !line.starts_with("records:")).collect::<Vec<_>>().join("\n");
    snapshot("named-and-missing.txt", &format!("{gone}\n{}", run(&without_period)));
}

/// Days written the day first are read so where the walk record says it.
#[test]
fn a_walk_says_in_which_order_its_tables_write_days() {
    let cases = "date,cow,lesion\n03/04/2025,7,white line\n";
    let scores = "date,score,count\n20/01/2026,1,96\n20/01/2026,3,4\n";
    let run = |walk: &str| {
        let run = sallow_bridge("score walk.yaml --as json --draws 256").file("walk.yaml", walk);
        run.file("cases.csv", cases).file("scores.csv", scores).run()
    };
    let silent = run(WALK).clean_failure(1).stderr;
    assert!(silent.contains("[ambiguous-date]") && silent.contains("`dates: dmy`"), "{silent}");
    let facts = json(run(&format!("dates: dmy\n{WALK}")));
    assert_eq!(facts["own_records"]["cases"]["months"][3]["cases"], 1, "April, not March");
    assert_eq!(facts["own_records"]["locomotion"][0]["date"], "2026-01-20");
}

#[test]
fn a_table_beside_the_walk_is_never_overwritten() {
    for name in ["cases.csv", "scores.csv"] {
        let run = sallow_bridge(&format!("report walk.yaml --draws 256 --as md --out {name}")).run();
        assert!(run.clean_failure(2).stderr.contains("input"));
    }
}

#[test]
fn scores_are_checked_on_the_scale_that_they_fit() {
    let check = |scores: &str| underfoot(["check", "scores.csv"]).file("scores.csv", scores).run();
    for good in ["cow,score\n7,0\n8,2\n", "cow,score\n7,1\n8,5\n9,1\n", "score,count\n1,96\n5,2\n"] {
        assert_eq!(check(good).quiet_success().stdout, "scores.csv: no errors.\n");
    }
    assert!(check("cow,score\n7,1\n8,9\n").clean_failure(1).stderr.contains("[score-off-scale]"));
}

// --- Spreadsheets of other programs

/// `tests/data/make_tables.py` writes its workbooks with openpyxl and odfpy. CI makes them anew and says where;
/// elsewhere those of the repository are read.
#[test]
fn workbooks_of_other_programs_are_counted_alike() {
    let made = std::env::var_os("UNDERFOOT_MADE_TABLES").map(PathBuf::from);
    let folder = made.unwrap_or_else(|| Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/cases"));
    let count = |name: &str| {
        let bytes = std::fs::read(folder.join(name)).expect("a workbook");
        let arguments = format!("cases {name} --cows 80 --from 2025-01-01 --to 2025-12-31 --as json");
        json(underfoot(arguments.split(' ')).file(name, bytes).run())
    };
    let xlsx = count("good.xlsx");
    assert_eq!(xlsx, count("good.ods"));
    assert_eq!((xlsx["records"].as_u64(), xlsx["cases"].as_u64()), (Some(5), Some(4)));
    assert_eq!(xlsx["days_to_treatment"]["cases"].as_u64(), Some(3));
    for name in ["merged.xlsx", "formula-errors.xlsx", "truncated.xlsx"] {
        let bytes = std::fs::read(folder.join(name)).expect("a workbook");
        underfoot(["check", name]).file(name, bytes).run().clean_failure(1);
    }
}

// --- How much to look at

#[test]
fn sample_says_how_many_and_which() {
    for (name, arguments) in [
        ("pasture", "sample --cows 280"),
        ("housed", "sample --cows 420 --system housed --expect 25 --within 5"),
        ("squares", "sample --stones 0.5 --stones-within 10%"),
    ] {
        let text = underfoot(arguments.split(' ')).run().quiet_success().stdout;
        assert_eq!(text.lines().find(|line| line.chars().count() > 80), None);
        snapshot(&format!("sample-{name}.txt"), &text);
    }
    let arguments = "sample --cows 280 --as md";
    snapshot("sample.md", &underfoot(arguments.split(' ')).run().quiet_success().stdout);
}

/// Krejcie & Morgan 1970 (Educ Psychol Meas 30:607): a population of 280 takes 162 (162.2 before they round to
/// the nearest; we round up). Of 100 cows with 5 lame, 45 find one (Cannon & Roe 1982; both from memory).
#[test]
fn sample_agrees_with_printed_tables() {
    let facts = |arguments: &str| json(underfoot(arguments.split(' ')).run().quiet_success());
    let housed = facts("sample --cows 280 --system housed --expect 50 --within 5 --as json");
    assert_eq!(
        (housed["cows"]["needed"].as_u64(), housed["cows"]["which"].as_str()),
        (Some(163), Some("every-cow"))
    );
    let hundred = facts("sample --cows 100 --as json");
    let find = hundred["cows"]["to_find_one"].as_array().expect("plans");
    let five = find.iter().find(|plan| plan["lame"] == 5).expect("five lame cows");
    assert_eq!((five["needed"].as_u64(), five["which"].as_str()), (Some(45), Some("from-the-last")));
    let pasture = facts("sample --cows 280 --as json");
    assert_eq!(pasture["cows"]["score"].as_u64(), Some(280), "at pasture every cow");
}

#[test]
fn a_faulty_sample_is_told_at_once() {
    for arguments in [
        "sample --cows 0",
        "sample --cows many",
        "sample --cows 280 --within 0",
        "sample --cows 280 --expect 100",
        "sample --stones -1",
        "sample --stones nan",
        "sample --stones-within 0",
        "sample walk.yaml",
    ] {
        underfoot(arguments.split(' ')).run().clean_failure(2);
    }
}
