//! Refused changes, kept with the reason so that nothing is lost in silence.

use sea_orm_migration::{prelude::*, schema::*};

use crate::helpers::{index, key};

#[derive(DeriveMigrationName)]
pub(crate) struct Migration;

#[async_trait::async_trait]
impl MigrationTrait for Migration {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        manager
            .create_table(
                Table::create()
                    .table("quarantine")
                    .col(text("shop_id"))
                    .col(text("quarantine_id"))
                    .col(text("doc_id"))
                    .col(text("user_id"))
                    .col(text("device_id"))
                    .col(text("reason"))
                    .col(big_integer("received_at_ms"))
                    .col(binary("bytes"))
                    .primary_key(&mut key(&["shop_id", "quarantine_id"]))
                    .take(),
            )
            .await?;
        manager
            .create_index(index(
                "quarantine_doc",
                "quarantine",
                &["shop_id", "doc_id"],
            ))
            .await?;
        Ok(())
    }
}
