//! Words that phones and servers exchange about books.
//!
//! [`frame`] is the open automerge-repo WebSocket protocol, version 1; [`document_id`] writes ids as
//! it does. This module refuses to know sockets.

pub mod frame;
pub mod gate;

/// A document id of 16 bytes as text: base58 with a checksum.
#[must_use]
pub fn document_id(bytes: [u8; 16]) -> String {
    bs58::encode(bytes).with_check().into_string()
}

/// Is this text a document id?
#[must_use]
pub fn is_document_id(text: &str) -> bool {
    text.len() <= 40
        && bs58::decode(text)
            .with_check(None)
            .into_vec()
            .is_ok_and(|bytes| bytes.len() == 16)
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
    }
}
