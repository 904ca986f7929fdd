//! Accepted changes.

use sea_orm::entity::prelude::*;

#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "doc_change")]
pub(crate) struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub shop_id: String,
    #[sea_orm(primary_key, auto_increment = false)]
    pub doc_id: String,
    #[sea_orm(primary_key, auto_increment = false)]
    pub seq: i64,
    pub hash: Vec<u8>,
    pub actor: String,
    pub actor_seq: i64,
    pub user_id: String,
    pub device_id: String,
    pub received_at_ms: i64,
    pub bytes: Vec<u8>,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub(crate) enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
