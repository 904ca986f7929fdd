//! The list of jobs, projected from the documents; it can be rebuilt from them.

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
                    .table("job_line")
                    .col(text("shop_id"))
                    .col(text("doc_id"))
                    .col(text("number"))
                    .col(text("vehicle"))
                    .col(big_integer("last_activity_at_ms"))
                    .primary_key(&mut key(&["shop_id", "doc_id"]))
                    .foreign_key(&mut refers(
                        "job_line_doc",
                        ("job_line", &["shop_id", "doc_id"]),
                        ("doc", &["shop_id", "doc_id"]),
                    ))
                    .take(),
            )
            .await?;
        Ok(())
    }
}
