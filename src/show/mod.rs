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

use crate::model::words::Words;
use minijinja::ErrorKind;
use minijinja::value::{Kwargs, Value};

/// A sentence for a template: `t("key", name=value)`. Each value is made harmless by `escape`; a key or
/// a blank that isn't there is a fault of the program.
fn sentence(
    words: &Words,
    key: &str,
    values: &Kwargs,
    escape: impl Fn(&str) -> String,
) -> Result<String, minijinja::Error> {
    let Some(forms) = words.forms(key) else {
        return Err(minijinja::Error::new(ErrorKind::InvalidOperation, format!("no sentence `{key}`")));
    };
    let value = |name| -> Result<(&str, String), minijinja::Error> {
        let value: Value = values.get(name)?;
        Ok((name, escape(&value.to_string())))
    };
    let filled = forms.other.blanks().into_iter().map(value).collect::<Result<Vec<_>, _>>()?;
    values.assert_all_used()?;
    let filled: Vec<(&str, &str)> = filled.iter().map(|(name, value)| (*name, value.as_str())).collect();
    // A template gives a whole number as `n`, which chooses the form.
    let n = filled.iter().find(|(name, _)| *name == "n").and_then(|(_, value)| value.parse().ok());
    Ok(words.say_for(n.unwrap_or(f64::NAN), key, &filled))
}

/// Whether a character may stand in a page or a chart as it is: no control character, none that
/// turns the reading direction, none that XML forbids.
fn printable(c: char) -> bool {
    !c.is_control()
        && !matches!(c, '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
        && !matches!(c, '\u{fffe}' | '\u{ffff}')
}
