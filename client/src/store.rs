//! Everything that must survive on this phone: IndexedDB, strict durability.
//!
//! One object store of sealed bytes under [`names`]. This file refuses to know what the bytes mean.

pub mod names;
mod seal;

use std::collections::BTreeSet;

use indexed_db_futures::KeyRange;
use indexed_db_futures::database::Database;
use indexed_db_futures::error::{DomException, Error, UnexpectedDataError};
use indexed_db_futures::object_store::ObjectStore;
use indexed_db_futures::prelude::*;
use indexed_db_futures::transaction::{TransactionDurability, TransactionMode, TransactionOptions};
use js_sys::Uint8Array;
use wasm_bindgen::{JsCast, JsValue};

/// The database of the shop's books.
pub const BOOKS: &str = "baybook";
/// The one of practice cars: they are never mixed with real ones.
pub const PRACTICE: &str = "baybook-practice";
const STORE: &str = "entries";
/// Behind every name that begins with a prefix.
const LAST: char = '\u{ffff}';

/// Why the browser's store did not do it.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum StoreError {
    /// The phone is full, or its memory fails: a transaction that nobody aborted was aborted.
    #[error("no room")]
    NoRoom,
    /// Another tab has put another replica in this one's place.
    #[error("replaced")]
    Replaced,
    /// Another tab has written since.
    #[error("moved on")]
    MovedOn,
    /// The browser keeps nothing: a private window, or it forbids it.
    #[error("no storage")]
    None,
    /// Anything else, in the browser's words.
    #[error("{0}")]
    Other(String),
}

impl From<Error> for StoreError {
    fn from(error: Error) -> Self {
        match error {
            Error::DomException(DomException::Other(exception))
                if exception.name() == "QuotaExceededError" =>
            {
                Self::NoRoom
            }
            Error::DomException(DomException::AbortError(_))
            | Error::MissingData(UnexpectedDataError::TransactionAborted) => Self::NoRoom,
            error => Self::Other(error.to_string()),
        }
    }
}

/// The phone's store.
#[derive(Debug, Clone)]
pub struct Store {
    database: std::rc::Rc<Database>,
}

/// Puts and deletes that happen together or not at all.
#[derive(Debug, Default)]
pub struct Batch {
    /// Names and bytes to write.
    pub puts: Vec<(String, Vec<u8>)>,
    /// Names to remove.
    pub deletes: Vec<String>,
    /// A name, and what has to be stored there still; empty for nothing.
    pub only_if: Option<(String, String)>,
    /// A prefix, and the names that there have to be behind it still, no more and no less.
    pub only_names: Option<(String, Vec<String>)>,
}

/// What was found under a name.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Entry {
    /// The name, behind the prefix that was asked for.
    pub name: String,
    /// The bytes as they were written, or as they were found.
    pub bytes: Vec<u8>,
    /// Are they exactly what was written?
    pub whole: bool,
}

/// What was found under a prefix.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Found {
    /// All names there, in order, behind the prefix.
    pub names: Vec<String>,
    /// The entries that were not known yet.
    pub entries: Vec<Entry>,
}

impl Store {
    /// Opens a database as a store, making it on the first start.
    ///
    /// # Errors
    /// When the browser has none (a private window, a full disk).
    pub async fn open(database: &str) -> Result<Self, StoreError> {
        let database = Database::open(database)
            .with_version(1_u8)
            .with_on_upgrade_needed(|_, database| {
                database.create_object_store(STORE).build()?;
                Ok(())
            })
            .await
            .map_err(|error| StoreError::Other(error.to_string()))?;
        Ok(Self {
            database: std::rc::Rc::new(database),
        })
    }

