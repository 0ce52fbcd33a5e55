//! A group's cards, read, reckoned and told as JSON, in one run.
//!
//!     cargo bench --bench group                   # 12, 10,000 and 100,000 cards, and the fit alone
//!     cargo bench --bench group -- counts FILE    # writes cases and sizes, for the peer
//!
//! The peer is `benches/peers/group_scipy.py`, which makes the same empirical-Bayes fit.

mod made;

use made::{cards, peak_megabytes};
use std::process::ExitCode;
use std::time::{Duration, Instant};
use underfoot::finding::{Findings, SourceText};
use underfoot::input::{CardPile, FileSet};
use underfoot::model::card::Card;
use underfoot::reckon::group::{GroupOptions, group};
use underfoot::reckon::stats::empirical_bayes::fit;
use underfoot::report::group_facts::group_facts;

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

fn bench() -> Result<(), String> {
    for (count, most) in [(12, 1.0), (10_000, 2.0), (100_000, 20.0)] {
        let texts = cards(count);
        let (reading, reckoning, bytes) = run(&texts)?;
        let total = (reading + reckoning).as_secs_f64();
        println!(
            "{count:>7} cards: read {:.2} s, reckoned {:.2} s, {bytes} bytes of JSON, peak {:.0} MB; at most {most} s",
            reading.as_secs_f64(),
            reckoning.as_secs_f64(),
            peak_megabytes("self").unwrap_or(f64::NAN)
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
