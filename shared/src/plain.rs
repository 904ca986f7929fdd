//! Text of people as it may stand in a line: nothing that steers a terminal or hides in a name,
//! nothing that is longer than the line.
//!
//! This file refuses to know where the line is shown.

use std::borrow::Cow;
use std::fmt::Write as _;

/// A text in which every character that steers, turns round or cannot be seen is written out, as
/// `\u{202e}`: controls (line ends and tabs too), marks and overrides of the writing direction
/// (Unicode Standard Annex #9), separators of lines, marks without width.
///
/// The joiners that Arabic, Indic scripts and emoji need (U+200C, U+200D) stay.
#[must_use]
pub fn plain(text: &str) -> Cow<'_, str> {
    if !text.contains(steers) {
        return Cow::Borrowed(text);
    }
    let mut safe = String::with_capacity(text.len() + 16);
    for c in text.chars() {
        match c {
            '\n' => safe.push_str("\\n"),
            '\t' => safe.push_str("\\t"),
            c if steers(c) => {
                // A string takes everything that is written to it.
                let _ = write!(safe, "{}", c.escape_unicode());
            }
            c => safe.push(c),
        }
    }
    Cow::Owned(safe)
}

/// A text cut after so many characters, with `…` where something is missing.
#[must_use]
pub fn clip(text: &str, most: usize) -> Cow<'_, str> {
    match text.char_indices().nth(most) {
        Some((end, _)) => Cow::Owned(format!("{}…", &text[..end])),
        None => Cow::Borrowed(text),
    }
}

fn steers(c: char) -> bool {
    c.is_control()
        || matches!(c,
            '\u{ad}' | '\u{61c}' | '\u{180e}' | '\u{200b}' | '\u{200e}' | '\u{200f}'
            | '\u{2028}'..='\u{202e}' | '\u{2060}'..='\u{206f}' | '\u{feff}'
            | '\u{fff9}'..='\u{fffb}' | '\u{e0000}'..='\u{e007f}')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_steers_is_written_out_and_what_is_written_stays() {
        let check = |text: &str, safe: &str| assert_eq!(plain(text), safe);
        check("strut tower, rear bolt", "strut tower, rear bolt");
        check(
            "Längsträger · 右前 · دعامة · 👩\u{200d}🔧",
            "Längsträger · 右前 · دعامة · 👩\u{200d}🔧",
        );
        check("a\u{1b}[31mb", "a\\u{1b}[31mb");
        check("a\u{9b}31m", "a\\u{9b}31m");
        check("one\ntwo\tthree\r", "one\\ntwo\\tthree\\u{d}");
        check("\u{202e}thgir", "\\u{202e}thgir");
        check("\u{feff}x\u{200b}", "\\u{feff}x\\u{200b}");
    }

    #[test]
    fn what_is_too_long_ends_in_a_mark() {
        assert_eq!(clip("tower", 5), "tower");
        assert_eq!(clip("Türme", 4), "Türm…");
        assert_eq!(clip("", 0), "");
    }
}
