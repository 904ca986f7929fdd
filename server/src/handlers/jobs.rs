//! The shop's list of jobs, and what its owner sees of them.

use actix_web::web;
use shared::wire::{JobLine, JobOverview};

use crate::App;
use crate::auth::{Member, Owner};
use crate::error::Failure;

/// `GET /api/jobs`.
///
/// # Errors
/// When the database fails.
pub async fn list_jobs(
    app: web::Data<App>,
    member: Member,
) -> Result<web::Json<Vec<JobLine>>, Failure> {
    Ok(web::Json(app.store.job_lines(&member.me().shop).await?))
}

/// `GET /api/overview`.
///
/// # Errors
/// When the database fails.
pub async fn show_overview(
    app: web::Data<App>,
    owner: Owner,
) -> Result<web::Json<Vec<JobOverview>>, Failure> {
    Ok(web::Json(app.store.overview(&owner.me().shop).await?))
}
