//! The log of a shop: entries in order, added in the transaction of what they tell.
//!
//! Each entry is kept as the text that is hashed; the tree's head is signed anew with every entry,
//! in the same transaction. Beside it stands a row to search by person, job and kind, which can be
//! rebuilt from the entries.

mod begin;
mod export;

use sea_orm::sea_query::Expr;
use sea_orm::{
    ActiveValue::Set, ColumnTrait, DatabaseTransaction, EntityTrait, ExprTrait, QueryFilter,
};
use shared::proof::bundle::origin;
use shared::proof::checkpoint::Checkpoint;
use shared::proof::leaf::{self, Leaf, LeafFormat, Subject, Who};
use shared::proof::tree::Frontier;

use super::entity::{audit_event, log_head, log_leaf, shop, user};
use super::{Store, StoreError};

pub use export::Exported;

/// One event.
#[derive(Debug, Clone)]
pub struct Event {
    /// Who did it, when that is known.
    pub user: Option<String>,
    /// On which device.
    pub device: Option<String>,
    /// What happened.
    pub what: leaf::Event,
}

impl Event {
    /// Something that nobody in particular did.
    #[must_use]
    pub fn nobodys(what: leaf::Event) -> Self {
        Self {
            user: None,
            device: None,
            what,
        }
    }

    /// Something that somebody did, on a device that was not told.
    #[must_use]
    pub fn by(user: &str, what: leaf::Event) -> Self {
        Self {
            user: Some(user.to_owned()),
            device: None,
            what,
        }
    }
}

/// An identifier of the database as one of the log.
pub(super) fn id<T: std::str::FromStr>(text: &str, what: &'static str) -> Result<T, StoreError> {
    text.parse().map_err(|_| StoreError::Corrupt(what))
}

impl Store {
    /// Records an event that stands alone.
    ///
    /// # Errors
    /// When the database fails.
    pub async fn record(&self, shop_id: &str, event: Event, at_ms: i64) -> Result<(), StoreError> {
        let transaction = self.begin().await?;
        self.append(&transaction, shop_id, event, at_ms).await?;
        transaction.commit().await?;
        Ok(())
    }

    /// Adds an event within a transaction; the shop's row is locked until it ends.
    pub(super) async fn append(
        &self,
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
            .ok_or(StoreError::Corrupt("shop of an event"))?;
        let mut log = OpenLog::of(transaction, shop_id).await?;
        search_row(transaction, shop_id, shop.audit_seq, &event, at_ms).await?;
        log.push(transaction, event, at_ms).await?;
        log.close(transaction, &self.log_key).await
    }
}

/// The row that is searched.
async fn search_row(
    transaction: &DatabaseTransaction,
    shop_id: &str,
    seq: i64,
    event: &Event,
    at_ms: i64,
) -> Result<(), StoreError> {
    let (mut user_id, mut doc_id) = (event.user.clone(), None);
    match event.what.subject() {
        Some(Subject::Job(job)) => doc_id = Some(job.to_string()),
        Some(Subject::Person(person)) if user_id.is_none() => user_id = Some(person.to_string()),
        _ => {}
    }
    let detail = serde_json::to_string(&event.what).map_err(|_| StoreError::Corrupt("event"))?;
    audit_event::Entity::insert(audit_event::ActiveModel {
        shop_id: Set(shop_id.to_owned()),
        seq: Set(seq),
        at_ms: Set(at_ms),
        kind: Set(event.what.kind().to_owned()),
        user_id: Set(user_id),
        device_id: Set(event.device.clone()),
        doc_id: Set(doc_id),
        detail: Set(detail),
    })
    .exec_without_returning(transaction)
    .await?;
    Ok(())
}

/// A log while entries are added.
struct OpenLog<'a> {
    shop: &'a str,
    frontier: Frontier,
    last_ms: i64,
}

