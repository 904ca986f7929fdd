//! `baybook rebuild`: the rows for lists and overviews, made anew from the books.

use anyhow::Context;
use clap::Args;

use super::database::DatabaseOptions;
use super::{say, wait};
use crate::live::project::rebuild;
use crate::store::Store;

/// Rebuilds the projected rows.
#[derive(Debug, Args)]
pub struct Rebuild {
    #[command(flatten)]
    database: DatabaseOptions,
}

/// Rebuilds them; a server may run beside it.
///
/// # Errors
/// When the database cannot be opened, or names the book that does not load.
pub(super) fn run(arguments: &Rebuild) -> anyhow::Result<()> {
    let url = arguments.database.url("rw")?;
    let books = wait(async {
        let store = Store::open(&url, rand::random()).await.context(
            "the database cannot be opened; name its folder with --data or its address with DATABASE_URL",
        )?;
        let books = rebuild(&store).await;
        store.close().await?;
        books
    })?;
    say(&format!("{books} books: all rows are made anew.\n"))
}
