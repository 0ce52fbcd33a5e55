//! Bytes to text: the one encoding is UTF-8.

use crate::finding::{Finding, Place, Severity, SourceText};

/// The largest file that is read, in bytes. An honest walk record is a few kilobytes.
pub const MAX_BYTES: usize = 4 * 1024 * 1024;

/// A named text from the bytes of a file. A byte-order mark at the start is left out.
///
/// # Errors
/// A finding that names the first byte that isn't UTF-8, or a file above [`MAX_BYTES`].
pub fn decode_utf8(name: &str, bytes: &[u8]) -> Result<SourceText, Finding> {
    if bytes.len() > MAX_BYTES {
        return Err(too_large(name, bytes.len()));
    }
    let rest = bytes.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(bytes);
    match std::str::from_utf8(rest) {
        Ok(text) => Ok(SourceText::new(name, text)),
        Err(fault) => Err(not_utf8(name, rest, fault.valid_up_to())),
    }
}

/// The finding for a file above [`MAX_BYTES`], whose size in bytes is given.
pub fn too_large(name: &str, bytes: usize) -> Finding {
    Finding {
        code: "file-too-large",
        severity: Severity::Error,
        place: Place::File(name.to_owned()),
        message: format!("the file has {bytes} bytes; at most {MAX_BYTES} are read"),
        help: Some("is this the right file? A walk record has a few thousand".to_owned()),
    }
}

fn not_utf8(name: &str, bytes: &[u8], at: usize) -> Finding {
    let before = String::from_utf8_lossy(bytes.get(..at).unwrap_or_default());
    let column = before.chars().rev().take_while(|c| *c != '\n').count() + 1;
    let row = before.matches('\n').count() + 1;
    let byte = bytes.get(at).copied().unwrap_or_default();
    Finding {
        code: "not-utf8",
        severity: Severity::Error,
        place: Place::Cell { file: name.to_owned(), row, column },
        message: format!("the byte 0x{byte:02X} here is not UTF-8 text"),
        help: Some(encoding_hint(bytes).to_owned()),
    }
}

/// What the file probably is. Half of a UTF-16 text in a Latin script are zero bytes.
fn encoding_hint(bytes: &[u8]) -> &'static str {
    let utf16 = bytes.starts_with(b"\xFF\xFE") || bytes.starts_with(b"\xFE\xFF");
    let start = bytes.get(..512).unwrap_or(bytes);
    let zeros = start.iter().filter(|byte| **byte == 0).count();
    if utf16 {
        "the file looks like UTF-16 (\"Unicode\" in some editors); save it again as UTF-8"
    } else if zeros > 0 {
        "this looks like no text at all (a spreadsheet, a picture?); name a text file"
    } else {
        "the file may be in Windows-1252 (\"ANSI\" in some editors); save it again as UTF-8"
    }
}
