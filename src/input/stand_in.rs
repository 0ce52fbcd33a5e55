//! Control characters inside a YAML text.
//!
//! YAML forbids them, and its parser stops at one; here they are accepted in text (and made harmless
//! on output), so that a stray one from another program doesn't cost a file. While the file is
//! parsed, each is replaced by a private-use character, and put back into the values afterwards.

use std::borrow::Cow;

/// Private-use characters for U+0000 to U+009F.
const LOW: u32 = 0x10_FF00;
/// Private-use characters for U+FFFE and U+FFFF.
const HIGH: u32 = 0x10_FE00;

/// A text without forbidden characters, that knows where everything was before.
pub(crate) struct Readable<'a> {
    text: Cow<'a, str>,
    /// For each replaced character: the byte after its stand-in, and how much longer the text is up
    /// to there than it was.
    longer: Vec<(usize, usize)>,
}

impl<'a> Readable<'a> {
    pub(crate) fn new(original: &'a str) -> Self {
        if !original.contains(is_forbidden) {
            return Readable { text: Cow::Borrowed(original), longer: Vec::new() };
        }
        let mut text = String::with_capacity(original.len() + original.len() / 8);
        let (mut longer, mut by) = (Vec::new(), 0);
        for c in original.chars() {
            let shown = stand_in(c);
            text.push(shown);
            if shown != c {
                by += shown.len_utf8() - c.len_utf8();
                longer.push((text.len(), by));
            }
        }
        Readable { text: Cow::Owned(text), longer }
    }

    pub(crate) fn text(&self) -> &str {
        &self.text
    }

    /// Where a byte of this text is in the original.
    pub(crate) fn original(&self, offset: usize) -> usize {
        let before = self.longer.partition_point(|(end, _)| *end <= offset);
        let by = before.checked_sub(1).and_then(|last| self.longer.get(last)).map_or(0, |(_, by)| *by);
        offset.saturating_sub(by)
    }

    /// A value with its own characters.
    pub(crate) fn restored(&self, value: Cow<'_, str>) -> String {
        if self.longer.is_empty() { value.into_owned() } else { value.chars().map(put_back).collect() }
    }
}

/// Not `c-printable` of YAML 1.2.2, production 1.
fn is_forbidden(c: char) -> bool {
    let c0 = c < ' ' && !matches!(c, '\t' | '\n' | '\r');
    c0 || matches!(c, '\u{7F}'..='\u{84}' | '\u{86}'..='\u{9F}' | '\u{FFFE}' | '\u{FFFF}')
}

fn stand_in(c: char) -> char {
    let base = if c > '\u{FF}' { HIGH } else { LOW };
    let replaced = is_forbidden(c).then(|| char::from_u32(base + (u32::from(c) & 0xFF)));
    replaced.flatten().unwrap_or(c)
}

fn put_back(c: char) -> char {
    let code = u32::from(c);
    let original = match code & !0xFF {
        LOW => char::from_u32(code & 0xFF),
        HIGH => char::from_u32(0xFF00 | (code & 0xFF)),
        _ => None,
    };
    original.filter(|original| is_forbidden(*original)).unwrap_or(c)
}

#[cfg(test)]
mod tests {
    use super::Readable;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn what_is_replaced_is_put_back_and_found_again(text in "[\\u{0}-\\u{A0}\\u{FFFC}-\\u{FFFF}é🐄]{0,40}") {
            let readable = Readable::new(&text);
            prop_assert!(!readable.text().contains(super::is_forbidden));
            prop_assert_eq!(readable.restored(readable.text().into()), text.clone());
            for ((at, c), (was, original)) in readable.text().char_indices().zip(text.char_indices()) {
                prop_assert_eq!(readable.original(at), was);
                prop_assert_eq!(super::put_back(c), original);
            }
            prop_assert_eq!(readable.original(readable.text().len()), text.len());
        }
    }
}
