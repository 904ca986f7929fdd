//! What an owner asks of everybody in the shop.

use actix_web::{HttpResponse, web};
use shared::wire::ShopRules;

use crate::App;
use crate::auth::{Member, Owner};
use crate::error::Failure;

/// `GET /api/rules`.
///
/// # Errors
/// When the database fails.
pub async fn show_rules(
    app: web::Data<App>,
    member: Member,
) -> Result<web::Json<ShopRules>, Failure> {
    Ok(web::Json(app.store.rules(&member.me().shop).await?))
}

/// `POST /api/rules`.
///
/// # Errors
/// When the database fails.
pub async fn set_rules(
    app: web::Data<App>,
    owner: Owner,
    body: web::Json<ShopRules>,
) -> Result<HttpResponse, Failure> {
    let now_ms = app.config.clock.now_ms();
    app.store
        .set_rules(owner.me(), body.into_inner(), now_ms)
        .await?;
    Ok(HttpResponse::NoContent().finish())
}
