//! Everything kept: shops, people, tokens, books and their changes, the audit log.
//!
//! The only place that knows the database. It refuses to know HTTP, documents and the clock:
//! times (milliseconds since 1970) and new ids are arguments.

mod entity;
mod connect;
mod audit;
mod shops;
mod people;
mod sessions;
mod devices;
mod docs;
mod refused;
mod statements;
mod projections;
mod overview;
mod tables;
mod dump;
mod notice;
mod serving;

use std::sync::Arc;

use sea_orm::{DatabaseConnection, DatabaseTransaction, DbErr, SqlErr};
use sea_orm::{SqliteTransactionMode, TransactionOptions, TransactionTrait};
use shared::proof::Seed;
use thiserror::Error;
use tokio::sync::broadcast;

pub use audit::{Event, Exported};
pub use docs::{Batch, DocKey, Kept, Later, NewChange, Projection, Sender, Stored};
pub use dump::{DumpError, dump, restore};
pub use notice::{Heard, Notice, Own, Revoked, Wire};
pub use people::{Credentials, NewUser};
pub use projections::{PairRow, PointRow, Projected, SignOffRow, StageRow};
pub use refused::Refused;
pub use serving::{Serving, ServingError};
pub use sessions::{Issue, Refreshed};

/// The database, as two doors: SQLite has one writer at a time, so writes queue here and never
/// fail for being second; reads go on beside them. With PostgreSQL both doors are one pool.
#[derive(Debug, Clone)]
pub struct Store {
    read: DatabaseConnection,
    write: DatabaseConnection,
    /// Signs the heads of all logs.
    log_key: Arc<Seed>,
    /// What this server tells itself.
    notices: broadcast::Sender<Notice>,
}

/// Why something could not be kept or found.
#[derive(Debug, Error)]
pub enum StoreError {
    /// Something with this name exists.
    #[error("{0} is taken")]
    Taken(String),
    /// A one-time link that was used, has expired or never existed.
    #[error("the link is not valid")]
    LinkInvalid,
    /// Something that does not fit what is kept.
    #[error("{0} does not fit what is kept")]
    Unfit(&'static str),
    /// The database failed.
    #[error("database: {0}")]
    Database(#[from] DbErr),
    /// A stored value that this server cannot have written.
    #[error("stored {0} is not of the form")]
    Corrupt(&'static str),
}

/// Names what is taken, when the error is a broken uniqueness.
fn taken(subject: &str) -> impl Fn(DbErr) -> StoreError + '_ {
    move |error| match error.sql_err() {
        Some(SqlErr::UniqueConstraintViolation(_)) => StoreError::Taken(subject.to_owned()),
        _ => StoreError::Database(error),
    }
}

impl Store {
    /// Begins a transaction that will write.
    async fn begin(&self) -> Result<DatabaseTransaction, DbErr> {
        self.write
            .begin_with_options(TransactionOptions {
                sqlite_transaction_mode: Some(SqliteTransactionMode::Immediate),
                ..TransactionOptions::default()
            })
            .await
    }
}
