//! What the owner's desk shows beside jobs and people: the last backup, tools due for a check.

use std::collections::{HashMap, HashSet};

use sea_orm::sea_query::OnConflict;
use sea_orm::{ActiveValue::Set, ColumnTrait, EntityTrait, QueryFilter, QueryOrder};
use shared::wire::{BackupState, DueTool, LastBackup};

use super::connect::open;
use super::entity::{backup_state, job_state, tool_state};
use super::{Store, StoreError};
use crate::clock::rfc3339;

const DAY_MS: i64 = 24 * 60 * 60 * 1000;
/// A backup is made every night; one that is missed shows on the second day.
const OLD_BACKUP_MS: i64 = 2 * DAY_MS;
/// Twelve months: common practice where nobody has set another period.
const CHECK_PERIOD_MS: i64 = 365 * DAY_MS;
/// The only row of the backups.
const ONLY: i64 = 1;

/// Writes down that a backup was made, in the database that it was made of.
///
/// # Errors
/// When the database fails, or its schema is older than this program's.
pub async fn note_backup(url: &str, made_at_ms: i64, bytes: u64) -> Result<(), StoreError> {
    let database = open(url, 1).await?;
    let row = backup_state::ActiveModel {
        id: Set(ONLY),
        made_at_ms: Set(made_at_ms),
        bytes: Set(i64::try_from(bytes).unwrap_or(i64::MAX)),
    };
    let columns = [backup_state::Column::MadeAtMs, backup_state::Column::Bytes];
    let noted = backup_state::Entity::insert(row)
        .on_conflict(
            OnConflict::column(backup_state::Column::Id)
                .update_columns(columns)
                .to_owned(),
        )
        .exec_without_returning(&database)
        .await;
    database.close().await?;
    noted?;
    Ok(())
}

impl Store {
    /// The last backup, as this database knows it.
    ///
    /// # Errors
    /// When the database fails.
    pub async fn backup_state(&self, now_ms: i64) -> Result<BackupState, StoreError> {
        let row = backup_state::Entity::find_by_id(ONLY)
            .one(&self.read)
            .await?;
        let last = row.map(|row| LastBackup {
            made_at: rfc3339(row.made_at_ms),
            bytes: row.bytes.cast_unsigned(),
            is_old: now_ms.saturating_sub(row.made_at_ms) > OLD_BACKUP_MS,
        });
        Ok(BackupState { last })
    }

    /// The lasers of a shop whose last check is older than a year, or of which no check is written
    /// down; those never checked first, then the oldest. A laser has a record in each book, so one is
    /// known by its name, and a check in any book counts.
    ///
    /// # Errors
    /// When the database fails.
    pub async fn due_tools(&self, shop: &str, now_ms: i64) -> Result<Vec<DueTool>, StoreError> {
        let books = job_state::Entity::find()
            .filter(job_state::Column::ShopId.eq(shop))
            // A laser that nobody has worked with for so long may be sold.
            .filter(job_state::Column::LastActivityAtMs.gt(now_ms.saturating_sub(CHECK_PERIOD_MS)))
            .order_by_desc(job_state::Column::LastActivityAtMs)
            .order_by_asc(job_state::Column::DocId)
            .all(&self.read)
            .await?;
        let tools = tool_state::Entity::find()
            .filter(tool_state::Column::ShopId.eq(shop))
            // The book keeps checks of lasers only.
            .filter(tool_state::Column::Kind.eq("laser"))
            .order_by_asc(tool_state::Column::Tool)
            .all(&self.read)
            .await?;
        let mut by_book: HashMap<String, Vec<tool_state::Model>> = HashMap::new();
        let mut checked: HashMap<String, i64> = HashMap::new();
        for tool in tools {
            if let Some(at_ms) = tool.checked_at_ms {
                let newest = checked.entry(name(&tool)).or_insert(at_ms);
                *newest = at_ms.max(*newest);
            }
            by_book.entry(tool.doc_id.clone()).or_default().push(tool);
        }
        let mut due: Vec<(Option<i64>, DueTool)> = Vec::new();
        let mut seen = HashSet::new();
        for book in books {
            for tool in by_book.remove(&book.doc_id).unwrap_or_default() {
                let known = name(&tool);
                let checked_at_ms = checked.get(&known).copied();
                let is_due = checked_at_ms
                    .is_none_or(|at_ms| now_ms.saturating_sub(at_ms) > CHECK_PERIOD_MS);
                if seen.insert(known) && is_due {
                    let shown = match tool.label.trim() {
                        "" => tool.tool.clone(),
                        label => label.to_owned(),
                    };
                    let line = DueTool {
                        tool: shown,
                        checked_at: checked_at_ms.map(rfc3339),
                        book: tool.doc_id,
                    };
                    due.push((checked_at_ms, line));
                }
            }
        }
        due.sort_by_key(|(checked_at_ms, _)| *checked_at_ms);
        Ok(due.into_iter().map(|(_, line)| line).collect())
    }
}

/// What a tool is known by from book to book.
fn name(tool: &tool_state::Model) -> String {
    match tool.label.trim() {
        "" => tool.tool.clone(),
        label => label.to_lowercase(),
    }
}
