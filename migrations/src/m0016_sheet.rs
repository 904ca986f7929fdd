//! The dimension library: sheets of a shop, and their revisions, which never change.

use sea_orm_migration::{prelude::*, schema::*};

use crate::helpers::{key, refers};

#[derive(DeriveMigrationName)]
pub(crate) struct Migration;

#[async_trait::async_trait]
impl MigrationTrait for Migration {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        manager
            .create_table(
                Table::create()
                    .table("sheet")
                    .col(text("shop_id"))
                    .col(text("sheet_id"))
                    // Number of the newest revision.
                    .col(big_integer("latest"))
                    .primary_key(&mut key(&["shop_id", "sheet_id"]))
                    .foreign_key(&mut refers(
                        "sheet_shop",
                        ("sheet", &["shop_id"]),
                        ("shop", &["shop_id"]),
                    ))
                    .take(),
            )
            .await?;
        manager
            .create_table(
                Table::create()
                    .table("sheet_revision")
                    .col(text("shop_id"))
                    .col(text("sheet_id"))
                    .col(big_integer("revision"))
                    // SHA-256 of what it says, as in the log.
                    .col(binary("digest"))
                    // The whole of it, as a sheet file.
                    .col(text("content"))
                    // What a list shows, so that it need not read the content.
                    .col(text("summary"))
                    .col(text("made_by"))
                    .col(big_integer("created_at_ms"))
                    .primary_key(&mut key(&["shop_id", "sheet_id", "revision"]))
                    .foreign_key(&mut refers(
                        "sheet_revision_sheet",
                        ("sheet_revision", &["shop_id", "sheet_id"]),
                        ("sheet", &["shop_id", "sheet_id"]),
                    ))
                    .foreign_key(&mut refers(
                        "sheet_revision_user",
                        ("sheet_revision", &["shop_id", "made_by"]),
                        ("user", &["shop_id", "user_id"]),
                    ))
                    .take(),
            )
            .await
    }
}
