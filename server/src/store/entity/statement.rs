//! Signed statements.

use sea_orm::entity::prelude::*;

#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "statement")]
pub(crate) struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub shop_id: String,
    #[sea_orm(primary_key, auto_increment = false)]
    pub digest: String,
    pub doc_id: String,
    pub kept_at_ms: i64,
    pub body: String,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub(crate) enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
