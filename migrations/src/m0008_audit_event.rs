//! Audit events of a shop in order; rows are only ever added.

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
                    .table("audit_event")
                    .col(text("shop_id"))
                    .col(big_integer("seq"))
                    .col(big_integer("at_ms"))
                    .col(text("kind"))
                    .col(text_null("user_id"))
                    .col(text_null("device_id"))
                    .col(text_null("doc_id"))
                    // JSON with what the kind needs.
                    .col(text("detail"))
                    .primary_key(&mut key(&["shop_id", "seq"]))
                    .foreign_key(&mut refers(
                        "audit_event_shop",
                        ("audit_event", &["shop_id"]),
                        ("shop", &["shop_id"]),
                    ))
                    .take(),
            )
            .await?;
        Ok(())
    }
}
