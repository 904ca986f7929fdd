//! Books as they are read back: the snapshot and what came after it, or the record alone.

use std::collections::BTreeMap;

use sea_orm::{ColumnTrait, EntityTrait, QueryFilter, QueryOrder};
use shared::proof::Digest;

use super::super::entity::{doc, doc_change, doc_snapshot};
use super::super::{Store, StoreError};
use super::{DocKey, ROWS_PER_INSERT};

/// A document as stored.
#[derive(Debug, Clone, Default)]
pub struct Stored {
    /// Its sequence.
    pub seq: i64,
    /// The sequence of its snapshot, 0 without one.
    pub snapshot_seq: i64,
    /// Snapshot and later changes, one after the other: one call loads them.
    pub chunks: Vec<u8>,
}

/// What a document's record has after a sequence.
#[derive(Debug, Clone, Default)]
pub struct Later {
    /// The document's sequence with it.
    pub seq: i64,
    /// The changes' hashes, in order.
    pub hashes: Vec<Digest>,
    /// The changes, one after the other.
    pub chunks: Vec<u8>,
}

impl Store {
    /// A document as stored, if this shop has it.
    ///
    /// # Errors
    /// When the database fails.
    pub async fn load_doc(&self, key: &DocKey) -> Result<Option<Stored>, StoreError> {
        let snapshot = doc_snapshot::Entity::find_by_id(key.parts())
            .one(&self.read)
            .await?;
        let mut stored = snapshot.map_or_else(Stored::default, |snapshot| Stored {
            seq: snapshot.seq,
            snapshot_seq: snapshot.seq,
            chunks: snapshot.bytes,
        });
        let changes = doc_change::Entity::find()
            .filter(doc_change::Column::ShopId.eq(&key.shop))
            .filter(doc_change::Column::DocId.eq(&key.doc))
            .filter(doc_change::Column::Seq.gt(stored.seq))
            .order_by_asc(doc_change::Column::Seq)
            .all(&self.read)
            .await?;
        for change in changes {
            stored.seq = change.seq;
            stored.chunks.extend(change.bytes);
        }
        Ok((stored.seq > 0).then_some(stored))
    }

    /// The changes of a document after a sequence, in order, each with its hash.
    ///
    /// # Errors
    /// When the database fails.
    pub async fn changes_after(&self, key: &DocKey, seq: i64) -> Result<Later, StoreError> {
        let changes = doc_change::Entity::find()
            .filter(doc_change::Column::ShopId.eq(&key.shop))
            .filter(doc_change::Column::DocId.eq(&key.doc))
            .filter(doc_change::Column::Seq.gt(seq))
            .order_by_asc(doc_change::Column::Seq)
            .all(&self.read)
            .await?;
        let mut later = Later {
            seq,
            ..Later::default()
        };
        for change in changes {
            let hash = change.hash.try_into();
            later.seq = change.seq;
            later
                .hashes
                .push(Digest(hash.map_err(|_| StoreError::Corrupt("hash"))?));
            later.chunks.extend(change.bytes);
        }
        Ok(later)
    }

    /// The sequences of those of these documents that exist.
    ///
    /// # Errors
    /// When the database fails.
    pub async fn sequences(&self, keys: &[DocKey]) -> Result<Vec<(DocKey, i64)>, StoreError> {
        let mut by_shop: BTreeMap<&str, Vec<&str>> = BTreeMap::new();
        for key in keys {
            by_shop.entry(&key.shop).or_default().push(&key.doc);
        }
        let mut sequences = Vec::with_capacity(keys.len());
        for (shop, docs) in by_shop {
            for some in docs.chunks(ROWS_PER_INSERT) {
                let rows = doc::Entity::find()
                    .filter(doc::Column::ShopId.eq(shop))
                    .filter(doc::Column::DocId.is_in(some.iter().copied()))
                    .all(&self.read)
                    .await?;
                sequences.extend(rows.into_iter().map(|row| {
                    let key = DocKey {
                        shop: row.shop_id,
                        doc: row.doc_id,
                    };
                    (key, row.seq)
                }));
            }
        }
        Ok(sequences)
    }

    /// The record alone, without any snapshot.
    ///
    /// # Errors
    /// When the database fails.
    pub async fn load_record(&self, key: &DocKey) -> Result<Stored, StoreError> {
        let changes = doc_change::Entity::find()
            .filter(doc_change::Column::ShopId.eq(&key.shop))
            .filter(doc_change::Column::DocId.eq(&key.doc))
            .order_by_asc(doc_change::Column::Seq)
            .all(&self.read)
            .await?;
        let mut stored = Stored::default();
        for change in changes {
            stored.seq = change.seq;
            stored.chunks.extend(change.bytes);
        }
        Ok(stored)
    }
}
