//! The sentences of the table for templates, whichever layer fills them.

use crate::model::words::Words;
use minijinja::ErrorKind;
use minijinja::value::{Kwargs, Value};

/// A sentence for a template: `t("key", name=value)`. Each value is made harmless by `escape`; a key or
/// a blank that isn't there is a fault of the program.
///
/// # Errors
/// That fault, in the template engine's own words.
pub fn sentence(
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
