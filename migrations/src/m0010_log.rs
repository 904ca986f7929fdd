//! The log of a shop that anybody can verify: its entries as text, its tree, and the key that signs
//! its heads; the statements that its entries name, and the keys that sign them.

use sea_orm_migration::{prelude::*, schema::*};

use crate::helpers::{key, refers};

#[derive(DeriveMigrationName)]
pub(crate) struct Migration;

#[async_trait::async_trait]
impl MigrationTrait for Migration {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        // Belongs to the server, not to a shop: all nodes sign heads with the same key.
        manager
            .create_table(
                Table::create()
                    .table("log_key")
                    .col(integer("id"))
                    .col(binary("seed"))
                    .primary_key(&mut key(&["id"]))
                    .take(),
            )
            .await?;
        manager
            .create_table(
                Table::create()
                    .table("log_head")
                    .col(text("shop_id"))
                    // Number of entries; advanced under a row lock.
                    .col(big_integer("size"))
                    .col(big_integer("last_at_ms"))
                    // The tree's complete parts as JSON.
                    .col(text("frontier"))
                    // The signed head.
                    .col(text("checkpoint"))
                    .primary_key(&mut key(&["shop_id"]))
                    .foreign_key(&mut refers(
                        "log_head_shop",
                        ("log_head", &["shop_id"]),
                        ("shop", &["shop_id"]),
                    ))
                    .take(),
            )
            .await?;
        manager
            .create_table(
                Table::create()
                    .table("log_leaf")
                    .col(text("shop_id"))
                    .col(big_integer("place"))
                    // The bytes that are hashed.
                    .col(text("body"))
                    .primary_key(&mut key(&["shop_id", "place"]))
                    .foreign_key(&mut refers(
                        "log_leaf_head",
                        ("log_leaf", &["shop_id"]),
                        ("log_head", &["shop_id"]),
                    ))
                    .take(),
            )
            .await?;
        manager
            .create_table(
                Table::create()
                    .table("statement")
                    .col(text("shop_id"))
                    .col(text("digest"))
                    .col(text("doc_id"))
                    .col(big_integer("kept_at_ms"))
                    // The bytes that are hashed.
                    .col(text("body"))
                    .primary_key(&mut key(&["shop_id", "digest"]))
                    .foreign_key(&mut refers(
                        "statement_doc",
                        ("statement", &["shop_id", "doc_id"]),
                        ("doc", &["shop_id", "doc_id"]),
                    ))
                    .take(),
            )
            .await?;
        manager
            .create_table(
                Table::create()
                    .table("device_key")
                    .col(text("shop_id"))
                    // Base64 of the public key; it belongs to one person on one device for ever.
                    .col(text("public_key"))
                    .col(text("user_id"))
                    .col(text("device_id"))
                    .col(big_integer("registered_at_ms"))
                    // When another key took its place.
                    .col(big_integer_null("ended_at_ms"))
                    .primary_key(&mut key(&["shop_id", "public_key"]))
                    .foreign_key(&mut refers(
                        "device_key_device",
                        ("device_key", &["shop_id", "device_id", "user_id"]),
                        ("device", &["shop_id", "device_id", "user_id"]),
                    ))
                    .take(),
            )
            .await
    }
}
