//! People with an account; an e-mail signs in to one shop.

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
                    .table("user")
                    .col(text("shop_id"))
                    .col(text("user_id"))
                    .col(text("name"))
                    .col(text("email"))
                    .col(text("role"))
                    .col(text("password_hash"))
                    .col(big_integer("created_at_ms"))
                    .primary_key(&mut key(&["shop_id", "user_id"]))
                    .foreign_key(&mut refers(
                        "user_shop",
                        ("user", &["shop_id"]),
                        ("shop", &["shop_id"]),
                    ))
                    .take(),
            )
            .await?;
        manager
            .create_index(unique("user_email", "user", &["email"]))
            .await?;
        Ok(())
    }
}
