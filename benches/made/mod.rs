//! Made-up input that the benchmarks share, and how whole runs are timed. Each benchmark uses its part.

#![allow(dead_code, unreachable_pub, reason = "each benchmark uses its own part")]

use std::fmt::Write as _;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

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

/// Numbers that look mixed, the same each time: Steele, Lea & Flood 2014 (splitmix64).
fn mixed() -> impl FnMut(u64) -> u64 {
    let mut state = 42_u64;
    move |bound| {
        state = state.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut bits = state;
        bits = (bits ^ (bits >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        bits = (bits ^ (bits >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        (bits ^ (bits >> 31)) % bound
    }
}

/// Invented cards: rates, sizes and exposures that look mixed.
pub fn cards(count: usize) -> Vec<String> {
    let mut below = mixed();
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

/// Cows of [`rows`].
pub const COWS: u64 = 400_000;
/// Days that they lie in.
const DAYS: u64 = 1_095;

/// Rows by day, as records are kept: invented cows, lesions in about a pasture herd's mix.
pub fn rows(count: usize) -> String {
    const LESIONS: [&str; 10] =
        ["white-line", "white-line", "WL", "stone bruise", "sole-penetration", "IP", "DD", "SU", "", "HFA"];
    const FEET: [&str; 5] = ["LF", "RF", "LH", "RH", "RH"];
    const CLAWS: [&str; 3] = ["inner", "outer", "outer"];
    const WHO: [&str; 4] = ["farmer", "farmer", "vet", "trimmer"];
    const TREATMENTS: [&str; 4] = ["trim", "trim and block", "", "vet called"];
    let mut text = String::from("date,cow,foot,claw,lesion,seen_by,score,treatment,note\n");
    let mut below = mixed();
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

/// Peak memory of a process by its id, or of this one by `self`, megabytes, where the system tells (Linux).
pub fn peak_megabytes(process: &str) -> Option<f64> {
    let status = std::fs::read_to_string(format!("/proc/{process}/status")).ok()?;
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"))?;
    Some(line.trim().trim_end_matches("kB").trim().parse::<f64>().ok()? / 1024.0)
}

/// Seconds of a whole run from its start to its end, and what it printed; the fault where it failed.
pub fn time(command: &mut Command) -> Result<(f64, String), String> {
    let begin = Instant::now();
    let output = command.stdin(Stdio::null()).output().map_err(|fault| fault.to_string())?;
    let seconds = begin.elapsed().as_secs_f64();
    let said = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    if output.status.success() {
        Ok((seconds, said(&output.stdout)))
    } else {
        Err(said(&output.stderr).lines().last().unwrap_or("failed").to_owned())
    }
}

/// The most memory a run held, megabytes, from Linux's own high-water mark, read until the run ends;
/// `None` on other systems. Read apart from the timed runs.
pub fn peak_of(command: &mut Command) -> Option<f64> {
    let mut child = command.stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null()).spawn().ok()?;
    let process = child.id().to_string();
    let mut peak = None;
    while let Ok(None) = child.try_wait() {
        peak = peak_megabytes(&process).or(peak);
        std::thread::sleep(Duration::from_micros(100));
    }
    peak
}

/// The middle one of several times.
pub fn median(mut times: Vec<f64>) -> f64 {
    times.sort_by(f64::total_cmp);
    times.get(times.len() / 2).copied().unwrap_or(f64::NAN)
}
