//! Signed statements, and the keys of the devices that sign them.
//!
//! Each is an entry of the shop's log, in the same transaction. Whether a statement follows from its
//! book is asked before it comes here.

use std::collections::{BTreeMap, HashMap};

use sea_orm::sea_query::Expr;
use sea_orm::{
    ActiveValue::Set, ColumnTrait, DatabaseTransaction, EntityTrait, PaginatorTrait, QueryFilter,
    QueryOrder, QuerySelect,
};
use shared::proof::statement::{Deed, SignedStatement};
use shared::proof::{Digest, PublicKey, leaf};
use shared::wire::{Me, SignedJob};

use super::audit::id;
use super::entity::{device, device_key, doc_change, shop, statement, user};
use super::{DocKey, Event, Store, StoreError};

impl Store {
    /// Registers the key of a person's device; it takes the place of an earlier one.
    ///
    /// # Errors
    /// [`StoreError::Unfit`] for a device that is not theirs, [`StoreError::Taken`] for a key that is
    /// or was another's.
    pub async fn register_key(
        &self,
        me: &Me,
        device_id: &str,
        key: &PublicKey,
        now_ms: i64,
    ) -> Result<(), StoreError> {
        let transaction = self.begin().await?;
        let owned = (me.shop.clone(), device_id.to_owned(), me.user.clone());
        if device::Entity::find_by_id(owned)
            .filter(device::Column::RevokedAtMs.is_null())
            .one(&transaction)
            .await?
            .is_none()
        {
            return Err(StoreError::Unfit("device"));
        }
        let text = key.to_string();
        match find_key(&transaction, &me.shop, &text).await? {
            Some(known) if known.user_id != me.user || known.device_id != device_id => {
                return Err(StoreError::Taken("key".to_owned()));
            }
            Some(known) if known.ended_at_ms.is_none() => return Ok(()),
            Some(_) => {
                device_key::Entity::delete_by_id((me.shop.clone(), text.clone()))
                    .exec(&transaction)
                    .await?;
            }
            None => {}
        }
        device_key::Entity::update_many()
            .col_expr(device_key::Column::EndedAtMs, Expr::value(now_ms))
            .filter(device_key::Column::ShopId.eq(&me.shop))
            .filter(device_key::Column::UserId.eq(&me.user))
            .filter(device_key::Column::DeviceId.eq(device_id))
            .filter(device_key::Column::EndedAtMs.is_null())
            .exec(&transaction)
            .await?;
        device_key::Entity::insert(device_key::ActiveModel {
            shop_id: Set(me.shop.clone()),
            public_key: Set(text),
            user_id: Set(me.user.clone()),
            device_id: Set(device_id.to_owned()),
            registered_at_ms: Set(now_ms),
            ended_at_ms: Set(None),
        })
        .exec_without_returning(&transaction)
        .await?;
        let event = Event {
            user: Some(me.user.clone()),
            device: Some(device_id.to_owned()),
            what: leaf::Event::DeviceRegistered {
                user: id(&me.user, "user")?,
                device: id(device_id, "device")?,
                key: Some(*key),
            },
        };
        self.append(&transaction, &me.shop, event, now_ms).await?;
        transaction.commit().await?;
        Ok(())
    }

    /// Keeps a statement that its signer has sent; keeping it twice changes nothing.
    ///
    /// # Errors
    /// [`StoreError::Unfit`] for a key that is not good for this person and device now, or a
    /// countersignature of something else than a sign-off of the same content;
    /// [`StoreError::OnePerson`] for one of the signer's own where the shop asks for two people.
    pub async fn keep_statement(
        &self,
        me: &Me,
        signed: &SignedStatement,
        now_ms: i64,
    ) -> Result<(), StoreError> {
        let transaction = self.begin().await?;
        let said = signed.statement();
        let device_id = said.who.device.as_ref().map(ToString::to_string);
        let good = find_key(&transaction, &me.shop, &signed.key().to_string())
            .await?
            .is_some_and(|key| {
                key.user_id == me.user
                    && Some(&key.device_id) == device_id.as_ref()
                    && key.ended_at_ms.is_none()
            });
        if !good {
            return Err(StoreError::Unfit("key"));
        }
        let digest = signed.digest();
        if find_statement(&transaction, &me.shop, &digest)
            .await?
            .is_some()
        {
            return Ok(());
        }
        let job = said.job.clone();
        let what = match said.deed {
            Deed::SignOff => leaf::Event::SignedOff {
                job,
                statement: digest,
            },
            Deed::Countersign { of } => {
                self.lock_shop(&transaction, &me.shop).await?;
                joins(&transaction, &me.shop, signed, &of).await?;
                leaf::Event::Countersigned {
                    job,
                    statement: digest,
                    of,
                }
            }
        };
        statement::Entity::insert(statement::ActiveModel {
            shop_id: Set(me.shop.clone()),
            digest: Set(digest.to_string()),
            doc_id: Set(said.job.to_string()),
            kept_at_ms: Set(now_ms),
            body: Set(signed.text().to_owned()),
        })
        .exec_without_returning(&transaction)
        .await?;
        let event = Event {
            user: Some(me.user.clone()),
            device: device_id,
            what,
        };
        self.append(&transaction, &me.shop, event, now_ms).await?;
        transaction.commit().await?;
        Ok(())
    }

    /// The texts of a book's statements, oldest first.
    ///
    /// # Errors
    /// When the database fails.
    pub async fn statements(&self, key: &DocKey) -> Result<Vec<String>, StoreError> {
        let rows = statement::Entity::find()
            .filter(statement::Column::ShopId.eq(&key.shop))
            .filter(statement::Column::DocId.eq(&key.doc))
            .order_by_asc(statement::Column::KeptAtMs)
            .order_by_asc(statement::Column::Digest)
            .all(&self.read)
            .await?;
        Ok(rows.into_iter().map(|row| row.body).collect())
    }
}

