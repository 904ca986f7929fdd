//! Ed25519 keys and signatures (RFC 8032), written in base64.
//!
//! A key comes from a given seed of 32 bytes: this file refuses to know randomness. Verification is
//! strict: one signature per key and message, and no key of small order, so that nobody can present
//! the same statement under another signature or sign for everybody at once.

use std::fmt;
use std::str::FromStr;

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use ed25519_dalek::{Signer as _, SigningKey, VerifyingKey};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::TextError;

/// The secret half of a key: the 32-byte seed of RFC 8032. It is never written down by this module
/// and is wiped from memory when dropped.
pub struct Seed(SigningKey);

impl Seed {
    /// The key of a seed that the caller has drawn at random.
    #[must_use]
    pub fn new(seed: &[u8; 32]) -> Self {
        Self(SigningKey::from_bytes(seed))
    }

    /// The half that is shown to everybody.
    #[must_use]
    pub fn public(&self) -> PublicKey {
        PublicKey(self.0.verifying_key())
    }

    /// Signs a message.
    #[must_use]
    pub fn sign(&self, message: &[u8]) -> Signature {
        Signature(self.0.sign(message).to_bytes())
    }
}

impl fmt::Debug for Seed {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Seed(…)")
    }
}

/// The public half of a key.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(try_from = "String", into = "String")]
pub struct PublicKey(VerifyingKey);

impl PublicKey {
    /// A key from its 32 bytes.
    ///
    /// # Errors
    /// [`TextError::PublicKey`] when they are no point of the curve, one of small order, or written
    /// otherwise than RFC 8032 writes it.
    pub fn from_bytes(bytes: &[u8; 32]) -> Result<Self, TextError> {
        let key = VerifyingKey::from_bytes(bytes).map_err(|_| TextError::PublicKey)?;
        let canonical = key.to_edwards().compress().to_bytes() == *bytes;
        if key.is_weak() || !canonical {
            return Err(TextError::PublicKey);
        }
        Ok(Self(key))
    }

    /// Its 32 bytes.
    #[must_use]
    pub fn as_bytes(&self) -> &[u8; 32] {
        self.0.as_bytes()
    }

    /// Is this the signature of this message by this key?
    #[must_use]
    pub fn verifies(&self, message: &[u8], signature: &Signature) -> bool {
        let signature = ed25519_dalek::Signature::from_bytes(&signature.0);
        self.0.verify_strict(message, &signature).is_ok()
    }
}

impl fmt::Display for PublicKey {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&STANDARD.encode(self.as_bytes()))
    }
}

impl fmt::Debug for PublicKey {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "PublicKey({self})")
    }
}

impl FromStr for PublicKey {
    type Err = TextError;

    fn from_str(text: &str) -> Result<Self, TextError> {
        let bytes = decode(text).ok_or(TextError::PublicKey)?;
        Self::from_bytes(&bytes)
    }
}

impl TryFrom<String> for PublicKey {
    type Error = TextError;

    fn try_from(text: String) -> Result<Self, TextError> {
        text.parse()
    }
}

impl From<PublicKey> for String {
    fn from(key: PublicKey) -> Self {
        key.to_string()
    }
}

/// A signature.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Signature(pub [u8; 64]);

impl fmt::Display for Signature {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&STANDARD.encode(self.0))
    }
}

impl fmt::Debug for Signature {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Signature({self})")
    }
}

impl FromStr for Signature {
    type Err = TextError;

    fn from_str(text: &str) -> Result<Self, TextError> {
        decode(text).map(Self).ok_or(TextError::Signature)
    }
}

impl TryFrom<String> for Signature {
    type Error = TextError;

    fn try_from(text: String) -> Result<Self, TextError> {
        text.parse()
    }
}

impl From<Signature> for String {
    fn from(signature: Signature) -> Self {
        signature.to_string()
    }
}

fn decode<const N: usize>(text: &str) -> Option<[u8; N]> {
    STANDARD.decode(text).ok()?.try_into().ok()
}
