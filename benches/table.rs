//! The README's table of times: whole processes, each beside what one would use instead, in one run.
//!
//!     cargo bench --bench table
//!
//! `UNDERFOOT_PYTHON` names the python of the peers (numpy, scipy, polars, pandas, matplotlib, PyYAML). Runs of
//! both sides take turns; the middle one of each is printed. A peer's answer must agree with underfoot's, as
//! far as it answers the same question, before its time is printed.

mod made;

use made::{COWS, cards, median, peak_of, rows, time};
use serde_json::Value;
use std::path::{Path, PathBuf};
use std::process::{Command, ExitCode};

const WALK: &str = "examples/01-heronsway/walk.yaml";
const ROWS: usize = 1_000_000;
const CARDS: usize = 10_000;
const BUDGET: &str = "12000";

/// A job, and how its peer does it.
struct Row {
    job: &'static str,
    arguments: Vec<String>,
    instead: &'static str,
    peer: Vec<String>,
    runs: usize,
    agree: fn(&Value, &str) -> Result<(), String>,
    /// The arguments that give what is compared, where the job itself prints no JSON.
    facts: Vec<String>,
}

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn underfoot(arguments: &[String]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_underfoot"));
    command.current_dir(root()).args(arguments);
    command
}

fn python(arguments: &[String]) -> Command {
    let mut command = Command::new(std::env::var("UNDERFOOT_PYTHON").unwrap_or("python3".to_owned()));
    command.current_dir(root()).args(arguments);
    command
}

fn number(said: &str, at: usize) -> Result<f64, String> {
    let word = said.split_whitespace().nth(at).map(|word| word.trim_end_matches(','));
    word.and_then(|word| word.parse().ok()).ok_or_else(|| format!("said {said:?}"))
}

fn close(ours: Option<f64>, theirs: f64, share: f64) -> Result<(), String> {
    match ours {
        Some(ours) if (ours - theirs).abs() <= share * ours.abs() => Ok(()),
        ours => Err(format!("{theirs} is not {ours:?}")),
    }
}

/// The same option first. Its mean within a tenth: the peer's draws are plainer, its exposures fixed.
fn same_first(facts: &Value, said: &str) -> Result<(), String> {
    let first = &facts["interventions"][0];
    if first["id"].as_str() != said.split_whitespace().next() {
        return Err(format!("{said:?} is not {}", first["id"]));
    }
    close(first["cases_avoided"]["mean"].as_f64(), number(said, 1)?, 0.1)
}

/// The peer adds effects up, so that it promises more than any set can bring.
fn promises_more(facts: &Value, said: &str) -> Result<(), String> {
    let (ours, theirs) = (facts["cases_avoided"]["mean"].as_f64(), number(said, 1)?);
    if ours.is_some_and(|ours| theirs >= ours) {
        Ok(())
    } else {
        Err(format!("{theirs} is not {ours:?} or more"))
    }
}

fn same_cases(facts: &Value, said: &str) -> Result<(), String> {
    close(facts["records"].as_f64(), number(said, 0)?, 0.0)?;
    close(facts["cases"].as_f64(), number(said, 2)?, 0.0)
}

/// The mean as it is printed, to a tenth.
fn same_mean(facts: &Value, said: &str) -> Result<(), String> {
    close(facts["mean"].as_f64(), number(said, 1)?, 0.01)
}

fn words(text: &str) -> Vec<String> {
    text.split(' ').map(str::to_owned).collect()
}

