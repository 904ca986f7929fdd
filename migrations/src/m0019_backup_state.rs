//! When a backup of this database was last written and read again: one row, or none.

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
                    .table("backup_state")
                    // Always 1.
                    .col(big_integer("id"))
                    // As of when its rows are.
                    .col(big_integer("made_at_ms"))
                    .col(big_integer("bytes"))
                    .primary_key(&mut key(&["id"]))
                    .take(),
            )
            .await
    }
}
