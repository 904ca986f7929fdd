//! From bytes to text: UTF-8 with or without a byte order mark; anything else is named.

use super::Refusal;

/// UTF-8's byte order mark, as a character.
const MARK: char = '\u{feff}';

/// Kind of file, for what is said of it.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Kind {
    /// What it holds: `job`.
    pub(crate) name: &'static str,
    /// How it begins.
    pub(crate) begins: &'static str,
    /// Longest file.
    pub(crate) max_bytes: usize,
}

/// The text of a file.
///
/// # Errors
/// When it is too long, or not UTF-8: then with the place of the first byte that is not.
pub(crate) fn decode<'a>(bytes: &'a [u8], kind: &Kind) -> Result<&'a str, Refusal> {
    let refuse = Refusal::whole;
    if bytes.len() > kind.max_bytes {
        return Err(refuse(too_long(kind)));
    }
    if let Some(name) = other_encoding(bytes) {
        return Err(refuse(format!(
            "the text is {name}; a {} file is UTF-8: save it again with the encoding UTF-8",
            kind.name
        )));
    }
    std::str::from_utf8(bytes).map_err(|error| {
        let at = error.valid_up_to();
        let before = &bytes[..at];
        let line = before.iter().filter(|byte| **byte == b'\n').count() + 1;
        let column = before.iter().rev().take_while(|byte| **byte != b'\n').count() + 1;
        let byte = bytes.get(at).copied().unwrap_or_default();
        refuse(format!(
            "the byte {byte:#04x} at line {line}, column {column} (byte {at}) is not UTF-8; save the file again with the encoding UTF-8"
        ))
    })
}

/// The text without its mark, when there is anything in it.
///
/// # Errors
/// When it is too long or empty.
pub(crate) fn trim<'a>(text: &'a str, kind: &Kind) -> Result<&'a str, Refusal> {
    let refuse = Refusal::whole;
    if text.len() > kind.max_bytes {
        return Err(refuse(too_long(kind)));
    }
    let text = text.strip_prefix(MARK).unwrap_or(text);
    if text.trim().is_empty() {
        return Err(refuse(format!(
            "nothing is in it; a {} file begins with {}",
            kind.name, kind.begins
        )));
    }
    Ok(text)
}

fn too_long(kind: &Kind) -> String {
    format!(
        "longer than {} MB; a {} is far smaller",
        kind.max_bytes / 1024 / 1024,
        kind.name
    )
}

/// UTF-16 and UTF-32 by their mark, or by the zero bytes around the first character of JSON, which
/// is one of ASCII (RFC 4627, section 3).
fn other_encoding(bytes: &[u8]) -> Option<&'static str> {
    match bytes {
        [0xff, 0xfe, 0, 0, ..] | [0, 0, 0xfe, 0xff, ..] | [_, 0, 0, 0, ..] | [0, 0, 0, _, ..] => {
            Some("UTF-32")
        }
        [0xff, 0xfe, ..] | [0xfe, 0xff, ..] | [_, 0, ..] | [0, _, ..] => Some("UTF-16"),
        _ => None,
    }
}
