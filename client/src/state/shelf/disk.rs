//! Memory to disk and back: one transaction per entry, and what other tabs have written.
//!
//! A book is written by one task at a time, from what it lacks on disk; so a write that failed is
//! part of the next one, and nothing has to be remembered.

use std::collections::BTreeSet;
use std::time::Duration;

use gloo_timers::future::sleep;
use leptos::prelude::*;
use leptos::task::spawn_local;

use super::{Errand, Notice, Shelf};
use crate::platform;
use crate::state::held::{Draft, Held};
use crate::state::tabs::TabWord;
use crate::store::{Batch, Found, StoreError, names};

/// Between two looks whether all is on the disk, and how many there are before somebody leaves.
const GLANCE: Duration = Duration::from_millis(50);
const GLANCES: usize = 100;

/// What the disk does for a book.
#[derive(Debug, Clone, Default)]
pub(in crate::state) struct Disk {
    /// Is a write under way?
    writing: bool,
    /// Why the last one failed.
    failed: Option<StoreError>,
}

/// Where the changes of a book are on this phone.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum OnDisk {
    /// All are on disk.
    Saved,
    /// Some are on their way.
    Saving,
    /// Some are only on the screen: the disk refused them.
    Failed,
}

impl Shelf {
    /// Writes what a book lacks on disk, unless that is under way.
    pub(in crate::state) fn flush(self, id: &str) {
        {
            let books = self.books();
            let mut disks = books.disks.borrow_mut();
            let disk = disks.entry(id.to_owned()).or_default();
            if std::mem::replace(&mut disk.writing, true) {
                return;
            }
        }
        let id = id.to_owned();
        spawn_local(async move {
            // The person who entered it sees it first.
            platform::painted().await;
            let done = self.write_out(&id).await;
            self.written(&id, done);
            self.compact(&id).await;
        });
    }

    /// Tries again what the disk refused.
    pub fn flush_all(self) {
        let ids: Vec<String> = self.books().held.borrow().keys().cloned().collect();
        for id in ids.iter().filter(|id| self.on_disk(id) != OnDisk::Saved) {
            self.flush(id);
        }
    }

    async fn write_out(self, id: &str) -> Result<(), StoreError> {
        let books = self.books();
        loop {
            let draft = self.with_book(id, |held| held.draft(&platform::fresh_id().to_string()));
            let Some(draft) = draft.flatten() else {
                return Ok(());
            };
            let batch = self.batch(id, &draft);
            let store = books.store.borrow().clone();
            store.ok_or(StoreError::None)?.write(batch).await?;
            if let Some(held) = books.held.borrow_mut().get_mut(id) {
                held.written(draft);
            }
            self.say_to_tabs(&TabWord::Stored {
                book: id.to_owned(),
            });
        }
    }

    /// Waits until nobody writes this book, and keeps others from it until [`Shelf::written`].
    pub(in crate::state) async fn hold_disk(self, id: &str) {
        loop {
            {
                let books = self.books();
                let mut disks = books.disks.borrow_mut();
                let disk = disks.entry(id.to_owned()).or_default();
                if !std::mem::replace(&mut disk.writing, true) {
                    return;
                }
            }
            sleep(Duration::from_millis(5)).await;
        }
    }

    /// Removes things of a book from the disk, beside what else a batch does.
    pub(in crate::state) async fn remove(self, id: &str, mut batch: Batch, gone: Vec<String>) {
        let prefix = names::book(id);
        let full = gone.iter().map(|name| format!("{prefix}{name}"));
        batch.deletes.extend(full);
        let store = self.books().store.borrow().clone();
        let Some(store) = store.filter(|_| !batch.deletes.is_empty()) else {
            return;
        };
        // What cannot be removed today is removed another time.
        if store.write(batch).await.is_ok()
            && let Some(held) = self.books().held.borrow_mut().get_mut(id)
        {
            held.removed(&gone);
        }
    }

    /// A draft with the cover that belongs to it.
    pub(in crate::state) fn batch(self, id: &str, draft: &Draft) -> Batch {
        let prefix = names::book(id);
        let puts = draft.puts.iter();
        let mut puts: Vec<(String, Vec<u8>)> = puts
            .map(|(name, bytes)| (format!("{prefix}{name}"), bytes.clone()))
            .collect();
        puts.extend(self.refresh_cover(id));
        Batch {
            puts,
            only_if: self.replica_of(id),
            ..Batch::default()
        }
    }

