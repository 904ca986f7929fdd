//! Sign-offs and what came since, projected.

use sea_orm::entity::prelude::*;

#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "sign_off_state")]
pub(crate) struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub shop_id: String,
    #[sea_orm(primary_key, auto_increment = false)]
    pub doc_id: String,
    #[sea_orm(primary_key, auto_increment = false)]
    pub digest: String,
    pub joins: Option<String>,
    pub stage: String,
    pub user_id: String,
    pub name: String,
    pub at_ms: i64,
    pub readings_since: i64,
    pub is_current: bool,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub(crate) enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
