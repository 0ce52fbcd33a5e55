//! A group's cards, read, reckoned and told as JSON, in one run.
//!
//!     cargo bench --bench group                   # 12, 10,000 and 100,000 cards, and the fit alone
//!     cargo bench --bench group -- counts FILE    # writes cases and sizes, for the peer
//!
//! The peer is `benches/peers/group_scipy.py`, which makes the same empirical-Bayes fit.

use std::fmt::Write as _;
use std::process::ExitCode;
use std::time::{Duration, Instant};
use underfoot::finding::{Findings, SourceText};
use underfoot::input::{CardPile, FileSet};
use underfoot::model::card::Card;
use underfoot::reckon::group::{GroupOptions, group};
use underfoot::reckon::stats::empirical_bayes::fit;
use underfoot::report::group_facts::group_facts;

const FACTORS: [&str; 12] = [
    "track-stones",
    "track-cover",
    "track-water",
    "track-width",
    "gateway-stones",
    "herding-pressure",
    "yard-pressure",
    "yard-turning",
    "stone-carry-over",
    "smooth-concrete",
    "standing-time",
    "late-treatment",
];
const BANDS: [&str; 5] = ["under-150", "150-299", "300-499", "500-799", "800-and-over"];

/// Invented cards: rates, sizes and exposures that look mixed.
fn cards(count: usize) -> Vec<String> {
    let mut state = 42_u64;
    let mut below = |bound: u64| {
        // Steele, Lea & Flood 2014 (splitmix64): enough for cards that need only look mixed.
        state = state.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut bits = state;
        bits = (bits ^ (bits >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        bits = (bits ^ (bits >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        (bits ^ (bits >> 31)) % bound
    };
    let mut card = |at: usize| {
        let (band, rate) = (BANDS[below(5) as usize], 2 + below(12) + below(12) + below(30) * below(2));
        let (months, score, white) = (9 + below(16), below(101), below(8));
        let mut text = format!(
            "card: 1\ncode: {at:06}\nyear: 2026\nsystem: pasture\nchecklist: {{ name: pasture-herd, version: \"2026.1\" }}\n\
             herd_band: {band}\nmonths_of_records: {months}\ncases_per_100_cow_years: {rate}\n\
             lesion_shares: {{ white-line: 0.{white}, sole-penetration: 0.{}, other: 0.1 }}\nexposures:\n",
            9 - white
        );
        for factor in FACTORS {
            let _ = writeln!(text, "  {factor}: 0.{}", below(10));
        }
        let _ = writeln!(text, "score: {score}");
        text
    };
    (0..count).map(&mut card).collect()
}

fn read(texts: &[String]) -> Result<(underfoot::model::Library, Vec<Card>), String> {
    let mut pile = CardPile::new();
    for (at, text) in texts.iter().enumerate() {
        pile.read(&SourceText::new(format!("{at}.yaml"), text.as_str()));
    }
    let mut findings = Findings::new();
    pile.finish(&FileSet::builtin(), &mut findings).ok_or_else(|| underfoot::show::caret::render(&findings))
}

/// Seconds to read and to reckon, and the bytes of JSON.
fn run(texts: &[String]) -> Result<(Duration, Duration, usize), String> {
    let start = Instant::now();
    let (library, cards) = read(texts)?;
    let reading = start.elapsed();
    let options = GroupOptions::default();
    let outcome = group(&cards, &library, &options).map_err(|refusal| format!("{refusal:?}"))?;
    let facts = group_facts(&library, &outcome, &options);
    let bytes = serde_json::to_string(&facts).map_err(|fault| fault.to_string())?.len();
    Ok((reading, start.elapsed() - reading, bytes))
}

fn counts(count: usize) -> Result<(Vec<u64>, Vec<f64>), String> {
    let (_, cards) = read(&cards(count))?;
    Ok(cards.iter().filter_map(Card::nominal_cases).unzip())
}

/// Peak memory of this process, megabytes, where the system tells (Linux).
fn peak_megabytes() -> Option<f64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|line| line.starts_with("VmHWM"))?;
    Some(line.split_whitespace().nth(1)?.parse::<f64>().ok()? / 1024.0)
}

fn bench() -> Result<(), String> {
    for (count, most) in [(12, 1.0), (10_000, 2.0), (100_000, 20.0)] {
        let texts = cards(count);
        let (reading, reckoning, bytes) = run(&texts)?;
        let total = (reading + reckoning).as_secs_f64();
        println!(
            "{count:>7} cards: read {:.2} s, reckoned {:.2} s, {bytes} bytes of JSON, peak {:.0} MB; at most {most} s",
            reading.as_secs_f64(),
            reckoning.as_secs_f64(),
            peak_megabytes().unwrap_or(f64::NAN)
        );
        if total > most {
            return Err(format!("{count} cards took {total:.2} s"));
        }
    }
    for count in [1_000, 10_000] {
        let (cases, sizes) = counts(count)?;
        let best = (0..5).filter_map(|_| {
            let start = Instant::now();
            let fitted = fit(&cases, &sizes)?;
            Some((start.elapsed(), fitted))
        });
        if let Some((time, fitted)) = best.min_by_key(|(time, _)| *time) {
            println!(
                "fit of {count}: {:.1} ms, shape {:?}, mean {}",
                1e3 * time.as_secs_f64(),
                fitted.shape,
                fitted.mean
            );
        }
    }
    Ok(())
}

fn write_counts(path: &str) -> Result<(), String> {
    let (cases, sizes) = counts(10_000)?;
    let rows: String = cases.iter().zip(&sizes).map(|(x, t)| format!("{x},{t}\n")).collect();
    std::fs::write(path, format!("cases,size\n{rows}")).map_err(|fault| fault.to_string())
}

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).filter(|argument| argument != "--bench").collect();
    let done = match arguments.as_slice() {
        [word, path] if word == "counts" => write_counts(path),
        _ => bench(),
    };
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(fault) => {
            eprintln!("{fault}");
            ExitCode::FAILURE
        }
    }
}
