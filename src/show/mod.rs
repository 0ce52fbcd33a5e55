//! How things are drawn: pure functions from a report to text.

pub mod caret;
pub mod svg;
