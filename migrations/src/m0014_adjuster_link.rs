//! Links for adjusters: one job each, read only, until they run out or are taken back.

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
                    .table("adjuster_link")
                    .col(text("shop_id"))
                    .col(text("link_id"))
                    .col(text("doc_id"))
                    .col(binary("token_hash"))
                    // For whom it was made, in words.
                    .col(text("label"))
                    .col(text("made_by"))
                    .col(big_integer("created_at_ms"))
                    .col(big_integer("expires_at_ms"))
                    .col(big_integer_null("revoked_at_ms"))
                    .col(big_integer_null("last_used_at_ms"))
                    .primary_key(&mut key(&["shop_id", "link_id"]))
                    .foreign_key(&mut refers(
                        "adjuster_link_doc",
                        ("adjuster_link", &["shop_id", "doc_id"]),
                        ("doc", &["shop_id", "doc_id"]),
                    ))
                    .foreign_key(&mut refers(
                        "adjuster_link_user",
                        ("adjuster_link", &["shop_id", "made_by"]),
                        ("user", &["shop_id", "user_id"]),
                    ))
                    .take(),
            )
            .await?;
        manager
            .create_index(index(
                "adjuster_link_token",
                "adjuster_link",
                &["token_hash"],
            ))
            .await?;
        manager
            .create_index(index(
                "adjuster_link_doc_index",
                "adjuster_link",
                &["shop_id", "doc_id"],
            ))
            .await
    }
}
