//! Signing in, staying signed in, signing out.
//!
//! The access token goes in the body and lives minutes; the refresh token goes in a cookie that
//! scripts cannot read and other sites cannot send.

use actix_web::cookie::time::Duration;
use actix_web::cookie::{Cookie, SameSite};
use actix_web::{HttpRequest, HttpResponse, rt, web};
use shared::wire::{Session, SignIn};

use super::form;
use crate::App;
use crate::auth::access::{ACCESS_TOKEN_S, Bearer};
use crate::auth::origin::OwnOrigin;
use crate::auth::secret::{self, Secret};
use crate::error::Failure;
use crate::store::{Credentials, Issue, Refreshed};

/// Name of the refresh cookie.
pub const REFRESH_COOKIE: &str = "baybook_refresh";
/// Only the routes that need the cookie get it.
const COOKIE_PATH: &str = "/api/session";
/// A phone that is not used for thirty days signs in again.
const REFRESH_DAYS: i64 = 30;

/// `POST /api/session`.
///
/// # Errors
/// The same answer for an unknown e-mail and a wrong password.
pub async fn sign_in(
    app: web::Data<App>,
    request: HttpRequest,
    _: OwnOrigin,
    body: web::Json<SignIn>,
) -> Result<HttpResponse, Failure> {
    form::take_try(&app, &request)?;
    let body = body.into_inner();
    let now_ms = app.config.clock.now_ms();
    let email = form::email(&body.email).map_err(|_| Failure::wrong_credentials())?;
    app.tries_by_account.take(&email, now_ms)?;
    form::password(&body.password).map_err(|_| Failure::wrong_credentials())?;
    let found = app.store.credentials(&email).await?;
    let hash = found.as_ref().map(|found| found.password_hash.clone());
    let good = app.passwords.check(body.password, hash).await?;
    match found {
        Some(found) if good => {
            app.tries_by_account.forgive(&email);
            begin(&app, found.shop, found.user).await
        }
        found => {
            if let Some(found) = found {
                note_refused_sign_in(&app, found, now_ms);
            }
            Err(Failure::wrong_credentials())
        }
    }
}

/// Written beside the answer, not before it: waiting for the disk would tell known e-mails from
/// unknown ones.
fn note_refused_sign_in(app: &web::Data<App>, found: Credentials, now_ms: i64) {
    let app = app.clone();
    rt::spawn(async move {
        let recorded = app.store.record_refused_sign_in(&found, now_ms).await;
        if let Err(error) = recorded {
            tracing::error!(%error, "a refused sign-in was not recorded");
        }
    });
}

/// `POST /api/session/refresh`.
///
/// # Errors
/// When the cookie is missing, unknown, expired or was used before.
pub async fn refresh_session(
    app: web::Data<App>,
    request: HttpRequest,
    _: OwnOrigin,
) -> Result<HttpResponse, Failure> {
    let presented = presented(&request).ok_or_else(Failure::sign_in_needed)?;
    let (next, issue) = next_token(&app);
    match app.store.refresh(&presented, issue).await? {
        Refreshed::Rotated {
            shop,
            user,
            session,
        } => {
            let bearer = Bearer {
                shop,
                user,
                session,
            };
            answer(&app, bearer, &next).await
        }
        Refreshed::Unknown | Refreshed::Reused => Err(Failure::sign_in_needed()),
    }
}

/// `DELETE /api/session`.
///
/// # Errors
/// When the database fails; signing out twice is no error.
pub async fn sign_out(
    app: web::Data<App>,
    request: HttpRequest,
    _: OwnOrigin,
) -> Result<HttpResponse, Failure> {
    if let Some(token) = presented(&request) {
        let now_ms = app.config.clock.now_ms();
        app.store.end_session(&token, now_ms).await?;
    }
    let mut gone = cookie(&app, String::new());
    gone.make_removal();
    Ok(HttpResponse::NoContent().cookie(gone).finish())
}

/// Begins a session for somebody who has just proved who they are.
///
/// # Errors
/// When the database fails.
pub async fn begin(app: &App, shop: String, user: String) -> Result<HttpResponse, Failure> {
    let (token, issue) = next_token(app);
    let session = app.config.clock.mint();
    app.store
        .begin_session(&shop, &user, &session, issue)
        .await?;
    let bearer = Bearer {
        shop,
        user,
        session,
    };
    answer(app, bearer, &token).await
}

async fn answer(app: &App, bearer: Bearer, refresh: &Secret) -> Result<HttpResponse, Failure> {
    let me = app
        .store
        .me(&bearer.shop, &bearer.user)
        .await?
        .ok_or_else(Failure::sign_in_needed)?;
    let session = Session {
        access_token: app.access.grant(&bearer, app.config.clock.now_ms())?,
        expires_in_s: ACCESS_TOKEN_S,
        me,
    };
    Ok(HttpResponse::Ok()
        .cookie(cookie(app, refresh.reveal()))
        .json(session))
}

fn next_token(app: &App) -> (Secret, Issue) {
    let secret = Secret::random();
    let now_ms = app.config.clock.now_ms();
    let issue = Issue {
        token_id: app.config.clock.mint(),
        token_hash: secret.hash(),
        now_ms,
        expires_at_ms: now_ms + REFRESH_DAYS * 24 * 60 * 60 * 1000,
    };
    (secret, issue)
}

fn presented(request: &HttpRequest) -> Option<Vec<u8>> {
    request
        .cookie(REFRESH_COOKIE)
        .map(|cookie| secret::hash(cookie.value()))
}

fn cookie(app: &App, value: String) -> Cookie<'static> {
    Cookie::build(REFRESH_COOKIE, value)
        .path(COOKIE_PATH)
        .http_only(true)
        .same_site(SameSite::Strict)
        .secure(app.config.behind_tls())
        .max_age(Duration::days(REFRESH_DAYS))
        .finish()
}
