//! Everything that only this phone has, put together for a file.

use std::collections::BTreeSet;

use super::{Kept, Shelf};
use crate::state::parcel::{BookParcel, Bytes, DamagedParcel, KeptParcel, Parcel};
use crate::store::names;

impl Shelf {
    /// The file; `at` is the RFC 3339 time.
    pub async fn parcel(self, at: &str) -> Vec<u8> {
        let mut parcel = Parcel::new(at, &self.device());
        for id in self.with_own().await {
            self.load(&id).await;
            let kept = self.kept(&id).await;
            let damaged = self.damaged(&id).await;
            let book = self.with_book(&id, |held| {
                let (job, _) = shared::book::read(&held.doc);
                BookParcel {
                    id: id.clone(),
                    number: job.card.number,
                    vehicle: job.card.vehicle,
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

    /// Books in memory, and those of which something is only kept.
    async fn with_own(self) -> BTreeSet<String> {
        let books = self.books();
        let mut ids: BTreeSet<String> = books.held.borrow().keys().cloned().collect();
        let store = books.store.borrow().clone();
        if let Some(store) = store {
            for prefix in [names::KEPT, names::DAMAGED] {
                let names = store.names(prefix).await.unwrap_or_default();
                let own = names.iter().filter_map(|name| name.split_once('/'));
                ids.extend(own.map(|(id, _)| id.to_owned()));
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
