//! Heads of logs.

use sea_orm::entity::prelude::*;

#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "log_head")]
pub(crate) struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub shop_id: String,
    pub size: i64,
    pub last_at_ms: i64,
    pub frontier: String,
    pub checkpoint: String,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub(crate) enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
