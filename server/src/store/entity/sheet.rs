//! Sheets of the dimension library.

use sea_orm::entity::prelude::*;

#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "sheet")]
pub(crate) struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub shop_id: String,
    #[sea_orm(primary_key, auto_increment = false)]
    pub sheet_id: String,
    pub latest: i64,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub(crate) enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
