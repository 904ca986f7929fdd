//! The first change of a book is nobody's, so anybody may bring it; it may hold nothing of anybody.

use automerge::{Automerge, Change, ObjType, ROOT, ReadDoc, Value};

/// Actor of a book's first change.
const NOBODY: [u8; 16] = [0; 16];

/// Does it claim to be nobody's?
pub(super) fn is_nobodys(change: &Change) -> bool {
    change.actor_id().to_bytes() == NOBODY
}

/// Is it the first change of a book of any version: a version number and empty maps, at time 0?
pub(super) fn is_a_beginning(change: &Change) -> bool {
    let stands_first = change.seq() == 1
        && change.timestamp() == 0
        && change.deps().is_empty()
        && change.message().is_none();
    let mut doc = Automerge::new();
    if !stands_first || doc.apply_changes([change.clone()]).is_err() {
        return false;
    }
    let mut operations = 0;
    let empty = doc.map_range(ROOT, ..).all(|item| {
        operations += 1;
        match item.value.clone().into_value() {
            Value::Object(ObjType::Map) => doc.length(item.id()) == 0,
            Value::Scalar(value) => item.key == "schema" && value.is_int(),
            Value::Object(_) => false,
        }
    });
    empty && operations == change.len()
}
