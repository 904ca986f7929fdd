//! What a person meant, kept until the server has confirmed it: enough to do it once more.

use automerge::{Automerge, ChangeHash};
use serde::{Deserialize, Serialize};
use shared::book::{Intention, Stamp};

/// One intention, who had it and when, and the change that it became.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Meant {
    /// Hash of the change, hexadecimal.
    pub change: String,
    /// Who and when; the record's name makes doing it twice impossible.
    pub stamp: Stamp,
    /// The intention.
    pub intention: Intention,
}

impl Meant {
    /// Hash of the change.
    #[must_use]
    pub(super) fn hash(&self) -> Option<ChangeHash> {
        self.change.parse().ok()
    }

    /// Does the document have it?
    #[must_use]
    pub(super) fn is_in(&self, doc: &Automerge) -> bool {
        self.hash()
            .is_some_and(|hash| doc.get_change_meta_by_hash(&hash).is_some())
    }
}
