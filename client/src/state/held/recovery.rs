//! After a refusal: the server's document is fetched beside the refused one, which stays on the
//! screen until everything that was meant has been done again on the new one.

use std::collections::{BTreeMap, BTreeSet};

use automerge::{ActorId, Automerge};
use serde::{Deserialize, Serialize};
use shared::adjust::sorting::gather;
use shared::book;
use shared::sync::conversation::Guest;

use super::meant::Meant;
use super::redo::{Left, Redone, redo, redo_beside};
use super::{Draft, Held};
use crate::store::names::REPLICA;

/// Refusals of one book in one session after which what was meant is only kept, not done again.
const MAX_TRIES: u32 = 3;

/// A server's document on its way.
#[derive(Debug)]
pub(super) struct Fetch {
    pub(super) doc: Automerge,
    pub(super) guest: Guest,
    /// Why the server refused, in its words.
    reason: String,
    /// Has the server no such book?
    begins_anew: bool,
}

/// A new replica in place of a refused one, ready to be written and then to be taken.
#[derive(Debug)]
pub struct Replacement {
    /// The new replica.
    pub held: Held,
    /// What is written of it, names within the book; all that was there before goes.
    pub draft: Draft,
    /// The refused document, whole.
    pub refused: Vec<u8>,
    /// What is told of it.
    pub story: Story,
    /// Names of the intentions that were dealt with.
    dealt_with: Vec<String>,
}

/// What became of a refused replica.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Story {
    /// RFC 3339 time.
    pub at: String,
    /// Why the server refused, in its words.
    pub reason: String,
    /// How many intentions are in the book again.
    pub redone: usize,
    /// Those that are not.
    pub left: Vec<Left>,
    /// Changes that nobody meant in the memory of this phone (the server had them once, and has lost
    /// them): they are only in the kept document.
    #[serde(default)]
    pub only_kept: usize,
}

impl Story {
    /// How much is not in the book again.
    #[must_use]
    pub fn missing(&self) -> usize {
        self.left.len() + self.only_kept
    }
}

impl Held {
    /// The server refused what came from here: its document is asked for, for `actor` to write in.
    pub fn refuse(&mut self, reason: String, actor: ActorId) {
        self.refusals += 1;
        self.fetch = Some(Box::new(Fetch {
            doc: Automerge::new().with_actor(actor),
            guest: Guest::default(),
            reason,
            begins_anew: false,
        }));
    }

    /// Is the server's document on its way?
    #[must_use]
    pub fn is_refused(&self) -> bool {
        self.fetch.is_some()
    }

    /// Is the server's document here, whole?
    #[must_use]
    pub fn is_fetched(&self) -> bool {
        let is_whole = |fetch: &Fetch| fetch.begins_anew || fetch.guest.is_in_step(&fetch.doc);
        self.fetch.as_ref().is_some_and(|fetch| is_whole(fetch))
    }

    /// The server has no such book: it begins anew.
    pub fn begin_anew(&mut self) {
        if let Some(fetch) = &mut self.fetch {
            let actor = fetch.doc.get_actor().clone();
            fetch.doc = book::start().with_actor(actor);
            fetch.begins_anew = true;
        }
    }

    /// The replica to come: the server's document with everything that was meant here. `replica` is
    /// its fresh name, `at` the RFC 3339 time.
    #[must_use]
    pub fn replacement(&self, replica: String, at: String) -> Option<Replacement> {
        let fetch = self.fetch.as_ref()?;
        let mut meant = self.meant.clone();
        meant.extend(self.fresh.clone());
        let actor = fetch.doc.get_actor().clone();
        let (server, base) = (fetch.doc.clone(), self.guest.shared());
        let heads = server.get_heads();
        let only_kept = only_kept(&self.doc, &server, &meant);
        let all = meant.len();
        let dealt_with = gather(meant.keys().cloned());
        meant.retain(|_, meant| !meant.is_in(&server));
        let known_by_server = all - meant.len();
        let (doc, redone) = if self.refusals < MAX_TRIES {
            redo_beside(server, base, meant, actor)
        } else {
            let why = format!("refused {} times: {}", self.refusals, fetch.reason);
            let left = meant.iter();
            let left = left.map(|(name, meant)| (name.clone(), meant.left(&why)));
            let redone = Redone {
                left: gather(left),
                ..Redone::default()
            };
            (server.with_actor(actor), redone)
        };
        let Redone { done, there, left } = redone;
        let story = Story {
            at,
            reason: fetch.reason.clone(),
            redone: known_by_server + done.len() + there.len(),
            left: left.into_values().collect(),
            only_kept,
        };
        let mut held = Self::of(doc);
        held.refusals = self.refusals;
        held.replica.clone_from(&replica);
        held.guest = fetch.guest.clone();
        if !fetch.begins_anew {
            held.guest.learn(&held.doc, &heads);
        }
        held.fresh = done;
        let mut draft = held.draft(&replica)?;
        draft.puts.push((REPLICA.to_owned(), replica.into_bytes()));
        Some(Replacement {
            held,
            draft,
            refused: self.doc.save(),
            story,
            dealt_with,
        })
    }

    /// The replacement is on disk and takes this one's place. What was meant meanwhile is done
    /// again on it.
    pub fn give_way(&mut self, replacement: Replacement) {
        let Replacement {
            mut held,
            draft,
            dealt_with,
            ..
        } = replacement;
        held.written(draft);
        let mut since = std::mem::take(&mut self.fresh);
        since.extend(std::mem::take(&mut self.meant));
        since.retain(|name, _| !dealt_with.contains(name));
        *self = held;
        self.carry(since);
    }

    /// Another tab has put another replica in this one's place: `stored` is it. What was meant here
    /// and is not on disk is done again on it.
    pub fn follow(&mut self, stored: Self) {
        let fresh = std::mem::take(&mut self.fresh);
        *self = stored;
        self.carry(fresh);
    }

    fn carry(&mut self, meant: BTreeMap<String, Meant>) {
        let Redone { done, left, .. } = redo(&mut self.doc, meant.clone());
        self.fresh.extend(done);
        // What cannot be done now is kept on disk all the same, and tried again.
        let left = meant
            .into_iter()
            .filter(|(name, _)| left.contains_key(name));
        self.fresh.extend(left);
    }
}

/// Changes of a document that the server's has not and that were not meant here.
fn only_kept(doc: &Automerge, server: &Automerge, meant: &BTreeMap<String, Meant>) -> usize {
    let meant: BTreeSet<_> = meant.values().filter_map(Meant::hash).collect();
    let beginning = book::start().get_heads();
    let changes = doc
        .get_changes_meta(&[])
        .into_iter()
        .map(|change| change.hash);
    let only_here = changes.filter(|hash| server.get_change_meta_by_hash(hash).is_none());
    only_here
        .filter(|hash| !meant.contains(hash) && !beginning.contains(hash))
        .count()
}
