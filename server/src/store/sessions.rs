//! Refresh tokens: each sign-in is a family; each use replaces the token.
//!
//! A phone may lose the answer that carried its new token. So the last rotation may be repeated
//! as long as its successor was never presented; the successor is then void. Presenting anything
//! older or void revokes the whole family: a thief and the owner can never both go on.

use sea_orm::sea_query::{Expr, Query};
use sea_orm::{
    ActiveValue::Set, ColumnTrait, DatabaseTransaction, EntityTrait, PaginatorTrait, QueryFilter,
    QueryOrder, QuerySelect,
};

use shared::proof::leaf;

use super::audit::id;
use super::entity::refresh_token::{self, Column, Entity};
use super::entity::{session, session_device};
use super::{Credentials, Event, Store, StoreError, Whose};

/// A token to be issued.
#[derive(Debug, Clone)]
pub struct Issue {
    /// Fresh id.
    pub token_id: String,
    /// SHA-256 of the secret.
    pub token_hash: Vec<u8>,
    /// Now.
    pub now_ms: i64,
    /// When it expires.
    pub expires_at_ms: i64,
}

/// What became of a presented refresh token.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Refreshed {
    /// It was good; the new one is issued.
    Rotated {
        /// Shop id.
        shop: String,
        /// User id.
        user: String,
        /// The session.
        session: String,
    },
    /// Unknown or expired.
    Unknown,
    /// Used before: the session has ended.
    Reused,
}

async fn insert(
    transaction: &DatabaseTransaction,
    shop: &str,
    user: &str,
    family: (&str, i64),
    issue: Issue,
) -> Result<(), StoreError> {
    Entity::insert(refresh_token::ActiveModel {
        shop_id: Set(shop.to_owned()),
        token_id: Set(issue.token_id),
        family: Set(family.0.to_owned()),
        generation: Set(family.1),
        user_id: Set(user.to_owned()),
        token_hash: Set(issue.token_hash),
        issued_at_ms: Set(issue.now_ms),
        expires_at_ms: Set(issue.expires_at_ms),
        used_at_ms: Set(None),
        revoked_at_ms: Set(None),
    })
    .exec_without_returning(transaction)
    .await?;
    Ok(())
}

/// Ends the session of a family, and voids its tokens that are still good.
async fn revoke(
    transaction: &DatabaseTransaction,
    token: &refresh_token::Model,
    now_ms: i64,
) -> Result<(), StoreError> {
    Entity::update_many()
        .col_expr(Column::RevokedAtMs, Expr::value(now_ms))
        .filter(Column::ShopId.eq(&token.shop_id))
        .filter(Column::Family.eq(&token.family))
        .filter(Column::RevokedAtMs.is_null())
        .exec(transaction)
        .await?;
    session::Entity::update_many()
        .col_expr(session::Column::EndedAtMs, Expr::value(now_ms))
        .filter(session::Column::ShopId.eq(&token.shop_id))
        .filter(session::Column::SessionId.eq(&token.family))
        .filter(session::Column::EndedAtMs.is_null())
        .exec(transaction)
        .await?;
    Ok(())
}

async fn find(
    transaction: &DatabaseTransaction,
    token_hash: &[u8],
) -> Result<Option<refresh_token::Model>, StoreError> {
    Ok(Entity::find()
        .filter(Column::TokenHash.eq(token_hash))
        .lock_exclusive()
        .one(transaction)
        .await?)
}

/// Has no later token of the family been presented?
async fn is_last_rotation(
    transaction: &DatabaseTransaction,
    token: &refresh_token::Model,
) -> Result<bool, StoreError> {
    let later_used = Entity::find()
        .filter(Column::ShopId.eq(&token.shop_id))
        .filter(Column::Family.eq(&token.family))
        .filter(Column::Generation.gt(token.generation))
        .filter(Column::UsedAtMs.is_not_null())
        .count(transaction)
        .await?;
    Ok(later_used == 0)
}

impl Store {
    /// Begins a family at a sign-in.
    ///
    /// # Errors
    /// When the database fails.
    pub async fn begin_session(
        &self,
        shop: &str,
        user: &str,
        family: &str,
        issue: Issue,
    ) -> Result<(), StoreError> {
        let now_ms = issue.now_ms;
        let transaction = self.begin().await?;
        Entity::delete_many()
            .filter(Column::ShopId.eq(shop))
            .filter(Column::UserId.eq(user))
            .filter(Column::ExpiresAtMs.lte(now_ms))
            .exec(&transaction)
            .await?;
        session::Entity::insert(session::ActiveModel {
            shop_id: Set(shop.to_owned()),
            session_id: Set(family.to_owned()),
            user_id: Set(user.to_owned()),
            begun_at_ms: Set(now_ms),
            ended_at_ms: Set(None),
            taken_back: Set(0),
        })
        .exec_without_returning(&transaction)
        .await?;
        insert(&transaction, shop, user, (family, 1), issue).await?;
        let event = Event::by(user, leaf::Event::SignedIn);
        self.append(&transaction, shop, event, now_ms).await?;
        transaction.commit().await?;
        Ok(())
    }

