//! "Did you mean": the nearest known name to one that isn't known.

/// Names longer than this are never near anything; measuring them would only cost time.
const LONGEST: usize = 64;

/// The known name nearest to `name`, when it is near enough to be a slip of the keyboard.
pub(crate) fn nearest<'a>(name: &str, known: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    if name.len() > LONGEST {
        return None;
    }
    let wanted = plain(name);
    let allowed = (wanted.chars().count() / 3).max(1);
    known
        .into_iter()
        .filter(|candidate| candidate.len() <= LONGEST)
        .map(|candidate| (strsim::damerau_levenshtein(&wanted, &plain(candidate)), candidate))
        .filter(|(distance, _)| *distance <= allowed)
        .min_by_key(|(distance, _)| *distance)
        .map(|(_, candidate)| candidate)
}

/// Spelling differences that mean nothing: capitals, and how words are joined.
fn plain(name: &str) -> String {
    name.to_lowercase().replace(['_', ' '], "-")
}

/// "did you mean `x`?" for a near name, else the known names where they are few, else nothing.
pub fn hint(name: &str, known: &[&str]) -> String {
    match nearest(name, known.iter().copied()) {
        Some(near) => format!("did you mean `{near}`?"),
        None if known.is_empty() => String::new(),
        None => format!("known: {}", list(known)),
    }
}

/// Names in a row, cut after twelve.
pub(crate) fn list(names: &[&str]) -> String {
    const SHOWN: usize = 12;
    let mut shown = names.iter().take(SHOWN).map(|name| format!("`{name}`")).collect::<Vec<_>>().join(", ");
    if names.len() > SHOWN {
        shown.push_str(&format!(" and {} more", names.len() - SHOWN));
    }
    shown
}

#[cfg(test)]
mod tests {
    use super::nearest;

    #[test]
    fn a_slip_is_near_and_another_word_is_not() {
        let known = ["length_m", "width_m", "passes_per_day"];
        assert_eq!(nearest("lenght_m", known), Some("length_m"));
        assert_eq!(nearest("Length-M", known), Some("length_m"));
        assert_eq!(nearest("colour", known), None);
        assert_eq!(nearest(&"x".repeat(100_000), known), None);
    }
}
