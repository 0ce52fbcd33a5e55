//! How things are drawn: pure functions from a report to text.

pub mod caret;
pub mod html;
pub mod markdown;
pub mod svg;
pub mod terminal;
pub mod text_table;
