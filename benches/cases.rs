//! One million case rows, read and summed up in one run.
//!
//!     cargo bench --bench cases                   # makes the rows, prints the best of five runs
//!     cargo bench --bench cases -- write FILE     # writes the rows, for the peer
//!     cargo bench --bench cases -- read FILE      # one run from a file, with its peak memory
//!
//! The peer is `benches/peers/cases_polars.py`, which does the same read and group-by.

use std::fmt::Write as _;
use std::process::ExitCode;
use std::time::Instant;
use underfoot::input::cases::{CaseOptions, TableOptions, read_cases, read_table};
use underfoot::reckon::records::{CaseSummary, SummaryOptions, summarise};

const ROWS: usize = 1_000_000;
const COWS: u64 = 400_000;
const DAYS: u64 = 1_095;

/// Rows by day, as records are kept: invented cows, lesions in about a pasture herd's mix.
fn rows(count: usize) -> String {
    const LESIONS: [&str; 10] =
        ["white-line", "white-line", "WL", "stone bruise", "sole-penetration", "IP", "DD", "SU", "", "HFA"];
    const FEET: [&str; 5] = ["LF", "RF", "LH", "RH", "RH"];
    const CLAWS: [&str; 3] = ["inner", "outer", "outer"];
    const WHO: [&str; 4] = ["farmer", "farmer", "vet", "trimmer"];
    const TREATMENTS: [&str; 4] = ["trim", "trim and block", "", "vet called"];
    let mut text = String::from("date,cow,foot,claw,lesion,seen_by,score,treatment,note\n");
    let mut state = 42_u64;
    let mut below = |bound: u64| {
        // Steele, Lea & Flood 2014 (splitmix64): enough for rows that need only look mixed.
        state = state.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut bits = state;
        bits = (bits ^ (bits >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        bits = (bits ^ (bits >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        (bits ^ (bits >> 31)) % bound
    };
    let start = chrono::NaiveDate::from_ymd_opt(2023, 1, 1).unwrap_or_default();
    for row in 0..count as u64 {
        let date = start + chrono::Days::new(row * DAYS / count as u64);
        let mut pick = |words: &[&'static str]| words[below(words.len() as u64) as usize];
        let (foot, claw, lesion, who) = (pick(&FEET), pick(&CLAWS), pick(&LESIONS), pick(&WHO));
        let treatment = pick(&TREATMENTS);
        let (cow, score) = (below(COWS), below(4));
        let _ = writeln!(text, "{date},{cow},{foot},{claw},{lesion},{who},{score},{treatment},");
    }
    text
}

fn run(bytes: &[u8]) -> Result<CaseSummary, String> {
    let table = read_table("cases.csv", bytes, &TableOptions::default()).map_err(|_| "no table")?;
    let (cases, _, findings) = read_cases(&table, &CaseOptions::default());
    if findings.has_errors() {
        return Err("bad rows".to_owned());
    }
    summarise(&cases, &SummaryOptions::new(COWS as f64)).map_err(|reason| format!("{reason:?}"))
}

/// Peak memory of this process, megabytes, where the system tells (Linux).
fn peak_megabytes() -> Option<f64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"))?;
    Some(line.trim().trim_end_matches("kB").trim().parse::<f64>().ok()? / 1024.0)
}

fn report(summary: &CaseSummary, seconds: f64) {
    let peak = peak_megabytes().map_or(String::new(), |peak| format!(", peak {peak:.0} MB"));
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
