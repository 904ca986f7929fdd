//! Links with which a person chooses a new password; an owner hands them over.

use sea_orm::sea_query::Expr;
use sea_orm::{ActiveValue::Set, ColumnTrait, EntityTrait, QueryFilter};
use shared::proof::leaf;
use shared::wire::Me;

use super::audit::id;
use super::entity::{reset_link, user};
use super::membership::find_member;
use super::{Event, Store, StoreError, Whose};

impl Store {
    /// Keeps a link for a member; earlier ones for the same member are good no more.
    ///
    /// # Errors
    /// [`StoreError::Missing`] when the shop has no such member.
    pub async fn make_reset_link(
        &self,
        owner: &Me,
        user_id: &str,
        link: (String, Vec<u8>),
        now_ms: i64,
        expires_at_ms: i64,
    ) -> Result<(), StoreError> {
        let transaction = self.begin().await?;
        self.lock_shop(&transaction, &owner.shop).await?;
        find_member(&transaction, &owner.shop, user_id).await?;
        reset_link::Entity::delete_many()
            .filter(reset_link::Column::ShopId.eq(&owner.shop))
            .filter(reset_link::Column::UserId.eq(user_id))
            .filter(reset_link::Column::UsedAtMs.is_null())
            .exec(&transaction)
            .await?;
        reset_link::Entity::insert(reset_link::ActiveModel {
            shop_id: Set(owner.shop.clone()),
            reset_id: Set(link.0),
            user_id: Set(user_id.to_owned()),
            token_hash: Set(link.1),
            made_by: Set(owner.user.clone()),
            created_at_ms: Set(now_ms),
            expires_at_ms: Set(expires_at_ms),
            used_at_ms: Set(None),
        })
        .exec_without_returning(&transaction)
        .await?;
        let what = leaf::Event::ResetLinkMade {
            user: id(user_id, "user")?,
        };
        let event = Event::by(&owner.user, what);
        self.append(&transaction, &owner.shop, event, now_ms)
            .await?;
        transaction.commit().await?;
        Ok(())
    }

    /// Is this link still open?
    ///
    /// # Errors
    /// When the database fails.
    pub async fn reset_link_is_open(
        &self,
        token_hash: &[u8],
        now_ms: i64,
    ) -> Result<bool, StoreError> {
        let found = reset_link::Entity::find()
            .filter(reset_link::Column::TokenHash.eq(token_hash))
            .one(&self.read)
            .await?;
        Ok(found.is_some_and(|link| link.used_at_ms.is_none() && link.expires_at_ms > now_ms))
    }

    /// Uses a link: the new password is kept and all sessions of the person end. Shop, person and
    /// e-mail.
    ///
    /// # Errors
    /// [`StoreError::LinkInvalid`] when it was used, has expired or never existed, or the person was
    /// removed.
    pub async fn use_reset_link(
        &self,
        token_hash: &[u8],
        password_hash: String,
        now_ms: i64,
    ) -> Result<(String, String, String), StoreError> {
        let transaction = self.begin().await?;
        let link = reset_link::Entity::find()
            .filter(reset_link::Column::TokenHash.eq(token_hash))
            .one(&transaction)
            .await?
            .ok_or(StoreError::LinkInvalid)?;
        let used = reset_link::Entity::update_many()
            .col_expr(reset_link::Column::UsedAtMs, Expr::value(now_ms))
            .filter(reset_link::Column::ShopId.eq(&link.shop_id))
            .filter(reset_link::Column::ResetId.eq(&link.reset_id))
            .filter(reset_link::Column::UsedAtMs.is_null())
            .filter(reset_link::Column::ExpiresAtMs.gt(now_ms))
            .exec(&transaction)
            .await?;
        if used.rows_affected != 1 {
            return Err(StoreError::LinkInvalid);
        }
        self.lock_shop(&transaction, &link.shop_id).await?;
        let person = match find_member(&transaction, &link.shop_id, &link.user_id).await {
            Err(StoreError::Missing) => return Err(StoreError::LinkInvalid),
            found => found?,
        };
        user::Entity::update_many()
            .col_expr(user::Column::PasswordHash, Expr::value(password_hash))
            .filter(user::Column::ShopId.eq(&link.shop_id))
            .filter(user::Column::UserId.eq(&link.user_id))
            .exec(&transaction)
            .await?;
        self.end_sessions(&transaction, &link.shop_id, &link.user_id, None, now_ms)
            .await?;
        let what = leaf::Event::PasswordChosen {
            user: id(&link.user_id, "user")?,
        };
        let event = Event::by(&link.user_id, what);
        self.append(&transaction, &link.shop_id, event, now_ms)
            .await?;
        let whose = Whose::Person {
            user: link.user_id.clone(),
        };
        self.commit_revoked(transaction, &link.shop_id, whose)
            .await?;
        Ok((link.shop_id, link.user_id, person.email))
    }
}
