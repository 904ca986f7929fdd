//! What the owner's desk shows beside jobs and people: what changed since a sign-off, the last backup,
//! tools due for a check.

use actix_web::web;
use serde::Deserialize;
use shared::wire::{BackupState, ChangesSince, DueTool};

use super::reports::figures;
use crate::App;
use crate::auth::Owner;
use crate::error::Failure;
use crate::live::changes::changes_since;
use crate::store::DocKey;

/// How lengths and readings are said.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Query {
    language: Option<String>,
    unit: Option<String>,
}

/// `GET /api/jobs/{book}/since?language=en|es&unit=mm|in`: what came into a book since its last
/// sign-off.
///
/// # Errors
/// Names the part of the question that is not of the form; no such job.
pub async fn show_since(
    app: web::Data<App>,
    owner: Owner,
    book: web::Path<String>,
    query: web::Query<Query>,
) -> Result<web::Json<ChangesSince>, Failure> {
    let figures = figures(query.language.as_deref(), query.unit.as_deref())?;
    let key = DocKey {
        shop: owner.me().shop.clone(),
        doc: book.into_inner(),
    };
    let since = changes_since(&app.live, &key, figures).await?;
    since.map(web::Json).ok_or_else(Failure::not_found)
}

/// `GET /api/backup`.
///
/// # Errors
/// When the database fails.
pub async fn show_backup(
    app: web::Data<App>,
    _owner: Owner,
) -> Result<web::Json<BackupState>, Failure> {
    let now_ms = app.config.clock.now_ms();
    Ok(web::Json(app.store.backup_state(now_ms).await?))
}

/// `GET /api/due-tools`.
///
/// # Errors
/// When the database fails.
pub async fn list_due_tools(
    app: web::Data<App>,
    owner: Owner,
) -> Result<web::Json<Vec<DueTool>>, Failure> {
    let now_ms = app.config.clock.now_ms();
    let due = app.store.due_tools(&owner.me().shop, now_ms).await?;
    Ok(web::Json(due))
}
