//! Extractor arguments: a handler that takes a [`Member`], an [`Owner`] or a [`Viewer`] cannot be
//! reached without being one. All are read afresh from the store at every request: whoever was
//! removed, or whose session, device or link has ended, is refused from then on.

use std::future::Future;
use std::pin::Pin;

use actix_web::dev::Payload;
use actix_web::http::header;
use actix_web::{FromRequest, HttpRequest, web};
use shared::wire::{Me, Role};

use crate::App;
use crate::error::Failure;
use crate::store::{DocKey, Followed};

/// A signed-in person of a shop.
#[derive(Debug, Clone)]
pub struct Member {
    me: Me,
    session: String,
}

impl Member {
    /// Who it is.
    #[must_use]
    pub fn me(&self) -> &Me {
        &self.me
    }

    /// The session that this request belongs to.
    #[must_use]
    pub fn session(&self) -> &str {
        &self.session
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

/// Somebody with a good link to one job.
#[derive(Debug, Clone)]
pub struct Viewer {
    shop: String,
    followed: Followed,
}

impl Viewer {
    /// The job that the link shows.
    #[must_use]
    pub fn job(&self) -> DocKey {
        DocKey {
            shop: self.shop.clone(),
            doc: self.followed.book.clone(),
        }
    }

    /// Name of the shop that made the link.
    #[must_use]
    pub fn shop_name(&self) -> &str {
        &self.followed.shop_name
    }
}

type Asked<T> = Pin<Box<dyn Future<Output = Result<T, Failure>>>>;

/// What the handlers share, and the token of the request.
fn asked(request: &HttpRequest) -> Result<(web::Data<App>, Option<String>), Failure> {
    let app = request
        .app_data::<web::Data<App>>()
        .cloned()
        .ok_or_else(|| anyhow::anyhow!("routes without an app"))?;
    let token = request
        .headers()
        .get(header::AUTHORIZATION)
        .and_then(|value| value.to_str().ok())
        .and_then(|value| value.strip_prefix("Bearer "))
        .map(str::to_owned);
    Ok((app, token))
}

fn member(request: &HttpRequest) -> Asked<Member> {
    let asked = asked(request);
    Box::pin(async move {
        let (app, token) = asked?;
        let bearer = token
            .and_then(|token| app.access.bearer(&token, app.config.clock.now_ms()))
            .ok_or_else(Failure::sign_in_needed)?;
        let me = app
            .store
            .member(&bearer.shop, &bearer.user, &bearer.session)
            .await?;
        Ok(Member {
            me: me.ok_or_else(Failure::sign_in_needed)?,
            session: bearer.session,
        })
    })
}

impl FromRequest for Member {
    type Error = Failure;
    type Future = Asked<Self>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        member(request)
    }
}

impl FromRequest for Viewer {
    type Error = Failure;
    type Future = Asked<Self>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        let asked = asked(request);
        Box::pin(async move {
            let (app, token) = asked?;
            let now_ms = app.config.clock.now_ms();
            let who = token
                .and_then(|token| app.access.follower(&token, now_ms))
                .ok_or_else(Failure::sign_in_needed)?;
            let followed = app.store.followed(&who.shop, &who.link, now_ms).await?;
            Ok(Self {
                followed: followed.ok_or_else(Failure::link_invalid)?,
                shop: who.shop,
            })
        })
    }
}

impl FromRequest for Owner {
    type Error = Failure;
    type Future = Asked<Self>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        let member = member(request);
        Box::pin(async move {
            let me = member.await?.me;
            if me.role == Role::Owner {
                Ok(Self(me))
            } else {
                Err(Failure::not_allowed("owner"))
            }
        })
    }
}
