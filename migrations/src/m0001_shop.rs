//! Shops, the one-time link that sets the first one up, and the server's token key.

use sea_orm_migration::{prelude::*, schema::*};

use crate::helpers::key;

#[derive(DeriveMigrationName)]
pub(crate) struct Migration;

#[async_trait::async_trait]
impl MigrationTrait for Migration {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        manager
            .create_table(
                Table::create()
                    .table("shop")
                    .col(text("shop_id"))
                    .col(text("name"))
                    // Number of audit events so far; advanced under a row lock.
                    .col(big_integer("audit_seq").default(0).take())
                    .col(big_integer("created_at_ms"))
                    .primary_key(&mut key(&["shop_id"]))
                    .take(),
            )
            .await?;
        // The shop of a set-up link does not exist yet; its id is chosen with the link.
        manager
            .create_table(
                Table::create()
                    .table("set_up_link")
                    .col(text("shop_id"))
                    .col(binary("token_hash"))
                    .col(big_integer("created_at_ms"))
                    .col(big_integer_null("used_at_ms"))
                    .primary_key(&mut key(&["shop_id"]))
                    .take(),
            )
            .await?;
        // Belongs to the server, not to a shop: all nodes sign access tokens with the same key.
        manager
            .create_table(
                Table::create()
                    .table("token_key")
                    .col(integer("id"))
                    .col(binary("seed"))
                    .col(big_integer("created_at_ms"))
                    .primary_key(&mut key(&["id"]))
                    .take(),
            )
            .await?;
        Ok(())
    }
}
