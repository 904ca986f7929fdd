//! What an adjuster reaches with a link: a ticket to read one job live, and its sign-offs.

use actix_web::{HttpRequest, web};
use shared::wire::{Follow, FollowWith};

use super::form;
use crate::App;
use crate::auth::Viewer;
use crate::auth::access::{ACCESS_TOKEN_S, Boarding, Follower, TICKET_S};
use crate::auth::origin::OwnOrigin;
use crate::auth::secret;
use crate::clock::rfc3339;
use crate::error::Failure;

/// `POST /api/follow`.
///
/// # Errors
/// When the link was taken back, has run out, or never existed.
pub async fn follow_job(
    app: web::Data<App>,
    request: HttpRequest,
    _: OwnOrigin,
    body: web::Json<FollowWith>,
) -> Result<web::Json<Follow>, Failure> {
    let now_ms = app.config.clock.now_ms();
    let token = secret::hash(&body.token);
    let opened = app.store.open_link(&token, now_ms).await;
    if opened.is_err() {
        // Guessing runs dry; whoever has the link may come back as often as the line breaks.
        form::take_try(&app, &request)?;
    }
    let (shop, link, followed) = opened?;
    let follower = Follower { shop, link };
    let access_token = app.access.grant_follower(&follower, now_ms)?;
    let boarding = Boarding::Follower(follower);
    let ticket = app
        .access
        .ticket(&boarding, app.config.clock.mint(), now_ms)?;
    Ok(web::Json(Follow {
        book: followed.book,
        shop_name: followed.shop_name,
        expires_at: rfc3339(followed.expires_at_ms),
        access_token,
        expires_in_s: ACCESS_TOKEN_S,
        ticket,
        ticket_expires_in_s: TICKET_S,
    }))
}

/// `GET /api/follow/statements`.
///
/// # Errors
/// When the database fails; a job without statements has an empty list.
pub async fn list_statements(
    app: web::Data<App>,
    viewer: Viewer,
) -> Result<web::Json<Vec<String>>, Failure> {
    Ok(web::Json(app.store.statements(&viewer.job()).await?))
}
