//! The last backup.

use sea_orm::entity::prelude::*;

#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "backup_state")]
pub(crate) struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub id: i64,
    pub made_at_ms: i64,
    pub bytes: i64,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub(crate) enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