/// A change of a book as the server took it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Received {
    /// Its hash.
    pub hash: Digest,
    /// Name of whoever sent it.
    pub by: String,
    /// When, milliseconds since 1970.
    pub at_ms: i64,
}

impl Store {
    /// The changes of a book, the newest first, without what they hold.
    ///
    /// # Errors
    /// When the database fails.
    pub async fn received(&self, key: &DocKey) -> Result<Vec<Received>, StoreError> {
        let people = user::Entity::find()
            .filter(user::Column::ShopId.eq(&key.shop))
            .all(&self.read)
            .await?;
        let people = people.into_iter().map(|row| (row.user_id, row.name));
        let names: HashMap<String, String> = people.collect();
        let rows: Vec<(Vec<u8>, String, i64)> = doc_change::Entity::find()
            .filter(doc_change::Column::ShopId.eq(&key.shop))
            .filter(doc_change::Column::DocId.eq(&key.doc))
            .order_by_desc(doc_change::Column::Seq)
            .select_only()
            .columns([
                doc_change::Column::Hash,
                doc_change::Column::UserId,
                doc_change::Column::ReceivedAtMs,
            ])
            .into_tuple()
            .all(&self.read)
            .await?;
        let received = |(hash, user, at_ms): (Vec<u8>, String, i64)| {
            let hash = hash.try_into().map_err(|_| StoreError::Corrupt("hash"))?;
            Ok(Received {
                hash: Digest(hash),
                by: names.get(&user).cloned().unwrap_or_default(),
                at_ms,
            })
        };
        rows.into_iter().map(received).collect()
    }

    /// The last sign-off of each job of a shop, its countersignature, and how many entries the book
    /// has had since at least: those that came behind all of its heads.
    ///
    /// # Errors
    /// When the database fails.
    pub async fn signed_jobs(&self, shop: &str) -> Result<Vec<SignedJob>, StoreError> {
        let rows = statement::Entity::find()
            .filter(statement::Column::ShopId.eq(shop))
            .order_by_asc(statement::Column::KeptAtMs)
            .order_by_asc(statement::Column::Digest)
            .all(&self.read)
            .await?;
        let mut last: BTreeMap<String, (SignedStatement, Option<String>)> = BTreeMap::new();
        let mut joined: HashMap<Digest, String> = HashMap::new();
        for row in rows {
            let Ok(signed) = SignedStatement::parse(&row.body) else {
                return Err(StoreError::Corrupt("statement"));
            };
            let deed = signed.statement().deed;
            match deed {
                Deed::SignOff => {
                    last.insert(row.doc_id, (signed, None));
                }
                Deed::Countersign { of } => {
                    joined.insert(of, row.body);
                }
            }
        }
        // Two of one millisecond may stand in either order.
        for (signed, countersigned) in last.values_mut() {
            *countersigned = joined.remove(&signed.digest());
        }
        let mut jobs = Vec::with_capacity(last.len());
        for (book, (signed, countersigned)) in last {
            let heads = signed.statement().heads.iter();
            let heads: Vec<Vec<u8>> = heads.map(|head| head.0.to_vec()).collect();
            let of_book = || {
                doc_change::Entity::find()
                    .filter(doc_change::Column::ShopId.eq(shop))
                    .filter(doc_change::Column::DocId.eq(&book))
            };
            let newest_head = of_book()
                .filter(doc_change::Column::Hash.is_in(heads))
                .order_by_desc(doc_change::Column::Seq)
                .one(&self.read)
                .await?;
            let entries_since = of_book()
                .filter(doc_change::Column::Seq.gt(newest_head.map_or(0, |head| head.seq)))
                .count(&self.read)
                .await?;
            jobs.push(SignedJob {
                signed: signed.text().to_owned(),
                book,
                countersigned,
                entries_since,
            });
        }
        Ok(jobs)
    }
}

async fn find_key(
    transaction: &DatabaseTransaction,
    shop: &str,
    key: &str,
) -> Result<Option<device_key::Model>, StoreError> {
    let found = device_key::Entity::find_by_id((shop.to_owned(), key.to_owned()));
    Ok(found.one(transaction).await?)
}

async fn find_statement(
    transaction: &DatabaseTransaction,
    shop: &str,
    digest: &Digest,
) -> Result<Option<SignedStatement>, StoreError> {
    let found = statement::Entity::find_by_id((shop.to_owned(), digest.to_string()));
    let parse = |row: statement::Model| {
        SignedStatement::parse(&row.body).map_err(|_| StoreError::Corrupt("statement"))
    };
    found.one(transaction).await?.map(parse).transpose()
}

/// A countersignature says what the sign-off says that it joins, and is another person's where the
/// shop asks for that. The shop's row is locked.
async fn joins(
    transaction: &DatabaseTransaction,
    shop: &str,
    signed: &SignedStatement,
    of: &Digest,
) -> Result<(), StoreError> {
    let first = find_statement(transaction, shop, of)
        .await?
        .ok_or(StoreError::Unfit("of"))?;
    let (first, second) = (first.statement(), signed.statement());
    let same = first.deed == Deed::SignOff
        && first.job == second.job
        && first.heads == second.heads
        && first.claims == second.claims;
    if !same {
        return Err(StoreError::Unfit("of"));
    }
    let shop = shop::Entity::find_by_id(shop)
        .one(transaction)
        .await?
        .ok_or(StoreError::Corrupt("shop of a statement"))?;
    match shop.two_people != 0 && first.who.user == second.who.user {
        true => Err(StoreError::OnePerson),
        false => Ok(()),
    }
}
