//! Sign-off and proof: what was said, by whom, over exactly which content, for anybody to check.
//!
//! - [`tree`] is the append-only Merkle tree of a shop's log (RFC 9162), [`leaf`] what one entry
//!   says, [`checkpoint`] the signed head of the tree in the open C2SP form ([`note`]).
//! - [`statement`] is a sign-off: the claims about one stage, signed with the key of a device.
//! - [`roster`] knows from the log who could sign with which key, and when.
//! - [`bundle`] is the file that leaves the shop, and its verification, which needs no server.
//!
//! Everything that is signed or hashed is canonical text ([`canonical`]): whole numbers only, one
//! way to write each value. This module refuses to know clocks, randomness, storage and document
//! engines: times, seeds and the replay of a book are arguments.

mod digest;
mod keys;
pub mod canonical;
pub mod tree;
pub mod note;
pub mod checkpoint;
pub mod leaf;
pub mod page;
mod grid;
pub mod statement;
pub mod roster;
pub mod bundle;

pub use digest::{Digest, read_code};
pub use keys::{PublicKey, Seed, Signature};

/// A text that is no digest, key or signature.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum TextError {
    /// Not 64 lower-case hexadecimal digits.
    #[error("a digest is 64 digits of 0-9 and a-f")]
    Digest,
    /// Not the base64 of an Ed25519 public key.
    #[error("a public key is the base64 of the 32 bytes of an Ed25519 key")]
    PublicKey,
    /// Not the base64 of an Ed25519 signature.
    #[error("a signature is the base64 of the 64 bytes of an Ed25519 signature")]
    Signature,
}

#[cfg(test)]
mod tests;
