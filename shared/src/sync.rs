//! Sharing a book between phones and the server that keeps it.
//!
//! - [`frame`] is the open automerge-repo WebSocket protocol, version 1; [`document_id`] writes ids
//!   as it does. A frame of kind `sync` or `request` carries one sync message of one document.
//! - [`gate`] decides whether a message of a peer may become part of a book. It is the only way in.
//! - [`conversation`] is both ends of one book's talk: [`conversation::Host`] for the end that keeps
//!   the record, [`conversation::Guest`] for a phone.
//! - [`replay`] verifies a shop's exported log with the document engine and the solver.
//!
//! Everything is event in, value out: no sockets, disks, clocks or threads. A server's step is
//!
//! ```
//! use shared::book;
//! use shared::sync::conversation::{Guest, Host};
//! use shared::sync::gate::{Role, weigh};
//!
//! let ana = book::ActorId::from(&[1; 16][..]);
//! let mut phone = book::start().with_actor(ana.clone());
//! let (mut guest, mut host) = (Guest::default(), Host::new(book::start()));
//! host.join(7, Role::Write);
//!
//! # let stamp = book::Stamp { by: "Ana".into(), at: "2026-03-02T09:14:00Z".into(), at_ms: 0, record: "r1".into() };
//! # let note = book::Intention::WriteNote { id: "n1".into(), text: "dented".into() };
//! book::edit::apply(&mut phone, &stamp, &note)?;
//! while guest.unshared(&phone) > 0 {
//!     let saved = phone.get_heads(); // after the phone's own disk has them
//!     if let Some(message) = guest.next_message(&phone, &saved) {
//!         let question = host.question(7, message).expect("peer 7 has joined");
//!         let admitted = weigh(question, |actor| *actor == ana)?;
//!         // Here `admitted.changes` go to disk, in one transaction. Then:
//!         host.commit(7, admitted);
//!     }
//!     if let Some(answer) = host.next_message(7) {
//!         guest.receive(&mut phone, &answer)?;
//!     }
//! }
//! assert_eq!(host.doc().get_heads(), phone.get_heads());
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! What the gate refuses is for the caller to keep aside and to answer; the peer then goes back to
//! what is shared and means its intentions again under a new actor.

pub mod frame;
pub mod gate;
pub mod conversation;
pub mod replay;

use sha2::{Digest as _, Sha256};

/// Bytes of the checksum at the end of a document id.
const CHECK: usize = 4;

/// A document id of 16 bytes as text: Base58Check without a version byte, as the automerge-repo
/// protocol writes them.
#[must_use]
pub fn document_id(bytes: [u8; 16]) -> String {
    let mut checked = bytes.to_vec();
    checked.extend(check(&bytes));
    bs58::encode(checked).into_string()
}

/// Is this text a document id?
#[must_use]
pub fn is_document_id(text: &str) -> bool {
    let is_checked = |bytes: Vec<u8>| {
        let parts = bytes.split_at_checked(16);
        parts.is_some_and(|(id, sum)| *sum == check(id))
    };
    text.len() <= 40 && bs58::decode(text).into_vec().is_ok_and(is_checked)
}

/// The first bytes of SHA-256 twice. (The same in `bs58` brings an older `sha2` into the phone.)
fn check(bytes: &[u8]) -> [u8; CHECK] {
    let twice = Sha256::digest(Sha256::digest(bytes));
    std::array::from_fn(|place| twice[place])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ids_are_checked() {
        let id = document_id([7; 16]);
        assert!(is_document_id(&id));
        assert!(!is_document_id(&id[1..]));
        assert!(!is_document_id(""));
        assert!(!is_document_id(&"1".repeat(5000)));
        assert!(!is_document_id(&format!("{id}{}", "1".repeat(40))));
    }

    /// Against the library's own.
    #[test]
    fn the_checksum_is_that_of_base58check() {
        for bytes in [[0; 16], [7; 16], [255; 16], *b"0123456789abcdef"] {
            let own = document_id(bytes);
            assert_eq!(own, bs58::encode(bytes).with_check().into_string());
            let back = bs58::decode(&own).with_check(None).into_vec().unwrap();
            assert_eq!(back, bytes);
            let mut wrong = own.into_bytes();
            let last = wrong.len() - 1;
            wrong[last] = if wrong[last] == b'2' { b'3' } else { b'2' };
            assert!(!is_document_id(&String::from_utf8(wrong).unwrap()));
        }
    }
}
