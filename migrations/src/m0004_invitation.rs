//! Invitations: one-time links that an owner hands over.

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
                    .table("invitation")
                    .col(text("shop_id"))
                    .col(text("invitation_id"))
                    .col(binary("token_hash"))
                    .col(text("role"))
                    .col(text("invited_by"))
                    .col(big_integer("created_at_ms"))
                    .col(big_integer("expires_at_ms"))
                    .col(big_integer_null("used_at_ms"))
                    .col(text_null("used_by"))
                    .primary_key(&mut key(&["shop_id", "invitation_id"]))
                    .foreign_key(&mut refers(
                        "invitation_owner",
                        ("invitation", &["shop_id", "invited_by"]),
                        ("user", &["shop_id", "user_id"]),
                    ))
                    .take(),
            )
            .await?;
        manager
            .create_index(index("invitation_token", "invitation", &["token_hash"]))
            .await?;
        Ok(())
    }
}
