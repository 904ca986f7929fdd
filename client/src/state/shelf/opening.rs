//! The shelf when the app starts: the store, the list of cars, and what nobody else has.

use std::collections::BTreeSet;

use leptos::prelude::*;

use super::{Notice, Shelf};
use crate::json;
use crate::state::held::Cover;
use crate::store::{self, Store, names};
use shared::adjust::sorting::gather;

impl Shelf {
    /// Opens the store, lists the books, and loads those with changes that nobody else has.
    pub async fn open(self) {
        if let Some(store) = self.open_store(store::BOOKS).await {
            self.load_waiting().await;
            self.load_uncovered(&store).await;
        }
        self.ready.set(true);
        self.join_tabs();
    }

    /// Opens a shelf that stays alone: other tabs and the line never hear of it.
    pub(in crate::state) async fn open_alone(self, database: &str) {
        self.open_store(database).await;
        self.ready.set(true);
    }

    /// Opens the store, and lists the books in it.
    async fn open_store(self, database: &str) -> Option<Store> {
        let store = match Store::open(database).await {
            Ok(store) => store,
            Err(error) => {
                self.tell_person(Notice::NotSaved(error));
                return None;
            }
        };
        *self.books().store.borrow_mut() = Some(store.clone());
        let found = store.read(names::COVERS, &BTreeSet::new()).await;
        let entries = found.unwrap_or_default().entries.into_iter();
        let covers = entries.filter_map(|entry| json::read(&entry.bytes));
        self.covers.set(covers.collect());
        Some(store)
    }

    /// Loads the books with changes that nobody else has.
    pub(in crate::state) async fn load_waiting(self) {
        let store = self.books().store.borrow().clone();
        if let Some(store) = store {
            let stored = store.names(names::BOOKS).await.unwrap_or_default();
            for id in names::books_with_intents(&stored) {
                self.load(&id).await;
            }
        }
    }

    /// Loads the books of which the list of cars shows nothing, because that was damaged.
    async fn load_uncovered(self, store: &Store) {
        let stored = store.names(names::BOOKS).await.unwrap_or_default();
        let ids = stored.iter().filter_map(|name| name.split_once('/'));
        let ids: BTreeSet<String> = gather(ids.map(|(id, _)| id.to_owned()));
        for id in ids {
            let is_covered = |covers: &Vec<Cover>| covers.iter().any(|cover| cover.id == id);
            if !self.covers.with_untracked(is_covered) {
                self.load(&id).await;
                self.refresh_cover(&id);
            }
        }
    }
}
