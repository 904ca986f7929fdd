//! Books: changes as they were accepted (the record), and snapshots (a cache of 'up to seq').
//!
//! A batch of changes is kept in one transaction with who sent it, the audit entry, the row of
//! the job list and the document's sequence. The sequence is advanced only from the value that
//! the writer has seen; so two servers on one database can never both be right about a document.

mod stored;

use sea_orm::sea_query::{Expr, OnConflict};
use sea_orm::{
    ActiveValue::Set, ColumnTrait, DatabaseTransaction, EntityTrait, ExprTrait, QueryFilter,
    QueryOrder,
};
use shared::ids::BookId;
use shared::proof::{Digest, leaf};
use shared::wire::JobLine;

use super::audit::id;
use super::entity::{doc, doc_change, doc_snapshot, job_line};
use super::{Event, Notice, Store, StoreError};
use crate::clock::rfc3339;

pub use stored::{Later, Stored};

/// Rows per statement: both engines limit the values of one statement.
pub(super) const ROWS_PER_INSERT: usize = 500;

/// Which document.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct DocKey {
    /// Shop id.
    pub shop: String,
    /// Document id as the protocol writes it.
    pub doc: String,
}

/// Who sent something.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Sender {
    /// User id.
    pub user: String,
    /// Device id.
    pub device: String,
}

/// One accepted change.
#[derive(Debug, Clone)]
pub struct NewChange {
    /// Its SHA-256.
    pub hash: Digest,
    /// Actor in hexadecimal.
    pub actor: String,
    /// Number of the change among its actor's.
    pub actor_seq: i64,
    /// The change as it travels.
    pub bytes: Vec<u8>,
}

/// What the job list shows of a document.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Projection {
    /// The shop's number for the job.
    pub number: String,
    /// The vehicle in words.
    pub vehicle: String,
}

/// A batch of accepted changes.
#[derive(Debug, Clone)]
pub struct Batch {
    /// Which document.
    pub key: DocKey,
    /// Who sent it.
    pub sender: Sender,
    /// The document's sequence before it.
    pub after_seq: i64,
    /// The changes in an order that can be applied.
    pub changes: Vec<NewChange>,
    /// Hashes of the document's heads afterwards.
    pub heads: Vec<Digest>,
    /// What the job list shows afterwards.
    pub projection: Projection,
}

/// What became of a batch.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kept {
    /// It is on disk; this is the document's sequence now.
    UpTo(i64),
    /// Another server has moved the document on; load it again.
    MovedOn,
}

impl DocKey {
    fn parts(&self) -> (String, String) {
        (self.shop.clone(), self.doc.clone())
    }
}

/// Makes the document's row, if there is none yet; did it?
async fn ensure_doc(
    transaction: &DatabaseTransaction,
    batch: &Batch,
    now_ms: i64,
) -> Result<bool, StoreError> {
    let row = doc::ActiveModel {
        shop_id: Set(batch.key.shop.clone()),
        doc_id: Set(batch.key.doc.clone()),
        seq: Set(0),
        created_by: Set(batch.sender.user.clone()),
        created_at_ms: Set(now_ms),
    };
    let inserted = doc::Entity::insert(row)
        .on_conflict(
            OnConflict::columns([doc::Column::ShopId, doc::Column::DocId])
                .do_nothing()
                .to_owned(),
        )
        .exec_without_returning(transaction)
        .await?;
    Ok(inserted == 1)
}

/// Rows of a batch, numbered from the sequence before it.
fn rows(batch: &Batch, now_ms: i64) -> Vec<doc_change::ActiveModel> {
    batch
        .changes
        .iter()
        .zip(batch.after_seq + 1..)
        .map(|(change, seq)| doc_change::ActiveModel {
            shop_id: Set(batch.key.shop.clone()),
            doc_id: Set(batch.key.doc.clone()),
            seq: Set(seq),
            hash: Set(change.hash.0.to_vec()),
            actor: Set(change.actor.clone()),
            actor_seq: Set(change.actor_seq),
            user_id: Set(batch.sender.user.clone()),
            device_id: Set(batch.sender.device.clone()),
            received_at_ms: Set(now_ms),
            bytes: Set(change.bytes.clone()),
        })
        .collect()
}

/// PostgreSQL keeps no text with the character of code 0, which people cannot type.
pub(super) fn without_nul(text: &str) -> String {
    text.replace('\0', "")
}

pub(super) async fn project(
    transaction: &DatabaseTransaction,
    key: &DocKey,
    projection: &Projection,
    now_ms: i64,
) -> Result<(), StoreError> {
    let row = job_line::ActiveModel {
        shop_id: Set(key.shop.clone()),
        doc_id: Set(key.doc.clone()),
        number: Set(without_nul(&projection.number)),
        vehicle: Set(without_nul(&projection.vehicle)),
        last_activity_at_ms: Set(now_ms),
    };
    job_line::Entity::insert(row)
        .on_conflict(
            OnConflict::columns([job_line::Column::ShopId, job_line::Column::DocId])
                .update_columns([
                    job_line::Column::Number,
                    job_line::Column::Vehicle,
                    job_line::Column::LastActivityAtMs,
                ])
                .to_owned(),
        )
        .exec_without_returning(transaction)
        .await?;
    Ok(())
}

