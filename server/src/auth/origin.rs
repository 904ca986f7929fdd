//! Is this request from our own page? Asked on routes that a cookie opens, and on the WebSocket.
//!
//! Browsers always send `Origin` there. A request without one comes from no browser, so no
//! foreign page can be behind it.

use std::future::{Ready, ready};

use actix_web::dev::Payload;
use actix_web::http::header;
use actix_web::{FromRequest, HttpRequest, web};

use crate::App;
use crate::error::Failure;

/// Proof that the request is not from a foreign page.
#[derive(Debug, Clone, Copy)]
pub struct OwnOrigin(());

impl FromRequest for OwnOrigin {
    type Error = Failure;
    type Future = Ready<Result<Self, Failure>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        let public = request
            .app_data::<web::Data<App>>()
            .and_then(|app| app.config.public_url.clone());
        let Some(origin) = request.headers().get(header::ORIGIN) else {
            return ready(Ok(Self(())));
        };
        // Not `connection_info`: that believes forwarding headers.
        let host = request
            .headers()
            .get(header::HOST)
            .and_then(|host| host.to_str().ok())
            .or_else(|| request.uri().authority().map(|a| a.as_str()))
            .unwrap_or_default()
            .to_owned();
        let own = origin
            .to_str()
            .is_ok_and(|origin| is_own(origin, &host, public.as_deref()));
        ready(if own {
            Ok(Self(()))
        } else {
            Err(Failure::not_allowed("origin"))
        })
    }
}

/// Is the origin our public address, or the host that the request names?
fn is_own(origin: &str, host: &str, public_url: Option<&str>) -> bool {
    match public_url {
        Some(public) => origin.eq_ignore_ascii_case(public.trim_end_matches('/')),
        None => origin
            .strip_prefix("http://")
            .or_else(|| origin.strip_prefix("https://"))
            .is_some_and(|authority| authority.eq_ignore_ascii_case(host)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn knows_its_own_pages() {
        assert!(is_own("http://127.0.0.1:8080", "127.0.0.1:8080", None));
        assert!(!is_own("http://127.0.0.1:8081", "127.0.0.1:8080", None));
        assert!(!is_own("null", "127.0.0.1:8080", None));
        let public = Some("https://book.example");
        assert!(is_own("https://book.example", "10.0.0.7:8080", public));
        assert!(!is_own("http://book.example", "10.0.0.7:8080", public));
        assert!(!is_own(
            "https://book.example.org",
            "book.example.org",
            public
        ));
    }
}
