//! Opening the database and bringing its schema up to date.

use std::sync::Arc;
use std::time::Duration;

use migrations::{Migrator, MigratorTrait};
use prometheus_client::metrics::family::Family;
use sea_orm::sea_query::OnConflict;
use sea_orm::sqlx::postgres::PgConnectOptions;
use sea_orm::sqlx::sqlite::{SqliteConnectOptions, SqliteJournalMode, SqliteSynchronous};
use sea_orm::{ActiveValue::Set, ConnectOptions, Database, DatabaseConnection, DbErr, EntityTrait};
use shared::proof::Seed;
use tokio::sync::broadcast;

use super::entity::log_key;
use super::notice::WAITING_NOTICES;
use super::tables::applied;
use super::{Store, StoreError};

const BUSY: Duration = Duration::from_secs(10);
const SQLITE_READERS: u32 = 4;
const POSTGRES_POOL: u32 = 16;

pub(super) async fn open(url: &str, connections: u32) -> Result<DatabaseConnection, DbErr> {
    let mut options = ConnectOptions::new(url);
    options
        .max_connections(connections)
        .acquire_timeout(BUSY)
        .connect_timeout(BUSY)
        .sqlx_logging(false)
        .set_application_name("baybook")
        .map_sqlx_sqlite_opts(|options| {
            options
                .journal_mode(SqliteJournalMode::Wal)
                // Acknowledged means on disk: the log is flushed at every commit.
                .synchronous(SqliteSynchronous::Full)
                .foreign_keys(true)
                .busy_timeout(BUSY)
        });
    Database::connect(options).await
}

/// The key of the logs.
async fn log_key(write: &DatabaseConnection, proposal: [u8; 32]) -> Result<Seed, StoreError> {
    let row = log_key::ActiveModel {
        id: Set(1),
        seed: Set(proposal.to_vec()),
    };
    log_key::Entity::insert(row)
        .on_conflict(
            OnConflict::column(log_key::Column::Id)
                .do_nothing()
                .to_owned(),
        )
        .exec_without_returning(write)
        .await?;
    let kept = log_key::Entity::find_by_id(1)
        .one(write)
        .await?
        .ok_or(StoreError::Corrupt("key of the logs"))?;
    let seed: [u8; 32] = kept
        .seed
        .try_into()
        .map_err(|_| StoreError::Corrupt("key of the logs"))?;
    Ok(Seed::new(&seed))
}

impl Store {
    /// Opens the database and applies the changes of the schema it lacks. The seed is a proposal for
    /// the key of the logs; the first proposal is kept for ever.
    ///
    /// # Errors
    /// When it cannot be reached or changed.
    pub async fn open(url: &str, log_seed: [u8; 32]) -> Result<Self, StoreError> {
        let (read, write) = if url.starts_with("sqlite:") {
            let write = open(url, 1).await?;
            (open(url, SQLITE_READERS).await?, write)
        } else {
            let pool = open(url, POSTGRES_POOL).await?;
            (pool.clone(), pool)
        };
        Migrator::up(&write, None).await?;
        let log_key = Arc::new(log_key(&write, log_seed).await?);
        let store = Self {
            read,
            write,
            log_key,
            notices: broadcast::Sender::new(WAITING_NOTICES),
            notices_sent: Family::default(),
        };
        store.begin_logs().await?;
        store.index_logs().await?;
        Ok(store)
    }

    /// Does the database answer, and has it every change of the schema that this program knows? It
    /// may have later ones, of a newer program beside this one.
    ///
    /// # Errors
    /// When it does not answer.
    pub async fn has_all_migrations(&self) -> Result<bool, StoreError> {
        let applied = applied(&self.read).await?;
        let known = Migrator::migrations();
        let mut names = known.iter().map(|migration| migration.name());
        Ok(names.all(|name| applied.iter().any(|applied| applied == name)))
    }

    /// Closes all connections, after their work is done.
    ///
    /// # Errors
    /// When the database does not answer.
    pub async fn close(&self) -> Result<(), StoreError> {
        self.read.close_by_ref().await?;
        self.write.close_by_ref().await?;
        Ok(())
    }
}

/// Is this an address that a database's driver can read?
///
/// # Errors
/// What the driver does not understand; never the address, which holds a password.
pub fn check_address(url: &str) -> Result<(), String> {
    let read = match url.starts_with("sqlite:") {
        true => url.parse::<SqliteConnectOptions>().map(|_| ()),
        false => url.parse::<PgConnectOptions>().map(|_| ()),
    };
    read.map_err(|error| error.to_string())
}