impl Store {
    /// Keeps a batch of accepted changes. When this returns [`Kept::UpTo`], it is on disk.
    ///
    /// # Errors
    /// When the database fails; nothing is kept then.
    pub async fn keep_changes(&self, batch: &Batch, now_ms: i64) -> Result<Kept, StoreError> {
        let count = i64::try_from(batch.changes.len())
            .map_err(|_| StoreError::Corrupt("number of changes"))?;
        let transaction = self.begin().await?;
        let is_new = ensure_doc(&transaction, batch, now_ms).await?;
        // Takes the row's lock until the end, so that sequences have no gaps and no doubles.
        let moved = doc::Entity::update_many()
            .col_expr(doc::Column::Seq, Expr::col(doc::Column::Seq).add(count))
            .filter(doc::Column::ShopId.eq(&batch.key.shop))
            .filter(doc::Column::DocId.eq(&batch.key.doc))
            .filter(doc::Column::Seq.eq(batch.after_seq))
            .exec(&transaction)
            .await?;
        if moved.rows_affected != 1 {
            return Ok(Kept::MovedOn);
        }
        let rows = rows(batch, now_ms);
        for some in rows.chunks(ROWS_PER_INSERT) {
            doc_change::Entity::insert_many(some.iter().cloned())
                .exec_without_returning(&transaction)
                .await?;
        }
        project(&transaction, &batch.key, &batch.projection, now_ms).await?;
        self.log_batch(&transaction, batch, is_new, now_ms).await?;
        let seq = batch.after_seq + count;
        self.announce(&transaction, &Notice::moved(&batch.key, seq))
            .await?;
        transaction.commit().await?;
        Ok(Kept::UpTo(seq))
    }

    async fn log_batch(
        &self,
        transaction: &DatabaseTransaction,
        batch: &Batch,
        is_new: bool,
        now_ms: i64,
    ) -> Result<(), StoreError> {
        let by_sender = |what| Event {
            user: Some(batch.sender.user.clone()),
            device: Some(batch.sender.device.clone()),
            what,
        };
        let job: BookId = id(&batch.key.doc, "document")?;
        if is_new {
            let created = by_sender(leaf::Event::JobCreated { job: job.clone() });
            self.append(transaction, &batch.key.shop, created, now_ms)
                .await?;
        }
        let mut heads = batch.heads.clone();
        heads.sort();
        let accepted = by_sender(leaf::Event::ChangesAccepted {
            job,
            hashes: batch.changes.iter().map(|change| change.hash).collect(),
            heads,
        });
        self.append(transaction, &batch.key.shop, accepted, now_ms)
            .await
    }

    /// Keeps a verified snapshot, unless a newer one is there.
    ///
    /// # Errors
    /// When the database fails.
    pub async fn keep_snapshot(
        &self,
        key: &DocKey,
        seq: i64,
        bytes: Vec<u8>,
        now_ms: i64,
    ) -> Result<(), StoreError> {
        let transaction = self.begin().await?;
        doc_snapshot::Entity::delete_many()
            .filter(doc_snapshot::Column::ShopId.eq(&key.shop))
            .filter(doc_snapshot::Column::DocId.eq(&key.doc))
            .filter(doc_snapshot::Column::Seq.lt(seq))
            .exec(&transaction)
            .await?;
        let row = doc_snapshot::ActiveModel {
            shop_id: Set(key.shop.clone()),
            doc_id: Set(key.doc.clone()),
            seq: Set(seq),
            made_at_ms: Set(now_ms),
            bytes: Set(bytes),
        };
        doc_snapshot::Entity::insert(row)
            .on_conflict(
                OnConflict::columns([doc_snapshot::Column::ShopId, doc_snapshot::Column::DocId])
                    .do_nothing()
                    .to_owned(),
            )
            .exec_without_returning(&transaction)
            .await?;
        transaction.commit().await?;
        Ok(())
    }

    /// Forgets a snapshot that turned out to be broken; the record is untouched.
    ///
    /// # Errors
    /// When the database fails.
    pub async fn drop_snapshot(&self, key: &DocKey) -> Result<(), StoreError> {
        doc_snapshot::Entity::delete_by_id(key.parts())
            .exec(&self.write)
            .await?;
        Ok(())
    }

    /// The jobs of a shop, the one with the latest activity first.
    ///
    /// # Errors
    /// When the database fails.
    pub async fn job_lines(&self, shop: &str) -> Result<Vec<JobLine>, StoreError> {
        let mut stages = self.telling_stages(shop).await?;
        Ok(job_line::Entity::find()
            .filter(job_line::Column::ShopId.eq(shop))
            .order_by_desc(job_line::Column::LastActivityAtMs)
            .order_by_asc(job_line::Column::DocId)
            .all(&self.read)
            .await?
            .into_iter()
            .map(|row| JobLine {
                stage: stages.remove(&row.doc_id),
                book: row.doc_id,
                number: row.number,
                vehicle: row.vehicle,
                last_activity: rfc3339(row.last_activity_at_ms),
            })
            .collect())
    }
}
