//! Devices and the document actors they write under. An actor belongs to one person for ever.

use std::collections::HashSet;

use sea_orm::sea_query::{Expr, OnConflict};
use sea_orm::{
    ActiveValue::Set, ColumnTrait, DatabaseTransaction, EntityTrait, QueryFilter, QueryOrder,
};

use shared::proof::leaf;
use shared::wire::{DeviceLine, Me};

use super::audit::id;
use super::entity::{actor, device, device_key, session, session_device};
use super::membership::find_member;
use super::{Event, Store, StoreError, Whose};
use crate::clock::rfc3339;

/// Somebody on a device.
#[derive(Debug, Clone, Copy)]
pub struct Boarded<'a> {
    /// Shop id.
    pub shop: &'a str,
    /// User id.
    pub user: &'a str,
    /// Their session; none for the demo's own writing.
    pub session: Option<&'a str>,
    /// Device id.
    pub device: &'a str,
    /// What the browser says it runs on, in a few words; may be empty.
    pub label: &'a str,
}

/// When a session began; one that nobody knows never did.
async fn begun_at_ms(
    transaction: &DatabaseTransaction,
    shop: &str,
    session_id: Option<&str>,
) -> Result<i64, StoreError> {
    let Some(session_id) = session_id else {
        return Ok(i64::MIN);
    };
    let key = (shop.to_owned(), session_id.to_owned());
    let found = session::Entity::find_by_id(key).one(transaction).await?;
    Ok(found.map_or(i64::MIN, |session| session.begun_at_ms))
}

impl Store {
    /// Registers a device and its actors to a person, and notes that their session is used on it. A
    /// device that was revoked comes back with a session that began later.
    ///
    /// # Errors
    /// [`StoreError::Taken`] with the actor when it belongs to somebody else or another device,
    /// [`StoreError::Revoked`] when the device was revoked since the session began.
    pub async fn register_actors(
        &self,
        boarded: &Boarded<'_>,
        actors: &[String],
        now_ms: i64,
    ) -> Result<(), StoreError> {
        let Boarded {
            shop,
            user,
            session: session_id,
            device: device_id,
            label,
        } = *boarded;
        let transaction = self.begin().await?;
        let known =
            device::Entity::find_by_id((shop.to_owned(), device_id.to_owned(), user.to_owned()));
        let known = known.one(&transaction).await?;
        let is_new = match known.as_ref().map(|device| device.revoked_at_ms) {
            None => true,
            Some(None) => false,
            Some(Some(revoked_at_ms)) => {
                let begun = begun_at_ms(&transaction, shop, session_id).await?;
                if begun <= revoked_at_ms {
                    return Err(StoreError::Revoked);
                }
                true
            }
        };
        let seen = device::ActiveModel {
            shop_id: Set(shop.to_owned()),
            device_id: Set(device_id.to_owned()),
            user_id: Set(user.to_owned()),
            first_seen_at_ms: Set(now_ms),
            last_seen_at_ms: Set(now_ms),
            revoked_at_ms: Set(None),
            label: Set(Some(label.to_owned()).filter(|label| !label.is_empty())),
        };
        let key = [
            device::Column::ShopId,
            device::Column::DeviceId,
            device::Column::UserId,
        ];
        device::Entity::insert(seen)
            .on_conflict(
                OnConflict::columns(key)
                    .update_columns([
                        device::Column::LastSeenAtMs,
                        device::Column::RevokedAtMs,
                        device::Column::Label,
                    ])
                    .to_owned(),
            )
            .exec_without_returning(&transaction)
            .await?;
        if let Some(session_id) = session_id {
            let pair = session_device::ActiveModel {
                shop_id: Set(shop.to_owned()),
                session_id: Set(session_id.to_owned()),
                device_id: Set(device_id.to_owned()),
            };
            let key = [
                session_device::Column::ShopId,
                session_device::Column::SessionId,
                session_device::Column::DeviceId,
            ];
            session_device::Entity::insert(pair)
                .on_conflict(OnConflict::columns(key).do_nothing().to_owned())
                .exec_without_returning(&transaction)
                .await?;
        }
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

    /// The devices of a person, the one used last first.
    ///
    /// # Errors
    /// When the database fails.
    pub async fn devices(&self, shop: &str, user: &str) -> Result<Vec<DeviceLine>, StoreError> {
        let with_key: HashSet<String> = device_key::Entity::find()
            .filter(device_key::Column::ShopId.eq(shop))
            .filter(device_key::Column::UserId.eq(user))
            .filter(device_key::Column::EndedAtMs.is_null())
            .all(&self.read)
            .await?
            .into_iter()
            .map(|key| key.device_id)
            .collect();
        let rows = device::Entity::find()
            .filter(device::Column::ShopId.eq(shop))
            .filter(device::Column::UserId.eq(user))
            .order_by_desc(device::Column::LastSeenAtMs)
            .order_by_asc(device::Column::DeviceId)
            .all(&self.read)
            .await?;
        let line = |row: device::Model| DeviceLine {
            has_key: with_key.contains(&row.device_id),
            device: row.device_id,
            label: row.label.unwrap_or_default(),
            first_seen: rfc3339(row.first_seen_at_ms),
            last_seen: rfc3339(row.last_seen_at_ms),
            revoked_at: row.revoked_at_ms.map(rfc3339),
        };
        Ok(rows.into_iter().map(line).collect())
    }

    /// Takes a device from a person: its sessions end, its keys sign nothing from now on. Twice is no
    /// error.
    ///
    /// # Errors
    /// [`StoreError::Missing`] when the person has no such device.
    pub async fn revoke_device(
        &self,
        me: &Me,
        user: &str,
        device_id: &str,
        now_ms: i64,
    ) -> Result<(), StoreError> {
        let transaction = self.begin().await?;
        self.lock_shop(&transaction, &me.shop).await?;
        find_member(&transaction, &me.shop, user).await?;
        let key = (me.shop.clone(), device_id.to_owned(), user.to_owned());
        let found = device::Entity::find_by_id(key)
            .one(&transaction)
            .await?
            .ok_or(StoreError::Missing)?;
        if found.revoked_at_ms.is_some() {
            return Ok(());
        }
        device::Entity::update_many()
            .col_expr(device::Column::RevokedAtMs, Expr::value(now_ms))
            .filter(device::Column::ShopId.eq(&me.shop))
            .filter(device::Column::DeviceId.eq(device_id))
            .filter(device::Column::UserId.eq(user))
            .exec(&transaction)
            .await?;
        device_key::Entity::update_many()
            .col_expr(device_key::Column::EndedAtMs, Expr::value(now_ms))
            .filter(device_key::Column::ShopId.eq(&me.shop))
            .filter(device_key::Column::DeviceId.eq(device_id))
            .filter(device_key::Column::UserId.eq(user))
            .filter(device_key::Column::EndedAtMs.is_null())
            .exec(&transaction)
            .await?;
        self.end_sessions(&transaction, &me.shop, user, Some(device_id), now_ms)
            .await?;
        let what = leaf::Event::DeviceRevoked {
            user: id(user, "user")?,
            device: id(device_id, "device")?,
        };
        let event = Event::by(&me.user, what);
        self.append(&transaction, &me.shop, event, now_ms).await?;
        let whose = Whose::Device {
            user: user.to_owned(),
            device: device_id.to_owned(),
        };
        self.commit_revoked(transaction, &me.shop, whose).await
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
