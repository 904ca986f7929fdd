//! Everything kept: shops, people, tokens, books and their changes, the audit log.
//!
//! The only place that knows the database. It refuses to know HTTP, documents and the clock:
//! times (milliseconds since 1970) and new ids are arguments.

mod entity;
mod connect;
mod audit;
mod sheets;
mod shops;
mod people;
mod membership;
mod resets;
mod sessions;
mod standing;
mod devices;
mod links;
mod docs;
mod refused;
mod statements;
mod projections;
mod overview;
mod desk;
mod photos;
mod tables;
mod dump;
mod notice;
mod serving;

use std::sync::Arc;

use prometheus_client::metrics::counter::Counter;
use prometheus_client::metrics::family::Family;
use sea_orm::sea_query::Expr;
use sea_orm::{ColumnTrait, EntityTrait, ExprTrait, QueryFilter};
use sea_orm::{DatabaseConnection, DatabaseTransaction, DbErr, SqlErr};
use sea_orm::{SqliteTransactionMode, TransactionOptions, TransactionTrait};
use shared::proof::Seed;
use thiserror::Error;
use tokio::sync::broadcast;

pub use audit::{Event, Exported, LogQuery};
pub use connect::check_address;
pub use desk::note_backup;
pub use devices::Boarded;
pub use docs::{Batch, DocKey, Kept, Later, NewChange, Projection, Sender, Stored};
pub use dump::{DumpError, dump, restore};
pub use links::{Followed, NewLink};
pub use notice::{Heard, Notice, Own, Revoked, Whisper, Whose, Wire};
pub use people::{Credentials, NewUser};
pub use photos::{MAX_DAY_BYTES, MAX_JOB_BYTES, NewUpload, PhotoFile, UPLOAD_RESTS_MS, Upload};
pub use projections::{PairRow, PointRow, Projected, SignOffRow, StageRow, ToolRow};
pub use refused::Refused;
pub use serving::{Serving, ServingError};
pub use sessions::{Issue, Refreshed};
pub use sheets::Place;
pub use statements::Received;

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
    /// How much it has told the others.
    notices_sent: Family<notice::Kind, Counter>,
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
    /// No room for this job, or for this shop today.
    #[error("no room: {0}")]
    Full(&'static str),
    /// The shop has no such person, device, link or book.
    #[error("no such thing in this shop")]
    Missing,
    /// The shop would be without an owner.
    #[error("the shop would be without an owner")]
    LastOwner,
    /// A countersignature of one's own sign-off, where the shop asks for two people.
    #[error("the shop asks for two people")]
    OnePerson,
    /// A device that was revoked, in a session that is older.
    #[error("the device was revoked")]
    Revoked,
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
    /// Takes the lock of a shop's row until the transaction ends, so that what is counted in it stays
    /// as it was counted.
    async fn lock_shop(&self, transaction: &DatabaseTransaction, shop: &str) -> Result<(), DbErr> {
        let seq = Expr::col(entity::shop::Column::AuditSeq).add(0);
        entity::shop::Entity::update_many()
            .col_expr(entity::shop::Column::AuditSeq, seq)
            .filter(entity::shop::Column::ShopId.eq(shop))
            .exec(transaction)
            .await?;
        Ok(())
    }

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
