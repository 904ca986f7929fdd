//! What was refused, kept aside with the reason so that nothing is lost in silence.

use sea_orm::{ActiveValue::Set, EntityTrait};
use shared::proof::{Digest, leaf};

use super::audit::id;
use super::entity::quarantine;
use super::{DocKey, Event, Sender, Store, StoreError};

/// Something that was refused.
#[derive(Debug, Clone)]
pub struct Refused {
    /// Fresh id.
    pub id: String,
    /// Which document.
    pub key: DocKey,
    /// Who sent it.
    pub sender: Sender,
    /// Why.
    pub reason: String,
    /// What was sent.
    pub bytes: Vec<u8>,
}

impl Store {
    /// Keeps something that was refused, with the reason.
    ///
    /// # Errors
    /// When the database fails.
    pub async fn quarantine(&self, refused: Refused, now_ms: i64) -> Result<(), StoreError> {
        let transaction = self.begin().await?;
        let event = Event {
            user: Some(refused.sender.user.clone()),
            device: Some(refused.sender.device.clone()),
            what: leaf::Event::ChangesRefused {
                job: id(&refused.key.doc, "document")?,
                reason: refused.reason.clone(),
                sent: Digest::of(&refused.bytes),
            },
        };
        quarantine::Entity::insert(quarantine::ActiveModel {
            shop_id: Set(refused.key.shop.clone()),
            quarantine_id: Set(refused.id),
            doc_id: Set(refused.key.doc),
            user_id: Set(refused.sender.user),
            device_id: Set(refused.sender.device),
            reason: Set(refused.reason),
            received_at_ms: Set(now_ms),
            bytes: Set(refused.bytes),
        })
        .exec_without_returning(&transaction)
        .await?;
        self.append(&transaction, &refused.key.shop, event, now_ms)
            .await?;
        transaction.commit().await?;
        Ok(())
    }
}
