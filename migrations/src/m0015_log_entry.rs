//! Rows to search a log by: one per entry, rebuilt from the entries when the server starts. The
//! table `audit_event` stays as it is for shops that are older than their log, and gets no more rows.

use sea_orm_migration::{prelude::*, schema::*};

use crate::helpers::{index, key, refers};

#[derive(DeriveMigrationName)]
pub(crate) struct Migration;

#[async_trait::async_trait]
impl MigrationTrait for Migration {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        manager
            .create_table(
                Table::create()
                    .table("log_entry")
                    .col(text("shop_id"))
                    .col(big_integer("place"))
                    .col(big_integer("at_ms"))
                    .col(text("kind"))
                    // Who did it, and whom it is about.
                    .col(text_null("user_id"))
                    .col(text_null("about_id"))
                    .col(text_null("doc_id"))
                    .primary_key(&mut key(&["shop_id", "place"]))
                    .foreign_key(&mut refers(
                        "log_entry_shop",
                        ("log_entry", &["shop_id"]),
                        ("shop", &["shop_id"]),
                    ))
                    .take(),
            )
            .await?;
        for (name, column) in [
            ("log_entry_user", "user_id"),
            ("log_entry_about", "about_id"),
            ("log_entry_doc", "doc_id"),
            ("log_entry_kind", "kind"),
        ] {
            let by = index(name, "log_entry", &["shop_id", column, "place"]);
            manager.create_index(by).await?;
        }
        Ok(())
    }
}