impl<'a> OpenLog<'a> {
    /// The shop's log; an empty one when the shop has none yet.
    async fn of(transaction: &DatabaseTransaction, shop: &'a str) -> Result<Self, StoreError> {
        let Some(head) = log_head::Entity::find_by_id(shop).one(transaction).await? else {
            return Self::begin(transaction, shop).await;
        };
        let frontier: Frontier = serde_json::from_str(&head.frontier)
            .map_err(|_| StoreError::Corrupt("frontier of a log"))?;
        if i64::try_from(frontier.size()) != Ok(head.size) {
            return Err(StoreError::Corrupt("size of a log"));
        }
        Ok(Self {
            shop,
            frontier,
            last_ms: head.last_at_ms,
        })
    }

    async fn begin(transaction: &DatabaseTransaction, shop: &'a str) -> Result<Self, StoreError> {
        log_head::Entity::insert(log_head::ActiveModel {
            shop_id: Set(shop.to_owned()),
            size: Set(0),
            last_at_ms: Set(i64::MIN),
            frontier: Set(String::new()),
            checkpoint: Set(String::new()),
        })
        .exec_without_returning(transaction)
        .await?;
        Ok(Self {
            shop,
            frontier: Frontier::default(),
            last_ms: i64::MIN,
        })
    }

    /// Adds one entry. Time does not run backwards in a log, whatever the clocks of several servers
    /// say.
    async fn push(
        &mut self,
        transaction: &DatabaseTransaction,
        event: Event,
        at_ms: i64,
    ) -> Result<(), StoreError> {
        self.last_ms = Ord::max(self.last_ms, at_ms);
        let leaf = Leaf {
            format: LeafFormat::V1,
            index: self.frontier.size(),
            at_ms: self.last_ms,
            shop: id(self.shop, "shop")?,
            who: who(transaction, self.shop, event.user, event.device).await?,
            event: event.what,
        };
        let body = leaf.text().map_err(|_| StoreError::Corrupt("entry"))?;
        let place = i64::try_from(leaf.index).map_err(|_| StoreError::Corrupt("size of a log"))?;
        self.frontier.push(&leaf::hash(body.as_bytes()));
        log_leaf::Entity::insert(log_leaf::ActiveModel {
            shop_id: Set(self.shop.to_owned()),
            place: Set(place),
            body: Set(body),
        })
        .exec_without_returning(transaction)
        .await?;
        Ok(())
    }

    /// Signs the new head and keeps it.
    async fn close(
        self,
        transaction: &DatabaseTransaction,
        key: &shared::proof::Seed,
    ) -> Result<(), StoreError> {
        let head = self.frontier.head();
        let checkpoint = Checkpoint::of(&origin(&id(self.shop, "shop")?), head)
            .sign(key)
            .map_err(|_| StoreError::Corrupt("name of a log"))?;
        let size = i64::try_from(head.size).map_err(|_| StoreError::Corrupt("size of a log"))?;
        let frontier = serde_json::to_string(&self.frontier)
            .map_err(|_| StoreError::Corrupt("frontier of a log"))?;
        log_head::Entity::update(log_head::ActiveModel {
            shop_id: Set(self.shop.to_owned()),
            size: Set(size),
            last_at_ms: Set(self.last_ms),
            frontier: Set(frontier),
            checkpoint: Set(checkpoint),
        })
        .exec(transaction)
        .await?;
        Ok(())
    }
}

/// A person as they stand now.
async fn who(
    transaction: &DatabaseTransaction,
    shop_id: &str,
    user_id: Option<String>,
    device: Option<String>,
) -> Result<Option<Who>, StoreError> {
    let Some(user_id) = user_id else {
        return Ok(None);
    };
    let person = user::Entity::find_by_id((shop_id.to_owned(), user_id))
        .one(transaction)
        .await?
        .ok_or(StoreError::Corrupt("person of an event"))?;
    Ok(Some(Who {
        user: id(&person.user_id, "user")?,
        name: person.name,
        device: device.map(|device| id(&device, "device")).transpose()?,
    }))
}
