//! What came into a book since somebody had it in front of them.

use automerge::{Automerge, ChangeHash, ROOT, ReadDoc};

/// What came since.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Since {
    /// New readings.
    pub readings: usize,
    /// Entries of any kind, the readings included.
    pub entries: usize,
}

/// What a book has that it did not have at these heads; `None` when it does not have the heads
/// themselves, so that nobody takes an older copy for an unchanged one.
#[must_use]
pub fn since(doc: &Automerge, heads: &[ChangeHash]) -> Option<Since> {
    let here = |hash: &ChangeHash| doc.get_change_meta_by_hash(hash).is_some();
    if heads.is_empty() || !heads.iter().all(here) {
        return None;
    }
    let readings = doc.get(ROOT, "readings").ok()?.map(|(_, id)| id);
    let count = readings.map_or(0, |id| {
        // Readings are never taken out.
        doc.length(&id).saturating_sub(doc.length_at(&id, heads))
    });
    Some(Since {
        readings: count,
        entries: doc.get_changes_meta(heads).len(),
    })
}
