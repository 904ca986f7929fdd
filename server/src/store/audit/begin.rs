//! The first entries of the log of a shop that is older than the log: its people, devices and books
//! as they are in the database, with the times that are kept there.

use std::collections::BTreeSet;

use sea_orm::{ColumnTrait, DatabaseTransaction, EntityTrait, QueryFilter, QueryOrder};
use shared::proof::Digest;
use shared::proof::leaf;
use shared::sync::replay::facts;

use super::super::entity::{device, doc, doc_change, log_head, shop, user};
use super::super::people::role_of;
use super::super::{Store, StoreError};
use super::{Event, OpenLog, id};

impl Store {
    /// Begins the logs of all shops that have none.
    ///
    /// # Errors
    /// When the database fails, or holds something that this server cannot have written.
    pub(in super::super) async fn begin_logs(&self) -> Result<(), StoreError> {
        let shops = shop::Entity::find().all(&self.read).await?;
        for shop in shops {
            let known = log_head::Entity::find_by_id(&shop.shop_id);
            if known.one(&self.read).await?.is_some() {
                continue;
            }
            let transaction = self.begin().await?;
            // Another server may begin it as well: the row's lock lets one go first.
            self.lock_shop(&transaction, &shop.shop_id).await?;
            let known = log_head::Entity::find_by_id(&shop.shop_id);
            if known.one(&transaction).await?.is_some() {
                continue;
            }
            self.begin_log(&transaction, shop).await?;
            transaction.commit().await?;
        }
        Ok(())
    }

    async fn begin_log(
        &self,
        transaction: &DatabaseTransaction,
        shop: shop::Model,
    ) -> Result<(), StoreError> {
        let mut log = OpenLog::of(transaction, &shop.shop_id).await?;
        let set_up = leaf::Event::ShopSetUp {
            name: shop.name.clone(),
        };
        log.push(transaction, Event::nobodys(set_up), shop.created_at_ms)
            .await?;
        log.take_people(transaction).await?;
        let docs = doc::Entity::find()
            .filter(doc::Column::ShopId.eq(&shop.shop_id))
            .order_by_asc(doc::Column::CreatedAtMs)
            .order_by_asc(doc::Column::DocId)
            .all(transaction)
            .await?;
        for doc in docs {
            log.take_book(transaction, doc).await?;
        }
        log.close(transaction, &self.log_key).await
    }
}

impl OpenLog<'_> {
    async fn take_people(&mut self, transaction: &DatabaseTransaction) -> Result<(), StoreError> {
        let people = user::Entity::find()
            .filter(user::Column::ShopId.eq(self.shop))
            .order_by_asc(user::Column::CreatedAtMs)
            .order_by_asc(user::Column::UserId)
            .all(transaction)
            .await?;
        for person in people {
            let joined = leaf::Event::PersonJoined {
                user: id(&person.user_id, "user")?,
                name: person.name,
                role: role_of(&person.role)?,
            };
            let event = Event::by(&person.user_id, joined);
            self.push(transaction, event, person.created_at_ms).await?;
        }
        let devices = device::Entity::find()
            .filter(device::Column::ShopId.eq(self.shop))
            .order_by_asc(device::Column::FirstSeenAtMs)
            .order_by_asc(device::Column::DeviceId)
            .order_by_asc(device::Column::UserId)
            .all(transaction)
            .await?;
        for device in devices {
            let what = leaf::Event::DeviceRegistered {
                user: id(&device.user_id, "user")?,
                device: id(&device.device_id, "device")?,
                key: None,
            };
            let event = Event {
                user: Some(device.user_id),
                device: Some(device.device_id),
                what,
            };
            self.push(transaction, event, device.first_seen_at_ms)
                .await?;
        }
        Ok(())
    }

    /// A book: one entry for each run of changes of one person on one device.
    async fn take_book(
        &mut self,
        transaction: &DatabaseTransaction,
        doc: doc::Model,
    ) -> Result<(), StoreError> {
        let job = id(&doc.doc_id, "document")?;
        let created = leaf::Event::JobCreated { job };
        let event = Event::by(&doc.created_by, created);
        self.push(transaction, event, doc.created_at_ms).await?;
        let changes = doc_change::Entity::find()
            .filter(doc_change::Column::ShopId.eq(self.shop))
            .filter(doc_change::Column::DocId.eq(&doc.doc_id))
            .order_by_asc(doc_change::Column::Seq)
            .all(transaction)
            .await?;
        let mut heads = BTreeSet::new();
        let runs =
            changes.chunk_by(|a, b| (&a.user_id, &a.device_id) == (&b.user_id, &b.device_id));
        for run in runs {
            let mut hashes = Vec::with_capacity(run.len());
            for change in run {
                let facts = facts(&change.bytes).ok_or(StoreError::Corrupt("change"))?;
                for dep in &facts.deps {
                    heads.remove(dep);
                }
                heads.insert(facts.hash);
                hashes.push(facts.hash);
            }
            let Some(last) = run.last() else {
                continue;
            };
            let accepted = leaf::Event::ChangesAccepted {
                job: id(&doc.doc_id, "document")?,
                hashes,
                heads: heads.iter().copied().collect::<Vec<Digest>>(),
            };
            let event = Event {
                user: Some(last.user_id.clone()),
                device: Some(last.device_id.clone()),
                what: accepted,
            };
            self.push(transaction, event, last.received_at_ms).await?;
        }
        Ok(())
    }
}
