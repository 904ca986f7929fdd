//! One book's conversation: what came in, what has to be kept, what may be said.
//!
//! [`Host`] is the end that keeps the record for many peers, [`Guest`] the end of one phone. Both
//! are plain values; whoever owns them does the waiting, the disk and the line:
//!
//! 1. a message comes: [`Host::question`] puts it together with what is known of the peer;
//! 2. [`super::gate::weigh`] answers it, wherever there is a thread to spare;
//! 3. the changes of [`Admitted`] go to disk, in one transaction;
//! 4. only then [`Host::commit`], and only then [`Host::next_message`] can tell of them.
//!
//! The host has no other way to learn of changes, so *acknowledged means on disk* holds by
//! construction. A guest is asked for its next message with the heads that its own disk has.
//!
//! Sent messages carry no flags: a peer that is not told of packed messages sends single plain
//! changes, which the gate can weigh one by one. This file refuses to know sockets and frames.

use std::collections::HashMap;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;

use automerge::sync::{Message, State, SyncDoc};
use automerge::{Automerge, ChangeHash};

use super::gate::{Admitted, Meeting, Question, Role};

/// The end that keeps a book for many peers.
#[derive(Debug, Clone)]
pub struct Host {
    doc: Arc<Automerge>,
    peers: HashMap<u64, (Role, Meeting)>,
}

impl Host {
    /// A book as it is on disk; nobody takes part yet.
    #[must_use]
    pub fn new(doc: Automerge) -> Self {
        Self {
            doc: Arc::new(doc),
            peers: HashMap::new(),
        }
    }

    /// The book as it is on disk.
    #[must_use]
    pub fn doc(&self) -> &Arc<Automerge> {
        &self.doc
    }

    /// A peer takes part, and nothing is known of it yet.
    pub fn join(&mut self, peer: u64, role: Role) {
        self.peers.insert(peer, (role, Meeting::default()));
    }

    /// A peer takes part no longer.
    pub fn leave(&mut self, peer: u64) {
        self.peers.remove(&peer);
    }

    /// A message of a peer, to be weighed; `None` when it does not take part.
    #[must_use]
    pub fn question(&self, peer: u64, data: Vec<u8>) -> Option<Question> {
        let (role, meeting) = self.peers.get(&peer)?;
        Some(Question {
            doc: self.doc.clone(),
            meeting: meeting.clone(),
            role: *role,
            data,
        })
    }

    /// What was admitted is on disk. It must have been weighed against the book as it is now.
    pub fn commit(&mut self, peer: u64, admitted: Admitted) {
        self.doc = admitted.doc;
        if let Some((_, meeting)) = self.peers.get_mut(&peer) {
            *meeting = admitted.meeting;
        }
    }

    /// The book as another keeper of the same record has moved it on.
    pub fn replace(&mut self, doc: Automerge) {
        self.doc = Arc::new(doc);
    }

    /// What a peer does not know yet, if it has said what it knows and there is anything.
    pub fn next_message(&mut self, peer: u64) -> Option<Vec<u8>> {
        let (_, Meeting { state, waiting }) = self.peers.get_mut(&peer)?;
        let mut message = next_message(&self.doc, state)?;
        // The engine knows nothing of what waits at the gate. It would ask for that again, and never
        // for what it waits for: a peer that took the host's summary to have it (a summary may err)
        // would not send it, and both would say the same for ever.
        message.need.retain(|hash| !waiting.has(hash));
        message.need.extend(waiting.lacks(&self.doc));
        message.need.sort_unstable();
        message.need.dedup();
        Some(message.encode())
    }
}

/// A phone's end of the line to the one that keeps the book.
#[derive(Debug, Clone, Default)]
pub struct Guest {
    state: State,
    shared: Vec<ChangeHash>,
}

impl Guest {
    /// At the start of a line, with the heads that the host has confirmed earlier.
    #[must_use]
    pub fn new(shared: Vec<ChangeHash>) -> Self {
        Self {
            state: State::new(),
            shared,
        }
    }

    /// Heads that the host has confirmed to have on disk.
    #[must_use]
    pub fn shared(&self) -> &[ChangeHash] {
        &self.shared
    }

    /// The host has confirmed these to another session of this phone, which has kept them.
    pub fn learn(&mut self, doc: &Automerge, heads: &[ChangeHash]) {
        let here = |hash: &&ChangeHash| doc.get_change_meta_by_hash(hash).is_some();
        let news = heads.iter().filter(here).copied();
        self.shared.extend(news);
        if doc.get_changes_meta(&self.shared).is_empty() {
            self.shared = doc.get_heads();
        } else {
            self.shared.sort_unstable();
            self.shared.dedup();
        }
    }

    /// Is everything here that the host has told of on this line?
    #[must_use]
    pub fn is_in_step(&self, doc: &Automerge) -> bool {
        let here = |hash| doc.get_change_meta_by_hash(hash).is_some();
        let theirs = self.state.their_heads.as_deref().unwrap_or_default();
        !theirs.is_empty() && theirs.iter().all(here)
    }

    /// How many changes the host has not confirmed.
    #[must_use]
    pub fn unshared(&self, doc: &Automerge) -> usize {
        doc.get_changes_meta(&self.shared).len()
    }

    /// The next message for the host, if there is anything to say. Nothing is said of a document
    /// that has not reached this disk: `saved` are the heads that have.
    pub fn next_message(&mut self, doc: &Automerge, saved: &[ChangeHash]) -> Option<Vec<u8>> {
        if doc.get_heads() != saved {
            return None;
        }
        next_message(doc, &mut self.state).map(Message::encode)
    }

    /// Takes a message of the host in; the document may have changed then, and has to be saved.
    ///
    /// # Errors
    /// In words of the engine, when it cannot be read or does not apply; nothing has changed then.
    pub fn receive(&mut self, doc: &mut Automerge, data: &[u8]) -> Result<(), String> {
        let (mut next, mut state) = (doc.clone(), self.state.clone());
        let message = Message::decode(data).map_err(|error| error.to_string())?;
        next.receive_sync_message(&mut state, message)
            .map_err(|error| error.to_string())?;
        *doc = next;
        self.state = state;
        let theirs = self.state.their_heads.as_deref().unwrap_or_default();
        let here = |hash: &ChangeHash| doc.get_change_meta_by_hash(hash).is_some();
        if !theirs.iter().all(here) {
            // What it has on top of these is on its way; what it had confirmed it still has.
            self.shared.extend(theirs.iter().filter(|hash| here(hash)));
            self.shared.sort_unstable();
            self.shared.dedup();
        } else if !theirs.is_empty() {
            self.shared = theirs.to_vec();
        }
        Ok(())
    }
}

fn next_message(doc: &Automerge, state: &mut State) -> Option<Message> {
    let next = catch_unwind(AssertUnwindSafe(|| {
        let mut next = state.clone();
        let message = doc.generate_sync_message(&mut next);
        (next, message)
    }));
    let (next, message) = next.ok()?;
    *state = next;
    message.map(|mut message| {
        message.flags = None;
        message
    })
}

#[cfg(test)]
mod tests;
