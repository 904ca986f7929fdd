//! Many stored changes become a snapshot, and nothing is removed that is not on disk twice more.
//!
//! A new snapshot is written beside everything else and read back. Only then goes what the snapshot
//! *before* it has: so each change is in the new snapshot and either in the one before or by itself,
//! and damage to any one of them loses nothing.

use automerge::{Automerge, ChangeHash, ReadDoc};

use super::{Held, chunk};
use crate::store::Entry;
use crate::store::names::Kind;

/// Changes since the last snapshot that are worth a new one.
const MANY_CHANGES: usize = 200;

impl Held {
    /// A snapshot that has been loaded again, when there is enough new to be worth one.
    #[must_use]
    pub fn worthy_snapshot(&self) -> Option<Vec<u8>> {
        let news = self.doc.get_changes_meta(&self.snapshot).len();
        let complete = self.is_saved() && self.doc.get_missing_deps(&[]).is_empty();
        if news < MANY_CHANGES || !complete || self.fetch.is_some() {
            return None;
        }
        let bytes = self.doc.save();
        let again = Automerge::load(&bytes).ok()?;
        (again.get_heads() == self.doc.get_heads()).then_some(bytes)
    }

    /// The snapshot of this name is on disk.
    pub fn snapshot_written(&mut self, name: String, bytes: &[u8]) {
        if let Ok(doc) = Automerge::load(bytes) {
            self.snapshot = doc.get_heads();
            self.known.insert(name);
        }
    }
}

/// Of what was read from disk, the names that are not needed beside the snapshot `newest`; none
/// when that is not there as it was written.
#[must_use]
pub fn superfluous(entries: &[Entry], newest: &str, written: &[u8]) -> Vec<String> {
    let is_newest = |entry: &Entry| entry.name == newest;
    let stands = entries
        .iter()
        .any(|e| is_newest(e) && e.whole && e.bytes == written);
    let snapshots = entries
        .iter()
        .filter(|e| e.whole && Kind::Snapshot.has(&e.name));
    let mut before = snapshots.rev().filter(|e| !is_newest(e));
    let before = before.find_map(|e| Some((&e.name, Automerge::load(&e.bytes).ok()?)));
    let Some((kept, before)) = before.filter(|_| stands) else {
        return Vec::new();
    };
    let has = |hash: ChangeHash| before.get_change_meta_by_hash(&hash).is_some();
    let is_in_it = |entry: &&Entry| {
        if !entry.whole || is_newest(entry) || entry.name == *kept {
            return false;
        }
        if Kind::Change.has(&entry.name) {
            return chunk::read(&entry.bytes).is_some_and(|all| all.iter().all(|c| has(c.hash())));
        }
        let snapshot = Kind::Snapshot
            .has(&entry.name)
            .then(|| Automerge::load(&entry.bytes));
        snapshot.is_some_and(|doc| doc.is_ok_and(|doc| doc.get_heads().into_iter().all(has)))
    };
    entries
        .iter()
        .filter(is_in_it)
        .map(|entry| entry.name.clone())
        .collect()
}
