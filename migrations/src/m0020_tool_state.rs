//! The tools of each job and when they were last checked, projected from its document.

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
                    .table("tool_state")
                    .col(text("shop_id"))
                    .col(text("doc_id"))
                    .col(text("tool"))
                    // As the job file calls it: laser, tape and so on.
                    .col(text("kind"))
                    .col(text("label"))
                    // The newer of its checks; null when none has a time.
                    .col(big_integer_null("checked_at_ms"))
                    .primary_key(&mut key(&["shop_id", "doc_id", "tool"]))
                    .foreign_key(&mut refers(
                        "tool_state_job",
                        ("tool_state", &["shop_id", "doc_id"]),
                        ("job_state", &["shop_id", "doc_id"]),
                    ))
                    .take(),
            )
            .await
    }
}
