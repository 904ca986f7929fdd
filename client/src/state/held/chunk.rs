//! Changes of a book as stored bytes: whole chunks, one after the other.

use automerge::Change;

const MAGIC: [u8; 4] = [0x85, 0x6f, 0x4a, 0x83];
/// Magic, checksum and type.
const HEAD: usize = 9;

/// The changes as bytes.
#[must_use]
pub(super) fn write(changes: &[Change]) -> Vec<u8> {
    changes
        .iter()
        .flat_map(|change| change.raw_bytes().iter().copied())
        .collect()
}

/// The changes in these bytes; `None` when any of them is cut off or cannot be read.
#[must_use]
pub(super) fn read(mut bytes: &[u8]) -> Option<Vec<Change>> {
    let mut changes = Vec::new();
    while !bytes.is_empty() {
        let (chunk, rest) = bytes.split_at_checked(length(bytes)?)?;
        changes.push(Change::try_from(chunk).ok()?);
        bytes = rest;
    }
    Some(changes)
}

/// Length of the first chunk: four magic bytes, four of a checksum, a type, the length of the data
/// in LEB128, the data (Automerge binary format, 'chunks').
fn length(bytes: &[u8]) -> Option<usize> {
    if !bytes.starts_with(&MAGIC) {
        return None;
    }
    let (mut data, mut shift, mut at) = (0_usize, 0, HEAD);
    loop {
        let byte = *bytes.get(at).filter(|_| shift < 28)?;
        data |= usize::from(byte & 0x7f) << shift;
        (shift, at) = (shift + 7, at + 1);
        if byte & 0x80 == 0 {
            return Some(at + data);
        }
    }
}
