//! Changes that came before the ones they build on: a bounded list per peer.

use std::collections::HashSet;

use automerge::{Automerge, Change, ChangeHash};

use super::{Refusal, knows};

/// Changes that may wait.
const MAX_CHANGES: usize = 1_000;
/// Bytes that may wait.
const MAX_BYTES: usize = 8 * 1024 * 1024;

/// Changes of one peer that wait for others.
#[derive(Debug, Clone, Default)]
pub struct Waiting(Vec<Change>);

impl Waiting {
    /// How many wait.
    #[must_use]
    pub fn len(&self) -> usize {
        self.0.len()
    }

    /// Does none wait?
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    pub(super) fn has(&self, hash: &ChangeHash) -> bool {
        self.0.iter().any(|change| change.hash() == *hash)
    }

    /// With what has just come: those whose dependencies are all here, in an order that can be
    /// applied, and those that still wait.
    pub(super) fn sort(
        self,
        doc: &Automerge,
        fresh: Vec<Change>,
    ) -> Result<(Vec<Change>, Self), Refusal> {
        let mut here = HashSet::new();
        let mut ready = Vec::new();
        let mut waiting = self.0;
        waiting.extend(fresh);
        loop {
            let before = ready.len();
            let mut still = Vec::new();
            for change in waiting {
                if here.contains(&change.hash()) || knows(doc, &change.hash()) {
                    continue;
                }
                let deps = change.deps();
                if deps.iter().all(|dep| here.contains(dep) || knows(doc, dep)) {
                    here.insert(change.hash());
                    ready.push(change);
                } else {
                    still.push(change);
                }
            }
            waiting = still;
            if ready.len() == before {
                break;
            }
        }
        let bytes: usize = waiting.iter().map(|change| change.raw_bytes().len()).sum();
        if waiting.len() > MAX_CHANGES || bytes > MAX_BYTES {
            return Err(Refusal::TooManyWaiting);
        }
        Ok((ready, Self(waiting)))
    }
}
