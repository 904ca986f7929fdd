//! The shop's list of jobs.

use actix_web::web;
use shared::wire::JobLine;

use crate::App;
use crate::auth::Member;
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
