//! The number being entered: by keypad, by keyboard, or by a tape that types.
//!
//! The text is kept as entered; the value is millimetres. This file refuses to know which point
//! is being read.

use crate::measuring::figures::LengthUnit;
use shared::units::MM_PER_INCH;

/// Longest text that is a number and not a stuck key.
const MAX_CHARACTERS: usize = 16;
/// Longest reading: a tape across the longest van and back.
pub const MAX_MM: f64 = 20_000.0;

/// A key of the keypad, or a key typed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Key {
    /// A digit, decimal mark, `/`, space or a letter of a unit.
    Character(char),
    /// Adds a part of the unit: 1/2, 1/4 … 1/64.
    Part(u32),
    /// Takes back the last key.
    Back,
    /// Empties the entry.
    Clear,
}

/// Why a text is not a reading.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum EntryError {
    /// Nothing was entered.
    Empty,
    /// It is not a number.
    NotANumber,
    /// It is longer than [`MAX_MM`].
    TooLong,
}

/// What has been entered so far.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Entry {
    /// Characters typed.
    typed: String,
    /// Sum of the parts added, in sixty-fourths of the unit.
    sixty_fourths: u32,
}

impl Entry {
    /// An entry that already holds a text.
    #[must_use]
    pub fn of(text: &str) -> Self {
        Self {
            typed: text.to_owned(),
            sixty_fourths: 0,
        }
    }

    /// Has anything been entered?
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.typed.is_empty() && self.sixty_fourths == 0
    }

    /// Takes one key.
    pub fn press(&mut self, key: Key) {
        match key {
            Key::Character('.' | ',') if self.has_mark() => {}
            Key::Character(c) if self.typed.chars().count() < MAX_CHARACTERS && acceptable(c) => {
                self.typed.push(c);
            }
            Key::Character(_) => {}
            Key::Part(under) => {
                let part = 64_u32.checked_div(under).unwrap_or(0);
                // Half of a millimetre is pressed once; pressing it again takes it off.
                self.sixty_fourths = (self.sixty_fourths + part) % 64;
            }
            Key::Back if self.sixty_fourths > 0 => self.sixty_fourths = 0,
            Key::Back => {
                self.typed.pop();
            }
            Key::Clear => *self = Self::default(),
        }
    }

    /// Is there a decimal mark, so that another says nothing? A thumb presses it twice easily. Behind
    /// three digits it may be a tape's mark of thousands: dropping it would make another number of
    /// `1.234,5`, so it is taken, and the text refused.
    fn has_mark(&self) -> bool {
        let mark = self.typed.rfind(['.', ',']);
        mark.is_some_and(|at| self.typed.len() - at <= 3)
    }

    /// The entry as shown and kept: `412½`, `16 3/8`.
    #[must_use]
    pub fn shown(&self) -> String {
        let (over, under) = reduced(self.sixty_fourths);
        match (over, self.typed.is_empty()) {
            (0, _) => self.typed.clone(),
            (1, _) if under == 2 => format!("{}½", self.typed),
            (_, true) => format!("{over}/{under}"),
            (_, false) => format!("{} {over}/{under}", self.typed),
        }
    }

    /// The value in millimetres.
    ///
    /// # Errors
    /// [`EntryError`] when the text is empty, no number, or longer than any tape.
    pub fn value_mm(&self, unit: LengthUnit) -> Result<f64, EntryError> {
        if self.is_empty() {
            return Err(EntryError::Empty);
        }
        let mm = parse(&self.typed, f64::from(self.sixty_fourths) / 64.0, unit)
            .ok_or(EntryError::NotANumber)?;
        if mm > MAX_MM {
            Err(EntryError::TooLong)
        } else {
            Ok(mm)
        }
    }
}

/// Characters a tape or a keyboard may send: digits, marks, and letters of `mm`, `cm`, `in`.
fn acceptable(c: char) -> bool {
    c.is_ascii_digit() || matches!(c, '.' | ',' | '/' | ' ' | '½' | '"' | 'm' | 'c' | 'i' | 'n')
}

fn reduced(sixty_fourths: u32) -> (u32, u32) {
    let (mut over, mut under) = (sixty_fourths, 64);
    while over > 0 && over % 2 == 0 {
        over /= 2;
        under /= 2;
    }
    (over, under)
}

