//! Whether somebody who was let in is still good: asked at every request, ticket and batch.

use sea_orm::{ColumnTrait, EntityTrait, PaginatorTrait, QueryFilter};
use shared::wire::Me;

use super::entity::{device, session};
use super::{Sender, Store, StoreError};

impl Store {
    /// The member behind a session, as they are now; `None` when they were removed or the session
    /// has ended.
    ///
    /// # Errors
    /// When the database fails.
    pub async fn member(
        &self,
        shop: &str,
        user: &str,
        session_id: &str,
    ) -> Result<Option<Me>, StoreError> {
        let open = session::Entity::find_by_id((shop.to_owned(), session_id.to_owned()))
            .filter(session::Column::UserId.eq(user))
            .filter(session::Column::EndedAtMs.is_null())
            .count(&self.read)
            .await?;
        match open {
            0 => Ok(None),
            _ => self.me(shop, user).await,
        }
    }

    /// May this session write on this device: a member, and neither has ended?
    ///
    /// # Errors
    /// When the database fails.
    pub async fn may_write(
        &self,
        shop: &str,
        sender: &Sender,
        session_id: &str,
    ) -> Result<bool, StoreError> {
        let key = (shop.to_owned(), sender.device.clone(), sender.user.clone());
        let devices = device::Entity::find_by_id(key)
            .filter(device::Column::RevokedAtMs.is_null())
            .count(&self.read)
            .await?;
        Ok(devices == 1 && self.member(shop, &sender.user, session_id).await?.is_some())
    }
}
