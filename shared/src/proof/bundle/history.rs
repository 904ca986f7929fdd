//! The books as the log built them up: which change stands on which, and the heads after each.

use std::collections::{BTreeSet, HashMap, HashSet};

use crate::proof::Digest;

/// What a document engine says of one change.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Facts {
    /// Its hash.
    pub hash: Digest,
    /// The changes that it stands on.
    pub deps: Vec<Digest>,
}

/// One book so far.
#[derive(Debug, Default)]
pub(super) struct History {
    /// Per change: its place in the bundle and what it stands on.
    known: HashMap<Digest, (usize, Vec<Digest>)>,
    heads: BTreeSet<Digest>,
}

impl History {
    /// Adds a change; false when it is there already or stands on what is not there.
    pub(super) fn add(&mut self, index: usize, facts: Facts) -> bool {
        let stands = facts.deps.iter().all(|dep| self.known.contains_key(dep));
        if !stands || self.known.contains_key(&facts.hash) {
            return false;
        }
        for dep in &facts.deps {
            self.heads.remove(dep);
        }
        self.heads.insert(facts.hash);
        self.known.insert(facts.hash, (index, facts.deps));
        true
    }

    /// The heads, sorted.
    pub(super) fn heads(&self) -> Vec<Digest> {
        self.heads.iter().copied().collect()
    }

    /// Places of all changes up to some heads, in order.
    ///
    /// # Errors
    /// The first head that is not there.
    pub(super) fn up_to(&self, heads: &[Digest]) -> Result<Vec<usize>, Digest> {
        let mut seen = HashSet::new();
        let mut open = heads.to_vec();
        let mut places = Vec::new();
        while let Some(hash) = open.pop() {
            if !seen.insert(hash) {
                continue;
            }
            let (index, deps) = self.known.get(&hash).ok_or(hash)?;
            places.push(*index);
            open.extend(deps);
        }
        places.sort_unstable();
        Ok(places)
    }
}
