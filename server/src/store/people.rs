//! People and invitations.

use sea_orm::sea_query::Expr;
use sea_orm::{
    ActiveValue::Set, ColumnTrait, DatabaseTransaction, EntityTrait, QueryFilter, QueryOrder,
};
use shared::proof::leaf;
use shared::wire::{Me, Person, Role};

use super::audit::id;
use super::entity::{invitation, shop, user};
use super::{Event, Store, StoreError, taken};
use crate::clock::rfc3339;

/// A person to be added.
#[derive(Debug, Clone)]
pub struct NewUser {
    /// Fresh id.
    pub user_id: String,
    /// Name.
    pub name: String,
    /// E-mail in lower case.
    pub email: String,
    /// PHC string.
    pub password_hash: String,
}

/// What a sign-in is checked against.
#[derive(Debug, Clone)]
pub struct Credentials {
    /// Shop id.
    pub shop: String,
    /// User id.
    pub user: String,
    /// PHC string.
    pub password_hash: String,
}

pub(super) fn role_text(role: Role) -> &'static str {
    match role {
        Role::Owner => "owner",
        Role::Technician => "technician",
    }
}

pub(super) fn role_of(text: &str) -> Result<Role, StoreError> {
    match text {
        "owner" => Ok(Role::Owner),
        "technician" => Ok(Role::Technician),
        _ => Err(StoreError::Corrupt("role")),
    }
}

pub(super) async fn insert_user(
    transaction: &DatabaseTransaction,
    shop_id: &str,
    new: NewUser,
    role: Role,
    now_ms: i64,
) -> Result<(), StoreError> {
    user::Entity::insert(user::ActiveModel {
        shop_id: Set(shop_id.to_owned()),
        user_id: Set(new.user_id),
        name: Set(new.name),
        email: Set(new.email),
        role: Set(role_text(role).to_owned()),
        password_hash: Set(new.password_hash),
        created_at_ms: Set(now_ms),
        removed_at_ms: Set(None),
    })
    .exec_without_returning(transaction)
    .await
    .map_err(taken("email"))?;
    Ok(())
}

/// The entry of somebody who becomes a member.
pub(super) fn joined(new: &NewUser, role: Role) -> Result<leaf::Event, StoreError> {
    Ok(leaf::Event::PersonJoined {
        user: id(&new.user_id, "user")?,
        name: new.name.clone(),
        role,
    })
}

impl Store {
    /// What a sign-in with this e-mail is checked against.
    ///
    /// # Errors
    /// When the database fails.
    pub async fn credentials(&self, email: &str) -> Result<Option<Credentials>, StoreError> {
        let found = user::Entity::find()
            .filter(user::Column::Email.eq(email))
            .filter(user::Column::RemovedAtMs.is_null())
            .one(&self.read)
            .await?;
        Ok(found.map(|user| Credentials {
            shop: user.shop_id,
            user: user.user_id,
            password_hash: user.password_hash,
        }))
    }

    /// A member as they are now, with their shop.
    ///
    /// # Errors
    /// When the database fails.
    pub async fn me(&self, shop_id: &str, user_id: &str) -> Result<Option<Me>, StoreError> {
        let key = (shop_id.to_owned(), user_id.to_owned());
        let found = user::Entity::find_by_id(key)
            .filter(user::Column::RemovedAtMs.is_null())
            .one(&self.read)
            .await?;
        let Some(user) = found else {
            return Ok(None);
        };
        let shop = shop::Entity::find_by_id(shop_id)
            .one(&self.read)
            .await?
            .ok_or(StoreError::Corrupt("shop of a person"))?;
        Ok(Some(Me {
            role: role_of(&user.role)?,
            user: user.user_id,
            name: user.name,
            email: user.email,
            shop: shop.shop_id,
            shop_name: shop.name,
        }))
    }

    /// Everybody who is or was in a shop, in the order they came.
    ///
    /// # Errors
    /// When the database fails.
    pub async fn people(&self, shop_id: &str) -> Result<Vec<Person>, StoreError> {
        user::Entity::find()
            .filter(user::Column::ShopId.eq(shop_id))
            .order_by_asc(user::Column::UserId)
            .all(&self.read)
            .await?
            .into_iter()
            .map(|user| {
                Ok(Person {
                    role: role_of(&user.role)?,
                    user: user.user_id,
                    name: user.name,
                    email: match user.removed_at_ms {
                        Some(_) => String::new(),
                        None => user.email,
                    },
                    removed_at: user.removed_at_ms.map(rfc3339),
                })
            })
            .collect()
    }

