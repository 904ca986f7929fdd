//! Links for adjusters: made, listed and taken back by members of the shop.

use actix_web::{HttpResponse, web};
use shared::wire::{AdjusterLink, LinkLine, MakeLink};

use super::form;
use crate::App;
use crate::auth::secret::Secret;
use crate::auth::{Member, Owner};
use crate::clock::rfc3339;
use crate::error::Failure;
use crate::store::NewLink;

const DAY_MS: i64 = 24 * 60 * 60 * 1000;
/// A link is good for a year at most.
const MAX_DAYS: u32 = 365;

/// `POST /api/jobs/{book}/links`.
///
/// # Errors
/// When the shop has no such book, or names the field that is not of the form.
pub async fn make_link(
    app: web::Data<App>,
    member: Member,
    book: web::Path<String>,
    body: web::Json<MakeLink>,
) -> Result<HttpResponse, Failure> {
    let label = form::name("label", &body.label)?;
    if !(1..=MAX_DAYS).contains(&body.days) {
        return Err(Failure::bad_request("days"));
    }
    let token = Secret::random();
    let now_ms = app.config.clock.now_ms();
    let new = NewLink {
        link_id: app.config.clock.mint(),
        token_hash: token.hash(),
        label,
        expires_at_ms: now_ms + i64::from(body.days) * DAY_MS,
    };
    let (id, expires_at_ms) = (new.link_id.clone(), new.expires_at_ms);
    app.store.make_link(member.me(), &book, new, now_ms).await?;
    Ok(HttpResponse::Created().json(AdjusterLink {
        id,
        link: format!("/#/follow/{}", token.reveal()),
        expires_at: rfc3339(expires_at_ms),
    }))
}

/// `GET /api/jobs/{book}/links`.
///
/// # Errors
/// When the database fails; a book without links has an empty list.
pub async fn list_jobs_links(
    app: web::Data<App>,
    member: Member,
    book: web::Path<String>,
) -> Result<web::Json<Vec<LinkLine>>, Failure> {
    let links = app.store.links(&member.me().shop, Some(&book)).await?;
    Ok(web::Json(links))
}

/// `GET /api/links`.
///
/// # Errors
/// When the database fails.
pub async fn list_links(
    app: web::Data<App>,
    owner: Owner,
) -> Result<web::Json<Vec<LinkLine>>, Failure> {
    Ok(web::Json(app.store.links(&owner.me().shop, None).await?))
}

/// `DELETE /api/links/{link}`.
///
/// # Errors
/// When the shop has no such link.
pub async fn revoke_link(
    app: web::Data<App>,
    member: Member,
    link: web::Path<String>,
) -> Result<HttpResponse, Failure> {
    let (link, now_ms) = (link.into_inner(), app.config.clock.now_ms());
    app.store.revoke_link(member.me(), &link, now_ms).await?;
    Ok(HttpResponse::NoContent().finish())
}
