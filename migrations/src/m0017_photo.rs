//! Photos of jobs: the files in pieces, and uploads that are under way.

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
                    .table("photo")
                    .col(text("shop_id"))
                    .col(text("doc_id"))
                    // SHA-256 of the file.
                    .col(binary("digest"))
                    .col(text("media"))
                    .col(big_integer("bytes"))
                    // The upload that brought it; its pieces are the file.
                    .col(text("upload_id"))
                    .col(text("sent_by"))
                    .col(big_integer("received_at_ms"))
                    .primary_key(&mut key(&["shop_id", "doc_id", "digest"]))
                    .foreign_key(&mut refers(
                        "photo_doc",
                        ("photo", &["shop_id", "doc_id"]),
                        ("doc", &["shop_id", "doc_id"]),
                    ))
                    .take(),
            )
            .await?;
        manager
            .create_table(
                Table::create()
                    .table("photo_upload")
                    .col(text("shop_id"))
                    .col(text("upload_id"))
                    .col(text("doc_id"))
                    .col(binary("digest"))
                    .col(text("media"))
                    // Whole size of the file, and how much of it is here.
                    .col(big_integer("bytes"))
                    .col(big_integer("received"))
                    .col(text("sent_by"))
                    .col(big_integer("expires_at_ms"))
                    .primary_key(&mut key(&["shop_id", "upload_id"]))
                    .foreign_key(&mut refers(
                        "photo_upload_doc",
                        ("photo_upload", &["shop_id", "doc_id"]),
                        ("doc", &["shop_id", "doc_id"]),
                    ))
                    .take(),
            )
            .await?;
        manager
            .create_table(
                Table::create()
                    .table("photo_piece")
                    .col(text("shop_id"))
                    .col(text("upload_id"))
                    // From 0; all but the last are of the same size.
                    .col(big_integer("number"))
                    .col(binary("bytes"))
                    .primary_key(&mut key(&["shop_id", "upload_id", "number"]))
                    .take(),
            )
            .await?;
        manager
            .create_index(index(
                "photo_received",
                "photo",
                &["shop_id", "received_at_ms"],
            ))
            .await
    }
}
