//! Opening the database and bringing its schema up to date.

use std::time::Duration;

use migrations::{Migrator, MigratorTrait};
use sea_orm::sqlx::sqlite::{SqliteJournalMode, SqliteSynchronous};
use sea_orm::{ConnectOptions, Database, DatabaseConnection, DbErr};

use super::{Store, StoreError};

const BUSY: Duration = Duration::from_secs(10);
const SQLITE_READERS: u32 = 4;
const POSTGRES_POOL: u32 = 16;

async fn open(url: &str, connections: u32) -> Result<DatabaseConnection, DbErr> {
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

impl Store {
    /// Opens the database and applies the changes of the schema it lacks.
    ///
    /// # Errors
    /// When it cannot be reached or changed.
    pub async fn open(url: &str) -> Result<Self, StoreError> {
        let store = if url.starts_with("sqlite:") {
            let write = open(url, 1).await?;
            let read = open(url, SQLITE_READERS).await?;
            Self { read, write }
        } else {
            let pool = open(url, POSTGRES_POOL).await?;
            Self {
                read: pool.clone(),
                write: pool,
            }
        };
        Migrator::up(&store.write, None).await?;
        Ok(store)
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
