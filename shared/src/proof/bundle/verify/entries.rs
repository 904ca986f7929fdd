//! The key, the signed head, and every entry by itself.

use super::{Checked, origin};
use crate::proof::bundle::{Bundle, Fault, FaultKind, Place};
use crate::proof::checkpoint::Checkpoint;
use crate::proof::leaf::{self, Leaf};
use crate::proof::note::{NoteError, NoteKey};
use crate::proof::{Digest, tree};

/// Line of the key.
const KEY: usize = 2;
/// Line of the signed head.
const HEAD: usize = 3;

/// An entry and where it stands.
pub(super) struct Entry {
    pub(super) leaf: Leaf,
    pub(super) index: usize,
    line: usize,
}

impl Entry {
    /// A fault of a field of the entry.
    pub(super) fn fault(
        &self,
        kind: FaultKind,
        field: &str,
        expected: impl ToString,
        found: impl ToString,
    ) -> Box<Fault> {
        let job = match self.leaf.subject() {
            leaf::Subject::Job(job) => Some(job.clone()),
            _ => None,
        };
        let place = Place {
            leaf: Some(self.index as u64),
            job,
            ..Place::line(self.line, field)
        };
        Fault::new(kind, place, expected, found)
    }
}

/// The head, opened with the log's key.
pub(super) fn head(bundle: &Bundle) -> Checked<Checkpoint> {
    let key: NoteKey = bundle.key.parse().map_err(|error: NoteError| {
        Fault::new(FaultKind::Key, Place::line(KEY, "key"), error, &bundle.key)
    })?;
    let name = origin(&bundle.shop);
    if key.name() != name {
        let place = Place::line(KEY, "key");
        return Err(Fault::new(FaultKind::Key, place, name, key.name()));
    }
    Checkpoint::open(&bundle.checkpoint, &key).map_err(|error| {
        let signed = format!("a head signed by {key}");
        Fault::new(
            FaultKind::Checkpoint,
            Place::line(HEAD, "note"),
            signed,
            error,
        )
    })
}

/// Every entry by itself: its hash, its form, its number.
pub(super) fn each(bundle: &Bundle) -> Checked<Vec<Entry>> {
    let mut entries = Vec::with_capacity(bundle.leaves.len());
    for (index, kept) in bundle.leaves.iter().enumerate() {
        let line = bundle.leaf_line(index);
        let place = |field: &str| Place {
            leaf: Some(index as u64),
            ..Place::line(line, field)
        };
        let hash = leaf::hash(kept.text.as_bytes());
        if hash != kept.hash {
            return Err(Fault::new(FaultKind::Leaf, place("hash"), hash, kept.hash));
        }
        let leaf = Leaf::parse(kept.text.as_bytes())
            .map_err(|error| Fault::new(FaultKind::Leaf, place("text"), "an entry", error))?;
        if leaf.index != index as u64 {
            return Err(Fault::new(
                FaultKind::Leaf,
                place("index"),
                index,
                leaf.index,
            ));
        }
        entries.push(Entry { leaf, index, line });
    }
    Ok(entries)
}

/// The root over the entries, if it is the one that was signed.
pub(super) fn root(bundle: &Bundle, head: &Checkpoint) -> Checked<Digest> {
    let mut frontier = tree::Frontier::default();
    for kept in &bundle.leaves {
        frontier.push(&kept.hash);
    }
    let place = |field: &str| Place::line(HEAD, field);
    let found = frontier.head();
    if found.size != head.size {
        return Err(Fault::new(
            FaultKind::Root,
            place("size"),
            head.size,
            found.size,
        ));
    }
    if found.root != head.root {
        return Err(Fault::new(
            FaultKind::Root,
            place("root"),
            head.root,
            found.root,
        ));
    }
    Ok(found.root)
}
