//! Which revision of a sheet all shops of this server may see.

use sea_orm::entity::prelude::*;

#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "sheet_publication")]
pub(crate) struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub shop_id: String,
    #[sea_orm(primary_key, auto_increment = false)]
    pub sheet_id: String,
    pub revision: i64,
    pub published_by: String,
    pub published_at_ms: i64,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub(crate) enum Relation {
    #[sea_orm(
        belongs_to = "super::sheet_revision::Entity",
        from = "(Column::ShopId, Column::SheetId, Column::Revision)",
        to = "(super::sheet_revision::Column::ShopId, super::sheet_revision::Column::SheetId, super::sheet_revision::Column::Revision)"
    )]
    Revision,
    #[sea_orm(
        belongs_to = "super::shop::Entity",
        from = "Column::ShopId",
        to = "super::shop::Column::ShopId"
    )]
    Shop,
}

impl Related<super::sheet_revision::Entity> for Entity {
    fn to() -> RelationDef {
        Relation::Revision.def()
    }
}

impl Related<super::shop::Entity> for Entity {
    fn to() -> RelationDef {
        Relation::Shop.def()
    }
}

impl ActiveModelBehavior for ActiveModel {}
