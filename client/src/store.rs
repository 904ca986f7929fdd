//! Everything that must survive on this phone: IndexedDB, strict durability.
//!
//! One object store of bytes under names. A book is a snapshot and the changes after it:
//!
//! ```text
//! book/ID/snapshot         the whole book up to some moment
//! book/ID/change/ULID      changes after it
//! book/ID/intent/ULID      what a person meant and the server has not confirmed yet
//! meta/ID                  what the list of cars shows
//! kept/ID/ULID             a replica that the server refused, never thrown away
//! ```
//!
//! This file refuses to know what the bytes mean.

use indexed_db_futures::KeyRange;
use indexed_db_futures::database::Database;
use indexed_db_futures::prelude::*;
use indexed_db_futures::transaction::{TransactionDurability, TransactionMode, TransactionOptions};
use js_sys::Uint8Array;
use wasm_bindgen::JsValue;

const DATABASE: &str = "baybook";
const STORE: &str = "entries";
/// Behind every name that begins with a prefix.
const LAST: char = '\u{ffff}';

/// Why the browser's store did not do it.
#[derive(Debug, Clone, thiserror::Error)]
#[error("this browser's storage refused: {0}")]
pub struct StoreError(String);

fn fail(error: impl std::fmt::Display) -> StoreError {
    StoreError(error.to_string())
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
}

impl Store {
    /// Opens the store, making it on the first start.
    ///
    /// # Errors
    /// When the browser has none (a private window, a full disk).
    pub async fn open() -> Result<Self, StoreError> {
        let database = Database::open(DATABASE)
            .with_version(1_u8)
            .with_on_upgrade_needed(|_, database| {
                database.create_object_store(STORE).build()?;
                Ok(())
            })
            .await
            .map_err(fail)?;
        Ok(Self {
            database: std::rc::Rc::new(database),
        })
    }

    /// Does a batch; returns when it is on disk.
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
            .build()
            .map_err(fail)?;
        let store = transaction.object_store(STORE).map_err(fail)?;
        for (name, bytes) in batch.puts {
            let value: JsValue = Uint8Array::from(bytes.as_slice()).into();
            store
                .put(value)
                .with_key(name)
                .primitive()
                .map_err(fail)?
                .await
                .map_err(fail)?;
        }
        for name in batch.deletes {
            store
                .delete(name)
                .primitive()
                .map_err(fail)?
                .await
                .map_err(fail)?;
        }
        transaction.commit().await.map_err(fail)
    }

    /// Everything whose name begins with a prefix, in order of names.
    ///
    /// # Errors
    /// When the browser refuses.
    pub async fn read(&self, prefix: &str) -> Result<Vec<(String, Vec<u8>)>, StoreError> {
        let range = || KeyRange::Bound(prefix.to_owned(), false, format!("{prefix}{LAST}"), false);
        let transaction = self.database.transaction(STORE).build().map_err(fail)?;
        let store = transaction.object_store(STORE).map_err(fail)?;
        let names: Vec<String> = store
            .get_all_keys()
            .with_query::<String, _>(range())
            .primitive()
            .map_err(fail)?
            .await
            .map_err(fail)?
            .collect::<Result<_, _>>()
            .map_err(fail)?;
        let values: Vec<JsValue> = store
            .get_all()
            .with_query::<String, _>(range())
            .primitive()
            .map_err(fail)?
            .await
            .map_err(fail)?
            .collect::<Result<_, _>>()
            .map_err(fail)?;
        Ok(names
            .into_iter()
            .zip(values.iter().map(|value| Uint8Array::new(value).to_vec()))
            .collect())
    }
}
