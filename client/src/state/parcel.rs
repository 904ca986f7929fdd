//! Everything that only this phone has, as one file: no server is needed to write it, and no program
//! of ours to read it.
//!
//! JSON. Documents are Automerge's own binary form in base64 (RFC 4648); what a person meant stands
//! beside them in words. This file refuses to know the store.

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use serde::Serialize;

use super::held::meant::Meant;
use super::held::recovery::Story;

/// The file.
#[derive(Debug, Serialize)]
pub struct Parcel {
    /// Always `baybook-not-shared`.
    pub format: &'static str,
    /// Version of this form.
    pub version: u32,
    /// RFC 3339 time.
    pub at: String,
    /// The phone, as the server knows it.
    pub device: String,
    /// Books with something that only this phone has.
    pub books: Vec<BookParcel>,
}

/// One book.
#[derive(Debug, Serialize)]
pub struct BookParcel {
    /// Document id.
    pub id: String,
    /// Number of the job.
    pub number: String,
    /// The vehicle.
    pub vehicle: String,
    /// Changes that the server has not confirmed.
    pub unshared: usize,
    /// What was meant and the server has not confirmed, with who and when.
    pub meant: Vec<Meant>,
    /// The whole book.
    pub document: Bytes,
    /// Replicas that the server refused, and what could not be done again.
    pub kept: Vec<KeptParcel>,
    /// Stored bytes that could not be read.
    pub damaged: Vec<DamagedParcel>,
}

/// A refused replica.
#[derive(Debug, Serialize)]
pub struct KeptParcel {
    /// What became of it.
    pub story: Story,
    /// The refused document; empty when none was refused.
    pub document: Bytes,
}

/// Something that could not be read.
#[derive(Debug, Serialize)]
pub struct DamagedParcel {
    /// Its name in the book.
    pub name: String,
    /// As it was found.
    pub bytes: Bytes,
}

/// Bytes, written as base64.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Bytes(pub Vec<u8>);

impl Serialize for Bytes {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(&STANDARD.encode(&self.0))
    }
}

impl Parcel {
    /// An empty parcel.
    #[must_use]
    pub fn new(at: &str, device: &str) -> Self {
        Self {
            format: "baybook-not-shared",
            version: 1,
            at: at.to_owned(),
            device: device.to_owned(),
            books: Vec::new(),
        }
    }

    /// As a file.
    #[must_use]
    pub fn to_bytes(&self) -> Vec<u8> {
        // Plain data always has a JSON form.
        serde_json::to_vec(self).unwrap_or_default()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_form_is_plain_json() {
        let mut parcel = Parcel::new("2027-01-15T08:00:00Z", "d1");
        parcel.books.push(BookParcel {
            id: "b1".into(),
            number: "4711".into(),
            vehicle: "invented".into(),
            unshared: 1,
            meant: Vec::new(),
            document: Bytes(vec![0x85, 0x6f, 0x4a, 0x83]),
            kept: Vec::new(),
            damaged: Vec::new(),
        });
        let json: serde_json::Value = serde_json::from_slice(&parcel.to_bytes()).unwrap();
        assert_eq!(json["format"], "baybook-not-shared");
        assert_eq!(json["books"][0]["document"], "hW9Kgw==");
    }
}
