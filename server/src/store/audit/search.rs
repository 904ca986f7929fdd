//! Looking into a log: by job, person, kind and time, newest first. The rows that are searched are
//! made from the entries, and can be made from them again.

use sea_orm::{
    ActiveValue::Set, ColumnTrait, Condition, DatabaseTransaction, EntityTrait, PaginatorTrait,
    QueryFilter, QueryOrder, QuerySelect,
};
use shared::ids::ShopId;
use shared::proof::bundle::origin;
use shared::proof::leaf::{Leaf, Subject};
use shared::proof::note::NoteKey;
use shared::proof::page::LogPage;

use super::super::entity::{log_entry, log_head, log_leaf};
use super::super::{Store, StoreError};
use super::id;

/// What somebody looks for; what is not said is not asked for.
#[derive(Debug, Clone, Default)]
pub struct LogQuery {
    /// About this job.
    pub job: Option<String>,
    /// Done by this person, or about them.
    pub person: Option<String>,
    /// Of this kind.
    pub kind: Option<String>,
    /// Earlier than this.
    pub before_ms: Option<i64>,
    /// Not earlier than this.
    pub after_ms: Option<i64>,
    /// Entries with a smaller number: the next page.
    pub below: Option<i64>,
    /// At most so many.
    pub limit: u64,
}

/// The row by which an entry is found.
pub(super) async fn insert_row(
    transaction: &DatabaseTransaction,
    leaf: &Leaf,
    place: i64,
) -> Result<(), StoreError> {
    let (mut doc_id, mut about_id) = (None, None);
    match leaf.subject() {
        Subject::Job(job) => doc_id = Some(job.to_string()),
        Subject::Person(person) => about_id = Some(person.to_string()),
        Subject::Shop | Subject::Sheet(_) => {}
    }
    log_entry::Entity::insert(log_entry::ActiveModel {
        shop_id: Set(leaf.shop.to_string()),
        place: Set(place),
        at_ms: Set(leaf.at_ms),
        kind: Set(leaf.event.kind().to_owned()),
        user_id: Set(leaf.who.as_ref().map(|who| who.user.to_string())),
        about_id: Set(about_id),
        doc_id: Set(doc_id),
    })
    .exec_without_returning(transaction)
    .await?;
    Ok(())
}

/// Takes all rows of a shop away: they belong to a log that is no more, or are made anew.
pub(super) async fn forget_rows(
    transaction: &DatabaseTransaction,
    shop: &str,
) -> Result<(), StoreError> {
    log_entry::Entity::delete_many()
        .filter(log_entry::Column::ShopId.eq(shop))
        .exec(transaction)
        .await?;
    Ok(())
}

impl LogQuery {
    fn condition(&self, shop: &str) -> Condition {
        use log_entry::Column;
        let person = self.person.as_ref().map(|person| {
            Condition::any()
                .add(Column::UserId.eq(person))
                .add(Column::AboutId.eq(person))
        });
        Condition::all()
            .add(Column::ShopId.eq(shop))
            .add_option(person)
            .add_option(self.job.as_ref().map(|job| Column::DocId.eq(job)))
            .add_option(self.kind.as_ref().map(|kind| Column::Kind.eq(kind)))
            .add_option(self.before_ms.map(|at| Column::AtMs.lt(at)))
            .add_option(self.after_ms.map(|at| Column::AtMs.gte(at)))
            .add_option(self.below.map(|place| Column::Place.lt(place)))
    }
}

impl Store {
    /// A page of a shop's log.
    ///
    /// # Errors
    /// When the database fails.
    pub async fn log_page(&self, shop: &str, query: &LogQuery) -> Result<LogPage, StoreError> {
        let head = log_head::Entity::find_by_id(shop)
            .one(&self.read)
            .await?
            .ok_or(StoreError::Corrupt("log of a shop"))?;
        // One more than asked for tells whether there is a next page.
        let mut places: Vec<i64> = log_entry::Entity::find()
            .filter(query.condition(shop))
            // The head was read first: what came since is for the next question.
            .filter(log_entry::Column::Place.lt(head.size))
            .order_by_desc(log_entry::Column::Place)
            .limit(query.limit.saturating_add(1))
            .all(&self.read)
            .await?
            .into_iter()
            .map(|row| row.place)
            .collect();
        let more = places.len() as u64 > query.limit;
        if more {
            places.pop();
        }
        let below = places
            .last()
            .filter(|_| more)
            .map(|place| place.unsigned_abs());
        let rows = log_leaf::Entity::find()
            .filter(log_leaf::Column::ShopId.eq(shop))
            .filter(log_leaf::Column::Place.is_in(places))
            .order_by_desc(log_leaf::Column::Place)
            .all(&self.read)
            .await?;
        let parse = |row: log_leaf::Model| {
            Leaf::parse(row.body.as_bytes()).map_err(|_| StoreError::Corrupt("entry of a log"))
        };
        let shop: ShopId = id(shop, "shop")?;
        let key = NoteKey::new(&origin(&shop), self.log_key.public())
            .map_err(|_| StoreError::Corrupt("name of a log"))?;
        Ok(LogPage {
            entries: rows.into_iter().map(parse).collect::<Result<_, _>>()?,
            below,
            head: head.checkpoint,
            key: key.to_string(),
        })
    }

    /// Makes the rows anew for logs that do not have one per entry.
    ///
    /// # Errors
    /// When the database fails, or an entry cannot be read.
    pub(in super::super) async fn index_logs(&self) -> Result<(), StoreError> {
        for head in log_head::Entity::find().all(&self.read).await? {
            let shop = &head.shop_id;
            let rows = log_entry::Entity::find()
                .filter(log_entry::Column::ShopId.eq(shop))
                .filter(log_entry::Column::Place.lt(head.size))
                .count(&self.read)
                .await?;
            if i64::try_from(rows) == Ok(head.size) {
                continue;
            }
            let transaction = self.begin().await?;
            // Another server may do the same, or add entries.
            self.lock_shop(&transaction, shop).await?;
            forget_rows(&transaction, shop).await?;
            let leaves = log_leaf::Entity::find()
                .filter(log_leaf::Column::ShopId.eq(shop))
                .order_by_asc(log_leaf::Column::Place)
                .all(&transaction)
                .await?;
            for row in leaves {
                // What cannot be read is for `audit verify` to name; the server starts all the same.
                match Leaf::parse(row.body.as_bytes()) {
                    Ok(leaf) => insert_row(&transaction, &leaf, row.place).await?,
                    Err(error) => tracing::warn!(place = row.place, %error, "an unreadable entry"),
                }
            }
            transaction.commit().await?;
        }
        Ok(())
    }
}
