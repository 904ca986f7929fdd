//! `baybook restore`: a backup into an empty database of either engine, verified before it is served.

use std::path::PathBuf;

use anyhow::Context;
use clap::Args;
use shared::plain::{clip, plain};
use shared::sync::replay;

use super::backup::{bad, open, read_through, says};
use super::database::DatabaseOptions;
use super::{BadInput, say, wait};
use crate::live::load::verify;
use crate::store::{DumpError, Exported, Serving, Store, restore};

/// Most characters that are said of one fault.
const MAX_SAID: usize = 2_000;

/// Restores a backup.
#[derive(Debug, Args)]
pub struct Restore {
    /// The file that `baybook backup` wrote.
    #[arg(long)]
    from: PathBuf,
    #[command(flatten)]
    database: DatabaseOptions,
}

/// Restores it.
///
/// # Errors
/// [`BadInput`] when the backup or the database cannot be used; the database is as it was then. Or
/// in words what does not hold in what was restored.
pub(super) fn run(arguments: &Restore) -> anyhow::Result<()> {
    let from = &arguments.from;
    // All of it is read before anything is written.
    let header = read_through(from).map_err(|fault| bad(from, &fault.to_string()))?;
    let url = arguments.database.url("rwc")?;
    if arguments.database.database_url.is_none() {
        std::fs::create_dir_all(&arguments.database.data)?;
    }
    let serving = Serving::take(&url)?;
    let backup = open(from).map_err(|fault| bad(from, &fault.to_string()))?;
    wait(async { Ok(restore(&url, backup).await) })?.map_err(refusal)?;
    let report = wait(check(&url)).context(
        "the rows are in the database, but something in them does not hold; do not serve it, and \
         compare with the database that the backup is of",
    )?;
    drop(serving);
    say(&format!("Restored {}\n{report}", says(&header)))
}

/// What somebody can change is said without the command's name before it.
fn refusal(error: DumpError) -> anyhow::Error {
    match error {
        DumpError::Database(_) | DumpError::Write(_) => {
            anyhow::Error::from(error).context("nothing was restored")
        }
        error => BadInput(error.to_string()).into(),
    }
}

/// Does every book load, and every log hold?
async fn check(url: &str) -> anyhow::Result<String> {
    let store = Store::open(url, rand::random()).await?;
    let checked = check_all(&store).await;
    store.close().await?;
    checked
}

async fn check_all(store: &Store) -> anyhow::Result<String> {
    let books = store.all_docs().await?;
    for key in &books {
        verify(store, key)
            .await
            .with_context(|| format!("book {} of shop {}", key.doc, key.shop))?;
    }
    let mut text = format!("Every book loads: {}.\n", books.len());
    let shops = match store.export_log(Some("")).await? {
        Exported::NoSuchShop(shops) => shops,
        Exported::Bundle(_) => Vec::new(),
    };
    for (shop, name) in shops {
        let Exported::Bundle(bundle) = store.export_log(Some(&shop)).await? else {
            anyhow::bail!("shop {shop} is gone");
        };
        let report = replay::verify(&bundle);
        let name = plain(&name).into_owned();
        if let Some(fault) = &report.fault {
            let fault = fault.to_string();
            let fault = plain(&fault);
            anyhow::bail!("the log of {name}: {}", clip(&fault, MAX_SAID));
        }
        text += &format!(
            "The log of {name} holds: {} entries, {} jobs, {} changes, {} sign-offs computed again.\n",
            report.leaves, report.jobs, report.changes, report.sign_offs
        );
    }
    Ok(text)
}