    /// Keeps an invitation.
    ///
    /// # Errors
    /// When the database fails.
    pub async fn invite(
        &self,
        inviter: &Me,
        invitation_id: String,
        token_hash: Vec<u8>,
        role: Role,
        now_ms: i64,
        expires_at_ms: i64,
    ) -> Result<(), StoreError> {
        let transaction = self.begin().await?;
        invitation::Entity::insert(invitation::ActiveModel {
            shop_id: Set(inviter.shop.clone()),
            invitation_id: Set(invitation_id),
            token_hash: Set(token_hash),
            role: Set(role_text(role).to_owned()),
            invited_by: Set(inviter.user.clone()),
            created_at_ms: Set(now_ms),
            expires_at_ms: Set(expires_at_ms),
            used_at_ms: Set(None),
            used_by: Set(None),
        })
        .exec_without_returning(&transaction)
        .await?;
        let event = Event::by(&inviter.user, leaf::Event::PersonInvited { role });
        self.append(&transaction, &inviter.shop, event, now_ms)
            .await?;
        transaction.commit().await?;
        Ok(())
    }

    /// Is this invitation still open?
    ///
    /// # Errors
    /// When the database fails.
    pub async fn invitation_is_open(
        &self,
        token_hash: &[u8],
        now_ms: i64,
    ) -> Result<bool, StoreError> {
        let found = invitation::Entity::find()
            .filter(invitation::Column::TokenHash.eq(token_hash))
            .one(&self.read)
            .await?;
        Ok(found.is_some_and(|i| i.used_at_ms.is_none() && i.expires_at_ms > now_ms))
    }

    /// Uses an invitation: adds the person, and returns the shop's id.
    ///
    /// # Errors
    /// [`StoreError::LinkInvalid`] when it was used, has expired or never existed;
    /// [`StoreError::Taken`] when the e-mail is.
    pub async fn accept_invitation(
        &self,
        token_hash: &[u8],
        new: NewUser,
        now_ms: i64,
    ) -> Result<String, StoreError> {
        let transaction = self.begin().await?;
        let link = invitation::Entity::find()
            .filter(invitation::Column::TokenHash.eq(token_hash))
            .one(&transaction)
            .await?
            .ok_or(StoreError::LinkInvalid)?;
        let used = invitation::Entity::update_many()
            .col_expr(invitation::Column::UsedAtMs, Expr::value(now_ms))
            .col_expr(invitation::Column::UsedBy, Expr::value(&new.user_id))
            .filter(invitation::Column::ShopId.eq(&link.shop_id))
            .filter(invitation::Column::InvitationId.eq(&link.invitation_id))
            .filter(invitation::Column::UsedAtMs.is_null())
            .filter(invitation::Column::ExpiresAtMs.gt(now_ms))
            .exec(&transaction)
            .await?;
        if used.rows_affected != 1 {
            return Err(StoreError::LinkInvalid);
        }
        let (user, role) = (new.user_id.clone(), role_of(&link.role)?);
        let event = joined(&new, role)?;
        insert_user(&transaction, &link.shop_id, new, role, now_ms).await?;
        let event = Event::by(&user, event);
        self.append(&transaction, &link.shop_id, event, now_ms)
            .await?;
        transaction.commit().await?;
        Ok(link.shop_id)
    }

    /// Adds a person without an invitation (the demo).
    ///
    /// # Errors
    /// [`StoreError::Taken`] when the e-mail is.
    pub async fn add_person(
        &self,
        shop_id: &str,
        new: NewUser,
        role: Role,
        now_ms: i64,
    ) -> Result<(), StoreError> {
        let transaction = self.begin().await?;
        let event = Event::nobodys(joined(&new, role)?);
        insert_user(&transaction, shop_id, new, role, now_ms).await?;
        self.append(&transaction, shop_id, event, now_ms).await?;
        transaction.commit().await?;
        Ok(())
    }
}
