//! Random secrets of links, refresh tokens and tickets: 256 bits, stored only as SHA-256.

use std::fmt;

use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use sha2::{Digest, Sha256};

/// A secret in the clear; shown once, never logged.
pub struct Secret(String);

impl Secret {
    /// A fresh secret.
    #[must_use]
    pub fn random() -> Self {
        Self(URL_SAFE_NO_PAD.encode(rand::random::<[u8; 32]>()))
    }

    /// The text to hand over.
    #[must_use]
    pub fn reveal(&self) -> String {
        self.0.clone()
    }

    /// What is stored.
    #[must_use]
    pub fn hash(&self) -> Vec<u8> {
        hash(&self.0)
    }
}

impl fmt::Debug for Secret {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Secret(…)")
    }
}

/// What is stored of a secret that somebody presents.
#[must_use]
pub fn hash(secret: &str) -> Vec<u8> {
    Sha256::digest(secret.as_bytes()).to_vec()
}
