//! Changes that came before the ones they build on: a bounded list per peer.

use std::collections::{BTreeSet, HashMap, HashSet, VecDeque};

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

    pub(in crate::sync) fn has(&self, hash: &ChangeHash) -> bool {
        self.0.iter().any(|change| change.hash() == *hash)
    }

    /// What they build on and is neither here nor among them, in an order of its own.
    #[must_use]
    pub fn lacks(&self, doc: &Automerge) -> BTreeSet<ChangeHash> {
        let here: HashSet<ChangeHash> = self.0.iter().map(Change::hash).collect();
        let deps = self.0.iter().flat_map(Change::deps).copied();
        deps.filter(|dep| !here.contains(dep) && !knows(doc, dep))
            .collect()
    }

    /// With what has just come: those whose dependencies are all here, in an order that can be
    /// applied, and those that still wait.
    pub(super) fn sort(
        self,
        doc: &Automerge,
        fresh: Vec<Change>,
    ) -> Result<(Vec<Change>, Self), Refusal> {
        let mut all: Vec<Option<Change>> = Vec::new();
        let mut seen = HashSet::new();
        for change in self.0.into_iter().chain(fresh) {
            let hash = change.hash();
            if !knows(doc, &hash) && seen.insert(hash) {
                all.push(Some(change));
            }
        }
        // How many dependencies each one lacks, and who waits for what: each is looked at once,
        // because a hundred thousand may come in the worst order.
        let mut lacks = vec![0_usize; all.len()];
        let mut waits_for: HashMap<ChangeHash, Vec<usize>> = HashMap::new();
        for (index, change) in all.iter().enumerate() {
            for dep in change.iter().flat_map(Change::deps) {
                if !knows(doc, dep) {
                    lacks[index] += 1;
                    waits_for.entry(*dep).or_default().push(index);
                }
            }
        }
        let mut next: VecDeque<usize> = (0..all.len()).filter(|index| lacks[*index] == 0).collect();
        let mut ready = Vec::new();
        while let Some(index) = next.pop_front() {
            let Some(change) = all[index].take() else {
                continue;
            };
            for waiter in waits_for.remove(&change.hash()).unwrap_or_default() {
                lacks[waiter] -= 1;
                if lacks[waiter] == 0 {
                    next.push_back(waiter);
                }
            }
            ready.push(change);
        }
        let waiting: Vec<Change> = all.into_iter().flatten().collect();
        let bytes: usize = waiting.iter().map(|change| change.raw_bytes().len()).sum();
        if waiting.len() > MAX_CHANGES || bytes > MAX_BYTES {
            return Err(Refusal::TooManyWaiting);
        }
        Ok((ready, Self(waiting)))
    }
}
