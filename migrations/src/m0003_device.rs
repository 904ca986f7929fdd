//! Devices, and the document actors each one writes under for one person.

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
                    .table("device")
                    .col(text("shop_id"))
                    .col(text("device_id"))
                    .col(text("user_id"))
                    .col(big_integer("first_seen_at_ms"))
                    .col(big_integer("last_seen_at_ms"))
                    // Two people may share one phone; each of them is a row.
                    .primary_key(&mut key(&["shop_id", "device_id", "user_id"]))
                    .foreign_key(&mut refers(
                        "device_user",
                        ("device", &["shop_id", "user_id"]),
                        ("user", &["shop_id", "user_id"]),
                    ))
                    .take(),
            )
            .await?;
        manager
            .create_table(
                Table::create()
                    .table("actor")
                    .col(text("shop_id"))
                    .col(text("actor"))
                    .col(text("user_id"))
                    .col(text("device_id"))
                    .col(big_integer("registered_at_ms"))
                    .primary_key(&mut key(&["shop_id", "actor"]))
                    .foreign_key(&mut refers(
                        "actor_device",
                        ("actor", &["shop_id", "device_id", "user_id"]),
                        ("device", &["shop_id", "device_id", "user_id"]),
                    ))
                    .take(),
            )
            .await?;
        Ok(())
    }
}
