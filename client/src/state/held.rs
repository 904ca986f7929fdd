//! One book in memory: its document, what of it is on disk, what the server has.
//!
//! This file refuses to know the store and the network; it says what has to be written and sent.

mod chunk;
pub mod meant;
pub mod cover;
pub mod opening;
pub mod redo;
pub mod recovery;
pub mod compact;
pub mod view;

use std::cell::RefCell;
use std::collections::{BTreeMap, BTreeSet};

use automerge::{ActorId, Automerge, ChangeHash, ReadDoc};
use shared::adjust::sorting::gather;
use shared::book::{self, EditError, Intention, Stamp};
use shared::sync::conversation::Guest;

use crate::store::names::{Kind, REPLICA, SHARED};
pub use cover::Cover;
use meant::Meant;
use recovery::Fetch;
use redo::{Redone, redo};
use view::Seen;

/// A book in memory.
#[derive(Debug)]
pub struct Held {
    /// The document.
    pub doc: Automerge,
    /// This end of the line.
    guest: Guest,
    /// Changes up to which everything is on disk.
    saved: Vec<ChangeHash>,
    /// Confirmed heads as they are on disk.
    shared_saved: Vec<ChangeHash>,
    /// What was meant and is not on disk, by name within the book.
    fresh: BTreeMap<String, Meant>,
    /// What was meant, is on disk and not confirmed, by name within the book.
    meant: BTreeMap<String, Meant>,
    /// Names within the book that were read or written here.
    known: BTreeSet<String>,
    /// Heads of the newest snapshot on disk.
    snapshot: Vec<ChangeHash>,
    /// Which replica this is, as stored under [`REPLICA`].
    replica: String,
    /// Times that the server refused what came from here.
    refusals: u32,
    /// The server's document, when this one was refused.
    fetch: Option<Box<Fetch>>,
    /// The document as it was read last.
    seen: RefCell<Option<Seen>>,
}

/// One transaction's worth of a book.
#[derive(Debug)]
pub struct Draft {
    /// Names within the book, and bytes.
    pub puts: Vec<(String, Vec<u8>)>,
    heads: Vec<ChangeHash>,
    shared: Vec<ChangeHash>,
    meant: BTreeMap<String, Meant>,
}

impl Held {
    /// A book that begins here.
    #[must_use]
    pub fn begin(actor: ActorId) -> Self {
        Self::of(book::start().with_actor(actor))
    }

    /// A book that only the server has so far.
    #[must_use]
    pub fn unknown(actor: ActorId) -> Self {
        Self::of(Automerge::new().with_actor(actor))
    }

    fn of(doc: Automerge) -> Self {
        Self {
            doc,
            guest: Guest::default(),
            saved: Vec::new(),
            shared_saved: Vec::new(),
            fresh: BTreeMap::new(),
            meant: BTreeMap::new(),
            known: BTreeSet::new(),
            snapshot: Vec::new(),
            replica: String::new(),
            refusals: 0,
            fetch: None,
            seen: RefCell::default(),
        }
    }

    /// Does an intention.
    ///
    /// # Errors
    /// [`EditError`]; nothing has changed then.
    pub fn act(&mut self, stamp: &Stamp, intention: &Intention) -> Result<(), EditError> {
        let change = book::edit::apply(&mut self.doc, stamp, intention)?;
        if let Some(change) = change {
            let meant = Meant {
                change: change.to_string(),
                stamp: stamp.clone(),
                intention: intention.clone(),
            };
            self.fresh.insert(Kind::Intent.named(&stamp.record), meant);
        }
        Ok(())
    }

    /// Is every change and intention on disk?
    #[must_use]
    pub fn is_saved(&self) -> bool {
        self.fresh.is_empty() && self.doc.get_changes_meta(&self.saved).is_empty()
    }

