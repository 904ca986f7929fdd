//! The dimension library: sheets and their revisions, which never change.

mod published;

use sea_orm::sea_query::{Expr, ExprTrait};
use sea_orm::{
    ActiveValue::Set, ColumnTrait, EntityTrait, QueryFilter, QueryOrder, QuerySelect, Select,
};
use shared::library::{Sheet, SheetLine, Summary, digest, write};
use shared::proof::{Digest, leaf};
use shared::wire::Me;

use super::entity::{sheet, sheet_revision};
use super::{Event, Store, StoreError};
use crate::clock::rfc3339;

/// Where a revision goes.
#[derive(Debug, Clone)]
pub enum Place {
    /// A new sheet, with this fresh id.
    New(String),
    /// After this revision of a sheet.
    After(String, u32),
}

impl Store {
    /// Keeps a revision. Its number, author and time are set here, whatever the sheet says of them.
    ///
    /// # Errors
    /// [`StoreError::Missing`] when the shop has no such sheet, [`StoreError::Taken`] when it has a
    /// newer revision than the one this comes after.
    pub async fn keep_revision(
        &self,
        me: &Me,
        place: Place,
        mut new: Sheet,
        now_ms: i64,
    ) -> Result<SheetLine, StoreError> {
        let transaction = self.begin().await?;
        let (sheet_id, revision) = match place {
            Place::New(sheet_id) => {
                sheet::Entity::insert(sheet::ActiveModel {
                    shop_id: Set(me.shop.clone()),
                    sheet_id: Set(sheet_id.clone()),
                    latest: Set(1),
                })
                .exec_without_returning(&transaction)
                .await?;
                (sheet_id, 1)
            }
            Place::After(sheet_id, latest) => {
                let revision = latest.saturating_add(1);
                let moved = sheet::Entity::update_many()
                    .col_expr(sheet::Column::Latest, Expr::value(i64::from(revision)))
                    .filter(sheet::Column::ShopId.eq(&me.shop))
                    .filter(sheet::Column::SheetId.eq(&sheet_id))
                    .filter(sheet::Column::Latest.eq(i64::from(latest)))
                    .exec(&transaction)
                    .await?;
                if moved.rows_affected == 0 {
                    let known = sheet::Entity::find_by_id((me.shop.clone(), sheet_id));
                    return Err(match known.one(&transaction).await? {
                        Some(_) => StoreError::Taken("revision".into()),
                        None => StoreError::Missing,
                    });
                }
                (sheet_id, revision)
            }
        };
        new.revision = revision;
        new.origin.by.clone_from(&me.name);
        new.origin.at = rfc3339(now_ms);
        let content = digest(&new);
        let summary = Summary::of(&new);
        sheet_revision::Entity::insert(sheet_revision::ActiveModel {
            shop_id: Set(me.shop.clone()),
            sheet_id: Set(sheet_id.clone()),
            revision: Set(i64::from(revision)),
            digest: Set(content.0.to_vec()),
            content: Set(write(&new)),
            summary: Set(
                serde_json::to_string(&summary).map_err(|_| StoreError::Corrupt("summary"))?
            ),
            made_by: Set(me.user.clone()),
            created_at_ms: Set(now_ms),
        })
        .exec_without_returning(&transaction)
        .await?;
        let what = leaf::Event::SheetRevised {
            sheet: sheet_id.clone(),
            revision,
            content,
        };
        let event = Event::by(&me.user, what);
        self.append(&transaction, &me.shop, event, now_ms).await?;
        transaction.commit().await?;
        let published = self.published(&me.shop).await?.get(&sheet_id).copied();
        Ok(SheetLine {
            id: sheet_id,
            revision,
            digest: content.to_string(),
            made_at: rfc3339(now_ms),
            published,
            shared_by: None,
            summary,
        })
    }

    /// The newest revision of every sheet of a shop, the newest sheet first.
    ///
    /// # Errors
    /// When the database fails.
    pub async fn sheets(&self, shop: &str) -> Result<Vec<SheetLine>, StoreError> {
        let is_latest = Expr::col((sheet_revision::Entity, sheet_revision::Column::Revision))
            .equals((sheet::Entity, sheet::Column::Latest));
        let newest = sheet_revision::Entity::find()
            .inner_join(sheet::Entity)
            .filter(is_latest);
        self.lines(newest, shop).await
    }

    /// All revisions of a sheet, the newest first.
    ///
    /// # Errors
    /// [`StoreError::Missing`] when the shop has no such sheet.
    pub async fn revisions(&self, shop: &str, sheet: &str) -> Result<Vec<SheetLine>, StoreError> {
        let all = sheet_revision::Entity::find().filter(sheet_revision::Column::SheetId.eq(sheet));
        let lines = self.lines(all, shop).await?;
        match lines.is_empty() {
            true => Err(StoreError::Missing),
            false => Ok(lines),
        }
    }

    /// One revision, as a sheet file.
    ///
    /// # Errors
    /// [`StoreError::Missing`] when the shop has no such revision.
    pub async fn revision(
        &self,
        shop: &str,
        sheet: &str,
        revision: u32,
    ) -> Result<String, StoreError> {
        let key = (shop.to_owned(), sheet.to_owned(), i64::from(revision));
        let known = sheet_revision::Entity::find_by_id(key);
        let known = known.one(&self.read).await?.ok_or(StoreError::Missing)?;
        Ok(known.content)
    }

    /// Revisions without their content, the newest first.
    async fn lines(
        &self,
        query: Select<sheet_revision::Entity>,
        shop: &str,
    ) -> Result<Vec<SheetLine>, StoreError> {
        use sheet_revision::Column;
        let query = query
            .filter(Column::ShopId.eq(shop))
            .select_only()
            .columns([
                Column::SheetId,
                Column::Revision,
                Column::Digest,
                Column::Summary,
                Column::CreatedAtMs,
            ]);
        let rows: Vec<Row> = query
            .order_by_desc(Column::SheetId)
            .order_by_desc(Column::Revision)
            .into_tuple()
            .all(&self.read)
            .await?;
        let published = self.published(shop).await?;
        rows.into_iter()
            .map(|row| {
                let published = published.get(&row.0).copied();
                Ok(SheetLine {
                    published,
                    ..line(row)?
                })
            })
            .collect()
    }
}

/// Sheet, revision, digest, summary, made at.
type Row = (String, i64, Vec<u8>, String, i64);

fn line((id, revision, digest, summary, made_at_ms): Row) -> Result<SheetLine, StoreError> {
    let digest: [u8; 32] = digest
        .try_into()
        .map_err(|_| StoreError::Corrupt("digest of a sheet"))?;
    Ok(SheetLine {
        id,
        revision: u32::try_from(revision)
            .map_err(|_| StoreError::Corrupt("revision of a sheet"))?,
        digest: Digest(digest).to_string(),
        made_at: rfc3339(made_at_ms),
        published: None,
        shared_by: None,
        summary: serde_json::from_str(&summary)
            .map_err(|_| StoreError::Corrupt("summary of a sheet"))?,
    })
}