/// `412.5`, `412,5 mm`, `41.25 cm`, `0.4125 m`, `16 3/8"`, each plus `extra` of the unit.
fn parse(text: &str, extra: f64, unit: LengthUnit) -> Option<f64> {
    let text = text.trim().replace(',', ".").replace('½', " 1/2");
    let default = match unit {
        LengthUnit::Millimetre => 1.0,
        LengthUnit::InchDecimal | LengthUnit::InchFraction => MM_PER_INCH,
    };
    let units = [
        ("mm", 1.0),
        ("cm", 10.0),
        ("in", MM_PER_INCH),
        ("\"", MM_PER_INCH),
        ("m", 1000.0),
    ];
    let (number, factor) = units
        .iter()
        .find_map(|(name, factor)| text.strip_suffix(name).map(|rest| (rest, *factor)))
        .unwrap_or((text.as_str(), default));
    // One whole number and at most one fraction behind it: '1 200' is not 201.
    let words: Vec<&str> = number.split_whitespace().collect();
    let sum = match words.as_slice() {
        [] if extra > 0.0 => extra,
        [word] => extra + part(word)?,
        [whole, fraction] if fraction.contains('/') => extra + plain(whole)? + part(fraction)?,
        _ => return None,
    };
    // To the nanometre: 16.375 in is 415.925 mm, not 415.92499999999995.
    Some((sum * factor * 1e6).round() / 1e6)
}

/// A number or a fraction.
fn part(word: &str) -> Option<f64> {
    match word.split_once('/') {
        Some((over, under)) => quotient(over, under),
        None => plain(word),
    }
}

fn quotient(over: &str, under: &str) -> Option<f64> {
    let under: u32 = under.parse().ok().filter(|under| *under > 0)?;
    Some(f64::from(over.parse::<u32>().ok()?) / f64::from(under))
}

fn plain(word: &str) -> Option<f64> {
    word.chars()
        .all(|c| c.is_ascii_digit() || c == '.')
        .then(|| word.parse().ok())
        .flatten()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn typed(text: &str, unit: LengthUnit) -> Result<f64, EntryError> {
        let mut entry = Entry::default();
        for c in text.chars() {
            entry.press(Key::Character(c));
        }
        entry.value_mm(unit)
    }

    #[test]
    fn what_tapes_and_people_type() {
        for (text, mm) in [
            ("412", 412.0),
            ("412.5", 412.5),
            ("412,5", 412.5),
            ("41.25 cm", 412.5),
            ("412,5mm", 412.5),
            ("0.4125 m", 412.5),
            ("412½", 412.5),
            ("0", 0.0),
            ("412..5", 412.5),
            ("15,5.5", 15.55),
            ("15.5.", 15.5),
            ("15.,25.", 15.25),
        ] {
            assert_eq!(typed(text, LengthUnit::Millimetre), Ok(mm), "{text}");
        }
        // 1 in = 25.4 mm exactly (NIST SP 811, from memory).
        assert_eq!(typed("16 3/8", LengthUnit::InchFraction), Ok(415.925));
        assert_eq!(typed("16.375", LengthUnit::InchDecimal), Ok(415.925));
        assert_eq!(typed("16 3/8\"", LengthUnit::Millimetre), Ok(415.925));
    }

    #[test]
    fn what_is_no_reading() {
        let unit = LengthUnit::Millimetre;
        assert_eq!(typed("", unit), Err(EntryError::Empty));
        for text in [
            "1.234,5", "1,234.5", "/", "3/0", "mm", "1//2", "..", "1 200", "4 12", "1 2 1/2",
            "1/2 1/2",
        ] {
            assert_eq!(typed(text, unit), Err(EntryError::NotANumber), "{text}");
        }
        assert_eq!(typed("99999", unit), Err(EntryError::TooLong));
    }

    #[test]
    fn parts_add_up_and_come_off() {
        let mut entry = Entry::of("16");
        entry.press(Key::Part(4));
        entry.press(Key::Part(8));
        assert_eq!(entry.shown(), "16 3/8");
        assert_eq!(entry.value_mm(LengthUnit::InchFraction), Ok(415.925));
        entry.press(Key::Back);
        assert_eq!(entry.shown(), "16");
        let mut entry = Entry::of("412");
        entry.press(Key::Part(2));
        assert_eq!(entry.shown(), "412½");
        assert_eq!(entry.value_mm(LengthUnit::Millimetre), Ok(412.5));
        entry.press(Key::Clear);
        assert!(entry.is_empty());
    }

    #[test]
    fn a_stuck_key_stops() {
        let mut entry = Entry::default();
        for _ in 0..100 {
            entry.press(Key::Character('1'));
        }
        assert_eq!(entry.shown().len(), MAX_CHARACTERS);
    }
}
