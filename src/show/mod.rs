//! How things are drawn: pure functions from a report to text.

pub mod caret;
pub mod record;
#[cfg(not(target_family = "wasm"))]
pub mod sheet;
pub mod svg;
