//! Documents, their changes (the record, kept for ever) and verified snapshots (a cache).

use sea_orm_migration::{prelude::*, schema::*};

use crate::helpers::{key, refers, unique};

#[derive(DeriveMigrationName)]
pub(crate) struct Migration;

#[async_trait::async_trait]
impl MigrationTrait for Migration {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        manager
            .create_table(
                Table::create()
                    .table("doc")
                    .col(text("shop_id"))
                    .col(text("doc_id"))
                    // Number of changes accepted so far; advanced under a row lock.
                    .col(big_integer("seq"))
                    .col(text("created_by"))
                    .col(big_integer("created_at_ms"))
                    .primary_key(&mut key(&["shop_id", "doc_id"]))
                    .foreign_key(&mut refers(
                        "doc_shop",
                        ("doc", &["shop_id"]),
                        ("shop", &["shop_id"]),
                    ))
                    .take(),
            )
            .await?;
        manager
            .create_table(
                Table::create()
                    .table("doc_change")
                    .col(text("shop_id"))
                    .col(text("doc_id"))
                    .col(big_integer("seq"))
                    .col(binary("hash"))
                    .col(text("actor"))
                    .col(big_integer("actor_seq"))
                    .col(text("user_id"))
                    .col(text("device_id"))
                    .col(big_integer("received_at_ms"))
                    .col(binary("bytes"))
                    .primary_key(&mut key(&["shop_id", "doc_id", "seq"]))
                    .foreign_key(&mut refers(
                        "doc_change_doc",
                        ("doc_change", &["shop_id", "doc_id"]),
                        ("doc", &["shop_id", "doc_id"]),
                    ))
                    .take(),
            )
            .await?;
        manager
            .create_index(unique(
                "doc_change_hash",
                "doc_change",
                &["shop_id", "doc_id", "hash"],
            ))
            .await?;
        manager
            .create_index(unique(
                "doc_change_actor_seq",
                "doc_change",
                &["shop_id", "doc_id", "actor", "actor_seq"],
            ))
            .await?;
        manager
            .create_table(
                Table::create()
                    .table("doc_snapshot")
                    .col(text("shop_id"))
                    .col(text("doc_id"))
                    // The snapshot holds exactly the changes 1..=seq.
                    .col(big_integer("seq"))
                    .col(big_integer("made_at_ms"))
                    .col(binary("bytes"))
                    .primary_key(&mut key(&["shop_id", "doc_id"]))
                    .foreign_key(&mut refers(
                        "doc_snapshot_doc",
                        ("doc_snapshot", &["shop_id", "doc_id"]),
                        ("doc", &["shop_id", "doc_id"]),
                    ))
                    .take(),
            )
            .await?;
        Ok(())
    }
}
