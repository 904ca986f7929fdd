//! New passwords: a one-time link that an owner hands over.

use actix_web::{HttpRequest, HttpResponse, web};
use shared::wire::{ChooseReset, ResetLink};

use super::{form, session};
use crate::App;
use crate::auth::Owner;
use crate::auth::origin::OwnOrigin;
use crate::auth::secret::{self, Secret};
use crate::clock::rfc3339;
use crate::error::Failure;

/// A link to choose a new password is good for a day.
const RESET_MS: i64 = 24 * 60 * 60 * 1000;

/// `POST /api/people/{user}/reset`.
///
/// # Errors
/// When the shop has no such member.
pub async fn make_reset_link(
    app: web::Data<App>,
    owner: Owner,
    user: web::Path<String>,
) -> Result<HttpResponse, Failure> {
    let token = Secret::random();
    let now_ms = app.config.clock.now_ms();
    let expires_at_ms = now_ms + RESET_MS;
    let link = (app.config.clock.mint(), token.hash());
    app.store
        .make_reset_link(owner.me(), &user, link, now_ms, expires_at_ms)
        .await?;
    Ok(HttpResponse::Created().json(ResetLink {
        link: format!("/#/reset/{}", token.reveal()),
        expires_at: rfc3339(expires_at_ms),
    }))
}

/// `POST /api/reset`.
///
/// # Errors
/// When the link is not good, or the password not long enough to be one.
pub async fn choose_password(
    app: web::Data<App>,
    request: HttpRequest,
    _: OwnOrigin,
    body: web::Json<ChooseReset>,
) -> Result<HttpResponse, Failure> {
    form::take_try(&app, &request)?;
    let ChooseReset { token, password } = body.into_inner();
    let token = secret::hash(&token);
    let now_ms = app.config.clock.now_ms();
    if !app.store.reset_link_is_open(&token, now_ms).await? {
        return Err(Failure::link_invalid());
    }
    form::password(&password)?;
    let hash = app.passwords.hash(password).await?;
    let (shop, user, email) = app.store.use_reset_link(&token, hash, now_ms).await?;
    app.tries_by_account.forgive(&email);
    session::begin(&app, shop, user).await
}
