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
