//! Stages of jobs, projected.

use sea_orm::entity::prelude::*;

#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "stage_state")]
pub(crate) struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub shop_id: String,
    #[sea_orm(primary_key, auto_increment = false)]
    pub doc_id: String,
    #[sea_orm(primary_key, auto_increment = false)]
    pub stage: String,
    pub place: i64,
    pub label: String,
    pub readings: i64,
    pub within: i64,
    pub outside: i64,
    pub unproven: i64,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub(crate) enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
