//! The seed of the key that signs access tokens.

use sea_orm::entity::prelude::*;

#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "token_key")]
pub(crate) struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub id: i32,
    pub seed: Vec<u8>,
    pub created_at_ms: i64,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub(crate) enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
