//! Devices and the document actors they write under. An actor belongs to one person for ever.

use sea_orm::sea_query::OnConflict;
use sea_orm::{ActiveValue::Set, ColumnTrait, EntityTrait, QueryFilter};

use shared::proof::leaf;

use super::audit::id;
use super::entity::{actor, device};
use super::{Event, Store, StoreError};

impl Store {
    /// Registers a device and its actors to a person.
    ///
    /// # Errors
    /// [`StoreError::Taken`] with the actor when it belongs to somebody else or another device.
    pub async fn register_actors(
        &self,
        shop: &str,
        user: &str,
        device_id: &str,
        actors: &[String],
        now_ms: i64,
    ) -> Result<(), StoreError> {
        let transaction = self.begin().await?;
        let known =
            device::Entity::find_by_id((shop.to_owned(), device_id.to_owned(), user.to_owned()));
        let is_new = known.one(&transaction).await?.is_none();
        let seen = device::ActiveModel {
            shop_id: Set(shop.to_owned()),
            device_id: Set(device_id.to_owned()),
            user_id: Set(user.to_owned()),
            first_seen_at_ms: Set(now_ms),
            last_seen_at_ms: Set(now_ms),
        };
        let key = [
            device::Column::ShopId,
            device::Column::DeviceId,
            device::Column::UserId,
        ];
        device::Entity::insert(seen)
            .on_conflict(
                OnConflict::columns(key)
                    .update_column(device::Column::LastSeenAtMs)
                    .to_owned(),
            )
            .exec_without_returning(&transaction)
            .await?;
        for name in actors {
            let row = actor::ActiveModel {
                shop_id: Set(shop.to_owned()),
                actor: Set(name.clone()),
                user_id: Set(user.to_owned()),
                device_id: Set(device_id.to_owned()),
                registered_at_ms: Set(now_ms),
            };
            let key = [actor::Column::ShopId, actor::Column::Actor];
            actor::Entity::insert(row)
                .on_conflict(OnConflict::columns(key).do_nothing().to_owned())
                .exec_without_returning(&transaction)
                .await?;
            let owner = actor::Entity::find_by_id((shop.to_owned(), name.clone()))
                .one(&transaction)
                .await?
                .ok_or(StoreError::Corrupt("actor"))?;
            if owner.user_id != user || owner.device_id != device_id {
                return Err(StoreError::Taken(name.clone()));
            }
        }
        if is_new {
            let event = Event {
                user: Some(user.to_owned()),
                device: Some(device_id.to_owned()),
                what: leaf::Event::DeviceRegistered {
                    user: id(user, "user")?,
                    device: id(device_id, "device")?,
                    key: None,
                },
            };
            self.append(&transaction, shop, event, now_ms).await?;
        }
        transaction.commit().await?;
        Ok(())
    }

    /// The actors that this person writes under on this device.
    ///
    /// # Errors
    /// When the database fails.
    pub async fn actors(
        &self,
        shop: &str,
        user: &str,
        device_id: &str,
    ) -> Result<Vec<String>, StoreError> {
        Ok(actor::Entity::find()
            .filter(actor::Column::ShopId.eq(shop))
            .filter(actor::Column::UserId.eq(user))
            .filter(actor::Column::DeviceId.eq(device_id))
            .all(&self.read)
            .await?
            .into_iter()
            .map(|row| row.actor)
            .collect())
    }
}
