//! The words of one language: every sentence that is not a checklist's own, under a key.

use std::collections::{BTreeMap, BTreeSet};

/// A sentence with named blanks.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Sentence(Vec<Piece>);

#[derive(Clone, Debug, PartialEq, Eq)]
enum Piece {
    Text(String),
    Blank(String),
}

impl Sentence {
    /// A sentence from its text: `{name}` is a blank, `{{` and `}}` are braces.
    ///
    /// # Errors
    /// What is wrong with a brace, in words.
    pub fn new(text: &str) -> Result<Sentence, String> {
        let mut pieces = Vec::new();
        let mut plain = String::new();
        let mut rest = text;
        while let Some(at) = rest.find(['{', '}']) {
            plain.push_str(&rest[..at]);
            let brace = &rest[at..=at];
            rest = &rest[at + 1..];
            if let Some(after) = rest.strip_prefix(brace) {
                plain.push_str(brace);
                rest = after;
                continue;
            }
            if brace == "}" {
                return Err("a `}` has no `{` before it".to_owned());
            }
            let Some((name, after)) = rest.split_once('}') else {
                return Err("a `{` is not closed".to_owned());
            };
            if name.is_empty() || !name.chars().all(|c| c.is_ascii_alphanumeric() || c == '_') {
                return Err(format!("`{{{name}}}` is no blank: a blank holds one name"));
            }
            if !plain.is_empty() {
                pieces.push(Piece::Text(std::mem::take(&mut plain)));
            }
            pieces.push(Piece::Blank(name.to_owned()));
            rest = after;
        }
        plain.push_str(rest);
        if !plain.is_empty() {
            pieces.push(Piece::Text(plain));
        }
        Ok(Sentence(pieces))
    }

    /// Names of the blanks.
    pub fn blanks(&self) -> BTreeSet<&str> {
        self.0
            .iter()
            .filter_map(|piece| match piece {
                Piece::Blank(name) => Some(name.as_str()),
                Piece::Text(_) => None,
            })
            .collect()
    }

    /// The sentence with its blanks filled. A blank without a value stays to be seen.
    pub fn fill(&self, values: &[(&str, &str)]) -> String {
        let mut text = String::new();
        for piece in &self.0 {
            match piece {
                Piece::Text(plain) => text.push_str(plain),
                Piece::Blank(name) => match values.iter().find(|(known, _)| known == name) {
                    Some((_, value)) => text.push_str(value),
                    None => text.push_str(&format!("{{{name}}}")),
                },
            }
        }
        text
    }

    /// The text that [`Sentence::new`] reads as this sentence.
    pub fn source(&self) -> String {
        let piece = |piece: &Piece| match piece {
            Piece::Text(plain) => plain.replace('{', "{{").replace('}', "}}"),
            Piece::Blank(name) => format!("{{{name}}}"),
        };
        self.0.iter().map(piece).collect()
    }
}

/// A sentence in the forms that a number asks for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Forms {
    /// For one.
    pub one: Option<Sentence>,
    /// For every other number, and where there is none.
    pub other: Sentence,
}

/// Sentences by their keys.
pub type Sentences = BTreeMap<String, Forms>;

/// The words of one language.
#[derive(Clone, Debug)]
pub struct Words {
    /// IETF tag of the language, such as `en`.
    pub language: String,
    /// Sentences by key.
    pub sentences: Sentences,
    /// Where the others are: read only once one of them is asked for, as most runs need none.
    pub others: fn() -> &'static Sentences,
}

impl Words {
    /// The sentence of a key, filled. A key that isn't there stays to be seen; tests hold that none is
    /// asked for.
    pub fn say(&self, key: &str, values: &[(&str, &str)]) -> String {
        self.forms(key).map_or_else(|| key.to_owned(), |forms| forms.other.fill(values))
    }

    /// The sentence of a key, in the form for one where `n` is 1.
    pub fn say_for(&self, n: f64, key: &str, values: &[(&str, &str)]) -> String {
        let Some(forms) = self.forms(key) else { return key.to_owned() };
        let form = forms.one.as_ref().filter(|_| n == 1.0).unwrap_or(&forms.other);
        form.fill(values)
    }

    /// The sentence of a key without blanks.
    pub fn word(&self, key: &str) -> String {
        self.say(key, &[])
    }

    /// The sentence of a key that not every language need have.
    pub fn known(&self, key: &str) -> Option<String> {
        self.forms(key).is_some().then(|| self.word(key))
    }

    /// What is said under a key.
    pub fn forms(&self, key: &str) -> Option<&Forms> {
        self.sentences.get(key).or_else(|| (self.others)().get(key))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn blanks_are_filled_and_braces_stay() {
        let sentence = Sentence::new("{n} of {{all}} {n}").expect("well formed");
        assert_eq!(sentence.fill(&[("n", "3")]), "3 of {all} 3");
        assert_eq!(sentence.blanks(), BTreeSet::from(["n"]));
        assert_eq!(sentence.source(), "{n} of {{all}} {n}");
        assert_eq!(Sentence::new("{n").unwrap_err(), "a `{` is not closed");
        assert!(Sentence::new("n} more").is_err() && Sentence::new("{a b}").is_err());
    }
}
