//! One revision of a sheet for all shops of this server, as long as its own shop wishes.
//!
//! Other shops read it; a book that pinned it, and a copy in their own library, are theirs and stay.

use std::collections::HashMap;

use sea_orm::sea_query::OnConflict;
use sea_orm::{ActiveValue::Set, ColumnTrait, EntityTrait, QueryFilter, QueryOrder, QuerySelect};
use shared::library::SheetLine;
use shared::proof::leaf;
use shared::wire::Me;

use super::{Row, line};
use crate::store::entity::{sheet_publication, sheet_revision, shop};
use crate::store::{Event, Store, StoreError};

impl Store {
    /// Publishes a revision in the place of any other of its sheet; one that is published already stays
    /// as it is.
    ///
    /// # Errors
    /// [`StoreError::Missing`] when the shop has no such revision.
    pub async fn publish_revision(
        &self,
        me: &Me,
        sheet: &str,
        revision: u32,
        now_ms: i64,
    ) -> Result<(), StoreError> {
        use sheet_publication::Column;
        let transaction = self.begin().await?;
        self.lock_shop(&transaction, &me.shop).await?;
        let key = (me.shop.clone(), sheet.to_owned(), i64::from(revision));
        let known = sheet_revision::Entity::find_by_id(key);
        if known.one(&transaction).await?.is_none() {
            return Err(StoreError::Missing);
        }
        let key = (me.shop.clone(), sheet.to_owned());
        let before = sheet_publication::Entity::find_by_id(key);
        let before = before.one(&transaction).await?;
        if before.is_some_and(|before| before.revision == i64::from(revision)) {
            return Ok(());
        }
        sheet_publication::Entity::insert(sheet_publication::ActiveModel {
            shop_id: Set(me.shop.clone()),
            sheet_id: Set(sheet.to_owned()),
            revision: Set(i64::from(revision)),
            published_by: Set(me.user.clone()),
            published_at_ms: Set(now_ms),
        })
        .on_conflict(
            OnConflict::columns([Column::ShopId, Column::SheetId])
                .update_columns([Column::Revision, Column::PublishedBy, Column::PublishedAtMs])
                .to_owned(),
        )
        .exec_without_returning(&transaction)
        .await?;
        let what = leaf::Event::SheetPublished {
            sheet: sheet.to_owned(),
            revision,
        };
        let event = Event::by(&me.user, what);
        self.append(&transaction, &me.shop, event, now_ms).await?;
        Ok(transaction.commit().await?)
    }

    /// Ends it: other shops no longer see the sheet.
    ///
    /// # Errors
    /// [`StoreError::Missing`] when no revision of such a sheet is published.
    pub async fn withdraw_sheet(
        &self,
        me: &Me,
        sheet: &str,
        now_ms: i64,
    ) -> Result<(), StoreError> {
        let transaction = self.begin().await?;
        let key = (me.shop.clone(), sheet.to_owned());
        let gone = sheet_publication::Entity::delete_by_id(key);
        if gone.exec(&transaction).await?.rows_affected == 0 {
            return Err(StoreError::Missing);
        }
        let what = leaf::Event::SheetWithdrawn {
            sheet: sheet.to_owned(),
        };
        let event = Event::by(&me.user, what);
        self.append(&transaction, &me.shop, event, now_ms).await?;
        Ok(transaction.commit().await?)
    }

    /// What other shops of this server have published, the newest sheet first, with their names.
    ///
    /// # Errors
    /// When the database fails.
    pub async fn shared_sheets(&self, shop: &str) -> Result<Vec<SheetLine>, StoreError> {
        use sheet_revision::Column;
        let query = sheet_publication::Entity::find()
            .filter(sheet_publication::Column::ShopId.ne(shop))
            .inner_join(sheet_revision::Entity)
            .inner_join(shop::Entity)
            .select_only()
            .columns([
                Column::SheetId,
                Column::Revision,
                Column::Digest,
                Column::Summary,
                Column::CreatedAtMs,
            ])
            .column(shop::Column::Name);
        let rows: Vec<(String, i64, Vec<u8>, String, i64, String)> = query
            .order_by_desc(Column::SheetId)
            .into_tuple()
            .all(&self.read)
            .await?;
        rows.into_iter()
            .map(|(id, revision, digest, summary, made_at_ms, name)| {
                let row: Row = (id, revision, digest, summary, made_at_ms);
                Ok(SheetLine {
                    shared_by: Some(name),
                    ..line(row)?
                })
            })
            .collect()
    }

    /// What a published sheet says, whichever shop's it is, as a sheet file.
    ///
    /// # Errors
    /// [`StoreError::Missing`] when no shop publishes such a sheet.
    pub async fn published_sheet(&self, sheet: &str) -> Result<String, StoreError> {
        let content = sheet_publication::Entity::find()
            .filter(sheet_publication::Column::SheetId.eq(sheet))
            .inner_join(sheet_revision::Entity)
            .select_only()
            .column(sheet_revision::Column::Content);
        let content: Option<String> = content.into_tuple().one(&self.read).await?;
        content.ok_or(StoreError::Missing)
    }

    /// Which revision of each of its sheets a shop publishes.
    pub(super) async fn published(&self, shop: &str) -> Result<HashMap<String, u32>, StoreError> {
        let own = sheet_publication::Entity::find()
            .filter(sheet_publication::Column::ShopId.eq(shop))
            .all(&self.read)
            .await?;
        own.into_iter()
            .map(|one| {
                let revision = u32::try_from(one.revision);
                let revision = revision.map_err(|_| StoreError::Corrupt("published revision"))?;
                Ok((one.sheet_id, revision))
            })
            .collect()
    }
}
