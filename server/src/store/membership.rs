//! What an owner changes of the shop's people: roles, who is a member, the rules for all.
//!
//! Each is an entry of the log in the same transaction. A shop always keeps an owner.

use sea_orm::sea_query::Expr;
use sea_orm::{
    ActiveValue::Set, ColumnTrait, DatabaseTransaction, EntityTrait, IntoActiveModel,
    PaginatorTrait, QueryFilter,
};
use shared::proof::leaf;
use shared::wire::{Me, Role, ShopRules};

use super::audit::id;
use super::entity::{device_key, invitation, reset_link, shop, user};
use super::people::role_text;
use super::{Event, Store, StoreError, Whose};

/// A member of the shop, locked with it.
pub(super) async fn find_member(
    transaction: &DatabaseTransaction,
    shop_id: &str,
    user_id: &str,
) -> Result<user::Model, StoreError> {
    user::Entity::find_by_id((shop_id.to_owned(), user_id.to_owned()))
        .filter(user::Column::RemovedAtMs.is_null())
        .one(transaction)
        .await?
        .ok_or(StoreError::Missing)
}

/// Refuses when this person is the only owner.
async fn needs_another_owner(
    transaction: &DatabaseTransaction,
    person: &user::Model,
) -> Result<(), StoreError> {
    let others = user::Entity::find()
        .filter(user::Column::ShopId.eq(&person.shop_id))
        .filter(user::Column::UserId.ne(&person.user_id))
        .filter(user::Column::Role.eq(role_text(Role::Owner)))
        .filter(user::Column::RemovedAtMs.is_null())
        .count(transaction)
        .await?;
    match others {
        0 if person.role == role_text(Role::Owner) => Err(StoreError::LastOwner),
        _ => Ok(()),
    }
}

/// Links that a person handed over as an owner are good no more.
async fn void_links_of(
    transaction: &DatabaseTransaction,
    person: &user::Model,
    now_ms: i64,
) -> Result<(), StoreError> {
    invitation::Entity::update_many()
        .col_expr(invitation::Column::ExpiresAtMs, Expr::value(now_ms))
        .filter(invitation::Column::ShopId.eq(&person.shop_id))
        .filter(invitation::Column::InvitedBy.eq(&person.user_id))
        .filter(invitation::Column::UsedAtMs.is_null())
        .filter(invitation::Column::ExpiresAtMs.gt(now_ms))
        .exec(transaction)
        .await?;
    reset_link::Entity::update_many()
        .col_expr(reset_link::Column::ExpiresAtMs, Expr::value(now_ms))
        .filter(reset_link::Column::ShopId.eq(&person.shop_id))
        .filter(reset_link::Column::MadeBy.eq(&person.user_id))
        .filter(reset_link::Column::UsedAtMs.is_null())
        .filter(reset_link::Column::ExpiresAtMs.gt(now_ms))
        .exec(transaction)
        .await?;
    Ok(())
}

impl Store {
    /// Gives a member another role; the same role again changes nothing.
    ///
    /// # Errors
    /// [`StoreError::Missing`] when the shop has no such member, [`StoreError::LastOwner`] when the
    /// shop would be without an owner.
    pub async fn change_role(
        &self,
        owner: &Me,
        user_id: &str,
        role: Role,
        now_ms: i64,
    ) -> Result<(), StoreError> {
        let transaction = self.begin().await?;
        self.lock_shop(&transaction, &owner.shop).await?;
        let person = find_member(&transaction, &owner.shop, user_id).await?;
        if person.role == role_text(role) {
            return Ok(());
        }
        if role != Role::Owner {
            needs_another_owner(&transaction, &person).await?;
            void_links_of(&transaction, &person, now_ms).await?;
        }
        let changed = user::ActiveModel {
            role: Set(role_text(role).to_owned()),
            ..person.into_active_model()
        };
        user::Entity::update(changed).exec(&transaction).await?;
        let what = leaf::Event::RoleChanged {
            user: id(user_id, "user")?,
            role,
        };
        let event = Event::by(&owner.user, what);
        self.append(&transaction, &owner.shop, event, now_ms)
            .await?;
        transaction.commit().await?;
        Ok(())
    }

    /// Takes somebody out of the shop: their sessions and keys end, their e-mail is free again. What
    /// they did stays in the books and in the log under their name.
    ///
    /// # Errors
    /// [`StoreError::Missing`] when the shop has no such member, [`StoreError::LastOwner`] when the
    /// shop would be without an owner.
    pub async fn remove_person(
        &self,
        owner: &Me,
        user_id: &str,
        now_ms: i64,
    ) -> Result<(), StoreError> {
        let transaction = self.begin().await?;
        self.lock_shop(&transaction, &owner.shop).await?;
        let person = find_member(&transaction, &owner.shop, user_id).await?;
        needs_another_owner(&transaction, &person).await?;
        void_links_of(&transaction, &person, now_ms).await?;
        self.end_sessions(&transaction, &owner.shop, user_id, None, now_ms)
            .await?;
        device_key::Entity::update_many()
            .col_expr(device_key::Column::EndedAtMs, Expr::value(now_ms))
            .filter(device_key::Column::ShopId.eq(&owner.shop))
            .filter(device_key::Column::UserId.eq(user_id))
            .filter(device_key::Column::EndedAtMs.is_null())
            .exec(&transaction)
            .await?;
        let removed = user::ActiveModel {
            removed_at_ms: Set(Some(now_ms)),
            // Nobody's address: it has no @.
            email: Set(user_id.to_owned()),
            password_hash: Set(String::new()),
            ..person.into_active_model()
        };
        user::Entity::update(removed).exec(&transaction).await?;
        let what = leaf::Event::PersonRemoved {
            user: id(user_id, "user")?,
        };
        let event = Event::by(&owner.user, what);
        self.append(&transaction, &owner.shop, event, now_ms)
            .await?;
        let whose = Whose::Person {
            user: user_id.to_owned(),
        };
        self.commit_revoked(transaction, &owner.shop, whose).await
    }

    /// The rules of a shop.
    ///
    /// # Errors
    /// When the database fails.
    pub async fn rules(&self, shop_id: &str) -> Result<ShopRules, StoreError> {
        let shop = shop::Entity::find_by_id(shop_id)
            .one(&self.read)
            .await?
            .ok_or(StoreError::Missing)?;
        Ok(ShopRules {
            two_people: shop.two_people != 0,
        })
    }

    /// Sets the rules of a shop; the same again changes nothing.
    ///
    /// # Errors
    /// When the database fails.
    pub async fn set_rules(
        &self,
        owner: &Me,
        rules: ShopRules,
        now_ms: i64,
    ) -> Result<(), StoreError> {
        let transaction = self.begin().await?;
        self.lock_shop(&transaction, &owner.shop).await?;
        let changed = shop::Entity::update_many()
            .col_expr(
                shop::Column::TwoPeople,
                Expr::value(i32::from(rules.two_people)),
            )
            .filter(shop::Column::ShopId.eq(&owner.shop))
            .filter(shop::Column::TwoPeople.ne(i32::from(rules.two_people)))
            .exec(&transaction)
            .await?;
        if changed.rows_affected == 0 {
            return Ok(());
        }
        let what = leaf::Event::CountersignRule {
            two_people: rules.two_people,
        };
        let event = Event::by(&owner.user, what);
        self.append(&transaction, &owner.shop, event, now_ms)
            .await?;
        transaction.commit().await?;
        Ok(())
    }
}
