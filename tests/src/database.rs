//! A database of one's own for one test, on either engine.

use std::path::PathBuf;

use anyhow::{Context, Result};
use sqlx::any::install_default_drivers;
use sqlx::{AnyConnection, Connection, Executor};
use ulid::Ulid;

/// The databases that the server speaks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Engine {
    /// One file.
    Sqlite,
    /// A server, whose administrator's address is in `BAYBOOK_TEST_POSTGRES`.
    Postgres,
}

/// A folder, and a database in it or beside it. Dropping it removes the folder; a PostgreSQL
/// database goes with the test's server.
#[derive(Debug)]
pub struct Scratch {
    /// Folder for the server's own files.
    pub folder: PathBuf,
    /// Address of the database.
    pub url: String,
}

impl Scratch {
    /// Makes an empty database.
    ///
    /// # Errors
    /// When there is no PostgreSQL to make one in.
    pub async fn new(engine: Engine) -> Result<Self> {
        let name = format!(
            "baybook_test_{}",
            Ulid::generate().to_string().to_lowercase()
        );
        let folder = std::env::temp_dir().join(&name);
        std::fs::create_dir_all(&folder)?;
        let url = match engine {
            Engine::Sqlite => format!("sqlite://{}/book.sqlite?mode=rwc", folder.display()),
            Engine::Postgres => postgres(&name).await?,
        };
        Ok(Self { folder, url })
    }

    /// Opens the database behind the server's back.
    ///
    /// # Errors
    /// When it does not answer.
    pub async fn connect(&self) -> Result<AnyConnection> {
        install_default_drivers();
        Ok(AnyConnection::connect(&self.url).await?)
    }

    /// The number that a query answers.
    ///
    /// # Errors
    /// When the query fails.
    pub async fn number(&self, query: &'static str) -> Result<i64> {
        let mut connection = self.connect().await?;
        let number: i64 = sqlx::query_scalar(query).fetch_one(&mut connection).await?;
        connection.close().await?;
        Ok(number)
    }
}

async fn postgres(name: &str) -> Result<String> {
    let admin = std::env::var("BAYBOOK_TEST_POSTGRES").context(
        "BAYBOOK_TEST_POSTGRES is not set: run the tests with `cargo xtask test`, which starts a \
         PostgreSQL server for them, or set it to an administrator's address of one",
    )?;
    install_default_drivers();
    let mut connection = AnyConnection::connect(&admin)
        .await
        .with_context(|| format!("PostgreSQL does not answer at {admin}"))?;
    let create = format!("CREATE DATABASE {name}");
    connection.execute(sqlx::AssertSqlSafe(create)).await?;
    connection.close().await?;
    let (server, _) = admin
        .rsplit_once('/')
        .context("BAYBOOK_TEST_POSTGRES names no database")?;
    Ok(format!("{server}/{name}"))
}

impl Drop for Scratch {
    fn drop(&mut self) {
        if let Err(error) = std::fs::remove_dir_all(&self.folder) {
            eprintln!("leaving {}: {error}", self.folder.display());
        }
    }
}
