//! Bytes to text: UTF-8, UTF-16 with a byte-order mark, else Windows-1252.

use std::borrow::Cow;

/// How a text file was written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Encoding {
    /// UTF-8, with or without a byte-order mark.
    Utf8,
    /// UTF-16, told by its byte-order mark.
    Utf16,
    /// Windows-1252: what is left where the bytes are not valid UTF-8.
    Windows1252,
}

impl Encoding {
    /// The name in messages.
    pub fn name(self) -> &'static str {
        match self {
            Encoding::Utf8 => "UTF-8",
            Encoding::Utf16 => "UTF-16",
            Encoding::Windows1252 => "Windows-1252",
        }
    }
}

/// The text of a file with its encoding.
///
/// # Errors
/// Says in plain words why the bytes are no text.
pub(super) fn decode(bytes: &[u8]) -> Result<(Cow<'_, str>, Encoding), &'static str> {
    if let Some((encoding, mark)) = encoding_rs::Encoding::for_bom(bytes) {
        let (text, faulty) = encoding.decode_without_bom_handling(&bytes[mark..]);
        return match (faulty, encoding == encoding_rs::UTF_8) {
            (false, true) => Ok((text, Encoding::Utf8)),
            (false, false) => Ok((text, Encoding::Utf16)),
            (true, _) => Err("the byte-order mark at its start doesn't fit the bytes after it"),
        };
    }
    if bytes.contains(&0) {
        return Err("it holds zero bytes, which no text file does");
    }
    match std::str::from_utf8(bytes) {
        Ok(text) => Ok((Cow::Borrowed(text), Encoding::Utf8)),
        Err(_) => {
            let (text, _) = encoding_rs::WINDOWS_1252.decode_without_bom_handling(bytes);
            Ok((text, Encoding::Windows1252))
        }
    }
}
