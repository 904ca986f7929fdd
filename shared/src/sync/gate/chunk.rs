//! A chunk of the Automerge binary format from outside: kind, length, checksum.
//!
//! Source: the format's published specification, section 'chunk container'. What is in the chunk
//! is for `claims`.

use automerge::ChangeHash;
use sha2::{Digest, Sha256};

use super::Refusal;
use super::bytes::Input;

const MAGIC: [u8; 4] = [0x85, 0x6f, 0x4a, 0x83];
const PLAIN_CHANGE: u8 = 1;

/// A plain change, whole and as it was sent: its hash and its contents.
///
/// Packed changes and whole documents can claim any size and are refused by kind; two chunks in
/// one are refused by length.
pub(super) fn open(chunk: &[u8]) -> Result<(ChangeHash, &[u8]), Refusal> {
    let mut input = Input(chunk);
    if input.take(4) != Some(&MAGIC) {
        return Err(Refusal::NotPlain);
    }
    let checksum = input.take(4).ok_or(Refusal::Unreadable)?;
    let hashed = input.0;
    if input.byte() != Some(PLAIN_CHANGE) {
        return Err(Refusal::NotPlain);
    }
    let contents = input.prefixed().ok_or(Refusal::Unreadable)?;
    if !input.0.is_empty() {
        return Err(Refusal::NotPlain);
    }
    let hash: [u8; 32] = Sha256::digest(hashed).into();
    if hash[..4] != *checksum {
        return Err(Refusal::Checksum);
    }
    Ok((ChangeHash(hash), contents))
}
