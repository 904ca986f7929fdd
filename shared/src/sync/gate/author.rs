//! Whose change it is, and whether it stands where its author's next change stands.
//!
//! The document engine numbers an author's changes and operations and trusts the numbers. A gap, a
//! fork, or an operation number out of place is accepted by it and spoils the document for everyone
//! (numbers are kept in 32 bits, and the next one is the largest plus one). So they are checked
//! against the record.

use std::collections::{HashMap, HashSet};

use automerge::{ActorId, Automerge, Change, ChangeHash};

use super::Refusal;

/// Operations in one book: fifty thousand readings have about a million.
const MAX_OPERATIONS: u64 = 10_000_000;

/// Changes of the past that one message may make us look at. An author's next change stands close to
/// the last one; whoever makes it stand far behind those of a thousand others wants to keep us busy.
const MAX_STEPS: usize = 4_000_000;

/// The changes of a document, as far as they matter here.
pub(super) struct History {
    nodes: HashMap<ChangeHash, Node>,
    last: HashMap<ActorId, (u64, ChangeHash)>,
    max_op: u64,
    /// Steps left.
    steps: usize,
}

struct Node {
    deps: Vec<ChangeHash>,
    max_op: u64,
}

impl History {
    pub(super) fn of(doc: &Automerge) -> Self {
        let mut history = Self {
            nodes: HashMap::new(),
            last: HashMap::new(),
            max_op: 0,
            steps: MAX_STEPS,
        };
        for meta in doc.get_changes_meta(&[]) {
            let actor = meta.actor.into_owned();
            history.note(meta.hash, meta.deps, &actor, meta.seq, meta.max_op);
        }
        history
    }

    /// Checks a change whose dependencies are all here, and takes it in.
    pub(super) fn follow(&mut self, change: &Change) -> Result<(), Refusal> {
        let actor = change.actor_id();
        let own = self.last.get(actor);
        let next = own.map_or(1, |(seq, _)| seq + 1);
        let deps = change.deps();
        if change.seq() != next {
            return Err(Refusal::Sequence(actor.to_hex_string()));
        }
        if let Some(hash) = own.map(|(_, hash)| *hash)
            && !self.reaches(deps, hash)?
        {
            return Err(Refusal::Sequence(actor.to_hex_string()));
        }
        let past = deps
            .iter()
            .filter_map(|dep| self.nodes.get(dep))
            .map(|node| node.max_op)
            .max()
            .unwrap_or(0);
        let first = change.start_op().get();
        if first <= past || first > self.max_op + 1 {
            return Err(Refusal::Sequence(actor.to_hex_string()));
        }
        let last = first - 1 + change.len() as u64;
        if last > MAX_OPERATIONS {
            return Err(Refusal::TooLarge);
        }
        let actor = actor.clone();
        self.note(change.hash(), deps.to_vec(), &actor, change.seq(), last);
        Ok(())
    }

    fn note(
        &mut self,
        hash: ChangeHash,
        deps: Vec<ChangeHash>,
        actor: &ActorId,
        seq: u64,
        max_op: u64,
    ) {
        self.nodes.insert(hash, Node { deps, max_op });
        self.max_op = self.max_op.max(max_op);
        let last = self.last.entry(actor.clone()).or_insert((seq, hash));
        if seq > last.0 {
            *last = (seq, hash);
        }
    }

    /// Is `goal` among these changes or their ancestors?
    fn reaches(&mut self, from: &[ChangeHash], goal: ChangeHash) -> Result<bool, Refusal> {
        let Some(floor) = self.nodes.get(&goal).map(|node| node.max_op) else {
            return Ok(false);
        };
        let mut seen = HashSet::new();
        let mut open = from.to_vec();
        while let Some(hash) = open.pop() {
            if hash == goal {
                return Ok(true);
            }
            self.steps = self.steps.checked_sub(1).ok_or(Refusal::TooLarge)?;
            // Numbers only grow along a history, so what is below the goal does not lead to it.
            match self.nodes.get(&hash) {
                Some(node) if node.max_op >= floor && seen.insert(hash) => open.extend(&node.deps),
                _ => {}
            }
        }
        Ok(false)
    }
}