    /// Records that somebody gave a wrong password for an account.
    ///
    /// # Errors
    /// When the database fails.
    pub async fn record_refused_sign_in(
        &self,
        account: &Credentials,
        now_ms: i64,
    ) -> Result<(), StoreError> {
        let user = id(&account.user, "user")?;
        let event = Event::nobodys(leaf::Event::SignInFailed { user });
        self.record(&account.shop, event, now_ms).await
    }

    /// Replaces a presented token by a new one, or finds out that it was used before.
    ///
    /// # Errors
    /// When the database fails.
    pub async fn refresh(&self, token_hash: &[u8], issue: Issue) -> Result<Refreshed, StoreError> {
        let now_ms = issue.now_ms;
        let transaction = self.begin().await?;
        let Some(token) = find(&transaction, token_hash).await? else {
            return Ok(Refreshed::Unknown);
        };
        let key = (token.shop_id.clone(), token.family.clone());
        let session = session::Entity::find_by_id(key).one(&transaction).await?;
        // A phone whose access was taken back tries once more: no thief.
        let is_taken_back = session.is_some_and(|session| session.taken_back != 0);
        if is_taken_back || token.expires_at_ms <= now_ms {
            return Ok(Refreshed::Unknown);
        }
        let good = token.revoked_at_ms.is_none()
            && (token.used_at_ms.is_none() || is_last_rotation(&transaction, &token).await?);
        if !good {
            revoke(&transaction, &token, now_ms).await?;
            let user = id(&token.user_id, "user")?;
            let event = Event::nobodys(leaf::Event::SessionReused { user });
            self.append(&transaction, &token.shop_id, event, now_ms)
                .await?;
            let whose = Whose::Session {
                session: token.family,
            };
            self.commit_revoked(transaction, &token.shop_id, whose)
                .await?;
            return Ok(Refreshed::Reused);
        }
        // The successor whose answer was lost is void from now on; presenting it is a reuse.
        Entity::update_many()
            .col_expr(Column::RevokedAtMs, Expr::value(now_ms))
            .filter(Column::ShopId.eq(&token.shop_id))
            .filter(Column::Family.eq(&token.family))
            .filter(Column::Generation.gt(token.generation))
            .filter(Column::RevokedAtMs.is_null())
            .exec(&transaction)
            .await?;
        Entity::update_many()
            .col_expr(Column::UsedAtMs, Expr::value(now_ms))
            .filter(Column::ShopId.eq(&token.shop_id))
            .filter(Column::TokenId.eq(&token.token_id))
            .exec(&transaction)
            .await?;
        let newest = Entity::find()
            .filter(Column::ShopId.eq(&token.shop_id))
            .filter(Column::Family.eq(&token.family))
            .order_by_desc(Column::Generation)
            .one(&transaction)
            .await?
            .map_or(token.generation, |newest| newest.generation);
        let family = (token.family.as_str(), newest + 1);
        insert(&transaction, &token.shop_id, &token.user_id, family, issue).await?;
        transaction.commit().await?;
        Ok(Refreshed::Rotated {
            shop: token.shop_id,
            user: token.user_id,
            session: token.family,
        })
    }

    /// Ends the session of a token, if there is one.
    ///
    /// # Errors
    /// When the database fails.
    pub async fn end_session(&self, token_hash: &[u8], now_ms: i64) -> Result<(), StoreError> {
        let transaction = self.begin().await?;
        let Some(token) = find(&transaction, token_hash).await? else {
            return Ok(());
        };
        revoke(&transaction, &token, now_ms).await?;
        let whose = Whose::Session {
            session: token.family,
        };
        self.commit_revoked(transaction, &token.shop_id, whose)
            .await
    }

    /// Ends the sessions of a person: those of one device, or all.
    pub(super) async fn end_sessions(
        &self,
        transaction: &DatabaseTransaction,
        shop: &str,
        user: &str,
        device: Option<&str>,
        now_ms: i64,
    ) -> Result<(), StoreError> {
        let mut open = session::Entity::find()
            .filter(session::Column::ShopId.eq(shop))
            .filter(session::Column::UserId.eq(user))
            .filter(session::Column::EndedAtMs.is_null());
        if let Some(device) = device {
            let used_on = Query::select()
                .column(session_device::Column::SessionId)
                .from(session_device::Entity)
                .and_where(session_device::Column::ShopId.eq(shop))
                .and_where(session_device::Column::DeviceId.eq(device))
                .take();
            open = open.filter(session::Column::SessionId.in_subquery(used_on));
        }
        for session in open.all(transaction).await? {
            Entity::update_many()
                .col_expr(Column::RevokedAtMs, Expr::value(now_ms))
                .filter(Column::ShopId.eq(shop))
                .filter(Column::Family.eq(&session.session_id))
                .filter(Column::RevokedAtMs.is_null())
                .exec(transaction)
                .await?;
            session::Entity::update_many()
                .col_expr(session::Column::EndedAtMs, Expr::value(now_ms))
                .col_expr(session::Column::TakenBack, Expr::value(1))
                .filter(session::Column::ShopId.eq(shop))
                .filter(session::Column::SessionId.eq(&session.session_id))
                .exec(transaction)
                .await?;
        }
        Ok(())
    }
}
