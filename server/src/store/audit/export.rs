//! Everything that leaves a shop when its log is exported, as of one moment.

use std::collections::HashMap;

use sea_orm::{
    AccessMode, ColumnTrait, DatabaseTransaction, EntityTrait, IsolationLevel, QueryFilter,
    QueryOrder, TransactionTrait,
};
use shared::ids::{BookId, ShopId};
use shared::proof::Digest;
use shared::proof::bundle::{Bundle, ChangeLine, origin};
use shared::proof::leaf::{Event, Leaf};
use shared::proof::note::NoteKey;

use super::super::entity::{doc_change, log_head, log_leaf, shop, statement};
use super::super::{Store, StoreError};
use super::id;

/// A shop's log, or why there is none.
#[derive(Debug, Clone)]
pub enum Exported {
    /// The log with everything that its entries name.
    Bundle(Box<Bundle>),
    /// No such shop; these are the shops, with their names.
    NoSuchShop(Vec<(String, String)>),
}

impl Store {
    /// The log of a shop. Without a name it is the only shop's.
    ///
    /// # Errors
    /// When the database fails.
    pub async fn export_log(&self, shop: Option<&str>) -> Result<Exported, StoreError> {
        let read_all = Some(IsolationLevel::RepeatableRead);
        let transaction = match self.read.get_database_backend() {
            // A transaction of SQLite sees one moment anyway.
            sea_orm::DbBackend::Sqlite => self.read.begin().await?,
            _ => {
                let read_only = Some(AccessMode::ReadOnly);
                self.read.begin_with_config(read_all, read_only).await?
            }
        };
        let shops = shop::Entity::find()
            .order_by_asc(shop::Column::ShopId)
            .all(&transaction)
            .await?;
        let chosen = match (shop, shops.as_slice()) {
            (None, [only]) => Some(only),
            (None, _) => None,
            (Some(asked), _) => shops.iter().find(|shop| shop.shop_id == asked),
        };
        let Some(chosen) = chosen else {
            let named = shops.into_iter().map(|shop| (shop.shop_id, shop.name));
            return Ok(Exported::NoSuchShop(named.collect()));
        };
        let bundle = self.gather(&transaction, &chosen.shop_id).await?;
        Ok(Exported::Bundle(Box::new(bundle)))
    }

    async fn gather(
        &self,
        transaction: &DatabaseTransaction,
        shop: &str,
    ) -> Result<Bundle, StoreError> {
        let head = log_head::Entity::find_by_id(shop)
            .one(transaction)
            .await?
            .ok_or(StoreError::Corrupt("log of a shop"))?;
        let leaves: Vec<String> = log_leaf::Entity::find()
            .filter(log_leaf::Column::ShopId.eq(shop))
            .order_by_asc(log_leaf::Column::Place)
            .all(transaction)
            .await?
            .into_iter()
            .map(|leaf| leaf.body)
            .collect();
        let mut kept = Kept::of(transaction, shop).await?;
        let (changes, statements) = kept.in_order(&leaves)?;
        let shop: ShopId = id(shop, "shop")?;
        let key = NoteKey::new(&origin(&shop), self.log_key.public())
            .map_err(|_| StoreError::Corrupt("name of a log"))?;
        Ok(Bundle::gather(
            shop,
            &key,
            head.checkpoint,
            leaves,
            changes,
            statements,
        ))
    }
}

/// Changes and statements of a shop, to be put in the order of its log.
struct Kept {
    changes: HashMap<(String, Vec<u8>), (i64, Vec<u8>)>,
    statements: HashMap<String, String>,
}

impl Kept {
    async fn of(transaction: &DatabaseTransaction, shop: &str) -> Result<Self, StoreError> {
        let changes = doc_change::Entity::find()
            .filter(doc_change::Column::ShopId.eq(shop))
            .all(transaction)
            .await?;
        let statements = statement::Entity::find()
            .filter(statement::Column::ShopId.eq(shop))
            .all(transaction)
            .await?;
        Ok(Self {
            changes: changes
                .into_iter()
                .map(|change| ((change.doc_id, change.hash), (change.seq, change.bytes)))
                .collect(),
            statements: statements
                .into_iter()
                .map(|statement| (statement.digest, statement.body))
                .collect(),
        })
    }

    /// First what the entries name, in their order; then what they do not, so that a verifier sees
    /// it too. Entries that cannot be read name nothing, and the verifier says so.
    fn in_order(
        &mut self,
        leaves: &[String],
    ) -> Result<(Vec<ChangeLine>, Vec<String>), StoreError> {
        let (mut changes, mut statements) = (Vec::new(), Vec::new());
        for leaf in leaves {
            let Ok(leaf) = Leaf::parse(leaf.as_bytes()) else {
                continue;
            };
            match &leaf.event {
                Event::ChangesAccepted { job, hashes, .. } => {
                    for hash in hashes {
                        let key = (job.to_string(), hash.0.to_vec());
                        if let Some((_, bytes)) = self.changes.remove(&key) {
                            changes.push(line(job, *hash, bytes));
                        }
                    }
                }
                Event::SignedOff { statement, .. } | Event::Countersigned { statement, .. } => {
                    statements.extend(self.statements.remove(&statement.to_string()));
                }
                _ => {}
            }
        }
        let mut left: Vec<_> = self.changes.drain().collect();
        left.sort();
        for ((job, hash), (_, bytes)) in left {
            let hash = hash.try_into().map_err(|_| StoreError::Corrupt("hash"))?;
            changes.push(line(&id(&job, "document")?, Digest(hash), bytes));
        }
        let mut left: Vec<_> = self.statements.drain().collect();
        left.sort();
        statements.extend(left.into_iter().map(|(_, body)| body));
        Ok((changes, statements))
    }
}

fn line(job: &BookId, hash: Digest, bytes: Vec<u8>) -> ChangeLine {
    ChangeLine {
        job: job.clone(),
        hash,
        bytes,
    }
}
