//! First start: the one-time link makes the shop and its owner.

use actix_web::{HttpRequest, HttpResponse, web};
use shared::wire::SetUpShop;

use super::{form, session};
use crate::App;
use crate::auth::origin::OwnOrigin;
use crate::auth::secret;
use crate::error::Failure;

/// `POST /api/setup`.
///
/// # Errors
/// When the link is not good, or names the field that is not of the form.
pub async fn set_up_shop(
    app: web::Data<App>,
    request: HttpRequest,
    _: OwnOrigin,
    body: web::Json<SetUpShop>,
) -> Result<HttpResponse, Failure> {
    form::take_try(&app, &request)?;
    let body = body.into_inner();
    let token = secret::hash(&body.token);
    if !app.store.set_up_link_is_open(&token).await? {
        return Err(Failure::link_invalid());
    }
    let shop_name = form::name("shop", &body.shop)?;
    let owner = form::new_user(&app, &body.name, &body.email, body.password).await?;
    let user = owner.user_id.clone();
    let now_ms = app.config.clock.now_ms();
    let shop = app
        .store
        .set_up_shop(&token, &shop_name, owner, now_ms)
        .await?;
    session::begin(&app, shop, user).await
}
