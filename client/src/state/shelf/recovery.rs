//! After a refusal, and after damage: nothing that was meant is lost, and the person is told what
//! could not be done again.

use std::collections::BTreeSet;

use super::{Notice, Shelf};
use crate::json;
use crate::platform;
use crate::state::held::Held;
use crate::state::held::recovery::{Replacement, Story};
use crate::state::held::redo::Left;
use crate::state::tabs::TabWord;
use crate::store::{Batch, Entry, StoreError, names};

/// A refused document, behind the name of what is kept.
const DOCUMENT: &str = "document";
/// What became of it.
const STORY: &str = "story";
/// The reason of a story that begins with damage and not with the server.
pub const DAMAGED: &str = "damaged";

/// Something of a book that is only kept, and can be saved as a file.
#[derive(Debug, Clone, PartialEq)]
pub struct Kept {
    /// Its name in the store.
    pub name: String,
    /// What became of it.
    pub story: Story,
    /// The refused document; empty when none was refused.
    pub document: Vec<u8>,
}

impl Shelf {
    /// The server refused what this phone wrote; its document is asked for on the next line.
    pub(in crate::state) fn refuse(self, id: &str, reason: String) {
        let actor = self.fresh_actor();
        if let Some(held) = self.books().held.borrow_mut().get_mut(id) {
            held.refuse(reason, actor);
        }
    }

    /// An actor is another person's or phone's. What was meant under it on this phone is meant again
    /// under ours; else it has only come from the server, and is not claimed any more.
    pub(in crate::state) fn give_up_actor(self, actor: &str) {
        let books = self.books();
        let ids: Vec<String> = {
            let all = books.held.borrow();
            let hit = all.iter().filter(|(_, held)| held.has_meant_as(actor));
            hit.map(|(id, _)| id.clone()).collect()
        };
        for id in &ids {
            self.refuse(id, format!("actor {actor}"));
        }
        books.foreign.borrow_mut().insert(actor.to_owned());
    }

    /// The server's document is here: it takes the refused one's place, with everything that was
    /// meant done again on it, in one transaction. Until then nothing of the old one is touched.
    pub(in crate::state) async fn recover(self, id: &str) {
        self.hold_disk(id).await;
        let done = self.replace(id).await;
        self.written(id, done);
        // It is written with the next change; the list shows it at once.
        self.refresh_cover(id);
        self.after_change(id);
    }

    async fn replace(self, id: &str) -> Result<(), StoreError> {
        loop {
            // What another tab has just written is part of what was meant.
            match self.try_replace(id).await {
                Err(StoreError::MovedOn) => {}
                done => return done,
            }
        }
    }

    async fn try_replace(self, id: &str) -> Result<(), StoreError> {
        let books = self.books();
        let store = books.store.borrow().clone().ok_or(StoreError::None)?;
        let before = self.with_book(id, Held::at_hand).unwrap_or_default();
        let found = self.read_book(id, &before.known).await?;
        let old = found.names.clone();
        let replacement = {
            let mut all = books.held.borrow_mut();
            let Some(held) = all.get_mut(id) else {
                return Ok(());
            };
            held.take_in(found, &before);
            held.replacement(platform::fresh_id().to_string(), platform::now_text())
        };
        let Some(replacement) = replacement else {
            return Ok(());
        };
        let batch = self.batch_of(id, &replacement, old);
        store.write(batch).await?;
        self.tell_story(id, &replacement.story);
        if let Some(held) = books.held.borrow_mut().get_mut(id) {
            held.give_way(replacement);
        }
        self.say_to_tabs(&TabWord::Stored {
            book: id.to_owned(),
        });
        Ok(())
    }

    fn batch_of(self, id: &str, replacement: &Replacement, old: Vec<String>) -> Batch {
        let prefix = names::book(id);
        let mut batch = self.batch(id, &replacement.draft);
        batch.only_names = Some((prefix.clone(), old.clone()));
        let new: Vec<&String> = batch.puts.iter().map(|(name, _)| name).collect();
        let old = old.into_iter().map(|name| format!("{prefix}{name}"));
        batch.deletes = old.filter(|name| !new.contains(&name)).collect();
        let kept = format!("{}{}", names::kept(id), platform::fresh_id());
        batch
            .puts
            .push((format!("{kept}/{DOCUMENT}"), replacement.refused.clone()));
        // A story is plain data; it always has a JSON form.
        let story = serde_json::to_vec(&replacement.story).unwrap_or_default();
        batch.puts.push((format!("{kept}/{STORY}"), story));
        batch
    }

    fn tell_story(self, id: &str, story: &Story) {
        self.tell_person(Notice::Refused {
            number: self.number(id),
            reason: story.reason.clone(),
            redone: story.redone,
            left: story.missing(),
        });
    }

    /// What was meant and has lost its change is done again; what cannot be, although everything
    /// that the server has is here, is kept aside and told.
    pub(in crate::state) async fn redo_lost(self, id: &str) {
        let (redone, gives_up) = {
            let books = self.books();
            let mut all = books.held.borrow_mut();
            let Some(held) = all.get_mut(id) else {
                return;
            };
            let redone = held.redo_lost();
            let gives_up = held.is_in_step() && !redone.left.is_empty();
            (redone, gives_up)
        };
        let mut batch = Batch::default();
        let mut gone = redone.there;
        if gives_up {
            let left: Vec<Left> = redone.left.values().cloned().collect();
            let story = Story {
                at: platform::now_text(),
                reason: DAMAGED.to_owned(),
                redone: redone.done.len(),
                left,
                only_kept: 0,
            };
            let kept = format!("{}{}", names::kept(id), platform::fresh_id());
            let bytes = serde_json::to_vec(&story).unwrap_or_default();
            batch.puts.push((format!("{kept}/{STORY}"), bytes));
            gone.extend(redone.left.into_keys());
            self.tell_story(id, &story);
        }
        self.remove(id, batch, gone).await;
        self.after_change(id);
    }

    /// Everything of a book that is only kept.
    pub async fn kept(self, id: &str) -> Vec<Kept> {
        let store = self.books().store.borrow().clone();
        let Some(store) = store else {
            return Vec::new();
        };
        let found = store.read(&names::kept(id), &BTreeSet::new()).await;
        let entries = found.unwrap_or_default().entries;
        let story = |entry: &Entry| {
            let name = entry.name.strip_suffix(&format!("/{STORY}"))?;
            Some(Kept {
                name: name.to_owned(),
                story: json::read(&entry.bytes)?,
                document: Vec::new(),
            })
        };
        let mut kept: Vec<Kept> = entries.iter().filter_map(story).collect();
        for kept in &mut kept {
            let document = format!("{}/{DOCUMENT}", kept.name);
            if let Some(entry) = entries.iter().find(|entry| entry.name == document) {
                kept.document.clone_from(&entry.bytes);
            }
        }
        kept
    }
}
