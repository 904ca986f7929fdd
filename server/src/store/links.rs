//! Links for adjusters: one job each, only the hash of the secret is kept.

use std::collections::HashMap;

use sea_orm::sea_query::Expr;
use sea_orm::{ActiveValue::Set, ColumnTrait, EntityTrait, QueryFilter, QueryOrder};
use shared::proof::leaf;
use shared::wire::{LinkLine, Me};

use super::audit::id;
use super::entity::{adjuster_link, doc, shop, user};
use super::{Event, Store, StoreError, Whose};
use crate::clock::rfc3339;

/// A link to be made.
#[derive(Debug, Clone)]
pub struct NewLink {
    /// Fresh id.
    pub link_id: String,
    /// SHA-256 of the secret.
    pub token_hash: Vec<u8>,
    /// For whom, in words.
    pub label: String,
    /// When it expires.
    pub expires_at_ms: i64,
}

/// What a good link shows.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Followed {
    /// Document id of the job.
    pub book: String,
    /// Name of the shop.
    pub shop_name: String,
    /// When the link expires.
    pub expires_at_ms: i64,
}

fn is_good(link: &adjuster_link::Model, now_ms: i64) -> bool {
    link.revoked_at_ms.is_none() && link.expires_at_ms > now_ms
}

impl Store {
    /// Keeps a link to a job.
    ///
    /// # Errors
    /// [`StoreError::Missing`] when the shop has no such book.
    pub async fn make_link(
        &self,
        me: &Me,
        book: &str,
        new: NewLink,
        now_ms: i64,
    ) -> Result<(), StoreError> {
        let transaction = self.begin().await?;
        let known = doc::Entity::find_by_id((me.shop.clone(), book.to_owned()));
        if known.one(&transaction).await?.is_none() {
            return Err(StoreError::Missing);
        }
        let what = leaf::Event::LinkMade {
            job: id(book, "document")?,
            link: new.link_id.clone(),
            expires_at_ms: new.expires_at_ms,
        };
        adjuster_link::Entity::insert(adjuster_link::ActiveModel {
            shop_id: Set(me.shop.clone()),
            link_id: Set(new.link_id),
            doc_id: Set(book.to_owned()),
            token_hash: Set(new.token_hash),
            label: Set(new.label),
            made_by: Set(me.user.clone()),
            created_at_ms: Set(now_ms),
            expires_at_ms: Set(new.expires_at_ms),
            revoked_at_ms: Set(None),
            last_used_at_ms: Set(None),
        })
        .exec_without_returning(&transaction)
        .await?;
        let event = Event::by(&me.user, what);
        self.append(&transaction, &me.shop, event, now_ms).await?;
        transaction.commit().await?;
        Ok(())
    }

    /// Links of a shop, of one job or of all, the newest first.
    ///
    /// # Errors
    /// When the database fails.
    pub async fn links(&self, shop: &str, book: Option<&str>) -> Result<Vec<LinkLine>, StoreError> {
        let mut query =
            adjuster_link::Entity::find().filter(adjuster_link::Column::ShopId.eq(shop));
        if let Some(book) = book {
            query = query.filter(adjuster_link::Column::DocId.eq(book));
        }
        let links = query
            .order_by_desc(adjuster_link::Column::LinkId)
            .all(&self.read)
            .await?;
        let names: HashMap<String, String> = user::Entity::find()
            .filter(user::Column::ShopId.eq(shop))
            .all(&self.read)
            .await?
            .into_iter()
            .map(|user| (user.user_id, user.name))
            .collect();
        let line = |link: adjuster_link::Model| LinkLine {
            made_by: names.get(&link.made_by).cloned().unwrap_or_default(),
            id: link.link_id,
            book: link.doc_id,
            label: link.label,
            made_at: rfc3339(link.created_at_ms),
            expires_at: rfc3339(link.expires_at_ms),
            revoked_at: link.revoked_at_ms.map(rfc3339),
            last_used_at: link.last_used_at_ms.map(rfc3339),
        };
        Ok(links.into_iter().map(line).collect())
    }

    /// Takes a link back; twice is no error.
    ///
    /// # Errors
    /// [`StoreError::Missing`] when the shop has no such link.
    pub async fn revoke_link(&self, me: &Me, link_id: &str, now_ms: i64) -> Result<(), StoreError> {
        let transaction = self.begin().await?;
        let link = adjuster_link::Entity::find_by_id((me.shop.clone(), link_id.to_owned()))
            .one(&transaction)
            .await?
            .ok_or(StoreError::Missing)?;
        let revoked = adjuster_link::Entity::update_many()
            .col_expr(adjuster_link::Column::RevokedAtMs, Expr::value(now_ms))
            .filter(adjuster_link::Column::ShopId.eq(&me.shop))
            .filter(adjuster_link::Column::LinkId.eq(link_id))
            .filter(adjuster_link::Column::RevokedAtMs.is_null())
            .exec(&transaction)
            .await?;
        if revoked.rows_affected == 0 {
            return Ok(());
        }
        let what = leaf::Event::LinkRevoked {
            job: id(&link.doc_id, "document")?,
            link: link.link_id,
        };
        let event = Event::by(&me.user, what);
        self.append(&transaction, &me.shop, event, now_ms).await?;
        let whose = Whose::Link {
            link: link_id.to_owned(),
        };
        self.commit_revoked(transaction, &me.shop, whose).await
    }

    /// The link behind a secret, if it is good; notes that it was opened. Shop, link, what it shows.
    ///
    /// # Errors
    /// [`StoreError::LinkInvalid`] when it was revoked, has expired or never existed.
    pub async fn open_link(
        &self,
        token_hash: &[u8],
        now_ms: i64,
    ) -> Result<(String, String, Followed), StoreError> {
        let link = adjuster_link::Entity::find()
            .filter(adjuster_link::Column::TokenHash.eq(token_hash))
            .one(&self.read)
            .await?
            .ok_or(StoreError::LinkInvalid)?;
        let followed = self
            .followed(&link.shop_id, &link.link_id, now_ms)
            .await?
            .ok_or(StoreError::LinkInvalid)?;
        adjuster_link::Entity::update_many()
            .col_expr(adjuster_link::Column::LastUsedAtMs, Expr::value(now_ms))
            .filter(adjuster_link::Column::ShopId.eq(&link.shop_id))
            .filter(adjuster_link::Column::LinkId.eq(&link.link_id))
            .exec(&self.write)
            .await?;
        Ok((link.shop_id, link.link_id, followed))
    }

    /// What a link shows; `None` when it is good no more.
    ///
    /// # Errors
    /// When the database fails.
    pub async fn followed(
        &self,
        shop_id: &str,
        link_id: &str,
        now_ms: i64,
    ) -> Result<Option<Followed>, StoreError> {
        let link = adjuster_link::Entity::find_by_id((shop_id.to_owned(), link_id.to_owned()))
            .one(&self.read)
            .await?
            .filter(|link| is_good(link, now_ms));
        let Some(link) = link else {
            return Ok(None);
        };
        let shop = shop::Entity::find_by_id(shop_id)
            .one(&self.read)
            .await?
            .ok_or(StoreError::Corrupt("shop of a link"))?;
        Ok(Some(Followed {
            book: link.doc_id,
            shop_name: shop.name,
            expires_at_ms: link.expires_at_ms,
        }))
    }
}
