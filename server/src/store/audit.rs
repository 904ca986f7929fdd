//! The audit log: events of a shop in order, added in the transaction of what they tell.

use sea_orm::sea_query::Expr;
use sea_orm::{
    ActiveValue::Set, ColumnTrait, DatabaseTransaction, EntityTrait, ExprTrait, QueryFilter,
};

use super::entity::{audit_event, shop};
use super::{Store, StoreError};

/// One event.
#[derive(Debug, Clone, Default)]
pub struct Event {
    /// What happened, as a stable word.
    pub kind: &'static str,
    /// Who did it.
    pub user: Option<String>,
    /// On which device.
    pub device: Option<String>,
    /// To which document.
    pub doc: Option<String>,
    /// What else the kind needs.
    pub detail: serde_json::Value,
}

/// Adds an event within a transaction; the shop's row is locked until it ends.
pub(super) async fn append(
    transaction: &DatabaseTransaction,
    shop_id: &str,
    event: Event,
    at_ms: i64,
) -> Result<(), StoreError> {
    shop::Entity::update_many()
        .col_expr(
            shop::Column::AuditSeq,
            Expr::col(shop::Column::AuditSeq).add(1),
        )
        .filter(shop::Column::ShopId.eq(shop_id))
        .exec(transaction)
        .await?;
    let shop = shop::Entity::find_by_id(shop_id)
        .one(transaction)
        .await?
        .ok_or(StoreError::Corrupt("shop of an audit event"))?;
    audit_event::Entity::insert(audit_event::ActiveModel {
        shop_id: Set(shop_id.to_owned()),
        seq: Set(shop.audit_seq),
        at_ms: Set(at_ms),
        kind: Set(event.kind.to_owned()),
        user_id: Set(event.user),
        device_id: Set(event.device),
        doc_id: Set(event.doc),
        detail: Set(event.detail.to_string()),
    })
    .exec_without_returning(transaction)
    .await?;
    Ok(())
}

impl Store {
    /// Records an event that stands alone.
    ///
    /// # Errors
    /// When the database fails.
    pub async fn record(&self, shop_id: &str, event: Event, at_ms: i64) -> Result<(), StoreError> {
        let transaction = self.begin().await?;
        append(&transaction, shop_id, event, at_ms).await?;
        transaction.commit().await?;
        Ok(())
    }
}
