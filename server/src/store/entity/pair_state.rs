//! Measured quantities of pairs, projected.

use sea_orm::entity::prelude::*;

#[derive(Clone, Debug, PartialEq, DeriveEntityModel)]
#[sea_orm(table_name = "pair_state")]
pub(crate) struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub shop_id: String,
    #[sea_orm(primary_key, auto_increment = false)]
    pub doc_id: String,
    #[sea_orm(primary_key, auto_increment = false)]
    pub stage: String,
    #[sea_orm(primary_key, auto_increment = false)]
    pub left_point: String,
    #[sea_orm(primary_key, auto_increment = false)]
    pub right_point: String,
    #[sea_orm(primary_key, auto_increment = false)]
    pub quantity: String,
    pub value_mm: f64,
    pub sigma_mm: f64,
    pub target_mm: Option<f64>,
    pub conformity: Option<f64>,
    pub verdict: Option<String>,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub(crate) enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
