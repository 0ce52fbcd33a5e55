//! The command line: arguments, files, exit codes. The only module that touches the outside world.

#![allow(
    clippy::disallowed_macros,
    clippy::disallowed_methods,
    clippy::disallowed_types,
    reason = "the one door to files, clock and terminal"
)]

mod about;
mod actions;
mod args;
mod cases;
mod checklist;
mod commands;
mod evidence;
mod files;
mod group;
mod plan;
mod progress;
mod report;
mod revisit;
mod sample;
mod sheet;
mod tables;

use crate::finding::Findings;
use crate::show::{caret, ink};
use args::{Arguments, Colour};
use clap::{CommandFactory, FromArgMatches, ValueEnum};
use std::ffi::OsString;
use std::io::Write;
use std::process::ExitCode;

/// Why nothing was done, with its exit code.
#[derive(Debug)]
enum Failure {
    /// The data has faults: 1.
    Data(Findings),
    /// The data can't bear what was asked, for the reason in words: 1.
    Refused(String),
    /// The command line has faults: 2.
    Usage(String),
    /// A file can't be read or written: 3.
    File(String),
    /// A fault of the program: 101, as a panic would give.
    Program(String),
}

impl From<minijinja::Error> for Failure {
    fn from(error: minijinja::Error) -> Self {
        Failure::Program(format!("{error:#}"))
    }
}

impl From<serde_json::Error> for Failure {
    fn from(error: serde_json::Error) -> Self {
        Failure::Program(error.to_string())
    }
}

/// Runs the program. Exit codes: 0 done; 1 the data has faults; 2 the command line has; 3 a file that
/// the command line names can't be read, or a result can't be written.
pub fn main() -> ExitCode {
    let asked = colour(std::env::args_os());
    anstream::ColorChoice::from(asked).write_global();
    let arguments = match parse(asked) {
        Ok(arguments) => arguments,
        Err(error) => {
            let code = if error.use_stderr() { 2 } else { 0 };
            // Nothing is left to tell if the terminal itself is gone.
            let _ = error.print();
            return ExitCode::from(code);
        }
    };
    let common = arguments.common.clone();
    // The words are read once there is something to say in them.
    let told = |findings: &Findings| match commands::words(&common) {
        Some(words) => caret::render_in(&words, findings),
        None => caret::render(findings),
    };
    match commands::run(arguments) {
        Ok(warnings) => {
            if !common.quiet && !warnings.is_empty() {
                tell(&told(&warnings));
            }
            ExitCode::SUCCESS
        }
        Err(failure) => fail(failure, told),
    }
}

/// The colour asked for, as far as it can be told before the command line is read: its faults and its
/// help are printed in it too.
fn colour(words: impl IntoIterator<Item = OsString>) -> Colour {
    let mut words = words.into_iter().map(|word| word.to_string_lossy().into_owned()).peekable();
    let mut found = Colour::Auto;
    while let Some(word) = words.next().filter(|word| word != "--") {
        let value = match word.strip_prefix("--color") {
            Some("") => words.peek().cloned(),
            Some(rest) => rest.strip_prefix('=').map(str::to_owned),
            None => None,
        };
        found = value.and_then(|value| Colour::from_str(&value, false).ok()).unwrap_or(found);
    }
    found
}

fn parse(colour: Colour) -> Result<Arguments, clap::Error> {
    let colour = match colour {
        Colour::Auto => clap::ColorChoice::Auto,
        Colour::Always => clap::ColorChoice::Always,
        Colour::Never => clap::ColorChoice::Never,
    };
    Arguments::from_arg_matches(&Arguments::command().color(colour).try_get_matches()?)
}

fn fail(failure: Failure, told: impl Fn(&Findings) -> String) -> ExitCode {
    let error = |reason: &str| format!("error: {}\n", caret::harmless_lines(reason));
    let (text, code) = match failure {
        Failure::Data(findings) => (told(&findings), 1),
        Failure::Refused(reason) => (error(&reason), 1),
        Failure::Usage(reason) => (error(&reason), 2),
        Failure::File(reason) => (error(&reason), 3),
        Failure::Program(reason) => (error(&format!("this is a fault of underfoot itself: {reason}")), 101),
    };
    tell(&text);
    ExitCode::from(code)
}

/// Findings and progress go to standard error.
fn tell(text: &str) {
    // A closed standard error leaves nobody to tell.
    let _ = anstream::stderr().write_all(ink::findings(text).as_bytes());
}
