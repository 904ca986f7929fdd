//! The log of a shop: entries in order, added in the transaction of what they tell.
//!
//! Each entry is kept as the text that is hashed; the tree's head is signed anew with every entry,
//! in the same transaction. Beside it stands a row to search by person, job and kind, which is made from
//! the entry ([`search`]).

mod begin;
mod export;
mod search;

use sea_orm::{ActiveValue::Set, DatabaseTransaction, EntityTrait};
use shared::proof::bundle::origin;
use shared::proof::checkpoint::Checkpoint;
use shared::proof::leaf::{self, Leaf, LeafFormat, Who};
use shared::proof::tree::Frontier;

use super::entity::{log_head, log_leaf, user};
use super::{Store, StoreError};

pub use export::Exported;
pub use search::LogQuery;

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
        self.lock_shop(transaction, shop_id).await?;
        let mut log = OpenLog::of(transaction, shop_id).await?;
        log.push(transaction, event, at_ms).await?;
        log.close(transaction, &self.log_key).await
    }
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
        search::forget_rows(transaction, shop).await?;
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
        search::insert_row(transaction, &leaf, place).await
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
