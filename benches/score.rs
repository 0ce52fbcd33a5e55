//! The whole program on the demo farm, from its start to its end: wall time, and the most memory it
//! held. Run with `cargo bench --bench score`; goals of a present-day server with two cores: under 60 ms
//! and under 60 MB.

use std::process::{Child, Command, ExitCode, Stdio};
use std::time::{Duration, Instant};

const RUNS: usize = 21;
const GOAL_MS: f64 = 60.0;
const GOAL_MB: f64 = 60.0;
const WALK: &str = "examples/01-heronsway/walk.yaml";

fn start(arguments: &[&str]) -> std::io::Result<Child> {
    Command::new(env!("CARGO_BIN_EXE_underfoot"))
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .args(arguments)
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
}

/// Milliseconds of one run; `None` where it failed.
fn time(arguments: &[&str]) -> std::io::Result<Option<f64>> {
    let begin = Instant::now();
    let status = start(arguments)?.wait()?;
    Ok(status.success().then(|| begin.elapsed().as_secs_f64() * 1e3))
}

/// The most memory a run held, in MB, from Linux's own high-water mark, read until the program ends;
/// `None` on other systems. Read apart from the timed runs.
fn peak_memory(arguments: &[&str]) -> std::io::Result<Option<f64>> {
    let mut child = start(arguments)?;
    let status = format!("/proc/{}/status", child.id());
    let mut peak = None;
    while child.try_wait()?.is_none() {
        let text = std::fs::read_to_string(&status).unwrap_or_default();
        let mark = text.lines().find_map(|line| line.strip_prefix("VmHWM:"));
        let kilobytes = mark.and_then(|rest| rest.trim().trim_end_matches(" kB").parse::<f64>().ok());
        peak = kilobytes.map(|kilobytes| kilobytes / 1e3).or(peak);
        std::thread::sleep(Duration::from_micros(100));
    }
    Ok(peak)
}

fn main() -> std::io::Result<ExitCode> {
    println!("{:>9}  {:>9}  {:>9}  what (median and slowest of {RUNS} runs)", "ms", "slowest", "peak MB");
    let mut ok = true;
    for arguments in [
        &["score", WALK, "--draws", "4096"][..],
        &["score", WALK, "--draws", "65536"],
        &["report", WALK, "--as", "md"],
        &["report", WALK, "--as", "json"],
    ] {
        let name = arguments.join(" ");
        let times: Option<Vec<f64>> = (0..RUNS).map(|_| time(arguments)).collect::<Result<_, _>>()?;
        let Some(mut times) = times else {
            println!("{:>9}  {:>9}  {:>9}  {name}: failed", "-", "-", "-");
            ok = false;
            continue;
        };
        times.sort_by(f64::total_cmp);
        let peak = peak_memory(arguments)?.map_or("-".to_owned(), |peak| format!("{peak:.1}"));
        println!("{:9.1}  {:9.1}  {peak:>9}  {name}", times[RUNS / 2], times[RUNS - 1]);
    }
    println!("\ngoal for `score` at 4,096 draws: {GOAL_MS} ms, {GOAL_MB} MB");
    Ok(if ok { ExitCode::SUCCESS } else { ExitCode::FAILURE })
}
