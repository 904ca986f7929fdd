//! Everything that only this phone has: as a list, and as a file.

use std::collections::BTreeSet;
use std::sync::Arc;

use leptos::prelude::*;
use shared::adjust::sorting::gather;
use shared::job::Job;

use super::{Kept, Shelf};
use crate::state::held::Held;
use crate::state::held::meant::Meant;
use crate::state::parcel::{BookParcel, Bytes, DamagedParcel, KeptParcel, Parcel};
use crate::store::names;

/// A book of which something is only on this phone.
#[derive(Debug, Clone, PartialEq)]
pub struct WaitingBook {
    /// Document id.
    pub id: String,
    /// The car.
    pub job: Arc<Job>,
    /// Changes that the server has not confirmed.
    pub unshared: usize,
    /// What was meant and the server has not confirmed, oldest first.
    pub meant: Vec<Meant>,
    /// What is only kept.
    pub kept: Vec<Kept>,
}

impl Shelf {
    /// Changes in all books that the server has not confirmed; follows them.
    #[must_use]
    pub fn unshared_in_all(&self) -> usize {
        self.pulse.track();
        self.ready.track();
        self.books()
            .held
            .borrow()
            .values()
            .map(Held::unshared)
            .sum()
    }

    /// The books of which something is only on this phone.
    pub async fn waiting(self) -> Vec<WaitingBook> {
        let mut books = Vec::new();
        for id in self.with_own().await {
            let kept = self.kept(&id).await;
            let book = self.with_book(&id, |held| WaitingBook {
                id: id.clone(),
                job: held.view().job,
                unshared: held.unshared(),
                meant: held.unconfirmed(),
                kept,
            });
            books.extend(book.filter(|book| book.unshared > 0 || !book.kept.is_empty()));
        }
        books
    }

    /// The file; `at` is the RFC 3339 time.
    pub async fn parcel(self, at: &str) -> Vec<u8> {
        let mut parcel = Parcel::new(at, &self.device());
        for id in self.with_own().await {
            let kept = self.kept(&id).await;
            let damaged = self.damaged(&id).await;
            let book = self.with_book(&id, |held| {
                let job = held.view().job;
                BookParcel {
                    id: id.clone(),
                    number: job.card.number.clone(),
                    vehicle: job.card.vehicle.clone(),
                    unshared: held.unshared(),
                    meant: held.unconfirmed(),
                    document: Bytes(held.doc.save()),
                    kept: kept.into_iter().map(of_kept).collect(),
                    damaged,
                }
            });
            let has_own = |book: &BookParcel| {
                book.unshared > 0 || !book.kept.is_empty() || !book.damaged.is_empty()
            };
            parcel.books.extend(book.filter(has_own));
        }
        parcel.to_bytes()
    }

    /// Books in memory, and those of which something is only kept; all are in memory then.
    async fn with_own(self) -> BTreeSet<String> {
        let books = self.books();
        let mut ids: BTreeSet<String> = gather(books.held.borrow().keys().cloned());
        let store = books.store.borrow().clone();
        if let Some(store) = store {
            for prefix in [names::KEPT, names::DAMAGED] {
                let names = store.names(prefix).await.unwrap_or_default();
                let own = names.iter().filter_map(|name| name.split_once('/'));
                ids.extend(own.map(|(id, _)| id.to_owned()));
            }
        }
        for id in &ids {
            if self.with_book(id, |_| ()).is_none() {
                self.load(id).await;
            }
        }
        ids
    }

    async fn damaged(self, id: &str) -> Vec<DamagedParcel> {
        let store = self.books().store.borrow().clone();
        let Some(store) = store else {
            return Vec::new();
        };
        let found = store.read(&names::damaged(id, ""), &BTreeSet::new()).await;
        let entries = found.unwrap_or_default().entries.into_iter();
        let parcel = entries.map(|entry| DamagedParcel {
            name: entry.name,
            bytes: Bytes(entry.bytes),
        });
        parcel.collect()
    }
}

fn of_kept(kept: Kept) -> KeptParcel {
    KeptParcel {
        story: kept.story,
        document: Bytes(kept.document),
    }
}
