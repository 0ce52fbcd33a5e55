//! One million case rows, read and summed up in one run.
//!
//!     cargo bench --bench cases                   # makes the rows, prints the best of five runs
//!     cargo bench --bench cases -- write FILE     # writes the rows, for the peer
//!     cargo bench --bench cases -- read FILE      # one run from a file, with its peak memory
//!
//! The peer is `benches/peers/cases_polars.py`, which does the same read and group-by.

mod made;

use made::{COWS, peak_megabytes, rows};
use std::process::ExitCode;
use std::time::Instant;
use underfoot::input::cases::{CaseOptions, TableOptions, read_cases, read_table};
use underfoot::reckon::records::{CaseSummary, SummaryOptions, summarise};

const ROWS: usize = 1_000_000;

fn run(bytes: &[u8]) -> Result<CaseSummary, String> {
    let table = read_table("cases.csv", bytes, &TableOptions::default()).map_err(|_| "no table")?;
    let (cases, _, findings) = read_cases(&table, &CaseOptions::default());
    if findings.has_errors() {
        return Err("bad rows".to_owned());
    }
    summarise(&cases, &SummaryOptions::new(COWS as f64)).map_err(|reason| format!("{reason:?}"))
}

fn report(summary: &CaseSummary, seconds: f64) {
    let peak = peak_megabytes("self").map_or(String::new(), |peak| format!(", peak {peak:.0} MB"));
    println!(
        "{} records, {} cases, {} repeats: {:.0} ms{peak}",
        summary.records,
        summary.cases,
        summary.repeats,
        1e3 * seconds
    );
}

fn timed(bytes: &[u8]) -> Result<(CaseSummary, f64), String> {
    let start = Instant::now();
    let summary = run(bytes)?;
    Ok((summary, start.elapsed().as_secs_f64()))
}

fn main_or_say() -> Result<(), String> {
    let words: Vec<String> = std::env::args().skip(1).filter(|word| word != "--bench").collect();
    match words.iter().map(String::as_str).collect::<Vec<_>>()[..] {
        ["write", file] => std::fs::write(file, rows(ROWS)).map_err(|fault| fault.to_string()),
        ["read", file] => {
            let start = Instant::now();
            let bytes = std::fs::read(file).map_err(|fault| fault.to_string())?;
            let summary = run(&bytes)?;
            report(&summary, start.elapsed().as_secs_f64());
            Ok(())
        }
        _ => {
            let text = rows(ROWS);
            let runs: Result<Vec<_>, _> = (0..5).map(|_| timed(text.as_bytes())).collect();
            let best = runs?.into_iter().min_by(|(_, a), (_, b)| a.total_cmp(b));
            best.iter().for_each(|(summary, seconds)| report(summary, *seconds));
            Ok(())
        }
    }
}

fn main() -> ExitCode {
    match main_or_say() {
        Ok(()) => ExitCode::SUCCESS,
        Err(fault) => {
            eprintln!("{fault}");
            ExitCode::FAILURE
        }
    }
}
