//! Measured coordinates, projected.

use sea_orm::entity::prelude::*;

#[derive(Clone, Debug, PartialEq, DeriveEntityModel)]
#[sea_orm(table_name = "point_state")]
pub(crate) struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub shop_id: String,
    #[sea_orm(primary_key, auto_increment = false)]
    pub doc_id: String,
    #[sea_orm(primary_key, auto_increment = false)]
    pub stage: String,
    #[sea_orm(primary_key, auto_increment = false)]
    pub point: String,
    #[sea_orm(primary_key, auto_increment = false)]
    pub axis: String,
    pub value_mm: f64,
    pub sigma_mm: f64,
    pub deviation_mm: Option<f64>,
    pub deviation_sigma_mm: Option<f64>,
    pub conformity: Option<f64>,
    pub verdict: Option<String>,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub(crate) enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
