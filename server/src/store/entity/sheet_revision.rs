//! Revisions of sheets; a row is never changed.

use sea_orm::entity::prelude::*;

#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "sheet_revision")]
pub(crate) struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub shop_id: String,
    #[sea_orm(primary_key, auto_increment = false)]
    pub sheet_id: String,
    #[sea_orm(primary_key, auto_increment = false)]
    pub revision: i64,
    pub digest: Vec<u8>,
    pub content: String,
    pub summary: String,
    pub made_by: String,
    pub created_at_ms: i64,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub(crate) enum Relation {
    #[sea_orm(
        belongs_to = "super::sheet::Entity",
        from = "(Column::ShopId, Column::SheetId)",
        to = "(super::sheet::Column::ShopId, super::sheet::Column::SheetId)"
    )]
    Sheet,
}

impl Related<super::sheet::Entity> for Entity {
    fn to() -> RelationDef {
        Relation::Sheet.def()
    }
}

impl ActiveModelBehavior for ActiveModel {}
