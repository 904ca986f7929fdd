//! Refresh tokens: one family per sign-in, rotated at each use, reuse revokes the family.

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
                    .table("refresh_token")
                    .col(text("shop_id"))
                    .col(text("token_id"))
                    .col(text("family"))
                    // 1 for the sign-in, one more at each rotation.
                    .col(big_integer("generation"))
                    .col(text("user_id"))
                    .col(binary("token_hash"))
                    .col(big_integer("issued_at_ms"))
                    .col(big_integer("expires_at_ms"))
                    .col(big_integer_null("used_at_ms"))
                    .col(big_integer_null("revoked_at_ms"))
                    .primary_key(&mut key(&["shop_id", "token_id"]))
                    .foreign_key(&mut refers(
                        "refresh_token_user",
                        ("refresh_token", &["shop_id", "user_id"]),
                        ("user", &["shop_id", "user_id"]),
                    ))
                    .take(),
            )
            .await?;
        manager
            .create_index(index(
                "refresh_token_hash",
                "refresh_token",
                &["token_hash"],
            ))
            .await?;
        manager
            .create_index(index(
                "refresh_token_family",
                "refresh_token",
                &["shop_id", "family"],
            ))
            .await?;
        Ok(())
    }
}
