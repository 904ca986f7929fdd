//! Devices: one's own, and for an owner everybody's.

use actix_web::{HttpResponse, web};
use shared::wire::{DeviceLine, Me};

use crate::App;
use crate::auth::{Member, Owner};
use crate::error::Failure;

/// `GET /api/devices`.
///
/// # Errors
/// When the database fails.
pub async fn list_own(
    app: web::Data<App>,
    member: Member,
) -> Result<web::Json<Vec<DeviceLine>>, Failure> {
    let Me { shop, user, .. } = member.me();
    Ok(web::Json(app.store.devices(shop, user).await?))
}

/// `DELETE /api/devices/{device}`.
///
/// # Errors
/// When it is no device of this member.
pub async fn revoke_own(
    app: web::Data<App>,
    member: Member,
    device: web::Path<String>,
) -> Result<HttpResponse, Failure> {
    let user = member.me().user.clone();
    revoke(&app, member.me(), user, device.into_inner()).await
}

/// `GET /api/people/{user}/devices`.
///
/// # Errors
/// When the database fails; somebody who is not of the shop has no devices.
pub async fn list_persons(
    app: web::Data<App>,
    owner: Owner,
    user: web::Path<String>,
) -> Result<web::Json<Vec<DeviceLine>>, Failure> {
    let devices = app.store.devices(&owner.me().shop, &user).await?;
    Ok(web::Json(devices))
}

/// `DELETE /api/people/{user}/devices/{device}`.
///
/// # Errors
/// When the shop has no such member, or the member no such device.
pub async fn revoke_persons(
    app: web::Data<App>,
    owner: Owner,
    path: web::Path<(String, String)>,
) -> Result<HttpResponse, Failure> {
    let (user, device) = path.into_inner();
    revoke(&app, owner.me(), user, device).await
}

async fn revoke(app: &App, me: &Me, user: String, device: String) -> Result<HttpResponse, Failure> {
    let now_ms = app.config.clock.now_ms();
    app.store.revoke_device(me, &user, &device, now_ms).await?;
    Ok(HttpResponse::NoContent().finish())
}
