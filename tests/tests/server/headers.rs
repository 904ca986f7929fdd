//! What every answer carries, who may ask from where, and the files of the app.

use anyhow::{Context, Result};
use reqwest::header::{CACHE_CONTROL, ETAG, HeaderMap, IF_NONE_MATCH, RETRY_AFTER};
use reqwest::{Method, StatusCode};
use serde_json::json;
use shared::wire::Code;
use tests::database::Engine;
use tests::shop::{PASSWORD, Shop, refusal, set_cookie};

#[tokio::test(flavor = "multi_thread")]
async fn every_answer_is_locked_down() -> Result<()> {
    let shop = Shop::start(Engine::Sqlite).await?;
    let nobody = shop.nobody();
    let page = nobody.get("/").await?;
    let known = HeaderMap::from_iter([(IF_NONE_MATCH, page.headers()[ETAG].clone())]);
    let send = async |method: Method, path: &str, headers: &HeaderMap| {
        let (no_body, headers) = (None::<&()>, headers.clone());
        nobody.send(method, path, no_body, headers).await
    };
    let plain = HeaderMap::new();
    // Pages, the app's files, answers, refusals of every kind.
    for (method, path, headers, status) in [
        (Method::GET, "/", &plain, 200),
        (Method::GET, "/", &known, 304),
        (Method::HEAD, "/", &plain, 200),
        (Method::GET, "/job/anything", &plain, 200),
        (Method::GET, "/health", &plain, 200),
        (Method::GET, "/api/me", &plain, 401),
        (Method::GET, "/api/overview", &plain, 401),
        (Method::GET, "/api/none", &plain, 404),
        (Method::DELETE, "/api/session", &plain, 204),
        (Method::POST, "/api/session", &plain, 400),
        (Method::PUT, "/none", &plain, 404),
        (Method::GET, "/none.js", &plain, 404),
        (Method::GET, "/sync", &plain, 400),
        (Method::GET, "/sync?ticket=none", &plain, 401),
    ] {
        let answer = send(method.clone(), path, headers).await?;
        let path = format!("{method} {path}");
        assert_eq!(answer.status(), status, "{path}");
        let header = |name: &str| {
            answer
                .headers()
                .get(name)
                .and_then(|v| v.to_str().ok())
                .unwrap_or_default()
                .to_owned()
        };
        let policy = header("content-security-policy");
        assert!(
            policy.contains("default-src 'none'") && policy.contains("frame-ancestors 'none'"),
            "{path}: {policy}"
        );
        assert!(
            policy.contains("script-src 'self' 'wasm-unsafe-eval'"),
            "{path}: {policy}"
        );
        assert!(
            !policy.contains("unsafe-inline") && !policy.contains("http"),
            "{path}: {policy}"
        );
        assert_eq!(header("x-content-type-options"), "nosniff", "{path}");
        assert_eq!(header("referrer-policy"), "no-referrer", "{path}");
        assert_eq!(header("x-frame-options"), "DENY", "{path}");
        assert_eq!(
            header("cross-origin-opener-policy"),
            "same-origin",
            "{path}"
        );
        assert_eq!(
            header("cross-origin-resource-policy"),
            "same-origin",
            "{path}"
        );
        assert!(
            header("permissions-policy").contains("microphone=()"),
            "{path}"
        );
        let kept = header("cache-control");
        assert!(
            !path.contains("/api/") || kept == "no-store",
            "{path}: {kept}"
        );
        assert_eq!(header("strict-transport-security"), "", "no TLS here");
    }
    shop.running.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn behind_tls_the_cookie_is_secure() -> Result<()> {
    let shop = Shop::start_at(Engine::Sqlite, Some("https://book.example")).await?;
    let link = shop.running.set_up_link.clone().context("no link")?;
    assert!(link.starts_with("https://book.example/#/setup/"), "{link}");
    let answer = shop.nobody().get("/").await?;
    assert!(answer.headers().contains_key("strict-transport-security"));
    shop.set_up().await?;
    let body = json!({ "email": "marta@shop.example", "password": PASSWORD });
    let answer = shop
        .nobody()
        .post_from("https://book.example", "/api/session", &body)
        .await?;
    let cookie = set_cookie(&answer).context("no cookie")?;
    for part in ["HttpOnly", "SameSite=Strict", "Secure", "Path=/api/session"] {
        assert!(cookie.contains(part), "{part} in {cookie}");
    }
    shop.running.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn other_sites_cannot_use_the_cookie() -> Result<()> {
    let shop = Shop::start(Engine::Sqlite).await?;
    let marta = shop.set_up().await?;
    for origin in ["https://elsewhere.example", "null", "http://127.0.0.1:1"] {
        let answer = marta
            .post_from(origin, "/api/session/refresh", &json!({}))
            .await?;
        let (status, refused) = refusal(answer).await?;
        assert_eq!(
            (status, refused.code),
            (StatusCode::FORBIDDEN, Code::NotAllowed),
            "{origin}"
        );
    }
    let own = shop.url("");
    let answer = marta
        .post_from(&own, "/api/session/refresh", &json!({}))
        .await?;
    assert_eq!(answer.status(), StatusCode::OK);
    shop.running.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn bodies_are_bounded_and_strict() -> Result<()> {
    let shop = Shop::start(Engine::Sqlite).await?;
    let long = json!({ "email": "x".repeat(100_000), "password": PASSWORD });
    let (status, refused) = refusal(shop.nobody().post("/api/session", &long).await?).await?;
    assert_eq!(
        (status, refused.code),
        (StatusCode::PAYLOAD_TOO_LARGE, Code::TooLarge)
    );
    let odd = json!({ "email": "a@b.c", "password": PASSWORD, "admin": true });
    let (status, refused) = refusal(shop.nobody().post("/api/session", &odd).await?).await?;
    assert_eq!(
        (status, refused.code),
        (StatusCode::BAD_REQUEST, Code::BadRequest)
    );
    shop.running.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn pages_are_the_app_and_missing_files_are_missing() -> Result<()> {
    let shop = Shop::start(Engine::Sqlite).await?;
    let page = shop.nobody().get("/jobs/abc").await?;
    assert_eq!(page.status(), StatusCode::OK);
    assert_eq!(page.headers()[CACHE_CONTROL], "no-cache");
    assert!(
        page.text().await?.contains("<!doctype html>")
            || shop
                .nobody()
                .get("/")
                .await?
                .text()
                .await?
                .contains("<html")
    );
    assert_eq!(
        shop.nobody().get("/no-such-file.js").await?.status(),
        StatusCode::NOT_FOUND
    );
    assert_eq!(
        shop.nobody().get("/../Cargo.toml").await?.status(),
        StatusCode::NOT_FOUND
    );
    shop.running.stop().await
}

/// Whoever has to wait is told how long; an address that is only claimed counts for nothing.
#[tokio::test(flavor = "multi_thread")]
async fn limits_say_how_long_and_believe_nobody() -> Result<()> {
    let shop = Shop::start_at(Engine::Sqlite, Some("https://book.example")).await?;
    shop.set_up().await?;
    let nobody = shop.nobody();
    let guess = async |n: usize, from: &str| {
        let mut headers = HeaderMap::new();
        headers.insert("X-Forwarded-For", from.parse()?);
        let body = json!({ "email": format!("no e-mail {n}"), "password": PASSWORD });
        nobody
            .send(Method::POST, "/api/session", Some(&body), headers)
            .await
    };
    let mut refused = 0;
    for n in 0..40 {
        let answer = guess(n, &format!("198.51.100.{n}")).await?;
        if answer.status() == StatusCode::TOO_MANY_REQUESTS {
            let wait: u64 = answer.headers()[RETRY_AFTER].to_str()?.parse()?;
            assert!((1..=10).contains(&wait), "{wait}");
            refused += 1;
        }
    }
    assert!(refused >= 10, "no proxy is trusted here: {refused}");
    shop.running.stop().await
}

/// Behind a proxy that is trusted, each address has tries of its own.
#[tokio::test(flavor = "multi_thread")]
async fn a_trusted_proxy_tells_addresses_apart() -> Result<()> {
    let shop = Shop::start_behind(Engine::Sqlite, "127.0.0.1").await?;
    let nobody = shop.nobody();
    let guess = async |n: usize, from: &str| {
        let mut headers = HeaderMap::new();
        headers.insert("X-Forwarded-For", from.parse()?);
        let body = json!({ "email": format!("no e-mail {n}"), "password": PASSWORD });
        let answer = nobody
            .send(Method::POST, "/api/session", Some(&body), headers)
            .await?;
        anyhow::Ok(answer.status())
    };
    for n in 0..40 {
        // What stands further left came from outside.
        let from = format!("203.0.113.1, 198.51.100.{n}");
        assert_eq!(guess(n, &from).await?, StatusCode::UNAUTHORIZED, "{n}");
    }
    let mut last = StatusCode::OK;
    for n in 40..80 {
        last = guess(n, "198.51.100.1").await?;
    }
    assert_eq!(last, StatusCode::TOO_MANY_REQUESTS);
    shop.running.stop().await
}
