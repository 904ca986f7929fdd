//! From what is stored to a book in memory, and what other tabs have stored since.
//!
//! Everything is verified first. What does not verify is named and left out; the rest is the book.
//! Snapshots and changes are merged, so the order of writing and damage to one of them lose nothing
//! that another still has.

use std::collections::BTreeSet;

use automerge::{ActorId, Automerge, Change, ChangeHash};

use super::meant::Meant;
use super::{Held, chunk, heads_from_text};
use crate::json;
use crate::store::names::{Kind, REPLICA, SHARED};
use crate::store::{Entry, Found};
use shared::adjust::sorting::gather;

/// A book from the store.
#[derive(Debug)]
pub struct Opened {
    /// The book.
    pub held: Held,
    /// Names within the book of what could not be read.
    pub damaged: Vec<String>,
}

/// What a book has of what is stored, before a look at the disk.
#[derive(Debug, Clone, Default)]
pub struct AtHand {
    /// Names within the book that need not be read again.
    pub known: BTreeSet<String>,
    /// Names of what was meant and is stored.
    meant: BTreeSet<String>,
}

/// What an entry turned out to be.
enum Read {
    Changes(Vec<Change>),
    Meant(Box<Meant>),
    Shared(Vec<ChangeHash>),
    Replica(String),
}

impl Held {
    /// A book from what the store has of it.
    #[must_use]
    pub fn open(found: Found, actor: ActorId) -> Opened {
        let newest = found.entries.iter().rev().find_map(snapshot);
        let (doc, name) = newest.unwrap_or_default();
        let mut held = Self::of(doc.with_actor(actor));
        held.saved = held.doc.get_heads();
        held.snapshot.clone_from(&held.saved);
        held.known.extend(name);
        let damaged = held.take_in(found, &AtHand::default());
        Opened { held, damaged }
    }

    /// What it has of what is stored.
    #[must_use]
    pub fn at_hand(&self) -> AtHand {
        AtHand {
            known: self.known.clone(),
            meant: gather(self.meant.keys().cloned()),
        }
    }

    /// Has another tab put another replica in this one's place?
    #[must_use]
    pub fn is_replaced_in(&self, found: &Found) -> bool {
        let stored = found.entries.iter().find(|entry| entry.name == REPLICA);
        stored.is_some_and(|entry| entry.whole && entry.bytes != self.replica.as_bytes())
    }

    /// Takes in what is stored and was not known here; `before` is what [`Held::at_hand`] said before
    /// the look at the disk. Returns the names of what could not be read.
    pub fn take_in(&mut self, found: Found, before: &AtHand) -> Vec<String> {
        let mut damaged = Vec::new();
        let mut changes = Vec::new();
        let mut shared = Vec::new();
        for entry in found.entries {
            // What is done again here is newer than what was read.
            if self.known.contains(&entry.name) || self.fresh.contains_key(&entry.name) {
                continue;
            }
            match self.look(&entry) {
                Some(Read::Changes(more)) => changes.push((entry.name, more)),
                Some(Read::Meant(meant)) => {
                    self.meant.insert(entry.name, *meant);
                }
                Some(Read::Shared(heads)) => shared = heads,
                Some(Read::Replica(name)) => self.replica = name,
                None => damaged.push(entry.name),
            }
        }
        damaged.extend(self.apply(changes));
        self.guest.learn(&self.doc, &shared);
        self.shared_saved = self.guest.shared().to_vec();
        // The tab on the line removes what was confirmed; what was written here since the look stays.
        let is_gone = |name: &String| before.meant.contains(name) && !found.names.contains(name);
        self.meant.retain(|name, _| !is_gone(name));
        // What was meant and has lost its change may be done again there, under the same name.
        let whole = self
            .meant
            .iter()
            .filter(|(_, meant)| meant.is_in(&self.doc));
        self.known.extend(whole.map(|(name, _)| name.clone()));
        damaged
    }

    /// `None` when an entry cannot be read.
    fn look(&self, entry: &Entry) -> Option<Read> {
        let bytes = entry.whole.then_some(&entry.bytes)?;
        let text = || String::from_utf8(bytes.clone()).ok();
        Some(match entry.name.as_str() {
            SHARED => Read::Shared(heads_from_text(&text()?)),
            REPLICA => Read::Replica(text()?),
            name if Kind::Intent.has(name) => Read::Meant(Box::new(json::read(bytes)?)),
            name if Kind::Change.has(name) => Read::Changes(chunk::read(bytes)?),
            _ => Read::Changes(self.news(&Automerge::load(bytes).ok()?)),
        })
    }

    /// Changes of a snapshot that the book may not have.
    fn news(&self, snapshot: &Automerge) -> Vec<Change> {
        let here = |hash| self.doc.get_change_meta_by_hash(hash).is_some();
        match snapshot.get_heads().iter().all(here) {
            true => Vec::new(),
            false => snapshot.get_changes(&[]),
        }
    }

    /// Applies the changes of entries, all at once if that goes. Returns the names of those that do
    /// not apply.
    fn apply(&mut self, entries: Vec<(String, Vec<Change>)>) -> Vec<String> {
        let all: Vec<Change> = entries.iter().flat_map(|(_, more)| more.clone()).collect();
        let mut damaged = Vec::new();
        let mut next = self.doc.clone();
        if all.is_empty() || next.apply_changes(all).is_ok() {
            self.doc = next;
        } else {
            for (name, changes) in &entries {
                let mut next = self.doc.clone();
                match next.apply_changes(changes.clone()) {
                    Ok(()) => self.doc = next,
                    Err(_) => damaged.push(name.clone()),
                }
            }
        }
        let mut hashes = Vec::new();
        for (name, changes) in entries {
            if !damaged.contains(&name) {
                hashes.extend(changes.iter().map(Change::hash));
                self.known.insert(name);
            }
        }
        self.add_saved(hashes);
        damaged
    }
}

/// The document of an entry that is a whole snapshot, and its name.
fn snapshot(entry: &Entry) -> Option<(Automerge, Option<String>)> {
    let is_one = entry.whole && Kind::Snapshot.has(&entry.name);
    let doc = is_one.then(|| Automerge::load(&entry.bytes).ok())??;
    Some((doc, Some(entry.name.clone())))
}
