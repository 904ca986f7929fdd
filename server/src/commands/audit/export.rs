//! `baybook audit export`: everything that a log names, as of one moment, also while the server runs.

use std::path::PathBuf;

use anyhow::Context;
use clap::Args;
use shared::plain::plain;
use shared::proof::bundle::Bundle;

use crate::commands::database::DatabaseOptions;
use crate::commands::{BadInput, say, wait};
use crate::store::{Exported, Store};

/// Writes a shop's log into a file.
#[derive(Debug, Args)]
pub struct Export {
    /// The shop's id; not needed when there is only one.
    #[arg(long)]
    shop: Option<String>,
    /// The file to write.
    #[arg(long)]
    out: PathBuf,
    #[command(flatten)]
    database: DatabaseOptions,
}

/// Writes it.
///
/// # Errors
/// [`BadInput`] when there is no such shop or database; nothing has been written then.
pub(super) fn run(export: &Export) -> anyhow::Result<()> {
    let url = export.database.url("rw")?;
    let bundle = wait(read(&url, export.shop.as_deref()))?;
    let text = bundle.to_lines().context("writing the log as text")?;
    std::fs::write(&export.out, text).with_context(|| {
        format!(
            "{} cannot be written; choose another file with --out",
            export.out.display()
        )
    })?;
    let name = export.out.display().to_string();
    say(&format!(
        "{}: {}\nkey {}\n",
        plain(&name),
        bundle.counts(),
        bundle.key
    ))
}

async fn read(url: &str, shop: Option<&str>) -> anyhow::Result<Bundle> {
    let store = Store::open(url, rand::random()).await.context(
        "the database cannot be opened; name its folder with --data or its address with DATABASE_URL",
    )?;
    let exported = store.export_log(shop).await;
    store.close().await?;
    match exported? {
        Exported::Bundle(bundle) => Ok(*bundle),
        Exported::NoSuchShop(shops) if shops.is_empty() => {
            Err(BadInput("there is no shop in this database yet".to_owned()).into())
        }
        Exported::NoSuchShop(shops) => {
            let lines = shops
                .iter()
                .map(|(id, name)| format!("  --shop {id}  {}", plain(name)));
            let lines: Vec<String> = lines.collect();
            Err(BadInput(format!("choose one of these shops:\n{}", lines.join("\n"))).into())
        }
    }
}
