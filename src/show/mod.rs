//! How things are drawn: pure functions from a report to text.

pub mod caret;
pub mod html;
pub mod markdown;
pub mod record;
#[cfg(not(target_family = "wasm"))]
pub mod sheet;
pub mod svg;
pub mod terminal;
pub mod text_table;