    /// What has to be written, as one transaction; `None` when there is nothing. `ulid` is fresh.
    #[must_use]
    pub fn draft(&self, ulid: &str) -> Option<Draft> {
        let changes = self.doc.get_changes(&self.saved);
        let shared = self.guest.shared().to_vec();
        if changes.is_empty() && self.fresh.is_empty() && shared == self.shared_saved {
            return None;
        }
        let mut puts = Vec::new();
        if !changes.is_empty() {
            puts.push((Kind::Change.named(ulid), chunk::write(&changes)));
        }
        for (name, meant) in &self.fresh {
            // An intention is plain data; it always has a JSON form.
            if let Ok(bytes) = serde_json::to_vec(meant) {
                puts.push((name.clone(), bytes));
            }
        }
        if shared != self.shared_saved {
            puts.push((SHARED.to_owned(), heads_to_text(&shared).into_bytes()));
        }
        Some(Draft {
            puts,
            heads: self.doc.get_heads(),
            shared,
            meant: self.fresh.clone(),
        })
    }

    /// A draft is on disk.
    pub fn written(&mut self, draft: Draft) {
        // Confirmed heads are overwritten by whichever tab is on the line.
        let names = draft.puts.into_iter().map(|(name, _)| name);
        self.known.extend(names.filter(|name| name != SHARED));
        self.fresh
            .retain(|name, meant| draft.meant.get(name) != Some(meant));
        self.meant.extend(draft.meant);
        self.shared_saved = draft.shared;
        self.add_saved(draft.heads);
    }

    /// These changes, and what they build on, are on disk.
    fn add_saved(&mut self, changes: Vec<ChangeHash>) {
        self.saved.extend(changes);
        let here = |hash| self.doc.get_change_meta_by_hash(hash).is_some();
        let all_here = self.saved.iter().all(here);
        if all_here && self.doc.get_changes_meta(&self.saved).is_empty() {
            self.saved = self.doc.get_heads();
        } else {
            self.saved.sort_unstable();
            self.saved.dedup();
        }
    }

    /// Is something missing that only the server or another phone can have?
    #[must_use]
    pub fn has_gaps(&self) -> bool {
        let builds_on_missing = !self.doc.get_missing_deps(&[]).is_empty();
        // What was lost and is known as it was meant is written again.
        self.doc.get_heads().is_empty() || builds_on_missing && self.lost().is_empty()
    }

    /// The replica's name, and what has to be stored there for this replica to be written to.
    #[must_use]
    pub fn replica(&self) -> (&'static str, &str) {
        (REPLICA, &self.replica)
    }

    /// Does again, under this session's actor, what was meant and is not in the document.
    pub fn redo_lost(&mut self) -> Redone {
        let lost = self.lost();
        if lost.is_empty() {
            return Redone::default();
        }
        let mut next = self.doc.clone();
        if next.get_heads().is_empty() {
            // Every book begins with this change, so it cannot be wrong to have it.
            let beginning = book::start().get_changes(&[]);
            if next.apply_changes(beginning).is_err() {
                return Redone::default();
            }
        }
        let redone = redo(&mut next, lost);
        if redone.done.is_empty() && redone.there.is_empty() {
            // Most of the book is missing; it comes from the server, and this is tried again.
            return redone;
        }
        self.doc = next;
        self.meant.retain(|name, _| !redone.done.contains_key(name));
        self.fresh.extend(redone.done.clone());
        redone
    }

    /// What was meant and is not in the document.
    fn lost(&self) -> BTreeMap<String, Meant> {
        let meant = self.meant.iter();
        let lost = meant.filter(|(_, meant)| !meant.is_in(&self.doc));
        gather(lost.map(|(name, meant)| (name.clone(), meant.clone())))
    }

    /// What was meant on this phone and the server does not have, oldest first.
    #[must_use]
    pub fn unconfirmed(&self) -> Vec<Meant> {
        let mut all = self.meant.clone();
        for name in self.confirmed() {
            all.remove(&name);
        }
        all.extend(self.fresh.clone());
        all.into_values().collect()
    }

    /// Changes that the server does not have, those that were lost and wait to be done again too.
    #[must_use]
    pub fn unshared(&self) -> usize {
        self.guest.unshared(&self.doc) + self.lost().len()
    }

