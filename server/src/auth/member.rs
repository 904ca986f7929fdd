//! Extractor arguments: a handler that takes a [`Member`] or an [`Owner`] cannot be reached
//! without being one. Both are read afresh from the store at every request.

use std::future::Future;
use std::pin::Pin;

use actix_web::dev::Payload;
use actix_web::http::header;
use actix_web::{FromRequest, HttpRequest, web};
use shared::wire::{Me, Role};

use crate::App;
use crate::error::Failure;

/// A signed-in person of a shop.
#[derive(Debug, Clone)]
pub struct Member(Me);

impl Member {
    /// Who it is.
    #[must_use]
    pub fn me(&self) -> &Me {
        &self.0
    }
}

/// A signed-in owner of a shop.
#[derive(Debug, Clone)]
pub struct Owner(Me);

impl Owner {
    /// Who it is.
    #[must_use]
    pub fn me(&self) -> &Me {
        &self.0
    }
}

type Asked<T> = Pin<Box<dyn Future<Output = Result<T, Failure>>>>;

fn who(request: &HttpRequest) -> Asked<Me> {
    let app = request.app_data::<web::Data<App>>().cloned();
    let token = request
        .headers()
        .get(header::AUTHORIZATION)
        .and_then(|value| value.to_str().ok())
        .and_then(|value| value.strip_prefix("Bearer "))
        .map(str::to_owned);
    Box::pin(async move {
        let app = app.ok_or_else(|| anyhow::anyhow!("routes without an app"))?;
        let bearer = token
            .and_then(|token| app.access.bearer(&token, app.config.clock.now_ms()))
            .ok_or_else(Failure::sign_in_needed)?;
        app.store
            .me(&bearer.shop, &bearer.user)
            .await?
            .ok_or_else(Failure::sign_in_needed)
    })
}

impl FromRequest for Member {
    type Error = Failure;
    type Future = Asked<Self>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        let me = who(request);
        Box::pin(async move { Ok(Self(me.await?)) })
    }
}

impl FromRequest for Owner {
    type Error = Failure;
    type Future = Asked<Self>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        let me = who(request);
        Box::pin(async move {
            let me = me.await?;
            if me.role == Role::Owner {
                Ok(Self(me))
            } else {
                Err(Failure::not_allowed("owner"))
            }
        })
    }
}