    /// What has to be on disk for a write to this replica.
    pub(in crate::state) fn replica_of(self, id: &str) -> Option<(String, String)> {
        self.with_book(id, |held| {
            let (name, replica) = held.replica();
            (format!("{}{name}", names::book(id)), replica.to_owned())
        })
    }

    /// A write of this book has ended.
    pub(in crate::state) fn written(self, id: &str, done: Result<(), StoreError>) {
        {
            let books = self.books();
            let mut disks = books.disks.borrow_mut();
            let disk = disks.entry(id.to_owned()).or_default();
            disk.writing = false;
            if done == Err(StoreError::Replaced) {
                drop(disks);
                let id = id.to_owned();
                spawn_local(async move { self.rescan(&id).await });
                return;
            }
            disk.failed = done.err();
        }
        match self.failure(id) {
            Some(error) => self.tell_person(Notice::NotSaved(error)),
            None => self.notices.update(|notices| {
                let fails = |notice: &Notice| matches!(notice, Notice::NotSaved(_));
                if !self.has_failed() {
                    notices.retain(|notice| !fails(notice));
                }
            }),
        }
        self.touch(id);
        self.tell(Errand::Share(id.to_owned()));
    }

    /// Where the changes of this book are on this phone.
    #[must_use]
    pub fn on_disk(&self, id: &str) -> OnDisk {
        let disk = self.books().disks.borrow().get(id).cloned();
        let disk = disk.unwrap_or_default();
        match (disk.failed, disk.writing) {
            (Some(_), _) => OnDisk::Failed,
            (None, true) => OnDisk::Saving,
            (None, false) if self.with_book(id, Held::is_saved).unwrap_or(true) => OnDisk::Saved,
            (None, false) => OnDisk::Saving,
        }
    }

    /// Is there anything that a reload of the page would lose?
    #[must_use]
    pub fn would_lose(&self) -> bool {
        let books = self.books();
        books.held.borrow().values().any(|held| !held.is_saved())
    }

    /// Waits until all is on the disk, a few seconds at most: after that a notice says what is wrong,
    /// and the browser asks whether to leave.
    pub async fn settled(self) {
        for _ in 0..GLANCES {
            if !self.would_lose() {
                return;
            }
            sleep(GLANCE).await;
        }
    }

    fn failure(&self, id: &str) -> Option<StoreError> {
        let books = self.books();
        let disks = books.disks.borrow();
        disks.get(id).and_then(|disk| disk.failed.clone())
    }

    fn has_failed(&self) -> bool {
        let books = self.books();
        books
            .disks
            .borrow()
            .values()
            .any(|disk| disk.failed.is_some())
    }

    /// What is stored of a book and not known here.
    pub(in crate::state) async fn read_book(
        self,
        id: &str,
        known: &BTreeSet<String>,
    ) -> Result<Found, StoreError> {
        let store = self.books().store.borrow().clone();
        match store {
            Some(store) => store.read(&names::book(id), known).await,
            None => Ok(Found::default()),
        }
    }

    /// Keeps damaged bytes under another name, out of the way of the book, and tells the person.
    pub(in crate::state) async fn put_aside(self, id: &str, found: &Found, damaged: &[String]) {
        let store = self.books().store.borrow().clone();
        let Some(store) = store.filter(|_| !damaged.is_empty()) else {
            return;
        };
        let is_damaged = |name: &String| damaged.contains(name);
        // What the browser cannot even hand out stays where it is.
        let entries = found.entries.iter();
        let entries = entries.filter(|entry| is_damaged(&entry.name) && !entry.bytes.is_empty());
        let mut batch = Batch::default();
        for entry in entries {
            let bytes = entry.bytes.clone();
            batch.puts.push((names::damaged(id, &entry.name), bytes));
            batch
                .deletes
                .push(format!("{}{}", names::book(id), entry.name));
        }
        if let Err(error) = store.write(batch).await {
            self.tell_person(Notice::NotSaved(error));
        }
        self.tell_person(Notice::Damaged {
            number: self.number(id),
            parts: damaged.len(),
            has_gaps: self.with_book(id, Held::has_gaps).unwrap_or(true),
        });
    }
}
