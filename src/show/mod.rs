//! How things are drawn: pure functions from a report to text.

pub mod caret;
pub mod html;
#[cfg(not(target_family = "wasm"))]
pub mod ink;
pub mod markdown;
pub mod plan_terminal;
pub mod record;
pub mod records_terminal;
pub mod sample_terminal;
#[cfg(not(target_family = "wasm"))]
pub mod sheet;
pub mod svg;
pub mod terminal;
pub mod text_page;
pub mod text_table;
#[cfg(not(target_family = "wasm"))]
pub mod xlsx;

/// Whether a character may stand in a page or a chart as it is: no control character, none that
/// turns the reading direction, none that XML forbids.
fn printable(c: char) -> bool {
    !c.is_control()
        && !matches!(c, '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
        && !matches!(c, '\u{fffe}' | '\u{ffff}')
}
