//! Which revision of a sheet all shops of this server may see.

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
                    .table("sheet_publication")
                    .col(text("shop_id"))
                    .col(text("sheet_id"))
                    .col(big_integer("revision"))
                    .col(text("published_by"))
                    .col(big_integer("published_at_ms"))
                    // One revision of a sheet at a time.
                    .primary_key(&mut key(&["shop_id", "sheet_id"]))
                    .foreign_key(&mut refers(
                        "sheet_publication_revision",
                        ("sheet_publication", &["shop_id", "sheet_id", "revision"]),
                        ("sheet_revision", &["shop_id", "sheet_id", "revision"]),
                    ))
                    .foreign_key(&mut refers(
                        "sheet_publication_user",
                        ("sheet_publication", &["shop_id", "published_by"]),
                        ("user", &["shop_id", "user_id"]),
                    ))
                    .take(),
            )
            .await?;
        // Other shops ask for it without knowing whose it is.
        manager
            .create_index(index(
                "sheet_published",
                "sheet_publication",
                &["sheet_id", "shop_id"],
            ))
            .await
    }
}
