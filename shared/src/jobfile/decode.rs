//! From bytes to text: UTF-8 with or without a byte order mark; anything else is named.

use super::{MAX_BYTES, Refusal};

/// UTF-8's byte order mark, as a character.
const MARK: char = '\u{feff}';

/// The text of a file.
///
/// # Errors
/// When it is too long, or not UTF-8: then with the place of the first byte that is not.
pub(super) fn decode(bytes: &[u8]) -> Result<&str, Refusal> {
    let refuse = Refusal::whole;
    if bytes.len() > MAX_BYTES {
        return Err(refuse(too_long()));
    }
    if let Some(name) = other_encoding(bytes) {
        return Err(refuse(format!(
            "the text is {name}; a job file is UTF-8: save it again with the encoding UTF-8"
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
pub(super) fn trim(text: &str) -> Result<&str, Refusal> {
    let refuse = Refusal::whole;
    if text.len() > MAX_BYTES {
        return Err(refuse(too_long()));
    }
    let text = text.strip_prefix(MARK).unwrap_or(text);
    if text.trim().is_empty() {
        return Err(refuse(format!(
            "nothing is in it; a job file begins with {{\"format\": \"{}\"",
            super::FORMAT
        )));
    }
    Ok(text)
}

fn too_long() -> String {
    format!(
        "longer than {} MB; a job is far smaller",
        MAX_BYTES / 1024 / 1024
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
