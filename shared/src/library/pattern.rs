//! Patterns of vehicle identification numbers: which numbers a sheet is for.
//!
//! Seventeen places (49 CFR 565.15, from memory): 1 to 3 the maker, 4 to 8 what the maker says of the
//! vehicle, 9 the check digit, 10 the model year, 11 the plant, 12 to 17 the serial number. A pattern
//! writes each as a character, `?` for any, or a set `[A-CX]`; `*` at the end stands for all that is
//! left. Spaces may stand anywhere; small letters count as capitals; I, O and Q are in no number.

use std::fmt;
use std::str::FromStr;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Places of a number.
const PLACES: usize = 17;
/// Every character that a number may have, in its order.
const ALPHABET: &[u8; 33] = b"0123456789ABCDEFGHJKLMNPRSTUVWXYZ";
/// All of them.
const ANY: u64 = (1 << 33) - 1;
/// Longest text of a pattern.
const MAX_PATTERN: usize = 600;

/// Which identification numbers fit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(try_from = "String", into = "String")]
pub struct Pattern([u64; PLACES]);

/// Why a text is no pattern.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum PatternError {
    /// A character that no number has.
    #[error(
        "place {1}: '{0}' is in no VIN; write 0-9, A-Z without I, O, Q, ? for any, [ABC] for a choice, * at the end"
    )]
    Character(char, usize),
    /// A set that is not closed, empty, or turned round.
    #[error("place {0}: a choice is written as [ABC] or [1-5A-C], the smaller first")]
    Set(usize),
    /// Too few or too many places.
    #[error("{0} places are written, a VIN has 17; end with * for any that are left")]
    Length(usize),
    /// Something behind the star.
    #[error("* stands for all that is left and can only be last")]
    BehindStar,
    /// A text of no sensible length.
    #[error("longer than any pattern; write at most 17 places")]
    TooLong,
}

fn bit(c: char) -> Option<u64> {
    let c = u8::try_from(c.to_ascii_uppercase()).ok()?;
    ALPHABET
        .iter()
        .position(|known| *known == c)
        .map(|at| 1 << at)
}

impl Pattern {
    /// Does a whole number fit? Spaces around it do no harm.
    #[must_use]
    pub fn fits(&self, vin: &str) -> bool {
        let mut places = 0;
        for (place, c) in vin.trim().chars().enumerate() {
            let fits = self.0.get(place).zip(bit(c));
            if fits.is_none_or(|(set, bit)| set & bit == 0) {
                return false;
            }
            places += 1;
        }
        places == PLACES
    }

    /// How much a pattern says, in bits: 0 fits every number; the larger, the closer the fit.
    #[must_use]
    pub fn specificity(&self) -> f64 {
        let bits = |set: &u64| (33.0 / f64::from(set.count_ones())).log2();
        self.0.iter().map(bits).sum()
    }
}

impl FromStr for Pattern {
    type Err = PatternError;

    fn from_str(text: &str) -> Result<Self, PatternError> {
        if text.len() > MAX_PATTERN {
            return Err(PatternError::TooLong);
        }
        let mut characters = text.chars().filter(|c| !c.is_whitespace());
        let mut places = Vec::new();
        while let Some(c) = characters.next() {
            let place = places.len() + 1;
            match c {
                '*' => {
                    if characters.next().is_some() {
                        return Err(PatternError::BehindStar);
                    }
                    places.resize(places.len().max(PLACES), ANY);
                }
                '?' => places.push(ANY),
                '[' => places.push(set(&mut characters, place)?),
                c => places.push(bit(c).ok_or(PatternError::Character(c, place))?),
            }
        }
        let length = places.len();
        places
            .try_into()
            .map(Self)
            .map_err(|_| PatternError::Length(length))
    }
}

/// The characters up to `]`, with ranges.
fn set(characters: &mut impl Iterator<Item = char>, place: usize) -> Result<u64, PatternError> {
    let wrong = PatternError::Set(place);
    let (mut found, mut last, mut range) = (0_u64, None, false);
    for c in characters {
        if c == ']' {
            let sound = found != 0 && !range;
            return sound.then_some(found).ok_or(wrong);
        }
        if c == '-' && !range && last.is_some() {
            range = true;
            continue;
        }
        let one = bit(c).ok_or(PatternError::Character(c, place))?;
        match last.take() {
            Some((from, letter)) if range => {
                // From a digit to a letter is no range that anybody means.
                if one < from || letter != c.is_ascii_alphabetic() {
                    return Err(wrong);
                }
                found |= (one | (one - 1)) & !(from - 1);
                range = false;
            }
            _ => last = Some((one, c.is_ascii_alphabetic())),
        }
        found |= one;
    }
    Err(wrong)
}

impl fmt::Display for Pattern {
    /// The one way to write it.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let open = self.0.iter().rev().take_while(|set| **set == ANY).count();
        let written = if open > 1 { PLACES - open } else { PLACES };
        for set in &self.0[..written] {
            put(f, *set)?;
        }
        if written < PLACES {
            f.write_str("*")?;
        }
        Ok(())
    }
}

fn put(f: &mut fmt::Formatter<'_>, set: u64) -> fmt::Result {
    if set == ANY {
        return f.write_str("?");
    }
    let there = |at: usize| at < ALPHABET.len() && set & (1 << at) != 0;
    let letter = |at: usize| char::from(ALPHABET[at]);
    if set.count_ones() == 1 {
        return write!(f, "{}", letter(set.trailing_zeros() as usize));
    }
    f.write_str("[")?;
    let mut at = 0;
    while at < ALPHABET.len() {
        if !there(at) {
            at += 1;
            continue;
        }
        let mut end = at;
        // Digits are the first ten.
        while there(end + 1) && end + 1 != 10 {
            end += 1;
        }
        if end - at >= 2 {
            write!(f, "{}-{}", letter(at), letter(end))?;
        } else {
            for one in at..=end {
                write!(f, "{}", letter(one))?;
            }
        }
        at = end + 1;
    }
    f.write_str("]")
}

impl TryFrom<String> for Pattern {
    type Error = PatternError;

    fn try_from(text: String) -> Result<Self, PatternError> {
        text.parse()
    }
}

impl From<Pattern> for String {
    fn from(pattern: Pattern) -> Self {
        pattern.to_string()
    }
}

/// Codes of the model year in their order from 1980 (49 CFR 565.15, table VII, from memory): I, O, Q,
/// U, Z and 0 are not used, so they begin again after 30 years.
const YEARS: &[u8; 30] = b"ABCDEFGHJKLMNPRSTVWXY123456789";

/// Model year by place 10 of a whole number: the likely one, and the other of the 30-year cycle.
///
/// For passenger cars and light trucks a digit in place 7 says 1980 to 2009, a letter 2010 to 2039
/// (49 CFR 565.15 (c), from memory). Outside North America place 10 need not be the year, and heavy
/// vehicles do not keep the rule of place 7: both are only likely.
#[must_use]
pub fn model_year(vin: &str) -> Option<(u16, u16)> {
    let characters: Vec<char> = vin.trim().chars().collect();
    if characters.len() != PLACES || characters.iter().any(|c| bit(*c).is_none()) {
        return None;
    }
    let code = characters[9].to_ascii_uppercase();
    let at = YEARS.iter().position(|known| char::from(*known) == code)?;
    let early = 1980 + u16::try_from(at).ok()?;
    let (early, late) = (early, early + 30);
    Some(if characters[6].is_ascii_digit() {
        (early, late)
    } else {
        (late, early)
    })
}