    /// Does a batch as one transaction; returns after its `complete` event, when it is on disk.
    ///
    /// # Errors
    /// When nothing of it was done.
    pub async fn write(&self, batch: Batch) -> Result<(), StoreError> {
        let mut options = TransactionOptions::new();
        options.set_durability(TransactionDurability::Strict);
        let transaction = self
            .database
            .transaction(STORE)
            .with_mode(TransactionMode::Readwrite)
            .with_options(options)
            .build()?;
        let store = transaction.object_store(STORE)?;
        if let Some((name, expected)) = batch.only_if {
            let there = get(&store, &name).await?;
            let there = there.as_deref().and_then(seal::open).unwrap_or_default();
            if there != expected.as_bytes() {
                transaction.abort().await?;
                return Err(StoreError::Replaced);
            }
        }
        if let Some((prefix, expected)) = batch.only_names {
            let there = names_under(&store, &prefix).await?;
            if !there.iter().map(|name| &name[prefix.len()..]).eq(&expected) {
                transaction.abort().await?;
                return Err(StoreError::MovedOn);
            }
        }
        for (name, bytes) in batch.puts {
            let value: JsValue = Uint8Array::from(seal::seal(&bytes).as_slice()).into();
            store.put(value).with_key(name).primitive()?.await?;
        }
        for name in batch.deletes {
            store.delete(name).primitive()?.await?;
        }
        Ok(transaction.commit().await?)
    }

    /// All names under a prefix and, in the same look at the disk, the entries that are not `known`.
    ///
    /// # Errors
    /// When the browser refuses.
    pub async fn read(&self, prefix: &str, known: &BTreeSet<String>) -> Result<Found, StoreError> {
        let transaction = self.database.transaction(STORE).build()?;
        let store = transaction.object_store(STORE)?;
        let mut found = Found::default();
        for full in names_under(&store, prefix).await? {
            let name = full[prefix.len()..].to_owned();
            if !known.contains(&name) {
                // Bytes that the browser itself cannot read any more are damaged like others.
                let sealed = get(&store, &full).await.ok().flatten().unwrap_or_default();
                let content = seal::open(&sealed).map(<[u8]>::to_vec);
                found.entries.push(Entry {
                    name: name.clone(),
                    whole: content.is_some(),
                    bytes: content.unwrap_or(sealed),
                });
            }
            found.names.push(name);
        }
        Ok(found)
    }

    /// Something of the browser's own, as it was kept; not bytes.
    ///
    /// # Errors
    /// When the browser refuses.
    pub async fn value(&self, name: &str) -> Result<Option<JsValue>, StoreError> {
        let transaction = self.database.transaction(STORE).build()?;
        let store = transaction.object_store(STORE)?;
        Ok(store.get(name).primitive()?.await?)
    }

    /// Keeps something of the browser's own, which it can copy but need not show: a key.
    ///
    /// # Errors
    /// When the browser refuses.
    pub async fn keep_value(&self, name: &str, value: JsValue) -> Result<(), StoreError> {
        let mut options = TransactionOptions::new();
        options.set_durability(TransactionDurability::Strict);
        let transaction = self
            .database
            .transaction(STORE)
            .with_mode(TransactionMode::Readwrite)
            .with_options(options)
            .build()?;
        let store = transaction.object_store(STORE)?;
        store
            .put(value)
            .with_key(name.to_owned())
            .primitive()?
            .await?;
        Ok(transaction.commit().await?)
    }

    /// All names under a prefix, behind it.
    ///
    /// # Errors
    /// When the browser refuses.
    pub async fn names(&self, prefix: &str) -> Result<Vec<String>, StoreError> {
        let transaction = self.database.transaction(STORE).build()?;
        let store = transaction.object_store(STORE)?;
        let names = names_under(&store, prefix).await?;
        Ok(names
            .into_iter()
            .map(|name| name[prefix.len()..].to_owned())
            .collect())
    }
}

async fn names_under(store: &ObjectStore<'_>, prefix: &str) -> Result<Vec<String>, StoreError> {
    let range = KeyRange::Bound(prefix.to_owned(), false, format!("{prefix}{LAST}"), false);
    let names = store
        .get_all_keys()
        .with_query::<String, _>(range)
        .primitive()?
        .await?;
    Ok(names.collect::<Result<_, _>>()?)
}

/// The bytes under a name; `None` when there is nothing or something else.
async fn get(store: &ObjectStore<'_>, name: &str) -> Result<Option<Vec<u8>>, StoreError> {
    let value: Option<JsValue> = store.get(name).primitive()?.await?;
    Ok(value
        .and_then(|value| value.dyn_into::<Uint8Array>().ok())
        .map(|bytes| bytes.to_vec()))
}
