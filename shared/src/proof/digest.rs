//! SHA-256 (FIPS 180-4), written as 64 lower-case hexadecimal digits.

use std::fmt::{self, Write as _};
use std::str::FromStr;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use sha2::{Digest as _, Sha256};

use super::TextError;

/// A SHA-256 digest.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(try_from = "String", into = "String")]
#[schemars(extend("pattern" = "^[0-9a-f]{64}$"))]
pub struct Digest(pub [u8; 32]);

impl Digest {
    /// The digest of some bytes.
    #[must_use]
    pub fn of(bytes: &[u8]) -> Self {
        Self(Sha256::digest(bytes).into())
    }

    /// The digest of several pieces, one after the other.
    #[must_use]
    pub fn of_all(pieces: &[&[u8]]) -> Self {
        let mut hasher = Sha256::new();
        for piece in pieces {
            hasher.update(piece);
        }
        Self(hasher.finalize().into())
    }
}

impl Digest {
    /// A short code to read out over the phone: the first 60 bits, in the letters and digits of
    /// Crockford's base 32 (no I, L, O, U), in three groups: `K7QM-29XT-RD4H`.
    #[must_use]
    pub fn code(&self) -> String {
        const LETTERS: &[u8; 32] = b"0123456789ABCDEFGHJKMNPQRSTVWXYZ";
        let head = self.0[..8]
            .iter()
            .fold(0_u64, |sum, byte| sum << 8 | u64::from(*byte));
        let mut code = String::new();
        for place in 0..12 {
            if place > 0 && place % 4 == 0 {
                code.push('-');
            }
            let five = head >> (59 - 5 * place) & 31;
            code.push(char::from(LETTERS[five as usize]));
        }
        code
    }
}

/// A code as somebody types it, in the one way it is printed: small letters, spaces and missing
/// dashes are read, O as 0, I and L as 1 (Crockford's rule); `None` when it is no code.
#[must_use]
pub fn read_code(text: &str) -> Option<String> {
    let mut code = String::new();
    let mut places = 0;
    for c in text.chars().filter(|c| !c.is_whitespace() && *c != '-') {
        let c = match c.to_ascii_uppercase() {
            'O' => '0',
            'I' | 'L' => '1',
            'U' => return None,
            c if c.is_ascii_alphanumeric() => c,
            _ => return None,
        };
        if places > 0 && places % 4 == 0 {
            code.push('-');
        }
        code.push(c);
        places += 1;
    }
    (places == 12).then_some(code)
}

impl fmt::Display for Digest {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.iter().try_for_each(|byte| write!(f, "{byte:02x}"))
    }
}

impl fmt::Debug for Digest {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Digest({self})")
    }
}

impl FromStr for Digest {
    type Err = TextError;

    fn from_str(text: &str) -> Result<Self, TextError> {
        let digits = text.as_bytes();
        if digits.len() != 64 {
            return Err(TextError::Digest);
        }
        let mut bytes = [0; 32];
        for (byte, pair) in bytes.iter_mut().zip(digits.chunks_exact(2)) {
            *byte = 16 * value(pair[0])? + value(pair[1])?;
        }
        Ok(Self(bytes))
    }
}

fn value(digit: u8) -> Result<u8, TextError> {
    match digit {
        b'0'..=b'9' => Ok(digit - b'0'),
        b'a'..=b'f' => Ok(digit - b'a' + 10),
        _ => Err(TextError::Digest),
    }
}

impl TryFrom<String> for Digest {
    type Error = TextError;

    fn try_from(text: String) -> Result<Self, TextError> {
        text.parse()
    }
}

impl From<Digest> for String {
    fn from(digest: Digest) -> Self {
        let mut text = Self::with_capacity(64);
        // Writing into a text cannot fail.
        let _ = write!(text, "{digest}");
        text
    }
}
