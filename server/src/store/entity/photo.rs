//! Photos that are here whole; a row is never changed.

use sea_orm::entity::prelude::*;

#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "photo")]
pub(crate) struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub shop_id: String,
    #[sea_orm(primary_key, auto_increment = false)]
    pub doc_id: String,
    #[sea_orm(primary_key, auto_increment = false)]
    pub digest: Vec<u8>,
    pub media: String,
    pub bytes: i64,
    pub upload_id: String,
    pub sent_by: String,
    pub received_at_ms: i64,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub(crate) enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
