//! Shops, the one-time set-up link, and the key that signs access tokens.

use sea_orm::sea_query::{Expr, OnConflict};
use sea_orm::{
    ActiveValue::Set, ColumnTrait, DatabaseTransaction, EntityTrait, PaginatorTrait, QueryFilter,
};
use shared::proof::leaf;
use shared::wire::Role;

use super::entity::{set_up_link, shop, token_key};
use super::people::{insert_user, joined};
use super::{Event, NewUser, Store, StoreError};

impl Store {
    /// The seed of the token key; the first caller's proposal is kept for ever.
    ///
    /// # Errors
    /// When the database fails.
    pub async fn token_seed(&self, proposal: [u8; 32], now_ms: i64) -> Result<Vec<u8>, StoreError> {
        token_key::Entity::insert(token_key::ActiveModel {
            id: Set(1),
            seed: Set(proposal.to_vec()),
            created_at_ms: Set(now_ms),
        })
        .on_conflict(
            OnConflict::column(token_key::Column::Id)
                .do_nothing()
                .to_owned(),
        )
        .exec_without_returning(&self.write)
        .await?;
        let key = token_key::Entity::find_by_id(1)
            .one(&self.write)
            .await?
            .ok_or(StoreError::Corrupt("token key"))?;
        Ok(key.seed)
    }

    /// Is there a shop yet?
    ///
    /// # Errors
    /// When the database fails.
    pub async fn has_shop(&self) -> Result<bool, StoreError> {
        Ok(shop::Entity::find().count(&self.read).await? > 0)
    }

    /// Replaces the open set-up link; only the newest works, and only until the first shop.
    ///
    /// # Errors
    /// When the database fails.
    pub async fn renew_set_up_link(
        &self,
        shop_id: &str,
        token_hash: Vec<u8>,
        now_ms: i64,
    ) -> Result<(), StoreError> {
        let transaction = self.begin().await?;
        set_up_link::Entity::delete_many()
            .filter(set_up_link::Column::UsedAtMs.is_null())
            .exec(&transaction)
            .await?;
        set_up_link::Entity::insert(set_up_link::ActiveModel {
            shop_id: Set(shop_id.to_owned()),
            token_hash: Set(token_hash),
            created_at_ms: Set(now_ms),
            used_at_ms: Set(None),
        })
        .exec_without_returning(&transaction)
        .await?;
        transaction.commit().await?;
        Ok(())
    }

    /// Is this set-up link still open?
    ///
    /// # Errors
    /// When the database fails.
    pub async fn set_up_link_is_open(&self, token_hash: &[u8]) -> Result<bool, StoreError> {
        let open = set_up_link::Entity::find()
            .filter(set_up_link::Column::TokenHash.eq(token_hash))
            .filter(set_up_link::Column::UsedAtMs.is_null())
            .count(&self.read)
            .await?;
        Ok(open > 0)
    }

    /// Uses the set-up link: makes the shop and its owner, and returns the shop's id.
    ///
    /// # Errors
    /// [`StoreError::LinkInvalid`] when the link was used, replaced, or never existed.
    pub async fn set_up_shop(
        &self,
        token_hash: &[u8],
        shop_name: &str,
        owner: NewUser,
        now_ms: i64,
    ) -> Result<String, StoreError> {
        let transaction = self.begin().await?;
        let link = set_up_link::Entity::find()
            .filter(set_up_link::Column::TokenHash.eq(token_hash))
            .one(&transaction)
            .await?
            .ok_or(StoreError::LinkInvalid)?;
        let used = set_up_link::Entity::update_many()
            .col_expr(set_up_link::Column::UsedAtMs, Expr::value(now_ms))
            .filter(set_up_link::Column::ShopId.eq(&link.shop_id))
            .filter(set_up_link::Column::UsedAtMs.is_null())
            .exec(&transaction)
            .await?;
        if used.rows_affected != 1 {
            return Err(StoreError::LinkInvalid);
        }
        self.insert_shop(&transaction, &link.shop_id, shop_name, owner, now_ms)
            .await?;
        transaction.commit().await?;
        Ok(link.shop_id)
    }

    /// Makes a shop and its owner without a link (the demo).
    ///
    /// # Errors
    /// [`StoreError::Taken`] when the e-mail is.
    pub async fn make_shop(
        &self,
        shop_id: &str,
        shop_name: &str,
        owner: NewUser,
        now_ms: i64,
    ) -> Result<(), StoreError> {
        let transaction = self.begin().await?;
        self.insert_shop(&transaction, shop_id, shop_name, owner, now_ms)
            .await?;
        transaction.commit().await?;
        Ok(())
    }

    async fn insert_shop(
        &self,
        transaction: &DatabaseTransaction,
        shop_id: &str,
        name: &str,
        owner: NewUser,
        now_ms: i64,
    ) -> Result<(), StoreError> {
        shop::Entity::insert(shop::ActiveModel {
            shop_id: Set(shop_id.to_owned()),
            name: Set(name.to_owned()),
            audit_seq: Set(0),
            created_at_ms: Set(now_ms),
            two_people: Set(0),
        })
        .exec_without_returning(transaction)
        .await?;
        let (user, name) = (owner.user_id.clone(), name.to_owned());
        let joins = Event::by(&user, joined(&owner, Role::Owner)?);
        insert_user(transaction, shop_id, owner, Role::Owner, now_ms).await?;
        let set_up = Event::nobodys(leaf::Event::ShopSetUp { name });
        self.append(transaction, shop_id, set_up, now_ms).await?;
        self.append(transaction, shop_id, joins, now_ms).await
    }
}
