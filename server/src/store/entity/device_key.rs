//! Keys with which devices sign statements.

use sea_orm::entity::prelude::*;

#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "device_key")]
pub(crate) struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub shop_id: String,
    #[sea_orm(primary_key, auto_increment = false)]
    pub public_key: String,
    pub user_id: String,
    pub device_id: String,
    pub registered_at_ms: i64,
    pub ended_at_ms: Option<i64>,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub(crate) enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
