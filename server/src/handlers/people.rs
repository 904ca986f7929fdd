//! Who am I, who is in the shop, how somebody joins, changes and leaves.

use actix_web::{HttpRequest, HttpResponse, web};
use shared::wire::{AcceptInvitation, ChangeRole, Invitation, Invite, Me, Person};

use super::{form, session};
use crate::App;
use crate::auth::origin::OwnOrigin;
use crate::auth::secret::{self, Secret};
use crate::auth::{Member, Owner};
use crate::clock::rfc3339;
use crate::error::Failure;

/// An invitation is good for a week.
const INVITATION_MS: i64 = 7 * 24 * 60 * 60 * 1000;

/// `GET /api/me`.
pub async fn show_me(member: Member) -> web::Json<Me> {
    web::Json(member.me().clone())
}

/// `GET /api/people`.
///
/// # Errors
/// When the database fails.
pub async fn list_people(
    app: web::Data<App>,
    owner: Owner,
) -> Result<web::Json<Vec<Person>>, Failure> {
    Ok(web::Json(app.store.people(&owner.me().shop).await?))
}

/// `POST /api/invitations`.
///
/// # Errors
/// When the database fails.
pub async fn invite_person(
    app: web::Data<App>,
    owner: Owner,
    body: web::Json<Invite>,
) -> Result<HttpResponse, Failure> {
    let token = Secret::random();
    let now_ms = app.config.clock.now_ms();
    let expires_at_ms = now_ms + INVITATION_MS;
    let id = app.config.clock.mint();
    app.store
        .invite(
            owner.me(),
            id,
            token.hash(),
            body.role,
            now_ms,
            expires_at_ms,
        )
        .await?;
    Ok(HttpResponse::Created().json(Invitation {
        link: format!("/#/join/{}", token.reveal()),
        expires_at: rfc3339(expires_at_ms),
    }))
}

/// `POST /api/invitations/accept`.
///
/// # Errors
/// When the link is not good, the e-mail is taken, or names the field that is not of the form.
pub async fn accept_invitation(
    app: web::Data<App>,
    request: HttpRequest,
    _: OwnOrigin,
    body: web::Json<AcceptInvitation>,
) -> Result<HttpResponse, Failure> {
    form::take_try(&app, &request)?;
    let body = body.into_inner();
    let token = secret::hash(&body.token);
    let now_ms = app.config.clock.now_ms();
    if !app.store.invitation_is_open(&token, now_ms).await? {
        return Err(Failure::link_invalid());
    }
    let new = form::new_user(&app, &body.name, &body.email, body.password).await?;
    let user = new.user_id.clone();
    let shop = app.store.accept_invitation(&token, new, now_ms).await?;
    session::begin(&app, shop, user).await
}

/// `POST /api/people/{user}/role`.
///
/// # Errors
/// When the shop has no such member, or would be without an owner.
pub async fn change_role(
    app: web::Data<App>,
    owner: Owner,
    user: web::Path<String>,
    body: web::Json<ChangeRole>,
) -> Result<HttpResponse, Failure> {
    let now_ms = app.config.clock.now_ms();
    app.store
        .change_role(owner.me(), &user, body.role, now_ms)
        .await?;
    Ok(HttpResponse::NoContent().finish())
}

/// `DELETE /api/people/{user}`.
///
/// # Errors
/// When the shop has no such member, or would be without an owner.
pub async fn remove_person(
    app: web::Data<App>,
    owner: Owner,
    user: web::Path<String>,
) -> Result<HttpResponse, Failure> {
    let (user, now_ms) = (user.into_inner(), app.config.clock.now_ms());
    app.store.remove_person(owner.me(), &user, now_ms).await?;
    Ok(HttpResponse::NoContent().finish())
}
