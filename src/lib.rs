//! Underfoot turns a lameness walk of a dairy farm into a ranked, costed and honest short list of
//! what to change first.
//!
//! The crate reads as a pipeline, in the order of its modules:
//!
//! 1. [`input`]: text to valid types, collecting every fault with its place.
//! 2. [`model`]: the valid types: evidence, factors, checklists, a farm's walk.
//! 3. [`reckon`]: the engine, from published effects to ranked options. Pure: no files, clock,
//!    threads, environment or printing, and the same bytes on every machine.
//! 4. [`report`]: what is said, in what order, with which units and cautions.
//! 5. [`show`]: how it is drawn: terminal, Markdown, HTML, SVG, JSON.
//!
//! `cli` (native only) is the one place that opens files; `web` is the door for the offline sheet.

// The bans of clippy.toml; tests may use what they like.
#![cfg_attr(not(test), warn(clippy::disallowed_macros, clippy::disallowed_methods, clippy::disallowed_types))]

pub mod finding;
pub mod input;
pub mod job;
pub mod model;
pub mod reckon;
pub mod report;
pub mod show;
pub mod web;

#[cfg(not(target_family = "wasm"))]
pub mod cli;