    /// Names of the stored intentions that the server has confirmed.
    #[must_use]
    pub fn confirmed(&self) -> Vec<String> {
        let waiting = self.doc.get_changes_meta(self.guest.shared());
        let waiting: BTreeSet<ChangeHash> = waiting.iter().map(|change| change.hash).collect();
        let is_confirmed = |meant: &Meant| {
            let waits = meant.hash().is_none_or(|hash| waiting.contains(&hash));
            meant.is_in(&self.doc) && !waits
        };
        let confirmed = self.meant.iter().filter(|(_, meant)| is_confirmed(meant));
        confirmed.map(|(name, _)| name.clone()).collect()
    }

    /// These names are on disk no more.
    pub fn removed(&mut self, names: &[String]) {
        for name in names {
            self.known.remove(name);
            self.meant.remove(name);
        }
    }

    /// Actors of the changes that the server does not have, and of this session: it has to know them
    /// to be ours before the next message.
    #[must_use]
    pub fn actors(&self) -> BTreeSet<String> {
        let (doc, guest) = self.talk();
        let changes = doc.get_changes_meta(guest.shared());
        let of_changes = changes.iter().map(|change| change.actor.to_hex_string());
        let mut actors: BTreeSet<String> = gather(of_changes);
        actors.insert(doc.get_actor().to_hex_string());
        // The first change of every book is nobody's.
        actors.retain(|actor| actor.bytes().any(|byte| byte != b'0'));
        actors
    }

    /// Was anything that the server has not confirmed meant on this phone under this actor?
    #[must_use]
    pub fn has_meant_as(&self, actor: &str) -> bool {
        let meant = self.unconfirmed().into_iter();
        let mut hashes = meant.filter_map(|meant| meant.hash());
        hashes.any(|hash| {
            let change = self.doc.get_change_meta_by_hash(&hash);
            change.is_some_and(|change| change.actor.to_hex_string() == actor)
        })
    }

    /// What the line is about: the book, or the server's document on its way after a refusal.
    fn talk(&self) -> (&Automerge, &Guest) {
        match &self.fetch {
            Some(fetch) => (&fetch.doc, &fetch.guest),
            None => (&self.doc, &self.guest),
        }
    }

    /// A new line is open; nothing was said on it yet.
    pub fn meet(&mut self) {
        self.guest = Guest::new(self.guest.shared().to_vec());
        if let Some(fetch) = &mut self.fetch {
            fetch.guest = Guest::default();
        }
    }

    /// The next message for the server, if there is anything to say, and whether it asks for a
    /// document of which nothing is here. What is not on disk is not told, unless the disk has
    /// `failed`: then the server is the only place where it can be safe.
    pub fn next_message(&mut self, failed: bool) -> Option<(bool, Vec<u8>)> {
        if let Some(fetch) = &mut self.fetch {
            let heads = fetch.doc.get_heads();
            let message = fetch.guest.next_message(&fetch.doc, &heads)?;
            return Some((heads.is_empty(), message));
        }
        let heads = self.doc.get_heads();
        if !failed && !self.is_saved() {
            return None;
        }
        let message = self.guest.next_message(&self.doc, &heads)?;
        Some((heads.is_empty(), message))
    }

    /// Takes a message of the server in.
    ///
    /// # Errors
    /// When it cannot be read; the document has not changed then.
    pub fn receive(&mut self, data: &[u8]) -> Result<(), String> {
        match &mut self.fetch {
            Some(fetch) => fetch.guest.receive(&mut fetch.doc, data),
            None => self.guest.receive(&mut self.doc, data),
        }
    }

    /// Does the server have everything that is here, and is everything here that it has?
    #[must_use]
    pub fn is_in_step(&self) -> bool {
        self.fetch.is_none()
            && self.guest.is_in_step(&self.doc)
            && self.guest.unshared(&self.doc) == 0
    }
}

/// Heads as they are stored.
fn heads_to_text(heads: &[ChangeHash]) -> String {
    let texts: Vec<String> = heads.iter().map(ToString::to_string).collect();
    texts.join(" ")
}

/// Heads from how they are stored; what is none is left out.
fn heads_from_text(text: &str) -> Vec<ChangeHash> {
    text.split_whitespace()
        .filter_map(|text| text.parse().ok())
        .collect()
}

#[cfg(test)]
mod tests;