fn table(folder: &Path) -> Vec<Row> {
    let at = |name: &str| folder.join(name).to_string_lossy().into_owned();
    let (facts, page, cases, cards) = (at("facts.json"), at("page.html"), at("cases.csv"), at("cards"));
    let (score, plan) = (format!("score {WALK} --as json"), format!("plan {WALK} --budget {BUDGET}"));
    vec![
        Row {
            job: "`score`, 4,096 draws, 43 options",
            arguments: words(&format!("score {WALK}")),
            instead: "numpy script, weights given",
            peer: words(&format!("benches/peers/walk_numpy.py {WALK} {facts}")),
            runs: 21,
            agree: same_first,
            facts: words(&score),
        },
        Row {
            job: "`report`, the adviser's page",
            arguments: words(&format!("report {WALK} --quiet --out {}", at("report.html"))),
            instead: "the same with pandas and matplotlib",
            peer: words(&format!("benches/peers/walk_numpy.py {WALK} {facts} {page}")),
            runs: 11,
            agree: same_first,
            facts: words(&score),
        },
        Row {
            job: "`plan --budget 12000`, 43 options that overlap",
            arguments: words(&plan),
            instead: "scipy `milp`, effects added up",
            peer: words(&format!("benches/peers/plan_scipy.py {facts} {BUDGET}")),
            runs: 11,
            agree: promises_more,
            facts: words(&format!("{plan} --as json")),
        },
        Row {
            job: "`cases`, 1,000,000 rows",
            arguments: words(&format!("cases {cases} --cows {COWS}")),
            instead: "polars script",
            peer: words(&format!("benches/peers/cases_polars.py {cases}")),
            runs: 7,
            agree: same_cases,
            facts: words(&format!("cases {cases} --cows {COWS} --as json")),
        },
        Row {
            job: "`group`, 10,000 cards",
            arguments: words(&format!("group {cards}")),
            instead: "PyYAML and scipy, the rates alone",
            peer: words(&format!("benches/peers/cards_scipy.py {cards}")),
            runs: 5,
            agree: same_mean,
            facts: words(&format!("group {cards} --as json")),
        },
    ]
}

/// Everything that the jobs read.
fn lay_out(folder: &Path) -> Result<(), String> {
    let write = |path: PathBuf, text: &str| std::fs::write(path, text).map_err(|fault| fault.to_string());
    write(folder.join("cases.csv"), &rows(ROWS))?;
    let inside = folder.join("cards");
    std::fs::create_dir_all(&inside).map_err(|fault| fault.to_string())?;
    for (at, card) in cards(CARDS).iter().enumerate() {
        write(inside.join(format!("{at:06}.yaml")), card)?;
    }
    let (_, facts) = time(&mut underfoot(&words(&format!("score {WALK} --as json"))))?;
    write(folder.join("facts.json"), &facts)
}

fn megabytes(peak: Option<f64>) -> String {
    peak.map_or("–".to_owned(), |peak| format!("{peak:.0} MB"))
}

/// The line of the table; what is wrong with the peer stands in its place.
fn line(row: &Row) -> Result<String, String> {
    let (_, facts) = time(&mut underfoot(&row.facts))?;
    let facts: Value = serde_json::from_str(&facts).map_err(|fault| fault.to_string())?;
    let mut peer = time(&mut python(&row.peer)).and_then(|(_, said)| (row.agree)(&facts, &said));
    let (mut ours, mut theirs) = (Vec::new(), Vec::new());
    for _ in 0..row.runs {
        ours.push(1e3 * time(&mut underfoot(&row.arguments))?.0);
        if peer.is_ok() {
            match time(&mut python(&row.peer)) {
                Ok((seconds, _)) => theirs.push(1e3 * seconds),
                Err(fault) => peer = Err(fault),
            }
        }
    }
    let instead = match peer {
        Ok(()) => {
            let peak = megabytes(peak_of(&mut python(&row.peer)));
            format!("{}: {:.0} ms, {peak}", row.instead, median(theirs))
        }
        Err(fault) => format!("{}: not measured ({fault})", row.instead),
    };
    let peak = megabytes(peak_of(&mut underfoot(&row.arguments)));
    Ok(format!("| {} | {:.0} ms, {peak} | {instead} |", row.job, median(ours)))
}

fn print_table() -> Result<(), String> {
    let folder = std::env::temp_dir().join(format!("underfoot-table-{}", std::process::id()));
    std::fs::create_dir_all(&folder).map_err(|fault| fault.to_string())?;
    let printed = lay_out(&folder).and_then(|()| {
        println!("| job | underfoot | instead |\n| --- | --- | --- |");
        table(&folder).iter().try_for_each(|row| line(row).map(|line| println!("{line}")))
    });
    let removed = std::fs::remove_dir_all(&folder).map_err(|fault| fault.to_string());
    printed.and(removed)
}

fn main() -> ExitCode {
    match print_table() {
        Ok(()) => ExitCode::SUCCESS,
        Err(fault) => {
            eprintln!("{fault}");
            ExitCode::FAILURE
        }
    }
}
