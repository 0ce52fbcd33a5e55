//! The whole program on the demo farm, from its start to its end: wall time, and the most memory it
//! held. Run with `cargo bench --bench score`; goals of a present-day server with two cores: under 60 ms
//! and under 60 MB.

mod made;

use made::{median, peak_of, time};
use std::process::{Command, ExitCode};

const RUNS: usize = 21;
const GOAL_MS: f64 = 60.0;
const GOAL_MB: f64 = 60.0;
const WALK: &str = "examples/01-heronsway/walk.yaml";

fn underfoot(arguments: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_underfoot"));
    command.current_dir(env!("CARGO_MANIFEST_DIR")).args(arguments);
    command
}

fn main() -> ExitCode {
    println!("{:>9}  {:>9}  {:>9}  what (median and slowest of {RUNS} runs)", "ms", "slowest", "peak MB");
    let mut ok = true;
    for arguments in [
        &["score", WALK, "--draws", "4096"][..],
        &["score", WALK, "--draws", "65536"],
        &["report", WALK, "--as", "md"],
        &["report", WALK, "--as", "json"],
    ] {
        let name = arguments.join(" ");
        let times: Result<Vec<f64>, String> =
            (0..RUNS).map(|_| Ok(1e3 * time(&mut underfoot(arguments))?.0)).collect();
        let times = match times {
            Ok(times) => times,
            Err(fault) => {
                println!("{:>9}  {:>9}  {:>9}  {name}: {fault}", "-", "-", "-");
                ok = false;
                continue;
            }
        };
        let slowest = times.iter().copied().fold(0.0, f64::max);
        let peak = peak_of(&mut underfoot(arguments)).map_or("-".to_owned(), |peak| format!("{peak:.1}"));
        println!("{:9.1}  {slowest:9.1}  {peak:>9}  {name}", median(times));
    }
    println!("\ngoal for `score` at 4,096 draws: {GOAL_MS} ms, {GOAL_MB} MB");
    if ok { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}
