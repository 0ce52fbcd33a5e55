//! What a long run is doing, on a terminal's standard error: one line that appears after a second and is
//! gone when the run ends.
//!
//! A bar stands only where the steps are counted; elsewhere the seconds do, for a bar that guesses is a
//! bar that lies.

use super::args::Common;
use crate::show::caret::harmless;
use std::io::{IsTerminal, Write};
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::mpsc::{RecvTimeoutError, Sender, channel};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

const SILENT: Duration = Duration::from_secs(1);
const EVERY: Duration = Duration::from_millis(200);
/// Columns of a line: one that wraps could not be taken back.
const LONGEST: usize = 79;
/// Cells of a bar.
const CELLS: u64 = 20;

#[derive(Debug, Default)]
struct State {
    doing: Mutex<String>,
    done: AtomicU64,
    /// 0 where the steps are not counted.
    all: AtomicU64,
}

/// A run that tells what it is doing, until dropped.
#[derive(Debug)]
pub(super) struct Progress {
    state: Arc<State>,
    teller: Option<(Sender<()>, JoinHandle<()>)>,
}

impl Progress {
    /// Tells nothing with `--quiet`, or where standard error is no terminal that can take a line back.
    pub(super) fn new(common: &Common) -> Progress {
        let state = Arc::new(State::default());
        let dumb = std::env::var_os("TERM").is_some_and(|kind| kind == "dumb");
        let told = !common.quiet && !dumb && std::io::stderr().is_terminal();
        let teller = told.then(|| {
            let (stop, stopped) = channel();
            let state = Arc::clone(&state);
            let tell = move || {
                let start = Instant::now();
                let mut wait = SILENT;
                while stopped.recv_timeout(wait) == Err(RecvTimeoutError::Timeout) {
                    show(&state.line(start.elapsed()));
                    wait = EVERY;
                }
                if wait == EVERY {
                    show("");
                }
            };
            (stop, std::thread::spawn(tell))
        });
        Progress { state, teller }
    }

    /// What is being done now, in so many steps; `None` where they are not counted.
    pub(super) fn now(&self, doing: impl Into<String>, steps: Option<usize>) {
        *self.state.doing.lock().unwrap_or_else(PoisonError::into_inner) = harmless(&doing.into());
        self.state.done.store(0, Ordering::Relaxed);
        self.state.all.store(steps.map_or(0, |steps| steps as u64), Ordering::Relaxed);
    }

    /// One step is done.
    pub(super) fn step(&self) {
        self.state.done.fetch_add(1, Ordering::Relaxed);
    }
}

/// Does one thing whose steps are not counted, telling what it is.
pub(super) fn during<T>(common: &Common, doing: &str, work: impl FnOnce() -> T) -> T {
    let progress = Progress::new(common);
    progress.now(doing, None);
    work()
}

impl Drop for Progress {
    fn drop(&mut self) {
        if let Some((stop, teller)) = self.teller.take() {
            drop(stop);
            // The line is gone when the run's own words are printed.
            let _ = teller.join();
        }
    }
}

/// Writes over the line that was there.
fn show(line: &str) {
    let mut stderr = std::io::stderr().lock();
    let line: String = line.chars().take(LONGEST).collect();
    // A terminal that is gone has nobody before it.
    let _ = write!(stderr, "\r\u{1b}[2K{line}").and_then(|()| stderr.flush());
}

impl State {
    fn line(&self, elapsed: Duration) -> String {
        let doing = self.doing.lock().unwrap_or_else(PoisonError::into_inner).clone();
        let (done, all) = (self.done.load(Ordering::Relaxed), self.all.load(Ordering::Relaxed));
        let seconds = elapsed.as_secs();
        if all == 0 {
            return format!("{doing}: {seconds} s");
        }
        let done = done.min(all);
        let full = CELLS * done / all;
        let bar: String = (0..CELLS).map(|cell| if cell < full { '#' } else { '.' }).collect();
        format!("{doing}: [{bar}] {done} of {all}, {seconds} s")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bar_stands_only_where_steps_are_counted() {
        let progress = Progress { state: Arc::default(), teller: None };
        progress.now("Looking for the best set", None);
        assert_eq!(progress.state.line(Duration::from_secs(3)), "Looking for the best set: 3 s");
        progress.now("Reading cards", Some(4));
        progress.step();
        let line = progress.state.line(Duration::from_secs(1));
        assert_eq!(line, "Reading cards: [#####...............] 1 of 4, 1 s");
    }
}
