//! The seed of the key that signs heads of logs.

use sea_orm::entity::prelude::*;

#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "log_key")]
pub(crate) struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub id: i32,
    pub seed: Vec<u8>,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub(crate) enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
