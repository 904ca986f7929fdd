//! One server on one SQLite file: a lock beside the file, held as long as the server runs.
//!
//! Servers on PostgreSQL hear each other; on SQLite they could not, and phones at one would not see
//! the readings of the other, nor would a removed person's line end there. The command line may open
//! the file beside a server. The system gives the lock back however the server ends.

use std::fs::{File, TryLockError};
use std::path::PathBuf;

use sea_orm::sqlx::sqlite::SqliteConnectOptions;
use thiserror::Error;

/// The right to serve a database; dropping it gives it back.
#[derive(Debug)]
pub struct Serving(Option<File>);

/// Why a database cannot be served.
#[derive(Debug, Error)]
pub enum ServingError {
    /// Somebody does already.
    #[error(
        "another server is running on {0}; stop it first, or use PostgreSQL (DATABASE_URL), which \
         several servers can share"
    )]
    Taken(PathBuf),
    /// The lock's file.
    #[error(
        "{0} cannot be locked: {1}; check DATABASE_URL, and that its folder is there and can be written"
    )]
    File(PathBuf, std::io::Error),
}

impl Serving {
    /// Takes the right to serve this database.
    ///
    /// # Errors
    /// [`ServingError`], which says what to change.
    pub fn take(url: &str) -> Result<Self, ServingError> {
        let Some(database) = file_of(url) else {
            return Ok(Self(None));
        };
        let mut name = database.clone().into_os_string();
        name.push(".serving");
        let path = PathBuf::from(name);
        let file = File::create(&path).map_err(|error| ServingError::File(path.clone(), error))?;
        match file.try_lock() {
            Ok(()) => Ok(Self(Some(file))),
            Err(TryLockError::WouldBlock) => Err(ServingError::Taken(database)),
            Err(TryLockError::Error(error)) => Err(ServingError::File(path, error)),
        }
    }
}

impl Drop for Serving {
    fn drop(&mut self) {
        if let Some(file) = &self.0 {
            // Closing the file gives the lock back as well.
            let _ = file.unlock();
        }
    }
}

/// The file of an SQLite database, unless it is in memory or the address is another database's.
fn file_of(url: &str) -> Option<PathBuf> {
    let options: SqliteConnectOptions = url.parse().ok().filter(|_| url.starts_with("sqlite:"))?;
    let file = options.get_filename().to_path_buf();
    let in_memory = url.contains(":memory:") || url.contains("mode=memory");
    (!in_memory).then_some(file)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn serves_a_file_once() {
        let folder = std::env::temp_dir().join(format!("baybook-serving-{}", std::process::id()));
        std::fs::create_dir_all(&folder).unwrap();
        let url = format!("sqlite://{}/book.sqlite?mode=rwc", folder.display());
        let first = Serving::take(&url).unwrap();
        let second = Serving::take(&url).unwrap_err();
        assert!(second.to_string().contains("book.sqlite;"), "{second}");
        drop(first);
        drop(Serving::take(&url).unwrap());
        std::fs::remove_dir_all(folder).unwrap();
    }

    #[test]
    fn knows_files() {
        assert_eq!(
            file_of("sqlite://a/b.sqlite?mode=rw"),
            Some("a/b.sqlite".into())
        );
        assert_eq!(file_of("sqlite::memory:"), None);
        assert_eq!(file_of("postgres://u@h/d"), None);
    }
}
