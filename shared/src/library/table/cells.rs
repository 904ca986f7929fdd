//! One cell: texts that no spreadsheet program takes for a formula, and numbers as people write them.

use std::borrow::Cow;

use crate::plain::clip;
use crate::units::{Unit, parse_length};

/// Characters that begin a formula in spreadsheet programs (OWASP, *CSV Injection*, from memory), the
/// wide forms too; and the mark that guards them.
fn begins_formula(c: char) -> bool {
    matches!(c, '=' | '+' | '-' | '@' | '＝' | '＋' | '－' | '＠')
}

/// Characters behind which a program with another separator begins a new cell.
fn begins_cell(c: char) -> bool {
    matches!(c, ',' | ';' | '"' | '|')
}

/// A text with `'` before everything that could begin a formula.
pub(super) fn guarded(text: &str) -> String {
    let mut safe = String::with_capacity(text.len() + 1);
    let mut beginning = true;
    for c in text.chars() {
        if beginning && (begins_formula(c) || c == '\'') {
            safe.push('\'');
        }
        beginning = begins_cell(c) || (beginning && c.is_whitespace());
        safe.push(c);
    }
    safe
}

/// The text behind the guards.
pub(super) fn unguarded(text: &str) -> Cow<'_, str> {
    if !text.contains('\'') {
        return Cow::Borrowed(text);
    }
    let mut plain = String::with_capacity(text.len());
    let mut beginning = true;
    let mut characters = text.chars().peekable();
    while let Some(c) = characters.next() {
        let guarded = |next: &char| begins_formula(*next) || *next == '\'';
        let c = match characters.next_if(|next| beginning && c == '\'' && guarded(next)) {
            Some(next) => next,
            None => c,
        };
        beginning = begins_cell(c) || (beginning && c.is_whitespace());
        plain.push(c);
    }
    Cow::Owned(plain)
}

/// How numbers are written in one file.
#[derive(Debug, Clone, Copy)]
pub(super) struct Numbers {
    /// Are cells separated by commas?
    pub(super) commas: bool,
    /// The decimal mark of the first number that has one.
    mark: Option<char>,
}

impl Numbers {
    pub(super) fn new(commas: bool) -> Self {
        Self { commas, mark: None }
    }

    /// A length in millimetres.
    pub(super) fn length(&mut self, text: &str, unit: Unit) -> Result<f64, String> {
        let shown = clip(text, 40);
        if let Some(mark) = text.chars().find(|c| matches!(c, '.' | ',')) {
            let decimals = text.rsplit(mark).next().unwrap_or_default().len();
            if mark == ',' && self.commas && decimals == 3 {
                return Err(format!(
                    "'{shown}' may be thousands or a decimal comma; write it with a decimal point and without thousands"
                ));
            }
            if *self.mark.get_or_insert(mark) != mark {
                return Err(format!(
                    "'{shown}' has another decimal mark than the numbers before; use one in the whole file"
                ));
            }
        }
        // The sign of the mathematician is read; a leading plus is not needed and does no harm.
        let plain = text.strip_prefix('+').unwrap_or(text);
        parse_length(plain, unit).map_err(|error| error.to_string())
    }
}
